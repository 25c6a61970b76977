//! Capture by engine: how many burns, what they lose, and what their errors cost, sample by sample.

use super::flights::{Alike, Flight, NoResult, costs};
use super::row::{Costs, Obstacle, SplitTried, StretchKind};
use super::setting::{Lead, Setting, add};
use crate::ensemble::problem::SampleNumber;
use crate::ensemble::{Halt, Problem, Stopped};
use crate::numeric::counts::few;
use crate::pass::apsis::Apsides;
use crate::pass::burn_plan::{BurnPlan, Failed, FlownPlan, LongBurn};
use crate::pass::conic::Conic;
use crate::pass::orbit::Orbit;
use crate::pass::stays::TimesAbove;
use crate::pass::trace::Trace;
use crate::pass::{Ending, PassResult};
use crate::scenario::capture::MOST_BURNS;
use crate::scenario::uncertainty::Number;
use rayon::prelude::*;

/// Samples flown between two looks at whether the run was stopped.
const SAMPLES_TOGETHER: u64 = 2_000;

/// The burns of a capture, and the numbers of burns that were tried.
pub(super) struct Chosen {
    pub(super) plan: BurnPlan,
    pub(super) tried: Vec<SplitTried>,
}

/// A capture by engine: what it costs, and how its burns were chosen.
pub(super) struct EngineWay {
    pub(super) costs: Result<Costs, Obstacle>,
    pub(super) tried: Vec<SplitTried>,
    pub(super) burns: u32,
}

impl EngineWay {
    fn closed(obstacle: Obstacle) -> Self {
        Self {
            costs: Err(obstacle),
            tried: Vec::new(),
            burns: 0,
        }
    }
}

/// The plan with as few burns as lose little enough, or as many as the scenario says. A burn too long for one passage
/// of its periapsis is divided.
pub(super) fn choose(
    setting: &Setting<'_>,
    (conic, mass_kg): (Conic, f64),
    target_m: f64,
) -> Result<Chosen, Obstacle> {
    let thruster = setting.thruster().ok_or(Obstacle::NoEngine)?;
    let task = setting.braking((conic, mass_kg), thruster, target_m);
    let burns = &setting.capture.burns;
    let mut plans: Vec<BurnPlan> = Vec::new();
    let mut too_long: Option<LongBurn> = None;
    let mut not_worth = 0;
    let count = burns.count;
    for number in 1..=count.unwrap_or(MOST_BURNS) {
        // One burn is always tried, for comparison.
        if count.is_some_and(|count| number > 1 && number < count) {
            continue;
        }
        let plan = match task.attempt(number) {
            Ok(plan) => plan,
            Err(Failed::Plan(error)) => return Err(Obstacle::Engine(error.to_string())),
            Err(Failed::Long(burn)) => {
                let same = too_long.replace(burn).is_some_and(|last| last.is(&burn));
                if count == Some(number) || same {
                    return Err(Obstacle::Engine(burn.told().to_string()));
                }
                continue;
            }
        };
        let over = number > 1 && plan.duration_s > burns.longest_s;
        let little = plan.loss_m_s() <= burns.accepted_loss * plan.impulse_m_s;
        if over && count.is_none() {
            if plans.is_empty() {
                return Err(Obstacle::Engine(lasting(&plan, burns.longest_s)));
            }
            break;
        }
        // Where the first burn has to capture, ever more burns after it save ever less.
        let saved = plans
            .last()
            .map(|before| before.speed_change_m_s - plan.speed_change_m_s);
        plans.push(plan);
        let worth = 0.2 * burns.accepted_loss * plans[0].impulse_m_s;
        if count.is_none() && saved.is_some_and(|saved| saved < worth) {
            not_worth = 1;
            break;
        }
        if little && count.is_none() {
            break;
        }
    }
    if let (true, Some(burn)) = (plans.is_empty(), too_long) {
        return Err(Obstacle::Engine(burn.told().to_string()));
    }
    let taken = plans.len().checked_sub(1 + not_worth);
    let tried = plans.iter().enumerate().map(|(index, plan)| {
        let (robbins_m_s, robbins_holds) = plan.robbins();
        SplitTried {
            burns: few(plan.burns.len()),
            speed_change_m_s: plan.speed_change_m_s,
            impulse_m_s: plan.impulse_m_s,
            robbins_m_s,
            robbins_holds,
            duration_s: plan.duration_s,
            taken: Some(index) == taken,
        }
    });
    let tried = tried.collect();
    let plan = taken.map(|index| plans.swap_remove(index));
    let plan = plan.ok_or_else(|| Obstacle::Engine("no burn was found".to_owned()))?;
    Ok(Chosen { plan, tried })
}

