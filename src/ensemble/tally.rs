//! Counts over the samples of one aim: exact, and mergeable in any order.

use super::interval::{Interval, StatisticsError};
use crate::pass::Ending;

/// What the samples of one aim did, in whole numbers.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Tally {
    /// Samples flown.
    pub samples: u64,
    /// Samples that broke at least one limit; one without a result broke none.
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

    /// Counts one sample by its ending and the bits of the limits it broke; one without a result broke none.
    pub fn count(&mut self, ending: Ending, broken: u32) {
        let broken = if ending.is_flown() { broken } else { 0 };
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

    /// Samples that held every limit: flown, and none broken.
    #[must_use]
    pub fn held(&self) -> u64 {
        self.samples - self.not_held()
    }

    /// Samples that did not hold every limit: they broke one, or have no result.
    #[must_use]
    pub fn not_held(&self) -> u64 {
        self.broken_any + self.unflown()
    }

    /// Samples whose integration failed.
    #[must_use]
    pub fn failed(&self) -> u64 {
        self.endings[Ending::Failed as usize]
    }

    /// Samples whose numbers fit no approach.
    #[must_use]
    pub fn without_approach(&self) -> u64 {
        self.endings[Ending::NoApproach as usize]
    }

    /// Samples without a result: those that failed and those without an approach. They count in no limit, in every
    /// denominator, and never as held.
    #[must_use]
    pub fn unflown(&self) -> u64 {
        self.failed() + self.without_approach()
    }

    /// Probability that all limits hold, with its Clopper–Pearson interval.
    ///
    /// # Errors
    /// As [`Interval::clopper_pearson`]: no samples, too many, or a confidence out of range.
    pub fn probability_held(&self, confidence: f64) -> Result<Interval, StatisticsError> {
        Interval::clopper_pearson(self.held(), self.samples, confidence)
    }

    /// Whether its samples without a result alone decide, see [`undecided`].
    #[must_use]
    pub fn is_undecided(&self, probability: f64, confidence: f64) -> bool {
        let counts = (self.held(), self.unflown(), self.samples);
        undecided(counts, (probability, confidence))
    }
}

/// Whether samples without a result alone decide: so many held of all do not show a probability with a confidence,
/// and would had those without a result held too. Then the verdict is "not shown".
#[must_use]
pub fn undecided(
    (held, unflown, samples): (u64, u64, u64),
    (probability, confidence): (f64, f64),
) -> bool {
    let shows = |held: u64| {
        Interval::clopper_pearson(held, samples, confidence)
            .is_ok_and(|held| held.lower >= probability)
    };
    unflown > 0 && !shows(held) && shows(held + unflown)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1000 samples of which 5 did not hold show 0.98 with 95 % confidence (upper end 1.16 %); 20 do not (3.07 %).
    #[test]
    fn samples_without_a_result_count_in_no_limit_and_never_as_held() {
        let mut tally = Tally::new(2);
        for sample in 0..1000_u32 {
            match sample {
                0..5 => tally.count(Ending::Captured, 0b01),
                5..15 => tally.count(Ending::Failed, 0),
                15..20 => tally.count(Ending::NoApproach, 0),
                _ => tally.count(Ending::Captured, 0),
            }
        }
        assert_eq!((tally.broken_any, &tally.broken[..]), (5, &[5, 0][..]));
        assert_eq!((tally.held(), tally.not_held()), (980, 20));
        assert_eq!((tally.failed(), tally.without_approach()), (10, 5));
        assert!(tally.is_undecided(0.98, 0.95));
        // Broken whatever became of them, and safe whatever became of them.
        assert!(!tally.is_undecided(0.995, 0.95) && !tally.is_undecided(0.96, 0.95));
    }
}
