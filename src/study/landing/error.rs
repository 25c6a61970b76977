//! Why a landing has no answer.

use super::approach::EarlierError;
use crate::ensemble::{ProblemError, Stopped};
use crate::scenario::ask::TooManySamples;

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub enum LandingError {
    /// The scenario has no landing.
    #[error(
        "the scenario has no `landing` section: add `landing: {{place: {{latitude: 18 deg, longitude: 77 deg}}}}`"
    )]
    NoSection,
    /// No aim comes down under the limits.
    #[error("no aim from {from_km:.2} to {to_km:.2} km comes down{} with every limit held{ruling}", gate_words(*.gate_m_s))]
    NoAim {
        /// Lowest aim, km.
        from_km: f64,
        /// Highest aim, km.
        to_km: f64,
        /// Speed of the gate, m/s.
        gate_m_s: Option<f64>,
        /// What rules most of them out.
        ruling: String,
    },
    /// No approach fits the place.
    #[error("no approach fits the aim {aim_km:.2} km")]
    NoApproach {
        /// The aim, km.
        aim_km: f64,
    },
    /// The nominal flight has no result.
    #[error("the integration of the nominal flight aimed at {aim_km:.2} km failed")]
    Failed {
        /// The aim, km.
        aim_km: f64,
    },
    /// The pass before cannot be followed by a landing.
    #[error(transparent)]
    Earlier(#[from] EarlierError),
    /// The approach cannot be moved.
    #[error(transparent)]
    Problem(#[from] ProblemError),
    /// More flights than are taken.
    #[error(transparent)]
    TooManySamples(#[from] TooManySamples),
    /// The run was cancelled.
    #[error(transparent)]
    Stopped(#[from] Stopped),
}

fn gate_words(speed_m_s: Option<f64>) -> String {
    speed_m_s.map_or_else(String::new, |speed| format!(" to a gate at {speed:.0} m/s"))
}
