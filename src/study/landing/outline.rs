//! The region that a family of flights reaches, as a closed outline in downrange and crossrange.
//!
//! Flights come as curves along which the bank grows. Between the outermost curves to the right and to the
//! left every place is reached by changing sides on the way, so the region at each downrange is all that
//! lies between the two.

use super::ground::FromEntry;
use std::f64::consts::PI;

/// Places along the downrange at which the outline is found, closer towards its rounded ends.
const LEVELS: u32 = 160;

/// A closed region. Without points it is empty.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outline {
    /// Downrange, and the crossrange of the left and right edge there, the downrange rising.
    pub edges: Vec<(f64, f64, f64)>,
}

impl Outline {
    /// The region between the outermost of some curves; a point that is not finite breaks a curve.
    #[must_use]
    pub fn around(curves: &[Vec<FromEntry>]) -> Self {
        let segments: Vec<[FromEntry; 2]> = curves
            .iter()
            .flat_map(|curve| curve.windows(2))
            .filter(|pair| pair.iter().all(|p| p.downrange_m.is_finite()))
            .map(|pair| [pair[0], pair[1]])
            .collect();
        let ends = segments.iter().flatten().map(|p| p.downrange_m);
        let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| {
            (a.min(v), b.max(v))
        });
        if !(high > low) {
            return Self::default();
        }
        let mut edges = Vec::new();
        for level in 0..=LEVELS {
            let turn = PI * f64::from(level) / f64::from(LEVELS);
            let at = (low + (high - low) * 0.5 * (1.0 - libm::cos(turn))).clamp(low, high);
            let (mut left, mut right) = (f64::INFINITY, f64::NEG_INFINITY);
            for [a, b] in &segments {
                let (x0, x1) = (
                    a.downrange_m.min(b.downrange_m),
                    a.downrange_m.max(b.downrange_m),
                );
                if at < x0 || at > x1 {
                    continue;
                }
                let crossings = if x1 > x0 {
                    let place = (at - a.downrange_m) / (b.downrange_m - a.downrange_m);
                    let y = place.mul_add(b.crossrange_m - a.crossrange_m, a.crossrange_m);
                    [y, y]
                } else {
                    [a.crossrange_m, b.crossrange_m]
                };
                for y in crossings {
                    left = left.min(y);
                    right = right.max(y);
                }
            }
            if left <= right {
                edges.push((at, left, right));
            }
        }
        Self { edges }
    }

    /// Whether there is no region.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.edges.len() < 2
    }

    /// The corners around the region, the first one again at the end.
    #[must_use]
    pub fn corners(&self) -> Vec<FromEntry> {
        let corner = |downrange_m, crossrange_m| FromEntry {
            downrange_m,
            crossrange_m,
        };
        let right = self.edges.iter().map(|e| corner(e.0, e.2));
        let left = self.edges.iter().rev().map(|e| corner(e.0, e.1));
        let first = self.edges.first().map(|e| corner(e.0, e.2));
        right.chain(left).chain(first).collect()
    }

    /// Area, m².
    #[must_use]
    pub fn area_m2(&self) -> f64 {
        let pairs = self.edges.windows(2);
        pairs
            .map(|pair| {
                let width = |edge: &(f64, f64, f64)| edge.2 - edge.1;
                0.5 * (width(&pair[0]) + width(&pair[1])) * (pair[1].0 - pair[0].0)
            })
            .sum()
    }

    /// Least and greatest downrange, m.
    #[must_use]
    pub fn downrange_m(&self) -> Option<(f64, f64)> {
        Some((self.edges.first()?.0, self.edges.last()?.0))
    }

    /// Greatest reach to the left (negative) and to the right, m.
    #[must_use]
    pub fn crossrange_m(&self) -> Option<(f64, f64)> {
        (!self.is_empty()).then(|| {
            let edges = self.edges.iter();
            edges.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), e| {
                (a.min(e.1), b.max(e.2))
            })
        })
    }

    fn contains(&self, place: FromEntry) -> bool {
        self.edges.windows(2).any(|pair| {
            let (a, b) = (pair[0], pair[1]);
            if place.downrange_m < a.0 || place.downrange_m > b.0 {
                return false;
            }
            let share = (place.downrange_m - a.0) / (b.0 - a.0);
            let (left, right) = (share.mul_add(b.1 - a.1, a.1), share.mul_add(b.2 - a.2, a.2));
            place.crossrange_m >= left && place.crossrange_m <= right
        })
    }

    /// Distance of a place to the nearest point of the edge, positive inside, m, and that point; an empty
    /// region has none.
    #[must_use]
    pub fn depth(&self, place: FromEntry) -> Option<(f64, FromEntry)> {
        let corners = self.corners();
        let nearest = corners
            .windows(2)
            .map(|pair| {
                let (dx, dy) = (
                    pair[1].downrange_m - pair[0].downrange_m,
                    pair[1].crossrange_m - pair[0].crossrange_m,
                );
                let (px, py) = (
                    place.downrange_m - pair[0].downrange_m,
                    place.crossrange_m - pair[0].crossrange_m,
                );
                let length = dx * dx + dy * dy;
                let share = if length > 0.0 {
                    ((px * dx + py * dy) / length).clamp(0.0, 1.0)
                } else {
                    0.0
                };
                let at = FromEntry {
                    downrange_m: share.mul_add(dx, pair[0].downrange_m),
                    crossrange_m: share.mul_add(dy, pair[0].crossrange_m),
                };
                let away = (place.downrange_m - at.downrange_m)
                    .hypot(place.crossrange_m - at.crossrange_m);
                (away, at)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        let inside = self.contains(place);
        Some((if inside { nearest.0 } else { -nearest.0 }, nearest.1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(downrange_m: f64, crossrange_m: f64) -> FromEntry {
        FromEntry {
            downrange_m,
            crossrange_m,
        }
    }

    /// A half circle to the right and one to the left, of radius 2 about (10, 0): area and depth by hand.
    fn disc() -> Outline {
        let half = |side: f64| -> Vec<FromEntry> {
            (0..=360)
                .map(|i| {
                    let (sine, cosine) = f64::from(i).to_radians().mul_add(0.5, 0.0).sin_cos();
                    at(10.0 + 2.0 * cosine, side * 2.0 * sine)
                })
                .collect()
        };
        Outline::around(&[half(1.0), half(-1.0)])
    }

    #[test]
    fn a_disc_has_its_area_and_depth() {
        let disc = disc();
        assert!((disc.area_m2() / (4.0 * std::f64::consts::PI) - 1.0).abs() < 0.01);
        let (depth, _) = disc.depth(at(10.0, 0.5)).expect("a region");
        assert!((depth - 1.5).abs() < 0.01, "{depth}");
        let (depth, nearest) = disc.depth(at(10.0, 5.0)).expect("a region");
        assert!((depth + 3.0).abs() < 0.01 && (nearest.crossrange_m - 2.0).abs() < 0.01);
        assert_eq!(disc.downrange_m(), Some((8.0, 12.0)));
        let (depth, _) = disc.depth(at(5.0, 0.0)).expect("a region");
        assert!((depth + 3.0).abs() < 0.05);
    }

    #[test]
    fn no_flights_reach_nothing() {
        let empty = Outline::around(&[vec![at(f64::NAN, 0.0), at(1.0, 0.0)]]);
        assert!(empty.is_empty() && empty.depth(at(0.0, 0.0)).is_none());
        assert_eq!(empty.area_m2(), 0.0);
    }
}
