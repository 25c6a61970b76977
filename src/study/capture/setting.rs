//! What every way of one arrival shares: the ship, the target, the errors of burns, what was spent before.

use super::row::StretchKind;
use crate::craft::engine::{Thruster, propellant_kg};
use crate::ensemble::problem::SampleNumber;
use crate::ensemble::{Before, LimitKind, ManeuverDraws, Problem, Progress};
use crate::numeric::quantity::Quantity;
use crate::pass::burn::Attitude;
use crate::pass::burn_plan::Braking;
use crate::pass::conic::Conic;
use crate::pass::mend::Wanted;
use crate::pass::orbit::Orbit;
use crate::scenario::arrival::{AimRange, ArrivalEnergy};
use crate::scenario::capture::{Alternative, Capture};
use crate::scenario::ship::Engine;
use crate::study::Case;

/// Apoapsis that counts as loose where neither the scenario nor a limit says, in equatorial radii.
const LOOSEST_RADII: f64 = 50.0;

/// One arrival: that of the scenario, or an alternative.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Arrival {
    /// Its name; empty for that of the scenario.
    pub(super) name: String,
    /// Excess speed, m/s.
    pub(super) excess_speed_m_s: f64,
    pub(super) extra_time_s: f64,
    pub(super) extra_propellant_kg: f64,
    /// Added to the number that the scenario gives for the energy of the arrival, m/s.
    shift: f64,
}

/// What the ways of an arrival share.
pub(super) struct Setting<'a> {
    pub(super) case: &'a Case,
    pub(super) capture: &'a Capture,
    pub(super) arrival: Arrival,
    pub(super) draws: ManeuverDraws,
    pub(super) progress: &'a Progress,
}

/// What was done and spent before a way proper begins.
#[derive(Debug, Clone, Default)]
pub(super) struct Lead {
    pub(super) before: Before,
    /// Propellant gone, kg, that of a longer way included.
    pub(super) spent_kg: f64,
    /// Speed change by the engine, m/s, without that of a longer way.
    pub(super) engine_speed_m_s: f64,
    /// Highest acceleration by thrust, m/s².
    pub(super) thrust_m_s2: f64,
    /// Time gone, at the places of [`StretchKind::ALL`], s.
    pub(super) durations_s: [f64; StretchKind::ALL.len()],
    /// First number of the burns still to be drawn.
    pub(super) next_burn: u32,
}

/// The excess speed of the scenario's own arrival, m/s; `None` when it comes on a closed orbit.
pub(super) fn excess_speed(problem: &Problem) -> Option<f64> {
    let (start, _) = problem.launch(
        problem.aim().from_m,
        problem.nominal(),
        SampleNumber::Nominal,
    )?;
    let twice = problem
        .planet()
        .twice_energy(start.position, start.velocity);
    // Of a parabola rounding leaves a trace of either sign.
    let trace = 1e-9 * start.velocity.dot(start.velocity);
    (twice >= -trace).then(|| twice.max(0.0).sqrt())
}

impl Arrival {
    /// The arrival of the scenario, with this excess speed.
    pub(super) fn planned(excess_speed_m_s: f64) -> Self {
        Self {
            name: String::new(),
            excess_speed_m_s,
            extra_time_s: 0.0,
            extra_propellant_kg: 0.0,
            shift: 0.0,
        }
    }

    /// Another one beside that of the scenario.
    pub(super) fn other(case: &Case, planned_m_s: f64, other: &Alternative) -> Self {
        let shift = match case.scenario.arrival.energy {
            // The fall to the interface adds the same to the square of either.
            ArrivalEnergy::InertialEntrySpeed(speed) => {
                let more = other.excess_speed_m_s.powi(2) - planned_m_s.powi(2);
                (speed * speed + more).max(0.0).sqrt() - speed
            }
            _ => other.excess_speed_m_s - planned_m_s,
        };
        Self {
            name: other.name.clone(),
            excess_speed_m_s: other.excess_speed_m_s,
            extra_time_s: other.extra_time_s,
            extra_propellant_kg: other.extra_propellant_kg,
            shift,
        }
    }
}

impl<'a> Setting<'a> {
    pub(super) fn new(
        (case, capture): (&'a Case, &'a Capture),
        arrival: Arrival,
        progress: &'a Progress,
    ) -> Self {
        let burns = &capture.burns;
        let seed = case.scenario.ask.seed;
        Self {
            case,
            capture,
            arrival,
            draws: ManeuverDraws::new(seed, burns.size_sigma, burns.pointing_sigma_rad),
            progress,
        }
    }

    /// Mass before anything is spent, kg.
    pub(super) fn mass_kg(&self) -> f64 {
        self.case.scenario.ship.mass_kg
    }

    pub(super) fn engine(&self) -> Option<Engine> {
        self.case.scenario.ship.engine
    }

    /// The engine for burns that are integrated; without a stated thrust one so strong that burns are impulses.
    pub(super) fn thruster(&self) -> Option<Thruster> {
        const IMPULSIVE_M_S2: f64 = 1e5;
        self.engine().map(|engine| Thruster {
            thrust_n: engine.thrust_n.unwrap_or(IMPULSIVE_M_S2 * self.mass_kg()),
            specific_impulse_s: engine.specific_impulse_s,
        })
    }