/// What is said of an engine whose first number of burns that does it takes too long.
fn lasting(plan: &BurnPlan, longest_s: f64) -> String {
    let days = |seconds: f64| seconds / 86_400.0;
    format!(
        "the engine is too weak: fewer burns than {} do not fit into one passage each, and so many take {:.1} days, \
         longer than `capture.burns.longest`, {:.1} days",
        plan.burns.len(),
        days(plan.duration_s),
        days(longest_s)
    )
}

/// One sample flown through the burns.
pub(super) struct Braked {
    pub(super) flown: FlownPlan,
    /// Mass before the first burn, kg.
    pub(super) mass_kg: f64,
}

/// Flies one sample through a plan.
///
/// # Errors
/// [`NoResult`] when it fits no approach or the integration fails.
pub(super) fn brake(
    setting: &Setting<'_>,
    (problem, aim_m): (&Problem, f64),
    (plan, first_burn): (&BurnPlan, u32),
    sample: u64,
) -> Result<Braked, NoResult> {
    let arrival = arrival_of(setting, (problem, aim_m), sample);
    let (arrival, mass_kg) = arrival.ok_or(NoResult::NoApproach)?;
    let error = |index: usize| {
        let burn = few(index);
        setting.draws.of(sample, first_burn.saturating_add(burn))
    };
    let flown = plan.fly(arrival, mass_kg, error);
    let flown = flown.map_err(|_| NoResult::Failed)?;
    Ok(Braked { flown, mass_kg })
}

/// The conic on which a sample arrives, and its mass, kg; `None` when no approach fits it.
pub(super) fn arrival_of(
    setting: &Setting<'_>,
    (problem, aim_m): (&Problem, f64),
    sample: u64,
) -> Option<(Conic, f64)> {
    let numbers = problem.numbers(sample);
    let (start, _) = problem.launch(aim_m, &numbers, SampleNumber::Of(sample))?;
    let gm = setting.gm();
    // Burns are flown about a point mass; the energy is the whole one, as that of the plan is.
    let (r, v) = (start.position, start.velocity);
    let arrival = Conic {
        gm_m3_s2: gm,
        periapsis_radius_m: Orbit::from_state(gm, r, v).periapsis_radius_m,
        twice_energy: problem.planet().twice_energy(r, v),
    };
    Some((arrival, numbers[Number::ShipMass as usize]))
}

/// What a capture by engine from a conic (twice its energy, m²/s²) costs, after a lead.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub(super) fn engine_costs(
    setting: &Setting<'_>,
    lead: &Lead,
    twice_energy: f64,
) -> Result<EngineWay, Halt> {
    let wanted = setting.wanted();
    let mass_kg = setting.mass_kg() - lead.spent_kg;
    let conic = setting.conic(twice_energy);
    let chosen = match choose(setting, (conic, mass_kg), wanted.apoapsis_m) {
        Ok(chosen) => chosen,
        Err(obstacle) => return Ok(EngineWay::closed(obstacle)),
    };
    let Some((problem, aim_m)) = setting.aimed_above(lead, wanted.periapsis_m) else {
        return Ok(EngineWay::closed(Obstacle::no_conic()));
    };
    let certain = problem.is_deterministic() && setting.draws.is_exact();
    let samples = if certain {
        1
    } else {
        setting.case.scenario.ask.samples
    };
    let mut flights: Vec<Flight> = Vec::new();
    let mut first = 0;
    while first < samples {
        if setting.progress.is_cancelled() {
            return Err(Stopped.into());
        }
        let last = samples.min(first + SAMPLES_TOGETHER);
        flights.par_extend((first..last).into_par_iter().map(|sample| {
            brake(
                setting,
                (&problem, aim_m),
                (&chosen.plan, lead.next_burn),
                sample,
            )
            .map_or_else(Flight::without, |braked| {
                flight(setting, (lead, &problem), (&chosen.plan, &braked), sample)
            })
        }));
        first = last;
    }
    let alike = Alike {
        certain,
        ..Alike::default()
    };
    let burns = few(chosen.plan.burns.len());
    Ok(EngineWay {
        costs: Ok(costs(setting, &flights, &alike)?),
        tried: chosen.tried,
        burns,
    })
}

