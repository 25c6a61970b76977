//! Gentle passes: a loose orbit by engine, then a whole campaign of passes down to the target.

use super::engine::{Braked, arrival_of, brake, choose};
use super::flights::{Alike, Flight, NoResult, costs};
use super::row::{Costs, Obstacle, Row, StretchKind, Way};
use super::setting::{Setting, add};
use crate::ensemble::campaign::{CampaignEnding, CampaignResult, StartOrbit, Starts};
use crate::ensemble::distribution::normal_score;
use crate::ensemble::interval::StatisticsError;
use crate::ensemble::{Halt, Problem, Stopped};
use crate::numeric::counts::{few, index, real};
use crate::pass::apsis::{Apsides, Apsis};
use crate::pass::conic::Conic;
use crate::pass::orbit::speed_between_apsides;
use crate::scenario::campaign::Campaign;
use crate::study::band::needed;
use crate::study::campaign::{CampaignError, fly_campaigns};
use rayon::prelude::*;

/// A ship after its capture by engine, lowered for its first pass.
struct Loose {
    braked: Braked,
    start: StartOrbit,
    /// Speed change of the burn that lowers the periapsis, m/s.
    lowering_m_s: f64,
    /// From the capture to the apoapsis where the campaign begins, s.
    coast_s: f64,
}

/// The row of gentle passes.
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
#[expect(clippy::too_many_lines, reason = "one stage after another")]
pub(super) fn gentle_row(setting: &Setting<'_>) -> Result<Row, Halt> {
    let row = |costs| Row::new(&setting.arrival.name, Way::GentlePasses, costs);
    let campaign = setting.case.scenario.campaign.as_ref();
    let described = campaign.and_then(|one| Some((one, one.first_periapsis_m?)));
    let Some((campaign, first_m)) = described else {
        let closed = "the scenario does not say how the passes are held";
        return Ok(row(Err(Obstacle::Campaign(closed.to_owned()))));
    };
    let target = &setting.capture.target;
    let rule = Campaign {
        target_apoapsis_m: target.apoapsis_m,
        raised_periapsis_m: target.periapsis_m,
        ..campaign.clone()
    };
    let lead = setting.lead();
    let wanted = setting.wanted();
    let mass_kg = setting.mass_kg() - lead.spent_kg;
    let conic = setting.conic(setting.arrival.excess_speed_m_s.powi(2));
    let Some((problem, aim_m)) = setting.aimed_above(&lead, wanted.periapsis_m) else {
        return Ok(row(Err(Obstacle::no_conic())));
    };
    let loose_m = loose_apoapsis_m(setting, (&problem, aim_m), (conic, lead.next_burn));
    let chosen = match choose(setting, (conic, mass_kg), loose_m) {
        Ok(chosen) => chosen,
        Err(obstacle) => return Ok(row(Err(obstacle))),
    };
    let burns = few(chosen.plan.burns.len());
    let plan = (&chosen.plan, lead.next_burn);
    // As in `campaign`: where nothing is uncertain all are alike, one is flown, and its count is exact.
    let certain = problem.is_deterministic()
        && setting.draws.is_exact()
        && rule.trims.size_error == 0.0
        && rule.trims.pointing_error_rad == 0.0;
    let campaigns = if certain {
        1
    } else {
        campaigns(setting, campaign)?
    };
    // Of each sample its loose orbit, none where it was not captured, or why it has no result.
    let loose: Vec<Result<Option<Loose>, NoResult>> = (0..campaigns)
        .into_par_iter()
        .map(|sample| {
            let braked = brake(setting, (&problem, aim_m), plan, sample)?;
            let burn = (first_m, lead.next_burn + burns);
            Ok(lowered(setting, braked, burn, sample))
        })
        .collect();
    let first = loose.iter().flatten().flatten().next();
    let Some(stand_in) = first.map(|loose| loose.start) else {
        let closed = "no sample is captured into the loose orbit".to_owned();
        return Ok(row(Err(Obstacle::Engine(closed))));
    };
    // A ship that was not captured flies no campaign; its place is taken by another that does not count.
    let start = |number: u64| {
        let own = loose[index(number)].as_ref().ok().and_then(Option::as_ref);
        own.map_or(stand_in, |loose| loose.start)
    };
    let flown = fly_campaigns(
        &setting.case.problem,
        (&rule, &setting.case.scenario.ship),
        &Starts::Each(&start),
        (campaigns, setting.progress),
    );
    let outcome = match flown {
        Ok(outcome) => outcome,
        Err(CampaignError::Stopped { .. }) => return Err(Stopped.into()),
        Err(error) => return Ok(row(Err(Obstacle::Campaign(error.to_string())))),
    };
    let flights: Vec<Flight> = loose
        .iter()
        .zip(&outcome.campaigns)
        .map(|(loose, result)| {
            let loose = match loose {
                Ok(Some(loose)) => loose,
                Ok(None) => {
                    return Flight {
                        not_captured: true,
                        propellant_kg: f64::NAN,
                        ..Flight::default()
                    };
                }
                Err(why) => return Flight::without(*why),
            };
            let mut out = flight(setting, loose, (result, lead.next_burn + burns + 1));
            out.engine_speed_m_s += lead.engine_speed_m_s;
            out.propellant_kg += lead.spent_kg;
            for (sum, gone) in out.durations_s.iter_mut().zip(lead.durations_s) {
                *sum += gone;
            }
            add(
                &mut out.durations_s,
                StretchKind::Burns,
                chosen.plan.duration_s,
            );
            out
        })
        .collect();
    let alike = Alike {
        certain,
        ..Alike::default()
    };
    let costs: Costs = costs(setting, &flights, &alike)?;
    Ok(Row {
        splits: chosen.tried,
        ..row(Ok(costs))
    })
}

