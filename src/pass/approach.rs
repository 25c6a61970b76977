//! The approach conic: from an aim and its delivery errors to the state at the entry interface.

use crate::numeric::Vec3;
use crate::numeric::elementary::sin_cos;
use crate::world::Planet;

/// The approach conic of one sample, before delivery errors at the interface.
#[derive(Debug, Clone, Copy)]
pub struct Approach {
    /// What fixes the energy.
    pub energy: Energy,
    /// Altitude of the vacuum periapsis above the ellipsoid, m, delivery error included.
    pub periapsis_altitude_m: f64,
    /// Inclination, rad.
    pub inclination_rad: f64,
    /// Argument of periapsis, rad.
    pub argument_of_periapsis_rad: f64,
    /// Miss in the B-plane along T and R, m; only a hyperbola has one.
    pub b_plane_miss_m: (f64, f64),
    /// Error of the inertial flight-path angle at the interface, rad.
    pub angle_error_rad: f64,
    /// Error of the inertial speed at the interface, m/s.
    pub speed_error_m_s: f64,
}

/// What fixes the energy of the approach conic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Energy {
    /// Twice the specific energy, m²/s²: the square of the excess speed when positive.
    Twice(f64),
    /// Hyperbolic excess speed, m/s.
    ExcessSpeed(f64),
    /// Inertial speed at the entry interface, m/s.
    InterfaceSpeed(f64),
    /// Apoapsis altitude above the equatorial radius, m.
    ApoapsisAltitude(f64),
}

/// Where a pass begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EntryState {
    /// Position, m.
    pub position: Vec3<f64>,
    /// Inertial velocity, m/s.
    pub velocity: Vec3<f64>,
    /// False when the vacuum periapsis lies above the interface: the ship never meets the air,
    /// and the state is that at periapsis.
    pub meets_air: bool,
}

impl EntryState {
    /// Inertial speed, m/s.
    #[must_use]
    pub fn inertial_speed_m_s(&self) -> f64 {
        self.velocity.norm()
    }
    /// Inertial flight-path angle against the geocentric horizon, rad, negative below it.
    #[must_use]
    pub fn inertial_flight_path_angle_rad(&self) -> f64 {
        let sine = self.position.dot(self.velocity) / (self.position.norm() * self.velocity.norm());
        libm::asin(sine.clamp(-1.0, 1.0))
    }
}

/// A conic in space: its periapsis direction, the direction of motion there, and its size.
#[derive(Debug, Clone, Copy)]
struct Conic {
    toward_periapsis: Vec3<f64>,
    along_periapsis: Vec3<f64>,
    periapsis_radius_m: f64,
    twice_energy: f64,
}

impl Approach {
    /// The state at the inbound crossing of the entry interface.
    ///
    /// `None` when the numbers fit no conic (periapsis at or below the centre, or above the apoapsis,
    /// or an interface speed too small to reach the interface).
    #[inline(always)]
    #[must_use]
    pub fn entry_state(&self, planet: &Planet) -> Option<EntryState> {
        let conic = self.conic(planet)?;
        let mut state = conic.at_interface(planet)?;
        if self.angle_error_rad != 0.0 || self.speed_error_m_s != 0.0 {
            let (r, v) = (state.position, state.velocity);
            // Turn the velocity in the plane of motion, about the orbit normal, towards the zenith.
            let normal = r.cross(v).unit();
            let (sine, cosine) = sin_cos(self.angle_error_rad);
            let turned = v.scale(cosine) - normal.cross(v).scale(sine);
            let speed = v.norm();
            state.velocity = turned.scale((speed + self.speed_error_m_s) / speed);
        }
        Some(state)
    }

    #[inline(always)]
    fn conic(&self, planet: &Planet) -> Option<Conic> {
        let gm = planet.gm_m3_s2;
        let (sin_i, cos_i) = sin_cos(self.inclination_rad);
        let (sin_w, cos_w) = sin_cos(self.argument_of_periapsis_rad);
        let toward = Vec3::new(cos_w, sin_w * cos_i, sin_w * sin_i);
        let along = Vec3::new(-sin_w, cos_w * cos_i, cos_w * sin_i);
        let surface = planet.ellipsoid.surface_radius(toward.z * toward.z);
        let r_p = surface + self.periapsis_altitude_m;
        if !(r_p > 0.0) {
            return None;
        }
        let twice_energy = match self.energy {
            Energy::Twice(twice) => twice,
            Energy::ExcessSpeed(v_inf) => v_inf * v_inf,
            Energy::InterfaceSpeed(v) => {
                // The interface radius depends on where the conic crosses it; two rounds settle it.
                let mut radius = surface + planet.interface_m;
                let mut twice = v * v - 2.0 * gm / radius;
                for _ in 0..6 {
                    let conic = Conic {
                        toward_periapsis: toward,
                        along_periapsis: along,
                        periapsis_radius_m: r_p,
                        twice_energy: twice,
                    };
                    radius = conic.at_interface(planet)?.position.norm();
                    twice = v * v - 2.0 * gm / radius;
                }
                twice
            }
            Energy::ApoapsisAltitude(altitude) => {
                let r_a = planet.equatorial_radius_m + altitude;
                if r_a < r_p {
                    return None;
                }
                -2.0 * gm / (r_p + r_a)
            }
        };
        let conic = Conic {
            toward_periapsis: toward,
            along_periapsis: along,
            periapsis_radius_m: r_p,
            twice_energy,
        };
        if self.b_plane_miss_m == (0.0, 0.0) {
            Some(conic)
        } else {
            conic.missed_by(gm, self.b_plane_miss_m)
        }
    }
}

