//! A burn before entry: how much speed it takes off where it ends, integrated backwards from there.

use super::burn::{Attitude, BurnError, Burner, MOST_STEPS, Motion, State, TOLERANCE};
use super::conic::Conic;
use super::solver::eighth_order;
use crate::numeric::Vec3;
use crate::numeric::root::bracketed_root;

impl Burner {
    /// Speed that a burn takes off at a radius (m) when it ends there on the way in, m/s, against its speed change by
    /// the rocket equation: less by what it loses to gravity. The periapsis of `self.conic` is that after the burn.
    ///
    /// Integrated backwards from the radius, thrust against the velocity, until the conic before it has the energy of
    /// `self.conic`.
    ///
    /// # Errors
    /// [`BurnError`] when the integrator gives up, or the burn would have to begin beyond `self.farthest_m`.
    pub fn speed_off_m_s(&self, radius_m: f64, speed_change_m_s: f64) -> Result<f64, BurnError> {
        let before = self.conic.speed_at_m_s(radius_m);
        let depth = before * before - self.conic.twice_energy;
        let mut failed = None;
        let mut begins_m = radius_m;
        let miss = |off: f64| {
            let after = Conic {
                twice_energy: (before - off) * (before - off) - depth,
                ..self.conic
            };
            match self.energy_before(&after, radius_m, speed_change_m_s) {
                Ok((energy, from_m)) => {
                    begins_m = from_m;
                    energy - self.conic.twice_energy
                }
                Err(error) => {
                    failed = Some(error);
                    f64::NAN
                }
            }
        };
        let range = (0.2 * speed_change_m_s, 1.5 * speed_change_m_s);
        let off = bracketed_root(miss, range.0, range.1, 1e-6 * speed_change_m_s.max(1.0));
        match (off, failed) {
            (_, Some(error)) => Err(error),
            (Some(_), None) if begins_m > self.farthest_m => Err(BurnError(format!(
                "the engine is too weak: the burn before entry would begin {:.0} km from the centre, beyond the \
                 loosest apoapsis",
                begins_m / 1e3
            ))),
            (Some(off), None) => Ok(off),
            (None, None) => Err(BurnError(
                "the burn before entry lasts longer than the way in".to_owned(),
            )),
        }
    }

    /// Twice the energy of the conic before a burn that ends at a radius (m) inbound on the conic `after`, and the
    /// radius (m) where that burn begins.
    fn energy_before(
        &self,
        after: &Conic,
        radius_m: f64,
        speed_change_m_s: f64,
    ) -> Result<(f64, f64), BurnError> {
        let gm = after.gm_m3_s2;
        let (length, speed) = (radius_m, (gm / radius_m).sqrt());
        let time = length / speed;
        let burnt = self.thruster.burn_time_s(self.mass_kg, speed_change_m_s);
        let left_kg = self.mass_kg - burnt * self.thruster.flow_kg_s();
        let motion = Motion {
            thrust: self.thruster.thrust_n / left_kg * length / (speed * speed),
            flow: self.thruster.flow_kg_s() * time / left_kg,
            attitude: Attitude::AgainstVelocity,
            parts: [1.0, 0.0, 0.0],
            sense: -1.0,
        };
        let (r, v) = after.state_at(-after.anomaly_at_radius(radius_m));
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
        let span = burnt / time;
        let mut solver = eighth_order(&motion, start, (span, span), (TOLERANCE, MOST_STEPS));
        solver
            .integrate()
            .map_err(|error| BurnError(error.to_string()))?;
        let end = *solver.y_out().last().unwrap_or(&start);
        let r = Vec3::new(end[0], end[1], end[2]);
        let v = Vec3::new(end[3], end[4], end[5]);
        let twice_energy = (v.dot(v) - 2.0 / r.norm()) * speed * speed;
        Ok((twice_energy, r.norm() * length))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::craft::engine::Thruster;
    use crate::pass::apsis::ManeuverError;
    use crate::pass::burn::Burn;

    /// A burn forwards along the conic before it, then on to the radius where it was to end: the same speed is left.
    #[test]
    fn a_burn_before_entry_takes_off_what_it_does_forwards() {
        let burner = Burner {
            conic: Conic::hyperbola(4.282_837_5e13, 3_696_190.0, 2650.0),
            mass_kg: 1000.0,
            thruster: Thruster {
                thrust_n: 8000.0,
                specific_impulse_s: 320.0,
            },
            attitude: Attitude::AgainstVelocity,
            farthest_m: 1e9,
        };
        let radius = 3.75e6;
        let off = burner.speed_off_m_s(radius, 400.0).expect("a burn");
        assert!(off < 400.0 && off > 380.0, "{off}");
        let strong = Burner {
            thruster: Thruster {
                thrust_n: 8e7,
                ..burner.thruster
            },
            ..burner
        };
        let sharp = strong.speed_off_m_s(radius, 400.0).expect("a burn");
        assert!((sharp - 400.0).abs() < 0.02, "{sharp}");
        // An engine that may be on only near the body is too weak for it.
        let near = Burner {
            farthest_m: 1.005 * radius,
            ..burner
        };
        let error = near.speed_off_m_s(radius, 400.0).expect_err("too far out");
        assert!(error.to_string().contains("too weak"), "{error}");
        // Forwards from an anomaly such that the burn ends about the radius.
        let duration = burner.thruster.burn_time_s(1000.0, 400.0);
        let end = -burner.conic.time_from_radius_s(radius);
        let start = -burner.conic.anomaly_after(duration - end, 2.0);
        let burn = Burn {
            start_rad: start,
            speed_change_m_s: 400.0,
        };
        let burned = burner.fly(&burn, &ManeuverError::NONE).expect("a burn");
        let forward = burner.conic.speed_at_m_s(radius) - burned.conic.speed_at_m_s(radius);
        assert!((forward - off).abs() < 1.0, "{forward} {off}");
    }
}
