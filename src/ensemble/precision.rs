//! How tightly the passes of a question are integrated: at the loosest rung of a fixed ladder of tolerances that
//! keeps the contract on a probe, flown once for a scenario and its world. The probe is always the same
//! samples at the same places of the range of aims, so that the rung depends on nothing else.
//!
//! The contract: 99.9 % of exit speeds within 1 mm/s of an exact integration, 99 % of peaks within 0.1 %. What an
//! error is, is judged against the rung two below, sixteen times tighter. Where a ship steers, passes with held banks
//! stand for its own: the same commands at both tolerances. Many of those nearly come down or nearly leave,
//! which magnifies any error and which steering takes back: of them 98 % are asked for.

use super::problem::{Problem, SampleNumber};
use crate::pass::batch::{Batch, Launch, Settings};
use crate::pass::{Ending, PassResult};
use rayon::prelude::*;
use std::f64::consts::PI;

/// The tolerances there are, from the loosest: each a quarter of the one before.
pub const LADDER: [f64; 6] = [
    Settings::TOLERANCE,
    2.5e-10,
    6.25e-11,
    1.5625e-11,
    3.906_25e-12,
    9.765_625e-13,
];
/// How many rungs below the one that is judged is the one it is held against.
const BELOW: i32 = 2;
/// Samples of the probe, from the first; where nothing is uncertain one for each aim.
const SAMPLES: u32 = 2048;
/// Aims they are flown at in turn, even over the range with both its ends.
const AIMS: u32 = 8;
/// Samples flown through one set of lanes.
const BLOCK: usize = 128;
/// Largest error of an exit speed, m/s: half of the contract's, since few flights near the edges of capture have errors
/// far above those of all others.
const EXIT_SPEED_M_S: f64 = 5e-4;
/// Largest error of a peak, as a share.
const PEAK: f64 = 1e-3;
/// What part of the flights that the contract leaves out may be outside in the probe: other samples have other errors.
const OUTSIDE: f64 = 0.5;

/// The tolerance of a question and what the probe found of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Precision {
    /// Relative tolerance of a step, one of [`LADDER`].
    pub tolerance: f64,
    /// The error of an exit speed that 99.95 % (99 % where a ship steers) of the probe stay within, m/s.
    pub exit_speed_m_s: f64,
    /// The error of a peak of deceleration, heat flux or dynamic pressure that 99.5 % stay within, as a share.
    pub peaks: f64,
    /// Whether both are small enough; if not, this is the last rung.
    pub held: bool,
    /// Passes that the probe took.
    pub passes: u64,
}

impl Precision {
    /// Of two questions that share one tolerance: the tighter, and the worst that was found.
    #[must_use]
    pub fn tighter(self, other: Self) -> Self {
        Self {
            tolerance: self.tolerance.min(other.tolerance),
            exit_speed_m_s: self.exit_speed_m_s.max(other.exit_speed_m_s),
            peaks: self.peaks.max(other.peaks),
            held: self.held && other.held,
            passes: self.passes + other.passes,
        }
    }
}

/// What one rung gave; no pass where the numbers fit no approach.
type Flown = Vec<Option<PassResult>>;

impl Problem {
    /// The loosest rung that holds on the probe. The search begins a rung above the usual tolerance of the world.
    #[must_use]
    pub fn probe_precision(&self) -> Precision {
        let usual = Settings::new(self.planet()).tolerance;
        let looser = LADDER.iter().filter(|rung| **rung > usual).count();
        let first = looser.saturating_sub(1);
        let below = |rung: f64| rung * 0.25f64.powi(BELOW);
        let mut flown: Vec<(f64, Flown)> = Vec::new();
        let mut passes = 0;
        let mut at = |tolerance: f64| -> Flown {
            if let Some((_, found)) = flown
                .iter()
                .find(|(of, _)| of.to_bits() == tolerance.to_bits())
            {
                return found.clone();
            }
            let found = self.probe(tolerance);
            passes += found.iter().flatten().count() as u64;
            flown.push((tolerance, found.clone()));
            found
        };
        let share = if self.guide().is_some() { 0.02 } else { 0.001 };
        let mut chosen = Precision {
            tolerance: usual,
            exit_speed_m_s: 0.0,
            peaks: 0.0,
            held: false,
            passes: 0,
        };
        for &tolerance in &LADDER[first..] {
            let (found, truth) = (at(tolerance), at(below(tolerance)));
            let (exits, peaks) = errors(&found, &truth);
            let exit_speed_m_s = exceeded_by(exits, OUTSIDE * share);
            let peaks = exceeded_by(peaks, OUTSIDE * 0.01);
            chosen = Precision {
                tolerance,
                exit_speed_m_s,
                peaks,
                held: exit_speed_m_s <= EXIT_SPEED_M_S && peaks <= PEAK,
                ..chosen
            };
            if chosen.held {
                break;
            }
        }
        Precision { passes, ..chosen }
    }

