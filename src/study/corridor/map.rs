//! The map: the width of the corridor over lift-to-drag and arrival.

use super::demand::{Bank, Demand};
use super::stretch::Edge;
use super::trace::{Search, trace};
use super::{AtArrival, Corridor, angle_at, corridor, lift_to_drag};
use crate::ensemble::{Problem, Progress, Stopped};
use crate::scenario::uncertainty::Number;
use crate::study::Case;

/// Lift-to-drag ratios of the map where the scenario does not say which.
const LIFTS: u32 = 7;

/// One cell of the map.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// Lift-to-drag ratio.
    pub lift_to_drag: f64,
    /// Index into the arrivals.
    pub arrival: usize,
    /// The corridor there.
    pub corridor: Corridor,
    /// Its width in flight-path angle at the interface, rad; negative where the edges have crossed.
    pub width_rad: Option<f64>,
}

/// The lift-to-drag ratios of the map.
fn lifts(case: &Case) -> Vec<f64> {
    let own = lift_to_drag(&case.problem);
    if let Some(sweep) = case.scenario.corridor.lift_to_drag {
        return sweep.values();
    }
    let most = if own > 0.0 { 1.5 * own } else { 0.6 };
    (0..LIFTS)
        .map(|i| most * f64::from(i) / f64::from(LIFTS - 1))
        .collect()
}

/// The cells, and how many flights have no result.
pub(super) fn map(
    (case, problem): (&Case, &Problem),
    (demands, arrivals): (&[Demand], &[AtArrival]),
    progress: &Progress,
) -> Result<(Vec<Cell>, usize), Stopped> {
    let own = lift_to_drag(problem);
    let mut places = Vec::new();
    let mut searches = Vec::new();
    for lift in lifts(case) {
        for (arrival, at) in arrivals.iter().enumerate() {
            let mut numbers = at.numbers;
            let number = &mut numbers[Number::LiftToDrag as usize];
            if *number == own {
                *number = lift;
            } else if own > 0.0 {
                // With a table or a shape the number is a factor on what that gives.
                *number *= lift / own;
            } else if lift > 0.0 {
                // One without lift has none to scale.
                continue;
            }
            places.push((lift, arrival, numbers));
            searches.extend([Bank::Up, Bank::Down].map(|bank| Search { numbers, bank }));
        }
    }
    let traced = trace(problem, demands, &searches, progress)?;
    let failed = traced.iter().map(|traced| traced.failed).sum();
    let cells = places.into_iter().zip(traced.chunks_exact(2));
    let cells = cells
        .map(|((lift_to_drag, arrival, numbers), traced)| {
            let corridor = corridor(&[&traced[0], &traced[1]]);
            let width_rad = corridor.edges().and_then(|(low, high)| {
                let angle = |edge: Edge| angle_at(problem, edge.aim_m, &numbers);
                Some(angle(high)? - angle(low)?)
            });
            Cell {
                lift_to_drag,
                arrival,
                corridor,
                width_rad,
            }
        })
        .collect();
    Ok((cells, failed))
}
