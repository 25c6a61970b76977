//! From an orbit: the burn, and the round after which it is done.

use super::approach::ship_of;
use super::deorbit::{Before, Deorbit};
use super::ground::{FromEntry, OnMap};
use super::placing::{Given, Placing, place_approach};
use crate::ensemble::Problem;
use crate::ensemble::problem::{Numbers, SampleNumber};
use crate::scenario::Scenario;
use crate::scenario::arrival::ArrivalEnergy;
use crate::scenario::landing::Parking;
use crate::scenario::uncertainty::Number;

/// How the ship is brought down from its orbit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Brought {
    /// The burn.
    pub burn: Deorbit,
    /// Where it is done on the map.
    pub over: OnMap,
    /// Rounds that the ship waits first; 0 where the node is chosen.
    pub rounds: u32,
    /// Time of a round, s.
    pub period_s: f64,
    /// By how much the node moves over the ground in a round, rad to the east.
    pub node_shift_rad: f64,
    /// By how much the periapsis moves in its plane in a round, rad, where the argument of periapsis is given.
    pub periapsis_shift_rad: f64,
}

/// A place this share of the deepest in is deep enough to wait no longer for.
const ENOUGH: f64 = 0.8;

/// Chooses the round and places the approach of it; `None` when none fits.
#[must_use]
pub(super) fn bring_down(
    problem: &Problem,
    numbers: &Numbers,
    (scenario, parking): (&Scenario, &Parking),
    (given, depth): (&Given, &dyn Fn(FromEntry) -> f64),
) -> Option<(Placing, Brought)> {
    let planet = problem.planet();
    let ArrivalEnergy::ApoapsisAltitude(apoapsis) = scenario.arrival.energy else {
        return None;
    };
    let before = Before {
        periapsis_radius_m: planet.equatorial_radius_m + parking.periapsis_altitude_m,
        apoapsis_radius_m: planet.equatorial_radius_m + apoapsis,
        inclination_rad: numbers[Number::Inclination as usize],
    };
    let burn_of = |argument_rad: f64| -> Option<Deorbit> {
        let mut turned = *numbers;
        turned[Number::ArgumentOfPeriapsis as usize] = argument_rad;
        let (start, _) = problem.launch(given.aim_m, &turned, SampleNumber::Nominal)?;
        before.burn(planet, &start, ship_of(scenario))
    };
    let own = numbers[Number::ArgumentOfPeriapsis as usize];
    let coast_s = burn_of(given.argument_rad.unwrap_or(own))?.coast_s;
    let shift = before.node_shift_rad(planet);
    let periapsis_shift = before.periapsis_shift_rad(planet);
    let (mut chosen, mut rounds) = (None, 0);
    if let Some(node) = given.node_rad {
        // The ground turns on from the burn to the entry.
        let first = node - planet.rotation_rad_s * coast_s;
        let mut placed: Vec<(u32, Placing)> = Vec::new();
        for round in 0..=parking.most_rounds {
            let own = Given {
                node_rad: Some(first + f64::from(round) * shift),
                argument_rad: given
                    .argument_rad
                    .map(|argument| argument + f64::from(round) * periapsis_shift),
                ..*given
            };
            placed.extend(place_approach(problem, numbers, &own, depth).map(|p| (round, p)));
        }
        let deepest = placed
            .iter()
            .map(|(_, p)| p.depth_m)
            .fold(f64::MIN, f64::max);
        let enough = if deepest > 0.0 {
            ENOUGH * deepest
        } else {
            deepest
        };
        if let Some(&(round, placing)) = placed.iter().find(|(_, p)| p.depth_m >= enough) {
            (chosen, rounds) = (Some(placing), round);
        }
    } else {
        chosen = place_approach(problem, numbers, given, depth);
    }
    let placing = chosen?;
    let burn = burn_of(placing.argument_rad)?;
    let brought = Brought {
        over: OnMap::of(planet, burn.over, placing.node_rad),
        burn,
        rounds,
        period_s: before.period_s(planet.gm_m3_s2),
        node_shift_rad: shift,
        periapsis_shift_rad: if given.argument_rad.is_some() {
            periapsis_shift
        } else {
            0.0
        },
    };
    Some((placing, brought))
}
