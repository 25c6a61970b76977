//! The safe band: which aims hold all limits with the probability asked for, and what sets its edges.

use super::aims::{AimPoint, Aims, Judge};
use super::edge::{Side, edge};
use super::kept::Keeper;
pub use super::opening::Empty;
use super::opening::explain_empty;
use super::rare::{SEARCHED, is_rare};
use crate::ensemble::interval::{StatisticsError, samples_needed};
use crate::ensemble::{Fleet, Halt, LimitKind, Problem, Progress, Verdict};
use crate::scenario::Scenario;
use crate::scenario::arrival::AimRange;
use crate::scenario::ask::{Ask, TooManySamples};
use std::cmp::Ordering;
use std::ops::Range;

/// Width to which the bracket of an edge is closed, m.
const EDGE_WIDTH_M: f64 = 50.0;
/// The same when nothing is uncertain, m.
const EXACT_EDGE_WIDTH_M: f64 = 1.0;
/// Finest spacing at which a band is looked for that the first grid missed, m.
const FINEST_SPACING_M: f64 = 50.0;
/// Aims flown side by side while a bracket is closed.
pub(super) const SECTIONS: u32 = 4;

/// An edge of the safe band.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// Outermost aim known to be safe, m.
    pub aim_m: f64,
    /// How far beyond it the edge may lie: to the first aim that is ruled out by the upper confidence
    /// bound, the bracket included, m.
    pub uncertainty_m: f64,
    /// The limit that is broken most often just beyond; `None` where samples without a result are more, or where the
    /// band ends with the range of aims.
    pub limit: Option<LimitKind>,
    /// Whether just beyond it more samples have no result than break any one limit.
    pub unflown: bool,
}

impl Edge {
    /// Whether the band ends here because the range of aims does.
    #[must_use]
    pub fn ends_the_range(&self) -> bool {
        self.limit.is_none() && !self.unflown
    }

    /// What ends the band here, as a stable word in files: the key of the limit, `no_result` or `range_of_aims`.
    #[must_use]
    pub fn key(&self) -> &'static str {
        match self.limit {
            Some(kind) => kind.key(),
            None if self.unflown => "no_result",
            None => "range_of_aims",
        }
    }
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
    /// Every aim flown to find the band and to choose, from the lowest to the highest.
    pub points: Vec<AimPoint>,
    /// The band, or why there is none.
    pub band: Result<Band, Empty>,
    /// The aim to take (of the least risk, smoothed over aims, or the middle of a flat top) and what the samples of
    /// [`BandResult::told_by`] did there. Where anything is uncertain they had no part in choosing it.
    pub recommended: AimPoint,
    /// Numbers of the samples that tell of the aim to take.
    pub told_by: Range<u64>,
    /// Whether the aim to take, by those samples, holds all limits with the probability asked for.
    pub verdict: Verdict,
    /// Samples flown at each aim.
    pub samples: u64,
    /// Passes flown in all.
    pub passes_flown: u64,
    /// Whether rare accidents were looked for: the samples could not show the probability asked for.
    pub rare: bool,
    /// Where there is no band: the aim (m) at which samples without a result alone keep it from being shown. Then the
    /// verdict is "not shown".
    pub undecided_m: Option<f64>,
}

