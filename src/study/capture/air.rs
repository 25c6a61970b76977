//! One pass through the air at the best aim, and the burns that mend the orbit after it, sample by sample.

use super::flights::{Alike, Flight, NoResult, costs};
use super::row::{Break, Costs, NoAim, Obstacle, StretchKind};
use super::setting::{Lead, Setting, add};
use crate::ensemble::problem::SampleNumber;
use crate::ensemble::{Fleet, Halt, Problem};
use crate::pass::apsis::Apsides;
use crate::pass::batch::Cost;
use crate::pass::{Ending, PassResult};
use crate::scenario::arrival::AimRange;
use crate::scenario::uncertainty::Number;
use crate::study::aims::Aims;
use crate::study::band::{Band, best_aim};

/// How aims are looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Search {
    /// Over the scenario's own range of aims, with the edges of the band: what `band` finds.
    OwnRange,
    /// Between the aims that nominally give the target's apoapsis and that nominally miss, with edges.
    Window,
    /// The same with edges to a quarter of the first grid's spacing and, of some safe aims, the one that needs the
    /// least propellant.
    Cheapest,
}

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
    let planet = problem.planet();
    let step = (planet.interface_m - own.from_m) / f64::from(LOOKS);
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
    let high_m = (aims[high] + margin).min(planet.interface_m - 1.0);
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

/// What one pass at the best aim costs, after a lead.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub(super) fn air_costs(
    setting: &Setting<'_>,
    lead: &Lead,
    search: Search,
) -> Result<Result<Costs, Obstacle>, Halt> {
    let problem = match problem_after(setting, lead, search) {
        Ok(problem) => problem,
        Err(why) => return Ok(Err(Obstacle::NoAim(why))),
    };
    let fleet = Fleet::new(&problem, setting.progress);
    let mut aims = Aims::new(&fleet, setting.case.scenario.ask);
    let range = problem.aim();
    let (aim_m, band) = if range.is_single() {
        (range.from_m, None)
    } else {
        let width_m = match search {
            Search::OwnRange | Search::Window => 0.0,
            Search::Cheapest => 0.25 * range.step_m,
        };
        best_aim(&mut aims, &problem, (range, width_m))?
    };
    if !aim_m.is_finite() {
        return Ok(Err(Obstacle::NoAim(NoAim::NoApproach)));
    }
    let mut found = costs_at(setting, (lead, &problem), aim_m)?;
    if let (Search::Cheapest, Some(band)) = (search, &band) {
        found = cheapest(setting, (lead, &problem), band, found)?;
    }
    let nearest = |band: &Band| {
        let sides = [&band.low, &band.high];
        let aim_m = found.aim_m.unwrap_or(aim_m);
        let away = |aim: f64| (aim - aim_m).abs();
        let near = sides
            .into_iter()
            .min_by(|a, b| away(a.aim_m).total_cmp(&away(b.aim_m)));
        near.and_then(|edge| edge.limit)
    };
    if found.broken.is_empty() {
        found.ruling = band.as_ref().and_then(nearest).map(Break::Limit);
    }
    found.band = band;
    Ok(Ok(found))
}

/// Of some aims across a band, and the recommended one, what the one costs that needs the least propellant and holds.
fn cheapest(
    setting: &Setting<'_>,
    (lead, problem): (&Lead, &Problem),
    band: &Band,
    recommended: Costs,
) -> Result<Costs, Halt> {
    const LOOKS: u32 = 6;
    let reserve = |costs: &Costs| costs.reserve_kg.unwrap_or(f64::INFINITY);
    let (low, high) = (band.low.aim_m, band.high.aim_m);
    let mut least = recommended;
    for look in 0..=LOOKS {
        let aim_m = (f64::from(look) / f64::from(LOOKS)).mul_add(high - low, low);
        let found = costs_at(setting, (lead, problem), aim_m)?;
        if found.holds && (!least.holds || reserve(&found) < reserve(&least)) {
            least = found;
        }
    }
    Ok(least)
}

/// What one pass at an aim costs, with the burns that mend the orbit.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub(super) fn costs_at(
    setting: &Setting<'_>,
    (lead, problem): (&Lead, &Problem),
    aim_m: f64,
) -> Result<Costs, Halt> {
    let certain = problem.is_deterministic() && setting.draws.is_exact();
    let samples = if certain {
        1
    } else {
        setting.case.scenario.ask.samples
    };
    let fleet = Fleet::new(problem, setting.progress);
    let mut flights = Vec::new();
    fleet.fly(&[aim_m], 0..samples, |flown| {
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
