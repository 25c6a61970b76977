//! The approach: from an aim and its delivery errors to the state at the entry interface.
//!
//! One motion under the world's zonal field leads to the interface: the speed there is the one with which the field
//! lets the ship come from infinity at its excess speed, or from its apoapsis. The elements of the approach (aim,
//! inclination, argument of periapsis) are those of the conic that osculates at the crossing; misses in the B-plane
//! move its periapsis as they move that of the point-mass hyperbola with the same periapsis and excess speed.

use super::after::next_apsis;
use super::inbound::{Crossing, Inbound, Pace};
use crate::numeric::Vec3;
use crate::numeric::elementary::sin_cos;
use crate::world::Planet;

/// The approach of one sample, before delivery errors at the interface.
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
    /// Speed taken off by a burn at the interface, m/s; the elements are those after it.
    pub speed_off_m_s: f64,
    /// Error of the inertial flight-path angle at the interface, rad.
    pub angle_error_rad: f64,
    /// Error of the inertial speed at the interface, m/s.
    pub speed_error_m_s: f64,
}

/// What fixes the energy of the approach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Energy {
    /// Twice the specific energy with its share of the zonal harmonics, m²/s²: the square of the excess speed when
    /// positive.
    Twice(f64),
    /// Hyperbolic excess speed, m/s.
    ExcessSpeed(f64),
    /// Inertial speed at the entry interface, m/s.
    InterfaceSpeed(f64),
    /// Altitude above the equatorial radius of the apoapsis from which the ship comes, m.
    ApoapsisAltitude(f64),
}

/// Where a pass begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EntryState {
    /// Position, m.
    pub position: Vec3<f64>,
    /// Inertial velocity, m/s.
    pub velocity: Vec3<f64>,
    /// False when the approach stays above the interface: the ship never meets the air, and the state is that at
    /// its lowest altitude.
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
        let (r, v) = (self.position, self.velocity);
        libm::atan2(r.dot(v), r.cross(v).norm())
    }
}

/// An approach from an apoapsis ends at the altitude asked for to this share of the radius.
const APOAPSIS_CLOSE: f64 = 1e-9;

impl Approach {
    /// The state at the inbound crossing of the entry interface: the first one on the way from far outside.
    ///
    /// `None` when the numbers fit no approach: the periapsis at or below the centre or above the apoapsis, an
    /// apoapsis that does not lie above the interface, an interface speed too small to reach the interface.
    #[inline(always)]
    #[must_use]
    pub fn entry_state(&self, planet: &Planet) -> Option<EntryState> {
        let mut state = self.osculating_state(planet)?;
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

    /// The state without delivery errors at the interface.
    #[inline(always)]
    fn osculating_state(&self, planet: &Planet) -> Option<EntryState> {
        let pace = match self.energy {
            Energy::Twice(twice) => Pace::Energy(twice),
            Energy::ExcessSpeed(v_inf) => Pace::Energy(v_inf * v_inf),
            Energy::InterfaceSpeed(v) => Pace::Speed(v),
            Energy::ApoapsisAltitude(altitude) => {
                return self.coming_from_apoapsis(planet, planet.equatorial_radius_m + altitude);
            }
        };
        let mut inbound = self.inbound(planet, pace)?;
        if self.b_plane_miss_m != (0.0, 0.0) {
            let twice = match pace {
                Pace::Energy(twice) if self.speed_off_m_s == 0.0 => twice,
                _ => {
                    let state = inbound.state(planet, &inbound.crossing(planet)?);
                    planet.twice_energy(state.position, state.velocity)
                }
            };
            inbound = inbound.missed_by(planet.gm_m3_s2, twice, self.b_plane_miss_m)?;
        }
        Some(inbound.state(planet, &inbound.crossing(planet)?))
    }

    /// The line of apsides of the aim.
    #[inline(always)]
    fn inbound(&self, planet: &Planet, pace: Pace) -> Option<Inbound> {
        let (sin_i, cos_i) = sin_cos(self.inclination_rad);
        let (sin_w, cos_w) = sin_cos(self.argument_of_periapsis_rad);
        let toward = Vec3::new(cos_w, sin_w * cos_i, sin_w * sin_i);
        let surface = planet.ellipsoid.surface_radius(toward.z * toward.z);
        let periapsis_radius_m = surface + self.periapsis_altitude_m;
        (periapsis_radius_m > 0.0).then_some(Inbound {
            toward,
            along: Vec3::new(-sin_w, cos_w * cos_i, cos_w * sin_i),
            periapsis_radius_m,
            pace,
            speed_off_m_s: self.speed_off_m_s,
        })
    }

    /// The state of a ship that comes from an apoapsis of this radius, m: the energy with which the way back leads
    /// there under the zonal field.
    #[inline(always)]
    fn coming_from_apoapsis(&self, planet: &Planet, apoapsis_m: f64) -> Option<EntryState> {
        const ROUNDS: u32 = 30;
        let gm = planet.gm_m3_s2;
        let mut inbound = self.inbound(planet, Pace::Energy(0.0))?;
        if apoapsis_m < inbound.periapsis_radius_m {
            return None;
        }
        let mut twice = -2.0 * gm / (inbound.periapsis_radius_m + apoapsis_m);
        let mut last: Option<(f64, f64)> = None;
        for _ in 0..ROUNDS {
            inbound.pace = Pace::Energy(twice);
            let state = inbound.state(planet, &inbound.crossing(planet)?);
            let back = next_apsis(planet, state.position, state.velocity.scale(-1.0))?;
            // In the inverse of the radius everything is nearly straight.
            let miss = 1.0 / back.radius_m - 1.0 / apoapsis_m;
            if miss.abs() * apoapsis_m <= APOAPSIS_CLOSE {
                return Some(state);
            }
            // Twice the energy is nearly -2 gm over the sum of the apsides.
            let sum = 1.0 + inbound.periapsis_radius_m / apoapsis_m;
            let slope = match last {
                Some((other, missed)) if other != twice => (miss - missed) / (twice - other),
                _ => -0.5 * sum * sum / gm,
            };
            last = Some((twice, miss));
            twice -= miss / slope;
        }
        None
    }
}

impl Inbound {
    #[inline(always)]
    fn state(&self, planet: &Planet, at: &Crossing) -> EntryState {
        EntryState {
            position: self.position(at),
            velocity: self.velocity(planet, at),
            meets_air: at.meets_air,
        }
    }

