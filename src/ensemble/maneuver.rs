//! The errors of the burns of each sample: a function of the seed, the sample and the burn alone.

use super::distribution::Chance;
use crate::pass::apsis::ManeuverError;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// Makes the errors of any burn of any sample.
#[derive(Debug, Clone)]
pub struct ManeuverDraws {
    generator: ChaCha8Rng,
    size_sigma: f64,
    pointing_sigma_rad: f64,
}

impl ManeuverDraws {
    /// Draws with these one-sigmas: relative error of size, and error of pointing in either of two directions, rad.
    #[must_use]
    pub fn new(seed: u64, size_sigma: f64, pointing_sigma_rad: f64) -> Self {
        Self {
            generator: ChaCha8Rng::seed_from_u64(seed),
            size_sigma,
            pointing_sigma_rad,
        }
    }

    /// Whether burns have no error at all.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        self.size_sigma == 0.0 && self.pointing_sigma_rad == 0.0
    }

    /// The error of one burn of one sample.
    #[must_use]
    pub fn of(&self, sample: u64, burn: u32) -> ManeuverError {
        /// First word of the burns, in the generator's 32-bit words: behind those of the numbers and of the air.
        const FIRST: u128 = 1024;
        /// Words kept for a burn: three numbers of two words each.
        const WORDS: u128 = 6;
        if self.is_exact() {
            return ManeuverError::NONE;
        }
        let mut generator = self.generator.clone();
        generator.set_stream(sample);
        generator.set_word_pos(FIRST + WORDS * u128::from(burn));
        let mut score = || Chance::from_bits(generator.next_u64()).normal_score();
        ManeuverError {
            size: (self.size_sigma * score()).max(-1.0),
            in_plane_rad: self.pointing_sigma_rad * score(),
            out_of_plane_rad: self.pointing_sigma_rad * score(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn errors_depend_on_sample_and_burn_alone_and_have_their_spread() {
        let draws = ManeuverDraws::new(5, 0.01, 0.02);
        assert_eq!(draws.of(3, 1), draws.of(3, 1));
        assert_ne!(draws.of(3, 1), draws.of(3, 2));
        assert_ne!(draws.of(3, 1), draws.of(4, 1));
        let sum = |of: &dyn Fn(ManeuverError) -> f64| -> f64 {
            (0..4000).map(|i| of(draws.of(i, 0)).powi(2)).sum::<f64>() / 4000.0
        };
        // A variance over 4000 draws is within 10 % of its own but for one time in 1e5.
        assert!((sum(&|e| e.size) / 1e-4 - 1.0).abs() < 0.1);
        assert!((sum(&|e| e.in_plane_rad) / 4e-4 - 1.0).abs() < 0.1);
        assert!((sum(&|e| e.out_of_plane_rad) / 4e-4 - 1.0).abs() < 0.1);
        let exact = ManeuverDraws::new(5, 0.0, 0.0);
        assert!(exact.is_exact());
        assert_eq!(exact.of(1, 1), ManeuverError::NONE);
    }
}
