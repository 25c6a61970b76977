//! What can be wrong with a world before it is flown; the place in a file is added by the reader.

use crate::numeric::units::{Dimension, format_number, format_quantity};

/// A world that cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WorldError {
    /// A number outside its range.
    #[error("`{key}` must be {rule}, got {}", amount(*value, unit))]
    OutOfRange {
        /// The key of the number in a world file, or the field's name without its unit.
        key: &'static str,
        /// What it must be, in words.
        rule: String,
        /// The value as given, in `unit`.
        value: f64,
        /// SI unit of `value`; empty for a pure number.
        unit: &'static str,
    },
    /// Altitudes of a list that do not rise from one entry to the next.
    #[error("`{key}` must rise from entry to entry: entry {} is not above the one before it", index + 1)]
    NotRising {
        /// The key of the list in a world file.
        key: &'static str,
        /// Position in the list of the first entry that does not rise, from 0.
        index: usize,
    },
    /// A list with too few entries.
    #[error("`{key}` needs at least {least} entries, got {found}")]
    TooFew {
        /// The key of the list in a world file.
        key: &'static str,
        /// The least number of entries.
        least: usize,
        /// The number found.
        found: usize,
    },
}

/// A number in the unit in which it reads best, as people write it; as it is where the unit is none of theirs.
fn amount(value: f64, unit: &str) -> String {
    let measures = |dimension: &&Dimension| dimension.si_unit() == Some(unit);
    match Dimension::ALL.iter().find(measures) {
        Some(&dimension) => format_quantity(value, dimension),
        None if unit.is_empty() => format_number(value),
        None => format!("{} {unit}", format_number(value)),
    }
}

/// A number on its way into a world, with the key and the SI unit under which it is reported.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Given {
    key: &'static str,
    unit: &'static str,
    value: f64,
}

/// A number to be checked.
pub(crate) fn given(key: &'static str, unit: &'static str, value: f64) -> Given {
    Given { key, unit, value }
}

impl Given {
    /// Passes the number on when it is finite and `holds`; otherwise says what it must be.
    pub(crate) fn must(self, holds: bool, rule: &str) -> Result<f64, WorldError> {
        let Self { key, unit, value } = self;
        if holds && value.is_finite() {
            return Ok(value);
        }
        let rule = rule.to_owned();
        Err(WorldError::OutOfRange {
            key,
            rule,
            value,
            unit,
        })
    }
}
