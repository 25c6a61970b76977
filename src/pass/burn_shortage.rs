//! Why an engine does not do what is asked of it, and what thrust would.

use super::burn::{BurnError, Burner};
use super::burn_size::needed_thrust_n;

/// Why the engine does not do it.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// The engine cannot close the orbit inside the loosest apoapsis.
    #[error(
        "the engine is too weak: no burn inside the loosest apoapsis closes the orbit below it; {} would do",
        needed_thrust_n.map_or_else(|| "no thrust".to_owned(), |n| format!("about {:.2} kN", n / 1e3))
    )]
    TooWeak {
        /// Thrust that would do, N; `None` where none does.
        needed_thrust_n: Option<f64>,
    },
    /// A later burn does not fit into one passage. What thrust would do depends on the burns before it too.
    #[error(
        "the engine is too weak: a burn after the first does not fit into one passage of its periapsis"
    )]
    TooLong,
    /// There is nothing to brake: the arrival is already inside the target apoapsis.
    #[error(
        "the arrival is already below the target apoapsis: an engine that brakes has nothing to do"
    )]
    NothingToBrake,
    /// The integration failed.
    #[error(transparent)]
    Burn(#[from] BurnError),
}

/// Why one number of burns does not do it.
#[derive(Debug, Clone, PartialEq)]
pub enum Failed {
    /// A burn would be too long for one passage; more burns may be short enough.
    Long(LongBurn),
    /// More burns do not help.
    Plan(PlanError),
}

/// A burn that is too long for one passage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LongBurn {
    /// Its place among the burns, from 0.
    pub index: u32,
    /// The ship before it.
    pub burner: Burner,
    /// Apoapsis radius it is for, m.
    pub apoapsis_m: f64,
}

impl LongBurn {
    /// Whether `other` is the same burn: of more burns none is shorter then.
    #[must_use]
    pub fn is(&self, other: &Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * a.abs();
        self.index == other.index
            && near(self.apoapsis_m, other.apoapsis_m)
            && near(self.burner.mass_kg, other.burner.mass_kg)
    }

    /// The error; for the first burn with the thrust that would do.
    #[must_use]
    pub fn told(&self) -> PlanError {
        if self.index > 0 {
            return PlanError::TooLong;
        }
        PlanError::TooWeak {
            needed_thrust_n: needed_thrust_n(&self.burner, self.apoapsis_m),
        }
    }
}
