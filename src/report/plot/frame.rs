//! The box that data are drawn in: from values to places in the picture, and cutting lines and areas at its edges.

use super::scale::Scale;
use super::scene::{Area, Point};

/// A plotting box with its two axes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    pub(super) area: Area,
    pub(super) x: Scale,
    pub(super) y: Scale,
}

impl Frame {
    /// Where a value of the horizontal axis stands.
    pub(super) fn across(&self, x: f64) -> Option<f64> {
        let share = self.x.share(x)?;
        Some(self.area.left + share * (self.area.right - self.area.left))
    }

    /// Where a value of the vertical axis stands.
    pub(super) fn up(&self, y: f64) -> Option<f64> {
        let share = self.y.share(y)?;
        Some(self.area.bottom - share * (self.area.bottom - self.area.top))
    }

    fn place(&self, (x, y): (f64, f64)) -> Option<Point> {
        Some(Point::new(self.across(x)?, self.up(y)?))
    }

    /// The visible pieces of a curve; a value that cannot be drawn breaks it.
    pub(super) fn lines(&self, points: &[(f64, f64)]) -> Vec<Vec<Point>> {
        let mut pieces: Vec<Vec<Point>> = Vec::new();
        let mut last: Option<Point> = None;
        for point in points {
            let here = self.place(*point);
            if let (Some(from), Some(to)) = (last, here)
                && let Some((start, end)) = self.cut(from, to)
            {
                match pieces.last_mut() {
                    Some(piece) if piece.last() == Some(&start) => piece.push(end),
                    _ => pieces.push(vec![start, end]),
                }
            }
            last = here;
        }
        pieces
    }

    /// The part of a straight line inside the box (Liang and Barsky, 1984).
    fn cut(&self, from: Point, to: Point) -> Option<(Point, Point)> {
        let (dx, dy) = (to.x - from.x, to.y - from.y);
        let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
        for (step, room) in [
            (-dx, from.x - self.area.left),
            (dx, self.area.right - from.x),
            (-dy, from.y - self.area.top),
            (dy, self.area.bottom - from.y),
        ] {
            if step == 0.0 {
                if room < 0.0 {
                    return None;
                }
            } else if step < 0.0 {
                enter = enter.max(room / step);
            } else {
                leave = leave.min(room / step);
            }
        }
        let at = |share: f64| Point::new(from.x + share * dx, from.y + share * dy);
        (enter < leave).then(|| {
            let start = if enter <= 0.0 { from } else { at(enter) };
            let end = if leave >= 1.0 { to } else { at(leave) };
            (start, end)
        })
    }

    /// The visible parts of the area between two curves, broken where either cannot be drawn.
    pub(super) fn areas(&self, one: &[(f64, f64)], other: &[(f64, f64)]) -> Vec<Vec<Point>> {
        let mut areas = Vec::new();
        let mut stretch: Vec<(Point, Point)> = Vec::new();
        let places = one.iter().zip(other);
        let places = places.map(|(a, b)| Some((self.place(*a)?, self.place(*b)?)));
        for pair in places.chain(std::iter::once(None)) {
            if let Some(pair) = pair {
                stretch.push(pair);
            } else if stretch.len() > 1 {
                let there = stretch.iter().map(|pair| pair.0);
                let back = stretch.iter().rev().map(|pair| pair.1);
                areas.push(self.inside(there.chain(back).collect()));
                stretch.clear();
            } else {
                stretch.clear();
            }
        }
        areas.retain(|area| area.len() > 2);
        areas
    }

    /// The part of a polygon inside the box, edge by edge (Sutherland and Hodgman, 1974).
    fn inside(&self, polygon: Vec<Point>) -> Vec<Point> {
        let room: [(&dyn Fn(Point) -> f64, f64); 4] = [
            (&|p| p.x, self.area.left),
            (&|p| -p.x, -self.area.right),
            (&|p| p.y, self.area.top),
            (&|p| -p.y, -self.area.bottom),
        ];
        room.into_iter().fold(polygon, |corners, (side, edge)| {
            let mut kept = Vec::with_capacity(corners.len());
            for (i, &to) in corners.iter().enumerate() {
                let from = corners[(i + corners.len() - 1) % corners.len()];
                let (a, b) = (side(from) - edge, side(to) - edge);
                if (a >= 0.0) != (b >= 0.0) {
                    let cut = a / (a - b);
                    kept.push(Point::new(
                        from.x + cut * (to.x - from.x),
                        from.y + cut * (to.y - from.y),
                    ));
                }
                if b >= 0.0 {
                    kept.push(to);
                }
            }
            kept
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame() -> Frame {
        Frame {
            area: Area {
                left: 0.0,
                top: 0.0,
                right: 100.0,
                bottom: 100.0,
            },
            x: Scale::Linear {
                low: 0.0,
                high: 10.0,
            },
            y: Scale::Linear {
                low: 0.0,
                high: 10.0,
            },
        }
    }

    #[test]
    fn curves_are_cut_at_the_edges_and_broken_at_gaps() {
        let peak = frame().lines(&[(0.0, 0.0), (5.0, 20.0), (10.0, 0.0)]);
        assert_eq!(peak.len(), 2);
        assert_eq!(peak[0], [Point::new(0.0, 100.0), Point::new(25.0, 0.0)]);
        let gap = frame().lines(&[
            (0.0, 1.0),
            (1.0, 1.0),
            (2.0, f64::NAN),
            (3.0, 1.0),
            (4.0, 1.0),
        ]);
        assert_eq!(gap.len(), 2);
        assert!(frame().lines(&[(0.0, 20.0), (9.0, 30.0)]).is_empty());
        assert!(frame().lines(&[(1.0, 1.0)]).is_empty());
    }

    #[test]
    fn areas_are_cut_at_the_edges() {
        let low = [(0.0, 5.0), (10.0, 5.0)];
        let high = [(0.0, 50.0), (10.0, 50.0)];
        let areas = frame().areas(&low, &high);
        assert_eq!(areas.len(), 1);
        assert!(areas[0].iter().all(|p| (0.0..=50.0).contains(&p.y)));
        assert!(areas[0].contains(&Point::new(0.0, 0.0)));
        assert!(
            frame()
                .areas(&low, &[(0.0, f64::NAN), (10.0, 6.0)])
                .is_empty()
        );
    }
}
