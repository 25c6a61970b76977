//! Finds, for many ships and arrivals at once, the stretches of aims on which each demand holds.
//!
//! A grid of aims, even in the flight-path angle, brackets every change from held to broken; all brackets
//! of all cases are then halved in step until each is closed to a metre.

use super::demand::{Bank, Demand, broken};
use super::stretch::{Edge, Stretch};
use crate::ensemble::problem::{Numbers, SampleNumber};
use crate::ensemble::sorties::{Sortie, fly_sorties};
use crate::ensemble::{Problem, Progress, Stopped};
use crate::pass::PassResult;
use crate::pass::orbit::Orbit;

/// Width to which a bracket is closed, m.
const CLOSED_M: f64 = 1.0;
/// Steepest angle at the entry interface that is searched, deg.
const STEEPEST_DEG: f64 = 45.0;
/// Steps in which an aim that fits the arrival is looked for, each larger than the one before.
const STEPS_DOWN: u32 = 80;
/// Most by which the radius of the ground below the periapsis may differ from that of the equator, as a share.
const FLATTEST: f64 = 0.12;
/// Aims of the first grid.
const GRID: u32 = 180;

/// A ship and an arrival whose aims are searched.
#[derive(Debug, Clone, Copy)]
pub struct Search {
    /// The numbers, before the bank is set.
    pub numbers: Numbers,
    /// How the ship flies.
    pub bank: Bank,
}

/// What was found for a search.
#[derive(Debug, Clone, PartialEq)]
pub struct Traced {
    /// The range of aims that was searched; `None` where none could be flown.
    pub within: Option<Stretch>,
    /// For each demand the stretches of aims on which it holds, in order.
    pub held: Vec<Vec<Stretch>>,
    /// How many flights between the first and the last aim that fit the arrival have no result.
    pub failed: usize,
}

/// A change between two aims of one search.
struct Bracket {
    search: usize,
    demand: usize,
    held_m: f64,
    broken_m: f64,
}

/// Flies the searches.
///
/// # Errors
/// [`Stopped`] when the run was cancelled.
pub fn trace(
    problem: &Problem,
    demands: &[Demand],
    searches: &[Search],
    progress: &Progress,
) -> Result<Vec<Traced>, Stopped> {
    let numbers: Vec<Numbers> = searches
        .iter()
        .map(|search| search.bank.numbers(problem, &search.numbers))
        .collect();
    let grids: Vec<Vec<f64>> = numbers.iter().map(|n| grid(problem, n)).collect();
    let sorties: Vec<Sortie> = grids
        .iter()
        .zip(&numbers)
        .flat_map(|(aims, &numbers)| aims.iter().map(move |&aim_m| Sortie { aim_m, numbers }))
        .collect();
    let flown = fly_sorties(problem, &sorties, progress)?;
    let mut flown = flown.into_iter();
    // For each search the aims from the first to the last that fit an approach, with the demands broken there.
    let mut failed = vec![0; searches.len()];
    let points: Vec<Vec<(f64, u64)>> = grids
        .iter()
        .enumerate()
        .map(|(search, aims)| {
            let flown: Vec<(&f64, Option<PassResult>)> = aims.iter().zip(flown.by_ref()).collect();
            let fits = |(_, result): &(&f64, Option<PassResult>)| result.is_some();
            let first = flown.iter().position(fits).unwrap_or(flown.len());
            let last = flown.iter().rposition(fits).map_or(first, |last| last + 1);
            let inside = flown[first..last].iter();
            inside
                .map(|(aim, result)| {
                    failed[search] += usize::from(!has_result(result.as_ref()));
                    (**aim, broken(problem, demands, result.as_ref()))
                })
                .collect()
        })
        .collect();
    let mut brackets = brackets(&points, demands.len());
    let closing = (&mut brackets[..], &mut failed[..]);
    close((problem, demands), &numbers, closing, progress)?;
    Ok(points
        .iter()
        .enumerate()
        .map(|(search, points)| {
            let bank = searches[search].bank;
            let ends = points.first().zip(points.last());
            let within = ends.map(|(low, high)| Stretch {
                low: end(low),
                high: end(high),
            });
            let held = (0..demands.len()).map(|demand| {
                let own = |b: &&Bracket| b.search == search && b.demand == demand;
                let edges = brackets.iter().filter(own);
                stretches(points, (demand, bank), edges)
            });
            Traced {
                within,
                held: held.collect(),
                failed: failed[search],
            }
        })
        .collect())
}

fn has_result(flown: Option<&PassResult>) -> bool {
    flown.is_some_and(|pass| pass.ending.is_flown())
}

