//! How much wider the safe band would be with one uncertain quantity halved: the band is looked for
//! again, with the same luck.

use super::super::band::{Band, BandError};
use super::super::case::Case;
use super::InfluenceError;
use super::edges::{Near, differences};
use super::search::{Searched, search};
use crate::ensemble::quantile::Estimate;
use crate::ensemble::{Fleet, Problem, Progress};
use crate::scenario::Scenario;
use crate::scenario::arrival::AimRange;

/// What halving one quantity does to the band.
#[derive(Debug, Clone)]
pub struct Halving {
    /// Index of the source whose spread is halved.
    pub source: usize,
    /// The band with it halved, where there is one.
    pub band: Option<Band>,
    /// What has changed.
    pub change: Change,
}

/// What has changed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// The band is wider by so much, m (narrower if negative); the interval is a bootstrap over the samples,
    /// the same ones in both bands.
    Wider(Estimate),
    /// There was no band and now there is one, of this width, m.
    Opens(f64),
    /// There was no band and there is none.
    StaysEmpty,
    /// There was a band and there is none any more.
    Closes,
}

impl Band {
    /// Distance between the edges, m.
    #[must_use]
    pub fn width_m(&self) -> f64 {
        self.high.aim_m - self.low.aim_m
    }
}

/// Looks for the band again with each of the chosen sources halved.
pub(super) fn halve(
    (case, scenario): (&Case, &Scenario),
    (base, stretch): (&mut Searched<'_>, AimRange),
    (chosen, progress): (&[usize], &Progress),
) -> Result<Vec<Halving>, InfluenceError> {
    let ask = &scenario.ask;
    let near_base = match &base.band {
        Some(band) => Some((band.width_m(), Near::of(&mut base.aims, band)?)),
        None => None,
    };
    let mut halvings = Vec::new();
    for &source in chosen {
        let Some(problem) = with_half(case, scenario, source) else {
            continue;
        };
        let fleet = Fleet::new(&problem, progress);
        let mut found = search(&fleet, (ask, stretch))?.ok_or(BandError::NoAim)?;
        let change = match (&near_base, &found.band) {
            (Some((before_m, near_base)), Some(band)) => {
                let near = Near::of(&mut found.aims, band)?;
                let by_m = band.width_m() - before_m;
                let doubt = differences(near_base, &near, ask);
                Change::Wider(Estimate {
                    value: by_m,
                    lower: doubt.map(|(below, _)| by_m + below),
                    upper: doubt.map(|(_, above)| by_m + above),
                })
            }
            (Some(_), None) => Change::Closes,
            (None, Some(band)) => Change::Opens(band.width_m()),
            (None, None) => Change::StaysEmpty,
        };
        halvings.push(Halving {
            source,
            band: found.band,
            change,
        });
    }
    Ok(halvings)
}

/// The problem with the spread of one source halved.
fn with_half(case: &Case, scenario: &Scenario, source: usize) -> Option<Problem> {
    let source = case.problem.sources().get(source)?;
    let mut narrowed = scenario.clone();
    for &number in &source.numbers {
        narrowed.uncertainty = narrowed.uncertainty.with_spread_times(number, 0.5);
    }
    if source.small_scale {
        narrowed.uncertainty = narrowed.uncertainty.with_small_scale_times(0.5);
    }
    let problem = Problem::new(&narrowed, &case.world).ok()?;
    Some(problem.flown_as(&case.problem))
}
