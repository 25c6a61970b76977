//! The luck of every sample: which value each uncertain number takes in sample `i`.
//! Flying the sample, and turning the density score into air, is left to others.
//!
//! The value of number `k` in sample `i` is a function of (seed, `i`, `k`) alone: `i` picks a
//! stream of the `ChaCha8` generator and the draw index of `k` a word in it, so that one more
//! uncertain number, another order or another thread never moves the rest.

use crate::ensemble::distribution::{Chance, DistributionError, Quantiles};
use crate::ensemble::luck::{Luck, Mix};
use crate::scenario::uncertainty::{
    AirDensity, AirPart, Correlation, Distribution, Number, Uncertainty,
};

/// Why nothing can be drawn.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum DrawsError {
    /// A distribution has parameters out of range.
    #[error("{number:?} cannot be drawn")]
    Distribution {
        /// The number it belongs to.
        number: Number,
        /// What is wrong with it.
        source: DistributionError,
    },
    /// A number is listed twice, or air density, which has its own place, among the numbers.
    #[error("{0:?} is listed twice")]
    Twice(Number),
    /// A correlation names a number that is not uncertain.
    #[error("{0:?} is correlated but not uncertain")]
    NotUncertain(Number),
    /// A coefficient outside (−1, 1), a number with itself, or a pair that is listed twice.
    #[error("the correlation of {0:?} and {1:?} is out of range or listed twice")]
    Correlation(Number, Number),
    /// The correlations contradict each other: the matrix they form has a negative eigenvalue.
    #[error("the correlations contradict each other, seen at {0:?}")]
    Contradiction(Number),
}

/// One number drawn from its own word alone.
#[derive(Debug, Clone, Copy)]
pub(super) struct Alone {
    pub(super) index: usize,
    pub(super) quantiles: Quantiles,
}

/// One number whose normal score leans on those of the numbers before it.
#[derive(Debug, Clone)]
pub(super) struct Correlated {
    pub(super) index: usize,
    pub(super) quantiles: Quantiles,
    /// Its row of the lower factor of the correlation matrix, up to the diagonal.
    pub(super) row: Vec<f64>,
}

/// The draws of one scenario and seed.
#[derive(Debug, Clone)]
pub struct Draws {
    luck: Luck,
    /// Words to read: one more than the highest draw index in use.
    words: usize,
    pub(super) alone: Vec<Alone>,
    /// In the order of their draw indices.
    pub(super) correlated: Vec<Correlated>,
}

impl Draws {
    /// Makes the draws ready.
    ///
    /// # Errors
    /// A distribution out of range, a number listed twice, correlations that are out of range,
    /// of a certain number, or without a positive semi-definite matrix.
    pub fn new(uncertainty: &Uncertainty, seed: u64) -> Result<Self, DrawsError> {
        let quantiles = quantiles_by_number(uncertainty)?;
        let matrix = correlation_matrix(&uncertainty.correlations, &quantiles)?;
        let mut draws = Self {
            luck: Luck::new(seed),
            words: 0,
            alone: Vec::new(),
            correlated: Vec::new(),
        };
        let mut together = Vec::new();
        for (index, quantiles) in quantiles.iter().enumerate() {
            let Some(quantiles) = *quantiles else {
                continue;
            };
            draws.words = index + 1;
            if (0..Number::COUNT).any(|other| other != index && matrix[index][other] != 0.0) {
                together.push((index, quantiles));
            } else {
                draws.alone.push(Alone { index, quantiles });
            }
        }
        let indices: Vec<usize> = together.iter().map(|(index, _)| *index).collect();
        let factor = lower_factor(&matrix, &indices)?;
        for ((index, quantiles), row) in together.into_iter().zip(factor) {
            draws.correlated.push(Correlated {
                index,
                quantiles,
                row,
            });
        }
        Ok(draws)
    }