/// What one braked sample cost in the end.
fn flight(
    setting: &Setting<'_>,
    (lead, problem): (&Lead, &Problem),
    (plan, braked): (&BurnPlan, &Braked),
    sample: u64,
) -> Flight {
    let flown = &braked.flown;
    let felt = if setting.thrust_is_known() {
        flown.acceleration_m_s2.max(lead.thrust_m_s2)
    } else {
        0.0
    };
    let burns = plan.burns.iter().map(|one| one.burned.duration_s);
    let burns: Vec<f64> = burns.collect();
    let result = felt_by_engine(setting, &flown.conic, (felt, &burns));
    let mut out = Flight {
        broken: problem
            .limits()
            .broken(&result, &problem.judging_numbers(sample)),
        not_captured: !flown.captured,
        engine_speed_m_s: lead.engine_speed_m_s + flown.speed_change_m_s,
        propellant_kg: lead.spent_kg + braked.mass_kg - flown.mass_kg,
        peak_m_s2: felt,
        durations_s: lead.durations_s,
        ..Flight::default()
    };
    add(&mut out.durations_s, StretchKind::Burns, plan.duration_s);
    let orbit = flown
        .conic
        .apoapsis_radius_m()
        .map(|far| Apsides::of(flown.conic.periapsis_radius_m, far));
    let Some(orbit) = orbit.filter(|_| flown.captured) else {
        return out;
    };
    let first = lead.next_burn + few(plan.burns.len());
    let mending = setting.wanted().mend(setting.gm(), orbit, |burn| {
        setting.draws.of(sample, first.saturating_add(burn))
    });
    out.engine_speed_m_s += mending.spent_m_s;
    out.propellant_kg += setting.propellant_kg(flown.mass_kg, mending.spent_m_s);
    out.missed_target = !mending.reached;
    add(&mut out.durations_s, StretchKind::Mending, mending.time_s);
    out
}

/// A flight without air as the limits see it: what is felt is the thrust, for as long as the longest burn; burns
/// that lie rounds apart do not count together.
fn felt_by_engine(
    setting: &Setting<'_>,
    conic: &Conic,
    (felt_m_s2, burns_s): (f64, &[f64]),
) -> PassResult {
    let radius = setting.case.problem.planet().equatorial_radius_m;
    let apoapsis = conic.apoapsis_radius_m();
    let mut result = PassResult {
        ending: if apoapsis.is_some() {
            Ending::Captured
        } else {
            Ending::Escaped
        },
        peak_deceleration_m_s2: felt_m_s2,
        lowest_altitude_m: conic.periapsis_radius_m - radius,
        apoapsis_altitude_m: apoapsis.map(|far| far - radius),
        periapsis_altitude_m: conic.periapsis_radius_m - radius,
        ..PassResult::default()
    };
    let settings = setting.case.problem.settings();
    result.times_above = TimesAbove::of_stretches(&settings.levels, felt_m_s2, burns_s);
    let curves = &settings.curves;
    let longest_s = burns_s.iter().copied().fold(0.0, f64::max);
    result.exposure = curves.exposure(&Trace::held(felt_m_s2, longest_s));
    result
}
