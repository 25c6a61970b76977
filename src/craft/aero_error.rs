//! What can be wrong with a table of coefficients.

use super::aero_cells::{MOST_PLACES, places_needed};

/// An axis of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Axis {
    /// Angle of attack.
    AngleOfAttack,
    /// Mach number.
    Mach,
    /// Knudsen number.
    Knudsen,
}

impl Axis {
    /// The axis in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::AngleOfAttack => "angle of attack",
            Self::Mach => "Mach number",
            Self::Knudsen => "Knudsen number",
        }
    }
}

/// A table that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AeroTableError {
    /// An axis without an entry, or whose entries do not rise.
    #[error("the {} of the table must rise from entry to entry (entry {} does not)", axis.words(), index + 1)]
    NotRising {
        /// The axis.
        axis: Axis,
        /// The first entry that does not rise, from 0.
        index: usize,
    },
    /// An entry of an axis outside what it may be.
    #[error("the {} {value} of the table is not {rule}", axis.words())]
    Entry {
        /// The axis.
        axis: Axis,
        /// What it must be, in words.
        rule: &'static str,
        /// The entry.
        value: f64,
    },
    /// Two entries of an axis too close for its range.
    #[error(
        "the {} entries {low} and {high} of the table lie closer than a {MOST_PLACES}th of its range from {first} to {last}: leave one of them out, or the far end (beyond the table the value of its end is held)",
        axis.words()
    )]
    TooClose {
        /// The axis.
        axis: Axis,
        /// The lower of the two.
        low: f64,
        /// The upper.
        high: f64,
        /// The lowest entry.
        first: f64,
        /// The highest.
        last: f64,
    },
    /// The number of coefficients is not the product of the axes.
    #[error("the table needs {expected} {what} coefficients, got {found}")]
    Count {
        /// `drag` or `lift`.
        what: &'static str,
        /// The product of the axes' lengths.
        expected: usize,
        /// The number given.
        found: usize,
    },
    /// A coefficient outside what it may be.
    #[error("{what} coefficient {} of the table is {value}: it must be {rule}", index + 1)]
    Coefficient {
        /// `drag` or `lift`.
        what: &'static str,
        /// Its place in the list, from 0.
        index: usize,
        /// What it must be, in words.
        rule: &'static str,
        /// The value.
        value: f64,
    },
}

/// Checks that an axis has entries, that each is what it may be, and that they rise.
pub(super) fn check_axis(
    axis: Axis,
    entries: &[f64],
    may: fn(f64) -> bool,
    rule: &'static str,
) -> Result<(), AeroTableError> {
    if entries.is_empty() {
        return Err(AeroTableError::NotRising { axis, index: 0 });
    }
    if let Some(value) = entries
        .iter()
        .copied()
        .find(|x| !(x.is_finite() && may(*x)))
    {
        return Err(AeroTableError::Entry { axis, rule, value });
    }
    match entries.windows(2).position(|pair| pair[1] <= pair[0]) {
        Some(at) => Err(AeroTableError::NotRising {
            axis,
            index: at + 1,
        }),
        None => Ok(()),
    }
}

/// Checks that the entries of an axis can be told apart by equal places: `places` are the entries as they are
/// looked up, of which there are at least one.
pub(super) fn check_spacing(
    axis: Axis,
    entries: &[f64],
    places: &[f64],
) -> Result<(), AeroTableError> {
    if places_needed(places) <= MOST_PLACES {
        return Ok(());
    }
    let gap = |i: &usize| places[i + 1] - places[*i];
    let closest = (0..places.len() - 1).min_by(|a, b| gap(a).total_cmp(&gap(b)));
    let at = closest.unwrap_or(0);
    Err(AeroTableError::TooClose {
        axis,
        low: entries[at],
        high: entries[at + 1],
        first: entries[0],
        last: entries[entries.len() - 1],
    })
}

/// Checks the number of coefficients, and each.
pub(super) fn check_values(
    what: &'static str,
    values: &[f64],
    expected: usize,
    (may, rule): (fn(f64) -> bool, &'static str),
) -> Result<(), AeroTableError> {
    if values.len() != expected {
        return Err(AeroTableError::Count {
            what,
            expected,
            found: values.len(),
        });
    }
    match values.iter().position(|c| !(c.is_finite() && may(*c))) {
        Some(index) => Err(AeroTableError::Coefficient {
            what,
            index,
            rule,
            value: values[index],
        }),
        None => Ok(()),
    }
}
