//! What a sample of one output says: mean, spread and quantiles, each with a confidence interval.
//! Which outputs are described, and what is done with failed samples, is left to the callers.

use crate::ensemble::distribution::normal_score;
use crate::ensemble::interval::{StatisticsError, at_most, checked_probability};
use crate::numeric::counts::index;
use crate::numeric::elementary::exp;
use serde::Serialize;

/// Fewest values from which intervals of mean and standard deviation are given: both are asymptotic.
pub const FEWEST_FOR_MOMENTS: u64 = 30;

/// A statistic of a sample with its two-sided confidence interval, in the unit of the values.
///
/// An end is `None` when the sample is too small to bound the statistic on that side.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Estimate {
    /// The statistic.
    pub value: f64,
    /// Lower end of the interval.
    pub lower: Option<f64>,
    /// Upper end of the interval.
    pub upper: Option<f64>,
}

/// A sample of one output in a few numbers; the quantile keys are per cent, the outer two are those of ±3 sigma.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Described {
    /// How many values.
    pub count: usize,
    /// Mean, see [`Moments::mean_estimate`].
    pub mean: Estimate,
    /// Standard deviation, see [`Moments::std_dev_estimate`].
    pub std_dev: Estimate,
    /// 0.135 % quantile, see [`Sorted::quantile_estimate`].
    pub p00_135: Estimate,
    /// 5 % quantile.
    pub p05: Estimate,
    /// Median.
    pub p50: Estimate,
    /// 95 % quantile.
    pub p95: Estimate,
    /// 99 % quantile.
    pub p99: Estimate,
    /// 99.865 % quantile.
    pub p99_865: Estimate,
}

impl Described {
    /// Describes a sample; every interval has the same `confidence`, in (0, 1).
    ///
    /// # Errors
    /// Fewer than two values, a value that is not finite, a confidence outside (0, 1).
    pub fn of(values: Vec<f64>, confidence: f64) -> Result<Self, StatisticsError> {
        let mut moments = Moments::default();
        for value in &values {
            moments.push(*value);
        }
        let sorted = Sorted::new(values)?;
        let quantile = |probability| sorted.quantile_estimate(probability, confidence);
        Ok(Self {
            count: sorted.values().len(),
            mean: moments.mean_estimate(confidence)?,
            std_dev: moments.std_dev_estimate(confidence)?,
            p00_135: quantile(0.00135)?,
            p05: quantile(0.05)?,
            p50: quantile(0.5)?,
            p95: quantile(0.95)?,
            p99: quantile(0.99)?,
            p99_865: quantile(0.99865)?,
        })
    }
}

/// Mean and central moments to the fourth in one pass over the values.
///
/// Values are taken as differences from the first one, so that a large common part costs no digits.
/// Merging in the same order gives the same bits. A value that is not finite spoils the results.
/// Source of the updates: Pébay, Sandia report SAND2008-6212 (2008), equations for arbitrary parts.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Moments {
    count: u64,
    origin: f64,
    /// Mean of the values less `origin`.
    mean: f64,
    /// Sums of the second, third and fourth powers of the differences from the mean.
    powers: [f64; 3],
}

impl Moments {
    /// Takes in one value.
    pub fn push(&mut self, value: f64) {
        self.merge(&Self {
            count: 1,
            origin: value,
            mean: 0.0,
            powers: [0.0; 3],
        });
    }

    /// Takes in all values of another part.
    pub fn merge(&mut self, other: &Self) {
        if other.count == 0 {
            return;
        }
        if self.count == 0 {
            *self = *other;
            return;
        }
        let (na, nb) = (self.count_f64(), other.count_f64());
        let n = na + nb;
        let delta = (other.origin - self.origin) + (other.mean - self.mean);
        let (fa, fb) = (na / n, nb / n);
        let d2 = delta * delta;
        let [a2, a3, a4] = self.powers;
        let [b2, b3, b4] = other.powers;
        self.powers = [
            a2 + b2 + d2 * na * fb,
            a3 + b3 + d2 * delta * na * fb * (fa - fb) + 3.0 * delta * (fa * b2 - fb * a2),
            a4 + b4
                + d2 * d2 * na * fb * (fa * fa - fa * fb + fb * fb)
                + 6.0 * d2 * (fa * fa * b2 + fb * fb * a2)
                + 4.0 * delta * (fa * b3 - fb * a3),
        ];
        self.mean += delta * fb;
        self.count += other.count;
    }

