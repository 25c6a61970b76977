//! One pass through the air, and the burns that mend the orbit after it, sample by sample. One rule chooses the aim of
//! every way that has a pass: of some aims across the safe band, and the one that `band` recommends, the one that
//! delivers most while every limit holds. The samples that are told had no part in the choice.

use super::flights::{Alike, Flight, NoResult, costs};
use super::row::{Break, Costs, NoAim, Obstacle, StretchKind};
use super::setting::{Lead, Setting, add};
use crate::ensemble::luck::Block;
use crate::ensemble::problem::SampleNumber;
use crate::ensemble::verdict::Verdict;
use crate::ensemble::{Fleet, Halt, Problem, Stopped};
use crate::pass::apsis::Apsides;
use crate::pass::batch::Cost;
use crate::pass::{Ending, PassResult};
use crate::scenario::arrival::AimRange;
use crate::scenario::uncertainty::Number;
use crate::study::aims::Aims;
use crate::study::band::{Edge, best_aim};

/// How aims are looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Search {
    /// Over the scenario's own range of aims, with the edges of the band: what `band` finds.
    OwnRange,
    /// Between the aims that nominally give the target's apoapsis and that nominally miss, with edges.
    Window,
    /// The same with edges to a quarter of the first grid's spacing.
    Roughly,
}

/// A pass at an aim after a lead.
pub(super) struct Candidate {
    pub(super) lead: Lead,
    pub(super) aim_m: f64,
    /// What the samples by which is chosen cost there.
    pub(super) costs: Costs,
}

/// Candidates that are flown anew at most, before it is said that none holds.
const MOST_TRIED: usize = 12;

/// The problem after a lead, with the aims to look at.
///
/// # Errors
/// [`NoAim`] when nothing captures.
fn problem_after(setting: &Setting<'_>, lead: &Lead, search: Search) -> Result<Problem, NoAim> {
    let own = setting.case.problem.aim();
    let aimed = |aim| {
        let changed = setting.case.problem.with_before(lead.before.clone(), aim);
        changed.map_err(|_| NoAim::NoApproach)
    };
    let problem = aimed(own)?;
    if search == Search::OwnRange || own.is_single() {
        return Ok(problem);
    }
    aimed(window(setting, &problem)?)
}

/// Aims between the highest that nominally leaves no more than the target's apoapsis and the lowest that escapes.
fn window(setting: &Setting<'_>, problem: &Problem) -> Result<AimRange, NoAim> {
    /// Nominal passes flown over the whole range.
    const LOOKS: u32 = 240;
    /// Aims of the first grid in the window.
    const AIMS: f64 = 9.0;
    let own = setting.case.problem.aim();
    let top_m = problem.highest_aim_m();
    let step = (top_m - own.from_m) / f64::from(LOOKS);
    let aims: Vec<f64> = (0..LOOKS)
        .map(|i| step.mul_add(f64::from(i), own.from_m))
        .collect();
    // What has no result says nothing of where a window lies.
    let flown = aims.iter().copied().zip(nominal_passes(problem, &aims));
    let (aims, results): (Vec<f64>, Vec<PassResult>) =
        flown.filter(|(_, pass)| pass.ending.is_flown()).unzip();
    if results.is_empty() {
        return Err(NoAim::NoApproach);
    }
    let target = setting.capture.target.apoapsis_m;
    let apoapsis = |pass: &PassResult| match pass.ending {
        Ending::Captured => pass.apoapsis_altitude_m,
        Ending::Escaped => None,
        _ => Some(f64::NEG_INFINITY),
    };
    let below = |pass: &&PassResult| apoapsis(pass).is_some_and(|altitude| altitude <= target);
    let low = results.iter().rposition(|pass| below(&pass));
    let high = results
        .iter()
        .rposition(|pass| apoapsis(pass).is_some())
        .filter(|&index| apoapsis(&results[index]).is_some_and(f64::is_finite));
    let Some(high) = high else {
        let leaves = results.iter().any(|pass| apoapsis(pass).is_none());
        let stays = results.iter().any(|pass| apoapsis(pass).is_some());
        return Err(match (leaves, stays) {
            (true, false) => NoAim::AllLeave,
            (false, _) => NoAim::AllComeDown,
            (true, true) => NoAim::NoneBetween,
        });
    };
    // Errors of delivery and of the air move what is best to either side.
    let margin = 2.0
        * own
            .step_m
            .min(0.25 * (own.to_m - own.from_m).max(own.step_m));
    let low_m = aims[low.unwrap_or(0)] - margin;
    let high_m = (aims[high] + margin).min(top_m - 1.0);
    let width = high_m - low_m;
    if !(width > 0.0) {
        return Err(NoAim::NoneBetween);
    }
    Ok(AimRange {
        from_m: low_m,
        to_m: high_m,
        step_m: (width / AIMS).max(1.0),
    })
}

