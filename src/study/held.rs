//! What the same arrivals would do with the bank held: the measure of what steering is worth.

use super::band::{BandError, BandResult, find_band_kept};
use super::case::Case;
use super::kept::Keeper;
use super::outcome::{Outcome, Quantity, describe_aim};
use crate::ensemble::quantile::Described;
use crate::ensemble::{Fleet, Progress};

/// The band of the ship that holds its bank (and keeps its skirt), and its samples at the aim to take.
#[derive(Debug, Clone)]
pub struct Held {
    /// The band, or why there is none.
    pub result: BandResult,
    /// What the samples of its recommended aim did.
    pub outcome: Outcome,
}

/// Looks for the band of the same scenario with its ship unsteered; what `keeper` has of it is not flown again.
///
/// # Errors
/// As [`find_band_kept`].
pub fn find_held(
    case: &Case,
    (progress, keeper): (&Progress, Option<&dyn Keeper>),
) -> Result<Held, BandError> {
    let problem = case.problem.unsteered();
    let result = find_band_kept(&case.scenario, &problem, (progress, keeper))?;
    let fleet = Fleet::new(&problem, progress);
    let confidence = case.scenario.ask.confidence;
    let aim = (result.recommended.aim_m, result.told_by.clone());
    let outcome =
        describe_aim(&fleet, aim, confidence, |_| {}).map_err(|_| BandError::Stopped {
            kept: result.points.clone(),
        })?;
    Ok(Held { result, outcome })
}

/// What the samples of an aim have of a quantity; `None` where none has any.
#[must_use]
pub fn described(outcome: &Outcome, quantity: Quantity) -> Option<&Described> {
    let found = outcome
        .described
        .iter()
        .find(|(known, _)| *known == quantity);
    found.and_then(|(_, described)| described.as_ref())
}

/// Three sigma of a quantity as its quantiles have it: half the way from 0.135 to 99.865 %.
#[must_use]
pub fn three_sigma(outcome: &Outcome, quantity: Quantity) -> Option<f64> {
    let described = described(outcome, quantity)?;
    Some(0.5 * (described.p99_865.value - described.p00_135.value))
}
