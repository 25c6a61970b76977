//! Plans a run that is flown in shards: at which aims, in which bins, and which samples each shard flies.

use crate::ensemble::histogram::Bins;
use crate::ensemble::luck::Block;
use crate::ensemble::{Fleet, Halt, Progress, Stopped};
use crate::scenario::arrival::AimRange;
use crate::scenario::ask::Ask;
use crate::study::Case;
use crate::study::aims::Aims;
use crate::study::band::{Band, BandError, Edge, best_aim, check, grid, needed};
use crate::study::outcome::Quantity;
use std::ops::Range;

/// Bins of each quantity at each aim.
const BINS: u32 = 400;
/// Samples by which a band is looked for and bins are laid out, where the probability asked for needs no more.
const SCOUTS: u64 = 5_000;
/// Spacing of the aims about an edge of the band, m: that to which `band` closes it.
const FINE_M: f64 = 50.0;
/// Most aims about one edge; beyond, they stand wider apart.
const MOST_FINE: f64 = 16.0;
/// Aims inside the band, about.
const INSIDE: f64 = 8.0;
/// Most aims of a run.
pub const MOST_AIMS: usize = 200;

/// What is asked of a run.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Samples at each aim.
    pub samples: u64,
    /// The aims, m; `None` to have them chosen about the band.
    pub aims_m: Option<Vec<f64>>,
}

/// What every shard of a run has in common.
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// The aims, m, rising.
    pub aims_m: Vec<f64>,
    /// The aim to take, m, chosen by a few samples that are not among those of the run.
    pub recommended_m: f64,
    /// The bins of each of [`Quantity::ALL`] at each aim.
    pub bins: Vec<Vec<Bins>>,
}

