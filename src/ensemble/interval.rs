//! Intervals of a probability from counts, and the sample sizes that a count must reach.
//! Counting itself, and what a count means, is left to the callers.
//!
//! Everything rests on one binomial tail, evaluated to about 1e-11 relative for up to
//! [`MAX_TRIALS`] trials in bounded time and with our own elementary functions, so that
//! an interval has the same bits on every machine.

use crate::ensemble::distribution::normal_score;
use crate::numeric::counts::real;
use crate::numeric::elementary::{exp, ln};
use serde::Serialize;

/// The most trials that are accepted: beyond them nothing here was checked.
pub const MAX_TRIALS: u64 = 1_000_000_000_000;

/// Why a statistic cannot be given.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum StatisticsError {
    /// The number of trials is 0 or above [`MAX_TRIALS`].
    #[error("the number of trials must be from 1 to {MAX_TRIALS}, got {0}")]
    Trials(u64),
    /// More events than trials.
    #[error("{events} events cannot come of {trials} trials")]
    Events {
        /// Events counted.
        events: u64,
        /// Trials made.
        trials: u64,
    },
    /// A confidence or probability outside (0, 1), or so near an end that it rounds to it.
    #[error("a probability and a confidence must lie between 0 and 1, got {0}")]
    Probability(f64),
    /// More than [`MAX_TRIALS`] samples would be needed.
    #[error("more than {MAX_TRIALS} samples would be needed")]
    TooManyNeeded,
    /// A sample has fewer values than the statistic is defined for.
    #[error("at least {needed} values are needed, got {got}")]
    TooFewValues {
        /// Fewest values.
        needed: usize,
        /// Values given.
        got: usize,
    },
    /// A sample holds a NaN or an infinity.
    #[error("value {index} of the sample is not finite")]
    NotFinite {
        /// Position in the sample, from 0.
        index: usize,
    },
}

