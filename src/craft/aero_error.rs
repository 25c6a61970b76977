//! What can be wrong with a table of coefficients.

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
    /// A coefficient that is not finite, or a drag coefficient that is not above 0.
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