    /// Overwrites the uncertain entries of `values` (SI, at their draw indices) with those of one sample.
    ///
    /// Certain entries stay as they came. Delivery entries are errors about their own mean.
    /// Air density becomes the standard normal score under [`AirDensity::World`], the natural
    /// log of the density factor under [`AirDensity::LogFactor`], and stays under [`AirDensity::Exact`];
    /// scale height and wind become standard normal scores.
    pub fn fill(&self, sample: u64, values: &mut [f64; Number::COUNT]) {
        self.fill_mixed(Mix::of(sample), values);
    }

    /// As [`Draws::fill`], of a sample that is mixed from two.
    pub fn fill_mixed(&self, mix: Mix, values: &mut [f64; Number::COUNT]) {
        let mut words = [0; Number::COUNT];
        self.luck.words(mix, &mut words[..self.words]);
        for Alone { index, quantiles } in &self.alone {
            values[*index] = quantiles.at(Chance::from_bits(words[*index]));
        }
        let mut scores = [0.0; Number::COUNT];
        for (
            k,
            Correlated {
                index,
                quantiles,
                row,
            },
        ) in self.correlated.iter().enumerate()
        {
            scores[k] = Chance::from_bits(words[*index]).normal_score();
            let leaning = row.iter().zip(&scores).map(|(l, z)| l * z).sum();
            values[*index] = quantiles.from_normal_score(leaning);
        }
    }
}

/// What each number is drawn from, at its draw index; `None` for the certain ones.
pub(super) fn quantiles_by_number(
    uncertainty: &Uncertainty,
) -> Result<[Option<Quantiles>; Number::COUNT], DrawsError> {
    let density = match uncertainty.air_density {
        AirDensity::World { .. } => Some(Distribution::Normal {
            mean: 0.0,
            std_dev: 1.0,
        }),
        AirDensity::LogFactor(distribution) => Some(distribution),
        AirDensity::Exact => None,
    };
    let score = Distribution::Normal {
        mean: 0.0,
        std_dev: 1.0,
    };
    let parts = &uncertainty.air_parts;
    let scale_height = (parts.scale_height != AirPart::Exact).then_some(score);
    let wind = (parts.wind != AirPart::Exact).then_some(score);
    let air = [
        (Number::AirDensity, density),
        (Number::AirScaleHeight, scale_height),
        (Number::AirWind, wind),
    ];
    let density = air.into_iter().filter_map(|(number, d)| Some((number, d?)));
    if uncertainty
        .numbers
        .iter()
        .any(|u| u.number == Number::AirDensity)
    {
        return Err(DrawsError::Twice(Number::AirDensity));
    }
    let listed = uncertainty
        .numbers
        .iter()
        .map(|u| (u.number, u.distribution));
    let mut quantiles = [None; Number::COUNT];
    for (number, distribution) in density.chain(listed) {
        let ready = Quantiles::new(distribution)
            .map_err(|source| DrawsError::Distribution { number, source })?;
        if quantiles[number as usize].replace(ready).is_some() {
            return Err(DrawsError::Twice(number));
        }
    }
    Ok(quantiles)
}

pub(super) type Matrix = [[f64; Number::COUNT]; Number::COUNT];

/// The correlation matrix of the normal scores of all numbers, ones on the diagonal.
pub(super) fn correlation_matrix(
    correlations: &[Correlation],
    quantiles: &[Option<Quantiles>; Number::COUNT],
) -> Result<Matrix, DrawsError> {
    let mut matrix = [[0.0; Number::COUNT]; Number::COUNT];
    for (i, row) in matrix.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    let mut seen = Vec::new();
    for Correlation {
        between: (a, b),
        coefficient,
    } in correlations
    {
        for number in [*a, *b] {
            if quantiles[number as usize].is_none() {
                return Err(DrawsError::NotUncertain(number));
            }
        }
        let pair = (*a.min(b), *a.max(b));
        if a == b || seen.contains(&pair) || coefficient.is_nan() || coefficient.abs() >= 1.0 {
            return Err(DrawsError::Correlation(*a, *b));
        }
        seen.push(pair);
        matrix[*a as usize][*b as usize] = *coefficient;
        matrix[*b as usize][*a as usize] = *coefficient;
    }
    Ok(matrix)
}