/// Aims from the steepest to the interface, even in the angle at the interface.
fn grid(problem: &Problem, numbers: &Numbers) -> Vec<f64> {
    let planet = problem.planet();
    let gm = planet.gm_m3_s2;
    // An arrival slower than a circle fits no periapsis above its apoapsis: the highest that fits tells the energy.
    let near = (0..STEPS_DOWN).find_map(|step| {
        let aim = planet.interface_m - 1e3 * f64::from(step * step);
        let (start, _) = problem.launch(aim, numbers, SampleNumber::Nominal)?;
        let orbit = Orbit::from_state(gm, start.position, start.velocity);
        // Above the highest that fits, the aim is taken for the apoapsis, where the path is level too.
        let level = start.inertial_flight_path_angle_rad().abs() < 1e-6;
        let surface = orbit.periapsis_radius_m - aim;
        let fits = !level || start.position.norm() - orbit.periapsis_radius_m < 1.0;
        let near = (surface / planet.equatorial_radius_m - 1.0).abs() < FLATTEST;
        (fits && near).then_some((start, orbit, surface))
    });
    let Some((start, orbit, surface)) = near else {
        return Vec::new();
    };
    let radius = start.position.norm();
    let twice_energy = orbit.twice_energy;
    let speed = (twice_energy + 2.0 * gm / radius).max(0.0).sqrt();
    (0..=GRID)
        .map(|i| {
            let angle = STEEPEST_DEG.to_radians() * (1.0 - f64::from(i) / f64::from(GRID));
            let momentum = radius * speed * angle.cos();
            let semi_latus = momentum * momentum / gm;
            let e = (1.0 + twice_energy * semi_latus / gm).max(0.0).sqrt();
            semi_latus / (1.0 + e) - surface
        })
        .filter(|&aim| problem.meets_air(aim, numbers))
        .collect()
}

/// Every change of every demand between neighbouring aims.
fn brackets(points: &[Vec<(f64, u64)>], demands: usize) -> Vec<Bracket> {
    let mut brackets = Vec::new();
    for (search, points) in points.iter().enumerate() {
        for pair in points.windows(2) {
            let [(low, below), (high, above)] = [pair[0], pair[1]];
            for demand in 0..demands {
                let (before, after) = (below >> demand & 1, above >> demand & 1);
                if before != after {
                    let (held_m, broken_m) = if before == 0 {
                        (low, high)
                    } else {
                        (high, low)
                    };
                    brackets.push(Bracket {
                        search,
                        demand,
                        held_m,
                        broken_m,
                    });
                }
            }
        }
    }
    brackets
}

/// Halves all brackets in step until each is closed.
fn close(
    (problem, demands): (&Problem, &[Demand]),
    numbers: &[Numbers],
    (brackets, failed): (&mut [Bracket], &mut [usize]),
    progress: &Progress,
) -> Result<(), Stopped> {
    loop {
        let open: Vec<usize> = (0..brackets.len())
            .filter(|&i| (brackets[i].held_m - brackets[i].broken_m).abs() > CLOSED_M)
            .collect();
        if open.is_empty() {
            return Ok(());
        }
        let middle = |b: &Bracket| f64::midpoint(b.held_m, b.broken_m);
        let sorties: Vec<Sortie> = open
            .iter()
            .map(|&i| Sortie {
                aim_m: middle(&brackets[i]),
                numbers: numbers[brackets[i].search],
            })
            .collect();
        let flown = fly_sorties(problem, &sorties, progress)?;
        for (i, result) in open.into_iter().zip(flown) {
            let at = middle(&brackets[i]);
            failed[brackets[i].search] += usize::from(!has_result(result.as_ref()));
            let broken = broken(problem, demands, result.as_ref());
            if broken >> brackets[i].demand & 1 == 1 {
                brackets[i].broken_m = at;
            } else {
                brackets[i].held_m = at;
            }
        }
    }
}

/// The stretches of aims on which a demand holds, from its closed brackets in order of the aim.
fn stretches<'b>(
    points: &[(f64, u64)],
    owner: (usize, Bank),
    brackets: impl Iterator<Item = &'b Bracket>,
) -> Vec<Stretch> {
    let holds = |point: &&(f64, u64)| point.1 >> owner.0 & 1 == 0;
    let mut low = points.first().filter(holds).map(end);
    let mut found = Vec::new();
    for bracket in brackets {
        let edge = Edge {
            aim_m: bracket.held_m,
            owner: Some(owner),
        };
        if bracket.broken_m < bracket.held_m {
            low = Some(edge);
        } else if let Some(low) = low.take() {
            found.push(Stretch { low, high: edge });
        }
    }
    if let Some((low, high)) = low.zip(points.last().map(end)) {
        found.push(Stretch { low, high });
    }
    found
}

/// The end of a range of aims, which nobody sets.
fn end(point: &(f64, u64)) -> Edge {
    Edge {
        aim_m: point.0,
        owner: None,
    }
}
