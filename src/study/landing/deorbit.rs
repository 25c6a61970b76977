//! The burn that brings the ship down from an orbit: its size, where it is done, and the rounds the ship may
//! wait until the ground has turned.

use crate::craft::engine::propellant_kg;
use crate::numeric::Vec3;
use crate::pass::EntryState;
use crate::pass::coast::{Until, coast};
use crate::pass::orbit::speed_between_apsides;
use crate::world::Planet;
use std::f64::consts::TAU;

/// The orbit that the burn leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Before {
    /// Periapsis radius, m.
    pub periapsis_radius_m: f64,
    /// Apoapsis radius, m: where the burn is done.
    pub apoapsis_radius_m: f64,
    /// Inclination, rad.
    pub inclination_rad: f64,
}

/// The burn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deorbit {
    /// The orbit before.
    pub before: Before,
    /// Speed change at the apoapsis, m/s; positive against the motion.
    pub speed_m_s: f64,
    /// Propellant, kg, for a ship with an engine.
    pub propellant_kg: Option<f64>,
    /// Time from the burn to the entry interface, s.
    pub coast_s: f64,
    /// Direction of the burn from the centre, of length 1, in the frame that turns with the body and agrees with the
    /// inertial one at the entry interface.
    pub over: Vec3<f64>,
}

impl Before {
    /// Period, s.
    #[must_use]
    pub fn period_s(&self, gm: f64) -> f64 {
        let a = 0.5 * (self.periapsis_radius_m + self.apoapsis_radius_m);
        TAU * (a * a * a / gm).sqrt()
    }

    /// Rate at which the node of the orbit moves among the stars by the oblateness, rad/s (J2, first order).
    ///
    /// Ω' = -3/2 J2 (R/p)² n cos i (King-Hele 1958 and every textbook since).
    #[must_use]
    pub fn node_rate_rad_s(&self, planet: &Planet) -> f64 {
        -1.5 * self.oblateness_rate_rad_s(planet) * libm::cos(self.inclination_rad)
    }

    /// Rate at which the periapsis of the orbit moves in its plane by the oblateness, rad/s (J2, first order).
    ///
    /// ω' = 3/4 J2 (R/p)² n (5 cos² i - 1) (the same sources).
    #[must_use]
    pub fn periapsis_rate_rad_s(&self, planet: &Planet) -> f64 {
        let cosine = libm::cos(self.inclination_rad);
        0.75 * self.oblateness_rate_rad_s(planet) * (5.0 * cosine * cosine - 1.0)
    }

    /// J2 (R/p)² n, rad/s.
    fn oblateness_rate_rad_s(&self, planet: &Planet) -> f64 {
        let (r_p, r_a) = (self.periapsis_radius_m, self.apoapsis_radius_m);
        let p = 2.0 * r_p * r_a / (r_p + r_a);
        let n = TAU / self.period_s(planet.gm_m3_s2);
        let ratio = planet.zonal_radius_m / p;
        planet.zonal[0] * ratio * ratio * n
    }

    /// By how much the node moves over the ground in a round, rad to the east.
    #[must_use]
    pub fn node_shift_rad(&self, planet: &Planet) -> f64 {
        (self.node_rate_rad_s(planet) - planet.rotation_rad_s) * self.period_s(planet.gm_m3_s2)
    }

    /// By how much the periapsis moves in the plane of the orbit in a round, rad; 0 for a circle, which has none.
    #[must_use]
    pub fn periapsis_shift_rad(&self, planet: &Planet) -> f64 {
        if self.periapsis_radius_m == self.apoapsis_radius_m {
            return 0.0;
        }
        self.periapsis_rate_rad_s(planet) * self.period_s(planet.gm_m3_s2)
    }

    /// The burn at the apoapsis that leads to an entry of a ship with this mass (kg) and specific impulse (s). The way
    /// between them is integrated with the zonal harmonics, from the entry back to the apoapsis: gravity alone runs
    /// backwards as it runs forwards. `None` where that way ends nowhere.
    #[must_use]
    pub fn burn(
        &self,
        planet: &Planet,
        start: &EntryState,
        (mass_kg, impulse_s): (f64, Option<f64>),
    ) -> Option<Deorbit> {
        let back = start.velocity.scale(-1.0);
        let up = coast(planet, start.position, back, Until::Apoapsis)?;
        let r_a = self.apoapsis_radius_m;
        let before = speed_between_apsides(planet.gm_m3_s2, r_a, self.periapsis_radius_m, r_a);
        let speed_m_s = before - up.velocity.norm();
        let coast_s = up.duration_s;
        let away = up.position.unit();
        // The ground at the burn had still to turn until the ship comes to the interface.
        let turned = -planet.rotation_rad_s * coast_s;
        let (sine, cosine) = (libm::sin(turned), libm::cos(turned));
        Some(Deorbit {
            before: *self,
            speed_m_s,
            propellant_kg: impulse_s
                .map(|impulse| propellant_kg(mass_kg, speed_m_s.abs(), impulse)),
            coast_s,
            over: Vec3::new(
                away.x * cosine + away.y * sine,
                away.y * cosine - away.x * sine,
                away.z,
            ),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::World;

    fn before(planet: &Planet) -> Before {
        Before {
            periapsis_radius_m: planet.equatorial_radius_m + 400e3,
            apoapsis_radius_m: planet.equatorial_radius_m + 400e3,
            inclination_rad: 51.6_f64.to_radians(),
        }
    }

    /// A 400 km orbit of the Earth at 51.6 deg: its node drifts about 5 deg a day to the west among the stars
    /// and lies about 23 deg farther west after each round (common knowledge of such orbits, to 2 %).
    #[test]
    fn the_node_moves_west_round_by_round() {
        let planet = Planet::new(&World::bundled("earth").expect("bundled"));
        let orbit = before(&planet);
        let day = orbit.node_rate_rad_s(&planet).to_degrees() * 86_400.0;
        assert!((day / -5.0 - 1.0).abs() < 0.02, "{day}");
        let round = orbit.node_shift_rad(&planet).to_degrees();
        assert!((round / -23.5 - 1.0).abs() < 0.02, "{round}");
    }

    /// The periapsis stands still at the inclination of 63.43 deg (published, every textbook), moves forward below it
    /// and back above; a transfer orbit to the stationary one at 7 deg moves 0.822 deg a day forward (from the formula
    /// by hand: J2 = 1.0826e-3, R = 6378.1 km, p = 11 380.7 km, n = 1.65945e-4 rad/s), and a circle has no periapsis to move.
    #[test]
    fn the_periapsis_moves_in_its_plane() {
        let planet = Planet::new(&World::bundled("earth").expect("bundled"));
        let transfer = |inclination_deg: f64| Before {
            periapsis_radius_m: 6_578.1e3,
            apoapsis_radius_m: 42_164e3,
            inclination_rad: inclination_deg.to_radians(),
        };
        let day = |orbit: &Before| orbit.periapsis_rate_rad_s(&planet).to_degrees() * 86_400.0;
        assert!(day(&transfer(63.434_95)).abs() < 1e-5);
        assert!(day(&transfer(70.0)) < 0.0);
        let near = day(&transfer(7.0));
        assert!((near / 0.8224 - 1.0).abs() < 0.001, "{near}");
        assert_eq!(before(&planet).periapsis_shift_rad(&planet), 0.0);
    }
}
