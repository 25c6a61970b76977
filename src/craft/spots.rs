//! Named places on the ship: what share of the stagnation flux reaches them, and what they may take.
//! Also the ship that rolls to spread heat over its circumference.

use super::validity::{Range, Validity};
use super::wall::{ThinWall, equilibrium_temperature};
use std::f64::consts::PI;

/// How the convective flux of a spot follows from that of the stagnation point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SpotHeating {
    /// A share of the stagnation flux, 0 or more (above 1 for a shoulder or a gap).
    Share(f64),
    /// The flux of a stagnation point of this effective radius, m, above 0.
    Radius(f64),
}

/// A named place on the ship.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// The user's name for it.
    pub name: String,
    /// Its convective flux.
    pub heating: SpotHeating,
    /// Its share of the radiative stagnation flux of the nose, 0 or more.
    pub radiative_share: f64,
    /// Emissivity of its surface, above 0, at most 1.
    pub emissivity: f64,
    /// Temperature of what its surface sees, K, 0 for dark space.
    pub background_k: f64,
    /// Highest temperature it may reach, K, if it has such a limit.
    pub highest_temperature_k: Option<f64>,
    /// Highest flux it may take, W/m², if it has such a limit.
    pub highest_flux_w_m2: Option<f64>,
}

impl Spot {
    /// What the convective and the radiative flux of the stagnation point are multiplied by, for a nose
    /// of radius `nose_radius_m` (m, above 0): the share, or √(Rn/R); and the radiative share.
    #[must_use]
    pub fn factors(&self, nose_radius_m: f64) -> (f64, f64) {
        let convective = match self.heating {
            SpotHeating::Share(share) => share,
            SpotHeating::Radius(radius_m) => (nose_radius_m / radius_m).sqrt(),
        };
        (convective, self.radiative_share)
    }

    /// Temperature of radiative equilibrium at a flux into the spot (W/m²), K: as hot as a wall that starts no
    /// hotter can become.
    #[must_use]
    pub fn equilibrium_temperature_k(&self, heat_flux_w_m2: f64) -> f64 {
        equilibrium_temperature(heat_flux_w_m2, self.emissivity, self.background_k)
    }

    /// The flux, W/m², at which the spot meets the stricter of its limits in radiative equilibrium;
    /// `None` without a limit.
    #[must_use]
    pub fn binding_flux_w_m2(&self) -> Option<f64> {
        let fourth = |t: f64| t * t * t * t;
        let by_temperature = self.highest_temperature_k.map(|t| {
            let net = fourth(t) - fourth(self.background_k);
            self.emissivity * super::wall::STEFAN_BOLTZMANN * net
        });
        match (by_temperature, self.highest_flux_w_m2) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        }
    }
}

/// A ship that rolls about an axis across the stream.
///
/// The flux around the circumference is that of the stagnation line times cosⁿ of the angle from it
/// on the windward half, and a constant share of it on the lee.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rolling {
    /// Time of one turn, s, above 0.
    pub period_s: f64,
    /// Exponent n: 1 for the cosine law, about 1.5 for laminar flow about a cylinder, 2 for
    /// Newton's pressure. 0 or more.
    pub exponent: f64,
    /// Share of the stagnation-line flux on the lee half, 0 to 1; 0 to leave it out.
    pub lee_share: f64,
}

/// A rolling ship's flux with the mark of its validity.
#[derive(Debug, Clone, PartialEq)]
pub struct RolledHeating {
    /// Temperature swing of the skin in one turn, lowest to highest, K (re-radiation left out: an
    /// upper estimate).
    pub ripple_k: f64,
    /// Whether a turn is short against the thermal time of the skin, so that the average counts.
    pub validity: Validity,
}

impl Rolling {
    /// A turn must be at most this share of the skin's thermal time for the average to count: the
    /// swing is then within some 2 % of the temperature (8 % of the flux radiated).
    pub const LONGEST_TURN: f64 = 0.1;

    /// Flux averaged over the circumference, over that of the stagnation line:
    /// Γ((n+1)/2)/(2√π Γ(n/2+1)) + lee share/2. For n = 1 and a cold lee 1/π.
    #[must_use]
    pub fn average_share(&self) -> f64 {
        let n = self.exponent;
        let gammas = libm::lgamma(0.5 * (n + 1.0)) - libm::lgamma(0.5 * n + 1.0);
        libm::exp(gammas) / (2.0 * PI.sqrt()) + 0.5 * self.lee_share
    }

    /// How far the skin's temperature swings in a turn and whether the average may be used, for a skin
    /// near `temperature_k` under a stagnation-line flux (W/m²).
    #[must_use]
    pub fn on(
        &self,
        skin: &ThinWall,
        temperature_k: f64,
        stagnation_line_w_m2: f64,
    ) -> RolledHeating {
        let turn = Range {
            quantity: "roll period",
            unit: "s",
            lowest: 0.0,
            highest: Self::LONGEST_TURN * skin.thermal_time_s(temperature_k),
        };
        let heat = stagnation_line_w_m2 * self.excess() * self.period_s / (2.0 * PI);
        RolledHeating {
            ripple_k: heat / skin.heat_capacity_j_m2_k,
            validity: Validity::of(&[(turn, self.period_s)]),
        }
    }