    /// How many values were taken in.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Mean; `None` without values.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then_some(self.origin + self.mean)
    }

    /// Standard deviation with n − 1 in the denominator; `None` below two values.
    #[must_use]
    pub fn std_dev(&self) -> Option<f64> {
        (self.count > 1).then(|| (self.powers[0] / (self.count_f64() - 1.0)).sqrt())
    }

    /// The mean with Student's interval: exact for normal values, asymptotic for others.
    ///
    /// The quantile of Student's t is its expansion to the fourth order in 1/(n − 1)
    /// (Abramowitz and Stegun, 26.7.5); no interval below [`FEWEST_FOR_MOMENTS`] values.
    ///
    /// # Errors
    /// Fewer than two values, a confidence outside (0, 1).
    pub fn mean_estimate(&self, confidence: f64) -> Result<Estimate, StatisticsError> {
        let (value, std_dev, z) = self.parts(confidence)?;
        let freedom = self.count_f64() - 1.0;
        let half = student_quantile(z, freedom) * std_dev / self.count_f64().sqrt();
        Ok(self.estimate(value, value - half, value + half))
    }

    /// The standard deviation with Bonett's interval, which allows for the kurtosis of the sample.
    ///
    /// ln(c s²) ± z c √((κ − (n−3)/n)/(n−1)), c = n/(n−z), κ = n Σd⁴/(Σd²)²: Bonett, Comput. Stat.
    /// Data Anal. 50 (2006) 775, with the mean for his trimmed mean. Asymptotic: it covers too
    /// seldom for heavy tails; no interval below [`FEWEST_FOR_MOMENTS`] values.
    ///
    /// # Errors
    /// Fewer than two values, a confidence outside (0, 1).
    pub fn std_dev_estimate(&self, confidence: f64) -> Result<Estimate, StatisticsError> {
        let (_, value, z) = self.parts(confidence)?;
        let n = self.count_f64();
        let [d2, _, d4] = self.powers;
        if d2 <= 0.0 {
            return Ok(self.estimate(value, value, value));
        }
        let c = n / (n - z);
        let kurtosis = (n * d4 / (d2 * d2)).max(1.0);
        let half = z * c * ((kurtosis - (n - 3.0) / n) / (n - 1.0)).sqrt();
        let centre = value * c.sqrt();
        Ok(self.estimate(value, centre * exp(-0.5 * half), centre * exp(0.5 * half)))
    }

    /// Mean, standard deviation, and the normal score of the two-sided confidence.
    fn parts(&self, confidence: f64) -> Result<(f64, f64, f64), StatisticsError> {
        let side = 0.5 * (1.0 - checked_probability(confidence)?);
        let got = index(self.count);
        let few = StatisticsError::TooFewValues { needed: 2, got };
        let mean = self.mean().ok_or(few)?;
        Ok((mean, self.std_dev().ok_or(few)?, -normal_score(side)))
    }

    fn estimate(&self, value: f64, lower: f64, upper: f64) -> Estimate {
        let enough = self.count >= FEWEST_FOR_MOMENTS;
        Estimate {
            value,
            lower: enough.then_some(lower),
            upper: enough.then_some(upper),
        }
    }

    #[expect(clippy::cast_precision_loss, reason = "counts stay below 2^53")]
    fn count_f64(&self) -> f64 {
        self.count as f64
    }
}

/// Student's t at the chance that the normal score `z` stands for.
fn student_quantile(z: f64, freedom: f64) -> f64 {
    let s = z * z;
    let g1 = (s + 1.0) / 4.0;
    let g2 = ((5.0 * s + 16.0) * s + 3.0) / 96.0;
    let g3 = (((3.0 * s + 19.0) * s + 17.0) * s - 15.0) / 384.0;
    let g4 = ((((79.0 * s + 776.0) * s + 1482.0) * s - 1920.0) * s - 945.0) / 92160.0;
    z * (1.0 + (g1 + (g2 + (g3 + g4 / freedom) / freedom) / freedom) / freedom)
}

/// A sample in rising order.
#[derive(Debug, Clone, PartialEq)]
pub struct Sorted {
    values: Vec<f64>,
}

impl Sorted {
    /// Sorts the values.
    ///
    /// # Errors
    /// No values, or one that is not finite.
    pub fn new(mut values: Vec<f64>) -> Result<Self, StatisticsError> {
        if values.is_empty() {
            return Err(StatisticsError::TooFewValues { needed: 1, got: 0 });
        }
        if let Some(index) = values.iter().position(|v| !v.is_finite()) {
            return Err(StatisticsError::NotFinite { index });
        }
        values.sort_unstable_by(f64::total_cmp);
        Ok(Self { values })
    }

