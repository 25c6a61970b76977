//! The entry corridor of a ship with lift: which aims can be flown at all, between the shallowest at which
//! full lift down still holds it and the steepest at which full lift up still saves it.
//!
//! Every flight here is nominal and holds its bank. An aim lies in the corridor where each limit can be held
//! by full lift up or by full lift down. One flight need not hold them all: for a ship with lift it is an upper bound of
//! what steering can reach. Where one bank held throughout meets all limits together is found too, and what share of the
//! deliveries the best such bank holds: what needs no steering at all.

pub mod delivered;
pub mod demand;
pub mod exits;
mod map;
pub mod one_bank;
pub mod stretch;
pub mod trace;

use super::Case;
use crate::ensemble::problem::{Numbers, SampleNumber};
use crate::ensemble::{Problem, Progress, Stopped};
use crate::scenario::arrival::ArrivalEnergy;
use crate::scenario::uncertainty::Number;
use delivered::{Delivered, delivered};
use demand::{Bank, Demand, demands};
use exits::{Exits, exits};
pub use map::Cell;
use map::map;
use one_bank::{OneBank, one_bank_of_deliveries};
use std::f64::consts::PI;
use stretch::{Edge, Stretch, intersection, union, widest};
use trace::{Search, Traced, trace};

/// Banks held throughout that are tried, from lift up to lift down.
const BANKS: u32 = 12;
/// Values of the arrival's energy where the scenario does not say which, the nominal one in the middle.
const ARRIVALS: i32 = 9;

/// The corridor at one arrival, or why there is none.
#[derive(Debug, Clone, PartialEq)]
pub enum Corridor {
    /// From the steep to the shallow edge.
    Open(Stretch),
    /// Two demands leave nothing between them: the steep side ends above the shallow one.
    Closed {
        /// The lowest aim that the stricter demand of the steep side allows.
        low: Edge,
        /// The highest aim that the stricter demand of the shallow side allows.
        high: Edge,
    },
    /// One demand holds at no aim, whatever the bank.
    Never(usize),
}

impl Corridor {
    /// The corridor, where there is one.
    #[must_use]
    pub fn open(&self) -> Option<Stretch> {
        match self {
            Self::Open(stretch) => Some(*stretch),
            _ => None,
        }
    }

    /// Width in aim, m; negative where the edges have crossed, none where a demand never holds.
    #[must_use]
    pub fn width_m(&self) -> Option<f64> {
        match self {
            Self::Open(stretch) => Some(stretch.width_m()),
            Self::Closed { low, high } => Some(high.aim_m - low.aim_m),
            Self::Never(_) => None,
        }
    }

    /// Its edges, crossed or not.
    #[must_use]
    pub fn edges(&self) -> Option<(Edge, Edge)> {
        match self {
            Self::Open(stretch) => Some((stretch.low, stretch.high)),
            Self::Closed { low, high } => Some((*low, *high)),
            Self::Never(_) => None,
        }
    }
}

/// What was found at one arrival.
#[derive(Debug, Clone, PartialEq)]
pub struct AtArrival {
    /// What fixes the energy, in the unit of the scenario's arrival (m/s or m).
    pub energy: f64,
    /// Whether it is the scenario's own.
    pub nominal: bool,
    /// The numbers flown with.
    pub numbers: Numbers,
    /// Inertial speed at the entry interface, m/s.
    pub entry_speed_m_s: f64,
    /// Flown with full lift up.
    pub up: Traced,
    /// Flown with full lift down.
    pub down: Traced,
    /// The corridor.
    pub corridor: Corridor,
    /// The corridor of the same ship without its lift.
    pub without_lift: Corridor,
    /// Flights without a result among these.
    pub failed: usize,
}

/// The stretches of aims at which one bank meets all demands, for some banks.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldBank {
    /// The bank, rad.
    pub bank_rad: f64,
    /// What was found for each demand.
    pub traced: Traced,
    /// Where all demands hold together.
    pub all: Vec<Stretch>,
}

/// What the study found.
#[derive(Debug, Clone, PartialEq)]
pub struct CorridorResult {
    /// What every flight must do.
    pub demands: Vec<Demand>,
    /// By arrival, the energy rising.
    pub arrivals: Vec<AtArrival>,
    /// By bank, at the scenario's own arrival.
    pub banks: Vec<HeldBank>,
    /// Where some bank meets all demands throughout, at the scenario's own arrival.
    pub one_bank: Option<Stretch>,
    /// The map, row by row of equal lift; empty where the ship can have none.
    pub map: Vec<Cell>,
    /// What is left after the pass against the aim, at the scenario's own arrival.
    pub exits: Option<Exits>,
    /// What the delivery spreads over, about the middle of the corridor.
    pub delivered: Option<Delivered>,
    /// What the best bank held throughout holds of the deliveries; `None` without lift, or without such errors.
    pub held_by_one: Option<OneBank>,
    /// Flights without a result, at any arrival, bank or lift; where there are none [`Demand::Flown`] is not among the
    /// demands.
    pub failed: usize,
    /// Passes flown in all.
    pub passes_flown: u64,
}

