//! What differs from pass to pass and the operator cannot know: the air, with its memory, and the errors
//! of the burns.

use super::super::air::AirDraws;
use super::super::distribution::{Chance, Quantiles};
use super::super::problem::{Numbers, SampleNumber};
use crate::pass::EntryState;
use crate::scenario::campaign::MOST_PASSES;
use crate::scenario::uncertainty::{AirDensity, Number};
use crate::world::planet::AirSample;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A number that is drawn for each pass. Its position is its draw index: new ones go to the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum PassNumber {
    Density,
    ScaleHeight,
    Wind,
    BurnSize,
    BurnAcross,
    BurnSideways,
}

/// How many there are.
const COUNT: usize = 6;

/// Normal scores of one pass.
pub(super) type Scores = [f64; COUNT];

/// The draws of every pass: a function of seed, campaign, pass and quantity alone.
#[derive(Debug, Clone)]
pub(super) struct Luck {
    generator: ChaCha8Rng,
    air: AirDraws,
    log_factor: Option<Quantiles>,
}

/// What a campaign remembers of the air it met last.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Weather {
    density: f64,
    scale_height: f64,
    known: bool,
}

impl Luck {
    pub(super) fn new(air: &AirDraws, seed: u64) -> Self {
        /// Keeps the draws of passes apart from those of samples under the same seed.
        const PASSES: u64 = 0x7061_7373_6573_2121;
        let seed = seed ^ PASSES;
        Self {
            generator: ChaCha8Rng::seed_from_u64(seed),
            log_factor: match air.density() {
                AirDensity::LogFactor(distribution) => {
                    let quantiles = Quantiles::new(distribution);
                    Some(quantiles.expect("the samples of the problem are drawn from it too"))
                }
                AirDensity::World { .. } | AirDensity::Exact => None,
            },
            air: air.with_seed(seed),
        }
    }

    /// Number of the stream that one pass of one campaign draws from.
    fn stream(campaign: u64, pass: u32) -> u64 {
        campaign
            .wrapping_mul(u64::from(MOST_PASSES) + 1)
            .wrapping_add(u64::from(pass))
    }

    /// The scores of one pass.
    pub(super) fn scores(&self, campaign: u64, pass: u32) -> Scores {
        let mut generator = self.generator.clone();
        generator.set_stream(Self::stream(campaign, pass));
        let mut scores = [0.0; COUNT];
        for score in &mut scores {
            *score = Chance::from_bits(generator.next_u64()).normal_score();
        }
        scores
    }

    /// The air of one pass that begins at `start`; `numbers` are those of the campaign.
    pub(super) fn air(
        &self,
        (campaign, pass): (u64, u32),
        weather: &Weather,
        (numbers, wind): (&Numbers, f64),
        start: &EntryState,
    ) -> AirSample<f64> {
        let mut numbers = *numbers;
        numbers[Number::AirDensity as usize] = match &self.log_factor {
            Some(quantiles) => quantiles.from_normal_score(weather.density),
            None => weather.density,
        };
        numbers[Number::AirScaleHeight as usize] = weather.scale_height;
        numbers[Number::AirWind as usize] = wind;
        let stream = SampleNumber::Of(Self::stream(campaign, pass));
        self.air.sample(stream, &numbers, start)
    }
}

impl Weather {
    /// Goes on to the air of the next pass: z' = ρ z + √(1 - ρ²) ε, which keeps the one-sigma at 1.
    pub(super) fn advance(&mut self, correlation: f64, scores: &Scores) {
        let kept = if self.known { correlation } else { 0.0 };
        let fresh = (1.0 - kept * kept).max(0.0).sqrt();
        self.density = kept * self.density + fresh * scores[PassNumber::Density as usize];
        self.scale_height =
            kept * self.scale_height + fresh * scores[PassNumber::ScaleHeight as usize];
        self.known = true;
    }
}

/// The score of the wind of a pass.
pub(super) fn wind(scores: &Scores) -> f64 {
    scores[PassNumber::Wind as usize]
}

/// The scores of a burn: its size, and its direction along the two axes across it.
pub(super) fn burn(scores: &Scores) -> (f64, f64, f64) {
    let at = |number: PassNumber| scores[number as usize];
    (
        at(PassNumber::BurnSize),
        at(PassNumber::BurnAcross),
        at(PassNumber::BurnSideways),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::uncertainty::AirMeans;
    use crate::world::dispersion::Dispersion;
    use crate::world::{Planet, World};

    fn luck(seed: u64) -> Luck {
        let planet = Planet::new(&World::bundled("mars").unwrap());
        let air = AirDraws::new(
            (AirDensity::World { factor: 1.0 }, AirMeans::default()),
            (&Dispersion::default(), &planet),
            seed,
        );
        Luck::new(&air, seed)
    }

    /// Over 4000 campaigns the log density of a pass has one-sigma 1 and correlations ρ, ρ², ρ³ with those
    /// before (the definition of the process); four sampling errors are allowed.
    #[test]
    fn the_density_remembers_as_much_as_it_is_told_to() {
        let (luck, correlation) = (luck(3), 0.7);
        let (mut square, mut products) = (0.0, [0.0; 3]);
        let count = 4000;
        for campaign in 0..count {
            let mut weather = Weather::default();
            let mut past = Vec::new();
            for pass in 0..8 {
                weather.advance(correlation, &luck.scores(campaign, pass));
                past.push(weather.density);
            }
            square += past[7] * past[7];
            for (lag, product) in products.iter_mut().enumerate() {
                *product += past[7] * past[6 - lag];
            }
        }
        let n = f64::from(u32::try_from(count).expect("small"));
        let error = 4.0 * (2.0 / n).sqrt();
        assert!((square / n - 1.0).abs() < error, "{}", square / n);
        let mut expected = 1.0;
        for product in products {
            expected *= correlation;
            assert!(
                (product / n - expected).abs() < error,
                "{} {expected}",
                product / n
            );
        }
    }

    #[test]
    fn no_pass_shares_its_luck_with_another() {
        let luck = luck(3);
        assert_eq!(luck.scores(5, 7), luck.scores(5, 7));
        assert_ne!(luck.scores(5, 7), luck.scores(5, 8));
        assert_ne!(luck.scores(5, MOST_PASSES), luck.scores(6, 0));
        assert_ne!(luck.scores(5, 7), self::luck(4).scores(5, 7));
    }
}
