//! What is left after the pass against the aim, and how strongly it depends on the aim.

use super::demand::Bank;
use super::lift_to_drag;
use crate::ensemble::problem::Numbers;
use crate::ensemble::sorties::{Sortie, fly_sorties};
use crate::ensemble::{Problem, Progress, Stopped};
use crate::pass::{Ending, PassResult};
use crate::scenario::uncertainty::Number;

/// Aims at which the pass is flown.
const POINTS: u32 = 160;
/// How far the aims reach beyond the corridor, as a share of its width.
const BEYOND: f64 = 0.15;
/// Half the distance over which the sensitivity is taken, m.
const NEAR_M: f64 = 20.0;

/// What one aim leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exit {
    /// The aim, m.
    pub aim_m: f64,
    /// How the pass ended.
    pub ending: Ending,
    /// Inertial speed when leaving the air, m/s; none where the ship comes down.
    pub speed_m_s: Option<f64>,
    /// Apoapsis altitude, m; none where the ship comes down or escapes.
    pub apoapsis_m: Option<f64>,
    /// Change of the exit speed with the aim, 1/s.
    pub speed_per_m: Option<f64>,
    /// Change of the apoapsis altitude with the aim.
    pub apoapsis_per_m: Option<f64>,
}

/// The exits of the ways to fly.
#[derive(Debug, Clone, PartialEq)]
pub struct Exits {
    /// Full lift up, full lift down, and the scenario's own bank (without lift: one), each over the same aims.
    pub flights: Vec<(Bank, Vec<Exit>)>,
    /// The same at the low edge, the middle and the high edge of the corridor.
    pub at: Vec<(Bank, [Exit; 3])>,
}

/// Flies over the aims of the corridor between its edges (m), and a little beyond.
///
/// # Errors
/// [`Stopped`] when the run was cancelled.
pub fn exits(
    problem: &Problem,
    (one_m, other_m): (f64, f64),
    progress: &Progress,
) -> Result<Exits, Stopped> {
    let (low, high) = (one_m.min(other_m), one_m.max(other_m));
    let room = BEYOND * (high - low).max(1e3);
    let top = problem.highest_aim_m() - 1.0;
    let (from, to) = (low - room, (high + room).min(top));
    let aims = (0..=POINTS).map(|i| from + (to - from) * f64::from(i) / f64::from(POINTS));
    let marked = [low, f64::midpoint(low, high), high.min(top)];
    let all: Vec<f64> = aims.chain(marked).collect();
    let own = problem.nominal()[Number::BankAngle as usize];
    let banks: &[Bank] = if lift_to_drag(problem) > 0.0 {
        &[Bank::Up, Bank::Down, Bank::Held(own)]
    } else {
        &[Bank::Without]
    };
    let mut sorties = Vec::new();
    for &bank in banks {
        let numbers: Numbers = bank.numbers(problem, problem.nominal());
        for &aim in &all {
            sorties.extend([-NEAR_M, 0.0, NEAR_M].map(|off| Sortie {
                aim_m: aim + off,
                numbers,
            }));
        }
    }
    let flown = fly_sorties(problem, &sorties, progress)?;
    let points: Vec<Exit> = flown
        .chunks_exact(3)
        .enumerate()
        .map(|(i, near)| exit(all[i % all.len()], near))
        .collect();
    let mut exits = Exits {
        flights: Vec::new(),
        at: Vec::new(),
    };
    for (bank, points) in banks.iter().copied().zip(points.chunks_exact(all.len())) {
        let (curve, marked) = points.split_at(points.len() - 3);
        exits.flights.push((bank, curve.to_vec()));
        exits.at.push((bank, [marked[0], marked[1], marked[2]]));
    }
    Ok(exits)
}

/// What an aim leaves, from the flights just below, at and just above it.
fn exit(aim_m: f64, near: &[Option<PassResult>]) -> Exit {
    let left = |pass: &PassResult| matches!(pass.ending, Ending::Captured | Ending::Escaped);
    let speed =
        |pass: &Option<PassResult>| pass.filter(left).map(|pass| pass.end_inertial_speed_m_s);
    let apoapsis = |pass: &Option<PassResult>| {
        pass.filter(|pass| pass.ending == Ending::Captured)
            .and_then(|pass| pass.apoapsis_altitude_m)
    };
    let slope = |of: &dyn Fn(&Option<PassResult>) -> Option<f64>| {
        Some((of(&near[2])? - of(&near[0])?) / (2.0 * NEAR_M))
    };
    Exit {
        aim_m,
        ending: near[1].map_or(Ending::NoApproach, |pass| pass.ending),
        speed_m_s: speed(&near[1]),
        apoapsis_m: apoapsis(&near[1]),
        speed_per_m: slope(&speed),
        apoapsis_per_m: slope(&apoapsis),
    }
}
