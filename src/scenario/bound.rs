//! The range in which a number of a file makes sense.

use crate::numeric::units::{Dimension, format_quantity};

/// A range in SI units, open or closed at either end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bound {
    low: f64,
    low_is_in: bool,
    high: f64,
    high_is_in: bool,
}

impl Bound {
    /// Every finite number.
    pub const ANY: Self = Self {
        low: f64::NEG_INFINITY,
        low_is_in: true,
        high: f64::INFINITY,
        high_is_in: true,
    };

    /// More than `low`.
    #[must_use]
    pub const fn above(low: f64) -> Self {
        Self {
            low,
            low_is_in: false,
            ..Self::ANY
        }
    }

    /// `low` or more.
    #[must_use]
    pub const fn at_least(low: f64) -> Self {
        Self { low, ..Self::ANY }
    }

    /// From `low` to `high`, both included.
    #[must_use]
    pub const fn between(low: f64, high: f64) -> Self {
        Self {
            low,
            high,
            ..Self::ANY
        }
    }

    /// The same range, up to and with `high`.
    #[must_use]
    pub const fn at_most(self, high: f64) -> Self {
        Self {
            high,
            high_is_in: true,
            ..self
        }
    }

    /// The same range, up to and without `high`.
    #[must_use]
    pub const fn below(self, high: f64) -> Self {
        Self {
            high,
            high_is_in: false,
            ..self
        }
    }

    /// Whether a value is in the range; never for one that is not a number.
    #[must_use]
    pub fn holds(&self, value: f64) -> bool {
        let low = if self.low_is_in {
            value >= self.low
        } else {
            value > self.low
        };
        let high = if self.high_is_in {
            value <= self.high
        } else {
            value < self.high
        };
        low && high
    }

    /// Its lower and its upper end.
    #[must_use]
    pub fn ends(&self) -> (f64, f64) {
        (self.low, self.high)
    }

    /// The range in words, as in "above 0 kg and at most 5 t".
    #[must_use]
    pub fn in_words(&self, dimension: Dimension) -> String {
        let low = format_quantity(self.low, dimension);
        let high = format_quantity(self.high, dimension);
        match (self.low.is_finite(), self.high.is_finite()) {
            (false, false) => dimension.words().to_owned(),
            (true, true) if self.low_is_in && self.high_is_in => {
                format!("between {low} and {high}")
            }
            (true, true) => {
                let low_word = if self.low_is_in { "at least" } else { "above" };
                let high_word = if self.high_is_in { "at most" } else { "below" };
                format!("{low_word} {low} and {high_word} {high}")
            }
            (true, false) => format!(
                "{} {low}",
                if self.low_is_in { "at least" } else { "above" }
            ),
            (false, true) => format!(
                "{} {high}",
                if self.high_is_in { "at most" } else { "below" }
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_are_in_or_out() {
        assert!(Bound::between(0.0, 1.0).holds(0.0) && Bound::between(0.0, 1.0).holds(1.0));
        assert!(!Bound::above(0.0).holds(0.0) && Bound::above(0.0).holds(1e-300));
        assert!(
            !Bound::above(0.0).below(1.0).holds(1.0) && Bound::above(0.0).at_most(1.0).holds(1.0)
        );
        assert!(!Bound::ANY.holds(f64::NAN));
    }

    #[test]
    fn a_range_is_told_in_words() {
        let words = |bound: Bound| bound.in_words(Dimension::Mass);
        assert_eq!(
            words(Bound::above(0.0).at_most(5e3)),
            "above 0 kg and at most 5 t"
        );
        assert_eq!(words(Bound::between(1.0, 5e3)), "between 1 kg and 5 t");
        assert_eq!(words(Bound::at_least(1.0)), "at least 1 kg");
        assert_eq!(words(Bound::ANY), "a mass");
    }
}
