//! The air of each sample: which parts of its dispersion are flown, and what a sample draws of them.

use super::distribution::Chance;
use super::luck::Luck;
use super::problem::{Numbers, SampleNumber};
use crate::numeric::Vec3;
use crate::pass::EntryState;
use crate::scenario::uncertainty::{AirDensity, AirMeans, AirPart, AirParts, Number};
use crate::world::curve::Curve;
use crate::world::dispersion::{Dispersion, ScaleHeightError, SmallScale};
use crate::world::planet::AirSample;
use crate::world::waves::{COUNT, Wave, Waves, waves_per_turn};
use crate::world::{Planet, World};
use rand_chacha::rand_core::Rng;
use std::f64::consts::{SQRT_2, TAU};

/// The small-scale field about a body.
#[derive(Debug, Clone, Copy)]
pub(super) struct Field {
    vertical_m: f64,
    along_track_m: f64,
    /// Radius at which arcs are as long as their lengths say, m.
    radius_m: f64,
    gm_m3_s2: f64,
}

impl Field {
    /// A field about a planet. Arcs are measured two fifths of the way from the equator's ground up to the
    /// entry interface, about where passes have their lowest point; at other heights they are longer or shorter by
    /// the ratio of the radii (4 % at Titan, less than 1 % elsewhere).
    fn new(field: &SmallScale, planet: &Planet) -> Self {
        Self {
            vertical_m: field.vertical_m,
            along_track_m: field.along_track_m,
            radius_m: 0.4f64.mul_add(planet.interface_m, planet.equatorial_radius_m),
            gm_m3_s2: planet.gm_m3_s2,
        }
    }

    /// The field of chances that come one after another, for a pass that begins at `start`: its arc begins at the
    /// vacuum periapsis, so that passes at other aims meet the same air.
    pub(super) fn waves(&self, start: &EntryState, mut next: impl FnMut() -> Chance) -> Waves<f64> {
        let mut waves = Waves::STILL;
        for i in 0..COUNT {
            // A wave number of the spectrum of exp(-(d/L)²) is normal with √2/L rad/m.
            waves.waves[i] = Wave {
                per_m_up: next().normal_score() * SQRT_2 / (TAU * self.vertical_m),
                per_turn: waves_per_turn(
                    next().normal_score(),
                    (self.along_track_m, self.radius_m),
                ),
                phase: next().uniform(),
            };
        }
        (waves.toward, waves.ahead) = self.track(start);
        waves
    }

    /// Where the arc of a pass begins, and where it leads: to the periapsis of its conic, along its plane. A pass
    /// straight down, or round a circle, has its arc begin where it begins.
    fn track(&self, start: &EntryState) -> (Vec3<f64>, Vec3<f64>) {
        let (r, v) = (start.position, start.velocity);
        let (normal, up) = (r.cross(v), r.unit());
        let eccentricity = v.cross(normal).scale(1.0 / self.gm_m3_s2) - up;
        if normal.norm() < 1e-9 * r.norm() * v.norm() {
            // Any direction across: the pass sweeps no arc.
            let flat = Vec3::new(-up.y, up.x, 0.0);
            let level = flat.norm() > 0.5;
            let across = if level {
                flat
            } else {
                Vec3::new(0.0, -up.z, up.y)
            };
            return (up, across.unit());
        }
        let toward = if eccentricity.norm() < 1e-6 {
            up
        } else {
            eccentricity.unit()
        };
        (toward, normal.unit().cross(toward))
    }
}

/// Makes the air of any sample.
#[derive(Debug, Clone)]
pub struct AirDraws {
    density: AirDensity,
    means: AirMeans,
    scale_height_sigma: f64,
    wind_sigma_m_s: f64,
    /// The small-scale field, if there is one.
    pub(super) field: Option<Field>,
    luck: Luck,
}