/// Why a run cannot be planned.
#[derive(Debug, thiserror::Error)]
pub enum DesignError {
    /// As for a band.
    #[error(transparent)]
    Band(#[from] BandError),
    /// Nothing is uncertain.
    #[error("nothing is uncertain, so one pass at each aim says all: use `periband band`")]
    Certain,
    /// An aim that cannot be flown.
    #[error("the aim {aim_km:.3} km is not below the entry interface, {interface_km:.3} km")]
    AboveInterface {
        /// The aim, km.
        aim_km: f64,
        /// The interface, km.
        interface_km: f64,
    },
    /// Too many aims.
    #[error("{0} aims are too many: a run has at most {MOST_AIMS}")]
    TooManyAims(usize),
    /// The planning was cancelled.
    #[error("stopped before the run was planned")]
    Stopped,
}

impl From<Stopped> for DesignError {
    fn from(_: Stopped) -> Self {
        Self::Stopped
    }
}

impl From<Halt> for DesignError {
    fn from(halt: Halt) -> Self {
        match halt {
            Halt::Stopped(_) => Self::Stopped,
            Halt::Statistics(why) => Self::Band(why.into()),
        }
    }
}

/// The samples of shard `index` of `shards`: equal shares, in order, without gap or overlap.
#[must_use]
pub fn shard_range(samples: u64, shards: u64, index: u64) -> Range<u64> {
    let start = |index: u64| {
        let share = u128::from(samples) * u128::from(index) / u128::from(shards.max(1));
        u64::try_from(share).unwrap_or(samples)
    };
    start(index)..start(index + 1)
}

/// Chooses aims and bins, by flying a few samples (of a block that the run does not fly): the same for the same scenario, whatever the threads do.
///
/// Without aims asked for, the band is looked for by the search of `band`; its grid is taken to two steps beyond
/// the edges, about each edge, where a larger sample will move it, aims stand 50 m apart, and some between.
///
/// # Errors
/// [`DesignError`]: what is refused by `band` too, no uncertainty, aims that cannot be flown, a cancelled run.
pub fn design(
    case: &Case,
    question: &Question,
    progress: &Progress,
) -> Result<Design, DesignError> {
    let (problem, ask) = (&case.problem, case.scenario.ask);
    if problem.is_deterministic() {
        return Err(DesignError::Certain);
    }
    let asked = Ask {
        samples: question.samples,
        ..ask
    };
    check(&asked, problem)?;
    let needed = needed(&ask).map_err(BandError::from)?;
    let few = Ask {
        samples: question.samples.min(SCOUTS.max(2 * needed)),
        ..ask
    };
    let fleet = Fleet::new(problem, progress);
    let (aims_m, chosen_m) = if let Some(aims) = &question.aims_m {
        let mut aims = aims.clone();
        aims.sort_by(f64::total_cmp);
        aims.dedup();
        (aims, None)
    } else {
        let (aims, best_m) = choose(&fleet, few, problem.aim())?;
        (aims, Some(best_m))
    };
    if aims_m.len() > MOST_AIMS {
        return Err(DesignError::TooManyAims(aims_m.len()));
    }
    let interface_m = problem.planet().interface_m;
    let meets_air = |aim: f64| problem.meets_air(aim, problem.nominal());
    if let Some(high) = aims_m.iter().find(|aim| !meets_air(**aim)) {
        return Err(DesignError::AboveInterface {
            aim_km: high / 1e3,
            interface_km: interface_m / 1e3,
        });
    }
    let mut values = vec![vec![Vec::new(); Quantity::ALL.len()]; aims_m.len()];
    let scouts = Block::Second.samples(question.samples.min(SCOUTS));
    fleet.fly(&aims_m, scouts, |flown| {
        for (quantity, values) in Quantity::ALL.iter().zip(&mut values[flown.aim]) {
            values.extend(quantity.of(&flown.result));
        }
    })?;
    let recommended_m = match chosen_m {
        Some(aim_m) => aim_m,
        None => best_of(&fleet, few, &aims_m)?,
    };
    let bins = |values: Vec<Vec<f64>>| values.into_iter().map(|v| Bins::about(v, BINS)).collect();
    Ok(Design {
        bins: values.into_iter().map(bins).collect(),
        aims_m,
        recommended_m,
    })
}

/// The aim to take of those that were asked for.
fn best_of(fleet: &Fleet<'_>, few: Ask, aims_m: &[f64]) -> Result<f64, DesignError> {
    let mut aims = Aims::new(fleet, few).by(Block::Second);
    aims.fly(aims_m)?;
    let best = aims.best().map(|best| best.aim_m);
    Ok(best.ok_or(BandError::NoAim)?)
}

/// The aims about the band that a few samples find, and the aim to take.
fn choose(fleet: &Fleet<'_>, few: Ask, range: AimRange) -> Result<(Vec<f64>, f64), DesignError> {
    if !(range.to_m > range.from_m) {
        return Err(BandError::SingleAim.into());
    }
    let mut aims = Aims::new(fleet, few).by(Block::Second);
    let found = best_aim(&mut aims, fleet.problem(), (range, FINE_M))?;
    let (best_m, band) = found.ok_or(BandError::NoAim)?;
    log::info!(
        "looked for the band with {} samples at {} aims",
        few.samples,
        aims.points().len()
    );
    let (low_m, high_m) = band
        .as_ref()
        .map_or((best_m, best_m), |band| (band.low.aim_m, band.high.aim_m));
    let near = (low_m - 2.0 * range.step_m)..=(high_m + 2.0 * range.step_m);
    let mut chosen: Vec<f64> = grid(range);
    chosen.retain(|aim| near.contains(aim));
    chosen.push(best_m);
    chosen.extend(fine(band.as_ref(), best_m, range));
    chosen.retain(|aim| (range.from_m..=range.to_m).contains(aim));
    chosen.sort_by(f64::total_cmp);
    chosen.dedup_by(|b, a| *b - *a < 1.0 && *b != best_m);
    Ok((chosen, best_m))
}

/// The aims that stand close together: where the edges may be; without a band, about the best aim.
fn fine(band: Option<&Band>, best_m: f64, range: AimRange) -> Vec<f64> {
    let stretches = match band {
        Some(band) => {
            // Towards the inside little: many samples only move an edge out, but for bad luck of the few.
            let beyond = |edge: &Edge| edge.uncertainty_m + 2.0 * FINE_M;
            let (low, high) = (&band.low, &band.high);
            let low_end = (!low.ends_the_range())
                .then(|| (low.aim_m - beyond(low), low.aim_m + 2.0 * FINE_M));
            let high_end = (!high.ends_the_range())
                .then(|| (high.aim_m - 2.0 * FINE_M, high.aim_m + beyond(high)));
            vec![low_end, high_end]
        }
        None => vec![Some((best_m - range.step_m, best_m + range.step_m))],
    };
    let mut aims = Vec::new();
    // Inside, where the best aim may be another one for more samples, they stand wider apart.
    let inside = band.map(|band| (band.low.aim_m, band.high.aim_m, INSIDE));
    let about = stretches.into_iter().flatten();
    let about = about.map(|(from, to)| (from, to, MOST_FINE));
    for (from, to, most) in about.chain(inside) {
        let wider = ((to - from) / (FINE_M * most)).ceil().max(1.0);
        let spacing = FINE_M * wider;
        let mut aim = (from / spacing).floor() * spacing;
        while aim <= to {
            aims.push(aim);
            aim += spacing;
        }
    }
    aims
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shards_have_neither_gap_nor_overlap() {
        for (samples, shards) in [(1, 1), (64, 64), (1000, 7), (u64::MAX, 100_000), (3, 2)] {
            let mut next = 0;
            for index in 0..shards.min(1000) {
                let range = shard_range(samples, shards, index);
                assert_eq!(range.start, next);
                assert!(range.end > range.start);
                next = range.end;
            }
            assert_eq!(shard_range(samples, shards, shards - 1).end, samples);
        }
    }
}
