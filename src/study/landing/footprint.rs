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
const HELD: u32 = 24;
/// Banks of the curves with a change, from lift up to lift down: of the first bank, and along each curve of the second.
const CHANGED: u32 = 12;
/// Speeds of the change as shares of the circular speed at the surface.
const SPEEDS: [f64; 6] = [1.15, 0.95, 0.85, 0.7, 0.5, 0.35];

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
    Ok(aims_m
        .iter()
        .zip(families)
        .map(|(&aim_m, family)| {
            let start = problem.launch(aim_m, numbers, SampleNumber::Nominal);
            let track = start.as_ref().map(|(start, _)| Track::of(planet, start));
            let curves: Vec<Vec<Reach>> = family
                .into_iter()
                .map(|curve| {
                    let flights = curve.into_iter().zip(flown.by_ref());
                    flights
                        .filter_map(|(flight, result)| {
                            Some(reach((problem, track.as_ref()?), flight, &result?, ahead_m))
                        })
                        .collect()
                })
                .collect();
            let (start, _) = start?;
            let outline = |counts: &dyn Fn(&Reach) -> bool| {
                let places = curves.iter().map(|curve| {
                    let points = curve.iter().map(|reach| {
                        if counts(reach) {
                            reach.place
                        } else {
                            FromEntry {
                                downrange_m: f64::NAN,
                                crossrange_m: f64::NAN,
                            }
                        }
                    });
                    points.collect::<Vec<FromEntry>>()
                });
                Outline::around(&places.collect::<Vec<_>>())
            };
            let (held, free) = (
                outline(&|reach| reach.held),
                outline(&|reach| reach.result.ending == Ending::Landed),
            );
            Some(Footprint {
                aim_m,
                start,
                track: track?,
                held,
                free,
                curves,
            })
        })
        .collect())
}

fn reach(
    (problem, track): (&Problem, &Track),
    flight: TwoLegs,
    result: &PassResult,
    ahead_m: f64,
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
