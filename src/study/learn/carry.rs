//! What is carried to the next pass: ship and air as they are known now. The delivery of a pass is its own
//! and stays as uncertain as it was.

use super::Learned;
use super::known::stays;
use crate::scenario::learned::Known;
use crate::scenario::message::InputError;
use crate::scenario::uncertainty::Number;
use crate::study::Case;
use std::path::Path;

/// Whether a number is one of the air, of which the next pass may meet another.
fn of_air(number: Number) -> bool {
    matches!(
        number,
        Number::AirDensity | Number::AirScaleHeight | Number::AirWind
    )
}

/// What is known of ship and air for the next pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Carried {
    /// The numbers.
    pub known: Vec<Known>,
    /// Correlations of their scores.
    pub correlations: Vec<(Number, Number, f64)>,
}

impl Carried {
    /// What of a fit is there at the next pass. `memory` from 0 to 1 is the correlation of the air then with the
    /// air of the flown pass: 1 is the same air, 0 is air of which nothing was learned.
    #[must_use]
    pub fn new(case: &Case, learned: &Learned, memory: f64) -> Self {
        let numbers = learned.prior.numbers();
        let kept: Vec<usize> = (0..numbers.len()).filter(|&k| stays(numbers[k])).collect();
        let share = |k: usize| if of_air(numbers[k]) { memory } else { 1.0 };
        let fresh = |k: usize| (1.0 - share(k) * share(k)).max(0.0).sqrt();
        let covariance = |i: usize, j: usize| {
            share(i) * share(j) * learned.covariance[(i, j)]
                + fresh(i) * fresh(j) * learned.prior.correlation()[(i, j)]
        };
        let means = case.scenario.uncertainty.air_parts.means;
        let (scale_height, wind) = case.problem.air_draws().spreads();
        let known = kept
            .iter()
            .map(|&k| {
                let left = covariance(k, k).sqrt();
                let score = share(k) * learned.parameters[k].score.0;
                let (middle, std_dev) = match numbers[k] {
                    Number::AirScaleHeight => (
                        means.scale_height + scale_height * score,
                        scale_height * left,
                    ),
                    Number::AirWind => (means.wind_m_s + wind * score, wind * left),
                    _ => (
                        learned.prior.value(k, score),
                        learned.prior.slope(k, score).abs() * left,
                    ),
                };
                Known {
                    number: numbers[k],
                    middle,
                    std_dev,
                    score,
                    left,
                }
            })
            .collect();
        let mut correlations = Vec::new();
        for (at, &i) in kept.iter().enumerate() {
            for &j in &kept[at + 1..] {
                let coefficient = covariance(i, j) / (covariance(i, i) * covariance(j, j)).sqrt();
                if coefficient.abs() > 1e-7 {
                    // Rounding must not make the matrix lose its definiteness.
                    correlations.push((numbers[i], numbers[j], coefficient * (1.0 - 1e-8)));
                }
            }
        }
        Self {
            known,
            correlations,
        }
    }

    /// The scenario of the next pass, below `comment`, to be kept as `path`.
    ///
    /// # Errors
    /// [`InputError`] when what was learned contradicts a bound of the scenario.
    pub fn scenario(
        &self,
        case: &Case,
        (comment, path): (&str, &Path),
    ) -> Result<String, InputError> {
        case.scenario
            .with_known(&self.known, &self.correlations, (comment, path))
    }
}
