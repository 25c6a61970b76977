//! The orbit on which a campaign begins.

use crate::numeric::Vec3;
use crate::numeric::elementary::sin_cos;
use crate::numeric::root::bracketed_root;
use crate::pass::coast::{Until, coast, without_interface};
use crate::pass::orbit::speed_between_apsides;
use crate::world::Planet;

/// An orbit at its apoapsis, and the ship's mass there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StartOrbit {
    /// Apoapsis altitude above the equatorial radius, m.
    pub apoapsis_altitude_m: f64,
    /// Altitude above the ellipsoid of the periapsis that follows, without air, m.
    pub periapsis_altitude_m: f64,
    /// Inclination, rad.
    pub inclination_rad: f64,
    /// Argument of periapsis, rad.
    pub argument_of_periapsis_rad: f64,
    /// Mass of the ship, kg.
    pub mass_kg: f64,
}

/// Where the campaigns begin.
pub enum Starts<'a> {
    /// All on the same orbit.
    Same(StartOrbit),
    /// Each on its own, by its number.
    Each(&'a (dyn Fn(u64) -> StartOrbit + Sync)),
    /// Each with the scenario's arrival as its first pass, at this vacuum periapsis altitude (m); sample and
    /// campaign have the same number and the same luck.
    Arrival {
        /// The aim, m.
        aim_m: f64,
    },
}

impl StartOrbit {
    /// Position (m) and velocity (m/s) at the apoapsis; `None` where no such orbit is: the periapsis at or
    /// below the centre, or not below the apoapsis.
    ///
    /// The zonal harmonics bend the way down, so the speed is the one with which the periapsis comes out as
    /// asked for.
    #[must_use]
    pub fn state(&self, planet: &Planet) -> Option<(Vec3<f64>, Vec3<f64>)> {
        let (sin_i, cos_i) = sin_cos(self.inclination_rad);
        let (sin_w, cos_w) = sin_cos(self.argument_of_periapsis_rad);
        let toward = Vec3::new(cos_w, sin_w * cos_i, sin_w * sin_i);
        let along = Vec3::new(-sin_w, cos_w * cos_i, cos_w * sin_i);
        let r_a = planet.equatorial_radius_m + self.apoapsis_altitude_m;
        let surface = planet.ellipsoid.surface_radius(toward.z * toward.z);
        let r_p = surface + self.periapsis_altitude_m;
        if !(r_p > 0.0 && r_a > r_p) {
            return None;
        }
        // Down to the periapsis itself, whatever lies in the way.
        let open = without_interface(planet);
        let position = toward.scale(-r_a);
        let velocity =
            |r_p: f64| along.scale(-speed_between_apsides(planet.gm_m3_s2, r_a, r_p, r_a));
        let miss = |r_p: f64| {
            coast(&open, position, velocity(r_p), Until::Air).map_or(f64::NAN, |down| {
                planet.altitude_at(down.position) - self.periapsis_altitude_m
            })
        };
        // The harmonics move the periapsis by a few J2 of the radius.
        let reach = (4.0 * planet.zonal[0].abs() * planet.zonal_radius_m).max(100.0);
        let found = bracketed_root(miss, r_p - reach, (r_p + reach).min(r_a), 1.0);
        let velocity = velocity(found.unwrap_or(r_p));
        Some((position, velocity))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::World;

    #[test]
    fn the_first_periapsis_is_where_it_was_asked_for() {
        let planet = Planet::new(&World::bundled("mars").expect("bundled"));
        let orbit = StartOrbit {
            apoapsis_altitude_m: 27_000e3,
            periapsis_altitude_m: 104e3,
            inclination_rad: 1.63,
            argument_of_periapsis_rad: 1.2,
            mass_kg: 461.0,
        };
        let (r, v) = orbit.state(&planet).expect("an orbit");
        assert!(r.dot(v).abs() < 1e-6 * r.norm() * v.norm());
        let open = Planet {
            interface_m: 0.0,
            ..planet.clone()
        };
        let down = coast(&open, r, v, Until::Air).expect("bound");
        assert!((planet.altitude_at(down.position) - 104e3).abs() < 2.0);
        // Taken as the osculating conic at apoapsis it would be kilometres off.
        let gm = planet.gm_m3_s2;
        let conic = crate::pass::orbit::Orbit::from_state(gm, r, v);
        assert!((conic.periapsis_radius_m - down.position.norm()).abs() > 500.0);
        let low = StartOrbit {
            periapsis_altitude_m: 28_000e3,
            ..orbit
        };
        assert!(low.state(&planet).is_none());
    }
}
