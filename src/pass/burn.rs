//! A burn of finite thrust about a point mass, integrated: thrust, specific impulse, attitude, start.
//!
//! `ode_solvers` Dop853 in units in which the periapsis radius, the gravitational parameter and the mass at the start
//! are 1. Oblateness and air are left out: a burn takes a small part of an orbit, above the air.

use super::apsis::ManeuverError;
use super::conic::Conic;
use super::orbit::Orbit;
use super::solver::eighth_order;
use crate::craft::engine::Thruster;
use crate::numeric::Vec3;
use crate::numeric::root::bounded_minimum;
use nalgebra::SVector;
use ode_solvers::System;
use std::f64::consts::TAU;

/// Where the thrust of a braking burn points.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Attitude {
    /// Fixed in space: against the velocity that the conic has at its periapsis.
    Fixed,
    /// Always against the velocity.
    AgainstVelocity,
}

/// A ship under thrust on its way along a conic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Burner {
    /// The conic before the burn.
    pub conic: Conic,
    /// Mass before the burn, kg.
    pub mass_kg: f64,
    /// Its engine.
    pub thruster: Thruster,
    /// Where the thrust points.
    pub attitude: Attitude,
    /// Largest radius at which the engine may be on, m.
    pub farthest_m: f64,
}

/// A burn to fly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Burn {
    /// True anomaly of its start on the conic before it, rad, negative before periapsis.
    pub start_rad: f64,
    /// Speed change by the rocket equation, m/s, 0 or more.
    pub speed_change_m_s: f64,
}

/// What a burn left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Burned {
    /// The conic after it.
    pub conic: Conic,
    /// Mass after it, kg.
    pub mass_kg: f64,
    /// How long it took, s.
    pub duration_s: f64,
    /// Time from the periapsis of the conic after it to its end, s, negative when the end lies before.
    pub end_after_periapsis_s: f64,
    /// Radius at its end, m.
    pub end_radius_m: f64,
    /// Angle gone round the body during it, rad.
    pub swept_rad: f64,
    /// Highest acceleration by thrust, that at its end, m/s².
    pub acceleration_m_s2: f64,
}

/// Why a burn could not be integrated.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("the integration of a burn stopped: {0}")]
pub struct BurnError(pub(super) String);

/// Tolerance of the integration, relative and in the units above.
pub(super) const TOLERANCE: f64 = 1e-11;
/// How well the best start is found, rad: the energy is flat there.
const START_TOLERANCE_RAD: f64 = 1e-5;

pub(super) type State = SVector<f64, 8>;

/// A burn that comes this near the centre, in units of the periapsis, is given up.
pub(super) const DEEPEST: f64 = 0.2;
/// A burn against the motion that brings the ship to rest, in units of the circular speed at the periapsis, is given up:
/// below it the thrust has no direction.
const SLOWEST: f64 = 1e-3;
/// Steps of a burn at most; some hundred make a round.
pub(super) const MOST_STEPS: u32 = 20_000;

/// The equations in units of the periapsis; the mass is the seventh state, so that time is not used, and the angle
/// gone round the body the eighth.
pub(super) struct Motion {
    pub(super) thrust: f64,
    pub(super) flow: f64,
    pub(super) attitude: Attitude,
    /// Parts of the thrust along its nominal direction, across it in the plane, and out of the plane.
    pub(super) parts: [f64; 3],
    /// 1 forwards in time, -1 backwards.
    pub(super) sense: f64,
}

impl System<f64, State> for &Motion {
    fn system(&self, _time: f64, y: &State, dy: &mut State) {
        let r = Vec3::new(y[0], y[1], y[2]);
        let v = Vec3::new(y[3], y[4], y[5]);
        let r2 = r.dot(r);
        let pull = -1.0 / (r2 * r2.sqrt());
        let along = match self.attitude {
            Attitude::Fixed => Vec3::new(0.0, -1.0, 0.0),
            Attitude::AgainstVelocity => v.unit().scale(-1.0),
        };
        let normal = Vec3::new(0.0, 0.0, 1.0);
        let across = normal.cross(along);
        let size = self.thrust / y[6];
        let push = along
            .scale(self.parts[0])
            .scale_add(1.0, across.scale(self.parts[1]))
            .scale_add(size, normal.scale(size * self.parts[2]));
        let acceleration = r.scale_add(pull, push);
        *dy = State::from_column_slice(&[
            v.x,
            v.y,
            v.z,
            acceleration.x,
            acceleration.y,
            acceleration.z,
            -self.flow,
            r.cross(v).norm() / r2,
        ]) * self.sense;
    }

