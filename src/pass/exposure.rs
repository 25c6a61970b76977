//! How hard a flight is on curves of level against duration, over all levels. The history of what is sensed goes in,
//! the level that is furthest above its curve comes out; what the curves are and whom they hold for is left to others.
//!
//! A flight meets a curve when no level is stayed above for longer than the curve allows. With s(L) the stay above the
//! level L and c(s) the level that may last for s, that is L ≤ c(s(L)) for every L; the [`Exposure`] is the
//! largest L/c(s(L)). It is the factor by which all levels of the curve would have to be raised for the flight to just
//! meet it, and goes in proportion to the levels of the flight.

use super::trace::{At, Stay, Stays, Trace};
use crate::numeric::elementary::{exp, ln};
use crate::numeric::root::{hermite, quadratic_roots};
use crate::scenario::people::SeveralPeaks;

/// A curve of level against duration in terms of what is sensed in all: straight in the logarithms between its
/// points, level before the first and after the last.
#[derive(Debug, Clone, PartialEq)]
pub struct SensedCurve {
    /// ln of the duration, s, rising, and of the level, m/s², not rising.
    points: Vec<(f64, f64)>,
}

impl SensedCurve {
    /// A curve through points of duration (s, above 0, rising) and sensed acceleration (m/s², above 0, not rising);
    /// `None` for others.
    #[must_use]
    pub fn new(points: &[(f64, f64)]) -> Option<Self> {
        let positive = |x: f64| x > 0.0 && x.is_finite();
        let ordered = |pair: &[(f64, f64)]| pair[1].0 > pair[0].0 && pair[1].1 <= pair[0].1;
        let sound = !points.is_empty()
            && points.iter().all(|(s, a)| positive(*s) && positive(*a))
            && points.windows(2).all(ordered);
        sound.then(|| Self {
            points: points.iter().map(|&(s, a)| (ln(s), ln(a))).collect(),
        })
    }

    /// Logarithms of the highest and the lowest level.
    fn ends(&self) -> (f64, f64) {
        (self.points[0].1, self.points[self.points.len() - 1].1)
    }

    /// ln of the level that may last for a stay of this logarithm.
    fn limit(&self, ln_s: f64) -> f64 {
        let after = self.points.partition_point(|(d, _)| *d <= ln_s);
        match (after.checked_sub(1), self.points.get(after)) {
            (None, _) => self.ends().0,
            (_, None) => self.ends().1,
            (Some(before), Some(&(d1, g1))) => {
                let (d0, g0) = self.points[before];
                g0 + (ln_s - d0) / (d1 - d0) * (g1 - g0)
            }
        }
    }

    /// The same of a stay, s.
    fn limit_of(&self, stay_s: f64) -> f64 {
        if stay_s > 0.0 {
            self.limit(ln(stay_s))
        } else {
            self.ends().0
        }
    }

    /// The largest ln(L/c(s(L))), with the ln L and the s at which it is.
    ///
    /// Between two levels the stay lies between those at its ends, which bounds what can be found there: stretches of
    /// levels that cannot hold the largest are left out, the others are halved until the stay runs smoothly in
    /// them, and then followed by the cubic of ln L over ln s.
    fn hardest(&self, stays: &Stays) -> (f64, f64, f64) {
        /// What may be missed, as a share of the level.
        const MISS: f64 = 1e-7;
        let mut best = (f64::NEG_INFINITY, 0.0, 0.0);
        let mut try_at = |level: f64, stay_s: f64| {
            let share = level - self.limit_of(stay_s);
            if share > best.0 {
                best = (share, level, stay_s);
            }
            best.0
        };
        let Some(last) = stays.levels.len().checked_sub(1) else {
            return best;
        };
        let (bottom, top) = (stays.at(stays.levels[0]), stays.at(stays.levels[last]));
        try_at(top.level, top.closed.s);
        try_at(bottom.level, bottom.closed.s);
        let mut cells = vec![(bottom, top, 0, last)];
        while let Some((low, high, from, to)) = cells.pop() {
            let so_far = try_at(high.level, high.closed.s);
            let bound = high.level - self.limit_of(low.open.s);
            let width = high.level - low.level;
            if bound <= so_far + MISS || width < 1e-10 {
                continue;
            }
            let mut split = |at: At, (left, right): ((usize, usize), (usize, usize))| {
                try_at(at.level, at.closed.s);
                cells.push((low, at, left.0, left.1));
                cells.push((at, high, right.0, right.1));
            };
            if to > from + 1 {
                let middle = from + (to - from) / 2;
                split(
                    stays.at(stays.levels[middle]),
                    ((from, middle), (middle, to)),
                );
                continue;
            }
            let ends = ((from, to), (from, to));
            let (long, short) = (low.open, high.closed);
            if short.s < 0.6 * long.s {
                // Near a peak the stay goes with the root of what lies above the level.
                split(stays.at(high.level - 0.25 * width), ends);
                continue;
            }
            let smooth = width < 0.1 && long.of == short.of;
            let Some((level, foretold)) = smooth.then(|| crest((low, high), self)).flatten() else {
                split(stays.at(0.5f64.mul_add(width, low.level)), ends);
                continue;
            };
            if foretold <= so_far + MISS {
                continue;
            }
            let at = stays.at(level);
            let share = at.level - self.limit_of(at.closed.s);
            if (share - foretold).abs() > MISS && level > low.level && level < high.level {
                split(at, ends);
            } else {
                try_at(at.level, at.closed.s);
            }
        }
        best
    }
}

