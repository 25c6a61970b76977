//! How much acceleration may last how long, along one axis of the seat, and whether a flight keeps
//! to it. Curves with a name are in `named_curves`.

use super::named_curves::NamedCurve;
use super::people::SeatAxis;
use super::validity::{Known, Range, Validity};

/// A limit that falls with duration: level against duration, straight in log-log between its points.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitCurve {
    axis: SeatAxis,
    /// Duration, s, and level, g.
    points: Vec<(f64, f64)>,
    source: String,
    known: Known,
}

/// A curve that cannot be, or is not there.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CurveError {
    /// No points, or numbers not above 0.
    #[error("a limit curve needs points with durations and levels above 0")]
    NoPoints,
    /// Durations that do not rise or levels that rise.
    #[error("along a limit curve durations must rise and levels must not: point {} breaks that", index + 1)]
    Order {
        /// The point, from 0.
        index: usize,
    },
    /// No published curve is held for the axis.
    #[error("no published limit is held for {}: give your own durations and levels for it", axis.symbol())]
    NoCurve {
        /// The axis.
        axis: SeatAxis,
    },
    /// A name that is not known.
    #[error("no limit curve is called `{name}`; known are {known}")]
    Unknown {
        /// The name as given.
        name: String,
        /// The names there are, with commas.
        known: String,
    },
}

impl LimitCurve {
    /// The user's own curve: (duration s, level g), durations rising, levels not.
    ///
    /// # Errors
    /// [`CurveError::NoPoints`] and [`CurveError::Order`].
    pub fn own(axis: SeatAxis, points: &[(f64, f64)], source: &str) -> Result<Self, CurveError> {
        let positive = |x: f64| x > 0.0 && x.is_finite();
        if points.is_empty() || !points.iter().all(|(d, g)| positive(*d) && positive(*g)) {
            return Err(CurveError::NoPoints);
        }
        let ordered = |pair: &[(f64, f64)]| pair[1].0 > pair[0].0 && pair[1].1 <= pair[0].1;
        if let Some(at) = points.windows(2).position(|pair| !ordered(pair)) {
            return Err(CurveError::Order { index: at + 1 });
        }
        Ok(Self {
            axis,
            points: points.to_vec(),
            source: source.to_owned(),
            known: Known::Own,
        })
    }

    /// A curve of `named_curves`, whose tests hold its points to the rules of [`LimitCurve::own`].
    pub(super) fn named(named: &NamedCurve) -> Self {
        Self {
            axis: named.axis,
            points: named.points.to_vec(),
            source: named.source.to_owned(),
            known: named.known,
        }
    }

    /// The axis it holds for.
    #[must_use]
    pub fn axis(&self) -> SeatAxis {
        self.axis
    }

    /// Where it is from, with the clause.
    #[must_use]
    pub fn source(&self) -> &str {
        &self.source
    }

    /// How it is known.
    #[must_use]
    pub fn known(&self) -> Known {
        self.known
    }

    /// The level that may not be passed for any time, g: that of the shortest duration stated.
    #[must_use]
    pub fn peak_g(&self) -> f64 {
        self.points[0].1
    }

    /// The level that may last longest, g; below it the curve sets no limit.
    #[must_use]
    pub fn sustained_g(&self) -> f64 {
        self.points[self.points.len() - 1].1
    }

    /// The longest duration the source states, s; longer stays at [`LimitCurve::sustained_g`] are beyond it.
    #[must_use]
    pub fn stated_to_s(&self) -> f64 {
        self.points[self.points.len() - 1].0
    }

    /// The level that may last so long, g. Before the first and after the last point the level of that point.
    #[must_use]
    pub fn limit_g(&self, duration_s: f64) -> f64 {
        let after = self.points.partition_point(|(d, _)| *d <= duration_s);
        match (after.checked_sub(1), self.points.get(after)) {
            (None, _) => self.peak_g(),
            (_, None) => self.sustained_g(),
            (Some(before), Some(&(d1, g1))) => {
                let (d0, g0) = self.points[before];
                let share = libm::log(duration_s / d0) / libm::log(d1 / d0);
                g0 * libm::pow(g1 / g0, share)
            }
        }
    }

    /// The longest continuous stay at or above a level, s: the inverse of [`LimitCurve::limit_g`];
    /// 0 above the peak (and for NaN), infinite at and below the sustained level.
    #[must_use]
    pub fn allowed_s(&self, level_g: f64) -> f64 {
        if level_g.is_nan() || level_g > self.peak_g() {
            return 0.0;
        }
        if level_g <= self.sustained_g() {
            return f64::INFINITY;
        }
        // The last point that still allows the level; a lower one follows it.
        let after = self.points.partition_point(|(_, g)| *g >= level_g);
        let ((d0, g0), (d1, g1)) = (self.points[after - 1], self.points[after]);
        let share = libm::log(level_g / g0) / libm::log(g1 / g0);
        d0 * libm::pow(d1 / d0, share)
    }