impl CorridorResult {
    /// What was found at the scenario's own arrival.
    #[must_use]
    pub fn own(&self) -> Option<&AtArrival> {
        self.arrivals.iter().find(|at| at.nominal)
    }

    /// Whether flights without a result alone set an edge of the corridor of the scenario's own arrival, or close it.
    #[must_use]
    pub fn undecided(&self) -> bool {
        let flown = |place: usize| self.demands.get(place) == Some(&Demand::Flown);
        let of = |edge: Edge| edge.owner.is_some_and(|(place, _)| flown(place));
        self.own().is_some_and(|own| match own.corridor {
            Corridor::Open(Stretch { low, high }) | Corridor::Closed { low, high } => {
                of(low) || of(high)
            }
            Corridor::Never(place) => flown(place),
        })
    }
}

/// Why no corridor could be looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum CorridorError {
    /// The scenario has no limits.
    #[error(
        "the scenario has no limits, so nothing bounds the corridor: write at least one under `limits`"
    )]
    NoLimits,
    /// The run was cancelled.
    #[error("stopped before the corridor was found; nothing is kept")]
    Stopped,
}

impl From<Stopped> for CorridorError {
    fn from(_: Stopped) -> Self {
        Self::Stopped
    }
}

/// Looks for the corridor of a scenario.
///
/// # Errors
/// [`CorridorError`]: no limits, or a cancelled run.
pub fn find_corridor(case: &Case, progress: &Progress) -> Result<CorridorResult, CorridorError> {
    let problem = &case.problem;
    if problem.limits().is_empty() {
        return Err(CorridorError::NoLimits);
    }
    let mut demands = demands(problem);
    let energies = energies(case);
    let flown: Vec<Numbers> = energies.iter().map(|&e| arriving(problem, e)).collect();
    // The fastest arrival says whether the gas radiates, not the scenario's own.
    let problem = &problem.ready_for(&flown);
    let mut arrivals = by_arrival((problem, &demands), (&energies, &flown), progress)?;
    let own = arrivals.iter().find(|at| at.nominal);
    let (mut banks, one_bank) = by_bank(problem, &demands, progress)?;
    let (map, failed_of_map) = map((case, problem), (&demands, &arrivals), progress)?;
    let exits = match own.and_then(|own| own.corridor.edges()) {
        Some((low, high)) => Some(exits(problem, (low.aim_m, high.aim_m), progress)?),
        None => None,
    };
    let middle = own
        .and_then(|own| own.corridor.edges())
        .map(|(low, high)| f64::midpoint(low.aim_m, high.aim_m));
    let delivered = middle
        .and_then(|middle_m| delivered(problem, (middle_m, case.scenario.ask.samples), &arrivals));
    let held_by_one = match middle.filter(|_| lift_to_drag(problem) > 0.0) {
        Some(middle_m) => {
            let samples = case.scenario.ask.samples;
            one_bank_of_deliveries((problem, &demands), (&banks, middle_m), samples, progress)?
        }
        None => None,
    };
    let of_arrivals = arrivals.iter().map(|at| at.failed);
    let of_banks = banks.iter().map(|held| held.traced.failed);
    let failed = of_arrivals.chain(of_banks).sum::<usize>() + failed_of_map;
    if failed == 0 {
        // That every flight has a result is a matter of course: it is not told of.
        demands.pop();
        let of_arrivals = arrivals
            .iter_mut()
            .flat_map(|at| [&mut at.up, &mut at.down]);
        for traced in of_arrivals.chain(banks.iter_mut().map(|held| &mut held.traced)) {
            traced.held.pop();
        }
    }
    Ok(CorridorResult {
        demands,
        arrivals,
        banks,
        one_bank,
        map,
        exits,
        delivered,
        held_by_one,
        failed,
        passes_flown: progress.flown(),
    })
}

/// Inertial flight-path angle at the interface of an aim, rad.
#[must_use]
pub fn angle_at(problem: &Problem, aim_m: f64, numbers: &Numbers) -> Option<f64> {
    let (start, _) = problem.launch(aim_m, numbers, SampleNumber::Nominal)?;
    Some(start.inertial_flight_path_angle_rad())
}

/// Size of the lift-to-drag ratio of the ship in a fast continuum, without error.
#[must_use]
pub fn lift_to_drag(problem: &Problem) -> f64 {
    let (_, lift) = problem.reference_coefficients();
    if lift.abs() < 1e-6 { 0.0 } else { lift.abs() }
}

