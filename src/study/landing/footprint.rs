//! The footprint: which places a lifting ship can reach under its limits.
//!
//! Flown are banks held throughout, from lift up (glides farthest) to lift down (slows soonest) to either
//! side, and all pairs of banks to one side with a change on the way.

use super::arrivals::ahead_of_end;
use super::ground::{FromEntry, Track};
use super::outline::Outline;
use crate::ensemble::legs::{TwoLegs, fly_legs};
use crate::ensemble::problem::{Numbers, SampleNumber};
use crate::ensemble::{Problem, Progress, Stopped};
use crate::pass::{Ending, EntryState, PassResult};
use std::f64::consts::PI;

/// Banks of the curves held throughout, from lift up to lift down.
const HELD: u32 = 120;
/// Banks of the curves with a change, from lift up to lift down: of the first bank, and along each curve of the second.
const CHANGED: u32 = 18;
/// Halvings of the step of the bank in which the last flight that holds the limits is closed in on.
const HALVINGS: u32 = 5;
/// Speeds of the change as shares of the circular speed at the surface.
const SPEEDS: [f64; 8] = [1.15, 0.95, 0.85, 0.75, 0.65, 0.55, 0.45, 0.35];

/// One flight of the family and where it leads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// How it was flown.
    pub flight: TwoLegs,
    /// What it gave.
    pub result: PassResult,
    /// Where its end lies from the entry.
    pub place: FromEntry,
    /// Whether it came to the gate without breaking a limit.
    pub held: bool,
    /// The limits it broke, one bit each.
    pub broken: u32,
}

/// What a family of flights reaches.
#[derive(Debug, Clone, PartialEq)]
pub struct Footprint {
    /// The aim, m.
    pub aim_m: f64,
    /// Where the entry begins.
    pub start: EntryState,
    /// The track of the entry over the ground.
    pub track: Track,
    /// Curves of flights along which the bank grows, the first two held throughout, to the right and left.
    pub curves: Vec<Vec<Reach>>,
    /// What is reached without breaking a limit.
    pub held: Outline,
    /// What would be reached without the limits.
    pub free: Outline,
}

impl Footprint {
    /// Of the flights that a limit keeps out, how many break each; in the order of the limit set.
    #[must_use]
    pub fn broken(&self, limits: usize) -> Vec<usize> {
        let mut counts = vec![0; limits];
        for reach in self.curves.iter().flatten() {
            for (bit, count) in counts.iter_mut().enumerate() {
                *count += usize::from(reach.broken >> bit & 1 == 1);
            }
        }
        counts
    }

    /// Flights that come to the gate, limits or not.
    #[must_use]
    pub fn arrive(&self) -> usize {
        let all = self.curves.iter().flatten();
        all.filter(|reach| reach.result.ending == Ending::Landed)
            .count()
    }
}

/// How fine a family is flown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fineness {
    /// Some banks held throughout, to one side: for comparing aims.
    Coarse,
    /// The whole family.
    Fine,
}

/// The flights of a family, curve by curve.
fn family(
    aim_m: f64,
    numbers: Numbers,
    circular_m_s: f64,
    fineness: Fineness,
) -> Vec<Vec<TwoLegs>> {
    let curve = |count: u32, side: f64, of: &dyn Fn(f64) -> TwoLegs| -> Vec<TwoLegs> {
        (0..=count)
            .map(|i| of(side * PI * f64::from(i) / f64::from(count)))
            .collect()
    };
    let held = |bank| TwoLegs::held(aim_m, numbers, bank);
    if fineness == Fineness::Coarse {
        return [1.0, -1.0].map(|side| curve(CHANGED, side, &held)).to_vec();
    }
    let mut curves = [1.0, -1.0].map(|side| curve(HELD, side, &held)).to_vec();
    for first in 0..=CHANGED {
        let first = PI * f64::from(first) / f64::from(CHANGED);
        for speed in SPEEDS {
            for side in [1.0, -1.0] {
                curves.push(curve(CHANGED, side, &|second| TwoLegs {
                    aim_m,
                    numbers,
                    banks_rad: [side * first, second],
                    change_at_m_s: speed * circular_m_s,
                }));
            }
        }
    }
    curves
}

