//! The numbers of any sample of a problem: drawn, mixed from two, or at given normal scores.

use super::luck::Mix;
use super::problem::{Numbers, Problem, SampleNumber};
use crate::scenario::uncertainty::Number;

impl Problem {
    /// The numbers of a sample: the same at every aim.
    #[must_use]
    pub fn numbers(&self, sample: u64) -> Numbers {
        self.drawn(Mix::of(sample))
    }

    fn drawn(&self, mix: Mix) -> Numbers {
        let mut numbers = self.written;
        self.draws.fill_mixed(mix, &mut numbers);
        self.changed(numbers)
    }

    /// The numbers whose normal scores are these, each at its draw index.
    pub(super) fn scored(&self, scores: &Numbers) -> Numbers {
        let mut numbers = self.written;
        self.draws.fill_scored(scores, &mut numbers);
        self.changed(numbers)
    }

    /// What is done to the numbers of a sample after they were drawn.
    fn changed(&self, mut numbers: Numbers) -> Numbers {
        if self.delivery_scale != 1.0 {
            for number in Number::DELIVERY {
                numbers[number as usize] *= self.delivery_scale;
            }
        }
        self.before.change(&mut numbers);
        numbers
    }

    /// The numbers of the nominal pass or of a sample.
    #[must_use]
    pub fn numbers_of(&self, sample: SampleNumber) -> Numbers {
        sample.mix().map_or(self.nominal, |mix| self.drawn(mix))
    }

    /// The numbers by which the limits of a sample are judged.
    #[must_use]
    pub fn judging_numbers(&self, sample: u64) -> Numbers {
        self.judging_numbers_of(SampleNumber::Of(sample))
    }

    /// As [`Problem::judging_numbers`], of any kind of sample.
    #[must_use]
    pub fn judging_numbers_of(&self, sample: SampleNumber) -> Numbers {
        if self.uncertain_limits {
            self.numbers_of(sample)
        } else {
            self.nominal
        }
    }
}
