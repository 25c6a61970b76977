//! Variance-based sensitivity: which share of an output's variance is due to each source.
//!
//! The **first-order** index of a source is the share of the variance that would go if the source alone
//! were known exactly; the **total** index the share that would be left if everything else were known.
//! They differ by what the source does together with others. For independent sources the first-order
//! indices sum to at most one.
//!
//! What the function is, a flight or a formula, is left to the caller: a [`Design`] says which samples to
//! look at, [`Design::indices`] reads the indices off their outputs.

use super::luck::{Mix, PARTNERS, Quantities};
use super::quantile::{Estimate, Sorted};
use crate::numeric::counts::{index, real};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// Fewest rows of a design from which indices are given.
pub const FEWEST_ROWS: u64 = 64;
/// Times that the rows are drawn anew for the intervals.
const RESAMPLINGS: usize = 500;

/// Saltelli's design: two independent sets of samples A and B, and for each source the set A with that
/// source taken from B. Source: Saltelli and others, Comput. Phys. Commun. 181 (2010) 259.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Design {
    rows: u64,
    sources: Vec<Quantities>,
}

/// Sensitivity indices of one output.
#[derive(Debug, Clone, PartialEq)]
pub struct Indices {
    /// Mean of the output.
    pub mean: f64,
    /// Its variance.
    pub variance: f64,
    /// First-order index of each source with its bootstrap interval. An estimate may lie a little below 0.
    pub first: Vec<Estimate>,
    /// Total index of each source with its bootstrap interval.
    pub total: Vec<Estimate>,
    /// Sum of the first-order indices with its bootstrap interval.
    pub first_sum: Estimate,
    /// Rows (or, of a rare event, events) that they rest on.
    pub rows: usize,
}

/// Why there are no indices.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SobolError {
    /// Too few rows have a value everywhere.
    #[error("only {0} rows have a value, {FEWEST_ROWS} are needed")]
    TooFewRows(usize),
    /// The output is the same throughout.
    #[error("it is the same in every sample")]
    Constant,
    /// An event that is seen too seldom.
    #[error("seen in {events} of {samples} samples only, {needed} are needed")]
    TooFewEvents {
        /// How often.
        events: u64,
        /// In how many samples.
        samples: u64,
        /// How often it would have to be.
        needed: u64,
    },
    /// An event that is seen in nearly every sample.
    #[error("seen in all but {others} of {samples} samples")]
    NearlyAlways {
        /// Samples without it.
        others: u64,
        /// Samples.
        samples: u64,
    },
}

/// How intervals are made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resampling {
    /// Two-sided confidence, in (0, 1).
    pub confidence: f64,
    /// Seed of the resampling.
    pub seed: u64,
}

impl Design {
    /// A design of so many rows over these sources.
    #[must_use]
    pub fn new(rows: u64, sources: Vec<Quantities>) -> Self {
        Self { rows, sources }
    }

    /// Samples to look at: rows times the number of sources and two.
    #[must_use]
    pub fn samples(&self) -> u64 {
        self.rows * (self.sources.len() as u64 + 2)
    }

    /// Whose luck the `n`th sample has, for `n` below [`Design::samples`].
    #[must_use]
    pub fn mix(&self, n: u64) -> Mix {
        let (part, base) = (n / self.rows.max(1), n % self.rows.max(1));
        let exchanged = match usize::try_from(part) {
            Ok(0) => Quantities::NONE,
            Ok(part) if part > 1 => self.sources.get(part - 2).copied().unwrap_or_default(),
            _ => Quantities::ALL,
        };
        Mix {
            base,
            partner: PARTNERS + base,
            exchanged,
        }
    }

    /// The indices of an output from its values in the order of the samples; a row in which one of them is
    /// missing or not finite is left out.
    ///
    /// First order: Saltelli and others (2010), mean of f(B)·(f(`AB_i`) − f(A)), with the mean of f taken off
    /// f(B); total: Jansen, Comput. Phys. Commun. 117 (1999) 35, half the mean of (f(A) − f(`AB_i`))².
    ///
    /// # Errors
    /// [`SobolError`]: too few rows, or an output that does not vary.
    pub fn indices(
        &self,
        outputs: &[Option<f64>],
        resampling: &Resampling,
    ) -> Result<Indices, SobolError> {
        let rows = index(self.rows).max(1);
        let parts: Vec<&[Option<f64>]> = outputs.chunks(rows).collect();
        let value = |part: &[Option<f64>], row: usize| {
            part.get(row).copied().flatten().filter(|v| v.is_finite())
        };
        let complete: Option<Vec<Vec<f64>>> = (parts.len() == self.sources.len() + 2).then(|| {
            let whole = |row: usize| parts.iter().map(|part| value(part, row)).collect();
            (0..rows).filter_map(whole).collect()
        });
        let complete = complete.unwrap_or_default();
        if (complete.len() as u64) < FEWEST_ROWS {
            return Err(SobolError::TooFewRows(complete.len()));
        }
        let n = real(complete.len());
        let mean = complete
            .iter()
            .map(|row| 0.5 * (row[0] + row[1]))
            .sum::<f64>()
            / n;
        let terms: Vec<Vec<f64>> = complete.iter().map(|row| terms(row, mean)).collect();
        let count = self.sources.len();
        let read = |sums: &[f64]| read(sums, count);
        let (variance, shares) = read(&average(&terms, None));
        if !(variance > 1e-18 * mean * mean) {
            return Err(SobolError::Constant);
        }
        let again = resampled(&terms, resampling.seed);
        let again: Vec<Vec<f64>> = again.iter().map(|sums| read(sums).1).collect();
        let bounded = bounded(&shares, &again, resampling.confidence);
        Ok(Indices {
            mean,
            variance,
            first: bounded[..count].to_vec(),
            total: bounded[count..2 * count].to_vec(),
            first_sum: bounded[2 * count],
            rows: complete.len(),
        })
    }
}