impl AirDraws {
    /// The draws of a dispersion about a planet, and of a seed.
    #[must_use]
    pub fn new(
        (density, means): (AirDensity, AirMeans),
        (dispersion, planet): (&Dispersion, &Planet),
        seed: u64,
    ) -> Self {
        Self {
            density,
            means,
            scale_height_sigma: dispersion.scale_height.map_or(0.0, |error| error.sigma),
            wind_sigma_m_s: dispersion.wind_sigma_m_s.unwrap_or(0.0),
            field: dispersion
                .small_scale
                .as_ref()
                .map(|field| Field::new(field, planet)),
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
        let waves = match (self.field, sample.mix()) {
            (Some(field), Some(mix)) => {
                let mut generator = self.luck.of_field(mix);
                field.waves(start, || Chance::from_bits(generator.next_u64()))
            }
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

    fn draws(vertical_m: f64, along_track_m: f64) -> (AirDraws, Planet) {
        let dispersion = Dispersion {
            small_scale: Some(SmallScale {
                sigma: Curve::constant(0.1),
                vertical_m,
                along_track_m,
            }),
            ..Dispersion::default()
        };
        let planet = Planet::new(&World::bundled("mars").unwrap());
        let exact = (AirDensity::Exact, AirMeans::default());
        (AirDraws::new(exact, (&dispersion, &planet), 5), planet)
    }

    /// A pass that moves towards y at x, in the plane of both.
    fn start(planet: &Planet) -> EntryState {
        EntryState {
            position: Vec3::new(planet.equatorial_radius_m + planet.interface_m, 0.0, 0.0),
            velocity: Vec3::new(-900.0, 4900.0, 0.0),
            meets_air: true,
        }
    }

    /// Over 10,000 draws the field has zero mean, variance 1, and at a distance of one correlation length
    /// in either direction a correlation of 1/e; at both together 1/e²; far away none. Sampling error of a
    /// correlation of 10,000 samples: 0.01; four of them are allowed.
    #[test]
    fn the_small_scale_field_has_the_asked_variance_and_lengths() {
        let (vertical, along) = (8e3, 300e3);
        let (draws, planet) = draws(vertical, along);
        let start = start(&planet);
        let radius = draws.field.unwrap().radius_m;
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
            let field = draws.sample(SampleNumber::Of(sample), &[0.0; Number::COUNT], &start);
            let at = |(up, track): (f64, f64)| {
                let (sine, cosine) = (0.2 + track / radius).sin_cos();
                let place = Vec3::new(radius * cosine, radius * sine, 0.0);
                field.waves.value(50e3 + up, place)
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
        let (draws, planet) = draws(8e3, 3e5);
        let of = |number| {
            draws.sample(
                SampleNumber::Of(number),
                &[0.0; Number::COUNT],
                &start(&planet),
            )
        };
        let again = of(3).waves;
        let _ = of(99);
        assert_eq!(of(3).waves, again);
        assert_ne!(of(4).waves, again);
    }

    /// Straight down and round a circle too the arc has a beginning and a direction across it.
    #[test]
    fn every_pass_has_a_track() {
        let (draws, planet) = draws(8e3, 3e5);
        let field = draws.field.unwrap();
        let radius = planet.equatorial_radius_m + planet.interface_m;
        let circle = (planet.gm_m3_s2 / radius).sqrt();
        for up in [(1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.6, 0.0, 0.8)] {
            let up = Vec3::new(up.0, up.1, up.2);
            let across = Vec3::new(0.0, 1.0, 0.0);
            for velocity in [up.scale(-5e3), across.scale(circle), across.scale(6e3)] {
                let start = EntryState {
                    position: up.scale(radius),
                    velocity,
                    meets_air: true,
                };
                let (toward, ahead) = field.track(&start);
                for unit in [toward, ahead] {
                    assert!((unit.norm() - 1.0).abs() < 1e-12, "{unit:?}");
                }
                assert!(toward.dot(ahead).abs() < 1e-12 && ahead.dot(velocity) >= -1e-9);
            }
        }
    }
}
