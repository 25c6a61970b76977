//! The air of each sample: which parts of its dispersion are flown, and what a sample draws of them.

use super::distribution::Chance;
use super::luck::{Luck, Mix};
use super::problem::{Numbers, SampleNumber};
use crate::pass::EntryState;
use crate::scenario::uncertainty::{AirDensity, AirMeans, AirPart, AirParts, Number};
use crate::world::World;
use crate::world::curve::Curve;
use crate::world::dispersion::{Dispersion, ScaleHeightError, SmallScale};
use crate::world::planet::AirSample;
use crate::world::waves::{COUNT, Wave, Waves};
use rand_chacha::rand_core::Rng;
use std::f64::consts::{SQRT_2, TAU};

/// Makes the air of any sample.
#[derive(Debug, Clone)]
pub struct AirDraws {
    density: AirDensity,
    means: AirMeans,
    scale_height_sigma: f64,
    wind_sigma_m_s: f64,
    /// Correlation lengths of the small-scale field, in altitude and along the track, m.
    pub(super) wave_lengths_m: Option<(f64, f64)>,
    luck: Luck,
}

impl AirDraws {
    /// The draws of a dispersion and seed.
    #[must_use]
    pub fn new(
        (density, means): (AirDensity, AirMeans),
        dispersion: &Dispersion,
        seed: u64,
    ) -> Self {
        Self {
            density,
            means,
            scale_height_sigma: dispersion.scale_height.map_or(0.0, |error| error.sigma),
            wind_sigma_m_s: dispersion.wind_sigma_m_s.unwrap_or(0.0),
            wave_lengths_m: dispersion
                .small_scale
                .as_ref()
                .map(|field| (field.vertical_m, field.along_track_m)),
            luck: Luck::new(seed),
        }
    }

    /// What the score of the density stands for.
    #[must_use]
    pub fn density(&self) -> AirDensity {
        self.density
    }

    /// The same air under another seed.
    #[must_use]
    pub fn with_seed(&self, seed: u64) -> Self {
        Self {
            luck: Luck::new(seed),
            ..self.clone()
        }
    }

    /// One-sigma of the relative error of the scale height, and of the zonal wind in m/s.
    #[must_use]
    pub fn spreads(&self) -> (f64, f64) {
        (self.scale_height_sigma, self.wind_sigma_m_s)
    }

    /// The air of one sample with these numbers, which begins its pass at `start`.
    #[must_use]
    pub fn sample(
        &self,
        sample: SampleNumber,
        numbers: &Numbers,
        start: &EntryState,
    ) -> AirSample<f64> {
        let of = |number: Number| numbers[number as usize];
        let score = of(Number::AirDensity);
        let (sigmas, ln_factor) = match self.density {
            AirDensity::Exact => (0.0, 0.0),
            AirDensity::World { factor } => (factor * score + self.means.density_sigmas, 0.0),
            AirDensity::LogFactor(_) => (0.0, score),
        };
        let error = self.scale_height_sigma * of(Number::AirScaleHeight);
        let error = (error + self.means.scale_height).max(-0.9);
        let waves = match (self.wave_lengths_m, sample.mix()) {
            (Some(lengths), Some(mix)) => Waves {
                along: start.along_track(),
                ..self.waves(mix, lengths)
            },
            _ => Waves::STILL,
        };
        AirSample {
            sigmas,
            ln_factor,
            stretch: error / (1.0 + error),
            wind_m_s: self.wind_sigma_m_s * of(Number::AirWind) + self.means.wind_m_s,
            waves,
        }
    }

    /// The waves of one sample, of words that no number uses; the direction of the track is left to the caller.
    #[must_use]
    pub fn waves(&self, mix: Mix, (vertical_m, along_track_m): (f64, f64)) -> Waves<f64> {
        let mut generator = self.luck.of_field(mix);
        let lengths = (vertical_m, along_track_m);
        waves_of(lengths, || Chance::from_bits(generator.next_u64()))
    }
}

/// The waves of chances that come one after another.
pub(super) fn waves_of(
    (vertical_m, along_track_m): (f64, f64),
    mut next: impl FnMut() -> Chance,
) -> Waves<f64> {
    let mut waves = Waves::STILL;
    for i in 0..COUNT {
        // A wave number of the spectrum of exp(-(d/L)²) is normal with √2/L rad/m.
        waves.waves[i] = Wave {
            per_m_up: next().normal_score() * SQRT_2 / (TAU * vertical_m),
            per_m_along: next().normal_score() * SQRT_2 / (TAU * along_track_m),
            phase: next().uniform(),
        };
    }
    waves
}