    /// Levels to watch along a flight, g, from the highest down: the curve's own and `between` more, in
    /// equal ratios, inside each piece (at most 1000). A stay is only measured at these, so a flight may pass the curve
    /// unseen by at most the ratio of two neighbours.
    #[must_use]
    pub fn levels(&self, between: u32) -> Vec<f64> {
        let between = between.min(1000);
        let mut levels = vec![self.peak_g()];
        for pair in self.points.windows(2) {
            let ratio = pair[1].1 / pair[0].1;
            if ratio < 1.0 {
                let pieces = f64::from(between) + 1.0;
                let inner =
                    (1..=between).map(|i| libm::pow(ratio, f64::from(i) / pieces) * pair[0].1);
                levels.extend(inner.chain(std::iter::once(pair[1].1)));
            }
        }
        // The sustained level sets no limit, except where it is the only one.
        if levels.len() > 1 {
            levels.pop();
        }
        levels
    }

    /// Holds a flight against the curve at the given levels. `history` is (time s, g along the curve's
    /// axis), in order of time, straight between its entries.
    #[must_use]
    pub fn check(&self, history: &[(f64, f64)], levels: &[f64]) -> CurveCheck {
        let stays = levels
            .iter()
            .map(|&level_g| Stay {
                level_g,
                longest_s: longest_stay_s(history, level_g),
                allowed_s: self.allowed_s(level_g),
            })
            .collect();
        let sustained = Range {
            quantity: "stay at the sustained level",
            unit: "s",
            lowest: 0.0,
            highest: self.stated_to_s(),
        };
        CurveCheck {
            peak_g: history.iter().fold(0.0, |peak, (_, g)| g.max(peak)),
            peak_limit_g: self.peak_g(),
            stays,
            validity: Validity::of(&[(sustained, longest_stay_s(history, self.sustained_g()))]),
        }
    }
}

/// The longest continuous stay at or above one level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stay {
    /// The level, g.
    pub level_g: f64,
    /// The longest continuous stay at or above it, s.
    pub longest_s: f64,
    /// What the curve allows, s.
    pub allowed_s: f64,
}

impl Stay {
    /// Whether the stay is within what is allowed.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.longest_s <= self.allowed_s
    }
}

/// A flight held against a curve.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveCheck {
    /// Highest value along the axis, g.
    pub peak_g: f64,
    /// What it may be, g.
    pub peak_limit_g: f64,
    /// The stays at each level watched.
    pub stays: Vec<Stay>,
    /// Marks a stay longer than the source states anything about.
    pub validity: Validity,
}

impl CurveCheck {
    /// Whether peak and stays are all within the curve.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.peak_g <= self.peak_limit_g && self.stays.iter().all(Stay::holds)
    }

    /// The stay nearest to its limit or furthest beyond it.
    #[must_use]
    pub fn tightest(&self) -> Option<Stay> {
        let share = |stay: &Stay| {
            if stay.longest_s == 0.0 {
                0.0
            } else {
                stay.longest_s / stay.allowed_s
            }
        };
        self.stays
            .iter()
            .copied()
            .max_by(|a, b| share(a).total_cmp(&share(b)))
    }
}