/// What one row adds: deviation and its square, then for each source what first order and total rest on.
fn terms(row: &[f64], mean: f64) -> Vec<f64> {
    let (a, b) = (row[0] - mean, row[1] - mean);
    let mut terms = vec![0.5 * (a + b), 0.5 * (a * a + b * b)];
    for mixed in &row[2..] {
        let mixed = mixed - mean;
        terms.push(b * (mixed - a));
        terms.push(0.5 * (a - mixed) * (a - mixed));
    }
    terms
}

/// Variance, and the first-order indices, the total ones and the sum of the first, from the means of the terms.
fn read(means: &[f64], sources: usize) -> (f64, Vec<f64>) {
    let variance = means[1] - means[0] * means[0];
    let first = (0..sources).map(|i| means[2 + 2 * i] / variance);
    let total = (0..sources).map(|i| means[3 + 2 * i] / variance);
    let mut shares: Vec<f64> = first.chain(total).collect();
    shares.push(shares[..sources].iter().sum());
    (variance, shares)
}

/// Means of the columns, with each row counted as often as `times` says, or once.
fn average(rows: &[Vec<f64>], times: Option<&[u32]>) -> Vec<f64> {
    let mut sums = vec![0.0; rows.first().map_or(0, Vec::len)];
    for (i, row) in rows.iter().enumerate() {
        let weight = times.map_or(1.0, |times| f64::from(times[i]));
        if weight > 0.0 {
            for (sum, term) in sums.iter_mut().zip(row) {
                *sum += weight * term;
            }
        }
    }
    sums.iter().map(|sum| sum / real(rows.len())).collect()
}

/// Means of the columns over rows drawn anew with replacement, many times over.
pub(super) fn resampled(rows: &[Vec<f64>], seed: u64) -> Vec<Vec<f64>> {
    let mut drawing = Redraw::new(seed, rows.len());
    (0..RESAMPLINGS)
        .map(|_| average(rows, Some(drawing.next())))
        .collect()
}

/// Draws with replacement: how often each of some things is drawn when as many are drawn as there are.
pub struct Redraw {
    generator: ChaCha8Rng,
    times: Vec<u32>,
}

impl Redraw {
    /// Draws among `count` things.
    #[must_use]
    pub fn new(seed: u64, count: usize) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        // A stream that no sample has.
        generator.set_stream(u64::MAX);
        Self {
            generator,
            times: vec![0; count],
        }
    }

    /// How often each is drawn this time.
    #[expect(clippy::should_implement_trait, reason = "what it lends is its own")]
    pub fn next(&mut self) -> &[u32] {
        self.times.fill(0);
        let count = self.times.len() as u128;
        for _ in 0..self.times.len() {
            // The high word of a product is uniform below the count, to 2^-64 of it.
            let place = (u128::from(self.generator.next_u64()) * count) >> 64;
            if let Some(times) = usize::try_from(place)
                .ok()
                .and_then(|i| self.times.get_mut(i))
            {
                *times += 1;
            }
        }
        &self.times
    }
}

/// Each estimate with the quantiles of its resampled values.
pub(super) fn bounded(estimates: &[f64], resampled: &[Vec<f64>], confidence: f64) -> Vec<Estimate> {
    let side = 0.5 * (1.0 - confidence);
    let bound = |(i, &value): (usize, &f64)| {
        let values = resampled.iter().map(|shares| shares[i]);
        let sorted = Sorted::new(values.filter(|v| v.is_finite()).collect()).ok();
        Estimate {
            value,
            lower: sorted.as_ref().map(|sorted| sorted.quantile(side)),
            upper: sorted.as_ref().map(|sorted| sorted.quantile(1.0 - side)),
        }
    };
    estimates.iter().enumerate().map(bound).collect()
}