    /// The values in rising order, never empty.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// The quantile at `probability` (clamped to [0, 1]): linear between order statistics at position (n − 1)·p.
    ///
    /// This is type 7 of Hyndman and Fan, Am. Stat. 50 (1996) 361, the default of most
    /// data tools, so that a reader of the samples finds the same number.
    #[must_use]
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a position between 0 and a length below 2^53"
    )]
    pub fn quantile(&self, probability: f64) -> f64 {
        let last = self.values.len() - 1;
        let position = last as f64 * probability.clamp(0.0, 1.0);
        let below = (position as usize).min(last);
        let (a, b) = (self.values[below], self.values[(below + 1).min(last)]);
        (position - below as f64).mul_add(b - a, a)
    }

    /// The quantile with a distribution-free interval: the two order statistics that the binomial
    /// distribution of the count below the quantile allows, equal tails.
    ///
    /// It covers at least as often as `confidence` says, whatever the distribution of the values.
    /// An end is `None` when even the extreme value is not sure enough: a bound above the 99.865 %
    /// quantile at 95 % two-sided confidence takes 2731 values. Source: David and Nagaraja,
    /// *Order Statistics* (2003), 7.1.
    ///
    /// # Errors
    /// A probability or confidence outside (0, 1).
    pub fn quantile_estimate(
        &self,
        probability: f64,
        confidence: f64,
    ) -> Result<Estimate, StatisticsError> {
        let risk = 0.5 * (1.0 - checked_probability(confidence)?);
        let below = values_surely_below(self.values.len(), checked_probability(probability)?, risk);
        let above = values_surely_below(self.values.len(), 1.0 - probability, risk);
        Ok(Estimate {
            value: self.quantile(probability),
            lower: below.checked_sub(1).map(|i| self.values[i]),
            upper: above
                .checked_sub(1)
                .map(|i| self.values[self.values.len() - 1 - i]),
        })
    }
}

/// The largest r such that fewer than r of n values below a quantile happen with at most `risk`; 0 if none.
fn values_surely_below(n: usize, probability: f64, risk: f64) -> usize {
    // Invariant: `sure` holds, `unsure` does not, since risk < 1/2 lies below the median count.
    let (mut sure, mut unsure) = (0, n + 1);
    while unsure - sure > 1 {
        let middle = sure + (unsure - sure) / 2;
        if at_most(middle as u64 - 1, n as u64, probability) <= risk {
            sure = middle;
        } else {
            unsure = middle;
        }
    }
    sure
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moments_of(values: &[f64]) -> Moments {
        let mut moments = Moments::default();
        for value in values {
            moments.push(*value);
        }
        moments
    }

    #[test]
    fn numacc4_keeps_its_standard_deviation() {
        // NIST StRD univariate NumAcc4 (from memory, re-derived by hand): 10000000.2, then .1 and .3 in turn.
        let mut values = vec![10_000_000.2];
        for _ in 0..500 {
            values.extend([10_000_000.1, 10_000_000.3]);
        }
        let whole = moments_of(&values);
        let mut parts = moments_of(&values[..317]);
        parts.merge(&moments_of(&values[317..]));
        for moments in [whole, parts] {
            assert!((moments.mean().unwrap() - 10_000_000.2).abs() < 2e-9);
            assert!((moments.std_dev().unwrap() / 0.1 - 1.0).abs() < 1e-7);
        }
    }

    #[test]
    fn fourth_moments_survive_a_merge() {
        let values: Vec<f64> = (1..=40).map(|i| f64::from(i * i)).collect();
        let mut parts = moments_of(&values[..7]);
        parts.merge(&moments_of(&values[7..]));
        // Sums over i = 1..40 of (i² − 553.5)^k, exact integers and halves: mean 22140/40.
        let by_hand = |k| values.iter().map(|v| (v - 553.5f64).powi(k)).sum::<f64>();
        for (k, power) in [2, 3, 4].into_iter().zip(parts.powers) {
            assert!((power / by_hand(k) - 1.0).abs() < 1e-13);
        }
    }

    #[test]
    fn student_quantiles_match_the_tables() {
        // t at 0.975 with 29 and 100 degrees of freedom: standard tables 2.0452, 1.9840 (from memory);
        // further digits from scipy.stats.t.ppf.
        let z = -normal_score(0.025);
        assert!((student_quantile(z, 29.0) - 2.045_229_642_132_703).abs() < 1e-6);
        assert!((student_quantile(z, 100.0) - 1.983_971_518_523_552_2).abs() < 1e-8);
    }

    #[test]
    fn quantiles_lie_between_order_statistics() {
        let sorted = Sorted::new(vec![4.0, 1.0, 3.0, 2.0]).unwrap();
        for (probability, value) in [(0.0, 1.0), (0.5, 2.5), (0.9, 3.7), (1.0, 4.0)] {
            assert!((sorted.quantile(probability) - value).abs() < 1e-15);
        }
    }

    #[test]
    fn a_far_quantile_is_bounded_only_by_enough_values() {
        let upper = |n: u32| {
            let sorted = Sorted::new((0..n).map(f64::from).collect()).unwrap();
            sorted.quantile_estimate(0.99865, 0.95).unwrap().upper
        };
        // The smallest n with 0.99865^n ≤ 0.025 is 2731, computed from the equation.
        assert_eq!(upper(2730), None);
        assert_eq!(upper(2731), Some(2730.0));
    }

    #[test]
    fn unfit_samples_are_errors() {
        let few = StatisticsError::TooFewValues { needed: 2, got: 1 };
        assert_eq!(Described::of(vec![1.0], 0.95), Err(few));
        let nan = StatisticsError::NotFinite { index: 1 };
        assert_eq!(Described::of(vec![1.0, f64::NAN], 0.95), Err(nan));
        let sure = StatisticsError::Probability(1.0);
        assert_eq!(Described::of(vec![1.0, 2.0], 1.0), Err(sure));
    }
}
