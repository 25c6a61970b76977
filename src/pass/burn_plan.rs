//! Capture by engine: one burn at periapsis, or several over as many passages where the thrust is low.

use super::apsis::ManeuverError;
use super::burn::{Attitude, Burn, BurnError, Burner};
pub use super::burn_shortage::{Failed, LongBurn, PlanError};
pub use super::burn_size::PlannedBurn;
use super::burn_size::{Shortfall, burn_to};
use super::conic::Conic;
use super::orbit::speed_between_apsides;
use crate::craft::engine::{Thruster, robbins_holds, robbins_loss_m_s};

/// What the engine has to do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Braking {
    /// The conic of the arrival.
    pub conic: Conic,
    /// Mass before the first burn, kg.
    pub mass_kg: f64,
    /// The engine.
    pub thruster: Thruster,
    /// Where the thrust points.
    pub attitude: Attitude,
    /// Apoapsis radius below which the first burn has to capture, m; no engine is on beyond it.
    pub loosest_m: f64,
    /// Apoapsis radius after the last burn, m.
    pub target_m: f64,
    /// By what share a first burn that only just captures is made larger, so that its errors do not undo it.
    pub margin: f64,
}

/// Burns that capture and lower the apoapsis to the target.
#[derive(Debug, Clone, PartialEq)]
pub struct BurnPlan {
    /// The burns in order; never empty.
    pub burns: Vec<PlannedBurn>,
    /// From the start of the first burn to the end of the last, s.
    pub duration_s: f64,
    /// Sum of the speed changes by the rocket equation, m/s.
    pub speed_change_m_s: f64,
    /// The one impulse at periapsis that leaves the target apoapsis, m/s.
    pub impulse_m_s: f64,
}

/// A ship that was flown through a plan with its errors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlownPlan {
    /// The conic after the last burn that was flown.
    pub conic: Conic,
    /// Mass after it, kg.
    pub mass_kg: f64,
    /// Sum of the speed changes by the rocket equation, m/s.
    pub speed_change_m_s: f64,
    /// Whether every burn left a closed orbit inside the loosest apoapsis.
    pub captured: bool,
    /// Highest acceleration by thrust, m/s².
    pub acceleration_m_s2: f64,
}

impl BurnPlan {
    /// What the burns lose against the impulse, m/s.
    #[must_use]
    pub fn loss_m_s(&self) -> f64 {
        self.speed_change_m_s - self.impulse_m_s
    }

    /// Robbins' estimate of the loss, m/s, and whether every burn is short enough for it.
    #[must_use]
    pub fn robbins(&self) -> (f64, bool) {
        self.burns.iter().fold((0.0, true), |(sum, holds), one| {
            let conic = &one.burner.conic;
            let (gm, r) = (conic.gm_m3_s2, conic.periapsis_radius_m);
            let time = one.burned.duration_s;
            (
                sum + robbins_loss_m_s(gm, r, time, one.burn.speed_change_m_s),
                holds && robbins_holds(gm, r, time),
            )
        })
    }

    /// Mass after the last burn, kg.
    #[must_use]
    pub fn mass_after_kg(&self) -> f64 {
        self.burns
            .last()
            .map_or(f64::NAN, |last| last.burned.mass_kg)
    }

    /// Highest acceleration by thrust, m/s².
    #[must_use]
    pub fn acceleration_m_s2(&self) -> f64 {
        let each = self.burns.iter().map(|one| one.burned.acceleration_m_s2);
        each.fold(0.0, f64::max)
    }

    /// Flies the plan from another arrival with errors of its burns. The first burn is done as planned; each later
    /// one is sized anew, by the ratio of impulses, for the orbit that the burn before it really left.
    ///
    /// # Errors
    /// [`BurnError`] when the integrator gives up.
    pub fn fly(
        &self,
        arrival: Conic,
        mass_kg: f64,
        mut error: impl FnMut(usize) -> ManeuverError,
    ) -> Result<FlownPlan, BurnError> {
        let mut flown = FlownPlan {
            conic: arrival,
            mass_kg,
            speed_change_m_s: 0.0,
            captured: true,
            acceleration_m_s2: 0.0,
        };
        for (index, planned) in self.burns.iter().enumerate() {
            let burner = Burner {
                conic: flown.conic,
                mass_kg: flown.mass_kg,
                ..planned.burner
            };
            let r_p = flown.conic.periapsis_radius_m;
            let ratio = if index == 0 {
                1.0
            } else {
                let wanted = speed_between_apsides(
                    flown.conic.gm_m3_s2,
                    r_p,
                    r_p,
                    planned.apoapsis_m.max(r_p),
                );
                (flown.conic.periapsis_speed_m_s() - wanted).max(0.0) / planned.impulse_m_s
            };
            let burn = Burn {
                speed_change_m_s: planned.burn.speed_change_m_s * ratio,
                ..planned.burn
            };
            let error = error(index);
            let burned = burner.fly(&burn, &error)?;
            flown.conic = burned.conic;
            flown.mass_kg = burned.mass_kg;
            flown.speed_change_m_s += burn.speed_change_m_s * (1.0 + error.size);
            flown.acceleration_m_s2 = flown.acceleration_m_s2.max(burned.acceleration_m_s2);
            let apoapsis = burned.conic.apoapsis_radius_m();
            if !apoapsis.is_some_and(|radius| radius <= planned.burner.farthest_m * (1.0 + 1e-6)) {
                flown.captured = false;
                break;
            }
        }
        Ok(flown)
    }
}

