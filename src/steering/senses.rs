//! What the ship sees of its flight. Nothing else of the truth reaches its decisions.

use crate::numeric::Vec3;
use crate::numeric::elementary::sin_cos;
use crate::pass::EntryState;
use crate::pass::dynamics::{position, velocity};
use crate::pass::reference::Moment;

/// What is true of a ship and its instruments, and hidden from it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Truth {
    /// Error of the altitude that it believes, m.
    pub altitude_m: f64,
    /// Error of the inertial speed that it believes, m/s.
    pub speed_m_s: f64,
    /// Error of the flight-path angle that it believes, rad.
    pub angle_rad: f64,
    /// Relative error of its accelerometer.
    pub accelerometer: f64,
    /// Error of the bank angle that it flies against the one it commands, rad.
    pub bank_rad: f64,
}

/// What the ship sees at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Time since the start of the pass, s: clocks are exact.
    pub time_s: f64,
    /// Position as navigated, m.
    pub position: Vec3<f64>,
    /// Inertial velocity as navigated, m/s.
    pub velocity: Vec3<f64>,
    /// Sensed acceleration as measured, m/s².
    pub sensed_m_s2: f64,
    /// Work of drag as a speed so far, as the accelerometer sums it up, m/s.
    pub lost_m_s: f64,
}

impl Seen {
    /// What a ship sees of a moment.
    ///
    /// Altitude and speed are off by constants, the velocity is turned in the plane of motion by the error of
    /// the angle, positive towards the zenith.
    #[must_use]
    pub fn of(moment: &Moment, truth: &Truth) -> Self {
        let (r, v) = (position(&moment.state), velocity(&moment.state));
        let (radius, speed) = (r.norm(), v.norm());
        let measured = 1.0 + truth.accelerometer;
        let mut turned = v;
        if truth.angle_rad != 0.0 {
            let (sine, cosine) = sin_cos(truth.angle_rad);
            let normal = r.cross(v).unit();
            turned = v.scale(cosine) - normal.cross(v).scale(sine);
        }
        Self {
            time_s: moment.time_s,
            position: r.scale((radius + truth.altitude_m) / radius),
            velocity: turned.scale((speed + truth.speed_m_s) / speed),
            sensed_m_s2: moment.felt.deceleration * measured,
            lost_m_s: moment.state[7] * measured,
        }
    }

    /// The start of a flight that goes on from here.
    #[must_use]
    pub fn start(&self) -> EntryState {
        EntryState {
            position: self.position,
            velocity: self.velocity,
            meets_air: true,
        }
    }
}
