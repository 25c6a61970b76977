//! Longitudes of the ascending node for which a place lies inside the footprint.

use super::footprint::{Fineness, footprints};
use super::ground::FromEntry;
use super::placing::{Given, track};
use crate::ensemble::problem::Numbers;
use crate::ensemble::{Problem, Progress, Stopped};
use crate::scenario::uncertainty::Number;
use std::f64::consts::TAU;

/// Nodes over a whole turn that are looked at.
const NODES: u32 = 1440;
/// Arguments of periapsis over a whole turn for which a footprint is flown where the argument is free, and tracks
/// about each.
const FOOTPRINTS: u32 = 24;
const TRACKS: u32 = 5;

fn node(i: u32) -> f64 {
    TAU * f64::from(i) / f64::from(NODES)
}

/// Stretches of longitudes of the node, rad, in which the place lies inside, from the eastward edge of one
/// outside; a stretch may end beyond a whole turn. The argument of periapsis is the one given, with its footprint's
/// depth, or where none is given any.
///
/// # Errors
/// [`Stopped`] when the run was cancelled.
pub(super) fn node_windows(
    (problem, numbers, progress): (&Problem, &Numbers, &Progress),
    given: &Given,
    ahead_m: f64,
    depth: &dyn Fn(FromEntry) -> f64,
) -> Result<Vec<(f64, f64)>, Stopped> {
    let mut inside = vec![false; NODES as usize];
    let mut look = |argument: f64, depth: &dyn Fn(FromEntry) -> f64| {
        let Some(track) = track(problem, numbers, (given.aim_m, argument)) else {
            return;
        };
        for (i, inside) in (0..NODES).zip(&mut inside) {
            let direction = given.place.direction(problem.planet(), node(i));
            *inside = *inside || depth(track.place(direction)) >= 0.0;
        }
    };
    if let Some(argument) = given.argument_rad {
        look(argument, depth);
        return Ok(stretches(&inside));
    }
    let width = TAU / f64::from(FOOTPRINTS);
    for k in 0..FOOTPRINTS {
        let middle = width * f64::from(k);
        let mut turned = *numbers;
        turned[Number::ArgumentOfPeriapsis as usize] = middle;
        let how = (Fineness::Coarse, ahead_m);
        let flown = footprints(problem, (&[given.aim_m], &turned), how, progress)?;
        let Some(footprint) = flown.into_iter().flatten().next() else {
            continue;
        };
        let depth = |at: FromEntry| footprint.held.depth(at).map_or(f64::MIN, |d| d.0);
        for j in 0..TRACKS {
            let share = (f64::from(j) + 0.5) / f64::from(TRACKS) - 0.5;
            look(middle + share * width, &depth);
        }
    }
    Ok(stretches(&inside))
}

/// The stretches of nodes that are inside.
fn stretches(all: &[bool]) -> Vec<(f64, f64)> {
    let Some(first) = all.iter().position(|inside| !inside) else {
        return vec![(0.0, TAU)];
    };
    let first = u32::try_from(first).unwrap_or(0);
    let mut windows = Vec::new();
    let mut from: Option<u32> = None;
    for i in first..=first + NODES {
        let now = all[(i % NODES) as usize] && i < first + NODES;
        match (from, now) {
            (None, true) => from = Some(i),
            (Some(start), false) => {
                windows.push((node(start), node(i - 1)));
                from = None;
            }
            _ => {}
        }
    }
    windows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_go_on_over_the_whole_turn() {
        let mut all = vec![false; NODES as usize];
        for i in [0, 1, 2, 700, 701, 1439] {
            all[i] = true;
        }
        assert_eq!(
            stretches(&all),
            [(node(700), node(701)), (node(1439), node(1442))]
        );
        all.fill(true);
        assert_eq!(stretches(&all), [(0.0, TAU)]);
    }
}
