//! The random words behind every draw, and samples that are mixed from the luck of two.
//! What a word is turned into is left to the draws.
//!
//! A sample is a stream of the `ChaCha8` generator. A mixed sample has the luck of one stream, but
//! for some quantities, which have that of another: so one quantity can be drawn anew and all
//! others kept, as variance-based sensitivity indices need.

use super::interval::MAX_TRIALS;
use super::sources::Source;
use crate::scenario::uncertainty::Number;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use std::ops::Range;

/// Quantities of a sample: numbers by their draw indices, and the small-scale field of the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Quantities {
    /// One bit for each number, at its draw index.
    numbers: u64,
    field: bool,
}

const _: () = assert!(Number::COUNT <= 64, "a number's draw index is a bit");

impl Quantities {
    /// None.
    pub const NONE: Self = Self {
        numbers: 0,
        field: false,
    };
    /// Every one.
    pub const ALL: Self = Self {
        numbers: u64::MAX,
        field: true,
    };

    /// The words at these places alone: the columns of a unit cube.
    #[must_use]
    pub fn at(places: &[usize]) -> Self {
        let bits = places.iter().filter(|&&place| place < 64);
        Self {
            numbers: bits.fold(0, |bits, place| bits | 1 << place),
            field: false,
        }
    }

    /// Those that are not among these.
    #[must_use]
    pub fn others(self) -> Self {
        Self {
            numbers: !self.numbers,
            field: !self.field,
        }
    }

    fn has(self, place: usize) -> bool {
        place < 64 && self.numbers >> place & 1 == 1
    }
}

impl From<&Source> for Quantities {
    fn from(source: &Source) -> Self {
        let places: Vec<usize> = source.numbers.iter().map(|&n| n as usize).collect();
        Self {
            field: source.small_scale,
            ..Self::at(&places)
        }
    }
}

/// Partners of samples begin here: no sample number of a run reaches it.
pub(super) const PARTNERS: u64 = 1 << 40;

/// Two sets of samples that share no draw. What is chosen by one is told by the other: of many aims the one that
/// did best was lucky too, and its own count tells its risk too small.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Block {
    /// The samples from number 0 on.
    First,
    /// The samples from number [`Block::SECOND`] on.
    Second,
}

impl Block {
    /// Number of the first sample of the second block: beyond every sample and partner of one that is flown, exact
    /// in an `f64`, and read off a number at a glance.
    pub const SECOND: u64 = 1_000_000_000_000_000;

    /// The numbers of the first so many samples of the block.
    #[must_use]
    pub fn samples(self, count: u64) -> Range<u64> {
        let first = match self {
            Self::First => 0,
            Self::Second => Self::SECOND,
        };
        first..first + count
    }
}

// Mixed samples have partners up to about fifty times the first one's number.
const _: () = assert!(MAX_TRIALS < PARTNERS && 64 * PARTNERS < Block::SECOND);

/// A sample with the luck of sample `base`, but for the `exchanged` quantities: they have that of `partner`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mix {
    /// Sample whose luck it has.
    pub base: u64,
    /// Sample whose luck the exchanged quantities have.
    pub partner: u64,
    /// Which quantities are exchanged.
    pub exchanged: Quantities,
}

impl Mix {
    /// A sample as it is.
    #[must_use]
    pub fn of(sample: u64) -> Self {
        Self {
            base: sample,
            partner: sample,
            exchanged: Quantities::NONE,
        }
    }
}

/// Which sample is flown, for what is not among its numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SampleNumber {
    /// No sample: no small-scale field.
    Nominal,
    /// The sample of this number.
    Of(u64),
    /// A sample that is mixed from two.
    Mixed(Mix),
}

impl SampleNumber {
    /// Whose luck it has; `None` for the nominal pass, which has none.
    #[must_use]
    pub fn mix(self) -> Option<Mix> {
        match self {
            Self::Nominal => None,
            Self::Of(sample) => Some(Mix::of(sample)),
            Self::Mixed(mix) => Some(mix),
        }
    }
}

/// The words of every sample of a seed.
#[derive(Debug, Clone)]
pub struct Luck {
    generator: ChaCha8Rng,
}

impl Luck {
    /// The luck of a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self {
            generator: ChaCha8Rng::seed_from_u64(seed),
        }
    }

    /// The first words of a sample, one to each place: a function of seed, sample and place alone.
    pub fn words(&self, mix: Mix, words: &mut [u64]) {
        let mut generator = self.generator.clone();
        generator.set_stream(mix.base);
        for word in words.iter_mut() {
            *word = generator.next_u64();
        }
        if mix.exchanged.numbers == 0 {
            return;
        }
        generator = self.generator.clone();
        generator.set_stream(mix.partner);
        for (place, word) in words.iter_mut().enumerate() {
            let other = generator.next_u64();
            if mix.exchanged.has(place) {
                *word = other;
            }
        }
    }

    /// A generator for the small-scale field of a sample, of words that no number uses.
    pub(super) fn of_field(&self, mix: Mix) -> ChaCha8Rng {
        /// First word of the field, in the generator's 32-bit words: far behind those of the numbers.
        const FIRST: u128 = 512;
        let mut generator = self.generator.clone();
        generator.set_stream(if mix.exchanged.field {
            mix.partner
        } else {
            mix.base
        });
        generator.set_word_pos(FIRST);
        generator
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(mix: Mix) -> [u64; 5] {
        let mut words = [0; 5];
        Luck::new(3).words(mix, &mut words);
        words
    }

    #[test]
    fn a_mixed_sample_has_each_word_from_where_it_should() {
        let (a, b) = (words(Mix::of(8)), words(Mix::of(9)));
        let mixed = words(Mix {
            base: 8,
            partner: 9,
            exchanged: Quantities::at(&[1, 4]),
        });
        assert_eq!(mixed, [a[0], b[1], a[2], a[3], b[4]]);
        let others = words(Mix {
            base: 8,
            partner: 9,
            exchanged: Quantities::at(&[1, 4]).others(),
        });
        assert_eq!(others, [b[0], a[1], b[2], b[3], a[4]]);
    }

    #[test]
    fn the_field_is_exchanged_by_itself() {
        let luck = Luck::new(3);
        let first = |mix| luck.of_field(mix).next_u64();
        let exchanged = Quantities {
            numbers: 0,
            field: true,
        };
        let mix = |exchanged| Mix {
            base: 1,
            partner: 2,
            exchanged,
        };
        assert_eq!(first(mix(exchanged)), first(Mix::of(2)));
        assert_eq!(first(mix(exchanged.others())), first(Mix::of(1)));
    }
}
