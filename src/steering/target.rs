//! What a steered flight is for, and how far a predicted one is off.

use super::gate::Gate;
use super::senses::Seen;
use crate::pass::dynamics::{position, velocity};
use crate::pass::{Ending, PassResult};
use crate::world::Planet;

/// What a steered flight is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Target {
    /// The orbit after the pass has this apoapsis radius, m.
    ExitApoapsis {
        /// Radius, m.
        radius_m: f64,
    },
    /// The air has taken this much by its drag over the whole pass, m/s.
    ExitSpeedLoss {
        /// Work of drag as a speed, m/s.
        speed_m_s: f64,
    },
    /// The terminal gate of a landing.
    Gate(Gate),
}

/// Range that counts as a miss of 1 at a gate, m.
const RANGE_SCALE_M: f64 = 300e3;
/// The miss of a flight to a gate that leaves the air instead.
const FLEW_ON: f64 = -100.0;

impl Target {
    /// How far a flight predicted from what was seen is off, as a number of order 1: 0 where it meets the target,
    /// positive where it goes too deep (too low an apoapsis, too much lost, short of the place), so that more lift
    /// up is wanted.
    #[must_use]
    pub fn miss(&self, planet: &Planet, seen: &Seen, predicted: &PassResult) -> f64 {
        match self {
            Self::ExitApoapsis { radius_m } => {
                let orbit = &predicted.orbit;
                // The inverse of the apoapsis radius goes smoothly through 0 from ellipse to hyperbola.
                let inverse = -orbit.twice_energy
                    / orbit
                        .periapsis_radius_m
                        .mul_add(orbit.twice_energy, 2.0 * planet.gm_m3_s2);
                radius_m * inverse - 1.0
            }
            Self::ExitSpeedLoss { speed_m_s } => {
                (seen.lost_m_s + predicted.speed_lost_m_s) / speed_m_s - 1.0
            }
            Self::Gate(gate) => {
                if predicted.ending != Ending::Landed {
                    return FLEW_ON;
                }
                let y = &predicted.end_state;
                let time_s = seen.time_s + predicted.duration_s;
                let there = gate.bearing(planet, (position(y), velocity(y)), time_s);
                (there.downrange_m - gate.range_to_go_m) / RANGE_SCALE_M
            }
        }
    }

    /// Speed against the air below which a flight to this target is not followed, m/s.
    #[must_use]
    pub fn stop_speed_m_s(&self, planet: &Planet) -> f64 {
        match self {
            // A ship as slow as this does not leave the air again.
            Self::ExitApoapsis { .. } | Self::ExitSpeedLoss { .. } => {
                0.3 * planet.circular_speed_m_s()
            }
            Self::Gate(gate) => gate.speed_m_s,
        }
    }
}