impl Conic {
    #[inline(always)]
    fn eccentricity(&self, gm: f64) -> f64 {
        1.0 + self.periapsis_radius_m * self.twice_energy / gm
    }

    /// The conic with the same incoming asymptote whose B vector is moved by (t, r) m along T and R,
    /// T = S × pole, R = S × T, S the direction of the incoming asymptote.
    #[inline(always)]
    fn missed_by(&self, gm: f64, (miss_t, miss_r): (f64, f64)) -> Option<Self> {
        let e = self.eccentricity(gm);
        let c3 = self.twice_energy;
        if !(e > 1.0) {
            return None;
        }
        let root = (e * e - 1.0).sqrt();
        let asymptote = self
            .along_periapsis
            .scale_add(root / e, self.toward_periapsis.scale(1.0 / e));
        let b_length =
            self.periapsis_radius_m * (1.0 + 2.0 * gm / (self.periapsis_radius_m * c3)).sqrt();
        let b_direction = (self.toward_periapsis.scale(e) - asymptote).scale(1.0 / root);
        let pole = Vec3::new(0.0, 0.0, 1.0);
        let across = asymptote.cross(pole);
        let t_axis = if across.norm() > 1e-9 {
            across.unit()
        } else {
            // Arrival along the pole: any direction in the equator serves.
            Vec3::new(1.0, 0.0, 0.0)
        };
        let r_axis = asymptote.cross(t_axis);
        let b = b_direction.scale(b_length) + t_axis.scale(miss_t) + r_axis.scale(miss_r);
        let reach = gm / c3;
        let b2 = b.dot(b);
        let r_p = b2 / (reach + (reach * reach + b2).sqrt());
        if !(r_p > 0.0) {
            return None;
        }
        let toward = b.scale_add(1.0 / reach, asymptote).unit();
        let normal = b.cross(asymptote).unit();
        Some(Self {
            toward_periapsis: toward,
            along_periapsis: normal.cross(toward),
            periapsis_radius_m: r_p,
            twice_energy: c3,
        })
    }

    /// State at radius `r` on the inbound leg; `None` when the conic does not reach it.
    #[inline(always)]
    fn inbound_at(&self, gm: f64, r: f64) -> Option<EntryState> {
        let e = self.eccentricity(gm);
        let semi_latus = self.periapsis_radius_m * (1.0 + e);
        let cosine = if e == 0.0 {
            1.0
        } else {
            (semi_latus / r - 1.0) / e
        };
        // At an apsis rounding may carry the cosine a few ulp beyond 1.
        if !(cosine.abs() <= 1.0 + 1e-12) {
            return None;
        }
        let cosine = cosine.clamp(-1.0, 1.0);
        let sine = -(1.0 - cosine * cosine).sqrt();
        let speed_scale = (gm / semi_latus).sqrt();
        Some(EntryState {
            position: self
                .along_periapsis
                .scale_add(r * sine, self.toward_periapsis.scale(r * cosine)),
            velocity: self.along_periapsis.scale_add(
                speed_scale * (e + cosine),
                self.toward_periapsis.scale(-speed_scale * sine),
            ),
            meets_air: true,
        })
    }

