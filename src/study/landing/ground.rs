//! Places on the turning ground: on the map by latitude and longitude, and along and across the track of an
//! entry by downrange and crossrange.
//!
//! Longitudes are counted from the ascending node of the approach when the flight begins; what lies between
//! that node and the meridian of the map is one angle, the longitude of the node. Ranges are great-circle
//! distances on a sphere of the equatorial radius.

use crate::numeric::Vec3;
use crate::numeric::angle::wrapped;
use crate::pass::EntryState;
use crate::pass::dynamics::State;
use crate::world::Planet;
use std::f64::consts::{PI, TAU};

/// A place on the map.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnMap {
    /// Geodetic latitude, rad.
    pub latitude_rad: f64,
    /// Longitude to the east, rad, between -π and π.
    pub longitude_rad: f64,
}

impl OnMap {
    /// The place of a direction (length 1) of the frame that turns with the body and agrees with the inertial
    /// one at the start, for an approach whose node lies at `node_rad` on the map.
    #[must_use]
    pub fn of(planet: &Planet, direction: Vec3<f64>, node_rad: f64) -> Self {
        let across = direction.x.hypot(direction.y);
        let kept = 1.0 - planet.ellipsoid.eccentricity_squared();
        Self {
            latitude_rad: libm::atan2(direction.z, kept * across),
            longitude_rad: wrapped(libm::atan2(direction.y, direction.x) + node_rad),
        }
    }

    /// The direction of this place in that frame.
    #[must_use]
    pub fn direction(&self, planet: &Planet, node_rad: f64) -> Vec3<f64> {
        let kept = 1.0 - planet.ellipsoid.eccentricity_squared();
        let geocentric = libm::atan2(
            kept * libm::sin(self.latitude_rad),
            libm::cos(self.latitude_rad),
        );
        let longitude = self.longitude_rad - node_rad;
        let level = libm::cos(geocentric);
        Vec3::new(
            level * libm::cos(longitude),
            level * libm::sin(longitude),
            libm::sin(geocentric),
        )
    }
}

/// The direction below a state `time_s` after the start, in the frame that turns with the body.
#[must_use]
pub fn below(planet: &Planet, state: &State<f64>, time_s: f64) -> Vec3<f64> {
    let turned = planet.rotation_rad_s * time_s;
    let (sine, cosine) = (libm::sin(turned), libm::cos(turned));
    let r = Vec3::new(state[0], state[1], state[2]).unit();
    Vec3::new(r.x * cosine + r.y * sine, r.y * cosine - r.x * sine, r.z)
}

/// The great circle over the ground along which an entry sets out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Track {
    up: Vec3<f64>,
    ahead: Vec3<f64>,
    right: Vec3<f64>,
    radius_m: f64,
}

/// Where a place lies from the start of an entry: along its track and to the right of it, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FromEntry {
    /// Along the track, m.
    pub downrange_m: f64,
    /// To the right of the track, m.
    pub crossrange_m: f64,
}

impl Track {
    /// The track of an entry, by its motion over the turning ground.
    #[must_use]
    pub fn of(planet: &Planet, start: &EntryState) -> Self {
        let r = start.position;
        let over_ground = planet.over_ground(r, start.velocity);
        let up = r.unit();
        let ahead = up.scale_add(-up.dot(over_ground), over_ground).unit();
        Self {
            up,
            ahead,
            right: ahead.cross(up),
            radius_m: planet.equatorial_radius_m,
        }
    }

    /// Where a direction lies from the start. Places up to a quarter of a turn behind count as behind.
    #[must_use]
    pub fn place(&self, direction: Vec3<f64>) -> FromEntry {
        let along = libm::atan2(direction.dot(self.ahead), direction.dot(self.up));
        let along = if along < -0.5 * PI {
            along + TAU
        } else {
            along
        };
        let aside = libm::asin(direction.dot(self.right).clamp(-1.0, 1.0));
        FromEntry {
            downrange_m: self.radius_m * along,
            crossrange_m: self.radius_m * aside,
        }
    }

    /// The direction of a place along and across the track.
    #[must_use]
    pub fn direction(&self, place: FromEntry) -> Vec3<f64> {
        let along = place.downrange_m / self.radius_m;
        let aside = place.crossrange_m / self.radius_m;
        let on_track = self
            .ahead
            .scale_add(libm::sin(along), self.up.scale(libm::cos(along)));
        self.right
            .scale_add(libm::sin(aside), on_track.scale(libm::cos(aside)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::World;

    fn planet() -> Planet {
        Planet::new(&World::bundled("mars").expect("bundled"))
    }

    #[test]
    fn a_place_on_the_map_comes_back_from_its_direction() {
        let planet = planet();
        for (latitude, longitude, node) in [(0.3, 1.2, 0.4), (-1.2, -3.0, 2.9), (1.5, 0.0, 0.0)] {
            let place = OnMap {
                latitude_rad: latitude,
                longitude_rad: longitude,
            };
            let direction = place.direction(&planet, node);
            assert!((direction.norm() - 1.0).abs() < 1e-12);
            let back = OnMap::of(&planet, direction, node);
            assert!((back.latitude_rad - latitude).abs() < 1e-12);
            assert!(wrapped(back.longitude_rad - longitude).abs() < 1e-12);
        }
    }

    /// On an oblate body tan(geodetic) = tan(geocentric) a²/b² (common knowledge).
    #[test]
    fn latitudes_on_the_map_are_geodetic() {
        let planet = planet();
        let place = OnMap {
            latitude_rad: 0.8,
            longitude_rad: 0.0,
        };
        let direction = place.direction(&planet, 0.0);
        let geocentric = (direction.z / direction.x).atan();
        let (a, b) = (3_396_190.0_f64, 3_376_200.0_f64);
        let expected = ((b / a).powi(2) * 0.8_f64.tan()).atan();
        assert!(
            (geocentric - expected).abs() < 1e-5,
            "{geocentric} {expected}"
        );
    }

    /// The ground turns by Ω t under a ship that stays where it is among the stars.
    #[test]
    fn the_ground_turns_below() {
        let planet = planet();
        let state = [4e6, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0];
        let there = OnMap::of(&planet, below(&planet, &state, 1000.0), 0.0);
        let expected = -1000.0 * planet.rotation_rad_s;
        assert!((there.longitude_rad - expected).abs() < 1e-12);
    }

    #[test]
    fn downrange_and_crossrange_lead_back_to_the_place() {
        let planet = planet();
        let start = EntryState {
            position: Vec3::new(3.5e6, 0.0, 0.0),
            velocity: Vec3::new(-300.0, 3000.0, 3000.0),
            meets_air: true,
        };
        let track = Track::of(&planet, &start);
        for (downrange_m, crossrange_m) in [(1e6, 2e5), (9e6, -4e5), (-1e5, 3e4)] {
            let place = FromEntry {
                downrange_m,
                crossrange_m,
            };
            let back = track.place(track.direction(place));
            assert!((back.downrange_m - downrange_m).abs() < 1e-3, "{back:?}");
            assert!((back.crossrange_m - crossrange_m).abs() < 1e-3, "{back:?}");
        }
        // North-east bound, the south-east lies to the right.
        let right = track.place(Vec3::new(0.9, 0.3, -0.3).unit());
        assert!(right.crossrange_m > 0.0);
    }
}
