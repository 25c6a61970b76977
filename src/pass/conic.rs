//! A conic in its own plane: places and times along it, with the periapsis on the x axis.

use super::orbit::Orbit;
use crate::numeric::Vec3;
use crate::numeric::root::bracketed_root;

/// Eccentricities this near to 1 count as a parabola for times.
const NEARLY_PARABOLIC: f64 = 1e-6;

/// A conic about a point mass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conic {
    /// Gravitational parameter of the body, m³/s².
    pub gm_m3_s2: f64,
    /// Periapsis radius, m, above 0.
    pub periapsis_radius_m: f64,
    /// Twice the specific energy, m²/s²: the square of the excess speed when positive.
    pub twice_energy: f64,
}

impl Conic {
    /// The conic of an orbit.
    #[must_use]
    pub fn of(gm_m3_s2: f64, orbit: &Orbit) -> Self {
        Self {
            gm_m3_s2,
            periapsis_radius_m: orbit.periapsis_radius_m,
            twice_energy: orbit.twice_energy,
        }
    }

    /// The conic with this periapsis and this excess speed (m/s).
    #[must_use]
    pub fn hyperbola(gm_m3_s2: f64, periapsis_radius_m: f64, excess_speed_m_s: f64) -> Self {
        Self {
            gm_m3_s2,
            periapsis_radius_m,
            twice_energy: excess_speed_m_s * excess_speed_m_s,
        }
    }

    /// The closed conic with these apsis radii (m).
    #[must_use]
    pub fn ellipse(gm_m3_s2: f64, periapsis_radius_m: f64, apoapsis_radius_m: f64) -> Self {
        Self {
            gm_m3_s2,
            periapsis_radius_m,
            twice_energy: -2.0 * gm_m3_s2 / (periapsis_radius_m + apoapsis_radius_m),
        }
    }

    /// Eccentricity, 0 or more.
    #[must_use]
    pub fn eccentricity(&self) -> f64 {
        (1.0 + self.periapsis_radius_m * self.twice_energy / self.gm_m3_s2).max(0.0)
    }

    /// Speed at periapsis, m/s.
    #[must_use]
    pub fn periapsis_speed_m_s(&self) -> f64 {
        self.speed_at_m_s(self.periapsis_radius_m)
    }

    /// Speed at a radius (m), m/s; 0 where the conic does not reach it.
    #[must_use]
    pub fn speed_at_m_s(&self, radius_m: f64) -> f64 {
        (self.twice_energy + 2.0 * self.gm_m3_s2 / radius_m)
            .max(0.0)
            .sqrt()
    }

    /// Apoapsis radius, m; `None` on a parabola or hyperbola.
    #[must_use]
    pub fn apoapsis_radius_m(&self) -> Option<f64> {
        (self.twice_energy < 0.0)
            .then(|| -2.0 * self.gm_m3_s2 / self.twice_energy - self.periapsis_radius_m)
    }

    /// Period, s; `None` on a parabola or hyperbola.
    #[must_use]
    pub fn period_s(&self) -> Option<f64> {
        (self.twice_energy < 0.0).then(|| {
            let a = -self.gm_m3_s2 / self.twice_energy;
            std::f64::consts::TAU * (a * a * a / self.gm_m3_s2).sqrt()
        })
    }

    /// Position (m) and velocity (m/s) at a true anomaly (rad).
    #[must_use]
    pub fn state_at(&self, anomaly_rad: f64) -> (Vec3<f64>, Vec3<f64>) {
        let e = self.eccentricity();
        let semi_latus = self.periapsis_radius_m * (1.0 + e);
        let (sine, cosine) = (libm::sin(anomaly_rad), libm::cos(anomaly_rad));
        let r = semi_latus / (1.0 + e * cosine);
        let scale = (self.gm_m3_s2 / semi_latus).sqrt();
        (
            Vec3::new(r * cosine, r * sine, 0.0),
            Vec3::new(-scale * sine, scale * (e + cosine), 0.0),
        )
    }

    /// True anomaly (rad, 0 to π) at which the conic leaves a radius (m); the farthest where it does not reach it.
    #[must_use]
    pub fn anomaly_at_radius(&self, radius_m: f64) -> f64 {
        let e = self.eccentricity();
        let semi_latus = self.periapsis_radius_m * (1.0 + e);
        libm::acos(((semi_latus / radius_m - 1.0) / e.max(1e-300)).clamp(-1.0, 1.0))
    }

