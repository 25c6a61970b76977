//! Ground tracks of some flights, for the map.

use super::arrivals::Ground;
use super::ground::{OnMap, below};
use crate::ensemble::Problem;
use crate::ensemble::problem::SampleNumber;
use crate::ensemble::steered::steered_logs;
use crate::pass::Ending;
use crate::pass::batch::Settings;
use crate::pass::dynamics::State;
use crate::pass::reference::{FlyOptions, fly};

/// Ground tracks of the first flights; where the bank is held, the nominal one before them.
pub(super) fn tracks(problem: &Problem, aim_m: f64, ground: &Ground<'_>) -> Vec<Vec<OnMap>> {
    const FLIGHTS: u64 = 30;
    let planet = problem.planet();
    let at = |state: &State<f64>, time_s: f64| {
        OnMap::of(planet, below(planet, state, time_s), ground.node_rad)
    };
    if problem.guide().is_some() {
        let logs = steered_logs(problem, aim_m, 0..FLIGHTS);
        return logs
            .iter()
            .map(|(result, log)| {
                let mut track: Vec<OnMap> = log.moments().map(|m| at(&m.state, m.time_s)).collect();
                if result.ending == Ending::Landed {
                    track.push(at(&result.end_state, result.duration_s));
                }
                track
            })
            .collect();
    }
    let options = FlyOptions {
        tolerance: 1e-8,
        longest_step_s: 5.0,
    };
    let settings: &Settings = problem.settings();
    let track = |sample: SampleNumber| -> Option<Vec<OnMap>> {
        let (start, ready) = problem.launch(aim_m, &problem.numbers_of(sample), sample)?;
        let flown = fly(problem.models(), &ready, &start, (settings, options)).ok()?;
        Some(
            flown
                .history
                .iter()
                .map(|m| at(&m.state, m.time_s))
                .collect(),
        )
    };
    let samples = (0..FLIGHTS).map(SampleNumber::Of);
    std::iter::once(SampleNumber::Nominal)
        .chain(samples)
        .filter_map(track)
        .collect()
}
