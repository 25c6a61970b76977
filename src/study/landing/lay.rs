//! Lays the approach over the ground: from the entry's problem and the place to where, when and with which
//! footprint the ship comes.

use super::approach::{EarlierPass, after_pass};
use super::arrivals::ahead_of_end;
use super::error::LandingError;
use super::footprint::{Fineness, Footprint, footprints};
use super::ground::{FromEntry, OnMap, Track};
use super::placing::{Given, Placing, place_approach};
use super::rounds::{Brought, bring_down};
use crate::ensemble::before::Before as Shift;
use crate::ensemble::legs::{TwoLegs, fly_legs};
use crate::ensemble::problem::SampleNumber;
use crate::ensemble::{Problem, Progress, Stopped};
use crate::numeric::angle::wrapped;
use crate::pass::{EntryState, PassResult};
use crate::scenario::arrival::AimRange;
use crate::scenario::landing::Landing;
use crate::scenario::uncertainty::Number;
use crate::study::Case;

/// What is known before an aim is chosen.
pub(super) struct Setting {
    /// The entry, followed down to the gate.
    pub problem: Problem,
    /// The pass before, if there is one.
    pub earlier: Option<EarlierPass>,
    /// What is given about the approach.
    pub given: Given,
    /// Whether the ship has lift.
    pub lifts: bool,
    /// Distance from the gate to the place, m.
    pub ahead_m: f64,
}

/// Reads what a scenario gives.
pub(super) fn setting(
    case: &Case,
    landing: &Landing,
    progress: &Progress,
) -> Result<Setting, LandingError> {
    let (mut problem, earlier) = match (landing.after_pass_m, landing.aim_m) {
        (Some(pass), Some(aim)) => {
            let own = (&case.scenario, &case.world, &case.problem);
            let (problem, earlier) = after_pass(own, (pass, aim), progress)?;
            (problem, Some(earlier))
        }
        _ => (case.problem.clone(), None),
    };
    if let Some(gate) = &landing.gate {
        problem.settings_mut().stop_speed_m_s = gate.speed_m_s;
    }
    let node_rad = match (&earlier, landing.node_longitude_rad) {
        (Some(earlier), Some(node)) => Some(node + earlier.node_shift_rad),
        (_, node) => node,
    };
    let argument = problem.nominal()[Number::ArgumentOfPeriapsis as usize];
    let given = Given {
        place: OnMap {
            latitude_rad: landing.place.latitude_rad,
            longitude_rad: landing.place.longitude_rad,
        },
        aim_m: 0.0,
        node_rad,
        argument_rad: (!landing.free_argument).then_some(argument),
        near_rad: None,
    };
    Ok(Setting {
        lifts: problem.lifting(problem.nominal()),
        ahead_m: landing.gate.map_or(0.0, |gate| gate.distance_to_go_m),
        problem,
        earlier,
        given,
    })
}

/// The approach as it lies over the ground.
pub(super) struct Laid {
    /// The entry with the approach as it was placed.
    pub problem: Problem,
    /// Where the nominal entry begins.
    pub start: EntryState,
    /// Its track.
    pub track: Track,
    /// How the approach lies.
    pub placing: Placing,
    /// The burn that brings the ship down, if it comes from an orbit.
    pub brought: Option<Brought>,
    /// What a lifting ship reaches.
    pub footprint: Option<Footprint>,
    /// The nominal flight with the bank held.
    pub nominal: PassResult,
}

fn no_approach(aim_m: f64) -> LandingError {
    LandingError::NoApproach {
        aim_km: aim_m / 1e3,
    }
}

/// The nominal flight with the bank held.
fn nominal_flight(
    problem: &Problem,
    aim_m: f64,
    progress: &Progress,
) -> Result<PassResult, LandingError> {
    let numbers = *problem.nominal();
    let bank = numbers[Number::BankAngle as usize];
    let flown = fly_legs(problem, &[TwoLegs::held(aim_m, numbers, bank)], progress)?
        .pop()
        .flatten()
        .ok_or_else(|| no_approach(aim_m))?;
    if flown.ending.is_flown() {
        Ok(flown)
    } else {
        Err(LandingError::Failed {
            aim_km: aim_m / 1e3,
        })
    }
}

fn start_of(problem: &Problem, aim_m: f64) -> Result<EntryState, LandingError> {
    let start = problem.launch(aim_m, problem.nominal(), SampleNumber::Nominal);
    start
        .map(|(start, _)| start)
        .ok_or_else(|| no_approach(aim_m))
}

fn fine_footprint(
    problem: &Problem,
    (aim_m, ahead_m): (f64, f64),
    progress: &Progress,
) -> Result<Option<Footprint>, Stopped> {
    let aim = (&[aim_m][..], problem.nominal());
    Ok(
        footprints(problem, aim, (Fineness::Fine, ahead_m), progress)?
            .pop()
            .flatten(),
    )
}