/// The dispersion that is flown: the world's parts as the scenario scales, replaces or leaves them out.
#[must_use]
pub fn flown_dispersion(parts: &AirParts, world: &World) -> Dispersion {
    let own = world.dispersion();
    let middle = 0.5 * world.body().entry_interface_m;
    let scale_height = match parts.scale_height {
        AirPart::Exact => None,
        AirPart::World { factor } => own
            .scale_height
            .map(|error| ScaleHeightError {
                sigma: error.sigma * factor,
                ..error
            })
            .or(
                (parts.means.scale_height != 0.0).then_some(ScaleHeightError {
                    sigma: 0.0,
                    pivot_m: middle,
                }),
            ),
        AirPart::Own(sigma) => Some(ScaleHeightError {
            sigma,
            pivot_m: own.scale_height.map_or(middle, |error| error.pivot_m),
        }),
    };
    let small_scale = match parts.small_scale {
        AirPart::Exact | AirPart::World { factor: 0.0 } => None,
        AirPart::World { factor } => own.small_scale.as_ref().map(|field| SmallScale {
            sigma: field.sigma.times(factor),
            ..field.clone()
        }),
        AirPart::Own(field) => (field.sigma > 0.0).then(|| SmallScale {
            sigma: Curve::constant(field.sigma),
            vertical_m: field.vertical_m,
            along_track_m: field.along_track_m,
        }),
    };
    let wind_sigma_m_s = match parts.wind {
        AirPart::Exact => None,
        AirPart::World { factor } => own.wind_sigma_m_s.map(|sigma| sigma * factor),
        AirPart::Own(sigma) => Some(sigma),
    };
    Dispersion {
        scale_height,
        small_scale,
        wind_sigma_m_s,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::Vec3;

    fn draws(vertical_m: f64, along_track_m: f64) -> AirDraws {
        let dispersion = Dispersion {
            small_scale: Some(SmallScale {
                sigma: Curve::constant(0.1),
                vertical_m,
                along_track_m,
            }),
            ..Dispersion::default()
        };
        AirDraws::new((AirDensity::Exact, AirMeans::default()), &dispersion, 5)
    }

    /// Over 10,000 draws the field has zero mean, variance 1, and at a distance of one correlation length
    /// in either direction a correlation of 1/e; at both together 1/e²; far away none. Sampling error of a
    /// correlation of 10,000 samples: 0.01; four of them are allowed.
    #[test]
    fn the_small_scale_field_has_the_asked_variance_and_lengths() {
        let (vertical, along) = (8e3, 300e3);
        let draws = draws(vertical, along);
        let places = [
            (0.0, 0.0),
            (vertical, 0.0),
            (0.0, along),
            (vertical, along),
            (5.0 * vertical, 0.0),
        ];
        let mut sums = [0.0; 5];
        let (mut mean, mut square) = (0.0, 0.0);
        for sample in 0..10_000 {
            let mut field = draws.waves(Mix::of(sample), (vertical, along));
            field.along = Vec3::new(1.0, 0.0, 0.0);
            let at = |(up, track): (f64, f64)| {
                field.value(50e3 + up, Vec3::new(1e5 + track, 3.4e6, 0.0))
            };
            let here = at(places[0]);
            mean += here / 1e4;
            square += here * here / 1e4;
            for (sum, &place) in sums.iter_mut().zip(&places) {
                *sum += here * at(place) / 1e4;
            }
        }
        assert!(mean.abs() < 0.04, "mean {mean}");
        assert!((square - 1.0).abs() < 0.06, "variance {square}");
        let one = (-1.0_f64).exp();
        for (sum, expected) in sums.iter().zip([1.0, one, one, one * one, 0.0]) {
            assert!(
                (sum - expected).abs() < 0.06,
                "correlation {sum}, expected {expected}"
            );
        }
    }

    #[test]
    fn the_field_of_a_sample_depends_on_seed_and_number_alone() {
        let draws = draws(8e3, 3e5);
        let again = draws.waves(Mix::of(3), (8e3, 3e5));
        let _ = draws.waves(Mix::of(99), (8e3, 3e5));
        assert_eq!(draws.waves(Mix::of(3), (8e3, 3e5)), again);
        assert_ne!(draws.waves(Mix::of(4), (8e3, 3e5)), again);
    }
}