    // Once round the body, or deep inside it, nothing more is of use; a spiral into the centre would never end.
    fn solout(&mut self, _time: f64, y: &State, _dy: &State) -> bool {
        let r2 = y[0] * y[0] + y[1] * y[1] + y[2] * y[2];
        let v2 = y[3] * y[3] + y[4] * y[4] + y[5] * y[5];
        y[7].abs() >= TAU || r2 < DEEPEST * DEEPEST || v2 < SLOWEST * SLOWEST
    }
}

impl Burner {
    /// Flies a burn.
    ///
    /// # Errors
    /// [`BurnError`] when the integrator gives up.
    pub fn fly(&self, burn: &Burn, error: &ManeuverError) -> Result<Burned, BurnError> {
        let gm = self.conic.gm_m3_s2;
        let (r, v) = self.conic.state_at(burn.start_rad);
        let length = self.conic.periapsis_radius_m;
        let speed = (gm / length).sqrt();
        let time = length / speed;
        let asked = burn.speed_change_m_s * (1.0 + error.size);
        let duration_s = self.thruster.burn_time_s(self.mass_kg, asked);
        let flow = self.thruster.flow_kg_s() * time / self.mass_kg;
        let motion = Motion {
            thrust: self.thruster.thrust_n / self.mass_kg * length / (speed * speed),
            flow,
            attitude: self.attitude,
            parts: ManeuverError {
                size: 0.0,
                ..*error
            }
            .applied(1.0),
            sense: 1.0,
        };
        let start = State::from_column_slice(&[
            r.x / length,
            r.y / length,
            0.0,
            v.x / speed,
            v.y / speed,
            0.0,
            1.0,
            0.0,
        ]);
        let span = duration_s / time;
        let end = if span > 0.0 {
            let mut solver = eighth_order(&motion, start, (span, span), (TOLERANCE, MOST_STEPS));
            solver
                .integrate()
                .map_err(|error| BurnError(error.to_string()))?;
            *solver.y_out().last().unwrap_or(&start)
        } else {
            start
        };
        let r = Vec3::new(end[0], end[1], end[2]).scale(length);
        let v = Vec3::new(end[3], end[4], end[5]).scale(speed);
        let mass_kg = end[6] * self.mass_kg;
        let conic = Conic::of(gm, &Orbit::from_state(gm, r, v));
        let end_radius_m = r.norm();
        let anomaly = conic.anomaly_at_radius(end_radius_m);
        let after = conic.time_at(anomaly).copysign(r.dot(v));
        Ok(Burned {
            conic,
            mass_kg,
            duration_s,
            end_after_periapsis_s: after,
            end_radius_m,
            swept_rad: end[7],
            acceleration_m_s2: self.thruster.thrust_n / mass_kg,
        })
    }

    /// The burn of this speed change (m/s) that starts when it takes the most energy, and what it leaves.
    ///
    /// # Errors
    /// [`BurnError`] when the integrator gives up at the best start.
    pub fn best_start(&self, speed_change_m_s: f64) -> Result<(Burn, Burned), BurnError> {
        let duration = self.thruster.burn_time_s(self.mass_kg, speed_change_m_s);
        // Best is a start between a burn that ends at periapsis and one that begins there.
        let earliest = self.conic.anomaly_after(duration, self.farthest_rad());
        let energy = |start_rad: f64| {
            let burn = Burn {
                start_rad,
                speed_change_m_s,
            };
            self.fly(&burn, &ManeuverError::NONE)
                .map_or(f64::INFINITY, |burned| burned.conic.twice_energy)
        };
        let (start_rad, _) = bounded_minimum(energy, -earliest, 0.0, START_TOLERANCE_RAD);
        let burn = Burn {
            start_rad,
            speed_change_m_s,
        };
        Ok((burn, self.fly(&burn, &ManeuverError::NONE)?))
    }