/// A probability estimated from a count, with its two-sided interval; all in [0, 1].
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Interval {
    /// Events divided by trials.
    pub estimate: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

impl Interval {
    /// What is certain: that it holds, or that it does not.
    #[must_use]
    pub fn certain(holds: bool) -> Self {
        let exact = f64::from(u8::from(holds));
        Self {
            estimate: exact,
            lower: exact,
            upper: exact,
        }
    }

    /// The probability that it does not happen.
    #[must_use]
    pub fn opposite(&self) -> Self {
        Self {
            estimate: 1.0 - self.estimate,
            lower: 1.0 - self.upper,
            upper: 1.0 - self.lower,
        }
    }

    /// The Clopper–Pearson interval: it covers the true probability at least as often as `confidence` says.
    ///
    /// Source: Clopper and Pearson, Biometrika 26 (1934) 404.
    ///
    /// # Errors
    /// No or too many trials, more events than trials, a confidence outside (0, 1).
    pub fn clopper_pearson(
        events: u64,
        trials: u64,
        confidence: f64,
    ) -> Result<Self, StatisticsError> {
        let each_side = 0.5 * (1.0 - checked_probability(confidence)?);
        Ok(Self {
            estimate: ratio(events, checked_trials(events, trials)?),
            lower: lower_at(events, trials, each_side),
            upper: upper_at(events, trials, each_side),
        })
    }

    /// Wilson's score interval: it covers as often as `confidence` says on average over probabilities, not for each.
    ///
    /// Source: Wilson, J. Am. Stat. Assoc. 22 (1927) 209. Clamped to [0, 1].
    ///
    /// # Errors
    /// As [`Interval::clopper_pearson`].
    pub fn wilson(events: u64, trials: u64, confidence: f64) -> Result<Self, StatisticsError> {
        let z = -normal_score(0.5 * (1.0 - checked_probability(confidence)?));
        let n = real(checked_trials(events, trials)?);
        let estimate = ratio(events, trials);
        let centre = estimate + z * z / (2.0 * n);
        let half = z * (estimate * (1.0 - estimate) / n + z * z / (4.0 * n * n)).sqrt();
        let scale = 1.0 + z * z / n;
        Ok(Self {
            estimate,
            lower: if events == 0 {
                0.0
            } else {
                ((centre - half) / scale).clamp(0.0, 1.0)
            },
            upper: if events == trials {
                1.0
            } else {
                ((centre + half) / scale).clamp(0.0, 1.0)
            },
        })
    }
}

/// One-sided Clopper–Pearson bound: the true probability lies above it with at least this confidence; 0 without events.
///
/// # Errors
/// As [`Interval::clopper_pearson`].
pub fn lower_bound(events: u64, trials: u64, confidence: f64) -> Result<f64, StatisticsError> {
    let risk = 1.0 - checked_probability(confidence)?;
    checked_trials(events, trials)?;
    Ok(lower_at(events, trials, risk))
}

/// One-sided Clopper–Pearson bound: the true probability lies below it with at least this confidence; 1 if every trial is an event.
///
/// # Errors
/// As [`Interval::clopper_pearson`].
pub fn upper_bound(events: u64, trials: u64, confidence: f64) -> Result<f64, StatisticsError> {
    let risk = 1.0 - checked_probability(confidence)?;
    checked_trials(events, trials)?;
    Ok(upper_at(events, trials, risk))
}

/// The fewest samples with which `failures` failures still show, at `confidence`, a success probability of `probability`.
///
/// 0 failures is Wilks' first order one-sided, 1 his second order (and his two-sided first order), and so on:
/// the smallest n with P(at most `failures` failures of n | `probability`) ≤ 1 − `confidence`.
/// Source: Wilks, Ann. Math. Stat. 12 (1941) 91.
///
/// # Errors
/// A probability or confidence outside (0, 1), or more than [`MAX_TRIALS`] samples.
pub fn samples_needed(
    failures: u64,
    probability: f64,
    confidence: f64,
) -> Result<u64, StatisticsError> {
    let log_odds = log_odds(checked_probability(probability)?);
    let ln_risk = ln(1.0 - checked_probability(confidence)?);
    let enough = |n: u64| at_least(n - failures, n, log_odds).ln_tail <= ln_risk;
    let (mut short, mut step) = (failures, 1);
    while short.saturating_add(step) <= MAX_TRIALS && !enough(short + step) {
        short += step;
        step *= 2;
    }
    let mut long = short.saturating_add(step).min(MAX_TRIALS);
    if short >= long || !enough(long) {
        return Err(StatisticsError::TooManyNeeded);
    }
    while long - short > 1 {
        let middle = short + (long - short) / 2;
        if enough(middle) {
            long = middle;
        } else {
            short = middle;
        }
    }
    Ok(long)
}

/// P(at most `events` of `trials`) for trials that succeed with `probability`, which must lie in (0, 1).
pub(crate) fn at_most(events: u64, trials: u64, probability: f64) -> f64 {
    if events >= trials {
        return 1.0;
    }
    exp(at_least(trials - events, trials, -log_odds(probability)).ln_tail)
}

/// The value, if it lies in (0, 1) and does not round to an end.
pub(crate) fn checked_probability(value: f64) -> Result<f64, StatisticsError> {
    if value > 0.0 && 1.0 - value < 1.0 && value < 1.0 {
        Ok(value)
    } else {
        Err(StatisticsError::Probability(value))
    }
}

fn checked_trials(events: u64, trials: u64) -> Result<u64, StatisticsError> {
    if trials == 0 || trials > MAX_TRIALS {
        return Err(StatisticsError::Trials(trials));
    }
    if events > trials {
        return Err(StatisticsError::Events { events, trials });
    }
    Ok(trials)
}

fn ratio(events: u64, trials: u64) -> f64 {
    real(events) / real(trials)
}

/// The probability whose tail P(at least `events`) is `risk`.
fn lower_at(events: u64, trials: u64, risk: f64) -> f64 {
    if events == 0 {
        return 0.0;
    }
    probability_of(solve_log_odds(events, trials, risk))
}

/// The probability whose tail P(at most `events`) is `risk`: the lower end for the other outcome, mirrored.
fn upper_at(events: u64, trials: u64, risk: f64) -> f64 {
    if events == trials {
        return 1.0;
    }
    probability_of(-solve_log_odds(trials - events, trials, risk))
}

/// Log odds at which P(at least `events` of `trials`) = `risk`, for 1 ≤ `events` ≤ `trials`.
///
/// The log of the tail is a concave increasing function of the log odds, so Newton's
/// method arrives from the left without a bracket, wherever it starts.
fn solve_log_odds(events: u64, trials: u64, risk: f64) -> f64 {
    let ln_risk = ln(risk);
    if events == trials {
        let ln_p = ln_risk / real(trials);
        return ln_p - ln(-exp_m1(ln_p));
    }
    let (k, n) = (real(events), real(trials));
    let spread = (-2.0 * ln_risk * n / (k * (n - k))).sqrt();
    let mut log_odds = ln(k / (n - k)) - spread;
    for _ in 0..64 {
        let tail = at_least(events, trials, log_odds);
        let slope = k * probability_of(-log_odds) * exp(tail.ln_mass - tail.ln_tail);
        let step = (ln_risk - tail.ln_tail) / slope;
        log_odds += step;
        if step.abs() <= 1e-12 * log_odds.abs().max(1.0) {
            break;
        }
    }
    log_odds
}

struct Tail {
    /// ln P(exactly `events`).
    ln_mass: f64,
    /// ln P(at least `events`).
    ln_tail: f64,
}

/// The binomial tail from `events` ≤ `trials` upward, for trials that succeed with these log odds.
fn at_least(events: u64, trials: u64, log_odds: f64) -> Tail {
    let ln_mass = ln_mass(events, trials, log_odds);
    let expected = real(trials) * probability_of(log_odds);
    let ln_tail = if events == 0 {
        0.0
    } else if real(events) >= expected {
        ln_mass + ln(terms_above(events, trials, log_odds))
    } else {
        // Most of the probability is in the tail: take the small rest from 1 instead.
        let failures = trials - events + 1;
        let rest = self::ln_mass(failures, trials, -log_odds)
            + ln(terms_above(failures, trials, -log_odds));
        ln_1p(-exp(rest))
    };
    Tail { ln_mass, ln_tail }
}

/// Σ over j ≥ `events` of mass(j) / mass(`events`), for `events` ≥ 1 at or above the expected count.
///
/// The continued fraction of the incomplete beta integral `I_p(k, n−k+1)` whose terms are all
/// positive (Didonato and Morris, ACM Trans. Math. Softw. 18 (1992) 360), by the modified Lentz
/// method. Some tens of steps, whatever the number of trials, unless the count is
/// at the expected one.
fn terms_above(events: u64, trials: u64, log_odds: f64) -> f64 {
    let (a, b) = (real(events), real(trials - events + 1));
    let (p, q) = (probability_of(log_odds), probability_of(-log_odds));
    let above_mean = a * q - b * p + 1.0;
    let mut fraction = a * above_mean / (a + 1.0);
    let (mut c, mut d) = (fraction, 0.0);
    let mut m = 1.0;
    while m < b.min(1e6) {
        let at = a + 2.0 * m;
        let over =
            (a + m - 1.0) / (at - 1.0) * ((a + b + m - 1.0) / (at - 1.0)) * m * (b - m) * p * p;
        let plus =
            m + m * (b - m) * p / (at - 1.0) + (a + m) * (above_mean + m * (1.0 + q)) / (at + 1.0);
        d = 1.0 / (plus + over * d);
        c = plus + over / c;
        fraction *= c * d;
        if (c * d - 1.0).abs() <= 2.0 * f64::EPSILON {
            break;
        }
        m += 1.0;
    }
    a * q / fraction
}

/// ln P(exactly `events` of `trials`) without cancellation of large logarithms.
///
/// Source: Loader, "Fast and accurate computation of binomial probabilities" (2000).
fn ln_mass(events: u64, trials: u64, log_odds: f64) -> f64 {
    let (k, n) = (real(events), real(trials));
    let (p, q) = (probability_of(log_odds), probability_of(-log_odds));
    let fails = trials - events;
    if events == 0 || fails == 0 {
        let towards = if events == 0 { log_odds } else { -log_odds };
        // ln(1/(1 + e^x)), for large x without overflow.
        return -n * (towards.max(0.0) + ln_1p(exp(-towards.abs())));
    }
    let f = real(fails);
    stirling_error(trials)
        - stirling_error(events)
        - stirling_error(fails)
        - deviance(k, n * p)
        - deviance(f, n * q)
        + 0.5 * ln(n / (std::f64::consts::TAU * k * f))
}

/// x ln(x/m) + m − x for positive x and m, accurate where they are near each other.
fn deviance(x: f64, m: f64) -> f64 {
    let v = (x - m) / (x + m);
    if v.abs() >= 0.1 {
        return x * ln(x / m) + m - x;
    }
    let (mut sum, mut term, mut odd) = ((x - m) * v, 2.0 * x * v, 1.0);
    for _ in 0..10 {
        term *= v * v;
        odd += 2.0;
        sum += term / odd;
    }
    sum
}

/// ln n! less Stirling's ln(√(2πn) (n/e)^n), for n ≥ 1: the series above 15, stepped down to smaller n.
fn stirling_error(n: u64) -> f64 {
    let mut x = real(n);
    let mut sum = 0.0;
    while x < 16.0 {
        sum += (x + 0.5) * ln_1p(1.0 / x) - 1.0;
        x += 1.0;
    }
    let y = 1.0 / (x * x);
    let series =
        1.0 / 12.0 - y * (1.0 / 360.0 - y * (1.0 / 1260.0 - y * (1.0 / 1680.0 - y / 1188.0)));
    sum + series / x
}

fn log_odds(probability: f64) -> f64 {
    ln(probability) - ln_1p(-probability)
}

fn probability_of(log_odds: f64) -> f64 {
    let e = exp(-log_odds.abs());
    if log_odds < 0.0 {
        e / (1.0 + e)
    } else {
        1.0 / (1.0 + e)
    }
}

/// ln(1 + x) for x > −1 without loss for small x (Kahan's device).
fn ln_1p(x: f64) -> f64 {
    let u = 1.0 + x;
    let kept = u - 1.0;
    if kept == 0.0 { x } else { ln(u) * x / kept }
}

/// e^x − 1 for −700 < x < 700 without loss for small x (Kahan's device).
fn exp_m1(x: f64) -> f64 {
    let u = exp(x);
    if u - 1.0 == 0.0 {
        x
    } else if u < 0.25 {
        u - 1.0
    } else {
        (u - 1.0) * x / ln(u)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tail_is_the_sum_of_its_masses() {
        // P(at most 2 of 5 | 0.3) = 0.83692, by hand.
        assert!((at_most(2, 5, 0.3) - 0.836_92).abs() < 1e-14);
        assert!((at_most(3, 5, 0.3) - 0.969_22).abs() < 1e-14);
    }
}
