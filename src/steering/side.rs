//! Which side the lift is turned to: it changes when the flight has drifted too far to one.

use super::gate::Gate;
use super::senses::Seen;
use crate::numeric::Vec3;
use crate::world::Planet;

/// What the sides are changed for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Course {
    /// Holds an inclination.
    Inclination {
        /// The inclination, rad.
        wanted_rad: f64,
        /// How far it may be off before the bank changes sides, rad.
        within_rad: f64,
    },
    /// Holds the heading to the place of the gate.
    Place(Gate),
}

/// Cosine of the argument of latitude below which a push across the plane hardly moves the inclination.
const NEAR_TOP: f64 = 0.05;

impl Course {
    /// The side to bank to (1 right, -1 left), given the present one.
    #[must_use]
    pub fn side(&self, planet: &Planet, seen: &Seen, present: f64) -> f64 {
        match self {
            Self::Inclination {
                wanted_rad,
                within_rad,
            } => {
                let momentum = seen.position.cross(seen.velocity);
                let inclination = libm::acos((momentum.z / momentum.norm()).clamp(-1.0, 1.0));
                let error = inclination - wanted_rad;
                if error.abs() <= *within_rad {
                    return present;
                }
                // Lift to the right pushes against the angular momentum; a push along it raises the inclination
                // where the ship is nearer its ascending node, and lowers it near the other.
                let node = Vec3::new(-momentum.y, momentum.x, 0.0);
                let cosine = node.dot(seen.position) / (node.norm() * seen.position.norm());
                if !(cosine.abs() > NEAR_TOP) {
                    return present;
                }
                error.signum() * cosine.signum()
            }
            Self::Place(gate) => {
                let there = gate.bearing(planet, (seen.position, seen.velocity), seen.time_s);
                if there.heading_error_rad.abs() <= gate.heading_within_rad {
                    present
                } else {
                    there.heading_error_rad.signum()
                }
            }
        }
    }
}