    /// State where the inbound leg crosses the interface altitude, or at periapsis when it stays above.
    #[inline(always)]
    fn at_interface(&self, planet: &Planet) -> Option<EntryState> {
        let gm = planet.gm_m3_s2;
        let at_periapsis = self.inbound_at(gm, self.periapsis_radius_m)?;
        if planet.altitude_at(at_periapsis.position) >= planet.interface_m {
            return Some(EntryState {
                meets_air: false,
                ..at_periapsis
            });
        }
        let mut radius = planet.equatorial_radius_m + planet.interface_m;
        let mut state = self.inbound_at(gm, radius).unwrap_or(at_periapsis);
        for _ in 0..60 {
            let miss = planet.interface_m - planet.altitude_at(state.position);
            if miss.abs() < 1e-4 {
                break;
            }
            radius = (state.position.norm() + miss).max(self.periapsis_radius_m);
            state = self.inbound_at(gm, radius)?;
        }
        Some(state)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pass::orbit::Orbit;
    use crate::world::shape::Ellipsoid;
    use std::sync::Arc;

    fn sphere(gm: f64, radius: f64, interface: f64) -> Planet {
        Planet {
            gm_m3_s2: gm,
            equatorial_radius_m: radius,
            ellipsoid: Ellipsoid::new(radius, radius),
            zonal: [0.0; 3],
            zonal_radius_m: radius,
            rotation_rad_s: 0.0,
            interface_m: interface,
            floor_m: 0.0,
            base_m: 0.0,
            cells_per_m: 1e-3,
            rows: Arc::new([[0.0; 8]]),
            ln_pivot_density: 0.0,
            small_scale: None,
            gusty: false,
            wind: None,
            inverse_sound: None,
        }
    }

    fn approach(v_inf: f64, periapsis: f64) -> Approach {
        Approach {
            energy: Energy::ExcessSpeed(v_inf),
            periapsis_altitude_m: periapsis,
            inclination_rad: 0.6,
            argument_of_periapsis_rad: 0.4,
            b_plane_miss_m: (0.0, 0.0),
            angle_error_rad: 0.0,
            speed_error_m_s: 0.0,
        }
    }

    /// Speed and angle at the interface from two-body relations, computed from the equations by an
    /// independent program. Tolerance 1e-9.
    #[test]
    fn interface_speed_and_angle_follow_two_body_relations() {
        for (v_inf, periapsis, radius, interface, gm, speed, angle) in [
            (
                2650.0,
                40e3,
                3_396_190.0,
                125e3,
                4.282_837_5e13,
                5_598.980_274,
                -9.875_783_680,
            ),
            (
                3000.0,
                100e3,
                6_051_800.0,
                150e3,
                3.248_585_92e14,
                10_665.958_898,
                -5.350_384_776,
            ),
            (
                0.0,
                50e3,
                6_378_137.0,
                121.92e3,
                3.986_004_418e14,
                11_074.529_980,
                -6.037_998_974,
            ),
        ] {
            let planet = sphere(gm, radius, interface);
            let state = approach(v_inf, periapsis)
                .entry_state(&planet)
                .expect("meets");
            assert!((state.inertial_speed_m_s() / speed - 1.0).abs() < 1e-9);
            let degrees = state.inertial_flight_path_angle_rad().to_degrees();
            assert!((degrees / angle - 1.0).abs() < 1e-9, "{degrees} {angle}");
        }
    }

    #[test]
    fn an_angle_error_turns_the_velocity_by_itself_and_a_speed_error_adds() {
        let planet = sphere(4.282_837_5e13, 3_396_190.0, 125e3);
        let mut wrong = approach(2650.0, 40e3);
        let nominal = wrong.entry_state(&planet).expect("meets");
        wrong.angle_error_rad = 0.01;
        wrong.speed_error_m_s = 3.0;
        let state = wrong.entry_state(&planet).expect("meets");
        let turned =
            state.inertial_flight_path_angle_rad() - nominal.inertial_flight_path_angle_rad();
        assert!((turned - 0.01).abs() < 1e-12);
        let gained = state.inertial_speed_m_s() - nominal.inertial_speed_m_s();
        assert!((gained - 3.0).abs() < 1e-9);
    }

    #[test]
    fn a_b_plane_miss_moves_the_impact_parameter_and_keeps_the_asymptote() {
        let planet = sphere(4.282_837_5e13, 3_396_190.0, 125e3);
        let mut missed = approach(2650.0, 40e3);
        missed.b_plane_miss_m = (3e3, -4e3);
        let gm = planet.gm_m3_s2;
        let impact = |a: &Approach| {
            let s = a.entry_state(&planet).expect("meets");
            let h = s.position.cross(s.velocity).norm();
            (h / 2650.0, Orbit::from_state(gm, s.position, s.velocity))
        };
        let (b, _) = impact(&missed);
        let (b_nominal, nominal) = impact(&approach(2650.0, 40e3));
        assert!((b - b_nominal).abs() < 5e3 + 1.0 && (b - b_nominal).abs() > 1.0);
        // A miss along the nominal B direction changes the impact parameter by just its length.
        let conic = approach(2650.0, 40e3).conic(&planet).expect("conic");
        let moved = conic.missed_by(gm, (0.0, 0.0)).expect("hyperbola");
        assert!((moved.periapsis_radius_m / nominal.periapsis_radius_m - 1.0).abs() < 1e-12);
        assert!((moved.toward_periapsis - conic.toward_periapsis).norm() < 1e-12);
        assert!((moved.along_periapsis - conic.along_periapsis).norm() < 1e-12);
    }

    #[test]
    fn a_periapsis_above_the_interface_never_meets_the_air() {
        let planet = sphere(4.282_837_5e13, 3_396_190.0, 125e3);
        let state = approach(2650.0, 130e3).entry_state(&planet).expect("conic");
        assert!(!state.meets_air);
    }
}