    /// The probe at a tolerance.
    fn probe(&self, tolerance: f64) -> Flown {
        let settings = Settings {
            tolerance,
            ..self.settings().clone()
        };
        let range = self.aim();
        let launch = |(index, place): (usize, u32)| -> Option<Launch> {
            let (aim, round) = (place % AIMS, place / AIMS);
            let share = f64::from(aim) / f64::from(AIMS - 1);
            let aim_m = share.mul_add(range.to_m - range.from_m, range.from_m);
            let sample = SampleNumber::Of(u64::from(place));
            let (start, mut ready) = self.launch(aim_m, &self.numbers_of(sample), sample)?;
            if self.guide().is_some() {
                // From lift up to lift down.
                let bank = PI * f64::from(round % AIMS) / f64::from(AIMS - 1);
                ready.vehicle = ready.vehicle.banked(bank);
            }
            Some((index, start, ready))
        };
        let count = if self.is_deterministic() && self.guide().is_none() {
            AIMS
        } else {
            SAMPLES
        };
        let places: Vec<u32> = (0..count).collect();
        let fly = |block: &[u32]| -> Flown {
            let mut results = vec![None; block.len()];
            let mut launches = block.iter().copied().enumerate().filter_map(launch);
            let mut batch = Batch::new(self.models(), &settings);
            let done = |index: usize, result| results[index] = Some(result);
            batch.fly(|| launches.next(), done);
            results
        };
        places.par_chunks(BLOCK).flat_map_iter(fly).collect()
    }
}

/// Errors of the exit speeds (m/s) of passes that leave the air at both tolerances, and of the peaks (shares) of all.
fn errors(found: &Flown, truth: &Flown) -> (Vec<f64>, Vec<f64>) {
    let (mut exits, mut peaks) = (Vec::new(), Vec::new());
    for (found, truth) in found.iter().zip(truth) {
        let (Some(a), Some(b)) = (found, truth) else {
            continue;
        };
        let left = |pass: &PassResult| matches!(pass.ending, Ending::Captured | Ending::Escaped);
        if left(a) && left(b) {
            exits.push((a.end_inertial_speed_m_s - b.end_inertial_speed_m_s).abs());
        }
        let mut worst = 0.0_f64;
        for (a, b) in [
            (a.peak_deceleration_m_s2, b.peak_deceleration_m_s2),
            (a.peak_heat_flux_w_m2, b.peak_heat_flux_w_m2),
            (a.peak_dynamic_pressure_pa, b.peak_dynamic_pressure_pa),
        ] {
            if b > 0.0 {
                worst = worst.max((a / b - 1.0).abs());
            }
        }
        peaks.push(worst);
    }
    (exits, peaks)
}

/// What at most this share of some errors lie above; 0 of none.
fn exceeded_by(mut errors: Vec<f64>, share: f64) -> f64 {
    errors.sort_by(f64::total_cmp);
    #[expect(clippy::cast_precision_loss, reason = "some thousands at the most")]
    let above = errors.len() as f64 * share;
    let kept = errors.iter().rev().enumerate();
    #[expect(clippy::cast_precision_loss, reason = "some thousands at the most")]
    let inside = kept.skip_while(|(i, _)| (*i as f64) + 1.0 <= above);
    inside.map(|(_, error)| *error).next().unwrap_or(0.0)
}
