//! Angles on the circle.

use std::f64::consts::TAU;

/// An angle (rad) between -π and π: the same direction, less whole turns.
#[must_use]
pub fn wrapped(angle_rad: f64) -> f64 {
    let turns = (angle_rad / TAU).round();
    turns.mul_add(-TAU, angle_rad)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_turns_are_taken_off() {
        for turns in [-3.0, -1.0, 0.0, 2.0] {
            assert!((wrapped(turns * TAU + 0.4) - 0.4).abs() < 1e-12);
        }
        assert!((wrapped(3.5) - (3.5 - TAU)).abs() < 1e-12);
    }
}