/// Apoapsis radius that the first burn is sized for, m: so far inside the loosest that its own errors and those of the
/// delivery leave the ship beyond it with no more than a tenth of the accepted risk.
///
/// The speed change at periapsis that a sample needs, over the share of the planned one that its burn does along the
/// velocity, is taken as normal, with mean and spread of samples that are not flown.
fn loose_apoapsis_m(
    setting: &Setting<'_>,
    (problem, aim_m): (&Problem, f64),
    (conic, first_burn): (Conic, u32),
) -> f64 {
    const SAMPLES: u64 = 2000;
    /// Room for the planner of the burn, which closes in on an apoapsis.
    const LEAST: f64 = 1.001;
    let (gm, loosest_m) = (setting.gm(), setting.loosest_m());
    let target_m = setting.wanted().apoapsis_m;
    let needed = |conic: &Conic| {
        let r_p = conic.periapsis_radius_m;
        conic.periapsis_speed_m_s() - speed_between_apsides(gm, r_p, r_p, loosest_m)
    };
    let planned = needed(&conic);
    let asked = setting.case.scenario.ask.samples;
    let ratios: Vec<f64> = (asked..asked + SAMPLES)
        .filter_map(|sample| {
            let arrival = arrival_of(setting, (problem, aim_m), sample)?.0;
            let [along, ..] = setting.draws.of(sample, first_burn).applied(1.0);
            Some(needed(&arrival) / (planned * along)).filter(|ratio| ratio.is_finite())
        })
        .collect();
    let count = real(ratios.len() as u64).max(1.0);
    let mean = ratios.iter().sum::<f64>() / count;
    let spread = ratios
        .iter()
        .map(|ratio| (ratio - mean).powi(2))
        .sum::<f64>()
        / count;
    let score = normal_score(1.0 - 0.1 * (1.0 - setting.case.scenario.ask.probability));
    let ratio = score.mul_add(spread.sqrt(), mean).max(LEAST);
    let left = Conic {
        twice_energy: conic.twice_energy + (conic.periapsis_speed_m_s() - planned * ratio).powi(2)
            - conic.periapsis_speed_m_s().powi(2),
        ..conic
    };
    let apoapsis_m = left.apoapsis_radius_m().unwrap_or(loosest_m);
    apoapsis_m.clamp(target_m.min(loosest_m), loosest_m)
}

/// Campaigns to fly: those of the scenario, or as many as can show the probability, within the samples asked for.
fn campaigns(setting: &Setting<'_>, campaign: &Campaign) -> Result<u64, StatisticsError> {
    let ask = &setting.case.scenario.ask;
    Ok(campaign.campaigns.max(needed(ask)?).min(ask.samples.max(1)))
}