/// Nominal passes at these aims, in lanes; one without an approach says so.
fn nominal_passes(problem: &Problem, aims: &[f64]) -> Vec<PassResult> {
    let mut results = vec![PassResult::without_approach(); aims.len()];
    let nominal = problem.nominal();
    let launches = aims.iter().enumerate().filter_map(|(index, &aim)| {
        let (start, sample) = problem.launch(aim, nominal, SampleNumber::Nominal)?;
        Some(((index, start, sample), *nominal))
    });
    let _: Cost = problem.fly_in_lanes(launches, |index, result| results[index] = result);
    results
}

/// What one pass costs, after a lead, at the aim of the rule: chosen by the samples of one block, told by those of the
/// other.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub(super) fn air_costs(
    setting: &Setting<'_>,
    lead: &Lead,
    search: Search,
) -> Result<Result<Costs, Obstacle>, Halt> {
    match candidates(setting, lead, search)? {
        Ok(candidates) => {
            let (_, costs) = told(setting, &candidates)?;
            Ok(Ok(costs))
        }
        Err(obstacle) => Ok(Err(obstacle)),
    }
}

/// The aims after a lead among which is chosen: the recommended one and some across the safe band, where there is one.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub(super) fn candidates(
    setting: &Setting<'_>,
    lead: &Lead,
    search: Search,
) -> Result<Result<Vec<Candidate>, Obstacle>, Halt> {
    /// How far inside an edge that a limit sets an aim is taken: the edge only just reaches the probability.
    const INSIDE: f64 = 0.05;
    let problem = match problem_after(setting, lead, search) {
        Ok(problem) => problem,
        Err(why) => return Ok(Err(Obstacle::NoAim(why))),
    };
    let fleet = Fleet::new(&problem, setting.progress);
    let mut aims = Aims::new(&fleet, setting.case.scenario.ask);
    let range = problem.aim();
    let found = if range.is_single() {
        Some((range.from_m, None))
    } else {
        let width_m = match search {
            Search::OwnRange | Search::Window => 0.0,
            Search::Roughly => 0.25 * range.step_m,
        };
        best_aim(&mut aims, &problem, (range, width_m))?
    };
    let Some((recommended_m, band)) = found else {
        return Ok(Err(Obstacle::NoAim(NoAim::NoApproach)));
    };
    let across = band.iter().flat_map(|band| {
        let (low, high) = (band.low.aim_m, band.high.aim_m);
        let inside = |edge: &Edge| edge.limit.map_or(0.0, |_| INSIDE);
        let (first, last) = (inside(&band.low), 1.0 - inside(&band.high));
        [first, 0.2, 0.35, 0.5, 0.65, 0.8, last].map(|place| place.mul_add(high - low, low))
    });
    let mut found = Vec::new();
    for aim_m in across.chain([recommended_m]) {
        let mut costs = costs_at(setting, (lead, &problem), (aim_m, Block::First))?;
        costs.band.clone_from(&band);
        found.push(Candidate {
            lead: lead.clone(),
            aim_m,
            costs,
        });
    }
    Ok(Ok(found))
}

/// Of candidates those that hold, the one that delivers most first, and behind them the likeliest to hold: the first
/// that holds on samples that had no part in the choice, with its place among `candidates` and what those samples cost.
/// Where none does, the likeliest of those that were tried. There is at least one candidate.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub(super) fn told(
    setting: &Setting<'_>,
    candidates: &[Candidate],
) -> Result<(usize, Costs), Halt> {
    let mut order: Vec<usize> = (0..candidates.len()).collect();
    let costs = |place: &usize| &candidates[*place].costs;
    order.sort_by(|a, b| {
        let (one, other) = (costs(a), costs(b));
        let holding = other.holds().cmp(&one.holds());
        holding.then_with(|| {
            if one.holds() {
                one.order(other)
            } else {
                other.held.lower.total_cmp(&one.held.lower)
            }
        })
    });
    // The likeliest of all has the last word.
    let likeliest = (0..candidates.len()).max_by(|a, b| {
        let held = |place| costs(place).held.lower;
        held(a).total_cmp(&held(b))
    });
    order.truncate(MOST_TRIED - 1);
    order.extend(likeliest.filter(|place| !order.contains(place)));
    let mut best: Option<(usize, Costs)> = None;
    for place in order {
        let candidate = &candidates[place];
        let mut anew = anew(setting, candidate)?;
        if anew.broken.is_empty() {
            anew.ruling = nearest_limit(candidate);
        }
        anew.band.clone_from(&candidate.costs.band);
        let holds = anew.holds();
        let better = |(_, best): &(usize, Costs)| anew.held.lower > best.held.lower;
        if holds || best.as_ref().is_none_or(better) {
            best = Some((place, anew));
        }
        if holds || !candidate.costs.holds() {
            break;
        }
    }
    best.ok_or(Stopped.into())
}

