//! The terminal gate of a landing, and where a place lies from a ship in flight.

use crate::numeric::Vec3;
use crate::numeric::elementary::sin_cos;
use crate::world::Planet;

/// The gate at which a steered entry ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gate {
    /// Direction from the centre to the place, of length 1, in the inertial frame at the start of the flight.
    pub place: Vec3<f64>,
    /// Speed against the air at which the gate is met, m/s.
    pub speed_m_s: f64,
    /// Ground range from the gate to the place that is wanted there, m.
    pub range_to_go_m: f64,
    /// The bank changes sides when the straight line on from the gate would pass the place by more, m.
    pub aside_within_m: f64,
}

/// Where a place lies from a ship.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bearing {
    /// Ground range on the sphere of the equatorial radius, m.
    pub range_m: f64,
    /// Ground range along the direction of flight, m; negative when the place lies behind.
    pub downrange_m: f64,
    /// Angle from the direction of flight to the place, rad, positive to the right.
    pub heading_error_rad: f64,
    /// Distance of the place from the great circle of the flight, m, positive to the right.
    pub aside_m: f64,
}

impl Gate {
    /// Direction of the place at a time since the start of the flight, s: it turns with the body.
    #[must_use]
    pub fn place_at(&self, planet: &Planet, time_s: f64) -> Vec3<f64> {
        let (sine, cosine) = sin_cos(planet.rotation_rad_s * time_s);
        let p = self.place;
        Vec3::new(p.x * cosine - p.y * sine, p.x * sine + p.y * cosine, p.z)
    }

    /// Where the place lies from a ship at `r` (m) with inertial velocity `v` (m/s) at `time_s`; the direction of
    /// flight is that over the turning ground.
    #[must_use]
    pub fn bearing(&self, planet: &Planet, (r, v): (Vec3<f64>, Vec3<f64>), time_s: f64) -> Bearing {
        bearing(
            self.place_at(planet, time_s),
            (r, planet.over_ground(r, v)),
            planet.equatorial_radius_m,
        )
    }
}

/// Where the direction `place` (length 1) lies from a ship at `r` with velocity `over_ground`, on a sphere of
/// `radius_m`. In a vertical fall every place lies ahead.
#[must_use]
pub fn bearing(
    place: Vec3<f64>,
    (r, over_ground): (Vec3<f64>, Vec3<f64>),
    radius_m: f64,
) -> Bearing {
    let up = r.unit();
    let level = up.scale_add(-up.dot(over_ground), over_ground);
    let ahead = if level.norm() > 0.0 {
        level.unit()
    } else {
        up.scale_add(-up.dot(place), place).unit()
    };
    let right = ahead.cross(up);
    let (above, forward, aside) = (up.dot(place), ahead.dot(place), right.dot(place));
    let level_part = (forward * forward + aside * aside).sqrt();
    Bearing {
        range_m: radius_m * libm::atan2(level_part, above),
        downrange_m: radius_m * libm::atan2(forward, above),
        heading_error_rad: libm::atan2(aside, forward),
        aside_m: radius_m * libm::asin(aside.clamp(-1.0, 1.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// On the equator heading east: a place 10 deg east and 3 deg south lies at the great-circle range of the
    /// spherical law of cosines, to the right, by the spherical triangle's angle (all by hand).
    #[test]
    fn a_place_is_found_by_spherical_triangles() {
        let (east, south) = (10.0_f64.to_radians(), 3.0_f64.to_radians());
        let place = Vec3::new(
            east.cos() * south.cos(),
            east.sin() * south.cos(),
            -south.sin(),
        );
        let ship = (Vec3::new(7e6, 0.0, 0.0), Vec3::new(-200.0, 3000.0, 0.0));
        let found = bearing(place, ship, 6e6);
        let range = (east.cos() * south.cos()).acos();
        assert!((found.range_m / (6e6 * range) - 1.0).abs() < 1e-12);
        assert!((found.downrange_m / (6e6 * east) - 1.0).abs() < 1e-12);
        let angle = (south.tan() / east.sin()).atan();
        assert!((found.heading_error_rad - angle).abs() < 1e-12);
        // The flight goes along the equator: the place lies off it by its latitude.
        assert!((found.aside_m / (6e6 * south) - 1.0).abs() < 1e-12);
    }
}
