//! The safe band: which aims hold all limits with the probability asked for, and what sets its edges.

use super::aims::{AimPoint, Aims, Judge};
pub use super::opening::Empty;
use super::opening::explain_empty;
use crate::ensemble::interval::samples_needed;
use crate::ensemble::{Fleet, LimitKind, Problem, Progress, Stopped, Tally};
use crate::scenario::Scenario;
use crate::scenario::arrival::AimRange;
use crate::scenario::ask::Ask;

/// Width to which the bracket of an edge is closed, m.
const EDGE_WIDTH_M: f64 = 50.0;
/// The same when nothing is uncertain, m.
const EXACT_EDGE_WIDTH_M: f64 = 1.0;
/// Finest spacing at which a band is looked for that the first grid missed, m.
const FINEST_SPACING_M: f64 = 50.0;
/// Aims flown side by side while a bracket is closed.
const SECTIONS: u32 = 4;

/// An edge of the safe band.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// Outermost aim known to be safe, m.
    pub aim_m: f64,
    /// How far beyond it the edge may lie: to the first aim that is ruled out by the upper confidence
    /// bound, the bracket included, m.
    pub uncertainty_m: f64,
    /// The limit that is broken most often just beyond; `None` where the band ends with the range of aims.
    pub limit: Option<LimitKind>,
}

/// The aims that hold all limits with the probability asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// The steep side.
    pub low: Edge,
    /// The shallow side.
    pub high: Edge,
    /// Whether aims farther away form another band, which this one (the widest) leaves out.
    pub others: bool,
}

/// What the study found.
#[derive(Debug, Clone, PartialEq)]
pub struct BandResult {
    /// Every aim flown, from the lowest to the highest.
    pub points: Vec<AimPoint>,
    /// The band, or why there is none.
    pub band: Result<Band, Empty>,
    /// The aim to take: the highest probability, or the middle of a flat top, m.
    pub recommended_m: f64,
    /// Samples flown at each aim.
    pub samples: u64,
    /// Passes flown in all.
    pub passes_flown: u64,
}

impl BandResult {
    /// The point of the recommended aim.
    #[must_use]
    pub fn recommended(&self) -> Option<&AimPoint> {
        self.points
            .iter()
            .find(|point| point.aim_m.to_bits() == self.recommended_m.to_bits())
    }
}

/// Why no band could be looked for.
#[derive(Debug, thiserror::Error)]
pub enum BandError {
    /// The scenario has no limits.
    #[error(
        "the scenario has no limits, so every aim is as good as another: write at least one under `limits`"
    )]
    NoLimits,
    /// The scenario gives one aim only.
    #[error(
        "the scenario gives a single aim: write `aim_periapsis: {{ from: ..., to: ... }}` with a range to search"
    )]
    SingleAim,
    /// No number of broken samples, not even none, could show the probability asked for.
    #[error(
        "{samples} samples cannot show a probability of {probability} with {confidence} confidence even if all \
         hold: ask for {needed} samples or more"
    )]
    TooFewSamples {
        /// Samples asked for.
        samples: u64,
        /// Probability asked for.
        probability: f64,
        /// Confidence asked for.
        confidence: f64,
        /// Samples that would do.
        needed: u64,
    },
    /// The run was cancelled.
    #[error("stopped after {} aims; what was flown until then is kept", kept.len())]
    Stopped {
        /// The aims that were complete.
        kept: Vec<AimPoint>,
    },
}

/// Looks for the safe band of a scenario.
///
/// # Errors
/// [`BandError`]: no limits, a single aim, too few samples for the probability, or a cancelled run.
pub fn find_band(
    scenario: &Scenario,
    problem: &Problem,
    progress: &Progress,
) -> Result<BandResult, BandError> {
    let (ask, range) = (scenario.ask, problem.aim());
    check(&ask, problem)?;
    if !(range.to_m > range.from_m) {
        return Err(BandError::SingleAim);
    }
    let fleet = Fleet::new(problem, progress);
    let mut aims = Aims::new(&fleet, ask);
    let searched = search(&mut aims, &fleet, range);
    let points = aims.points().to_vec();
    match searched {
        Ok((band, recommended_m)) => Ok(BandResult {
            points,
            band,
            recommended_m,
            samples: aims.samples(),
            passes_flown: progress.flown(),
        }),
        Err(Stopped) => Err(BandError::Stopped { kept: points }),
    }
}

/// The band (or why there is none) and the aim to take.
fn search(
    aims: &mut Aims<'_>,
    fleet: &Fleet<'_>,
    range: AimRange,
) -> Result<(Result<Band, Empty>, f64), Stopped> {
    look_over(aims, range)?;
    log::info!(
        "looked over the range of aims: {} flown",
        aims.points().len()
    );
    let band = match widest_run(aims) {
        Some(run) => Ok(refine(aims, run, edge_width(fleet.problem()))?),
        None => Err(explain_empty(aims, fleet)?),
    };
    log::info!(
        "edges closed or an empty band explained: {} aims flown",
        aims.points().len()
    );
    let recommended_m = recommend(aims, band.as_ref().ok())?;
    Ok((band, recommended_m))
}