impl Braking {
    /// The plan with this many burns (1 or more).
    ///
    /// The first burn captures below the loosest apoapsis; the speed change is shared evenly, but for what the
    /// first burn needs beyond its share.
    ///
    /// # Errors
    /// [`PlanError`]: too weak, nothing to brake, or a failed integration.
    pub fn plan(&self, count: u32) -> Result<BurnPlan, PlanError> {
        self.attempt(count).map_err(|failed| match failed {
            Failed::Long(burn) => burn.told(),
            Failed::Plan(error) => error,
        })
    }

    /// As [`Braking::plan`], but a burn too long for one passage is handed back without the thrust that would do.
    ///
    /// # Errors
    /// [`Failed`].
    pub fn attempt(&self, count: u32) -> Result<BurnPlan, Failed> {
        let gm = self.conic.gm_m3_s2;
        let r_p = self.conic.periapsis_radius_m;
        let arriving = self.conic.periapsis_speed_m_s();
        let speed_for = |apoapsis: f64| speed_between_apsides(gm, r_p, r_p, apoapsis.max(r_p));
        let total = arriving - speed_for(self.target_m);
        if !(total > 0.0) {
            return Err(Failed::Plan(PlanError::NothingToBrake));
        }
        let least_first =
            (arriving - speed_for(self.loosest_m.max(self.target_m))) * (1.0 + self.margin);
        let first = (total / f64::from(count.max(1)))
            .max(least_first)
            .min(total);
        let mut burner = Burner {
            conic: self.conic,
            mass_kg: self.mass_kg,
            thruster: self.thruster,
            attitude: self.attitude,
            farthest_m: self.loosest_m.max(self.target_m),
        };
        let mut burns: Vec<PlannedBurn> = Vec::new();
        let mut duration_s = 0.0;
        for index in 0..count.max(1) {
            let rest = f64::from(index) / f64::from((count - 1).max(1)) * (total - first);
            let apoapsis_m = if index + 1 == count {
                self.target_m
            } else {
                let v = arriving - first - rest;
                let twice_energy = v * v - 2.0 * gm / r_p;
                (-2.0 * gm / twice_energy - r_p).min(burner.farthest_m)
            };
            let planned = burn_to(&burner, apoapsis_m).map_err(|error| match error {
                Shortfall::Weak => Failed::Long(LongBurn {
                    index,
                    burner,
                    apoapsis_m,
                }),
                Shortfall::Burn(error) => Failed::Plan(error.into()),
            })?;
            if let Some(before) = burns.last() {
                let period = burner.conic.period_s().unwrap_or(f64::INFINITY);
                let starts = burner.conic.time_at(planned.burn.start_rad);
                duration_s += period - before.burned.end_after_periapsis_s + starts;
            }
            duration_s += planned.burned.duration_s;
            burner.conic = planned.burned.conic;
            burner.mass_kg = planned.burned.mass_kg;
            burns.push(planned);
        }
        Ok(BurnPlan {
            speed_change_m_s: burns.iter().map(|one| one.burn.speed_change_m_s).sum(),
            burns,
            duration_s,
            impulse_m_s: total,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GM: f64 = 4.282_837_5e13;

    fn braking(thrust_n: f64) -> Braking {
        Braking {
            conic: Conic::hyperbola(GM, 3_696_190.0, 2650.0),
            mass_kg: 1000.0,
            thruster: Thruster {
                thrust_n,
                specific_impulse_s: 320.0,
            },
            attitude: Attitude::Fixed,
            loosest_m: 2.0e8,
            target_m: 2.0e7,
            margin: 0.0,
        }
    }

    #[test]
    fn a_strong_engine_does_what_the_impulse_does() {
        let plan = braking(1e9).plan(1).expect("a plan");
        assert!(plan.loss_m_s().abs() < 1e-3, "{}", plan.loss_m_s());
        let last = plan.burns[0].burned.conic;
        let apoapsis = last.apoapsis_radius_m().expect("closed");
        assert!((apoapsis / 2.0e7 - 1.0).abs() < 1e-6);
    }

    /// 1000 kg with 2500 N to an orbit with an apoapsis of 6000 km, so low that two even burns are allowed: by the
    /// estimate (1/24) (mu/r³) t² per burn, and so in the integration, half the burns in time twice lose about a
    /// quarter; the second is lighter and loses less.
    #[test]
    fn splitting_a_burn_evenly_lowers_its_loss_as_the_estimate_says() {
        let task = Braking {
            target_m: 6.0e6,
            ..braking(2500.0)
        };
        let (one, two) = (task.plan(1).expect("a plan"), task.plan(2).expect("a plan"));
        let (first, second) = (&two.burns[0], &two.burns[1]);
        let uneven = first.impulse_m_s / second.impulse_m_s - 1.0;
        assert!(uneven.abs() < 0.01, "{uneven}");
        assert!(two.robbins().1);
        let ratio = two.loss_m_s() / one.loss_m_s();
        let estimated = two.robbins().0 / one.robbins().0;
        assert!(
            (ratio / estimated - 1.0).abs() < 0.08,
            "{ratio} {estimated}"
        );
        assert!((0.2..0.28).contains(&ratio), "{ratio}");
    }

    /// With 400 N the first of three burns still has to capture, so it stays the longest.
    #[test]
    fn splitting_a_long_burn_lowers_its_loss() {
        let task = braking(400.0);
        let one = task.plan(1).expect("a plan");
        let three = task.plan(3).expect("a plan");
        assert_eq!(three.burns.len(), 3);
        assert!(one.loss_m_s() > 100.0, "{}", one.loss_m_s());
        assert!(three.loss_m_s() < 0.5 * one.loss_m_s());
        assert!(three.mass_after_kg() > one.mass_after_kg());
        // The time is that of the orbits in between.
        let between: f64 = three.burns[..2]
            .iter()
            .map(|one| one.burned.conic.period_s().expect("closed"))
            .sum();
        assert!((three.duration_s / between - 1.0).abs() < 0.05);
        for plan in [&one, &three] {
            let last = plan.burns[plan.burns.len() - 1].burned.conic;
            let apoapsis = last.apoapsis_radius_m().expect("closed");
            assert!((apoapsis / 2.0e7 - 1.0).abs() < 1e-5, "{apoapsis}");
            let first = plan.burns[0].burned.conic;
            assert!(first.apoapsis_radius_m().expect("closed") <= 2.0e8 * (1.0 + 1e-6));
        }
    }

    /// The estimate is held against integrated burns over the range in which it is said to hold, and fails beyond.
    #[test]
    fn the_estimate_holds_where_it_says_and_not_beyond() {
        for (thrust, within) in [(8000.0, 0.01), (2000.0, 0.04), (1800.0, 0.04)] {
            let plan = braking(thrust).plan(1).expect("a plan");
            let (estimate, holds) = plan.robbins();
            assert!(holds, "{thrust}");
            let off = estimate / plan.loss_m_s() - 1.0;
            assert!(off.abs() < within, "{thrust} {off}");
        }
        let (estimate, holds) = braking(400.0).plan(1).expect("a plan").robbins();
        let loss = braking(400.0).plan(1).expect("a plan").loss_m_s();
        assert!(!holds && estimate > 1.3 * loss, "{estimate} {loss}");
    }

    #[test]
    fn a_weak_engine_is_told_what_would_do() {
        let weak = braking(3.0);
        let Err(PlanError::TooWeak {
            needed_thrust_n: Some(needed),
        }) = weak.plan(1)
        else {
            panic!("3 N do not capture");
        };
        assert!(needed > 3.0 && needed < 400.0, "{needed}");
        let enough = Braking {
            thruster: Thruster {
                thrust_n: 1.1 * needed,
                ..weak.thruster
            },
            target_m: weak.loosest_m,
            ..weak
        };
        enough.plan(1).expect("a plan");
        let below = Braking {
            conic: Conic::ellipse(GM, 3_696_190.0, 1.0e7),
            ..weak
        };
        assert_eq!(below.plan(1), Err(PlanError::NothingToBrake));
    }

    #[test]
    fn a_plan_flown_without_errors_is_the_plan_and_later_burns_take_up_the_errors() {
        let task = Braking {
            margin: 0.1,
            ..braking(400.0)
        };
        let plan = task.plan(3).expect("a plan");
        let arrival = plan.burns[0].burner.conic;
        let exact = plan
            .fly(arrival, 1000.0, |_| ManeuverError::NONE)
            .expect("flown");
        assert!((exact.mass_kg / plan.mass_after_kg() - 1.0).abs() < 1e-9);
        let short = |index: usize| ManeuverError {
            size: if index == 0 { -0.02 } else { 0.0 },
            ..ManeuverError::NONE
        };
        let flown = plan.fly(arrival, 1000.0, short).expect("flown");
        let reached = flown.conic.apoapsis_radius_m().expect("closed");
        assert!((reached / 2.0e7 - 1.0).abs() < 0.01, "{reached}");
        assert!(flown.captured);
        let failed = |_: usize| ManeuverError {
            size: -0.9,
            ..ManeuverError::NONE
        };
        assert!(!plan.fly(arrival, 1000.0, failed).expect("flown").captured);
    }
}
