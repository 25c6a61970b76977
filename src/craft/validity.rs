//! Where a model may be trusted: ranges, what lies outside them, and how a number is known.
//! What is done about a result outside its range is left to those who report it.

use std::fmt;

/// The range of one quantity over which a model is stated to hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// What the range is of, in words.
    pub quantity: &'static str,
    /// SI unit, empty for a pure number.
    pub unit: &'static str,
    /// Lowest value inside.
    pub lowest: f64,
    /// Highest value inside.
    pub highest: f64,
}

impl Range {
    /// What is wrong with `value`, if it lies outside (NaN does).
    #[must_use]
    pub fn departure(&self, value: f64) -> Option<Departure> {
        let inside = value >= self.lowest && value <= self.highest;
        (!inside).then_some(Departure {
            range: *self,
            value,
        })
    }
}

/// A value outside the range of a model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Departure {
    /// The range that was left.
    pub range: Range,
    /// The value outside it.
    pub value: f64,
}

impl fmt::Display for Departure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Range {
            quantity,
            unit,
            lowest,
            highest,
        } = self.range;
        let gap = if unit.is_empty() { "" } else { " " };
        write!(
            f,
            "{quantity} {:.4}{gap}{unit} is outside {lowest}..{highest}{gap}{unit}",
            Figure(self.value)
        )
    }
}

/// A number with as many digits as asked for, in powers of ten where that is shorter.
struct Figure(f64);

impl fmt::Display for Figure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let digits = f.precision().unwrap_or(4);
        let size = self.0.abs();
        if self.0 == 0.0 || (1e-2..1e6).contains(&size) {
            write!(f, "{:.digits$}", self.0)
        } else {
            write!(f, "{:.digits$e}", self.0)
        }
    }
}

/// Whether a result may be trusted: the quantities that left the range of the model, if any.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Validity {
    departures: Vec<Departure>,
}

impl Validity {
    /// Checks each value against its range.
    #[must_use]
    pub fn of(checks: &[(Range, f64)]) -> Self {
        let departures = checks
            .iter()
            .filter_map(|(range, value)| range.departure(*value))
            .collect();
        Self { departures }
    }

    /// Whether every quantity was inside its range.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.departures.is_empty()
    }

    /// The quantities that were outside.
    #[must_use]
    pub fn departures(&self) -> &[Departure] {
        &self.departures
    }
}

impl fmt::Display for Validity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.holds() {
            return f.write_str("inside the stated range");
        }
        for (i, departure) in self.departures.iter().enumerate() {
            let comma = if i == 0 { "" } else { "; " };
            write!(f, "{comma}{departure}")?;
        }
        Ok(())
    }
}

/// How a number is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// Read in a copy or a quotation of the named source.
    Published,
    /// Published, but written down from memory of the named source.
    FromMemory,
    /// The user's own number.
    Own,
}

impl Known {
    /// The mark in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::FromMemory => "from memory",
            Self::Own => "the user's own",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPEED: Range = Range {
        quantity: "speed",
        unit: "m/s",
        lowest: 1e4,
        highest: 1.6e4,
    };

    #[test]
    fn a_departure_says_what_left_which_range() {
        let validity = Validity::of(&[(SPEED, 9500.0), (SPEED, 1.2e4)]);
        assert!(!validity.holds());
        assert_eq!(
            validity.to_string(),
            "speed 9500.0000 m/s is outside 10000..16000 m/s"
        );
        assert_eq!(validity.departures().len(), 1);
    }

    #[test]
    fn the_ends_of_a_range_are_inside_and_nan_is_not() {
        assert!(Validity::of(&[(SPEED, 1e4), (SPEED, 1.6e4)]).holds());
        assert!(!Validity::of(&[(SPEED, f64::NAN)]).holds());
        assert_eq!(Validity::default().to_string(), "inside the stated range");
    }
}
