//! The band by the counts of a whole run, judged as `band` judges its own, but without flying.

use super::summary::Summary;
use crate::ensemble::luck::Block;
use crate::ensemble::{Fleet, Halt, Progress, Tally, Verdict};
use crate::scenario::ask::Ask;
use crate::study::Case;
use crate::study::aims::{AimPoint, Aims};
use crate::study::band::{BandError, BandResult, refine, ruling_limit, widest_run};
use crate::study::opening::{Empty, Opening};
use crate::study::verdicts::Covered;

/// A whole run.
#[derive(Debug, Clone)]
pub struct Whole {
    /// The band, its aims and the aim to take.
    pub result: BandResult,
    /// What the samples of each aim did, in the order of the aims.
    pub summaries: Vec<Summary>,
    /// Place of the aim to take among the aims.
    pub best: usize,
    /// What the sources of the models have of the limits there.
    pub covered: Covered,
}

/// Finds the band of merged counts: edges are known to the spacing of the aims that were planned. The aim to take is
/// the one that was chosen for the plan, by draws that are not the run's, so that the run tells of it.
///
/// # Errors
/// [`BandError`] where the counts give no interval, or the aim to take is not among the aims.
pub fn judge(
    case: &Case,
    samples: u64,
    (aims_m, recommended_m): (&[f64], f64),
    summaries: Vec<Summary>,
) -> Result<Whole, BandError> {
    let progress = Progress::default();
    let fleet = Fleet::new(&case.problem, &progress);
    let ask = Ask {
        samples,
        ..case.scenario.ask
    };
    let counted: Vec<(f64, Tally)> = aims_m
        .iter()
        .zip(&summaries)
        .map(|(&aim_m, summary)| (aim_m, summary.tally.clone()))
        .collect();
    let mut aims = Aims::counted(&fleet, ask, counted)?;
    let halted = |halt| match halt {
        Halt::Statistics(why) => BandError::from(why),
        Halt::Stopped(_) => BandError::Stopped { kept: Vec::new() },
    };
    // Every bracket is narrow enough for this width, so that nothing is flown.
    let found = match widest_run(&aims) {
        Some(run) => Some(refine(&mut aims, run, f64::INFINITY).map_err(halted)?),
        None => None,
    };
    let points = aims.points().to_vec();
    let undecided_m = aims.undecided().map(|point| point.aim_m);
    let same = |aim: &f64| aim.to_bits() == recommended_m.to_bits();
    let best = aims_m.iter().position(same).ok_or(BandError::NoAim)?;
    let recommended = aims.at(recommended_m).cloned().ok_or(BandError::NoAim)?;
    let band = found.ok_or_else(|| {
        let likeliest_m = aims.best().map_or(recommended_m, |best| best.aim_m);
        let ruling = |point: &AimPoint| ruling_limit(&aims, point);
        let below = points.iter().rfind(|point| point.aim_m < likeliest_m);
        let above = points.iter().find(|point| point.aim_m > likeliest_m);
        Empty {
            best_aim_m: likeliest_m,
            colliding: (below.and_then(ruling), above.and_then(ruling)),
            opening: Opening::default(),
        }
    });
    Ok(Whole {
        result: BandResult {
            verdict: Verdict::of_probability(&recommended.held, ask.probability),
            recommended,
            told_by: Block::First.samples(samples),
            samples,
            passes_flown: samples.saturating_mul(points.len() as u64),
            points,
            band,
            rare: false,
            undecided_m,
        },
        covered: covered(case, recommended_m, summaries.get(best)),
        summaries,
        best,
    })
}

/// What the sources have of the limits at an aim (m), without flying its samples again: a limit is open in none of them
/// where even the hardest stays below what is allowed, and else in all, for all that is known.
fn covered(case: &Case, aim_m: f64, summary: Option<&Summary>) -> Covered {
    let mut covered = Covered::at(&case.problem, &[aim_m]);
    let entries = case.problem.limits().entries();
    let samples = summary.map_or(u64::MAX, |summary| summary.tally.samples);
    for (place, limit) in entries.iter().enumerate() {
        let mut uncertain = case.scenario.uncertainty.numbers.iter();
        let drawn = uncertain.any(|one| Some(one.number) == limit.kind.spec().number);
        let worst = summary.and_then(|summary| summary.worst.get(place)?.first());
        let factor = covered.coverages[place].factor();
        let below = worst.is_some_and(|worst| worst.severity * factor <= limit.allowed);
        if factor > 1.0 && (drawn || !below) {
            covered.uncovered[place] = samples;
            covered.uncovered_any = samples;
        }
    }
    covered
}
