//! Why a scenario cannot be flown.

use super::draws::DrawsError;
use super::limits::LimitSet;
use super::people::PeopleError;
use super::thin_air::ThickAir;
use crate::craft::fitting::FittingError;
use crate::world::WorldError;

/// Why a scenario cannot be flown.
#[derive(Debug, thiserror::Error)]
pub enum ProblemError {
    /// The uncertainties cannot be drawn.
    #[error("the uncertainties cannot be drawn: {0}")]
    Draws(#[from] DrawsError),
    /// The curve for the people aboard cannot be watched.
    #[error("{0}")]
    People(#[from] PeopleError),
    /// More limits than a pass is judged by.
    #[error(
        "the scenario has {0} limits, {most} at the most, those of spots and levels included: leave out those that \
         others imply",
        most = LimitSet::MOST
    )]
    TooManyLimits(usize),
    /// The coefficients of the ship cannot be flown.
    #[error("{0}")]
    Fitting(#[from] FittingError),
    /// The dispersion of the air is out of range.
    #[error("the dispersion of the air is out of range")]
    Air(#[from] WorldError),
    /// The nominal numbers fit no approach.
    #[error(
        "no approach conic fits a vacuum periapsis at {aim_km:.3} km: the periapsis must lie above the centre of the \
         body and below the apoapsis, and an entry speed must suffice to reach the interface"
    )]
    NoApproach {
        /// The aim, km.
        aim_km: f64,
    },
    /// The air at the interface is already too thick for the ship.
    #[error(transparent)]
    ThickAir(#[from] ThickAir),
    /// A ship without lift cannot be steered by its bank.
    #[error("a bank angle steers nothing without lift, and the ship has none")]
    NoLift,
    /// No aim meets the interface at the angle asked for.
    #[error("{}", no_angle(*degrees, range_deg.as_ref(), gap_deg.as_ref()))]
    NoAngle {
        /// The angle, deg.
        degrees: f64,
        /// The steepest and the shallowest angle that can be had, deg; `None` where no approach meets the interface.
        range_deg: Option<[f64; 2]>,
        /// The nearest angles on either side, deg, where the one asked for is left out of the range.
        gap_deg: Option<[f64; 2]>,
    },
}

fn no_angle(degrees: f64, range: Option<&[f64; 2]>, gap: Option<&[f64; 2]>) -> String {
    let asked = format!(
        "no approach at this entry speed, inclination and argument of periapsis meets the interface at {degrees:.4} deg"
    );
    // Inwards, so that both ends can be asked for as they stand.
    let shown = |[low, high]: &[f64; 2]| {
        format!(
            "{:.4} to {:.4} deg",
            (low * 1e4).ceil() / 1e4,
            (high * 1e4).floor() / 1e4
        )
    };
    match (range, gap) {
        (None, _) => asked + ": none meets it at all",
        (Some(range), None) => asked + ": " + &shown(range) + " can be had",
        (Some(range), Some([low, high])) => format!(
            "{asked}: {} can be had, but nothing between {low:.4} and {high:.4} deg",
            shown(range)
        ),
    }
}
