//! Counts over the samples of one aim: exact, and mergeable in any order.

use super::interval::{Interval, StatisticsError};
use crate::pass::Ending;

/// What the samples of one aim did, in whole numbers.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Tally {
    /// Samples flown.
    pub samples: u64,
    /// Samples that broke at least one limit.
    pub broken_any: u64,
    /// Samples that broke each limit, in the order of the limit set.
    pub broken: Vec<u64>,
    /// Samples by ending, in the order of [`Ending::ALL`].
    pub endings: [u64; Ending::ALL.len()],
}

impl Tally {
    /// Nothing flown yet, for `limits` limits.
    #[must_use]
    pub fn new(limits: usize) -> Self {
        Self {
            broken: vec![0; limits],
            ..Self::default()
        }
    }

    /// Counts one sample by its ending and the bits of the limits it broke.
    pub fn count(&mut self, ending: Ending, broken: u32) {
        self.samples += 1;
        self.broken_any += u64::from(broken != 0);
        for (bit, count) in self.broken.iter_mut().enumerate() {
            *count += u64::from(broken >> bit & 1);
        }
        self.endings[ending as usize] += 1;
    }

    /// Adds the counts of other samples of the same aim and limits.
    pub fn merge(&mut self, other: &Self) {
        self.samples += other.samples;
        self.broken_any += other.broken_any;
        for (mine, theirs) in self.broken.iter_mut().zip(&other.broken) {
            *mine += theirs;
        }
        for (mine, theirs) in self.endings.iter_mut().zip(&other.endings) {
            *mine += theirs;
        }
    }

    /// Samples that held every limit.
    #[must_use]
    pub fn held(&self) -> u64 {
        self.samples - self.broken_any
    }

    /// Samples whose integration failed.
    #[must_use]
    pub fn failed(&self) -> u64 {
        self.endings[Ending::Failed as usize]
    }

    /// Probability that all limits hold, with its Clopper–Pearson interval.
    ///
    /// # Errors
    /// As [`Interval::clopper_pearson`]: no samples, too many, or a confidence out of range.
    pub fn probability_held(&self, confidence: f64) -> Result<Interval, StatisticsError> {
        Interval::clopper_pearson(self.held(), self.samples, confidence)
    }
}
