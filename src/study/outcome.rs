//! What the samples of one aim gave: distributions, endings, the failed ones, ribbons over time.

use super::verdicts::Covered;
use crate::ensemble::engine::FlownSample;
use crate::ensemble::problem::SampleNumber;
use crate::ensemble::quantile::{Described, Estimate, Sorted};
use crate::ensemble::steered::steered_logs;
use crate::ensemble::{Fleet, Problem, Stopped, Tally};
pub use crate::numeric::quantity::Quantity;
use crate::pass::reference::{FlyOptions, Moment, fly};
use crate::pass::{Ending, PassResult};
use crate::steering::Log;
use rayon::prelude::*;
use std::ops::Range;

impl Quantity {
    /// The value of a pass in the unit of [`Quantity::label`]; `None` where it has none.
    #[must_use]
    pub fn of(self, pass: &PassResult) -> Option<f64> {
        let counts = match self {
            Self::SpeedLost => matches!(pass.ending, Ending::Captured | Ending::Escaped),
            Self::ApoapsisAltitude => pass.ending == Ending::Captured,
            _ => pass.ending.is_flown(),
        };
        let value = counts.then(|| pass.value(self, 0)).flatten();
        value.map(|si| self.unit().of(si))
    }
}

/// What the samples of one aim gave.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// The aim, m.
    pub aim_m: f64,
    /// Counts.
    pub tally: Tally,
    /// Each quantity with its description; `None` where no sample has one.
    pub described: Vec<(Quantity, Option<Described>)>,
    /// The values behind it, sorted.
    pub values: Vec<(Quantity, Vec<f64>)>,
    /// What the sources of the models have of its limits.
    pub covered: Covered,
    /// Samples that failed, to be replayed; at most [`Outcome::MOST_LISTED`].
    pub failed: Vec<u64>,
    /// Samples whose numbers fit no approach; at most as many.
    pub without_approach: Vec<u64>,
}

impl Outcome {
    /// How many failed samples are listed at most.
    pub const MOST_LISTED: usize = 100;
}

/// Flies samples of these numbers at one aim (m) and describes them; every flown sample is handed to `row` too.
///
/// # Errors
/// [`Stopped`] when the run was cancelled.
pub fn describe_aim(
    fleet: &Fleet<'_>,
    (aim_m, samples): (f64, Range<u64>),
    confidence: f64,
    mut row: impl FnMut(&FlownSample),
) -> Result<Outcome, Stopped> {
    let mut tally = Tally::new(fleet.problem().limits().entries().len());
    let mut values: Vec<(Quantity, Vec<f64>)> = Quantity::ALL
        .iter()
        .map(|&quantity| (quantity, Vec::new()))
        .collect();
    let (mut failed, mut without_approach) = (Vec::new(), Vec::new());
    let mut covered = Covered::at(fleet.problem(), &[aim_m]);
    fleet.fly(&[aim_m], samples, |flown| {
        tally.count(flown.result.ending, flown.broken);
        covered.take(fleet.problem(), flown);
        for (quantity, values) in &mut values {
            values.extend(quantity.of(&flown.result));
        }
        let listed = match flown.result.ending {
            Ending::Failed => Some(&mut failed),
            Ending::NoApproach => Some(&mut without_approach),
            _ => None,
        };
        if let Some(listed) = listed.filter(|listed| listed.len() < Outcome::MOST_LISTED) {
            listed.push(flown.sample);
        }
        row(flown);
    })?;
    let mut described = Vec::new();
    for (quantity, values) in &mut values {
        let description = match values[..] {
            [value] if fleet.problem().is_deterministic() => Some(certain(value)),
            _ => Described::of(values.clone(), confidence).ok(),
        };
        described.push((*quantity, description));
        values.sort_by(f64::total_cmp);
    }
    Ok(Outcome {
        aim_m,
        tally,
        described,
        values,
        covered,
        failed,
        without_approach,
    })
}

/// Describes a quantity that is the same in every sample: its value throughout, no spread, no error.
pub(super) fn certain(value: f64) -> Described {
    let exact = |value| Estimate {
        value,
        lower: Some(value),
        upper: Some(value),
    };
    Described {
        count: 1,
        mean: exact(value),
        std_dev: exact(0.0),
        p00_135: exact(value),
        p05: exact(value),
        p50: exact(value),
        p95: exact(value),
        p99: exact(value),
        p99_865: exact(value),
    }
}

