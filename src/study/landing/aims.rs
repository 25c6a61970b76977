//! Which periapsis to aim for: the aims of the range with what each reaches.

use super::footprint::{Fineness, Footprint, footprints};
use super::outline::Outline;
use crate::ensemble::legs::{TwoLegs, fly_legs};
use crate::ensemble::problem::{Numbers, SampleNumber};
use crate::ensemble::{LimitKind, Problem, Progress, Stopped};
use crate::pass::{Ending, PassResult};
use crate::scenario::arrival::AimRange;
use crate::scenario::uncertainty::Number;

/// Most aims that are compared.
const MOST_AIMS: f64 = 60.0;

/// Which limit rules, by how many flights break each.
type Ruling<'a> = dyn Fn(&[usize]) -> Option<LimitKind> + 'a;

/// What an aim reaches.
#[derive(Debug, Clone, PartialEq)]
pub struct AimReach {
    /// The aim, m.
    pub aim_m: f64,
    /// Inertial flight-path angle at the interface, rad.
    pub angle_rad: f64,
    /// Area that is reached under the limits, m²; for a ship without lift 0, and its one place counts.
    pub area_m2: f64,
    /// Least and greatest downrange under the limits, m.
    pub downrange_m: Option<(f64, f64)>,
    /// Reach to the left (negative) and to the right under the limits, m.
    pub crossrange_m: Option<(f64, f64)>,
    /// Least and greatest peak of the flights that hold the limits, m/s².
    pub peak_m_s2: Option<(f64, f64)>,
    /// The limit that keeps out most flights, if any.
    pub ruling: Option<LimitKind>,
    /// What is reached under the limits.
    pub outline: Outline,
    /// Whether any flight comes to the gate under the limits.
    pub holds: bool,
    /// Flights without a result.
    pub unflown: usize,
}

/// The aims of a range, at most `MOST_AIMS` of them.
#[must_use]
pub fn aims_of(range: AimRange) -> Vec<f64> {
    if range.is_single() {
        return vec![range.from_m];
    }
    let width = range.to_m - range.from_m;
    let step = range.step_m.max(width / MOST_AIMS);
    let mut aims = Vec::new();
    let mut place = 0.0;
    while range.from_m + place * step < range.to_m - 1e-6 * step {
        aims.push(range.from_m + place * step);
        place += 1.0;
    }
    aims.push(range.to_m);
    aims
}

/// Compares the aims; those that fit no approach are left out.
///
/// # Errors
/// [`Stopped`] when the run was cancelled.
pub fn compare(
    problem: &Problem,
    numbers: &Numbers,
    (aims_m, lifts, ahead_m): (&[f64], bool, f64),
    progress: &Progress,
) -> Result<Vec<AimReach>, Stopped> {
    let entries = problem.limits().entries();
    let ruling = |counts: &[usize]| {
        let most = counts.iter().copied().max().filter(|&count| count > 0)?;
        let place = counts.iter().position(|&count| count == most)?;
        entries.get(place).map(|limit| limit.kind)
    };
    let angle = |aim_m: f64| {
        let start = problem.launch(aim_m, numbers, SampleNumber::Nominal);
        start.map_or(f64::NAN, |(start, _)| {
            start.inertial_flight_path_angle_rad()
        })
    };
    if lifts {
        let flown = footprints(
            problem,
            (aims_m, numbers),
            (Fineness::Coarse, ahead_m),
            progress,
        )?;
        return Ok(flown
            .into_iter()
            .flatten()
            .map(|footprint| of_footprint(&footprint, angle, (entries.len(), &ruling)))
            .collect());
    }
    let bank = numbers[Number::BankAngle as usize];
    let flights: Vec<TwoLegs> = aims_m
        .iter()
        .map(|&aim| TwoLegs::held(aim, *numbers, bank))
        .collect();
    let flown = fly_legs(problem, &flights, progress)?;
    let reach = |(&aim_m, result): (&f64, Option<PassResult>)| {
        let result = result?;
        let broken = problem.limits().broken(&result, problem.nominal());
        let holds = broken == 0 && result.ending == Ending::Landed;
        let counts: Vec<usize> = (0..entries.len())
            .map(|bit| (broken >> bit & 1) as usize)
            .collect();
        let peak = result.peak_deceleration_m_s2;
        Some(AimReach {
            aim_m,
            angle_rad: angle(aim_m),
            area_m2: 0.0,
            downrange_m: None,
            crossrange_m: None,
            peak_m_s2: holds.then_some((peak, peak)),
            ruling: ruling(&counts),
            outline: Outline::default(),
            holds,
            unflown: usize::from(!result.ending.is_flown()),
        })
    };
    Ok(aims_m.iter().zip(flown).filter_map(reach).collect())
}

fn of_footprint(
    footprint: &Footprint,
    angle: impl Fn(f64) -> f64,
    (limits, ruling): (usize, &Ruling<'_>),
) -> AimReach {
    let flights = footprint.curves.iter().flatten();
    let held = flights.clone().filter(|reach| reach.held);
    let peaks = held.map(|reach| reach.result.peak_deceleration_m_s2);
    let peak = peaks.fold(None, |seen: Option<(f64, f64)>, peak| match seen {
        None => Some((peak, peak)),
        Some((low, high)) => Some((low.min(peak), high.max(peak))),
    });
    AimReach {
        aim_m: footprint.aim_m,
        angle_rad: angle(footprint.aim_m),
        area_m2: footprint.held.area_m2(),
        downrange_m: footprint.held.downrange_m(),
        crossrange_m: footprint.held.crossrange_m(),
        peak_m_s2: peak,
        ruling: ruling(&footprint.broken(limits)),
        outline: footprint.held.clone(),
        holds: peak.is_some(),
        unflown: flights
            .filter(|reach| !reach.result.ending.is_flown())
            .count(),
    }
}

/// The aim to take: the largest area under the limits; without lift the middle of the longest run of aims
/// that hold them.
#[must_use]
pub fn best(reaches: &[AimReach], lifts: bool) -> Option<f64> {
    if lifts {
        let holding = reaches.iter().filter(|reach| reach.holds);
        return holding
            .max_by(|a, b| a.area_m2.total_cmp(&b.area_m2))
            .map(|reach| reach.aim_m);
    }
    let runs = reaches.chunk_by(|a, b| a.holds == b.holds);
    let longest = runs
        .filter(|run| run[0].holds)
        .max_by_key(|run| run.len())?;
    Some(longest[(longest.len() - 1) / 2].aim_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_has_its_ends_and_not_too_many_aims() {
        let range = |step_m| AimRange {
            from_m: 0.0,
            to_m: 10e3,
            step_m,
        };
        assert_eq!(aims_of(range(4e3)), [0.0, 4e3, 8e3, 10e3]);
        assert_eq!(aims_of(range(10.0)).len(), 61);
    }

    #[test]
    fn without_lift_the_middle_of_what_holds_is_taken() {
        let reach = |aim_m, holds| AimReach {
            aim_m,
            angle_rad: 0.0,
            area_m2: 0.0,
            downrange_m: None,
            crossrange_m: None,
            peak_m_s2: None,
            ruling: None,
            outline: Outline::default(),
            holds,
            unflown: 0,
        };
        let reaches: Vec<AimReach> = [false, true, false, true, true, true, false]
            .into_iter()
            .enumerate()
            .map(|(i, holds)| reach(f64::from(u32::try_from(i).unwrap_or(0)), holds))
            .collect();
        assert_eq!(best(&reaches, false), Some(4.0));
        assert_eq!(best(&reaches[..1], false), None);
    }
}