impl BandResult {
    /// The point of [`BandResult::undecided_m`].
    #[must_use]
    pub fn undecided(&self) -> Option<&AimPoint> {
        let aim_m = self.undecided_m?;
        let mut points = self.points.iter();
        points.find(|point| point.aim_m.to_bits() == aim_m.to_bits())
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
    /// No interval is to be had at this probability, confidence and number of samples.
    #[error(
        "nothing can be shown as it is asked: {0}; see `ask.probability`, `ask.confidence` and `ask.samples`"
    )]
    Statistics(#[from] StatisticsError),
    /// More samples than are taken.
    #[error(transparent)]
    TooManySamples(#[from] TooManySamples),
    /// There is nothing to choose from.
    #[error("no aim was flown")]
    NoAim,
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
    find_band_kept(scenario, problem, (progress, None))
}

/// As [`find_band`], and what `keeper` has of it is not flown again. The answer is the same to the bit; the passes
/// that are spared count as flown in it.
///
/// # Errors
/// As [`find_band`].
pub fn find_band_kept(
    scenario: &Scenario,
    problem: &Problem,
    (progress, keeper): (&Progress, Option<&dyn Keeper>),
) -> Result<BandResult, BandError> {
    let (ask, range) = (scenario.ask, problem.aim());
    ask.can_be_kept()?;
    let rare = match check(&ask, problem) {
        Err(BandError::TooFewSamples { needed, .. }) if is_rare(&ask, needed) => true,
        checked => checked.map(|()| false)?,
    };
    if !(range.to_m > range.from_m) {
        return Err(BandError::SingleAim);
    }
    let fleet = Fleet::new(problem, progress);
    let mut aims = if rare {
        Aims::with_accidents(&fleet, ask)
    } else {
        Aims::new(&fleet, ask)
    }
    .kept_by(keeper);
    let found = search(&mut aims, &fleet, range).and_then(|found| match found {
        Some((band, aim_m)) => Ok(Some((band, aims.told(aim_m)?))),
        None => Ok(None),
    });
    let points = aims.points().to_vec();
    match found {
        Ok(Some((band, recommended))) => Ok(BandResult {
            points,
            band,
            verdict: Verdict::of_probability(&recommended.held, ask.probability),
            recommended,
            told_by: aims.told_by(),
            samples: aims.samples(),
            passes_flown: progress.done(),
            rare,
            undecided_m: aims.undecided().map(|point| point.aim_m),
        }),
        Ok(None) => Err(BandError::NoAim),
        Err(Halt::Stopped(_)) => Err(BandError::Stopped { kept: points }),
        Err(Halt::Statistics(why)) => Err(why.into()),
    }
}

/// A band, or why there is none, and the aim to take.
type Searched = (Result<Band, Empty>, f64);

/// The band (or why there is none) and the aim to take; `None` where no aim was flown.
fn search(
    aims: &mut Aims<'_>,
    fleet: &Fleet<'_>,
    range: AimRange,
) -> Result<Option<Searched>, Halt> {
    look_over(aims, range)?;
    log::info!(
        "looked over the range of aims: {} flown",
        aims.points().len()
    );
    let Some(best_m) = aims.best().map(|best| best.aim_m) else {
        return Ok(None);
    };
    let band = match widest_run(aims) {
        Some(run) => Ok(refine(aims, run, edge_width(fleet.problem()))?),
        None => Err(explain_empty(aims, best_m)?),
    };
    log::info!(
        "edges closed or an empty band explained: {} aims flown",
        aims.points().len()
    );
    Ok(recommend(aims, band.as_ref().ok())?.map(|aim_m| (band, aim_m)))
}

/// Flies the first grid of aims, and closer about the best ones where none of it is safe.
fn look_over(aims: &mut Aims<'_>, range: AimRange) -> Result<(), Halt> {
    aims.fly(&grid(range))?;
    look_closer(aims, range)
}

/// The aim to take within a range and the band about it, its edges to `width_m` (or to the width of [`find_band`],
/// where that is wider): the search of [`find_band`] without the reasons for an empty band. `None` where no aim was
/// flown.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub(super) fn best_aim(
    aims: &mut Aims<'_>,
    problem: &Problem,
    (range, width_m): (AimRange, f64),
) -> Result<Option<(f64, Option<Band>)>, Halt> {
    look_over(aims, range)?;
    let band = match widest_run(aims) {
        Some(run) => Some(refine(aims, run, width_m.max(edge_width(problem)))?),
        None => None,
    };
    Ok(recommend(aims, band.as_ref())?.map(|aim_m| (aim_m, band)))
}

/// Whether a band can be looked for at all: there are limits, and enough samples to show the probability.
///
/// # Errors
/// [`BandError::NoLimits`], [`BandError::TooFewSamples`], and [`BandError::Statistics`] where no number would do.
pub(super) fn check(ask: &Ask, problem: &Problem) -> Result<(), BandError> {
    if problem.limits().is_empty() {
        return Err(BandError::NoLimits);
    }
    if problem.is_deterministic() {
        return Ok(());
    }
    let needed = needed(ask)?;
    if ask.samples < needed {
        return Err(BandError::TooFewSamples {
            samples: ask.samples,
            probability: ask.probability,
            confidence: ask.confidence,
            needed,
        });
    }
    Ok(())
}