/// Flies the first grid of aims, and closer about the best ones where none of it is safe.
fn look_over(aims: &mut Aims<'_>, range: AimRange) -> Result<(), Stopped> {
    aims.fly(&grid(range))?;
    look_closer(aims, range)
}

/// The aim to take within a range and the band about it, its edges to `width_m` (or to the width of [`find_band`],
/// where that is wider): the search of [`find_band`] without the reasons for an empty band.
///
/// # Errors
/// [`Stopped`] when the run was cancelled.
pub(super) fn best_aim(
    aims: &mut Aims<'_>,
    problem: &Problem,
    (range, width_m): (AimRange, f64),
) -> Result<(f64, Option<Band>), Stopped> {
    look_over(aims, range)?;
    let band = match widest_run(aims) {
        Some(run) => Some(refine(aims, run, width_m.max(edge_width(problem)))?),
        None => None,
    };
    let recommended_m = recommend(aims, band.as_ref())?;
    Ok((recommended_m, band))
}

/// Whether a band can be looked for at all: there are limits, and enough samples to show the probability.
///
/// # Errors
/// [`BandError::NoLimits`] and [`BandError::TooFewSamples`].
pub(super) fn check(ask: &Ask, problem: &Problem) -> Result<(), BandError> {
    if problem.limits().is_empty() {
        return Err(BandError::NoLimits);
    }
    // The interval is two-sided: its lower end leaves half of what the confidence leaves.
    let one_sided = 0.5 * (1.0 + ask.confidence);
    let needed = samples_needed(0, ask.probability, one_sided).unwrap_or(u64::MAX);
    if !problem.is_deterministic() && ask.samples < needed {
        return Err(BandError::TooFewSamples {
            samples: ask.samples,
            probability: ask.probability,
            confidence: ask.confidence,
            needed,
        });
    }
    Ok(())
}

/// The first grid of aims.
pub(super) fn grid(range: AimRange) -> Vec<f64> {
    let mut aims = Vec::new();
    let mut aim = range.from_m;
    while aim < range.to_m - 1e-6 * range.step_m {
        aims.push(aim);
        aim += range.step_m;
    }
    aims.push(range.to_m);
    aims
}

/// Where no aim of the grid is safe, looks between the best ones.
fn look_closer(aims: &mut Aims<'_>, range: AimRange) -> Result<(), Stopped> {
    let mut spacing = range.step_m;
    while spacing > FINEST_SPACING_M && widest_run(aims).is_none() {
        let Some(centre) = aims.best().map(|point| point.aim_m) else {
            return Ok(());
        };
        let fine = spacing / f64::from(SECTIONS);
        let around: Vec<f64> = (1..2 * SECTIONS)
            .map(|i| (f64::from(i) - f64::from(SECTIONS)).mul_add(fine, centre))
            .filter(|&aim| aim > range.from_m && aim < range.to_m)
            .collect();
        aims.fly(&around)?;
        spacing = fine;
    }
    Ok(())
}

/// Indices of the first and last point of the widest run of safe aims.
pub(super) fn widest_run(aims: &Aims<'_>) -> Option<(usize, usize)> {
    runs(aims).into_iter().max_by(|a, b| {
        let width = |&(first, last): &(usize, usize)| {
            aims.points()[last].aim_m - aims.points()[first].aim_m
        };
        // Of equal widths the one with the higher probability.
        let best = |run: &(usize, usize)| aims.best_of(run.0, run.1).map_or(0, |p| p.tally.held());
        width(a).total_cmp(&width(b)).then(best(a).cmp(&best(b)))
    })
}

fn runs(aims: &Aims<'_>) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (index, point) in aims.points().iter().enumerate() {
        if aims.passes(point, Judge::Lower) {
            match runs.last_mut() {
                Some(run) if run.1 + 1 == index => run.1 = index,
                _ => runs.push((index, index)),
            }
        }
    }
    runs
}

fn edge_width(problem: &Problem) -> f64 {
    if problem.is_deterministic() {
        EXACT_EDGE_WIDTH_M
    } else {
        EDGE_WIDTH_M
    }
}

pub(super) fn refine(
    aims: &mut Aims<'_>,
    (first, last): (usize, usize),
    width_m: f64,
) -> Result<Band, Stopped> {
    let (low_m, high_m) = (aims.points()[first].aim_m, aims.points()[last].aim_m);
    let low = edge(aims, low_m, Side::Steep, width_m)?;
    let high = edge(aims, high_m, Side::Shallow, width_m)?;
    let others = runs(aims)
        .iter()
        .any(|&(a, b)| aims.points()[b].aim_m < low.aim_m || aims.points()[a].aim_m > high.aim_m);
    Ok(Band { low, high, others })
}

