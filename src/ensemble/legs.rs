//! Flights in lanes whose bank changes once, when they have slowed to a speed: the family of flights that
//! footprints are drawn from. The air is the nominal one.

use super::engine::{Progress, Stopped};
use super::problem::{Numbers, Problem, SampleNumber};
use crate::numeric::Vec3;
use crate::pass::batch::{Batch, Settings};
use crate::pass::trace::Trace;
use crate::pass::{Ending, EntryState, PassResult, Sample};
use crate::scenario::uncertainty::Number;
use rayon::prelude::*;

/// Flights that go through one set of lanes.
const BLOCK: usize = 64;

/// One flight to fly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoLegs {
    /// Aimed vacuum periapsis altitude, m.
    pub aim_m: f64,
    /// The numbers flown with; the bank among them does not count.
    pub numbers: Numbers,
    /// Bank before and after the change, rad.
    pub banks_rad: [f64; 2],
    /// Speed against the air at which the bank changes, m/s; infinite flies the second bank throughout.
    pub change_at_m_s: f64,
}

impl TwoLegs {
    /// A flight that holds one bank, rad, throughout.
    #[must_use]
    pub fn held(aim_m: f64, numbers: Numbers, bank_rad: f64) -> Self {
        Self {
            aim_m,
            numbers,
            banks_rad: [bank_rad; 2],
            change_at_m_s: f64::INFINITY,
        }
    }

    fn launch(&self, problem: &Problem, leg: usize) -> Option<(EntryState, Sample<f64>)> {
        let mut numbers = self.numbers;
        numbers[Number::BankAngle as usize] = self.banks_rad[leg];
        problem.launch(self.aim_m, &numbers, SampleNumber::Nominal)
    }
}

/// Flies the flights; the results stand in their order, `None` where the numbers fit no approach conic.
///
/// Peaks are those of both legs, loads and times their sums. A stay above a level that goes on across the
/// change counts as long as its two parts, one that does not as long as its two longest: never too short. Against
/// curves the two legs are held as one flight.
///
/// # Errors
/// [`Stopped`] when the run was cancelled.
pub fn fly_legs(
    problem: &Problem,
    flights: &[TwoLegs],
    progress: &Progress,
) -> Result<Vec<Option<PassResult>>, Stopped> {
    if progress.is_cancelled() {
        return Err(Stopped);
    }
    let flown: Vec<Vec<Option<PassResult>>> = flights
        .par_chunks(BLOCK)
        .map(|block| fly_block(problem, block))
        .collect();
    progress.count(flights.len() as u64);
    Ok(flown.into_iter().flatten().collect())
}

fn fly_block(problem: &Problem, block: &[TwoLegs]) -> Vec<Option<PassResult>> {
    let mut results: Vec<Option<PassResult>> = vec![None; block.len()];
    // A change at a speed above that of the entry leaves the second leg alone.
    let mut speeds: Vec<f64> = block.iter().map(|flight| flight.change_at_m_s).collect();
    speeds.sort_by(f64::total_cmp);
    speeds.dedup();
    for speed in speeds {
        let chosen =
            |(number, flight): (usize, &TwoLegs)| (flight.change_at_m_s == speed).then_some(number);
        let group: Vec<usize> = block.iter().enumerate().filter_map(chosen).collect();
        let own = problem.settings();
        let second = |launches: &mut dyn Iterator<Item = (usize, EntryState, Sample<f64>)>,
                      settings: &Settings| {
            let mut flown = Vec::new();
            Batch::new(problem.models(), settings).fly_traced(
                || launches.next(),
                |number, result, trace| flown.push((number, result, trace.clone())),
            );
            flown
        };
        if !(speed.is_finite() && speed > own.stop_speed_m_s) {
            let mut launches = group.iter().filter_map(|&number| {
                let (start, sample) = block[number].launch(problem, 1)?;
                Some((number, start, sample))
            });
            for (number, result, _) in second(&mut launches, own) {
                results[number] = Some(result);
            }
            continue;
        }
        let settings = Settings {
            stop_speed_m_s: speed,
            ..own.clone()
        };
        let mut launches = group.iter().filter_map(|&number| {
            let (start, sample) = block[number].launch(problem, 0)?;
            Some((number, start, sample))
        });
        let first = second(&mut launches, &settings);
        let mut traces = vec![Trace::default(); block.len()];
        for (number, result, trace) in &first {
            results[*number] = Some(*result);
            traces[*number].clone_from(trace);
        }
        let mut launches = first.iter().filter_map(|&(number, result, _)| {
            // Those that left the air or came to the ground before are done.
            let slowed = result.ending == Ending::Landed
                && result.end_relative_speed_m_s <= speed * (1.0 + 1e-6);
            let (_, sample) = block[number].launch(problem, 1).filter(|_| slowed)?;
            let y = result.end_state;
            let start = EntryState {
                position: Vec3::new(y[0], y[1], y[2]),
                velocity: Vec3::new(y[3], y[4], y[5]),
                meets_air: true,
            };
            Some((number, start, sample))
        });
        for (number, result, trace) in second(&mut launches, own) {
            traces[number].append(&trace);
            results[number] = results[number].map(|before| PassResult {
                exposure: own.curves.exposure(&traces[number]),
                ..joined(&before, &result)
            });
        }
    }
    results
}

/// What two legs gave together, but for curves.
fn joined(before: &PassResult, after: &PassResult) -> PassResult {
    let mut end_state = after.end_state;
    end_state[6] += before.heat_load_j_m2;
    end_state[7] += before.speed_lost_m_s;
    PassResult {
        duration_s: before.duration_s + after.duration_s,
        peak_deceleration_m_s2: before
            .peak_deceleration_m_s2
            .max(after.peak_deceleration_m_s2),
        onset_m_s3: before.onset_m_s3.max(after.onset_m_s3),
        peak_heat_flux_w_m2: before.peak_heat_flux_w_m2.max(after.peak_heat_flux_w_m2),
        heat_load_j_m2: before.heat_load_j_m2 + after.heat_load_j_m2,
        peak_dynamic_pressure_pa: before
            .peak_dynamic_pressure_pa
            .max(after.peak_dynamic_pressure_pa),
        lowest_altitude_m: before.lowest_altitude_m.min(after.lowest_altitude_m),
        speed_lost_m_s: before.speed_lost_m_s + after.speed_lost_m_s,
        times_above: before.times_above.joined(&after.times_above),
        end_state,
        ..*after
    }
}
