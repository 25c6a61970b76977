//! The band by the counts of a whole run, judged as `band` judges its own, but without flying.

use super::summary::Summary;
use crate::ensemble::{Fleet, Halt, Progress, Tally};
use crate::scenario::ask::Ask;
use crate::study::Case;
use crate::study::aims::Aims;
use crate::study::band::{BandResult, refine, ruling_limit, widest_run};
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

/// Finds the band of merged counts: edges are known to the spacing of the aims that were planned.
///
/// # Errors
/// [`Halt`] where the counts give no interval.
pub fn judge(
    case: &Case,
    (samples, aims_m): (u64, &[f64]),
    summaries: Vec<Summary>,
) -> Result<Whole, Halt> {
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
    // Every bracket is narrow enough for this width, so that nothing is flown.
    let found = match widest_run(&aims) {
        Some(run) => Some(refine(&mut aims, run, f64::INFINITY)?),
        None => None,
    };
    let points = aims.points().to_vec();
    let undecided_m = aims.undecided().map(|point| point.aim_m);
    let within = |aim_m: f64| {
        found
            .as_ref()
            .is_none_or(|band| (band.low.aim_m..=band.high.aim_m).contains(&aim_m))
    };
    let first = points.iter().position(|point| within(point.aim_m));
    let last = points.iter().rposition(|point| within(point.aim_m));
    let best = first.zip(last).and_then(|(first, last)| {
        let best = aims.best_of(first, last)?.aim_m;
        points.iter().position(|point| point.aim_m == best)
    });
    let best = best.unwrap_or(0);
    let band = found.ok_or_else(|| {
        let beside = |place: Option<usize>| {
            place
                .and_then(|place| points.get(place))
                .and_then(|point| ruling_limit(&aims, point))
        };
        Empty {
            best_aim_m: points.get(best).map_or(f64::NAN, |point| point.aim_m),
            colliding: (beside(best.checked_sub(1)), beside(Some(best + 1))),
            opening: Opening::default(),
        }
    });
    let best_m = points.get(best).map_or(f64::NAN, |point| point.aim_m);
    Ok(Whole {
        result: BandResult {
            recommended_m: best_m,
            samples,
            passes_flown: samples.saturating_mul(points.len() as u64),
            points,
            band,
            rare: false,
            undecided_m,
        },
        covered: covered(case, best_m, summaries.get(best)),
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
        let drawn = uncertain.any(|one| Some(one.number) == limit.kind.number());
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