/// The curves that flights are held against, and how several peaks of one flight count together.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Curves {
    /// The curves; of several, the one a flight is hardest on counts.
    pub list: Vec<SensedCurve>,
    /// How several peaks count.
    pub several_peaks: SeveralPeaks,
}

/// The level at which a flight is hardest on a curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exposure {
    /// The level over the one that may last as long, at least 0; beyond 1 the curve is not met.
    pub ratio: f64,
    /// The level, sensed in all, m/s².
    pub level_m_s2: f64,
    /// The stay at or above it, s.
    pub stay_s: f64,
    /// Place of the curve in [`Curves::list`].
    pub curve: usize,
}

impl Curves {
    /// Whether there is nothing to hold a flight against.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Where a flight is hardest on these curves; `None` without curves, or where nothing was sensed.
    #[must_use]
    pub fn exposure(&self, trace: &Trace) -> Option<Exposure> {
        let highest = trace.highest();
        if !(highest > f64::MIN_POSITIVE) {
            return None;
        }
        // At its peak a flight already is at peak over the curve's highest level. A level that lies below the curve's
        // lowest one by more than that cannot count.
        let spread = |curve: &SensedCurve| curve.ends().1 - curve.ends().0;
        let widest = self.list.iter().map(spread).fold(0.0, f64::min);
        let floor = ln(highest) + widest;
        let stays = Stays::new(trace, floor, self.several_peaks);
        let mut worst: Option<Exposure> = None;
        for (place, curve) in self.list.iter().enumerate() {
            let (share, level, stay_s) = curve.hardest(&stays);
            let ratio = exp(share);
            if worst.is_none_or(|worst| ratio > worst.ratio) {
                worst = Some(Exposure {
                    ratio,
                    level_m_s2: exp(level),
                    stay_s,
                    curve: place,
                });
            }
        }
        worst
    }
}

/// Where the cubic of ln L over ln s through two levels and their rates is furthest above the curve, and how far;
/// `None` where it has no finite rates.
fn crest((low, high): (At, At), curve: &SensedCurve) -> Option<(f64, f64)> {
    let (long, short) = (low.open, high.closed);
    let (x0, x1) = (ln(short.s), ln(long.s));
    let length = x1 - x0;
    let slope = |stay: Stay| stay.s / stay.rate * length;
    let (d0, d1) = (slope(short), slope(long));
    if !(length > 0.0 && d0.is_finite() && d1.is_finite()) {
        return None;
    }
    let (y0, y1) = (high.level, low.level);
    let mut best = (high.level, high.level - curve.limit(x0));
    let mut consider = |place: f64| {
        let level = hermite(y0, d0, y1, d1, place).clamp(low.level, high.level);
        let share = level - curve.limit(place.mul_add(length, x0));
        if share > best.1 {
            best = (level, share);
        }
    };
    consider(1.0);
    let place_of = |x: f64| (x - x0) / length;
    let mut knots = vec![0.0];
    let inside = curve.points.iter().map(|(d, _)| place_of(*d));
    knots.extend(inside.filter(|place| *place > 0.0 && *place < 1.0));
    knots.push(1.0);
    let (c2, c3) = coefficients((y0, y1), (d0, d1));
    for pair in knots.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        consider(to);
        // Where the cubic runs parallel to the curve.
        let limit = |place: f64| curve.limit(place.mul_add(length, x0));
        let steepness = (limit(to) - limit(from)) / (to - from);
        for place in quadratic_roots(3.0 * c3, 2.0 * c2, d0 - steepness) {
            if place > from && place < to {
                consider(place);
            }
        }
    }
    Some(best)
}

/// The two upper coefficients of the cubic through two values with these slopes.
fn coefficients((y0, y1): (f64, f64), (d0, d1): (f64, f64)) -> (f64, f64) {
    let rise = y1 - y0;
    (3.0 * rise - 2.0 * d0 - d1, d0 + d1 - 2.0 * rise)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A level held: above the highest point for no time, at the last one for its duration, below it for ever.
    #[test]
    fn every_point_of_a_curve_counts_the_last_one_too() {
        let curves = Curves {
            list: vec![SensedCurve::new(&[(0.5, 38.0), (120.0, 8.8), (1200.0, 5.0)]).unwrap()],
            several_peaks: SeveralPeaks::LongestSingleStay,
        };
        for (level, time_s, held) in [
            (38.01, 1e-3, false),
            (37.99, 0.49, true),
            (37.99, 0.52, false),
            (8.8, 119.9, true),
            (8.8, 120.1, false),
            (5.001, 1199.0, true),
            (5.001, 1201.0, false),
            (4.999, 1e6, true),
        ] {
            let found = curves.exposure(&Trace::held(level, time_s)).unwrap();
            assert_eq!(found.ratio <= 1.0, held, "{level} {time_s}: {found:?}");
        }
        assert_eq!(curves.exposure(&Trace::default()), None);
        assert_eq!(SensedCurve::new(&[(1.0, 2.0), (2.0, 3.0)]), None);
    }
}
