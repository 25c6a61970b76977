//! How much acceleration may last how long, along one axis of the seat. Curves with a name are in `named_curves`;
//! whether a flight keeps to one is measured in `pass::exposure`.

use super::named_curves::NamedCurve;
use super::people::SeatAxis;
use super::validity::Known;

/// A limit that falls with duration: level against duration, straight in log-log between its points (the published
/// tables are drawn as curves; straight lines between their rows are taken here).
///
/// Above the level of the shortest duration no time is allowed, also none shorter than that duration: the sources
/// leave it to rules for impacts. A stay above the lowest level is bounded by the longest duration; below the
/// lowest level none is.
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

    /// Its points: duration, s, and level, g.
    #[must_use]
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
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

    /// The longest duration the source states, s: what a stay at [`LimitCurve::sustained_g`] may last.
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
    /// 0 above the peak (and for NaN), the longest duration stated at the sustained level, infinite below it.
    #[must_use]
    pub fn allowed_s(&self, level_g: f64) -> f64 {
        if level_g.is_nan() || level_g > self.peak_g() {
            return 0.0;
        }
        if level_g < self.sustained_g() {
            return f64::INFINITY;
        }
        // The last point that still allows the level; a lower one follows it.
        let after = self.points.partition_point(|(_, g)| *g >= level_g);
        if after == self.points.len() {
            return self.stated_to_s();
        }
        let ((d0, g0), (d1, g1)) = (self.points[after - 1], self.points[after]);
        let share = libm::log(level_g / g0) / libm::log(g1 / g0);
        d0 * libm::pow(d1 / d0, share)
    }
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
        assert_eq!(curve.allowed_s(4.0), 1e9);
        assert_eq!(curve.allowed_s(3.999), f64::INFINITY);
        assert!((curve.allowed_s(4.000_001) - 150.0).abs() < 1e-3);
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
