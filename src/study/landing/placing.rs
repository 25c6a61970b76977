//! Where the approach has to lie over the turning ground, so that the place comes to lie in the footprint.

use super::ground::{FromEntry, OnMap, Track};
use crate::ensemble::Problem;
use crate::ensemble::problem::{Numbers, SampleNumber};
use crate::scenario::uncertainty::Number;
use std::f64::consts::TAU;

/// Steps of the first search over a whole turn, of the node and of the argument of periapsis.
const STEPS: u32 = 360;
/// Steps of the argument of periapsis.
const ARGUMENTS: u32 = 180;
/// How far about a known argument one is looked for, rad, and the steps to either side.
const ABOUT_RAD: f64 = 0.35;
const ABOUT: u32 = 10;
/// Finest step of the search, rad.
const FINEST_RAD: f64 = 1e-5;

/// What is given and what may be chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Given {
    /// The place.
    pub place: OnMap,
    /// The aim, m.
    pub aim_m: f64,
    /// Longitude of the node, where it is given, rad.
    pub node_rad: Option<f64>,
    /// Argument of periapsis, where it is given, rad.
    pub argument_rad: Option<f64>,
    /// Argument of periapsis about which one is searched that is not given, rad; left out, over a whole turn.
    pub near_rad: Option<f64>,
}

/// Where the approach lies, and where the place then lies from the entry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placing {
    /// Longitude of the node, rad.
    pub node_rad: f64,
    /// Argument of periapsis, rad.
    pub argument_rad: f64,
    /// The place, from the entry.
    pub from_entry: FromEntry,
    /// What was maximised: how deep the place lies inside, m, negative outside.
    pub depth_m: f64,
}

/// The track of an entry with this argument of periapsis.
pub(super) fn track(
    problem: &Problem,
    numbers: &Numbers,
    (aim_m, argument_rad): (f64, f64),
) -> Option<Track> {
    let mut numbers = *numbers;
    numbers[Number::ArgumentOfPeriapsis as usize] = argument_rad;
    let (start, _) = problem.launch(aim_m, &numbers, SampleNumber::Nominal)?;
    Some(Track::of(problem.planet(), &start))
}

/// Places the approach so that `depth` of the place (m, from the entry) is greatest.
///
/// What is given stays; what is not is searched over a whole turn and then closed in on. `None` when no
/// approach fits.
#[must_use]
pub fn place_approach(
    problem: &Problem,
    numbers: &Numbers,
    given: &Given,
    depth: &dyn Fn(FromEntry) -> f64,
) -> Option<Placing> {
    let planet = problem.planet();
    let at = |track: &Track, argument_rad: f64, node_rad: f64| {
        let from_entry = track.place(given.place.direction(planet, node_rad));
        Placing {
            node_rad,
            argument_rad,
            from_entry,
            depth_m: depth(from_entry),
        }
    };
    let turn = |steps: u32, given: Option<f64>| -> Vec<f64> {
        given.map_or_else(
            || {
                (0..steps)
                    .map(|i| TAU * f64::from(i) / f64::from(steps))
                    .collect()
            },
            |angle| vec![angle],
        )
    };
    let nodes = turn(STEPS, given.node_rad);
    let arguments = match (given.argument_rad, given.near_rad) {
        (None, Some(near)) => (0..=2 * ABOUT)
            .map(|i| near + ABOUT_RAD * (f64::from(i) / f64::from(ABOUT) - 1.0))
            .collect(),
        (fixed, _) => turn(ARGUMENTS, fixed),
    };
    let mut best: Option<Placing> = None;
    for argument in arguments {
        let Some(track) = track(problem, numbers, (given.aim_m, argument)) else {
            continue;
        };
        for &node in &nodes {
            let here = at(&track, argument, node);
            if best.is_none_or(|best| here.depth_m > best.depth_m) {
                best = Some(here);
            }
        }
    }
    let mut best = best?;
    // Closes in by steps that halve when no neighbour is better.
    let mut step = TAU / f64::from(ARGUMENTS);
    while step > FINEST_RAD {
        let mut better = None;
        for (a, n) in [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)] {
            let fixed = (a != 0.0 && given.argument_rad.is_some())
                || (n != 0.0 && given.node_rad.is_some());
            if fixed {
                continue;
            }
            let argument = best.argument_rad + a * step;
            let Some(track) = track(problem, numbers, (given.aim_m, argument)) else {
                continue;
            };
            let here = at(&track, argument, best.node_rad + n * step);
            if here.depth_m > best.depth_m {
                better = Some(here);
                break;
            }
        }
        match better {
            Some(here) => best = here,
            None => step *= 0.5,
        }
    }
    Some(best)
}