    /// The integral over the angle (rad) of what the flux exceeds its average by, where it does:
    /// the heat that swings in a turn. By the midpoint rule, to about 1e-5.
    fn excess(&self) -> f64 {
        let average = self.average_share();
        let steps = 2000;
        let width = PI / f64::from(steps);
        let lit = (0..steps).map(|i| {
            let angle = width * (f64::from(i) + 0.5) - 0.5 * PI;
            (libm::pow(libm::cos(angle), self.exponent) - average).max(0.0) * width
        });
        lit.sum::<f64>() + PI * (self.lee_share - average).max(0.0)
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;

    fn rolling(exponent: f64, lee_share: f64) -> Rolling {
        Rolling {
            period_s: 2.0,
            exponent,
            lee_share,
        }
    }

    #[test]
    fn a_cosine_law_averages_to_one_over_pi() {
        assert!((rolling(1.0, 0.0).average_share() - 1.0 / PI).abs() < 1e-14);
        assert!((rolling(0.0, 0.0).average_share() - 0.5).abs() < 1e-14);
        assert!((rolling(2.0, 0.0).average_share() - 0.25).abs() < 1e-14);
        assert!((rolling(0.0, 1.0).average_share() - 1.0).abs() < 1e-14);
    }

    #[test]
    fn averages_are_those_of_a_quadrature() {
        for (n, lee) in [(1.0, 0.0), (1.5, 0.0), (1.2, 0.05), (3.7, 0.1), (60.0, 0.0)] {
            let steps = 200_000;
            let sum: f64 = (0..steps)
                .map(|i| 2.0 * PI * (f64::from(i) + 0.5) / f64::from(steps))
                .map(|angle| {
                    if angle.cos() > 0.0 {
                        angle.cos().powf(n)
                    } else {
                        lee
                    }
                })
                .sum();
            let average = rolling(n, lee).average_share();
            assert!(
                (average - sum / f64::from(steps)).abs() < 1e-8,
                "{n} {average}"
            );
        }
    }

    #[test]
    fn a_quickly_rolling_skin_settles_where_the_average_says() {
        let skin = ThinWall {
            heat_capacity_j_m2_k: 8000.0,
            emissivity: 0.8,
            background_k: 0.0,
        };
        let (turn, flux) = (rolling(1.5, 0.02), 3e5);
        let mean = equilibrium_temperature(flux * turn.average_share(), 0.8, 0.0);
        let rolled = turn.on(&skin, mean, flux);
        assert!(rolled.validity.holds());
        let (mut t, mut low, mut high) = (mean, f64::INFINITY, 0.0_f64);
        for i in 0..400_000 {
            let angle = 2.0 * PI * (f64::from(i) + 0.5) / 1000.0;
            let share = if angle.cos() > 0.0 {
                angle.cos().powf(1.5)
            } else {
                0.02
            };
            t += skin.rate(t, flux * share) * turn.period_s / 1000.0;
            if i >= 390_000 {
                (low, high) = (low.min(t), high.max(t));
            }
        }
        // The mean lies within a small part of the swing, and the swing just below its estimate.
        assert!(
            (0.5 * (low + high) - mean).abs() < 0.05 * rolled.ripple_k,
            "{low} {mean} {high}"
        );
        let swing = (high - low) / rolled.ripple_k;
        assert!(swing > 0.97 && swing < 1.0, "{swing}");
        let slow = Rolling {
            period_s: 100.0,
            ..turn
        };
        assert!(!slow.on(&skin, mean, flux).validity.holds());
    }

    #[test]
    fn a_spot_takes_its_share_and_the_stricter_limit_binds() {
        let mut spot = Spot {
            name: "wing edge".into(),
            heating: SpotHeating::Radius(0.25),
            radiative_share: 0.3,
            emissivity: 0.9,
            background_k: 0.0,
            highest_temperature_k: Some(1900.0),
            highest_flux_w_m2: Some(8e5),
        };
        assert_eq!(spot.factors(1.0), (2.0, 0.3));
        let flux = spot.binding_flux_w_m2().unwrap();
        assert!((spot.equilibrium_temperature_k(flux) - 1900.0).abs() < 1e-9);
        spot.highest_flux_w_m2 = Some(5e5);
        assert_eq!(spot.binding_flux_w_m2(), Some(5e5));
        spot.highest_temperature_k = None;
        spot.highest_flux_w_m2 = None;
        assert_eq!(spot.binding_flux_w_m2(), None);
        spot.heating = SpotHeating::Share(0.55);
        assert_eq!(spot.factors(3.0).0, 0.55);
    }
}