/// Times at most that the approach is placed anew for the footprint as it lies where it was placed.
const MOST_PLACINGS: u32 = 8;
/// Turn of the argument of periapsis that changes a footprint no longer, rad: some tens of metres.
const SETTLED_RAD: f64 = 3e-4;

/// Lays the approach from the aim of `setting.given` so that the place comes to lie deep in the footprint, or near
/// where a ship without lift comes down.
///
/// The ground turns under the flight by an amount that depends on latitude and heading, so a footprint along and
/// across its track has another form for another argument of periapsis: where that is free, placing goes on until
/// the footprint is that of the argument chosen.
pub(super) fn lay(
    case: &Case,
    (setting, landing): (&Setting, &Landing),
    progress: &Progress,
) -> Result<Laid, LandingError> {
    let (aim_m, ahead_m) = (setting.given.aim_m, setting.ahead_m);
    let own = setting.problem.nominal()[Number::ArgumentOfPeriapsis as usize];
    let (mut given, mut argument) = (setting.given, own);
    let mut placed = None;
    for _ in 0..MOST_PLACINGS {
        let problem = turned_by(&setting.problem, argument - own, aim_m)?;
        let footprint = if setting.lifts {
            fine_footprint(&problem, (aim_m, ahead_m), progress)?
        } else {
            None
        };
        // Without lift one place is reached: that of the nominal flight.
        let track = Track::of(problem.planet(), &start_of(&problem, aim_m)?);
        let nominal = nominal_flight(&problem, aim_m, progress)?;
        let point = track.place(ahead_of_end(problem.planet(), &nominal, ahead_m));
        let depth = |at: FromEntry| match &footprint {
            Some(footprint) => footprint.held.depth(at).map_or(f64::MIN, |depth| depth.0),
            None => {
                -(at.downrange_m - point.downrange_m).hypot(at.crossrange_m - point.crossrange_m)
            }
        };
        let (placing, brought) = match landing.parking {
            Some(parking) => {
                let how = (&case.scenario, &parking);
                let numbers = setting.problem.nominal();
                bring_down(&setting.problem, numbers, how, (&given, &depth))
                    .map(|(placing, brought)| (placing, Some(brought)))
            }
            None => place_approach(&setting.problem, setting.problem.nominal(), &given, &depth)
                .map(|placing| (placing, None)),
        }
        .ok_or_else(|| no_approach(aim_m))?;
        let turned = wrapped(placing.argument_rad - argument);
        (argument, given.near_rad) = (placing.argument_rad, Some(placing.argument_rad));
        placed = Some((placing, brought));
        if turned.abs() < SETTLED_RAD {
            break;
        }
    }
    let placed = placed.ok_or_else(|| no_approach(aim_m))?;
    as_placed(setting, placed, progress)
}

/// The approach as it was placed, with its own footprint.
fn as_placed(
    setting: &Setting,
    (placing, brought): (Placing, Option<Brought>),
    progress: &Progress,
) -> Result<Laid, LandingError> {
    let (aim_m, ahead_m) = (setting.given.aim_m, setting.ahead_m);
    let own = setting.problem.nominal()[Number::ArgumentOfPeriapsis as usize];
    let problem = turned_by(&setting.problem, placing.argument_rad - own, aim_m)?;
    let footprint = if setting.lifts {
        fine_footprint(&problem, (aim_m, ahead_m), progress)?
    } else {
        None
    };
    let start = start_of(&problem, aim_m)?;
    let track = Track::of(problem.planet(), &start);
    let direction = setting
        .given
        .place
        .direction(problem.planet(), placing.node_rad);
    let from_entry = track.place(direction);
    let depth_m = match &footprint {
        Some(footprint) => footprint.held.depth(from_entry).map_or(f64::MIN, |d| d.0),
        None => placing.depth_m,
    };
    Ok(Laid {
        nominal: nominal_flight(&problem, aim_m, progress)?,
        placing: Placing {
            from_entry,
            depth_m,
            ..placing
        },
        problem,
        start,
        track,
        brought,
        footprint,
    })
}

/// The entry with its argument of periapsis turned by `turned` rad.
fn turned_by(problem: &Problem, turned: f64, aim_m: f64) -> Result<Problem, LandingError> {
    if turned == 0.0 {
        return Ok(problem.clone());
    }
    let shift = Shift {
        plane_shift_rad: (0.0, turned),
        ..Shift::default()
    };
    let own = AimRange {
        from_m: aim_m,
        to_m: aim_m,
        step_m: 1.0,
    };
    Ok(problem.clone().with_before(shift, own)?)
}