/// Samples that show the probability if all of them hold.
///
/// # Errors
/// [`StatisticsError`] where no number does.
pub(super) fn needed(ask: &Ask) -> Result<u64, StatisticsError> {
    // The interval is two-sided: its lower end leaves half of what the confidence leaves.
    samples_needed(0, ask.probability, 0.5 * (1.0 + ask.confidence))
}

/// Passes that [`find_band`] flies at an aim, roughly: the samples, and where accidents are rare the search for them.
#[must_use]
pub fn expected_at_an_aim(ask: &Ask, problem: &Problem) -> u64 {
    match check(ask, problem) {
        Err(BandError::TooFewSamples { needed, .. }) if is_rare(ask, needed) => {
            // At about half the aims, the others being ruled out by their samples.
            ask.samples + problem.limits().entries().len() as u64 * SEARCHED / 2
        }
        _ => ask.samples,
    }
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
fn look_closer(aims: &mut Aims<'_>, range: AimRange) -> Result<(), Halt> {
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
        let ends = |&(first, last): &(usize, usize)| {
            (aims.points()[first].aim_m, aims.points()[last].aim_m)
        };
        let width = |run| {
            let (low_m, high_m) = ends(run);
            high_m - low_m
        };
        // Of equal widths the one with the lower risk.
        let risk = |run| aims.best_within(ends(run)).map(|top| top.risk);
        let lower = risk(b).partial_cmp(&risk(a));
        width(a)
            .total_cmp(&width(b))
            .then(lower.unwrap_or(Ordering::Equal))
    })
}

fn runs(aims: &Aims<'_>) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for index in 0..aims.points().len() {
        if aims.passes(index, Judge::Lower) {
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
) -> Result<Band, Halt> {
    let (low_m, high_m) = (aims.points()[first].aim_m, aims.points()[last].aim_m);
    let low = edge(aims, low_m, (Side::Steep, width_m))?;
    let high = edge(aims, high_m, (Side::Shallow, width_m))?;
    // What lies beyond aims that are not ruled out may be the same band.
    let points = aims.points();
    let parted = |from: usize, to: usize| (from..=to).any(|at| !aims.passes(at, Judge::Upper));
    let place = |aim_m: f64| points.partition_point(|point| point.aim_m < aim_m);
    let others = runs(aims).iter().any(|&(a, b)| {
        (points[b].aim_m < low.aim_m && parted(b, place(low.aim_m)))
            || (points[a].aim_m > high.aim_m && parted(place(high.aim_m), a))
    });
    Ok(Band { low, high, others })
}

/// Whether more samples have no result than break any one limit.
pub(super) fn ruled_by_unflown(point: &AimPoint) -> bool {
    if let Some(accidents) = &point.accidents {
        let likeliest = accidents.likeliest();
        return accidents.unflown() > likeliest.map_or(0.0, |limit| limit.broken.estimate);
    }
    point.tally.unflown() > point.tally.broken.iter().copied().max().unwrap_or(0)
}

/// The limit that is broken most often.
pub(super) fn ruling_limit(aims: &Aims<'_>, point: &AimPoint) -> Option<LimitKind> {
    if let Some(accidents) = &point.accidents {
        return accidents.likeliest().map(|limit| limit.kind);
    }
    let tally = &point.tally;
    let most = tally
        .broken
        .iter()
        .copied()
        .max()
        .filter(|&count| count > 0)?;
    let index = tally.broken.iter().position(|&count| count == most)?;
    aims.limit_kind(index)
}

/// The aim to take, within the band where there is one; `None` where no aim was flown.
fn recommend(aims: &mut Aims<'_>, band: Option<&Band>) -> Result<Option<f64>, Halt> {
    let everywhere = (f64::NEG_INFINITY, f64::INFINITY);
    let within = band.map_or(everywhere, |band| (band.low.aim_m, band.high.aim_m));
    let Some(top) = aims.best_within(within) else {
        return Ok(None);
    };
    // The middle of the flat top itself, if it is as good as the top.
    let middle = (0.5 * (top.low_m + top.high_m) / 10.0).round() * 10.0;
    if middle > top.low_m && middle < top.high_m && aims.at(middle).is_none() {
        aims.fly(&[middle])?;
        let again = aims.best_within(within);
        return Ok(again.map(|top| top.aim_m));
    }
    Ok(Some(top.aim_m))
}
