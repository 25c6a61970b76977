//! What a scenario knows before a pass, as a normal distribution of standard scores: one score for each
//! uncertain number that can move a flight, with the correlations of the scenario. Fitting to it is left
//! to the study.

use super::distribution::Quantiles;
use super::draws::{DrawsError, correlation_matrix, quantiles_by_number};
use super::problem::Numbers;
use crate::scenario::uncertainty::{Number, Uncertainty};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// The uncertain numbers of a scenario as correlated standard scores.
#[derive(Debug, Clone)]
pub struct Prior {
    numbers: Vec<Number>,
    quantiles: Vec<Quantiles>,
    correlation: DMatrix<f64>,
    /// Lower factor of the correlation matrix.
    factor: DMatrix<f64>,
    nominal: Numbers,
}

/// Added to the diagonal of a correlation matrix that has no inverse.
const RIDGE: f64 = 1e-10;

impl Prior {
    /// The prior of a scenario's uncertainty, over `nominal` for what is certain.
    ///
    /// Limits, the nose radius and the errors of heating are left out: they move no flight.
    ///
    /// # Errors
    /// [`DrawsError`] for uncertainties that cannot be drawn.
    pub fn new(uncertainty: &Uncertainty, nominal: &Numbers) -> Result<Self, DrawsError> {
        let all = quantiles_by_number(uncertainty)?;
        let matrix = correlation_matrix(&uncertainty.correlations, &all)?;
        let still = |number: Number| {
            number.is_limit() || number == Number::NoseRadius || Number::HEATING.contains(&number)
        };
        let kept: Vec<(Number, Quantiles)> = Number::ALL
            .into_iter()
            .zip(all)
            .filter(|(number, _)| !still(*number))
            .filter_map(|(number, quantiles)| Some((number, quantiles?)))
            .collect();
        let (numbers, quantiles): (Vec<Number>, Vec<Quantiles>) = kept.into_iter().unzip();
        let count = numbers.len();
        let correlation = DMatrix::from_fn(count, count, |i, j| {
            matrix[numbers[i] as usize][numbers[j] as usize]
        });
        Ok(Self::of(numbers, quantiles, (correlation, *nominal)))
    }

    fn of(
        numbers: Vec<Number>,
        quantiles: Vec<Quantiles>,
        (correlation, nominal): (DMatrix<f64>, Numbers),
    ) -> Self {
        let factor = lower(&correlation);
        Self {
            numbers,
            quantiles,
            correlation,
            factor,
            nominal,
        }
    }

    /// The same prior of those numbers alone that `keep` chooses by their place; the others stay at their middle.
    #[must_use]
    pub fn without(&self, keep: &[bool]) -> Self {
        let places: Vec<usize> = (0..self.numbers.len()).filter(|&i| keep[i]).collect();
        let middle = self.at(&DVector::zeros(self.numbers.len()));
        let correlation = DMatrix::from_fn(places.len(), places.len(), |i, j| {
            self.correlation[(places[i], places[j])]
        });
        Self::of(
            places.iter().map(|&i| self.numbers[i]).collect(),
            places.iter().map(|&i| self.quantiles[i]).collect(),
            (correlation, middle),
        )
    }

    /// The uncertain numbers, in the order of the scores.
    #[must_use]
    pub fn numbers(&self) -> &[Number] {
        &self.numbers
    }

    /// Correlation matrix of the scores.
    #[must_use]
    pub fn correlation(&self) -> &DMatrix<f64> {
        &self.correlation
    }

    /// Lower factor L of the correlation matrix: scores are L times independent standard scores.
    #[must_use]
    pub fn factor(&self) -> &DMatrix<f64> {
        &self.factor
    }

    /// All numbers of a flight with these scores.
    #[must_use]
    pub fn at(&self, scores: &DVector<f64>) -> Numbers {
        let mut numbers = self.nominal;
        for ((number, quantiles), score) in
            self.numbers.iter().zip(&self.quantiles).zip(scores.iter())
        {
            numbers[*number as usize] = quantiles.from_normal_score(*score);
        }
        numbers
    }

    /// The value of the number at this place with a score.
    #[must_use]
    pub fn value(&self, place: usize, score: f64) -> f64 {
        self.quantiles[place].from_normal_score(score)
    }

    /// Change of that value with its score.
    #[must_use]
    pub fn slope(&self, place: usize, score: f64) -> f64 {
        const STEP: f64 = 1e-4;
        (self.value(place, score + STEP) - self.value(place, score - STEP)) / (2.0 * STEP)
    }
}

/// The lower factor of a correlation matrix, of a slightly looser one where it has no inverse.
#[must_use]
pub fn lower(matrix: &DMatrix<f64>) -> DMatrix<f64> {
    let mut loosened = matrix.clone();
    let mut ridge = RIDGE;
    loop {
        match Cholesky::<f64, Dyn>::new(loosened.clone()) {
            Some(factor) => return factor.l(),
            // The scenario was checked to be positive semi-definite to 1e-10: a few rounds are enough.
            None if ridge < 1.0 => {
                loosened = matrix + DMatrix::identity(matrix.nrows(), matrix.ncols()) * ridge;
                ridge *= 100.0;
            }
            None => return DMatrix::identity(matrix.nrows(), matrix.ncols()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{STARTER, Scenario};

    #[test]
    fn scores_give_the_values_that_the_draws_would() {
        let scenario = Scenario::from_text("starter.yaml", STARTER).unwrap();
        let mut nominal = [0.0; Number::COUNT];
        nominal[Number::Inclination as usize] = 0.5;
        let prior = Prior::new(&scenario.uncertainty, &nominal).unwrap();
        assert!(!prior.numbers().contains(&Number::NoseRadius));
        let place = |number| prior.numbers().iter().position(|n| *n == number).unwrap();
        let mass = place(Number::ShipMass);
        // 62 t with a standard deviation of 0.3 %: 186 kg.
        assert!((prior.value(mass, 1.0) - 62_186.0).abs() < 1e-6);
        assert!((prior.slope(mass, -2.0) - 186.0).abs() < 1e-6);
        let mut scores = DVector::zeros(prior.numbers().len());
        scores[mass] = 2.0;
        let numbers = prior.at(&scores);
        assert!((numbers[Number::ShipMass as usize] - 62_372.0).abs() < 1e-6);
        assert!((numbers[Number::Inclination as usize] - 0.5).abs() < 1e-15);
        let mut keep = vec![true; prior.numbers().len()];
        keep[mass] = false;
        let without = prior.without(&keep);
        let numbers = without.at(&DVector::zeros(keep.len() - 1));
        assert!((numbers[Number::ShipMass as usize] - 62_000.0).abs() < 1e-6);
    }
}