/// Rows of the lower factor L, L·Lᵀ = the matrix among `indices`; a singular matrix has zero columns in L.
///
/// A plain Cholesky factor in a fixed order of operations; numbers that no chain of
/// correlations joins have exact zeros between them.
fn lower_factor(matrix: &Matrix, indices: &[usize]) -> Result<Vec<Vec<f64>>, DrawsError> {
    /// A pivot at or below this is rounding, and is taken as 0; a matrix of ones on the diagonal.
    const PIVOT_IS_ZERO: f64 = 1e-13;
    /// How far below 0 a pivot may lie: coefficients written with few digits at the edge of what is possible.
    const PIVOT_IS_NEGATIVE: f64 = -1e-9;
    /// What a zero pivot may leave in its column: the square root of a zero pivot, and a margin.
    const LEFT_OVER: f64 = 1e-6;
    let mut rows: Vec<Vec<f64>> = Vec::with_capacity(indices.len());
    for (i, at) in indices.iter().enumerate() {
        let contradiction = DrawsError::Contradiction(Number::ALL[*at]);
        let mut row: Vec<f64> = Vec::with_capacity(i + 1);
        for j in 0..i {
            let known = row.iter().zip(&rows[j]).map(|(a, b)| a * b).sum::<f64>();
            let rest = matrix[*at][indices[j]] - known;
            let pivot = rows[j][j];
            if pivot == 0.0 && rest.abs() > LEFT_OVER {
                return Err(contradiction);
            }
            row.push(if pivot == 0.0 { 0.0 } else { rest / pivot });
        }
        let square = 1.0 - row.iter().map(|a| a * a).sum::<f64>();
        if square < PIVOT_IS_NEGATIVE {
            return Err(contradiction);
        }
        row.push(if square <= PIVOT_IS_ZERO {
            0.0
        } else {
            square.sqrt()
        });
        rows.push(row);
    }
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::uncertainty::AirParts;
    use crate::scenario::uncertainty::Uncertain;
    use Number::{
        AirDensity as Air, BankAngle as Bank, DeliveryAngle as Angle, DeliverySpeed as Speed,
        NoseRadius as Nose, ReferenceArea as Area, ShipMass as Mass,
    };

    fn uncertain(numbers: &[Number]) -> Uncertainty {
        let (mean, std_dev) = (0.0, 1.0);
        let distribution = Distribution::Normal { mean, std_dev };
        let entry = |number| Uncertain {
            number,
            distribution,
        };
        Uncertainty {
            numbers: numbers.iter().copied().map(entry).collect(),
            air_density: AirDensity::World { factor: 1.0 },
            air_parts: AirParts::default(),
            correlations: Vec::new(),
        }
    }

    fn correlated(a: Number, b: Number, coefficient: f64) -> Correlation {
        let between = (a, b);
        Correlation {
            between,
            coefficient,
        }
    }

    fn sample(uncertainty: &Uncertainty, seed: u64, i: u64) -> [f64; Number::COUNT] {
        let mut values = [-1.0; Number::COUNT];
        Draws::new(uncertainty, seed).unwrap().fill(i, &mut values);
        values
    }

    #[test]
    fn golden_draws_hold() {
        // Computed by an independent ChaCha8 and the inverse normal of SciPy, to its 2e-15; the bits
        // are those of this code. Mint them anew only when draws are meant to change, and tell users.
        let all = uncertain(&[Angle, Mass, Number::LimitDynamicPressure]);
        for (at, reference, bits) in [
            (
                (1, 0, 1),
                -1.402_495_216_781_435_5,
                0xbff6_709e_d30d_f690_u64,
            ),
            ((1, 0, 6), -0.097_692_657_147_429_92, 0xbfb9_0262_cf81_eef0),
            (
                (1, 12345, 5),
                -2.000_831_391_787_410_8,
                0xc000_01b3_e384_4bf7,
            ),
            (
                (7, 1 << 40, 19),
                1.334_711_514_209_428_4,
                0x3ff5_5afa_75f1_fc72,
            ),
        ] {
            let (seed, i, k) = at;
            let value = sample(&all, seed, i)[k];
            assert!((value - reference).abs() < 4e-15, "{value}");
            assert_eq!(value.to_bits(), bits, "{:#x}", value.to_bits());
        }
    }

    #[test]
    fn one_more_number_or_correlation_moves_no_other() {
        let few = uncertain(&[Speed, Area]);
        let mut more = uncertain(&[Angle, Speed, Mass, Area, Bank]);
        more.correlations = vec![correlated(Angle, Mass, 0.5)];
        let mut most = more.clone();
        most.correlations.push(correlated(Bank, Area, -0.3));
        let same = |x: &Uncertainty, y: &Uncertainty, i, number| {
            let at = number as usize;
            assert_eq!(sample(x, 3, i)[at].to_bits(), sample(y, 3, i)[at].to_bits());
        };
        for i in [0, 1, 99, u64::MAX] {
            same(&few, &more, i, Speed);
            same(&few, &more, i, Area);
            same(&few, &most, i, Speed);
            same(&few, &most, i, Air);
            same(&more, &most, i, Angle);
            same(&more, &most, i, Mass);
        }
    }

    #[test]
    fn the_order_of_samples_does_not_matter_and_certain_numbers_stay() {
        let draws = Draws::new(&uncertain(&[Mass]), 9).unwrap();
        let bits = |i| {
            let mut values = [-1.0; Number::COUNT];
            draws.fill(i, &mut values);
            values.map(f64::to_bits)
        };
        let forward: Vec<_> = (0..20).map(bits).collect();
        let mut backward: Vec<_> = (0..20).rev().map(bits).collect();
        backward.reverse();
        assert_eq!(forward, backward);
        assert_ne!(forward[0], forward[1]);
        let untouched = (-1.0f64).to_bits();
        assert!(
            forward
                .iter()
                .all(|v| v[0] == untouched && v[19] == untouched)
        );
    }

    #[test]
    fn a_singular_matrix_ties_the_numbers_together() {
        let mut tied = uncertain(&[Angle, Mass, Bank]);
        tied.correlations = vec![correlated(Angle, Mass, 0.6), correlated(Bank, Angle, 0.8)];
        for i in 0..50 {
            let v = sample(&tied, 1, i);
            let rest = v[Angle as usize] - 0.6 * v[Mass as usize] - 0.8 * v[Bank as usize];
            assert!(rest.abs() < 1e-14, "{rest}");
        }
    }

    #[test]
    fn impossible_requests_are_errors() {
        use DrawsError as E;
        let with = |correlations: &[(Number, Number, f64)]| {
            let mut request = uncertain(&[Angle, Mass, Bank]);
            let listed = correlations.iter().map(|(a, b, c)| correlated(*a, *b, *c));
            request.correlations = listed.collect();
            Draws::new(&request, 1).unwrap_err()
        };
        let against = [(Angle, Mass, 0.9), (Mass, Bank, 0.9), (Angle, Bank, -0.9)];
        assert_eq!(with(&against), E::Contradiction(Bank));
        assert_eq!(with(&[(Angle, Mass, 1.0)]), E::Correlation(Angle, Mass));
        let twice = [(Angle, Mass, 0.1), (Mass, Angle, 0.1)];
        assert_eq!(with(&twice), E::Correlation(Mass, Angle));
        assert_eq!(with(&[(Mass, Nose, 0.1)]), E::NotUncertain(Nose));
        for (listed, number) in [([Mass, Mass], Mass), ([Air, Mass], Air)] {
            let refused = Draws::new(&uncertain(&listed), 1).unwrap_err();
            assert_eq!(refused, E::Twice(number));
        }
    }
}