/// Which way is out of the band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Side {
    Steep,
    Shallow,
}

/// The nearest flown aim beyond `from_m` on this side that fails the judge.
fn first_failing(aims: &Aims<'_>, from_m: f64, side: Side, judge: Judge) -> Option<f64> {
    let fails = |point: &&AimPoint| !aims.passes(point, judge);
    let points = aims.points();
    let found = match side {
        Side::Steep => points.iter().rev().filter(|p| p.aim_m < from_m).find(fails),
        Side::Shallow => points.iter().filter(|p| p.aim_m > from_m).find(fails),
    };
    found.map(|point| point.aim_m)
}

/// Closes the bracket between a safe aim and the first that fails; the last safe and first failing aim.
fn close(
    aims: &mut Aims<'_>,
    mut inside_m: f64,
    (side, judge): (Side, Judge),
    width_m: f64,
) -> Result<(f64, Option<f64>), Stopped> {
    loop {
        let Some(outside_m) = first_failing(aims, inside_m, side, judge) else {
            let end = match side {
                Side::Steep => aims.points().first(),
                Side::Shallow => aims.points().last(),
            };
            return Ok((end.map_or(inside_m, |point| point.aim_m), None));
        };
        // Passing points between are the new inside.
        let passing = |p: &&AimPoint| {
            let within = (p.aim_m - inside_m).abs() < (outside_m - inside_m).abs();
            within && (p.aim_m - inside_m) * (outside_m - inside_m) > 0.0
        };
        if let Some(farthest) = aims.points().iter().filter(passing).max_by(|a, b| {
            (a.aim_m - inside_m)
                .abs()
                .total_cmp(&(b.aim_m - inside_m).abs())
        }) {
            inside_m = farthest.aim_m;
        }
        let gap = outside_m - inside_m;
        if gap.abs() <= width_m {
            return Ok((inside_m, Some(outside_m)));
        }
        let between: Vec<f64> = (1..SECTIONS)
            .map(|i| (f64::from(i) / f64::from(SECTIONS)).mul_add(gap, inside_m))
            .collect();
        aims.fly(&between)?;
    }
}

fn edge(aims: &mut Aims<'_>, safe_m: f64, side: Side, width_m: f64) -> Result<Edge, Stopped> {
    let (aim_m, beyond) = close(aims, safe_m, (side, Judge::Lower), width_m)?;
    let (last_possible, ruled_out) = close(aims, aim_m, (side, Judge::Upper), width_m)?;
    let limit = beyond.and_then(|beyond_m| {
        let point = aims
            .points()
            .iter()
            .find(|p| p.aim_m.to_bits() == beyond_m.to_bits())?;
        ruling_limit(aims, &point.tally)
    });
    Ok(Edge {
        aim_m,
        uncertainty_m: (ruled_out.unwrap_or(last_possible) - aim_m).abs(),
        limit,
    })
}

/// The limit that is broken most often.
pub(super) fn ruling_limit(aims: &Aims<'_>, tally: &Tally) -> Option<LimitKind> {
    let most = tally
        .broken
        .iter()
        .copied()
        .max()
        .filter(|&count| count > 0)?;
    let index = tally.broken.iter().position(|&count| count == most)?;
    aims.limit_kind(index)
}

fn recommend(aims: &mut Aims<'_>, band: Option<&Band>) -> Result<f64, Stopped> {
    let within =
        |point: &AimPoint| band.is_none_or(|b| (b.low.aim_m..=b.high.aim_m).contains(&point.aim_m));
    let first = aims.points().iter().position(within);
    let last = aims.points().iter().rposition(within);
    let (Some(first), Some(last)) = (first, last) else {
        return Ok(f64::NAN);
    };
    let Some(best) = aims.best_of(first, last).map(|p| (p.aim_m, p.tally.held())) else {
        return Ok(f64::NAN);
    };
    // The middle of the flat top itself, if it is as good as the top.
    let top: Vec<f64> = aims.points()[first..=last]
        .iter()
        .filter(|p| p.tally.held() == best.1)
        .map(|p| p.aim_m)
        .collect();
    let (low, high) = (top[0], top[top.len() - 1]);
    let middle = (0.5 * (low + high) / 10.0).round() * 10.0;
    if top.len() > 1 && middle > low && middle < high {
        aims.fly(&[middle])?;
        let as_good = aims
            .points()
            .iter()
            .any(|p| p.aim_m.to_bits() == middle.to_bits() && p.tally.held() >= best.1);
        if as_good {
            return Ok(middle);
        }
    }
    Ok(best.0)
}
