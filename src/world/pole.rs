//! Where the spin axes of real bodies point among the stars, to turn a state in a frame of the Earth's
//! equator into one of the body's own.
//!
//! Right ascension and declination of the north pole at J2000, deg: Report of the IAU Working Group on
//! Cartographic Coordinates and Rotational Elements 2015 (Archinal and others, 2018), published, with the periodic terms
//! at J2000 (the angle of Neptune's from memory) and without what changes with time (below 0.2 deg in thirty years).

use crate::numeric::Vec3;

/// Name, right ascension and declination of the north pole, deg.
const POLES: [(&str, f64, f64); 8] = [
    ("venus", 272.76, 67.16),
    ("earth", 0.0, 90.0),
    ("mars", 317.681_1, 52.886_3),
    ("jupiter", 268.056_6, 64.495_3),
    ("saturn", 40.589, 83.537),
    ("titan", 39.482_7, 83.427_9),
    ("uranus", 257.311, -15.175),
    ("neptune", 299.333_7, 42.950_4),
];

/// A turn from a frame of the Earth's mean equator at J2000 (EME2000, ICRF, GCRF) to that of a body's
/// equator: x towards where the body's equator rises through the Earth's, z along its north pole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    axes: [Vec3<f64>; 3],
}

impl Turn {
    /// No turn.
    pub const NONE: Self = Self {
        axes: [
            Vec3 {
                x: 1.0,
                y: 0.0,
                z: 0.0,
            },
            Vec3 {
                x: 0.0,
                y: 1.0,
                z: 0.0,
            },
            Vec3 {
                x: 0.0,
                y: 0.0,
                z: 1.0,
            },
        ],
    };

    /// The turn to the equator of a body by its name in small letters; `None` for one that is not known.
    #[must_use]
    pub fn to_equator_of(name: &str) -> Option<Self> {
        let (_, ascension, declination) = POLES.iter().find(|(known, ..)| *known == name)?;
        if *declination == 90.0 {
            return Some(Self::NONE);
        }
        let (sin_a, cos_a) = ascension.to_radians().sin_cos();
        let (sin_d, cos_d) = declination.to_radians().sin_cos();
        let z = Vec3::new(cos_d * cos_a, cos_d * sin_a, sin_d);
        let x = Vec3::new(-sin_a, cos_a, 0.0);
        Some(Self {
            axes: [x, z.cross(x), z],
        })
    }

    /// A vector of the Earth's frame in that of the body.
    #[must_use]
    pub fn to_body(&self, v: Vec3<f64>) -> Vec3<f64> {
        let [x, y, z] = self.axes;
        Vec3::new(x.dot(v), y.dot(v), z.dot(v))
    }

    /// A vector of the body's frame in that of the Earth.
    #[must_use]
    pub fn from_body(&self, v: Vec3<f64>) -> Vec3<f64> {
        let [x, y, z] = self.axes;
        x.scale_add(v.x, y.scale_add(v.y, z.scale(v.z)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turn_keeps_lengths_and_comes_back() {
        for (name, ..) in POLES {
            let turn = Turn::to_equator_of(name).unwrap();
            let v = Vec3::new(1.0, -2.0, 3.0);
            let there = turn.to_body(v);
            assert!((there.norm() - v.norm()).abs() < 1e-12, "{name}");
            assert!((turn.from_body(there) - v).norm() < 1e-12, "{name}");
        }
        assert_eq!(Turn::to_equator_of("orsuvine"), None);
    }

    /// The obliquity of Mars to its orbit is 25.19 deg (published, from memory): the pole of its orbit at J2000 has
    /// right ascension 273.37 deg and declination 65.32 deg, computed from inclination 1.850 deg and node
    /// 49.558 deg to the ecliptic with obliquity 23.4393 deg. Held to 0.05 deg.
    #[test]
    fn the_pole_of_mars_is_inclined_to_its_orbit_as_published() {
        let (i, node, obliquity) = (
            1.850_f64.to_radians(),
            49.558_f64.to_radians(),
            23.4393_f64.to_radians(),
        );
        let ecliptic = Vec3::new(i.sin() * node.sin(), -i.sin() * node.cos(), i.cos());
        let orbit = Vec3::new(
            ecliptic.x,
            ecliptic.y * obliquity.cos() - ecliptic.z * obliquity.sin(),
            ecliptic.y * obliquity.sin() + ecliptic.z * obliquity.cos(),
        );
        let pole = Turn::to_equator_of("mars").unwrap();
        let angle = pole.to_body(orbit).z.acos().to_degrees();
        assert!((angle - 25.19).abs() < 0.05, "{angle}");
    }
}