/// The loose orbit with its periapsis brought down to the first pass; `None` when the ship was not captured.
fn lowered(
    setting: &Setting<'_>,
    braked: Braked,
    (first_m, burn): (f64, u32),
    sample: u64,
) -> Option<Loose> {
    let conic = braked.flown.conic;
    let far = conic
        .apoapsis_radius_m()
        .filter(|_| braked.flown.captured)?;
    let gm = setting.gm();
    let orbit = Apsides::of(conic.periapsis_radius_m, far);
    let radius = setting.case.problem.planet().equatorial_radius_m;
    let error = setting.draws.of(sample, burn);
    let lowered = orbit.burn(gm, Apsis::Apoapsis, radius + first_m, &error);
    let apsides = lowered.apsides?;
    let mass_kg = braked.flown.mass_kg;
    let used = setting.propellant_kg(mass_kg, lowered.spent_m_s);
    let arrival = &setting.case.scenario.arrival;
    Some(Loose {
        start: StartOrbit {
            apoapsis_altitude_m: apsides.apoapsis_radius_m - radius,
            // Counted from the ellipsoid at the periapsis; what the burn did wrong stays in it.
            periapsis_altitude_m: first_m + apsides.periapsis_radius_m - (radius + first_m),
            inclination_rad: arrival.inclination_rad,
            argument_of_periapsis_rad: arrival.argument_of_periapsis_rad,
            mass_kg: mass_kg - used,
        },
        lowering_m_s: lowered.spent_m_s,
        coast_s: 0.5 * orbit.period_s(gm),
        braked,
    })
}

/// One campaign after its capture. The burns that make the target orbit are flown here, with errors as in every way;
/// their number begins at `last_burn`.
fn flight(
    setting: &Setting<'_>,
    loose: &Loose,
    (result, last_burn): (&CampaignResult, u32),
) -> Flight {
    let flown = &loose.braked.flown;
    let lowering_kg = flown.mass_kg - loose.start.mass_kg;
    let felt = if setting.thrust_is_known() {
        flown.acceleration_m_s2
    } else {
        0.0
    };
    let mut out = Flight {
        broken: result.broken | setting.broken_by_thrust(felt, result.campaign),
        not_captured: result.ending == CampaignEnding::Escaped,
        missed_target: true,
        no_result: match result.ending {
            CampaignEnding::Failed => Some(NoResult::Failed),
            CampaignEnding::NoApproach => Some(NoResult::NoApproach),
            _ => None,
        },
        air_speed_m_s: result.air_speed_m_s,
        engine_speed_m_s: flown.speed_change_m_s + loose.lowering_m_s + result.trim_speed_m_s,
        propellant_kg: loose.braked.mass_kg - flown.mass_kg + lowering_kg + result.propellant_kg,
        peak_m_s2: result.worst_deceleration_m_s2.max(felt),
        onset_m_s3: result.worst_onset_m_s3,
        heat_flux_w_m2: result.worst_heat_flux_w_m2,
        heat_load_j_m2: result.worst_heat_load_j_m2,
        passes: f64::from(result.passes),
        ..Flight::default()
    };
    add(
        &mut out.durations_s,
        StretchKind::Passes,
        loose.coast_s + result.days * 86_400.0,
    );
    if let Some((near, far)) = result.last_orbit_m {
        let gm = setting.gm();
        let orbit = Apsides::of(near, far);
        let mending = setting.wanted().mend(gm, orbit, |burn| {
            setting
                .draws
                .of(result.campaign, last_burn.saturating_add(burn))
        });
        // Without the burns of the campaign itself, which are exact.
        let exact = setting.propellant_kg(result.last_mass_kg, result.raise_speed_m_s);
        let mended = setting.propellant_kg(result.last_mass_kg, mending.spent_m_s);
        out.propellant_kg += mended - exact;
        out.engine_speed_m_s += mending.spent_m_s;
        out.missed_target = !mending.reached;
        // The campaign ends at the apoapsis, where the first of them is.
        let there_s = 0.5 * orbit.period_s(gm);
        let kind = StretchKind::Mending;
        add(
            &mut out.durations_s,
            kind,
            (mending.time_s - there_s).max(0.0),
        );
    }
    out
}
