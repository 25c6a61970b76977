//! Steered samples: what the ship knows, what is true of it, and how a block of them is flown.

use super::problem::{Numbers, Problem, SampleNumber};
use super::problem_error::ProblemError;
use crate::numeric::Vec3;
use crate::numeric::quantity::Quantity;
use crate::pass::batch::{Batch, Cost, Launch};
use crate::pass::piloted::Squadron;
use crate::pass::{Models, PassResult, Sample};
use crate::scenario::Scenario;
use crate::scenario::steering::{Control, SteeringTarget};
use crate::scenario::uncertainty::Number;
use crate::steering::flight::fly_logged;
use crate::steering::guide::{Model, Relief};
use crate::steering::{Crew, Gate, Guide, Log, Steerer, Target, Truth};
use crate::world::dispersion::Dispersion;
use crate::world::{Planet, World};
use rayon::prelude::*;
use std::ops::Range;
use std::sync::Arc;

/// What the ship of a scenario knows before the pass; `None` for one that is not steered.
///
/// # Errors
/// [`ProblemError::NoLift`] for a ship that banks without lift, [`ProblemError::Air`] when the world cannot be had without its dispersion.
pub(super) fn guide_of(
    scenario: &Scenario,
    world: &World,
    problem: &Problem,
) -> Result<Option<Guide>, ProblemError> {
    let Some(steering) = scenario.steering else {
        return Ok(None);
    };
    let planet = Planet::new(&world.clone().with_dispersion(Dispersion::default())?);
    let nominal = problem.nominal();
    let lifting = problem.lifting(nominal);
    if matches!(steering.control, Control::Bank(_)) && !lifting {
        return Err(ProblemError::NoLift);
    }
    let ship = &scenario.ship;
    let target = match steering.target {
        SteeringTarget::ExitApoapsis(altitude) => Target::ExitApoapsis {
            radius_m: planet.equatorial_radius_m + altitude,
        },
        SteeringTarget::ExitSpeedLoss(speed_m_s) => Target::ExitSpeedLoss { speed_m_s },
        // Which place that is, is known once the approach lies over the ground.
        SteeringTarget::Landing => Target::Gate(Gate {
            place: Vec3::new(1.0, 0.0, 0.0),
            speed_m_s: 0.0,
            range_to_go_m: 0.0,
            aside_within_m: 0.0,
        }),
    };
    let (limits, share) = (&scenario.limits, steering.relief);
    let level = |limit: Option<f64>| limit.map_or(f64::INFINITY, |limit| share * limit);
    let model = Model {
        models: Models {
            planet,
            ship: problem.models().ship.clone(),
        },
        lifting,
        vehicle: problem.vehicle(nominal),
        drag_area_per_mass: problem.reference_coefficients().0 * ship.reference_area_m2
            / ship.mass_kg,
        first_bank_rad: ship.bank_angle_rad,
        nose_radius_m: ship.nose_radius_m,
        inclination_rad: scenario.arrival.inclination_rad,
        relief: Relief {
            deceleration_m_s2: level(limits.on(Quantity::PeakDeceleration)),
            heat_flux_w_m2: level(limits.on(Quantity::PeakHeatFlux)),
            pressure_pa: level(limits.on(Quantity::PeakDynamicPressure)),
        },
    };
    let guide = Guide::new(model, steering, target);
    Ok(Some(match steering.target {
        SteeringTarget::Landing => guide.waiting(),
        SteeringTarget::ExitApoapsis(_) | SteeringTarget::ExitSpeedLoss(_) => guide,
    }))
}

impl Problem {
    /// What the ship steers by; `None` where bank and drag are held, as on the way to a gate that is not known yet.
    #[must_use]
    pub fn guide(&self) -> Option<&Guide> {
        self.guide.as_deref().filter(|guide| !guide.waits())
    }

    /// The same problem with a ship that holds its bank.
    #[must_use]
    pub fn unsteered(&self) -> Self {
        let mut held = self.clone();
        held.guide = None;
        held
    }

    /// The same problem steered to another target; a ship that is not steered stays so.
    #[must_use]
    pub fn steered_to(&self, target: Target) -> Self {
        let guide = self.guide.as_deref().cloned();
        let mut other = self.clone();
        other.guide = guide.map(|guide| Arc::new(guide.with_target(target)));
        other
    }

    /// The true ship and instruments of a sample with these numbers.
    #[must_use]
    pub fn crew(&self, numbers: &Numbers, sample: &Sample<f64>) -> Crew {
        let of = |number: Number| numbers[number as usize];
        Crew {
            truth: Truth {
                altitude_m: of(Number::NavigationAltitude),
                speed_m_s: of(Number::NavigationSpeed),
                angle_rad: of(Number::NavigationAngle),
                accelerometer: of(Number::NavigationAccelerometer),
                bank_rad: of(Number::BankAngle) - self.nominal()[Number::BankAngle as usize],
            },
            vehicle: sample.vehicle.banked(0.0),
        }
    }

    /// Flies the launches in lanes, steered where the ship is; results are handed over with their numbers.
    pub fn fly_in_lanes(
        &self,
        launches: impl Iterator<Item = (Launch, Numbers)>,
        done: impl FnMut(usize, PassResult),
    ) -> Cost {
        let Some(guide) = self.guide() else {
            let mut launches = launches;
            let mut batch = Batch::new(self.models(), self.settings());
            return batch.fly(|| launches.next().map(|(launch, _)| launch), done);
        };
        let mut crews = Vec::new();
        let mut ready = Vec::new();
        for ((number, start, sample), numbers) in launches {
            let idle = Crew {
                truth: Truth::default(),
                vehicle: sample.vehicle,
            };
            crews.resize(number + 1, idle);
            crews[number] = self.crew(&numbers, &sample);
            ready.push((number, start, sample));
        }
        let mut ready = ready.into_iter();
        let mut steerer = Steerer::new(guide, &crews);
        Squadron::new(self.models(), self.settings(), steerer.sets()).fly(
            &mut steerer,
            || ready.next(),
            done,
        )
    }
}

/// The samples of these numbers at an aim (m) with their logs, in their order; a sample without a result is left out.
#[must_use]
pub fn steered_logs(problem: &Problem, aim_m: f64, samples: Range<u64>) -> Vec<(PassResult, Log)> {
    /// Samples flown through one set of lanes.
    const TOGETHER: u64 = 40;
    let Some(guide) = problem.guide() else {
        return Vec::new();
    };
    let count = samples.end.saturating_sub(samples.start);
    let blocks: Vec<u64> = (0..count.div_ceil(TOGETHER)).collect();
    let fly = |&block: &u64| -> Vec<(PassResult, Log)> {
        let first = samples.start + block * TOGETHER;
        let samples = first..samples.end.min(first + TOGETHER);
        let (mut launches, mut crews) = (Vec::new(), Vec::new());
        for sample in samples {
            let numbers = problem.numbers(sample);
            if let Some((start, ready)) = problem.launch(aim_m, &numbers, SampleNumber::Of(sample))
            {
                crews.push(problem.crew(&numbers, &ready));
                launches.push((start, ready));
            }
        }
        let how = (problem.models(), problem.settings());
        fly_logged(how, guide, &launches, &crews)
    };
    let flown = blocks.par_iter().flat_map(fly);
    flown
        .filter(|(result, _)| result.ending.is_flown())
        .collect()
}
