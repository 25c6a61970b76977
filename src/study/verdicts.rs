//! What each limit came to, and all of them together: held, broken, not covered or not shown. What the sources of the
//! models have of a flight is asked of undisturbed flights; how often what they lack could break a limit is counted
//! over the samples.

use super::aims::AimPoint;
use super::outcome::Outcome;
use super::single::{SingleError, SinglePass, fly_start};
use crate::ensemble::coverage::{Coverage, Gap, coverage, uncovered};
use crate::ensemble::engine::FlownSample;
use crate::ensemble::interval::Interval;
use crate::ensemble::problem::SampleNumber;
use crate::ensemble::reach::Reach;
use crate::ensemble::{LimitKind, Problem, Verdict};
use crate::numeric::quantity::Quantity;
use crate::pass::{EntryState, Sample};
use crate::scenario::ask::Ask;

/// Samples whose start is looked at for the fastest of them.
const STARTS: u64 = 400;

/// What one limit came to.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitVerdict {
    /// The limit.
    pub kind: LimitKind,
    /// What it came to.
    pub verdict: Verdict,
    /// What the sources of the models have of it.
    pub coverage: Coverage,
}

/// What the limits came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Verdicts {
    /// Each limit, in the order of the limit set.
    pub limits: Vec<LimitVerdict>,
    /// All of them together.
    pub all: Verdict,
}

/// What the sources have of each limit, and how many samples of an aim hold one only as far as they have it.
#[derive(Debug, Clone, PartialEq)]
pub struct Covered {
    /// Of each limit, in the order of the limit set.
    pub coverages: Vec<Coverage>,
    /// Samples that hold the limit as flown but could break it with what is not covered.
    pub uncovered: Vec<u64>,
    /// Samples that hold all limits as flown but could break one.
    pub uncovered_any: u64,
}

impl Covered {
    /// What the sources have of the limits of a problem at some aims, m; nothing is counted yet.
    #[must_use]
    pub fn at(problem: &Problem, aims_m: &[f64]) -> Self {
        let mut gaps: Vec<Gap> = Vec::new();
        for gap in aims_m.iter().flat_map(|&aim_m| gaps_at(problem, aim_m)) {
            let same =
                |known: &&mut Gap| known.model == gap.model && known.at_the_peak == gap.at_the_peak;
            match gaps.iter_mut().find(same) {
                // Told once, at the lowest of the aims; what nothing bounds goes before what is bounded.
                Some(known) if known.bound.is_some() && gap.bound.is_none() => *known = gap,
                Some(_) => {}
                None => gaps.push(gap),
            }
        }
        Self::with(problem, &gaps)
    }

    /// The same over the range of aims: at the lowest, the middle and the highest.
    #[must_use]
    pub fn over_range(problem: &Problem) -> Self {
        let range = problem.aim();
        let aims = [range.from_m, 0.5 * (range.from_m + range.to_m), range.to_m];
        let aims = if range.is_single() { &aims[..1] } else { &aims };
        Self::at(problem, aims)
    }

    /// Keys of the limits that are not covered, each once.
    #[must_use]
    pub fn open(&self, problem: &Problem) -> Vec<&'static str> {
        let each = problem.limits().entries().iter().zip(&self.coverages);
        let open = each.filter(|(_, coverage)| matches!(coverage, Coverage::Not(_)));
        let mut keys: Vec<&str> = open.map(|(limit, _)| limit.kind.key()).collect();
        keys.dedup();
        keys
    }

    fn with(problem: &Problem, gaps: &[Gap]) -> Self {
        let entries = problem.limits().entries();
        Self {
            coverages: entries
                .iter()
                .map(|limit| coverage(gaps, limit.kind))
                .collect(),
            uncovered: vec![0; entries.len()],
            uncovered_any: 0,
        }
    }

    /// Counts a flown sample.
    pub fn take(&mut self, problem: &Problem, flown: &FlownSample) {
        if !flown.result.ending.is_flown() {
            return;
        }
        let numbers = problem.judging_numbers(flown.sample);
        let judged = (&flown.result, &numbers, flown.broken);
        let mask = uncovered(problem.limits(), &self.coverages, judged);
        self.uncovered_any += u64::from(flown.broken == 0 && mask != 0);
        for (bit, count) in self.uncovered.iter_mut().enumerate() {
            *count += u64::from(mask >> bit & 1);
        }
    }
}

