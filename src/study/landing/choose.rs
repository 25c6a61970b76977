//! Which aim to come down from.

use super::aims::{AimReach, best};
use super::error::LandingError;
use super::ground::FromEntry;
use super::placing::{Given, place_approach};
use crate::ensemble::Problem;
use crate::ensemble::problem::Numbers;
use crate::scenario::landing::GateSpec;

/// The aim: that from which the place lies deepest where the approach is given, else the largest footprint.
pub(super) fn choose_aim(
    problem: &Problem,
    numbers: &Numbers,
    (reaches, lifts): (&[AimReach], bool),
    given: &Given,
) -> Option<f64> {
    if !lifts || given.node_rad.is_none() || given.argument_rad.is_none() {
        return best(reaches, lifts);
    }
    let depth = |reach: &AimReach| {
        let inside = |at: FromEntry| reach.outline.depth(at).map_or(f64::MIN, |depth| depth.0);
        let own = Given {
            aim_m: reach.aim_m,
            ..*given
        };
        place_approach(problem, numbers, &own, &inside).map_or(f64::MIN, |placing| placing.depth_m)
    };
    let holding = reaches.iter().filter(|reach| reach.holds);
    let found = holding.map(|reach| (reach.aim_m, depth(reach)));
    found
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|found| found.0)
}

/// That no aim of these comes down, and what keeps them out.
pub(super) fn no_aim(aims: &[f64], reaches: &[AimReach], gate: Option<&GateSpec>) -> LandingError {
    let ruling = reaches.iter().find_map(|reach| reach.ruling);
    LandingError::NoAim {
        from_km: aims.first().copied().unwrap_or(f64::NAN) / 1e3,
        to_km: aims.last().copied().unwrap_or(f64::NAN) / 1e3,
        gate_m_s: gate.map(|gate| gate.speed_m_s),
        ruling: ruling.map_or_else(String::new, |kind| {
            format!("; most flights break `limits.{}`", kind.key())
        }),
    }
}