/// The values of the arrival's energy, with the scenario's own among them.
fn energies(case: &Case) -> Vec<f64> {
    let own = case.problem.nominal()[Number::ArrivalEnergy as usize];
    let about = (-(ARRIVALS / 2)..=ARRIVALS / 2).map(f64::from);
    let mut values: Vec<f64> = match (
        case.scenario.corridor.arrivals,
        case.scenario.arrival.energy,
    ) {
        (Some(sweep), _) => sweep.values(),
        (None, ArrivalEnergy::ExcessSpeed(v)) if v > 0.0 => {
            about.map(|i| v * (1.0 + 0.125 * i)).collect()
        }
        (None, ArrivalEnergy::ExcessSpeed(_)) => {
            let scale = case.problem.planet().circular_speed_m_s();
            about.map(|i| scale * 0.05 * (i + 4.0)).collect()
        }
        (None, ArrivalEnergy::InertialEntrySpeed(v)) => {
            about.map(|i| v * (1.0 + 0.02 * i)).collect()
        }
        (None, ArrivalEnergy::ApoapsisAltitude(altitude)) => about
            .map(|i| altitude * 1.5_f64.powf(i))
            .filter(|&altitude| altitude > 1.02 * case.problem.planet().interface_m)
            .collect(),
    };
    if !values
        .iter()
        .any(|value| (value - own).abs() <= 1e-9 * own.abs())
    {
        values.push(own);
        values.sort_by(f64::total_cmp);
    }
    values
}

/// The numbers of the arrival with this energy, in the unit of the scenario's arrival (m/s or m).
fn arriving(problem: &Problem, energy: f64) -> Numbers {
    let mut numbers = *problem.nominal();
    numbers[Number::ArrivalEnergy as usize] = energy;
    numbers
}

fn by_arrival(
    (problem, demands): (&Problem, &[Demand]),
    (energies, numbers): (&[f64], &[Numbers]),
    progress: &Progress,
) -> Result<Vec<AtArrival>, Stopped> {
    let own = problem.nominal()[Number::ArrivalEnergy as usize];
    let searches: Vec<Search> = numbers
        .iter()
        .flat_map(|&numbers| {
            [Bank::Up, Bank::Down, Bank::Without].map(|bank| Search { numbers, bank })
        })
        .collect();
    let traced = trace(problem, demands, &searches, progress)?;
    let found = energies.iter().zip(numbers).zip(traced.chunks_exact(3));
    Ok(found
        .map(|((&energy, numbers), traced)| {
            let corridor = corridor(&[&traced[0], &traced[1]]);
            let low = corridor.edges().map(|(low, _)| low.aim_m);
            let aim = low.or(traced[0].within.map(|within| within.low.aim_m));
            let start = aim.and_then(|aim| problem.launch(aim, numbers, SampleNumber::Nominal));
            AtArrival {
                energy,
                nominal: (energy - own).abs() <= 1e-9 * own.abs(),
                numbers: *numbers,
                entry_speed_m_s: start.map_or(f64::NAN, |(start, _)| start.inertial_speed_m_s()),
                up: traced[0].clone(),
                down: traced[1].clone(),
                corridor,
                without_lift: self::corridor(&[&traced[2]]),
                failed: traced.iter().map(|traced| traced.failed).sum(),
            }
        })
        .collect())
}

/// The aims at which each demand holds in at least one of the flights.
fn corridor(flights: &[&Traced]) -> Corridor {
    let Some(first) = flights.first() else {
        return Corridor::Never(0);
    };
    let lists: Vec<Vec<Stretch>> = (0..first.held.len())
        .map(|demand| {
            let each: Vec<&[Stretch]> = flights
                .iter()
                .map(|traced| traced.held[demand].as_slice())
                .collect();
            union(&each)
        })
        .collect();
    if let Some(never) = lists.iter().position(Vec::is_empty) {
        return Corridor::Never(never);
    }
    if let Some(stretch) = widest(&intersection(first.within, &lists)) {
        return Corridor::Open(stretch);
    }
    // The steep side's strictest edge and the shallow side's: of each demand the outermost ones.
    let low = lists.iter().filter_map(|list| list.first()).map(|s| s.low);
    let high = lists.iter().filter_map(|list| list.last()).map(|s| s.high);
    let strictest_low = low.max_by(|a, b| a.aim_m.total_cmp(&b.aim_m));
    let strictest_high = high.min_by(|a, b| a.aim_m.total_cmp(&b.aim_m));
    match (strictest_low, strictest_high) {
        (Some(low), Some(high)) => Corridor::Closed { low, high },
        _ => Corridor::Never(0),
    }
}

/// The banks held throughout, and the widest stretch of aims at which some bank meets all demands.
fn by_bank(
    problem: &Problem,
    demands: &[Demand],
    progress: &Progress,
) -> Result<(Vec<HeldBank>, Option<Stretch>), Stopped> {
    let banks: Vec<f64> = (0..=BANKS)
        .map(|i| PI * f64::from(i) / f64::from(BANKS))
        .collect();
    let searches: Vec<Search> = banks
        .iter()
        .map(|&bank| Search {
            numbers: *problem.nominal(),
            bank: Bank::Held(bank),
        })
        .collect();
    let traced = trace(problem, demands, &searches, progress)?;
    let held: Vec<HeldBank> = banks
        .into_iter()
        .zip(traced)
        .map(|(bank_rad, traced)| HeldBank {
            bank_rad,
            all: intersection(traced.within, &traced.held),
            traced,
        })
        .collect();
    let lists: Vec<&[Stretch]> = held.iter().map(|held| held.all.as_slice()).collect();
    let one = widest(&union(&lists));
    Ok((held, one))
}
