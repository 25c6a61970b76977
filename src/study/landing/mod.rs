//! Coming down at a place: what the ship can reach, how it has to approach, and how near it comes.
//!
//! First the aims are compared by what each reaches under the limits; then the approach is laid over the turning
//! ground, so that the place lies deep in the footprint; then dispersed flights are flown to it, steered where the
//! ship steers, and with the bank held.

pub mod aims;
pub mod approach;
pub mod arrivals;
pub mod deorbit;
pub mod ellipse;
pub mod footprint;
pub mod ground;
pub mod outline;
pub mod outside;
pub mod placing;
mod rounds;

use crate::ensemble::before::Before as Shift;
use crate::ensemble::legs::{TwoLegs, fly_legs};
use crate::ensemble::problem::{Numbers, SampleNumber};
use crate::ensemble::steered::steered_logs;
use crate::ensemble::{Problem, ProblemError, Progress, Stopped};
use crate::pass::batch::Settings;
use crate::pass::reference::{FlyOptions, fly};
use crate::pass::{Ending, EntryState, PassResult};
use crate::scenario::arrival::AimRange;
use crate::scenario::landing::{GateSpec, Landing};
use crate::scenario::uncertainty::Number;
use crate::steering::{Gate, Target};
use crate::study::Case;
use aims::{AimReach, aims_of, best, compare};
use approach::{EarlierError, EarlierPass, after_pass};
use arrivals::{Arrivals, Ground, ahead_of_end};
use footprint::{Fineness, Footprint, footprints};
use ground::{FromEntry, OnMap, Track, below};
use outside::{Outside, look_outside};
use placing::{Given, Placing, node_windows, place_approach};
use rounds::{Brought, bring_down};

/// The answer.
#[derive(Debug, Clone)]
pub struct LandingResult {
    /// The place.
    pub place: OnMap,
    /// The pass before, if there is one.
    pub earlier: Option<EarlierPass>,
    /// The burn that brings the ship down, if it comes from an orbit.
    pub brought: Option<Brought>,
    /// What each aim reaches.
    pub reaches: Vec<AimReach>,
    /// The aim, m.
    pub aim_m: f64,
    /// Where the nominal entry begins.
    pub start: EntryState,
    /// The track of the nominal entry.
    pub track: Track,
    /// How the approach lies over the ground.
    pub placing: Placing,
    /// Longitudes of the node for which the place lies inside, rad; empty where the ship has no lift.
    pub nodes_rad: Vec<(f64, f64)>,
    /// What a lifting ship reaches.
    pub footprint: Option<Footprint>,
    /// What would be needed, where the place lies outside.
    pub outside: Option<Outside>,
    /// The nominal flight with the bank held, and the place that it serves.
    pub held_nominal: (PassResult, OnMap),
    /// Flights that steer to the place.
    pub steered: Option<Arrivals>,
    /// The same with the bank held.
    pub held: Arrivals,
    /// Of those, how many meet the gate to the place that the nominal flight of the held bank serves.
    pub held_at_own: u64,
    /// Ground tracks of some flights on the map, the nominal one first.
    pub tracks: Vec<Vec<OnMap>>,
    /// Lift-to-drag ratio at the gate, and lift over mass there, m/s².
    pub left: Option<Left>,
}

