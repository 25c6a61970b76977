//! Why a band is empty, and what would open it: a better delivery, or a higher limit. Found by flying, not guessed.

use super::aims::{AimPoint, Aims};
use super::kept::Flights;
use crate::ensemble::engine::FlownSample;
use crate::ensemble::interval::Interval;
use crate::ensemble::{Fleet, Halt, LimitKind, Tally};
use crate::pass::Ending;
use crate::scenario::ask::Ask;
use crate::scenario::limits::Form;
use crate::scenario::uncertainty::Number;

/// Why there is no band.
#[derive(Debug, Clone, PartialEq)]
pub struct Empty {
    /// The aim with the most samples held, m.
    pub best_aim_m: f64,
    /// The limits that collide there: the one that rules on the steep side, and on the shallow side.
    pub colliding: (Option<LimitKind>, Option<LimitKind>),
    /// What would open the band.
    pub opening: Opening,
}

/// What would open the band.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Opening {
    /// Whether it was looked for: not where rare accidents are.
    pub looked_for: bool,
    /// The largest factor (below 1) on every delivery error that opens it; `None` where even an exact
    /// delivery does not, or none is uncertain.
    pub delivery_factor: Option<f64>,
    /// For each colliding limit that has a value: the least one that opens the band, all else alike.
    pub raises: Vec<Raise>,
}

/// A limit and the value that would open the band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Raise {
    /// The limit.
    pub kind: LimitKind,
    /// Allowed now, SI units.
    pub allowed: f64,
    /// Allowed value that would open the band, SI units (lower for `lowest_altitude`).
    pub needed: f64,
}

/// Most aims looked at.
const MOST_AIMS: usize = 13;
/// Finest spacing at which aims are looked at between those flown, m.
const FINEST_SPACING_M: f64 = 100.0;
/// What is added to a limit that opens the band, so that it still does when rounded to the digits shown.
const MARGIN: f64 = 1e-3;
/// Rounds of halving the factor on the delivery errors.
const ROUNDS: usize = 7;

/// Flies aims about the best one with smaller delivery errors, and reads the wanted limits off the samples.
fn what_would_open(
    flights: &Flights<'_>,
    ask: &Ask,
    points: &[AimPoint],
    kinds: &[LimitKind],
) -> Result<Opening, Halt> {
    let (samples, spare) = counts(flights.fleet, ask);
    let mut raises = Vec::new();
    for &kind in kinds {
        raises.extend(raise(flights, points, (samples, spare), kind)?);
    }
    let aims = fewest(points, |tally| (tally.not_held(), 0));
    Ok(Opening {
        looked_for: true,
        delivery_factor: delivery_factor(flights, &aims, samples, spare)?,
        raises,
    })
}

/// Samples at an aim, and the most of them that may not hold at a safe one.
fn counts(fleet: &Fleet<'_>, ask: &Ask) -> (u64, u64) {
    if fleet.problem().is_deterministic() {
        (1, 0)
    } else {
        (ask.samples, most_broken(ask))
    }
}

