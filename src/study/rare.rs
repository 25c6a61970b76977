//! Rare accidents at one aim: the probability that a limit is broken, far below what a sample of passes can show.
//!
//! Each limit is searched for by itself, along its own severity ([`crate::ensemble::margin`]); that any limit is
//! broken is put together from the same passes: an accident that breaks n limits counts one n-th in the search for
//! each of them, so that it counts once. A pass without a result is as severe as can be in every search, and counts in
//! no limit's probability, but against holding them all.

use crate::ensemble::interval::Interval;
use crate::ensemble::luck::Block;
use crate::ensemble::margin::Margins;
use crate::ensemble::replicates::{RUNS, interval};
use crate::ensemble::splitting::{Found, Mark, Search};
use crate::ensemble::{Fleet, Halt, LimitKind, Problem, Stopped};
use crate::numeric::counts::real;
use crate::scenario::ask::Ask;
use crate::scenario::uncertainty::Number;

/// Places at each level of each run while a band is looked for.
pub const QUICK: usize = 400;
/// The same where the answer is wanted well: at the aim to take.
pub const THOROUGH: usize = 1200;
/// Passes of a quick search, roughly.
pub(super) const SEARCHED: u64 = 25_000;
/// Most samples that `ask` is told to fly at each aim; a probability that needs more is searched for.
pub const MOST_SAMPLES_TOLD: u64 = 100_000;
/// Of the accepted risk: what lies below is not looked for.
const NEGLIGIBLE: f64 = 1e-3;

/// The chance of breaking one limit.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitChance {
    /// The limit.
    pub kind: LimitKind,
    /// Probability that it is broken.
    pub broken: Interval,
    /// The likeliest accident met: its uncertain numbers by standard normal scores, the farthest out first.
    pub likeliest: Vec<(Number, f64)>,
    /// Of that accident: how far the small-scale field of the air is from what is usual, as the root mean square of
    /// its scores; 1 is usual. `None` where no field is flown or no accident was met.
    pub field: Option<f64>,
}

/// The chances of accidents at one aim.
#[derive(Debug, Clone, PartialEq)]
pub struct Accidents {
    /// Probability that any limit is broken.
    pub any: Interval,
    /// Probability that not all limits are held: one is broken, or the pass has no result.
    pub not_held: Interval,
    /// Each limit, in the order of the limit set.
    pub limits: Vec<LimitChance>,
    /// Passes flown for it.
    pub passes: u64,
}

impl Accidents {
    /// Probability that all limits hold.
    #[must_use]
    pub fn held(&self) -> Interval {
        self.not_held.opposite()
    }

    /// Probability that a pass has no result: it failed, or its numbers fit no approach.
    #[must_use]
    pub fn unflown(&self) -> f64 {
        (self.not_held.estimate - self.any.estimate).max(0.0)
    }

    /// The limit that is likeliest broken; `None` where no accident was met.
    #[must_use]
    pub fn likeliest(&self) -> Option<&LimitChance> {
        let met = self
            .limits
            .iter()
            .filter(|limit| limit.broken.estimate > 0.0);
        met.max_by(|a, b| a.broken.estimate.total_cmp(&b.broken.estimate))
    }
}

/// Whether a band of this probability is to be looked for by rare accidents: so many samples would be `needed` to
/// show it that they are not asked for.
#[must_use]
pub(super) fn is_rare(ask: &Ask, needed: u64) -> bool {
    ask.samples < needed && needed > MOST_SAMPLES_TOLD
}

/// Looks for the accidents at an aim (m), with so many places at each level of each run ([`QUICK`], [`THOROUGH`]);
/// those of one block share no draw with those of the other.
///
/// # Errors
/// [`Halt`]: stopped, or a confidence out of range.
///
/// # Panics
/// Never: a limit set has at most 32 limits.
pub fn accidents(
    fleet: &Fleet<'_>,
    ask: &Ask,
    (aim_m, places): (f64, usize),
    block: Block,
) -> Result<Accidents, Halt> {
    let problem = fleet.problem();
    let margins = Margins::new(problem);
    let entries = problem.limits().entries();
    let mut limits = Vec::new();
    let (mut runs, mut broken) = ([0.0; RUNS], [0.0; RUNS]);
    let (mut unseen, mut passes) = (0.0, 0);
    let all = u32::try_from(entries.len()).expect("a limit set has at most 32 limits");
    for ((place, limit), number) in entries.iter().enumerate().zip(0_u8..) {
        let search = Search {
            dimensions: problem.dimensions(),
            places,
            floor: NEGLIGIBLE * (1.0 - ask.probability),
            confidence: ask.confidence,
            seed: ask.seed,
            number,
            block,
        };
        let found = search.run(|asked| -> Result<Vec<Mark>, Stopped> {
            let flown = fleet.fly_places(aim_m, asked)?;
            let mark = flown.iter().map(|flown| {
                let told = flown.result.ending.is_flown();
                // One without a result is met in every search.
                let searches = if told { flown.broken.count_ones() } else { all };
                Mark {
                    severity: margins.of(place, flown),
                    share: 1.0 / f64::from(searches.max(1)),
                    told,
                }
            });
            Ok(mark.collect())
        })?;
        log::debug!(
            "rare accidents at {:.3} km: {:?} {:e} ({:e} to {:e}), {} levels, {} passes",
            aim_m / 1e3,
            limit.kind,
            found.probability.estimate,
            found.probability.lower,
            found.probability.upper,
            found.levels,
            found.places
        );
        for run in 0..RUNS {
            runs[run] += found.shares[run];
            broken[run] += found.shares[run] - found.untold[run];
        }
        unseen += unseen_share(&found);
        passes += found.places;
        limits.push(chance(problem, limit.kind, &found));
    }
    let with_unseen = |runs: &[f64; RUNS]| {
        let mut found = interval(runs, ask.confidence)?;
        found.upper = (found.upper + unseen).min(1.0);
        Ok::<_, Halt>(found)
    };
    Ok(Accidents {
        any: with_unseen(&broken)?,
        not_held: with_unseen(&runs)?,
        limits,
        passes,
    })
}

/// What the runs did not see of a limit's breaking.
fn unseen_share(found: &Found) -> f64 {
    if found.probability.estimate > 0.0 {
        0.0
    } else {
        found.probability.upper
    }
}

fn chance(problem: &Problem, kind: LimitKind, found: &Found) -> LimitChance {
    let numbers = problem.coordinates();
    let place = found.likeliest.as_deref().unwrap_or_default();
    let mut likeliest: Vec<(Number, f64)> =
        numbers.iter().copied().zip(place.iter().copied()).collect();
    likeliest.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    let field = place.get(numbers.len()..).filter(|field| !field.is_empty());
    LimitChance {
        kind,
        broken: found.probability,
        likeliest,
        field: field
            .map(|field| (field.iter().map(|z| z * z).sum::<f64>() / real(field.len())).sqrt()),
    }
}