    /// The anomaly at which the engine may be on first, rad.
    fn farthest_rad(&self) -> f64 {
        let most = std::f64::consts::PI * (1.0 - 1e-9);
        self.conic.anomaly_at_radius(self.farthest_m).min(most)
    }

    /// Speed change of the impulse at periapsis that leaves this twice the specific energy (m²/s²), m/s.
    #[must_use]
    pub fn impulse_m_s(&self, twice_energy: f64) -> f64 {
        let left = Conic {
            twice_energy,
            ..self.conic
        };
        self.conic.periapsis_speed_m_s() - left.periapsis_speed_m_s()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn burner(thrust_n: f64, attitude: Attitude) -> Burner {
        Burner {
            conic: Conic::hyperbola(4.282_837_5e13, 3_696_190.0, 2650.0),
            mass_kg: 1000.0,
            thruster: Thruster {
                thrust_n,
                specific_impulse_s: 320.0,
            },
            attitude,
            farthest_m: 1e9,
        }
    }

    /// Losses of a burn of 900 m/s at Mars with the best start, against the impulse at periapsis for the same
    /// energy. Computed by an independent program from the equations of motion; tolerance 1 %.
    #[test]
    fn integrated_losses_are_those_of_an_independent_program() {
        for (thrust, attitude, loss) in [
            (2000.0, Attitude::Fixed, 4.7694),
            (2000.0, Attitude::AgainstVelocity, 2.2078),
            (400.0, Attitude::Fixed, 83.926),
            (400.0, Attitude::AgainstVelocity, 42.118),
        ] {
            let burner = burner(thrust, attitude);
            let (burn, burned) = burner.best_start(900.0).expect("a burn");
            let found = 900.0 - burner.impulse_m_s(burned.conic.twice_energy);
            assert!(
                (found / loss - 1.0).abs() < 0.01,
                "{thrust} {attitude:?} {found} {burn:?}"
            );
        }
    }

    #[test]
    fn a_burn_without_speed_change_changes_nothing_and_a_short_one_is_an_impulse() {
        let burner = burner(2e9, Attitude::AgainstVelocity);
        let none = Burn {
            start_rad: 0.0,
            speed_change_m_s: 0.0,
        };
        let burned = burner.fly(&none, &ManeuverError::NONE).expect("a burn");
        let kept = burned.conic.twice_energy / burner.conic.twice_energy;
        assert!((kept - 1.0).abs() < 1e-9 && burned.mass_kg == 1000.0);
        let (_, burned) = burner.best_start(900.0).expect("a burn");
        let impulse = burner.impulse_m_s(burned.conic.twice_energy);
        assert!((impulse - 900.0).abs() < 1e-6, "{impulse}");
    }

    #[test]
    fn a_pointing_error_out_of_the_plane_loses_by_its_cosine() {
        let burner = burner(2e7, Attitude::Fixed);
        let burn = Burn {
            start_rad: -1e-5,
            speed_change_m_s: 900.0,
        };
        let error = ManeuverError {
            size: 0.0,
            in_plane_rad: 0.0,
            out_of_plane_rad: 0.1,
        };
        let exact = burner.fly(&burn, &ManeuverError::NONE).expect("a burn");
        let wrong = burner.fly(&burn, &error).expect("a burn");
        let v = burner.conic.periapsis_speed_m_s();
        // The impulse as vectors: forward v - 900 cos, across 900 sin.
        let expected = (v - 900.0 * 0.1_f64.cos()).powi(2) + (900.0 * 0.1_f64.sin()).powi(2)
            - (v - 900.0).powi(2);
        let found = wrong.conic.twice_energy - exact.conic.twice_energy;
        assert!((found / expected - 1.0).abs() < 1e-3, "{found} {expected}");
    }
}