    /// Whether the acceleration by thrust is known.
    pub(super) fn thrust_is_known(&self) -> bool {
        self.engine()
            .is_some_and(|engine| engine.thrust_n.is_some())
    }

    /// One bit for each limit of the scenario that an acceleration by thrust breaks in a sample.
    pub(super) fn broken_by_thrust(&self, thrust_m_s2: f64, sample: u64) -> u32 {
        let numbers = self.case.problem.judging_numbers(sample);
        let entries = self.case.problem.limits().entries().iter().enumerate();
        entries.fold(0, |bits, (bit, limit)| {
            let felt = limit.kind.spec().of == Some(Quantity::PeakDeceleration)
                && thrust_m_s2 > limit.drawn(&numbers);
            bits | u32::from(felt) << bit
        })
    }

    /// Propellant for a speed change at a mass, kg; NaN without an engine.
    pub(super) fn propellant_kg(&self, mass_kg: f64, speed_change_m_s: f64) -> f64 {
        self.engine().map_or(f64::NAN, |engine| {
            propellant_kg(mass_kg, speed_change_m_s, engine.specific_impulse_s)
        })
    }

    pub(super) fn gm(&self) -> f64 {
        self.case.problem.planet().gm_m3_s2
    }

    fn radius(&self) -> f64 {
        self.case.problem.planet().equatorial_radius_m
    }

    /// The target orbit.
    pub(super) fn wanted(&self) -> Wanted {
        let target = &self.capture.target;
        Wanted {
            periapsis_m: self.radius() + target.periapsis_m,
            apoapsis_m: self.radius() + target.apoapsis_m,
            tolerance_m: target.tolerance_m,
        }
    }

    /// Apoapsis radius below which a first burn or a moon has to leave the ship, m.
    pub(super) fn loosest_m(&self) -> f64 {
        let stated = self.capture.loosest_apoapsis_m;
        let limit = self.case.scenario.limits.allowed(LimitKind::CapturedBelow);
        let altitude = stated.or(limit).unwrap_or(LOOSEST_RADII * self.radius());
        self.radius() + altitude.max(self.capture.target.apoapsis_m)
    }

    /// What precedes every way of this arrival.
    pub(super) fn lead(&self) -> Lead {
        let mut lead = Lead {
            spent_kg: self.arrival.extra_propellant_kg,
            ..Lead::default()
        };
        lead.before.arrival_shift = self.arrival.shift;
        lead.before.mass_factor = self.mass_left(lead.spent_kg);
        lead.note(StretchKind::Travel, self.arrival.extra_time_s);
        lead
    }

    /// The share of the mass that is left when propellant (kg) is gone.
    pub(super) fn mass_left(&self, spent_kg: f64) -> f64 {
        (1.0 - spent_kg / self.mass_kg()).max(1e-6)
    }

    /// The conic of an arrival with this twice the energy, aimed at the target's periapsis.
    pub(super) fn conic(&self, twice_energy: f64) -> Conic {
        Conic {
            gm_m3_s2: self.gm(),
            periapsis_radius_m: self.wanted().periapsis_m,
            twice_energy,
        }
    }

    /// What the engine has to do from a conic to an apoapsis radius (m).
    pub(super) fn braking(
        &self,
        (conic, mass_kg): (Conic, f64),
        thruster: Thruster,
        target_m: f64,
    ) -> Braking {
        let burns = &self.capture.burns;
        Braking {
            conic,
            mass_kg,
            thruster,
            attitude: if burns.against_velocity {
                Attitude::AgainstVelocity
            } else {
                Attitude::Fixed
            },
            loosest_m: self.loosest_m(),
            target_m,
            margin: (4.0 * burns.size_sigma).max(0.01),
        }
    }

    /// The problem after a lead, aimed where the vacuum periapsis has this radius (m), for burns above the air.
    pub(super) fn aimed_above(&self, lead: &Lead, radius_m: f64) -> Option<(Problem, f64)> {
        let problem = &self.case.problem;
        let at = |aim_m: f64| AimRange {
            from_m: aim_m,
            to_m: aim_m,
            step_m: 1.0,
        };
        let guess = radius_m - self.radius();
        let changed = problem.with_before(lead.before.clone(), at(guess)).ok()?;
        let (start, _) = changed.launch(guess, changed.nominal(), SampleNumber::Nominal)?;
        // The aim counts from the ellipsoid below the periapsis, the target from the equatorial radius.
        let found = Orbit::from_state(self.gm(), start.position, start.velocity).periapsis_radius_m;
        Some((changed, guess + radius_m - found))
    }
}

impl Lead {
    /// Adds to the time of a kind of stretch, s.
    pub(super) fn note(&mut self, kind: StretchKind, duration_s: f64) {
        add(&mut self.durations_s, kind, duration_s);
    }
}

/// Adds to the time of a kind of stretch among [`StretchKind::ALL`], s.
pub(super) fn add(
    durations_s: &mut [f64; StretchKind::ALL.len()],
    kind: StretchKind,
    duration_s: f64,
) {
    for (place, (other, _)) in StretchKind::ALL.iter().enumerate() {
        if *other == kind {
            durations_s[place] += duration_s;
        }
    }
}
