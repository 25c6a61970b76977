//! What matters: which uncertain quantity the outcome of a pass depends on, and how much wider the safe
//! band would be if one of them were known better.

mod edges;
mod halving;
mod indices;
mod search;

pub use halving::{Change, Halving};
pub use indices::{BrokenInfluence, Output, OutputInfluence, Unknown};

use super::band::{Band, BandError, check};
use super::case::Case;
use crate::ensemble::interval::samples_needed;
use crate::ensemble::sources::Source;
use crate::ensemble::{Fleet, Halt, LimitKind, Progress, Stopped};
use crate::scenario::Scenario;
use crate::scenario::ask::Ask;

/// Rows of the design where none are asked for.
pub const ROWS: u64 = 8192;
/// Most samples at each aim of a band where none are asked for.
pub const BAND_SAMPLES: u64 = 20_000;
/// Quantities whose spread is halved where no number is asked for.
pub const HALVED: usize = 3;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InfluenceAsk {
    /// The aim to look at, m; the recommended one where there is none.
    pub aim_m: Option<f64>,
    /// Rows of the design, at least [`FEWEST_ROWS`](crate::ensemble::sobol::FEWEST_ROWS).
    pub rows: u64,
    /// Samples at each aim of a band; at most [`BAND_SAMPLES`] where there is no number.
    pub band_samples: Option<u64>,
    /// How many of the most influential quantities are halved.
    pub halved: usize,
}

impl Default for InfluenceAsk {
    fn default() -> Self {
        Self {
            aim_m: None,
            rows: ROWS,
            band_samples: None,
            halved: HALVED,
        }
    }
}

/// Why this aim was looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AimChoice {
    /// It was asked for.
    Given,
    /// It is the scenario's only one.
    Only,
    /// It is the recommended one.
    Recommended,
    /// There is no band; here the limits are likeliest to hold.
    Likeliest,
}

/// What the study found.
#[derive(Debug, Clone)]
pub struct Influence {
    /// The aim looked at, m, and why.
    pub aim: (f64, AimChoice),
    /// The uncertain quantities, in the order of all lists of indices.
    pub sources: Vec<Source>,
    /// Rows of the design.
    pub rows: u64,
    /// Each output with its indices.
    pub outputs: Vec<OutputInfluence>,
    /// The indices of "a limit is broken".
    pub broken: BrokenInfluence,
    /// The band as things are, `None` where no aim is safe; or why no band could be looked for.
    pub band: Result<Option<Band>, String>,
    /// Samples at each aim of the bands.
    pub band_samples: u64,
    /// What halving the most influential quantities would do, the most influential first.
    pub halvings: Vec<Halving>,
    /// Passes flown in all.
    pub passes_flown: u64,
}

/// Why nothing was found.
#[derive(Debug, thiserror::Error)]
pub enum InfluenceError {
    /// All samples are alike.
    #[error(
        "nothing is uncertain in this scenario, so nothing has an influence: write what is not known exactly under \
         `uncertainty`"
    )]
    NothingUncertain,
    /// A range of aims, no limits to choose among them by, and no aim asked for.
    #[error(
        "the scenario gives a range of aims but no limits, so that none is recommended: say which to look at, as in \
         --periapsis {middle_km:.0}km"
    )]
    NoAim {
        /// The middle of the range, km.
        middle_km: f64,
    },
    /// The aim asked for fits no approach or never meets the air.
    #[error(
        "no pass fits a vacuum periapsis at {aim_km:.3} km: it must lie above the centre of the body and below the entry \
         interface at {interface_km:.3} km"
    )]
    AimOutside {
        /// The aim, km.
        aim_km: f64,
        /// The entry interface, km.
        interface_km: f64,
    },
    /// The band cannot be looked for with so few samples.
    #[error(transparent)]
    Band(#[from] BandError),
    /// The run was cancelled.
    #[error("stopped before the influences were known; run the same command again")]
    Stopped,
}

impl From<Stopped> for InfluenceError {
    fn from(_: Stopped) -> Self {
        Self::Stopped
    }
}

impl From<Halt> for InfluenceError {
    fn from(halt: Halt) -> Self {
        match halt {
            Halt::Stopped(_) => Self::Stopped,
            Halt::Statistics(why) => Self::Band(why.into()),
        }
    }
}

