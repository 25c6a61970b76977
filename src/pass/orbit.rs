//! Conics: what orbit a state belongs to, and what it costs to mend one.

use crate::numeric::Vec3;
use crate::world::Planet;

/// A conic about a point mass, as it osculates to a motion.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Orbit {
    /// Twice the specific energy, m²/s²: v² - 2μ/r; the square of the excess speed when positive.
    pub twice_energy: f64,
    /// Periapsis radius, m.
    pub periapsis_radius_m: f64,
    /// Eccentricity.
    pub eccentricity: f64,
    /// Inclination to the equator, rad, 0 to π.
    pub inclination_rad: f64,
}

impl Orbit {
    /// The conic of a position (m) and velocity (m/s).
    #[must_use]
    pub fn from_state(gm: f64, r: Vec3<f64>, v: Vec3<f64>) -> Self {
        Self::of_energy(gm, v.dot(v) - 2.0 * gm / r.norm(), r.cross(v))
    }

    /// The conic of twice the specific energy (m²/s²) and the momentum about the centre (m²/s).
    #[must_use]
    pub fn of_energy(gm: f64, twice_energy: f64, h: Vec3<f64>) -> Self {
        let h2 = h.dot(h);
        let eccentricity = (1.0 + twice_energy * h2 / (gm * gm)).max(0.0).sqrt();
        Self {
            twice_energy,
            periapsis_radius_m: h2 / (gm * (1.0 + eccentricity)),
            eccentricity,
            inclination_rad: libm::acos((h.z / h2.sqrt()).clamp(-1.0, 1.0)),
        }
    }

    /// Apoapsis radius, m; `None` on a parabola or hyperbola.
    #[must_use]
    pub fn apoapsis_radius_m(&self, gm: f64) -> Option<f64> {
        (self.twice_energy < 0.0).then(|| -2.0 * gm / self.twice_energy - self.periapsis_radius_m)
    }

    /// Period, s; `None` on a parabola or hyperbola.
    #[must_use]
    pub fn period_s(&self, gm: f64) -> Option<f64> {
        (self.twice_energy < 0.0).then(|| {
            let a = -gm / self.twice_energy;
            std::f64::consts::TAU * (a * a * a / gm).sqrt()
        })
    }
}

/// Speed at radius `r` on the conic with apsides (or equal radii) `r_p` and `r_a`, m/s.
#[must_use]
pub fn speed_between_apsides(gm: f64, r: f64, r_p: f64, r_a: f64) -> f64 {
    (2.0 * gm * (1.0 / r - 1.0 / (r_p + r_a))).max(0.0).sqrt()
}

/// The two burns that turn the orbit after a pass into the target orbit, as impulses.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Corrections {
    /// Burn at apoapsis that lifts the periapsis, m/s.
    pub lift_periapsis_m_s: f64,
    /// Burn at the lifted periapsis that trims the apoapsis, m/s, of either sign counted positive.
    pub trim_apoapsis_m_s: f64,
}

impl Corrections {
    /// Corrections from an orbit with apsides (`r_p`, `r_a`) to one with (`target_p`, `target_a`), radii in m.
    #[must_use]
    pub fn between(gm: f64, (r_p, r_a): (f64, f64), (target_p, target_a): (f64, f64)) -> Self {
        let lift = speed_between_apsides(gm, r_a, target_p, r_a)
            - speed_between_apsides(gm, r_a, r_p, r_a);
        let trim = speed_between_apsides(gm, target_p, target_p, target_a)
            - speed_between_apsides(gm, target_p, target_p, r_a);
        Self {
            lift_periapsis_m_s: lift.abs(),
            trim_apoapsis_m_s: trim.abs(),
        }
    }
}

/// The round of a circular orbit at the surface, s: the scale of time near a body.
#[must_use]
pub fn surface_period_s(planet: &Planet) -> f64 {
    std::f64::consts::TAU * planet.equatorial_radius_m / planet.circular_speed_m_s()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Vallado, Fundamentals of Astrodynamics and Applications, Hohmann transfer example 6-1
    /// (from memory, reproduced by an independent computation): 191.34411 km to 35,781.34857 km altitude,
    /// 2.457038 + 1.478187 km/s. Tolerance 1e-6.
    #[test]
    fn a_hohmann_transfer_costs_the_published_burns() {
        let gm = 3.986_004_418e14;
        let (low, high) = (6_378_137.0 + 191_344.11, 6_378_137.0 + 35_781_348.57);
        let first = speed_between_apsides(gm, low, low, high) - (gm / low).sqrt();
        let second = (gm / high).sqrt() - speed_between_apsides(gm, high, low, high);
        assert!((first / 2457.038 - 1.0).abs() < 1e-6, "{first}");
        assert!((second / 1478.187 - 1.0).abs() < 1e-6, "{second}");
    }

    #[test]
    fn a_state_gives_back_the_apsides_it_was_made_of() {
        let gm = 4.282_837_5e13;
        let (r_p, r_a) = (3.5e6, 2.0e7);
        let v = speed_between_apsides(gm, r_p, r_p, r_a);
        let tilt = 0.6_f64;
        let orbit = Orbit::from_state(
            gm,
            Vec3::new(r_p, 0.0, 0.0),
            Vec3::new(0.0, v * tilt.cos(), v * tilt.sin()),
        );
        assert!((orbit.periapsis_radius_m / r_p - 1.0).abs() < 1e-12);
        assert!((orbit.apoapsis_radius_m(gm).expect("bound") / r_a - 1.0).abs() < 1e-12);
        assert!((orbit.inclination_rad - tilt).abs() < 1e-12);
        let a = 0.5 * (r_p + r_a);
        let period = std::f64::consts::TAU * (a.powi(3) / gm).sqrt();
        assert!((orbit.period_s(gm).expect("bound") / period - 1.0).abs() < 1e-12);
    }
}