/// What binds next to a candidate's aim.
fn nearest_limit(candidate: &Candidate) -> Option<Break> {
    let band = candidate.costs.band.as_ref()?;
    let away = |aim: f64| (aim - candidate.aim_m).abs();
    let near = [&band.low, &band.high]
        .into_iter()
        .min_by(|a, b| away(a.aim_m).total_cmp(&away(b.aim_m)))?;
    near.limit.map(Break::Limit)
}

/// A candidate on the samples that are told.
fn anew(setting: &Setting<'_>, candidate: &Candidate) -> Result<Costs, Halt> {
    let at = AimRange {
        from_m: candidate.aim_m,
        to_m: candidate.aim_m,
        step_m: 1.0,
    };
    let before = candidate.lead.before.clone();
    let Ok(problem) = setting.case.problem.with_before(before, at) else {
        return Ok(Costs {
            verdict: Verdict::NotShown,
            ..candidate.costs.clone()
        });
    };
    costs_at(
        setting,
        (&candidate.lead, &problem),
        (candidate.aim_m, Block::Second),
    )
}

/// What one pass at an aim costs by the samples of a block, with the burns that mend the orbit.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
fn costs_at(
    setting: &Setting<'_>,
    (lead, problem): (&Lead, &Problem),
    (aim_m, block): (f64, Block),
) -> Result<Costs, Halt> {
    let certain = problem.is_deterministic() && setting.draws.is_exact();
    let samples = if certain {
        Block::First.samples(1)
    } else {
        block.samples(setting.case.scenario.ask.samples)
    };
    let fleet = Fleet::new(problem, setting.progress);
    let mut flights = Vec::new();
    fleet.fly(&[aim_m], samples, |flown| {
        flights.push(flight(
            setting,
            (lead, problem),
            (&flown.result, flown.broken),
            flown.sample,
        ));
    })?;
    let alike = Alike {
        entry_mass_kg: setting.mass_kg() - lead.spent_kg,
        aim_m: Some(aim_m),
        certain,
        shielded: true,
    };
    Ok(costs(setting, &flights, &alike)?)
}

/// One sample after its pass.
fn flight(
    setting: &Setting<'_>,
    (lead, problem): (&Lead, &Problem),
    (pass, broken): (&PassResult, u32),
    sample: u64,
) -> Flight {
    let mut out = Flight {
        broken: broken | setting.broken_by_thrust(lead.thrust_m_s2, sample),
        not_captured: pass.ending != Ending::Captured,
        no_result: NoResult::of(pass.ending),
        air_speed_m_s: pass.speed_lost_m_s,
        engine_speed_m_s: lead.engine_speed_m_s,
        propellant_kg: f64::NAN,
        peak_m_s2: pass.peak_deceleration_m_s2.max(lead.thrust_m_s2),
        onset_m_s3: pass.onset_m_s3,
        heat_flux_w_m2: pass.peak_heat_flux_w_m2,
        heat_load_j_m2: pass.heat_load_j_m2,
        passes: 1.0,
        durations_s: lead.durations_s,
        ..Flight::default()
    };
    add(&mut out.durations_s, StretchKind::Passes, pass.duration_s);
    if setting.engine().is_some() {
        out.propellant_kg = lead.spent_kg;
    }
    let gm = setting.gm();
    let Some(far) = pass
        .orbit
        .apoapsis_radius_m(gm)
        .filter(|_| !out.not_captured)
    else {
        return out;
    };
    let orbit = Apsides::of(pass.orbit.periapsis_radius_m, far);
    let mending = setting.wanted().mend(gm, orbit, |burn| {
        setting
            .draws
            .of(sample, lead.next_burn.saturating_add(burn))
    });
    let mass_kg = problem.numbers(sample)[Number::ShipMass as usize];
    out.engine_speed_m_s += mending.spent_m_s;
    out.propellant_kg += setting.propellant_kg(mass_kg, mending.spent_m_s);
    out.missed_target = !mending.reached;
    add(&mut out.durations_s, StretchKind::Mending, mending.time_s);
    out
}
