//! All six elements of a conic, and the time along it: what messages about orbits speak in.

use crate::numeric::Vec3;

/// A conic in space with a place on it, about a point mass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Elements {
    /// Periapsis radius, m.
    pub periapsis_radius_m: f64,
    /// Twice the specific energy, m²/s²: the square of the excess speed when positive.
    pub twice_energy: f64,
    /// Inclination, rad.
    pub inclination_rad: f64,
    /// Right ascension of the ascending node, rad, 0 to 2π; 0 on the equator.
    pub node_rad: f64,
    /// Argument of periapsis, rad, 0 to 2π.
    pub argument_rad: f64,
    /// True anomaly, rad, -π to π.
    pub true_anomaly_rad: f64,
}

/// Below this sine of the inclination the node is put on the x axis.
const FLAT: f64 = 1e-11;

impl Elements {
    /// The elements of a position (m) and velocity (m/s); `None` for a fall straight through the centre.
    #[must_use]
    pub fn from_state(gm: f64, r: Vec3<f64>, v: Vec3<f64>) -> Option<Self> {
        let h = r.cross(v);
        let (h_norm, r_norm) = (h.norm(), r.norm());
        if !(h_norm > 1e-9 * r_norm * v.norm()) {
            return None;
        }
        let toward = v.cross(h).scale(1.0 / gm) - r.scale(1.0 / r_norm);
        let e = toward.norm();
        let node = Vec3::new(-h.y, h.x, 0.0);
        let node = if node.norm() > FLAT * h_norm {
            node.unit()
        } else {
            Vec3::new(1.0, 0.0, 0.0)
        };
        let across = h.scale(1.0 / h_norm).cross(node);
        let angle = |to: Vec3<f64>| across.dot(to).atan2(node.dot(to));
        // A circle has its periapsis where the state is.
        let periapsis = if e > 1e-12 { toward } else { r };
        let argument = angle(periapsis);
        let turn = std::f64::consts::TAU;
        let anomaly = (angle(r) - argument + 1.5 * turn).rem_euclid(turn) - 0.5 * turn;
        Some(Self {
            periapsis_radius_m: h_norm * h_norm / (gm * (1.0 + e)),
            twice_energy: v.dot(v) - 2.0 * gm / r_norm,
            inclination_rad: (h.z / h_norm).clamp(-1.0, 1.0).acos(),
            node_rad: node.y.atan2(node.x).rem_euclid(turn),
            argument_rad: argument.rem_euclid(turn),
            true_anomaly_rad: anomaly,
        })
    }

    /// Eccentricity.
    #[must_use]
    pub fn eccentricity(&self, gm: f64) -> f64 {
        (1.0 + self.periapsis_radius_m * self.twice_energy / gm).max(0.0)
    }

    /// Position (m) and velocity (m/s).
    #[must_use]
    pub fn state(&self, gm: f64) -> (Vec3<f64>, Vec3<f64>) {
        let e = self.eccentricity(gm);
        let (sin_n, cos_n) = self.node_rad.sin_cos();
        let (sin_i, cos_i) = self.inclination_rad.sin_cos();
        let (sin_w, cos_w) = self.argument_rad.sin_cos();
        let node = Vec3::new(cos_n, sin_n, 0.0);
        let across = Vec3::new(-sin_n * cos_i, cos_n * cos_i, sin_i);
        let toward = across.scale_add(sin_w, node.scale(cos_w));
        let along = across.scale_add(cos_w, node.scale(-sin_w));
        let (sine, cosine) = self.true_anomaly_rad.sin_cos();
        let latus = self.periapsis_radius_m * (1.0 + e);
        let (r, speed) = (latus / (1.0 + e * cosine), (gm / latus).sqrt());
        (
            along.scale_add(r * sine, toward.scale(r * cosine)),
            along.scale_add(speed * (e + cosine), toward.scale(-speed * sine)),
        )
    }