/// What the undisturbed flight at an aim (m) asks that no source has. The fastest of the first samples counts.
#[must_use]
pub fn gaps_at(problem: &Problem, aim_m: f64) -> Vec<Gap> {
    let nominal = match fly_start(problem, (aim_m, SampleNumber::Nominal)) {
        Ok(flown) => flown,
        // Above the interface there is no air to ask anything of.
        Err(SingleError::NeverMeetsAir { .. }) => return Vec::new(),
        Err(error) => {
            let why = format!(
                "the undisturbed flight at {:.3} km cannot be flown: {error}",
                aim_m / 1e3
            );
            return vec![Gap::unknown(why)];
        }
    };
    let nose = |time_s| nominal.nose.at(time_s);
    let Some(mut reach) = Reach::of(&nominal.flown.history, problem.models(), nose) else {
        return Vec::new();
    };
    let speed = |start: &EntryState, sample: &Sample<f64>| {
        let planet = problem.planet();
        let (r, altitude_m) = (start.position, planet.altitude_at(start.position));
        planet
            .air_relative(r, start.velocity, altitude_m, &sample.air)
            .norm()
    };
    let samples = if problem.is_deterministic() {
        0
    } else {
        STARTS
    };
    let own = speed(&nominal.start, &nominal.sample);
    let faster = (0..samples).filter_map(|sample| {
        let launched = problem.launch(aim_m, &problem.numbers(sample), SampleNumber::Of(sample));
        launched.map(|(start, sample)| speed(&start, &sample) / own)
    });
    reach.fastest_m_s *= faster.fold(1.0, f64::max);
    problem.gaps(&reach)
}

impl Verdicts {
    /// What the limits came to in one pass.
    #[must_use]
    pub fn of_pass(problem: &Problem, single: &SinglePass) -> Self {
        let (set, result) = (problem.limits(), &single.flown.result);
        let nose = |time_s| single.nose.at(time_s);
        let reach = Reach::of(&single.flown.history, problem.models(), nose);
        let gaps = reach.map_or_else(Vec::new, |reach| problem.gaps(&reach));
        let broken = set.broken(result, &single.numbers);
        let covered = Covered::with(problem, &gaps);
        let open = uncovered(set, &covered.coverages, (result, &single.numbers, broken));
        let shown = |verdict| {
            if result.ending.is_flown() {
                verdict
            } else {
                Verdict::NotShown
            }
        };
        let each = set.entries().iter().zip(covered.coverages).enumerate();
        let flown =
            each.filter(|(_, (limit, _))| limit.kind.spec().of != Some(Quantity::SpotHeatFlux));
        let mut limits: Vec<LimitVerdict> = flown
            .map(|(bit, (limit, coverage))| LimitVerdict {
                kind: limit.kind,
                verdict: shown(match (broken >> bit & 1, open >> bit & 1) {
                    (1, _) => Verdict::Broken,
                    (_, 1) => Verdict::NotCovered,
                    _ => Verdict::Held,
                }),
                coverage,
            })
            .collect();
        // The walls of spots are followed here, and a limit of the back face is judged here alone.
        let limited = single.spots.iter().enumerate();
        limits.extend(limited.filter(|(_, spot)| !spot.verdicts.is_empty()).map(
            |(place, spot)| {
                let kind = LimitKind::Spot(place);
                let coverage = coverage(&gaps, kind);
                let verdict = if !spot.holds() {
                    Verdict::Broken
                } else if spot.holds_with(coverage.factor()) {
                    Verdict::Held
                } else {
                    Verdict::NotCovered
                };
                LimitVerdict {
                    kind,
                    verdict: shown(verdict),
                    coverage,
                }
            },
        ));
        let all = Verdict::of_all(limits.iter().map(|limit| limit.verdict));
        Self { limits, all }
    }

