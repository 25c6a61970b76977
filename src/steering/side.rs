//! Which side the lift is turned to, to hold an inclination: it changes when the orbit has drifted too far.

use super::senses::Seen;
use crate::numeric::Vec3;

/// The inclination that a flight is to hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inclination {
    /// The inclination, rad.
    pub wanted_rad: f64,
    /// How far it may be off before the bank changes sides, rad.
    pub within_rad: f64,
}

/// Cosine of the argument of latitude below which a push across the plane hardly moves the inclination.
const NEAR_TOP: f64 = 0.05;

impl Inclination {
    /// The side to bank to (1 right, -1 left), given the present one.
    #[must_use]
    pub fn side(&self, seen: &Seen, present: f64) -> f64 {
        let momentum = seen.position.cross(seen.velocity);
        let inclination = libm::acos((momentum.z / momentum.norm()).clamp(-1.0, 1.0));
        let error = inclination - self.wanted_rad;
        if error.abs() <= self.within_rad {
            return present;
        }
        // Lift to the right pushes against the angular momentum; a push along it raises the inclination where
        // the ship is nearer its ascending node, and lowers it near the other.
        let node = Vec3::new(-momentum.y, momentum.x, 0.0);
        let cosine = node.dot(seen.position) / (node.norm() * seen.position.norm());
        if !(cosine.abs() > NEAR_TOP) {
            return present;
        }
        error.signum() * cosine.signum()
    }
}
