//! A place outside the footprint: the nearest that is reached, and what would bring the place inside.

use super::aims::AimReach;
use super::arrivals::Ground;
use super::footprint::{Fineness, Footprint, footprints};
use super::ground::{FromEntry, OnMap};
use super::placing::{Placing, track};
use crate::ensemble::limits::measured;
use crate::ensemble::problem::Numbers;
use crate::ensemble::{LimitKind, Problem, Progress, Stopped};
use crate::pass::Ending;
use crate::scenario::uncertainty::Number;

/// Factors on lift that are tried.
const LIFTS: [f64; 6] = [1.1, 1.25, 1.5, 2.0, 3.0, 5.0];

/// What an answer to a place outside has in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Outside {
    /// The nearest place that is reached, from the entry and on the map.
    pub nearest: (FromEntry, OnMap),
    /// How far the place lies beyond it, m.
    pub gap_m: f64,
    /// How far the place lies beyond what is reached by an aim of the range, with that aim, m, where it is less.
    pub other_aim: Option<(f64, f64)>,
    /// Longitudes of the node for which the place lies inside, rad.
    pub nodes_rad: Vec<(f64, f64)>,
    /// The limits that a flight nearest to the place breaks, with what it measures and what is allowed.
    pub limits: Vec<(LimitKind, f64, f64)>,
    /// How near that flight comes, m.
    pub flight_m: Option<f64>,
    /// The inclination that is needed at least, rad, where the place lies beyond what any node reaches.
    pub inclination_rad: Option<f64>,
    /// The least factor on the lift, of some that were tried, that brings the place inside.
    pub lift: Option<f64>,
}

/// Looks for what would bring a place inside.
///
/// # Errors
/// [`Stopped`] when the run was cancelled.
pub fn look_outside(
    (problem, numbers, progress): (&Problem, &Numbers, &Progress),
    (footprint, reaches): (&Footprint, &[AimReach]),
    (ground, free_argument): (&Ground<'_>, bool),
    (placing, nodes_rad): (&Placing, &[(f64, f64)]),
) -> Result<Option<Outside>, Stopped> {
    let place = placing.from_entry;
    let Some((depth, nearest)) = footprint.held.depth(place) else {
        return Ok(None);
    };
    let direction = footprint.track.direction(nearest);
    let gap = |outline: &super::outline::Outline| outline.depth(place).map_or(f64::MIN, |d| d.0);
    // An entry from another aim begins elsewhere over the ground.
    let depth_from = |reach: &AimReach| {
        let from = track(problem, numbers, (reach.aim_m, placing.argument_rad))?;
        let at = from.place(ground.place.direction(ground.planet, placing.node_rad));
        reach.outline.depth(at).map(|depth| depth.0)
    };
    let best = reaches
        .iter()
        .filter_map(|reach| Some((reach.aim_m, depth_from(reach)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|best| best.1 > depth && best.0 != footprint.aim_m);
    let ahead = ground.gate.map_or(0.0, |gate| gate.distance_to_go_m);
    let mut lift = None;
    for factor in LIFTS {
        let mut stronger = *numbers;
        // Lift comes from the ratio, or from a table by its factor: the other is 0 or unused.
        stronger[Number::LiftFactor as usize] *= factor;
        let how = (Fineness::Coarse, ahead);
        let flown = footprints(problem, (&[footprint.aim_m], &stronger), how, progress)?;
        if flown.into_iter().flatten().any(|f| gap(&f.held) >= 0.0) {
            lift = Some(factor);
            break;
        }
    }
    let away = |at: FromEntry| {
        (at.downrange_m - place.downrange_m).hypot(at.crossrange_m - place.crossrange_m)
    };
    let flights = footprint.curves.iter().flatten();
    let closest = flights
        .filter(|reach| reach.result.ending == Ending::Landed)
        .min_by(|a, b| away(a.place).total_cmp(&away(b.place)))
        .filter(|reach| away(reach.place) < -depth);
    let entries = problem.limits().entries();
    let limits = closest.map_or_else(Vec::new, |reach| {
        let broken = entries
            .iter()
            .enumerate()
            .filter(|(bit, _)| reach.broken >> bit & 1 == 1);
        broken
            .map(|(_, limit)| {
                let value = measured(limit.kind, &reach.result).unwrap_or(f64::NAN);
                (limit.kind, value, limit.allowed)
            })
            .collect()
    });
    Ok(Some(Outside {
        nearest: (
            nearest,
            OnMap::of(problem.planet(), direction, placing.node_rad),
        ),
        gap_m: -depth,
        other_aim: best,
        nodes_rad: nodes_rad.to_vec(),
        flight_m: closest.map(|reach| away(reach.place)),
        limits,
        inclination_rad: inclination_needed(numbers, footprint, (ground, free_argument)),
        lift,
    }))
}

/// The inclination from which the place is reached: where the moment of the entry is free, so that the approach was
/// laid as near as it comes, the place's latitude less what the footprint reaches beyond the present inclination;
/// elsewhere less the footprint's whole side, which is too little rather than too much.
fn inclination_needed(
    numbers: &Numbers,
    footprint: &Footprint,
    (ground, free_argument): (&Ground<'_>, bool),
) -> Option<f64> {
    let latitude_of = |z: f64| libm::asin(z.clamp(-1.0, 1.0));
    let place = latitude_of(ground.place.direction(ground.planet, ground.node_rad).z);
    let inclination = numbers[Number::Inclination as usize];
    let top = inclination.min(std::f64::consts::PI - inclination);
    let beyond = if free_argument {
        let corners = footprint.held.corners();
        let latitudes = corners
            .iter()
            .map(|&corner| place.signum() * latitude_of(footprint.track.direction(corner).z));
        latitudes.fold(f64::NEG_INFINITY, f64::max) - top
    } else {
        let (left, right) = footprint.held.crossrange_m()?;
        right.max(-left) / ground.planet.equatorial_radius_m
    };
    (place.abs() > top && place.abs() > top + beyond).then_some(place.abs() - beyond)
}