    /// Time since periapsis at a true anomaly (rad), s, negative before it; infinite from the asymptote on.
    #[must_use]
    pub fn time_at(&self, anomaly_rad: f64) -> f64 {
        let e = self.eccentricity();
        let (gm, r_p) = (self.gm_m3_s2, self.periapsis_radius_m);
        let half = libm::tan(0.5 * anomaly_rad);
        if (e - 1.0).abs() < NEARLY_PARABOLIC {
            let time = (2.0 * r_p.powi(3) / gm).sqrt();
            return time * half * (1.0 + half * half / 3.0);
        }
        let a = r_p / (1.0 - e).abs();
        let scale = (a * a * a / gm).sqrt();
        let argument = ((e - 1.0).abs() / (1.0 + e)).sqrt() * half;
        if e < 1.0 {
            let eccentric = 2.0 * libm::atan(argument);
            scale * (eccentric - e * libm::sin(eccentric))
        } else if argument.abs() >= 1.0 {
            f64::INFINITY.copysign(anomaly_rad)
        } else {
            let hyperbolic = 2.0 * libm::atanh(argument);
            scale * (e * libm::sinh(hyperbolic) - hyperbolic)
        }
    }

    /// True anomaly (rad, 0 to `farthest_rad`) this long (s) after periapsis; `farthest_rad` where that is later.
    #[must_use]
    pub fn anomaly_after(&self, time_s: f64, farthest_rad: f64) -> f64 {
        if !(self.time_at(farthest_rad) > time_s) {
            return farthest_rad;
        }
        let miss = |anomaly: f64| self.time_at(anomaly) - time_s;
        bracketed_root(miss, 0.0, farthest_rad, 1e-12).unwrap_or(farthest_rad)
    }

    /// Time from a radius (m) to periapsis, s.
    #[must_use]
    pub fn time_from_radius_s(&self, radius_m: f64) -> f64 {
        self.time_at(self.anomaly_at_radius(radius_m))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GM: f64 = 3.986_004_418e14;

    #[test]
    fn half_a_period_leads_from_one_apsis_to_the_other() {
        let conic = Conic::ellipse(GM, 7.0e6, 4.2e7);
        let period = conic.period_s().expect("closed");
        let half = conic.time_at(std::f64::consts::PI * (1.0 - 1e-12));
        assert!((half / period - 0.5).abs() < 1e-9);
        assert!((conic.apoapsis_radius_m().expect("closed") / 4.2e7 - 1.0).abs() < 1e-12);
    }

    /// Times from Kepler's equation on either side of the parabola join that of Barker's equation.
    #[test]
    fn times_are_smooth_across_the_parabola() {
        let parabola = Conic::hyperbola(GM, 7.0e6, 0.0).time_at(2.0);
        for sign in [-1.0, 1.0] {
            let mut conic = Conic::hyperbola(GM, 7.0e6, 0.0);
            conic.twice_energy = sign * 3e-6 * GM / 7.0e6;
            assert!((conic.time_at(2.0) / parabola - 1.0).abs() < 1e-5);
        }
    }

    #[test]
    fn states_lie_on_their_conic_and_times_lead_back_to_anomalies() {
        for v_inf in [0.0, 300.0, 9000.0] {
            let conic = Conic::hyperbola(GM, 7.0e6, v_inf);
            let (r, v) = conic.state_at(-1.2);
            let orbit = Orbit::from_state(GM, r, v);
            assert!((orbit.periapsis_radius_m / 7.0e6 - 1.0).abs() < 1e-12);
            assert!((orbit.twice_energy - v_inf * v_inf).abs() < 1e-7 * GM / 7.0e6);
            assert!((conic.anomaly_at_radius(r.norm()) - 1.2).abs() < 1e-9);
            let time = conic.time_at(1.2);
            assert!((conic.anomaly_after(time, 1.5) - 1.2).abs() < 1e-9);
            // The rate of the anomaly is h/r².
            let rate = r.cross(v).norm() / r.dot(r);
            let step = 1e-4;
            let slope = (conic.time_at(1.2 + step) - conic.time_at(1.2 - step)) / (2.0 * step);
            assert!((slope * rate - 1.0).abs() < 1e-6);
        }
    }
}
