//! Sensitivity indices of an event, such as a broken limit, however seldom it happens.
//!
//! For an event of probability p the total index of a source is the chance that drawing the source anew
//! undoes the event, over 1 − p; the first-order index how much more often than p the event comes back
//! when everything but the source is drawn anew, over 1 − p. (Both follow from the definitions, for an
//! output that is 1 with the event and 0 without it, and from base and mixed sample being exchangeable.)
//! So only samples with the event have to be mixed with others, which is what makes rare events affordable.

use super::luck::{Mix, PARTNERS, Quantities};
use super::quantile::Estimate;
use super::sobol::{Indices, Resampling, SobolError, bounded, resampled};
use crate::numeric::counts::{index, real};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// Fewest events from which indices are given.
pub const FEWEST_EVENTS: u64 = 20;
/// Most events that are mixed with others.
pub const MOST_EVENTS: usize = 200;
/// Times that each event is mixed with others, for each source and index.
pub const PARTNERS_EACH: u64 = 48;

/// Which samples to look at once those with the event are known.
#[derive(Debug, Clone, PartialEq)]
pub struct RareDesign {
    events: Vec<u64>,
    counted: (u64, u64),
    sources: Vec<Quantities>,
}

impl RareDesign {
    /// A design for the samples with the event, of which the first [`MOST_EVENTS`] are looked at, out of
    /// `samples` in all.
    ///
    /// # Errors
    /// [`SobolError`]: too few events, or too few samples without it.
    pub fn new(
        mut events: Vec<u64>,
        samples: u64,
        sources: Vec<Quantities>,
    ) -> Result<Self, SobolError> {
        let seen = events.len() as u64;
        if seen < FEWEST_EVENTS {
            return Err(SobolError::TooFewEvents {
                events: seen,
                samples,
                needed: FEWEST_EVENTS,
            });
        }
        if samples.saturating_sub(seen) < FEWEST_EVENTS {
            return Err(SobolError::NearlyAlways {
                others: samples.saturating_sub(seen),
                samples,
            });
        }
        events.truncate(MOST_EVENTS);
        Ok(Self {
            events,
            counted: (seen, samples),
            sources,
        })
    }

    /// Mixed samples to look at.
    #[must_use]
    pub fn samples(&self) -> u64 {
        self.events.len() as u64 * self.each()
    }

    /// Mixed samples of one event.
    fn each(&self) -> u64 {
        2 * self.sources.len() as u64 * PARTNERS_EACH
    }

    /// Whose luck the `n`th mixed sample has, for `n` below [`RareDesign::samples`].
    #[must_use]
    pub fn mix(&self, n: u64) -> Mix {
        let (event, rest) = (n / self.each(), n % self.each());
        let (place, partner) = (rest / PARTNERS_EACH, rest % PARTNERS_EACH);
        let base = self.events[index(event)];
        let source = self.sources[index(place / 2)];
        Mix {
            base,
            // Behind the partners of any other design, and apart for every base.
            partner: (2 + partner) * PARTNERS + base,
            exchanged: if place % 2 == 0 {
                source
            } else {
                source.others()
            },
        }
    }

    /// The indices, from whether each mixed sample has the event, in the order of the samples.
    #[must_use]
    pub fn indices(&self, happened: &[bool], resampling: &Resampling) -> Indices {
        let count = self.sources.len();
        // A row an event: for each source how often it was undone, then how often it came back.
        let each = index(self.each()).max(1);
        let partners = index(PARTNERS_EACH);
        let shares: Vec<Vec<f64>> = happened
            .chunks(each)
            .map(|event| {
                let share = |some: &[bool]| {
                    real(some.iter().filter(|&&happened| happened).count()) / real(some.len())
                };
                event.chunks(partners).map(share).collect()
            })
            .collect();
        let (seen, samples) = (real(self.counted.0), real(self.counted.1));
        let probability = seen / samples;
        let read = |means: &[f64], p: f64| -> Vec<f64> {
            let first = means
                .iter()
                .skip(1)
                .step_by(2)
                .map(|back| (back - p) / (1.0 - p));
            let total = means.iter().step_by(2).map(|kept| (1.0 - kept) / (1.0 - p));
            let mut shares: Vec<f64> = first.chain(total).collect();
            shares.push(shares[..count].iter().sum());
            shares
        };
        let whole: Vec<f64> = (0..2 * count)
            .map(|i| shares.iter().map(|row| row[i]).sum::<f64>() / real(shares.len()))
            .collect();
        let mut errors = ProbabilityErrors::new(resampling.seed, (probability, samples));
        let again: Vec<Vec<f64>> = resampled(&shares, resampling.seed)
            .iter()
            .map(|means| read(means, errors.next()))
            .collect();
        let bounded: Vec<Estimate> =
            bounded(&read(&whole, probability), &again, resampling.confidence);
        Indices {
            mean: probability,
            variance: probability * (1.0 - probability),
            first: bounded[..count].to_vec(),
            total: bounded[count..2 * count].to_vec(),
            first_sum: bounded[2 * count],
            rows: shares.len(),
        }
    }
}

/// Probabilities as the count could have given them: normal about the one found.
struct ProbabilityErrors {
    generator: ChaCha8Rng,
    probability: f64,
    std_dev: f64,
}

impl ProbabilityErrors {
    fn new(seed: u64, (probability, samples): (f64, f64)) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        // A stream that neither a sample nor the resampling has.
        generator.set_stream(u64::MAX - 1);
        Self {
            generator,
            probability,
            std_dev: (probability * (1.0 - probability) / samples).sqrt(),
        }
    }

    fn next(&mut self) -> f64 {
        let chance = super::distribution::Chance::from_bits(self.generator.next_u64());
        (self.probability + self.std_dev * chance.normal_score()).clamp(0.0, 0.999_999)
    }
}