/// What a lifting ship has left at the gate of a nominal flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Left {
    /// Energy as a height, m.
    pub energy_height_m: f64,
    /// Lift over mass, m/s².
    pub lift_m_s2: f64,
    /// Radius of a turn with the lift to the side, m: v²/(L/m).
    pub turn_radius_m: f64,
    /// Heading turned with the lift to the side while drag halves the speed, rad: (L/D) ln 2.
    pub turn_rad: f64,
}

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub enum LandingError {
    /// The scenario has no landing.
    #[error(
        "the scenario has no `landing` section: add `landing: {{place: {{latitude: 18 deg, longitude: 77 deg}}}}`"
    )]
    NoSection,
    /// No aim comes down under the limits.
    #[error("no aim from {from_km:.2} to {to_km:.2} km comes down{} with every limit held{ruling}", gate_words(*.gate_m_s))]
    NoAim {
        /// Lowest aim, km.
        from_km: f64,
        /// Highest aim, km.
        to_km: f64,
        /// Speed of the gate, m/s.
        gate_m_s: Option<f64>,
        /// What rules most of them out.
        ruling: String,
    },
    /// No approach fits the place.
    #[error("no approach fits the aim {aim_km:.2} km")]
    NoApproach {
        /// The aim, km.
        aim_km: f64,
    },
    /// The pass before cannot be followed by a landing.
    #[error(transparent)]
    Earlier(#[from] EarlierError),
    /// The approach cannot be moved.
    #[error(transparent)]
    Problem(#[from] ProblemError),
    /// The run was cancelled.
    #[error(transparent)]
    Stopped(#[from] Stopped),
}

fn gate_words(speed_m_s: Option<f64>) -> String {
    speed_m_s.map_or_else(String::new, |speed| format!(" to a gate at {speed:.0} m/s"))
}

/// Finds how to land at the place of a scenario.
///
/// # Errors
/// [`LandingError`].
pub fn find_landing(case: &Case, progress: &Progress) -> Result<LandingResult, LandingError> {
    let landing = case
        .scenario
        .landing
        .as_ref()
        .ok_or(LandingError::NoSection)?;
    let place = OnMap {
        latitude_rad: landing.place.latitude_rad,
        longitude_rad: landing.place.longitude_rad,
    };
    let gate = landing.gate.as_ref();
    let (mut problem, earlier) = match (landing.after_pass_m, landing.aim_m) {
        (Some(pass), Some(aim)) => {
            let own = (&case.scenario, &case.world, &case.problem);
            let (problem, earlier) = after_pass(own, (pass, aim), progress)?;
            (problem, Some(earlier))
        }
        _ => (case.problem.clone(), None),
    };
    if let Some(gate) = gate {
        problem.settings_mut().stop_speed_m_s = gate.speed_m_s;
    }
    let ahead_m = gate.map_or(0.0, |gate| gate.distance_to_go_m);
    let lifts = problem.lifting(problem.nominal());
    let node_rad = match (&earlier, landing.node_longitude_rad) {
        (Some(earlier), Some(node)) => Some(node + earlier.node_shift_rad),
        (_, node) => node,
    };
    let argument = problem.nominal()[Number::ArgumentOfPeriapsis as usize];
    let mut given = Given {
        place,
        aim_m: 0.0,
        node_rad,
        argument_rad: (!landing.free_argument).then_some(argument),
    };
    let numbers = *problem.nominal();
    let aims = landing
        .aim_m
        .map_or_else(|| aims_of(problem.aim()), |aim| vec![aim]);
    let reaches = compare(&problem, &numbers, (&aims, lifts, ahead_m), progress)?;
    given.aim_m = choose_aim(&problem, &numbers, (&reaches, lifts), &given)
        .ok_or_else(|| no_aim(&aims, &reaches, gate))?;
    let aim_m = given.aim_m;
    let no_approach = || LandingError::NoApproach {
        aim_km: aim_m / 1e3,
    };
    let flown = if lifts {
        let how = (Fineness::Fine, ahead_m);
        footprints(&problem, (&[aim_m], &numbers), how, progress)?
            .pop()
            .flatten()
    } else {
        None
    };
    // Without lift one place is reached: that of the nominal flight.
    let bank = numbers[Number::BankAngle as usize];
    let nominal = fly_legs(&problem, &[TwoLegs::held(aim_m, numbers, bank)], progress)?
        .pop()
        .flatten()
        .ok_or_else(no_approach)?;
    let start = |problem: &Problem| {
        let start = problem.launch(aim_m, problem.nominal(), SampleNumber::Nominal);
        start.map(|(start, _)| start).ok_or_else(no_approach)
    };
    let track = Track::of(problem.planet(), &start(&problem)?);
    let point = track.place(ahead_of_end(problem.planet(), &nominal, ahead_m));
    let depth = |at: FromEntry| match &flown {
        Some(footprint) => footprint.held.depth(at).map_or(f64::MIN, |depth| depth.0),
        None => -(at.downrange_m - point.downrange_m).hypot(at.crossrange_m - point.crossrange_m),
    };
    let (placing, brought) = match landing.parking {
        Some(parking) => {
            let how = (&case.scenario, &parking);
            let (placing, brought) =
                bring_down(&problem, &numbers, how, (&given, &depth)).ok_or_else(no_approach)?;
            (placing, Some(brought))
        }
        None => {
            let placing =
                place_approach(&problem, &numbers, &given, &depth).ok_or_else(no_approach)?;
            (placing, None)
        }
    };
    // From here on the approach lies as it was placed; its footprint keeps its form.
    let turned = placing.argument_rad - argument;
    if turned != 0.0 {
        let shift = Shift {
            plane_shift_rad: (0.0, turned),
            ..Shift::default()
        };
        let own = AimRange {
            from_m: aim_m,
            to_m: aim_m,
            step_m: 1.0,
        };
        problem = problem.with_before(shift, own)?;
    }
    let numbers = *problem.nominal();
    let start = start(&problem)?;
    let track = Track::of(problem.planet(), &start);
    let footprint = match flown {
        Some(_) if turned != 0.0 => {
            let how = (Fineness::Fine, ahead_m);
            footprints(&problem, (&[aim_m], &numbers), how, progress)?
                .pop()
                .flatten()
        }
        other => other,
    };
    given.argument_rad = Some(placing.argument_rad);
    let ground = Ground {
        planet: problem.planet(),
        node_rad: placing.node_rad,
        place,
        gate,
        track: &track,
    };
    let outside = match &footprint {
        Some(footprint) if placing.depth_m < 0.0 => look_outside(
            (&problem, &numbers, progress),
            (footprint, &reaches),
            (&ground, &given),
            &placing,
        )?,
        _ => None,
    };
    let nodes_rad = footprint.as_ref().map_or_else(Vec::new, |footprint| {
        let inside = |at: FromEntry| footprint.held.depth(at).map_or(f64::MIN, |depth| depth.0);
        node_windows(&problem, &numbers, &given, &inside)
    });
    let nominal = fly_legs(&problem, &[TwoLegs::held(aim_m, numbers, bank)], progress)?
        .pop()
        .flatten()
        .ok_or_else(no_approach)?;
    let held_nominal = (nominal, ground.served(&nominal));
    let ask = &case.scenario.ask;
    let (count, confidence) = (ask.samples, ask.confidence);
    let unsteered = problem.unsteered();
    let held = Arrivals::fly(
        (&unsteered, progress),
        &ground,
        (aim_m, count),
        (place, confidence),
    )?;
    let own = Arrivals::fly(
        (&unsteered, progress),
        &ground,
        (aim_m, count),
        (held_nominal.1, confidence),
    )?;
    let to_gate = gate.map(|gate| {
        problem.steered_to(Target::Gate(Gate {
            place: place.direction(problem.planet(), placing.node_rad),
            speed_m_s: gate.speed_m_s,
            range_to_go_m: gate.distance_to_go_m,
            heading_within_rad: gate.reverse_at_rad,
        }))
    });
    let to_gate = to_gate.filter(|problem| problem.guide().is_some());
    let steered = match &to_gate {
        Some(steered) => Some(Arrivals::fly(
            (steered, progress),
            &ground,
            (aim_m, count),
            (place, confidence),
        )?),
        None => None,
    };
    let tracks = tracks(to_gate.as_ref().unwrap_or(&unsteered), aim_m, &ground);
    let left = what_is_left(&problem, &numbers, (steered.as_ref(), gate));
    Ok(LandingResult {
        place,
        earlier,
        brought,
        reaches,
        aim_m,
        start,
        track,
        placing,
        nodes_rad,
        footprint,
        outside,
        held_nominal,
        steered,
        held_at_own: own.reached(),
        held,
        tracks,
        left,
    })
}

/// The aim: that from which the place lies deepest where the approach is given, else the largest footprint.
fn choose_aim(
    problem: &Problem,
    numbers: &Numbers,
    (reaches, lifts): (&[AimReach], bool),
    given: &Given,
) -> Option<f64> {
    if !lifts || given.node_rad.is_none() || given.argument_rad.is_none() {
        return best(reaches, lifts);
    }
    let depth = |reach: &AimReach| {
        let inside = |at: FromEntry| reach.outline.depth(at).map_or(f64::MIN, |depth| depth.0);
        let own = Given {
            aim_m: reach.aim_m,
            ..*given
        };
        place_approach(problem, numbers, &own, &inside).map_or(f64::MIN, |placing| placing.depth_m)
    };
    let holding = reaches.iter().filter(|reach| reach.holds);
    let found = holding.map(|reach| (reach.aim_m, depth(reach)));
    found
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|found| found.0)
}

fn no_aim(aims: &[f64], reaches: &[AimReach], gate: Option<&GateSpec>) -> LandingError {
    let ruling = reaches.iter().find_map(|reach| reach.ruling);
    LandingError::NoAim {
        from_km: aims.first().copied().unwrap_or(f64::NAN) / 1e3,
        to_km: aims.last().copied().unwrap_or(f64::NAN) / 1e3,
        gate_m_s: gate.map(|gate| gate.speed_m_s),
        ruling: ruling.map_or_else(String::new, |kind| {
            format!("; most flights break `limits.{}`", kind.key())
        }),
    }
}

/// Ground tracks of the first flights.
fn tracks(problem: &Problem, aim_m: f64, ground: &Ground<'_>) -> Vec<Vec<OnMap>> {
    const FLIGHTS: u64 = 30;
    let planet = problem.planet();
    let at = |state: &crate::pass::dynamics::State<f64>, time_s: f64| {
        OnMap::of(planet, below(planet, state, time_s), ground.node_rad)
    };
    if problem.guide().is_some() {
        let logs = steered_logs(problem, aim_m, FLIGHTS);
        return logs
            .iter()
            .map(|(result, log)| {
                let mut track: Vec<OnMap> = log.moments().map(|m| at(&m.state, m.time_s)).collect();
                if result.ending == Ending::Landed {
                    track.push(at(&result.end_state, result.duration_s));
                }
                track
            })
            .collect();
    }
    let options = FlyOptions {
        tolerance: 1e-8,
        longest_step_s: 5.0,
    };
    let settings: &Settings = problem.settings();
    let track = |sample: SampleNumber| -> Option<Vec<OnMap>> {
        let (start, ready) = problem.launch(aim_m, &problem.numbers_of(sample), sample)?;
        let flown = fly(problem.models(), &ready, &start, (settings, options)).ok()?;
        Some(
            flown
                .history
                .iter()
                .map(|m| at(&m.state, m.time_s))
                .collect(),
        )
    };
    let samples = (0..FLIGHTS).map(SampleNumber::Of);
    std::iter::once(SampleNumber::Nominal)
        .chain(samples)
        .filter_map(track)
        .collect()
}

fn what_is_left(
    problem: &Problem,
    numbers: &Numbers,
    (steered, gate): (Option<&Arrivals>, Option<&GateSpec>),
) -> Option<Left> {
    let (steered, gate) = (steered?, gate?);
    let mut heights: Vec<f64> = steered
        .flights
        .iter()
        .filter(|flight| flight.reached)
        .map(|flight| flight.energy_height_m)
        .collect();
    heights.sort_by(f64::total_cmp);
    let energy_height_m = *heights.get(heights.len() / 2)?;
    let mut altitudes: Vec<f64> = steered
        .flights
        .iter()
        .filter(|flight| flight.reached)
        .map(|flight| flight.altitude_m)
        .collect();
    altitudes.sort_by(f64::total_cmp);
    let altitude = *altitudes.get(altitudes.len() / 2)?;
    let vehicle = problem.vehicle(numbers);
    let planet = problem.planet();
    let r = crate::numeric::Vec3::new(planet.equatorial_radius_m + altitude, 0.0, 0.0);
    let air = planet.air(altitude, r, &crate::world::planet::AirSample::EXACT);
    let pressure = 0.5 * libm::exp(air.ln_density) * gate.speed_m_s * gate.speed_m_s;
    let ratio = problem.reference_coefficients().1;
    let lift_m_s2 = pressure * vehicle.drag_area_per_mass * ratio.abs();
    Some(Left {
        energy_height_m,
        lift_m_s2,
        turn_radius_m: gate.speed_m_s * gate.speed_m_s / lift_m_s2,
        turn_rad: ratio.abs() * std::f64::consts::LN_2,
    })
}

/// Whether the place lies where the ship comes.
impl LandingResult {
    /// Whether the place lies inside the footprint; without lift, whether the nominal flight comes to it.
    #[must_use]
    pub fn inside(&self, landing: &Landing) -> bool {
        let within = landing.gate.map_or(1e3, |gate| gate.within_m);
        match self.footprint {
            Some(_) => self.placing.depth_m >= 0.0,
            None => self.placing.depth_m >= -within,
        }
    }
}