/// The most samples of those asked for that may not hold every limit at a safe aim.
pub(super) fn most_broken(ask: &Ask) -> u64 {
    let safe = |broken: u64| {
        Interval::clopper_pearson(ask.samples - broken, ask.samples, ask.confidence)
            .is_ok_and(|held| held.lower >= ask.probability)
    };
    let (mut low, mut high) = (0, ask.samples);
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if safe(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// Up to [`MOST_AIMS`] flown aims with the lowest `cost`; of more that are equal, some spread evenly.
fn fewest(points: &[AimPoint], cost: impl Fn(&Tally) -> (u64, u64)) -> Vec<f64> {
    let mut ranked: Vec<((u64, u64), f64)> =
        points.iter().map(|p| (cost(&p.tally), p.aim_m)).collect();
    ranked.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    if ranked.len() > MOST_AIMS {
        let dearest = ranked[MOST_AIMS - 1].0;
        let from = ranked.partition_point(|aim| aim.0 < dearest);
        let equal = ranked.partition_point(|aim| aim.0 <= dearest) - from;
        let room = MOST_AIMS - from;
        for place in 0..room {
            // Never before `place`, so that none is overwritten before it is read.
            ranked[from + place] = ranked[from + place * (equal - 1) / (room - 1).max(1)];
        }
        ranked.truncate(MOST_AIMS);
    }
    ranked.into_iter().map(|(_, aim_m)| aim_m).collect()
}

fn delivery_factor(
    flights: &Flights<'_>,
    aims: &[f64],
    samples: u64,
    spare: u64,
) -> Result<Option<f64>, Halt> {
    let opens = |factor: f64| -> Result<bool, Halt> {
        let scaled = flights.fleet.problem().with_delivery_scaled(factor);
        let scaled = Flights {
            fleet: &Fleet::new(&scaled, flights.fleet.progress()),
            delivery: factor,
            ..*flights
        };
        let tallies = scaled.counts(aims, samples)?;
        Ok(tallies.iter().any(|tally| tally.not_held() <= spare))
    };
    if !opens(0.0)? {
        return Ok(None);
    }
    let (mut open, mut shut) = (0.0, 1.0);
    for _ in 0..ROUNDS {
        let middle = 0.5 * (open + shut);
        if opens(middle)? {
            open = middle;
        } else {
            shut = middle;
        }
    }
    Ok((open > 0.0).then_some(open))
}

/// The least value of one limit that opens the band, the others as they are.
///
/// Looked for at the flown aims that break the other limits least, then between them.
fn raise(
    flights: &Flights<'_>,
    points: &[AimPoint],
    counts: (u64, u64),
    kind: LimitKind,
) -> Result<Option<Raise>, Halt> {
    let problem = flights.fleet.problem();
    let entries = problem.limits().entries();
    let Some(bit) = entries.iter().position(|limit| limit.kind == kind) else {
        return Ok(None);
    };
    let range = problem.aim();
    let mut aims = fewest(points, |tally| {
        let own = tally.broken[bit];
        (
            tally.broken.iter().sum::<u64>() - own + tally.unflown(),
            own,
        )
    });
    let mut spacing = range.step_m;
    loop {
        let (least, centre) = least_value(flights, &aims, counts, bit)?;
        if least.is_finite() {
            return Ok(Some(Raise {
                kind,
                allowed: entries[bit].allowed,
                needed: (MARGIN * least.abs() + least) * sign(kind),
            }));
        }
        if spacing <= FINEST_SPACING_M {
            return Ok(None);
        }
        let Some(centre) = centre else {
            return Ok(None);
        };
        spacing *= 0.25;
        aims = (-3..=3)
            .map(|place| f64::from(place).mul_add(spacing, centre))
            .filter(|aim| (range.from_m..=range.to_m).contains(aim))
            .collect();
    }
}

/// Of an altitude a lower value is the weaker limit.
fn sign(kind: LimitKind) -> f64 {
    if kind.spec().form.is_least() {
        -1.0
    } else {
        1.0
    }
}

/// The least allowed value (times [`sign`]) with which one of these aims is safe, infinite where none is,
/// and of the aims, if there are any, that at which the other limits are broken least.
fn least_value(
    flights: &Flights<'_>,
    aims: &[f64],
    counts: (u64, u64),
    bit: usize,
) -> Result<(f64, Option<f64>), Halt> {
    let problem = flights.fleet.problem();
    let limit = problem.limits().entries()[bit];
    let kind = limit.kind;
    // An allowed value that is uncertain is drawn about the one that is raised, and rises with it.
    let value_of = |flown: &FlownSample| {
        let numbers = problem.judging_numbers(flown.sample);
        let nose_radius_m = || numbers[Number::NoseRadius as usize];
        let value = problem.limits().value(kind, &flown.result, nose_radius_m)?;
        // One that is not uncertain may be 0.
        let own = kind.spec().number.is_some();
        Some(if own {
            value * (limit.allowed / limit.drawn(&numbers))
        } else {
            value
        })
    };
    let needed = flights.needed((aims, bit), counts, |flown| {
        if flown.broken & !(1 << bit) != 0 || !flown.result.ending.is_flown() {
            return None;
        }
        let value = match (kind.spec().form, flown.result.ending) {
            (Form::CapturedMost, Ending::Escaped) => None,
            // A pass that leaves no orbit leaves none that is too low.
            (Form::CapturedLeast, ending) if ending != Ending::Captured => Some(f64::INFINITY),
            _ => value_of(flown),
        };
        Some(value.map_or(f64::INFINITY, |value| sign(kind) * value))
    })?;
    let values = needed.iter().map(|needed| needed.value);
    let least = values.fold(f64::INFINITY, f64::min);
    let fewest = needed
        .iter()
        .zip(aims)
        .min_by_key(|(needed, _)| needed.others);
    Ok((least, fewest.map(|(_, &aim_m)| aim_m)))
}

/// Names the limits that collide about the best aim (m), and what would open the band.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub fn explain_empty(aims: &Aims<'_>, best_aim_m: f64) -> Result<Empty, Halt> {
    if aims.looks_for_accidents() {
        return Ok(explain_rare(aims, best_aim_m));
    }
    let (ask, flights) = (&aims.ask(), aims.flights());
    let fleet = flights.fleet;
    let best = aims.at(best_aim_m);
    // A limit rules on the steep side when it is broken more often below the best aim than above it.
    let (mut steep, mut shallow) = ((0, None), (0, None));
    let count = fleet.problem().limits().entries().len();
    for index in 0..count {
        let broken = |keep: &dyn Fn(f64) -> bool| -> u64 {
            let points = aims.points().iter().filter(|p| keep(p.aim_m));
            points.map(|p| p.tally.broken[index]).sum()
        };
        let below = broken(&|aim| aim <= best_aim_m);
        let above = broken(&|aim| aim >= best_aim_m);
        let at_best = best.map_or(0, |p| p.tally.broken[index]);
        if at_best == 0 && count > 2 {
            continue;
        }
        if below > above && (at_best > steep.0 || steep.1.is_none()) {
            steep = (at_best, aims.limit_kind(index));
        }
        if above > below && (at_best > shallow.0 || shallow.1.is_none()) {
            shallow = (at_best, aims.limit_kind(index));
        }
    }
    let mut kinds: Vec<LimitKind> = (0..count)
        .filter(|&index| best.is_some_and(|p| p.tally.broken[index] > 0))
        .filter_map(|index| aims.limit_kind(index))
        .collect();
    if steep.1.is_none() && shallow.1.is_none() {
        // Broken alike on both sides.
        steep.1 = best.and_then(|p| super::band::ruling_limit(aims, p));
    }
    if let (Some(one), None) | (None, Some(one)) = (steep.1, shallow.1) {
        (steep.1, shallow.1) = with_partner(aims, (one, best_aim_m), (steep.1, shallow.1));
    }
    for kind in [steep.1, shallow.1].into_iter().flatten() {
        if !kinds.contains(&kind) {
            kinds.push(kind);
        }
    }
    Ok(Empty {
        best_aim_m,
        colliding: (steep.1, shallow.1),
        opening: what_would_open(&flights, ask, aims.points(), &kinds)?,
    })
}

/// The limits that rule at the aims next to the best one; what would open the band is not looked for.
fn explain_rare(aims: &Aims<'_>, best_aim_m: f64) -> Empty {
    let points = aims.points().iter();
    let below = points.clone().rev().filter(|p| p.aim_m < best_aim_m);
    let above = points.filter(|p| p.aim_m > best_aim_m);
    let ruling = |point: &AimPoint| super::band::ruling_limit(aims, point);
    let steep = below.clone().find_map(ruling);
    let shallow = above.clone().find_map(ruling);
    // Near the best aim one limit may rule on both sides; farther away another does on one of them.
    let other = |kind: &LimitKind| Some(*kind) != steep;
    let colliding = if steep == shallow {
        let beyond = above.filter_map(ruling).find(other);
        let before = below.filter_map(ruling).find(other);
        match (before, beyond) {
            (_, Some(beyond)) => (steep, Some(beyond)),
            (Some(before), None) => (Some(before), shallow),
            (None, None) => (steep, None),
        }
    } else {
        (steep, shallow)
    };
    Empty {
        best_aim_m,
        colliding,
        opening: Opening::default(),
    }
}

/// The limit `one` that rules at the best aim, and the one that rules at the nearest aim that holds it;
/// `alone` where no aim does.
fn with_partner(
    aims: &Aims<'_>,
    (one, best_aim_m): (LimitKind, f64),
    alone: (Option<LimitKind>, Option<LimitKind>),
) -> (Option<LimitKind>, Option<LimitKind>) {
    let fleet = aims.flights().fleet;
    let entries = fleet.problem().limits().entries();
    let Some(bit) = entries.iter().position(|limit| limit.kind == one) else {
        return alone;
    };
    let (_, spare) = counts(fleet, &aims.ask());
    let away = |point: &AimPoint| (point.aim_m - best_aim_m).abs();
    let holding = aims
        .points()
        .iter()
        .filter(|p| p.tally.broken[bit] + p.tally.unflown() <= spare);
    let nearest = holding.min_by(|a, b| away(a).total_cmp(&away(b)));
    let partner = nearest.and_then(|p| Some((p.aim_m, super::band::ruling_limit(aims, p)?)));
    match partner {
        Some((aim_m, other)) if other != one && aim_m < best_aim_m => (Some(other), Some(one)),
        Some((aim_m, other)) if other != one && aim_m > best_aim_m => (Some(one), Some(other)),
        _ => alone,
    }
}