/// Quantiles of sensed deceleration (g) against time (s) over some samples of an aim.
#[derive(Debug, Clone, PartialEq)]
pub struct Ribbons {
    /// Times since the entry interface, s.
    pub time_s: Vec<f64>,
    /// Probabilities of the rows of `quantiles`.
    pub probabilities: Vec<f64>,
    /// One row of quantiles over time for each probability, g.
    pub quantiles: Vec<Vec<f64>>,
    /// How many samples they are of.
    pub samples: usize,
}

/// Flies the samples of these numbers at an aim (m) singly and takes quantiles of their deceleration over time.
#[must_use]
pub fn deceleration_ribbons(problem: &Problem, aim_m: f64, samples: Range<u64>) -> Ribbons {
    const POINTS: u32 = 200;
    const G0: f64 = crate::craft::engine::STANDARD_GRAVITY_M_S2;
    let options = FlyOptions {
        tolerance: 1e-8,
        longest_step_s: 4.0,
    };
    let felt = |m: &Moment| (m.time_s, m.felt.deceleration / G0);
    let lands = |result: &PassResult| result.ending == Ending::Landed;
    let curves: Vec<(Vec<(f64, f64)>, bool)> = if problem.guide().is_some() {
        let logs = steered_logs(problem, aim_m, samples);
        let curve =
            |(result, log): &(PassResult, Log)| (log.moments().map(felt).collect(), lands(result));
        logs.iter().map(curve).collect()
    } else {
        samples
            .into_par_iter()
            .filter_map(|sample| {
                let (start, ready) =
                    problem.launch(aim_m, &problem.numbers(sample), SampleNumber::Of(sample))?;
                let how = (problem.settings(), options);
                let flown = fly(problem.models(), &ready, &start, how).ok()?;
                Some((
                    flown.history.iter().map(felt).collect(),
                    lands(&flown.result),
                ))
            })
            .collect()
    };
    let end = shown_until(&curves);
    let time_s: Vec<f64> = (0..=POINTS)
        .map(|i| end * f64::from(i) / f64::from(POINTS))
        .collect();
    let probabilities = vec![0.01, 0.05, 0.5, 0.95, 0.99];
    let mut quantiles = vec![Vec::new(); probabilities.len()];
    for &time in &time_s {
        let at: Vec<f64> = curves
            .iter()
            .map(|(curve, _)| interpolate(curve, time))
            .collect();
        let sorted = Sorted::new(at).ok();
        for (row, &probability) in quantiles.iter_mut().zip(&probabilities) {
            row.push(
                sorted
                    .as_ref()
                    .map_or(0.0, |sorted| sorted.quantile(probability)),
            );
        }
    }
    Ribbons {
        time_s,
        probabilities,
        quantiles,
        samples: curves.len(),
    }
}

/// The time by which nearly all have felt nearly all of their deceleration; before the first few of those that
/// come down are on the ground, where nothing more is felt of the air.
fn shown_until(curves: &[(Vec<(f64, f64)>, bool)]) -> f64 {
    let mut quiet: Vec<f64> = curves
        .iter()
        .filter_map(|(curve, _)| quiet_after(curve))
        .collect();
    quiet.sort_by(f64::total_cmp);
    let quiet = quiet.get(quiet.len() * 95 / 100).copied().unwrap_or(1.0);
    let landed = curves.iter().filter(|(_, lands)| *lands);
    let mut down: Vec<f64> = landed
        .filter_map(|(curve, _)| curve.last().map(|&(time, _)| time))
        .collect();
    down.sort_by(f64::total_cmp);
    let first_down = down.get(curves.len() / 200).copied();
    first_down.map_or(quiet, |first| quiet.min(first))
}

/// The last time at which a curve is above a hundredth of its peak.
fn quiet_after(curve: &[(f64, f64)]) -> Option<f64> {
    let peak = curve.iter().map(|&(_, g)| g).fold(0.0, f64::max);
    curve
        .iter()
        .rev()
        .find(|&&(_, g)| g > 0.01 * peak)
        .map(|&(t, _)| t)
}

/// Linear between the points, 0 outside them.
fn interpolate(curve: &[(f64, f64)], time: f64) -> f64 {
    let after = curve.partition_point(|&(t, _)| t < time);
    match (
        after.checked_sub(1).and_then(|i| curve.get(i)),
        curve.get(after),
    ) {
        (Some(&(t0, g0)), Some(&(t1, g1))) if t1 > t0 => g0 + (g1 - g0) * (time - t0) / (t1 - t0),
        (None, Some(&(t, g))) if t == time => g,
        _ => 0.0,
    }
}