/// Flies the family from some aims and looks at the places `ahead_m` (m) ahead of where the flights end; `None` for an aim that fits no approach.
///
/// # Errors
/// [`Stopped`] when the run was cancelled.
pub fn footprints(
    problem: &Problem,
    (aims_m, numbers): (&[f64], &Numbers),
    (fineness, ahead_m): (Fineness, f64),
    progress: &Progress,
) -> Result<Vec<Option<Footprint>>, Stopped> {
    let planet = problem.planet();
    let circular = planet.circular_speed_m_s();
    let families: Vec<Vec<Vec<TwoLegs>>> = aims_m
        .iter()
        .map(|&aim| family(aim, *numbers, circular, fineness))
        .collect();
    let all: Vec<TwoLegs> = families.iter().flatten().flatten().copied().collect();
    let mut flown = fly_legs(problem, &all, progress)?.into_iter();
    let mut found = Vec::with_capacity(aims_m.len());
    for (&aim_m, family) in aims_m.iter().zip(families) {
        let flights: Vec<Vec<(TwoLegs, Option<PassResult>)>> = family
            .into_iter()
            .map(|curve| curve.into_iter().zip(flown.by_ref()).collect())
            .collect();
        let Some((start, _)) = problem.launch(aim_m, numbers, SampleNumber::Nominal) else {
            found.push(None);
            continue;
        };
        let track = Track::of(planet, &start);
        let from = (problem, &track, ahead_m);
        let mut curves: Vec<Vec<Reach>> = flights
            .into_iter()
            .map(|curve| {
                let flown = curve.into_iter();
                flown
                    .filter_map(|(flight, result)| Some(reach(from, flight, &result?)))
                    .collect()
            })
            .collect();
        if fineness == Fineness::Fine {
            close_in(from, &mut curves, progress)?;
        }
        found.push(Some(Footprint {
            aim_m,
            start,
            track,
            held: outline(&curves, |reach| reach.held),
            free: outline(&curves, |reach| reach.result.ending == Ending::Landed),
            curves,
        }));
    }
    Ok(found)
}

/// The region of the flights that count.
fn outline(curves: &[Vec<Reach>], counts: impl Fn(&Reach) -> bool) -> Outline {
    let nowhere = FromEntry {
        downrange_m: f64::NAN,
        crossrange_m: f64::NAN,
    };
    let place = |reach: &Reach| if counts(reach) { reach.place } else { nowhere };
    let places: Vec<Vec<FromEntry>> = curves
        .iter()
        .map(|curve| curve.iter().map(place).collect())
        .collect();
    Outline::around(&places)
}

/// Between flights of a curve of which one holds the limits and its neighbour does not, puts the last bank that
/// holds them, found by halving the step.
fn close_in(
    from: (&Problem, &Track, f64),
    curves: &mut [Vec<Reach>],
    progress: &Progress,
) -> Result<(), Stopped> {
    /// Where the limits begin: behind which flight of which curve, and the flights about it.
    struct Edge {
        at: (usize, usize),
        holds: Reach,
        breaks: TwoLegs,
    }
    let mut edges = Vec::new();
    for (number, curve) in curves.iter().enumerate() {
        for (place, pair) in curve.windows(2).enumerate() {
            let (holds, breaks) = match (pair[0].held, pair[1].held) {
                (true, false) => (pair[0], pair[1].flight),
                (false, true) => (pair[1], pair[0].flight),
                _ => continue,
            };
            edges.push(Edge {
                at: (number, place),
                holds,
                breaks,
            });
        }
    }
    for _ in 0..HALVINGS {
        let middles: Vec<TwoLegs> = edges
            .iter()
            .map(|edge| {
                let (a, b) = (edge.holds.flight.banks_rad, edge.breaks.banks_rad);
                TwoLegs {
                    banks_rad: [0, 1].map(|leg| f64::midpoint(a[leg], b[leg])),
                    ..edge.breaks
                }
            })
            .collect();
        let flown = fly_legs(from.0, &middles, progress)?;
        for ((edge, flight), result) in edges.iter_mut().zip(middles).zip(flown) {
            let middle = result.map(|result| reach(from, flight, &result));
            match middle.filter(|middle| middle.held) {
                Some(middle) => edge.holds = middle,
                None => edge.breaks = flight,
            }
        }
    }
    // From the last on, so that the places before stay where they are.
    for edge in edges.iter().rev() {
        curves[edge.at.0].insert(edge.at.1 + 1, edge.holds);
    }
    Ok(())
}

fn reach(
    (problem, track, ahead_m): (&Problem, &Track, f64),
    flight: TwoLegs,
    result: &PassResult,
) -> Reach {
    let broken = problem.limits().broken(result, problem.nominal());
    let direction = ahead_of_end(problem.planet(), result, ahead_m);
    Reach {
        flight,
        result: *result,
        place: track.place(direction),
        held: broken == 0 && result.ending == Ending::Landed,
        broken,
    }
}