    /// The same arrival on the incoming asymptote of the hyperbola with this periapsis and the square `c3` (m²/s²) of
    /// the excess speed, its B vector moved by (t, r) m along T and R, T = S × pole, R = S × T, S the direction of
    /// the asymptote.
    ///
    /// That hyperbola is about a point mass: near the poles of a flattened world what osculates at the crossing of a
    /// slow arrival is an ellipse, which has no asymptote.
    #[inline(always)]
    fn missed_by(&self, gm: f64, c3: f64, (miss_t, miss_r): (f64, f64)) -> Option<Self> {
        if !(c3 > 0.0) {
            return None;
        }
        let opening = self.periapsis_radius_m * c3 / gm;
        let e = 1.0 + opening;
        let root = (opening * (2.0 + opening)).sqrt();
        let asymptote = self.along.scale_add(root / e, self.toward.scale(1.0 / e));
        let b_length =
            self.periapsis_radius_m * (1.0 + 2.0 * gm / (self.periapsis_radius_m * c3)).sqrt();
        let b_direction = (self.toward.scale(e) - asymptote).scale(1.0 / root);
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
            toward,
            along: normal.cross(toward),
            periapsis_radius_m: r_p,
            ..*self
        })
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
            speed_off_m_s: 0.0,
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
        let inbound = approach(2650.0, 40e3).inbound(&planet, Pace::Energy(2650.0 * 2650.0));
        let inbound = inbound.expect("a periapsis");
        let moved = inbound.missed_by(gm, 2650.0 * 2650.0, (0.0, 0.0));
        let moved = moved.expect("hyperbola");
        assert!((moved.periapsis_radius_m / nominal.periapsis_radius_m - 1.0).abs() < 1e-12);
        assert!((moved.toward - inbound.toward).norm() < 1e-12);
        assert!((moved.along - inbound.along).norm() < 1e-12);
    }

    #[test]
    fn a_periapsis_above_the_interface_never_meets_the_air() {
        let planet = sphere(4.282_837_5e13, 3_396_190.0, 125e3);
        let state = approach(2650.0, 130e3).entry_state(&planet).expect("conic");
        assert!(!state.meets_air);
    }
}
