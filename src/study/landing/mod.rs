//! Coming down at a place: what the ship can reach, how it has to approach, and how near it comes.
//!
//! First the aims are compared by what each reaches under the limits; then the approach is laid over the turning
//! ground, so that the place lies deep in the footprint; then dispersed flights are flown to it, steered where the
//! ship steers, and with the bank held.

pub mod aims;
pub mod approach;
pub mod arrivals;
mod choose;
pub mod deorbit;
pub mod ellipse;
mod error;
pub mod footprint;
pub mod ground;
mod lay;
mod left;
pub mod outline;
pub mod outside;
pub mod placing;
mod rounds;
mod tracks;
mod windows;

use crate::ensemble::{Problem, Progress};
use crate::pass::{EntryState, PassResult};
use crate::scenario::landing::{GateSpec, Landing};
use crate::steering::{Gate, Target};
use crate::study::Case;
use aims::{AimReach, aims_of, compare};
use approach::EarlierPass;
use arrivals::{Arrivals, Ground};
use choose::{choose_aim, no_aim};
pub use error::LandingError;
use footprint::Footprint;
use ground::{FromEntry, OnMap, Track};
use lay::{Laid, lay, setting};
pub use left::Left;
use left::what_is_left;
use outside::{Outside, look_outside};
use placing::{Given, Placing};
use rounds::Brought;
use tracks::tracks;
use windows::node_windows;

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
    /// Ground tracks of some flights on the map; where the bank is held, the nominal one first.
    pub tracks: Vec<Vec<OnMap>>,
    /// What a lifting ship that steers has left at the gate.
    pub left: Option<Left>,
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
    case.scenario.ask.can_be_kept()?;
    let gate = landing.gate.as_ref();
    let mut setting = setting(case, landing, progress)?;
    let numbers = *setting.problem.nominal();
    let aims = landing
        .aim_m
        .map_or_else(|| aims_of(setting.problem.aim()), |aim| vec![aim]);
    let how = (&aims[..], setting.lifts, setting.ahead_m);
    let reaches = compare(&setting.problem, &numbers, how, progress)?;
    let found = (&reaches[..], setting.lifts);
    let aim_m = choose_aim(&setting.problem, &numbers, found, &setting.given)
        .ok_or_else(|| no_aim(&aims, &reaches, gate))?;
    setting.given.aim_m = aim_m;
    let laid = lay(case, (&setting, landing), progress)?;
    // From here on the approach lies as it was placed.
    let numbers = *laid.problem.nominal();
    let ground = Ground {
        planet: laid.problem.planet(),
        node_rad: laid.placing.node_rad,
        place: setting.given.place,
        gate,
        track: &laid.track,
    };
    let nodes_rad = match &laid.footprint {
        Some(footprint) => {
            let inside = |at: FromEntry| footprint.held.depth(at).map_or(f64::MIN, |d| d.0);
            let entry = (&laid.problem, &numbers, progress);
            let argument_rad = setting.given.argument_rad;
            let placed = Given {
                argument_rad: argument_rad.map(|_| laid.placing.argument_rad),
                ..setting.given
            };
            node_windows(entry, &placed, setting.ahead_m, &inside)?
        }
        None => Vec::new(),
    };
    let outside = match &laid.footprint {
        Some(footprint) if laid.placing.depth_m < 0.0 => {
            // What other aims reach from where the approach was laid.
            let here = compare(&laid.problem, &numbers, how, progress)?;
            look_outside(
                (&laid.problem, &numbers, progress),
                (footprint, &here),
                (&ground, setting.given.argument_rad.is_none()),
                (&laid.placing, &nodes_rad),
            )?
        }
        _ => None,
    };
    let flown = fly_dispersed(case, (&laid, &ground), aim_m, progress)?;
    let left = what_is_left(&laid.problem, &numbers, (flown.steered.as_ref(), gate));
    Ok(LandingResult {
        place: setting.given.place,
        earlier: setting.earlier,
        brought: laid.brought,
        reaches,
        aim_m,
        start: laid.start,
        track: laid.track,
        placing: laid.placing,
        nodes_rad,
        footprint: laid.footprint,
        outside,
        held_nominal: flown.held_nominal,
        steered: flown.steered,
        held_at_own: flown.held_at_own,
        held: flown.held,
        tracks: flown.tracks,
        left,
    })
}

/// The dispersed flights.
struct Flown {
    held_nominal: (PassResult, OnMap),
    steered: Option<Arrivals>,
    held: Arrivals,
    held_at_own: u64,
    tracks: Vec<Vec<OnMap>>,
}

/// The entry steered to the gate before the place, where the ship steers.
fn to_the_gate(problem: &Problem, ground: &Ground<'_>, gate: &GateSpec) -> Option<Problem> {
    let place = ground.place.direction(ground.planet, ground.node_rad);
    let steered = problem.steered_to(Target::Gate(Gate {
        place,
        speed_m_s: gate.speed_m_s,
        range_to_go_m: gate.distance_to_go_m,
        aside_within_m: gate.aside_within_m(),
    }));
    steered.guide().is_some().then_some(steered)
}

/// Flies the dispersed flights: with the bank held, and steered where the ship steers.
fn fly_dispersed(
    case: &Case,
    (laid, ground): (&Laid, &Ground<'_>),
    aim_m: f64,
    progress: &Progress,
) -> Result<Flown, LandingError> {
    let place = ground.place;
    let (count, confidence) = (case.scenario.ask.samples, case.scenario.ask.confidence);
    let unsteered = laid.problem.unsteered();
    let held_nominal = (laid.nominal, ground.served(&laid.nominal));
    let fly = |problem: &Problem, place: OnMap| {
        Arrivals::fly(
            (problem, progress),
            ground,
            (aim_m, count),
            (place, confidence),
        )
    };
    let held = fly(&unsteered, place)?;
    let held_at_own = fly(&unsteered, held_nominal.1)?.reached();
    let steering = ground
        .gate
        .and_then(|gate| to_the_gate(&laid.problem, ground, gate));
    let steered = steering
        .as_ref()
        .map(|problem| fly(problem, place))
        .transpose()?;
    Ok(Flown {
        held_nominal,
        steered,
        held,
        held_at_own,
        tracks: tracks(steering.as_ref().unwrap_or(&unsteered), aim_m, ground),
    })
}

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