    /// What the limits came to at an aim of many samples, by what was found of it (`point`) or by its counts alone.
    #[must_use]
    pub fn of_aim(
        problem: &Problem,
        ask: &Ask,
        (point, outcome): (Option<&AimPoint>, &Outcome),
    ) -> Self {
        let (tally, covered) = (&outcome.tally, &outcome.covered);
        let certain = problem.is_deterministic();
        // Samples without a result are never held, and break no limit: the lower end is without them, the upper with.
        let counted = |broken: u64| -> Option<Interval> {
            let at = |lost: u64| {
                let held = tally.samples.saturating_sub(lost);
                if certain {
                    Some(Interval::certain(lost == 0))
                } else {
                    Interval::clopper_pearson(held, tally.samples, ask.confidence).ok()
                }
            };
            let most = at(broken)?;
            let least = at(broken.saturating_add(tally.unflown()))?;
            Some(Interval {
                lower: least.lower,
                ..most
            })
        };
        // The search for rare accidents says more than the counts, where there was one.
        let rare = point.and_then(|point| point.accidents.as_ref());
        let entries = problem.limits().entries().iter().enumerate();
        let limits: Vec<LimitVerdict> = entries
            .map(|(place, limit)| {
                let broken = tally.broken.get(place).copied().unwrap_or(tally.samples);
                let open = covered
                    .uncovered
                    .get(place)
                    .copied()
                    .unwrap_or(tally.samples);
                let accident = rare.and_then(|rare| rare.limits.get(place));
                let held = match accident {
                    Some(found) => Some(found.broken.opposite()),
                    None => counted(broken),
                };
                let coverage = covered.coverages.get(place).cloned();
                let coverage = coverage.unwrap_or(Coverage::Not("it was not looked at".to_owned()));
                // So rare an accident is not met in the samples, in which the uncovered part is counted.
                let with = match rare {
                    Some(_) => None,
                    None => counted(broken.saturating_add(open)),
                };
                LimitVerdict {
                    kind: limit.kind,
                    verdict: judged(ask, held.as_ref(), (open, with.as_ref(), &coverage)),
                    coverage,
                }
            })
            .collect();
        let open = covered.uncovered_any;
        let with = match rare {
            Some(_) => None,
            None => counted(tally.broken_any.saturating_add(open)),
        };
        let most = limits.iter().map(|limit| &limit.coverage);
        let widest = most.max_by(|a, b| a.factor().total_cmp(&b.factor()));
        let mut held = point.map_or_else(|| counted(tally.broken_any), |point| Some(point.held));
        if let Some(held) = &mut held {
            // Had those without a result held.
            let best = match rare {
                Some(rare) => Some(rare.any.opposite()),
                None if tally.unflown() > 0 => counted(tally.broken_any),
                None => None,
            };
            held.upper = best.map_or(held.upper, |best| best.upper.max(held.upper));
        }
        let whole = widest.map_or(Verdict::Held, |widest| {
            judged(ask, held.as_ref(), (open, with.as_ref(), widest))
        });
        let all = Verdict::of_all(limits.iter().map(|limit| limit.verdict).chain([whole]));
        Self { limits, all }
    }

    /// The verdict of a limit; `None` for one that is not judged.
    #[must_use]
    pub fn of(&self, kind: LimitKind) -> Option<&LimitVerdict> {
        self.limits.iter().find(|limit| limit.kind == kind)
    }

    /// Whether no limit is kept from its verdict by what its models do not cover.
    #[must_use]
    pub fn covered(&self) -> bool {
        self.limits
            .iter()
            .all(|limit| limit.verdict != Verdict::NotCovered)
    }
}

/// The verdict of a probability of holding, and of that `with` the `open` samples counted as broken that what is not
/// covered could break; without it where so few samples say nothing of it.
fn judged(
    ask: &Ask,
    held: Option<&Interval>,
    (open, with, coverage): (u64, Option<&Interval>, &Coverage),
) -> Verdict {
    let Some(held) = held else {
        return Verdict::NotShown;
    };
    let reaches = |interval: &Interval| interval.lower >= ask.probability;
    match (coverage, with) {
        _ if held.upper < ask.probability => Verdict::Broken,
        (Coverage::Not(_), _) => Verdict::NotCovered,
        _ if !reaches(held) => Verdict::NotShown,
        (Coverage::Whole, _) => Verdict::Held,
        (Coverage::Within(_), Some(with)) if reaches(with) => Verdict::Held,
        (Coverage::Within(_), None) if open == 0 => Verdict::NotShown,
        (Coverage::Within(_), _) => Verdict::NotCovered,
    }
}
