//! Finds free places for the labels of curves and points, so that no label lies on a line or on another label.

use super::scene::{Area, Point};
use crate::report::whole;

/// Distance between the points that stand for a line when places are tried, in picture points.
const SPACING: f64 = 4.0;
/// Free distance between a label and its own curve or point.
const GAP: f64 = 4.0;
/// Clearance from other curves beyond which more is no better.
const ENOUGH: f64 = 36.0;

/// A line as points close enough together that none can cross a label unseen.
pub(super) fn cloud(pieces: &[Vec<Point>]) -> Vec<Point> {
    let mut points = Vec::new();
    for pair in pieces.iter().flat_map(|piece| piece.windows(2)) {
        let (from, to) = (pair[0], pair[1]);
        let length = (to.x - from.x).hypot(to.y - from.y);
        let parts = (length / SPACING).ceil().clamp(1.0, 2_000.0);
        points.extend((0..=whole::count(parts, 2_000)).map(|i| {
            let share = whole::real(i) / parts;
            Point::new(
                from.x + share * (to.x - from.x),
                from.y + share * (to.y - from.y),
            )
        }));
    }
    // Short steps of a finely sampled curve need not all be kept.
    let mut kept: Vec<Point> = Vec::with_capacity(points.len());
    for point in points {
        let near = |last: &Point| (point.x - last.x).hypot(point.y - last.y) < SPACING / 2.0;
        if !kept.last().is_some_and(near) {
            kept.push(point);
        }
    }
    kept
}

/// What labels must keep clear of.
#[derive(Debug)]
pub(super) struct Ground {
    /// Labels lie wholly inside this.
    pub(super) bounds: Area,
    /// Places already taken.
    pub(super) taken: Vec<Area>,
    /// The lines, each as its points.
    pub(super) lines: Vec<Vec<Point>>,
}

impl Ground {
    /// Takes the best free place for the label of line `own`, or none if every place is crossed.
    pub(super) fn place_beside_line(
        &mut self,
        own: usize,
        width: f64,
        height: f64,
    ) -> Option<Area> {
        let points = self.lines.get(own)?;
        let stride = (points.len() / 120).max(1);
        let places = points.iter().step_by(stride).flat_map(|p| {
            around(*p, GAP, width, height)
                .into_iter()
                .enumerate()
                .map(|(rank, area)| (area, -whole::real(rank)))
        });
        let best = places
            .filter_map(|(area, liking)| Some((self.clearance(&area, own)? + liking, area)))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, area)| area)?;
        self.taken.push(best.grown(2.0));
        Some(best)
    }

    /// Takes a place for the label of a point; where nothing is free, one that at least covers no text.
    pub(super) fn place_beside_point(&mut self, point: Point, width: f64, height: f64) -> Area {
        let places: Vec<Area> = [7.0, 22.0, 40.0, 60.0]
            .into_iter()
            .flat_map(|gap| around(point, gap, width, height))
            .collect();
        let clear = |area: &&Area| self.clearance(area, usize::MAX).is_some();
        let legible = |area: &&Area| {
            self.bounds.contains(area) && !self.taken.iter().any(|taken| taken.overlaps(area))
        };
        let chosen = places
            .iter()
            .find(clear)
            .or_else(|| places.iter().find(legible))
            .copied()
            .unwrap_or_else(|| self.pushed_in(places[0]));
        self.taken.push(chosen.grown(2.0));
        chosen
    }

    /// Distance to the nearest line that is not the label's own; `None` if the place is not free.
    fn clearance(&self, area: &Area, own: usize) -> Option<f64> {
        if !self.bounds.contains(area) || self.taken.iter().any(|taken| taken.overlaps(area)) {
            return None;
        }
        let mut nearest = ENOUGH;
        for (line, points) in self.lines.iter().enumerate() {
            let least = if line == own { GAP - 1.0 } else { GAP };
            for point in points {
                let away = distance(area, *point);
                if away < least {
                    return None;
                }
                if line != own {
                    nearest = nearest.min(away);
                }
            }
        }
        Some(nearest)
    }

    fn pushed_in(&self, area: Area) -> Area {
        let right =
            (self.bounds.left - area.left).max(0.0) - (area.right - self.bounds.right).max(0.0);
        let down =
            (self.bounds.top - area.top).max(0.0) - (area.bottom - self.bounds.bottom).max(0.0);
        Area {
            left: area.left + right,
            right: area.right + right,
            top: area.top + down,
            bottom: area.bottom + down,
        }
    }
}

/// Boxes about a point at a distance, the most liked first: above, to the right, and so on.
fn around(point: Point, gap: f64, width: f64, height: f64) -> [Area; 8] {
    let boxed = |left: f64, top: f64| Area {
        left,
        top,
        right: left + width,
        bottom: top + height,
    };
    let (above, below) = (point.y - gap - height, point.y + gap);
    let (before, after) = (point.x - 4.0 - gap - width, point.x + 4.0 + gap);
    let (centre, middle) = (point.x - width / 2.0, point.y - height / 2.0);
    [
        boxed(centre, above),
        boxed(after, middle),
        boxed(after, above),
        boxed(before, above),
        boxed(before, middle),
        boxed(centre, below),
        boxed(after, below),
        boxed(before, below),
    ]
}

/// Distance from a box to a point; zero inside it.
pub(super) fn distance(area: &Area, point: Point) -> f64 {
    let dx = (area.left - point.x).max(point.x - area.right).max(0.0);
    let dy = (area.top - point.y).max(point.y - area.bottom).max(0.0);
    dx.hypot(dy)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ground(lines: Vec<Vec<Point>>) -> Ground {
        Ground {
            bounds: Area {
                left: 0.0,
                top: 0.0,
                right: 400.0,
                bottom: 200.0,
            },
            taken: Vec::new(),
            lines,
        }
    }

    fn level(y: f64) -> Vec<Point> {
        cloud(&[vec![Point::new(0.0, y), Point::new(400.0, y)]])
    }

    #[test]
    fn labels_keep_clear_of_lines_and_of_each_other() {
        let mut ground = ground(vec![level(100.0), level(110.0)]);
        let first = ground.place_beside_line(0, 80.0, 14.0).expect("room above");
        let second = ground.place_beside_line(1, 80.0, 14.0).expect("room below");
        assert!(!first.overlaps(&second));
        assert!(first.bottom < 100.0 && second.top > 110.0);
    }

    #[test]
    fn a_crowded_line_gets_no_label() {
        let lines = (0..20).map(|i| level(f64::from(i) * 10.0)).collect();
        assert_eq!(ground(lines).place_beside_line(7, 80.0, 14.0), None);
        assert_eq!(
            ground(vec![Vec::new()]).place_beside_line(0, 10.0, 10.0),
            None
        );
    }

    #[test]
    fn a_point_in_a_corner_keeps_its_label_inside() {
        let mut ground = ground(Vec::new());
        let area = ground.place_beside_point(Point::new(399.0, 1.0), 60.0, 14.0);
        assert!(ground.bounds.contains(&area), "{area:?}");
    }
}
