//! How much wider the safe band would be with one uncertain quantity halved: the band is looked for
//! again, with the same luck.

use super::super::band::{Band, BandError, BandResult, find_band};
use super::super::case::Case;
use super::InfluenceError;
use super::edges::{Near, differences};
use crate::ensemble::quantile::Estimate;
use crate::ensemble::{Problem, Progress};
use crate::scenario::Scenario;

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
    found: &BandResult,
    (chosen, progress): (&[usize], &Progress),
) -> Result<Vec<Halving>, InfluenceError> {
    let mut halved = Vec::new();
    for &source in chosen {
        let Some(problem) = with_half(case, scenario, source) else {
            continue;
        };
        let band = match find_band(scenario, &problem, progress) {
            Ok(result) => result.band.ok(),
            Err(BandError::Stopped { .. }) => return Err(InfluenceError::Stopped),
            Err(error) => return Err(InfluenceError::Band(error)),
        };
        halved.push((source, problem, band));
    }
    let changes = match &found.band {
        Ok(base) => {
            let near = Near::of(&case.problem, base, (scenario, progress))?;
            changes((base, &near), &halved, (scenario, progress))?
        }
        Err(_) => halved
            .iter()
            .map(|(_, _, band)| {
                band.as_ref()
                    .map_or(Change::StaysEmpty, |band| Change::Opens(band.width_m()))
            })
            .collect(),
    };
    let all = halved.into_iter().zip(changes);
    Ok(all
        .map(|((source, _, band), change)| Halving {
            source,
            band,
            change,
        })
        .collect())
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
    Problem::new(&narrowed, &case.world).ok()
}

fn changes(
    (base, near_base): (&Band, &Near),
    halved: &[(usize, Problem, Option<Band>)],
    (scenario, progress): (&Scenario, &Progress),
) -> Result<Vec<Change>, InfluenceError> {
    let mut changes = Vec::new();
    for (_, problem, band) in halved {
        let Some(band) = band else {
            changes.push(Change::Closes);
            continue;
        };
        let near = Near::of(problem, band, (scenario, progress))?;
        let found = band.width_m() - base.width_m();
        let spread = differences(near_base, &near, &scenario.ask);
        changes.push(Change::Wider(Estimate {
            value: found,
            lower: Some(found + spread.0),
            upper: Some(found + spread.1),
        }));
    }
    Ok(changes)
}