/// The longest continuous time, s, at or above a level, of a history (time s, value) that is in order
/// of time and straight between its entries; 0 if the level is at most touched.
#[must_use]
pub fn longest_stay_s(history: &[(f64, f64)], level: f64) -> f64 {
    let (mut longest, mut since) = (0.0_f64, None);
    for pair in history.windows(2) {
        let ((t0, g0), (t1, g1)) = (pair[0], pair[1]);
        let crossing = || t0 + (t1 - t0) * (level - g0) / (g1 - g0);
        let (begin, end) = match (g0 >= level, g1 >= level) {
            (true, true) => (t0, t1),
            (true, false) => (t0, crossing()),
            (false, true) => (crossing(), t1),
            (false, false) => {
                since = None;
                continue;
            }
        };
        let start = *since.get_or_insert(begin);
        longest = longest.max(end - start);
        if g1 < level {
            since = None;
        }
    }
    longest
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;

    fn deconditioned() -> LimitCurve {
        NamedCurve::find("nasa-std-3001-deconditioned")
            .unwrap()
            .curve()
    }

    #[test]
    fn level_and_duration_are_each_other_s_inverse() {
        let curve = deconditioned();
        for duration in [0.5, 1.7, 10.0, 22.0, 49.0, 77.0, 149.0] {
            let level = curve.limit_g(duration);
            assert!(
                (curve.allowed_s(level) / duration - 1.0).abs() < 1e-12,
                "{duration}"
            );
        }
        // Halfway in the logarithms: √(0.5·10) s and √(14·10) g.
        assert!((curve.limit_g(5_f64.sqrt()) - 140_f64.sqrt()).abs() < 1e-12);
        assert_eq!(curve.limit_g(0.01), 14.0);
        assert_eq!(curve.limit_g(1e12), 4.0);
        assert_eq!(curve.allowed_s(14.01), 0.0);
        assert_eq!(curve.allowed_s(f64::NAN), 0.0);
        assert_eq!(curve.allowed_s(4.0), f64::INFINITY);
        assert!((curve.allowed_s(4.000_001) - 150.0).abs() < 1e-3);
    }

    #[test]
    fn levels_run_from_the_peak_to_just_above_the_sustained_one() {
        let curve = deconditioned();
        assert_eq!(curve.levels(0), [14.0, 10.0, 8.0, 6.3, 5.0, 4.3]);
        let fine = curve.levels(3);
        assert_eq!(fine.len(), 6 + 6 * 3);
        assert!(fine.windows(2).all(|pair| pair[1] < pair[0]) && fine[23] > 4.0);
        let flat = LimitCurve::own(SeatAxis::PlusZ, &[(1.0, 3.0)], "own").unwrap();
        assert_eq!(flat.levels(5), [3.0]);
    }

    #[test]
    fn the_longest_stay_is_found_between_the_entries() {
        // Rises 1 g/s to 6 g, falls to 2 g, rises to 5 g, falls to 0.
        let history = [
            (0.0, 0.0),
            (6.0, 6.0),
            (10.0, 2.0),
            (13.0, 5.0),
            (18.0, 0.0),
        ];
        assert_eq!(longest_stay_s(&history, 3.0), 6.0);
        assert_eq!(longest_stay_s(&history, 2.0), 14.0);
        assert_eq!(longest_stay_s(&history, 4.5), 3.0);
        assert_eq!(longest_stay_s(&history, 6.0), 0.0);
        assert_eq!(longest_stay_s(&history, 7.0), 0.0);
        assert_eq!(longest_stay_s(&[(0.0, 5.0), (4.0, 5.0)], 5.0), 4.0);
        assert_eq!(longest_stay_s(&[], 5.0), 0.0);
    }

    #[test]
    fn a_flight_is_held_against_every_level() {
        let curve = deconditioned();
        let pulse = |peak: f64, half: f64| [(0.0, 0.0), (half, peak), (2.0 * half, 0.0)];
        let gentle = curve.check(&pulse(6.0, 60.0), &curve.levels(8));
        assert!(gentle.holds() && gentle.validity.holds());
        // Five times as long: at or above 5 g for 100 s, where 90 s are allowed.
        let long = curve.check(&pulse(6.0, 300.0), &curve.levels(8));
        assert!(!long.holds());
        let worst = long.tightest().unwrap();
        assert!(!worst.holds() && worst.level_g < 6.0);
        let hard = curve.check(&pulse(14.5, 1.0), &curve.levels(0));
        assert!(!hard.holds(), "the peak itself is not allowed");
        assert_eq!(hard.peak_limit_g, 14.0);
    }

    #[test]
    fn a_stay_beyond_what_is_stated_is_marked() {
        let emergency = NamedCurve::find("nasa-std-3001-emergency").unwrap().curve();
        let check = emergency.check(&[(0.0, 5.0), (2000.0, 5.0)], &emergency.levels(4));
        assert!(check.holds() && !check.validity.holds());
        assert!(
            check
                .validity
                .to_string()
                .starts_with("stay at the sustained level 2000")
        );
    }

    #[test]
    fn points_out_of_order_are_refused() {
        let own =
            |points: &[(f64, f64)]| LimitCurve::own(SeatAxis::MinusX, points, "own").map(|_| ());
        assert_eq!(own(&[]), Err(CurveError::NoPoints));
        assert_eq!(own(&[(0.0, 1.0)]), Err(CurveError::NoPoints));
        assert_eq!(own(&[(1.0, f64::NAN)]), Err(CurveError::NoPoints));
        assert_eq!(
            own(&[(1.0, 3.0), (1.0, 2.0)]),
            Err(CurveError::Order { index: 1 })
        );
        assert_eq!(
            own(&[(1.0, 3.0), (2.0, 3.5)]),
            Err(CurveError::Order { index: 1 })
        );
        assert_eq!(own(&[(1.0, 3.0), (2.0, 3.0)]), Ok(()));
    }
}