    /// Seconds since the passage of periapsis that is next in time to the state, negative before it.
    ///
    /// By Kepler's equation; within 1e-6 of a parabola by Barker's.
    #[must_use]
    pub fn since_periapsis_s(&self, gm: f64) -> f64 {
        let e = self.eccentricity(gm);
        let half = (0.5 * self.true_anomaly_rad).tan();
        if (e - 1.0).abs() < 1e-6 {
            let latus = self.periapsis_radius_m * (1.0 + e);
            return 0.5 * (latus.powi(3) / gm).sqrt() * (half + half.powi(3) / 3.0);
        }
        let a = (gm / self.twice_energy).abs();
        let pace = (a.powi(3) / gm).sqrt();
        if e < 1.0 {
            let anomaly = 2.0 * (((1.0 - e) / (1.0 + e)).sqrt() * half).atan();
            pace * (anomaly - e * anomaly.sin())
        } else {
            let anomaly = 2.0 * (((e - 1.0) / (e + 1.0)).sqrt() * half).atanh();
            pace * (e * anomaly.sinh() - anomaly)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Vallado, Fundamentals of Astrodynamics and Applications, example 2-5 (from memory): r = (6524.834,
    /// 6862.875, 6448.296) km and v = (4.901327, 5.533756, -1.976341) km/s about the Earth give a = 36127.343 km,
    /// e = 0.832853, i = 87.870 deg, node 227.898 deg, argument 53.38 deg, true anomaly 92.335 deg.
    #[test]
    fn a_published_state_has_its_published_elements() {
        let gm = 3.986_004_418e14;
        let r = Vec3::new(6_524_834.0, 6_862_875.0, 6_448_296.0);
        let v = Vec3::new(4901.327, 5533.756, -1976.341);
        let found = Elements::from_state(gm, r, v).unwrap();
        let a = -gm / found.twice_energy;
        assert!((a / 36_127_343.0 - 1.0).abs() < 1e-5, "{a}");
        assert!((found.eccentricity(gm) - 0.832_853).abs() < 1e-5);
        for (angle, degrees, within) in [
            (found.inclination_rad, 87.870, 1e-3),
            (found.node_rad, 227.898, 1e-3),
            (found.argument_rad, 53.38, 1e-2),
            (found.true_anomaly_rad, 92.335, 1e-3),
        ] {
            assert!(
                (angle.to_degrees() - degrees).abs() < within,
                "{} {degrees}",
                angle.to_degrees()
            );
        }
    }

    #[test]
    fn elements_and_state_round_trip_and_time_agrees_with_the_slope_of_the_anomaly() {
        let gm = 4.282_837_5e13;
        for (twice_energy, anomaly) in [
            (6.5e6, -1.9),
            (-2e6, -2.5),
            (-2e6, 1.0),
            (1e-3, -1.5),
            (9e6, 0.3),
        ] {
            let elements = Elements {
                periapsis_radius_m: 3.45e6,
                twice_energy,
                inclination_rad: 0.7,
                node_rad: 3.9,
                argument_rad: 5.1,
                true_anomaly_rad: anomaly,
            };
            let (r, v) = elements.state(gm);
            let again = Elements::from_state(gm, r, v).unwrap();
            assert!(
                (again.periapsis_radius_m / 3.45e6 - 1.0).abs() < 1e-9,
                "{again:?}"
            );
            assert!(
                (again.node_rad - 3.9).abs() < 1e-9 && (again.argument_rad - 5.1).abs() < 1e-8,
                "{again:?}"
            );
            assert!((again.true_anomaly_rad - anomaly).abs() < 1e-8, "{again:?}");
            // Kepler's second law: dt/dν = r²/h.
            let step = 1e-5;
            let time = |nu: f64| {
                Elements {
                    true_anomaly_rad: nu,
                    ..elements
                }
                .since_periapsis_s(gm)
            };
            let slope = (time(anomaly + step) - time(anomaly - step)) / (2.0 * step);
            let law = r.dot(r) / r.cross(v).norm();
            assert!(
                (slope / law - 1.0).abs() < 1e-5,
                "{slope} {law} at {twice_energy}"
            );
        }
    }
}
