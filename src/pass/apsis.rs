//! Impulses at the apsides of a closed orbit, with errors of their size and direction: how an orbit is mended.

use super::orbit::speed_between_apsides;

/// How far an impulse is from the one that was asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ManeuverError {
    /// Relative error of its size.
    pub size: f64,
    /// Error of its direction in the plane of the orbit, rad.
    pub in_plane_rad: f64,
    /// Error of its direction out of that plane, rad.
    pub out_of_plane_rad: f64,
}

impl ManeuverError {
    /// No error.
    pub const NONE: Self = Self {
        size: 0.0,
        in_plane_rad: 0.0,
        out_of_plane_rad: 0.0,
    };

    /// What becomes of a speed change (m/s, of either sign) along a direction: its parts along it, across it in the
    /// plane (outward for a change forward), and out of the plane.
    #[must_use]
    pub fn applied(&self, speed_change_m_s: f64) -> [f64; 3] {
        let done = speed_change_m_s * (1.0 + self.size);
        let (sin_in, cos_in) = (libm::sin(self.in_plane_rad), libm::cos(self.in_plane_rad));
        let (sin_out, cos_out) = (
            libm::sin(self.out_of_plane_rad),
            libm::cos(self.out_of_plane_rad),
        );
        [
            done * cos_in * cos_out,
            done * sin_in * cos_out,
            done * sin_out,
        ]
    }
}

/// Which end of an orbit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Apsis {
    /// The nearest.
    Periapsis,
    /// The farthest.
    Apoapsis,
}

/// The apsides of a closed orbit, radii in m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Apsides {
    /// Periapsis radius, m, above 0.
    pub periapsis_radius_m: f64,
    /// Apoapsis radius, m, at least that of the periapsis.
    pub apoapsis_radius_m: f64,
}

/// An orbit after an impulse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mended {
    /// The orbit; `None` when the impulse opened it.
    pub apsides: Option<Apsides>,
    /// Speed change spent, m/s, 0 or more.
    pub spent_m_s: f64,
}

impl Apsides {
    /// The orbit with these apsis radii (m), in either order.
    #[must_use]
    pub fn of(one_m: f64, other_m: f64) -> Self {
        Self {
            periapsis_radius_m: one_m.min(other_m),
            apoapsis_radius_m: one_m.max(other_m),
        }
    }

    /// Period, s.
    #[must_use]
    pub fn period_s(&self, gm: f64) -> f64 {
        let a = 0.5 * (self.periapsis_radius_m + self.apoapsis_radius_m);
        std::f64::consts::TAU * (a * a * a / gm).sqrt()
    }

    /// Speed at one of its ends, m/s.
    #[must_use]
    pub fn speed_m_s(&self, gm: f64, at: Apsis) -> f64 {
        let (r_p, r_a) = (self.periapsis_radius_m, self.apoapsis_radius_m);
        let r = match at {
            Apsis::Periapsis => r_p,
            Apsis::Apoapsis => r_a,
        };
        speed_between_apsides(gm, r, r_p, r_a)
    }

    /// The orbit after an impulse at one end that was to bring the other end to the radius `opposite_m`.
    #[must_use]
    pub fn burn(&self, gm: f64, at: Apsis, opposite_m: f64, error: &ManeuverError) -> Mended {
        let r = match at {
            Apsis::Periapsis => self.periapsis_radius_m,
            Apsis::Apoapsis => self.apoapsis_radius_m,
        };
        let speed = self.speed_m_s(gm, at);
        let wanted = speed_between_apsides(gm, r, r, opposite_m);
        let [along, outward, across] = error.applied(wanted - speed);
        let level2 = (speed + along) * (speed + along) + across * across;
        let twice_energy = level2 + outward * outward - 2.0 * gm / r;
        let spent_m_s = (wanted - speed).abs() * (1.0 + error.size);
        if !(twice_energy < 0.0) {
            return Mended {
                apsides: None,
                spent_m_s,
            };
        }
        let a = -gm / twice_energy;
        let e = (1.0 - r * r * level2 / (gm * a)).max(0.0).sqrt();
        Mended {
            apsides: Some(Self {
                periapsis_radius_m: a * (1.0 - e),
                apoapsis_radius_m: a * (1.0 + e),
            }),
            spent_m_s,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::Vec3;
    use crate::pass::orbit::Orbit;

    const GM: f64 = 4.282_837_5e13;

    #[test]
    fn an_exact_impulse_brings_the_other_end_where_it_was_wanted() {
        let orbit = Apsides::of(3.45e6, 3.0e7);
        let lifted = orbit.burn(GM, Apsis::Apoapsis, 3.8e6, &ManeuverError::NONE);
        let lifted_orbit = lifted.apsides.expect("closed");
        assert!((lifted_orbit.periapsis_radius_m / 3.8e6 - 1.0).abs() < 1e-12);
        assert!((lifted_orbit.apoapsis_radius_m / 3.0e7 - 1.0).abs() < 1e-12);
        let trimmed = lifted_orbit.burn(GM, Apsis::Periapsis, 8.0e6, &ManeuverError::NONE);
        let end = trimmed.apsides.expect("closed");
        assert!((end.apoapsis_radius_m / 8.0e6 - 1.0).abs() < 1e-12);
        let both = crate::pass::orbit::Corrections::between(GM, (3.45e6, 3.0e7), (3.8e6, 8.0e6));
        assert!((lifted.spent_m_s / both.lift_periapsis_m_s - 1.0).abs() < 1e-12);
        assert!((trimmed.spent_m_s / both.trim_apoapsis_m_s - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_wrong_impulse_gives_the_orbit_of_its_state() {
        let orbit = Apsides::of(3.45e6, 3.0e7);
        let error = ManeuverError {
            size: 0.03,
            in_plane_rad: 0.05,
            out_of_plane_rad: -0.04,
        };
        let mended = orbit.burn(GM, Apsis::Periapsis, 9.0e6, &error);
        // The same impulse added to the state at periapsis, as vectors.
        let speed = orbit.speed_m_s(GM, Apsis::Periapsis);
        let wanted = speed_between_apsides(GM, 3.45e6, 3.45e6, 9.0e6) - speed;
        let [along, outward, across] = error.applied(wanted);
        let size = (along * along + outward * outward + across * across).sqrt();
        assert!((size / wanted.abs() - 1.03).abs() < 1e-12);
        let state = Orbit::from_state(
            GM,
            Vec3::new(3.45e6, 0.0, 0.0),
            Vec3::new(outward, speed + along, across),
        );
        let end = mended.apsides.expect("closed");
        let apoapsis = state.apoapsis_radius_m(GM).expect("closed");
        assert!((end.periapsis_radius_m / state.periapsis_radius_m - 1.0).abs() < 1e-9);
        assert!((end.apoapsis_radius_m / apoapsis - 1.0).abs() < 1e-9);
    }

    #[test]
    fn an_impulse_that_opens_the_orbit_says_so() {
        let orbit = Apsides::of(3.45e6, 3.0e7);
        let error = ManeuverError {
            size: 0.5,
            ..ManeuverError::NONE
        };
        let mended = orbit.burn(GM, Apsis::Periapsis, 1e12, &error);
        assert_eq!(mended.apsides, None);
    }
}