/// Finds what the outcome of a pass depends on.
///
/// # Errors
/// [`InfluenceError`]: nothing uncertain, no aim to look at, too few samples for a band, or a cancelled run.
pub fn find_influence(
    case: &Case,
    asked: &InfluenceAsk,
    progress: &Progress,
) -> Result<Influence, InfluenceError> {
    if case.problem.is_deterministic() {
        return Err(InfluenceError::NothingUncertain);
    }
    let scenario = with_samples(case, asked);
    let ask = scenario.ask;
    let kept = ask.can_be_kept().map_err(BandError::from);
    kept.map_err(InfluenceError::Band)?;
    let fleet = Fleet::new(&case.problem, progress);
    let checked = match check(&ask, &case.problem) {
        Ok(()) if case.problem.aim().is_single() => Err(BandError::SingleAim),
        checked => checked,
    };
    let (mut base, why) = match checked {
        Ok(()) => {
            let stretch = search::stretch(&case.problem, (&ask, progress))?;
            let found = search::search(&fleet, (&ask, stretch))?.ok_or(BandError::NoAim)?;
            (Some((found, stretch)), String::new())
        }
        Err(error @ BandError::TooFewSamples { .. }) => return Err(InfluenceError::Band(error)),
        Err(error) => (None, error.to_string()),
    };
    let aim = choose_aim(case, asked, base.as_ref().map(|(found, _)| found))?;
    let outputs = indices::of_outputs(&fleet, aim.0, (asked.rows, &ask))?;
    let broken = indices::of_broken(&fleet, aim.0, (asked.rows, &ask))?;
    let halvings = match &mut base {
        Some((found, stretch)) => {
            let ranked = ranked(case, found.band.as_ref(), (&outputs, &broken));
            let chosen = &ranked[..asked.halved.min(ranked.len())];
            halving::halve((case, &scenario), (found, *stretch), (chosen, progress))?
        }
        None => Vec::new(),
    };
    Ok(Influence {
        aim,
        sources: case.problem.sources().to_vec(),
        rows: asked.rows,
        outputs,
        broken,
        band: base.map(|(found, _)| found.band).ok_or(why),
        band_samples: ask.samples,
        halvings,
        passes_flown: progress.flown(),
    })
}

/// The scenario with as many samples at each aim as its bands are looked for with.
fn with_samples(case: &Case, asked: &InfluenceAsk) -> Scenario {
    let mut scenario = case.scenario.clone();
    scenario.ask.samples = band_samples(&scenario.ask, asked.band_samples);
    scenario
}

/// Samples at each aim of a band: as many as asked for, else those of the scenario, but [`BAND_SAMPLES`] at
/// most, or twice as many as its probability needs where that is more.
#[must_use]
pub fn band_samples(ask: &Ask, asked: Option<u64>) -> u64 {
    let needed = samples_needed(0, ask.probability, 0.5 * (1.0 + ask.confidence));
    let most = needed.map_or(BAND_SAMPLES, |n| BAND_SAMPLES.max(n.saturating_mul(2)));
    asked.unwrap_or(ask.samples.min(most))
}

fn choose_aim(
    case: &Case,
    asked: &InfluenceAsk,
    found: Option<&search::Searched<'_>>,
) -> Result<(f64, AimChoice), InfluenceError> {
    let (problem, range) = (&case.problem, case.problem.aim());
    if let Some(aim_m) = asked.aim_m {
        let interface_m = problem.planet().interface_m;
        if !problem.meets_air(aim_m, problem.nominal()) {
            return Err(InfluenceError::AimOutside {
                aim_km: aim_m / 1e3,
                interface_km: interface_m / 1e3,
            });
        }
        return Ok((aim_m, AimChoice::Given));
    }
    match found {
        Some(found) if found.band.is_some() => Ok((found.best_m, AimChoice::Recommended)),
        Some(found) => Ok((found.best_m, AimChoice::Likeliest)),
        None if range.is_single() => Ok((range.from_m, AimChoice::Only)),
        None => Err(InfluenceError::NoAim {
            middle_km: 0.5 * (range.from_m + range.to_m) / 1e3,
        }),
    }
}

/// Sources from the most influential to the least: by the total index of "a limit is broken", or where
/// that is not known by the largest of the outputs whose limits set the edges of the band.
fn ranked(
    case: &Case,
    band: Option<&Band>,
    (outputs, broken): (&[OutputInfluence], &BrokenInfluence),
) -> Vec<usize> {
    let edges = band.map_or([None; 2], |band| [band.low.limit, band.high.limit]);
    let ruling: Vec<Output> = edges
        .into_iter()
        .flatten()
        .map(Output::limited_by)
        .collect();
    let largest = |among: &dyn Fn(Output) -> bool, source: usize| {
        let some = outputs.iter().filter(|output| among(output.output));
        let totals =
            some.filter_map(|output| Some(output.indices.as_ref().ok()?.total[source].value));
        totals.fold(0.0, f64::max)
    };
    let weight = |source: usize| match &broken.indices {
        Ok(indices) => indices.total[source].value,
        Err(_) => match largest(&|output| ruling.contains(&output), source) {
            0.0 => largest(&|_| true, source),
            weight => weight,
        },
    };
    let mut order: Vec<usize> = (0..case.problem.sources().len()).collect();
    order.sort_by(|&a, &b| weight(b).total_cmp(&weight(a)));
    order
}

impl Output {
    /// The output that a limit is about.
    #[must_use]
    pub fn limited_by(kind: LimitKind) -> Self {
        kind.spec().goes_with.map_or(Self::EndSpeed, Self::Of)
    }
}
