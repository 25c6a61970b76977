//! What `pass` says on the screen, and its summary.

use super::coverage_words;
use super::number::significant;
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::Verdict;
use crate::pass::Ending;
use crate::study::Case;
use crate::study::afterwards::NextRound;
use crate::study::outcome::Quantity;
use crate::study::single::{Mending, SinglePass};
use crate::study::verdicts::Verdicts;
use serde_json::{Map, Value, json};
use std::fmt::Write as _;

/// One sentence: what the pass did.
#[must_use]
pub fn answer(case: &Case, single: &SinglePass) -> String {
    let answer = plain_answer(case, single);
    answer + &super::remarks::model_remarks(case)
}

fn plain_answer(case: &Case, single: &SinglePass) -> String {
    let result = &single.flown.result;
    let g = significant(result.peak_deceleration_m_s2 / G0, 3);
    let low = vacuum_low(single.aim_m, single.vacuum_low_m);
    let aim = format!("{:.3} km{low}", single.aim_m / 1e3);
    match result.ending {
        Ending::Captured => {
            let captured = format!(
                "Aimed at {aim} the ship is captured: {g} g at the most, {} m/s lost to the air, and an orbit of {} by \
                 {} km.",
                significant(result.speed_lost_m_s, 4),
                significant(result.periapsis_altitude_m / 1e3, 4),
                significant(result.apoapsis_altitude_m.unwrap_or(f64::NAN) / 1e3, 5),
            );
            let raised = single.corrections.as_ref().and_then(raised);
            captured + &next_round(single.next_round.as_ref()) + &raised.unwrap_or_default()
        }
        Ending::Escaped => format!(
            "Aimed at {aim} the ship flies on: {} m/s lost to the air was not enough, {} m/s of excess speed is left.",
            significant(result.speed_lost_m_s, 4),
            significant(result.orbit.twice_energy.max(0.0).sqrt(), 4),
        ),
        Ending::Landed => format!(
            "Aimed at {aim} the ship does not leave the air again: {g} g at the most, the ground of {} after {} s.",
            case.world.body().name,
            significant(result.duration_s, 4)
        ),
        Ending::OutOfTime => format!(
            "Aimed at {aim} the ship is still in the air after {} s.",
            significant(result.duration_s, 4)
        ),
        Ending::Failed => format!("Aimed at {aim} the integration failed."),
        Ending::NoApproach => format!("Aimed at {aim} no approach fits: there is no such arrival."),
    }
}

/// In brackets, how low the approach would come without air, where that is not the aim to a kilometre: on flattened
/// worlds the lowest place is not the periapsis, and the field bends the way.
#[must_use]
pub(super) fn vacuum_low(aim_m: f64, low_m: Option<f64>) -> String {
    let told = low_m.filter(|low| (low - aim_m).abs() > 1e3);
    told.map_or_else(String::new, |low| {
        format!(" (lowest without air {} km)", significant(low / 1e3, 4))
    })
}

/// That the next passage leads into the ground, and the burn that mends it.
#[must_use]
pub(super) fn next_round(round: Option<&NextRound>) -> String {
    let Some(round) = round.filter(|round| round.below_ground) else {
        return String::new();
    };
    let hours = significant(round.to_apoapsis_s / 3600.0, 3);
    let depth = significant(-round.lowest_altitude_m / 1e3, 3);
    let after = match round.lift_m_s {
        Some(burn) => format!(
            "unless a burn of {} m/s along the motion at the apoapsis, {hours} h after the pass, lifts it to the entry \
             interface.",
            significant(burn, 3)
        ),
        None => format!(
            "and no burn along the motion at the apoapsis, {hours} h after the pass, mends it."
        ),
    };
    format!(" The next periapsis lies {depth} km below the ground, {after}")
}

/// The next round of a captured ship in a summary.
#[must_use]
pub(super) fn next_round_json(round: Option<&NextRound>) -> Value {
    json!(round.map(|round| json!({
        "time_to_apoapsis_s": round.to_apoapsis_s,
        "lowest_altitude_km": round.lowest_altitude_m / 1e3,
        "below_ground": round.below_ground,
        "lift_to_interface_m_s": round.lift_m_s,
    })))
}

/// That the burns raise the apoapsis, and why.
fn raised(mending: &Mending) -> Option<String> {
    let from_m = mending.raised_from_m?;
    Some(format!(
        " An apoapsis of {} km would lie below the periapsis of {} km to which the burns lift the orbit, so they make \
         it a circle there.",
        significant(from_m / 1e3, 4),
        significant(mending.target_periapsis_m / 1e3, 4)
    ))
}

/// The compact table under the answer.
#[must_use]
pub fn table(single: &SinglePass) -> String {
    let result = &single.flown.result;
    let mut text = String::new();
    let mut row = |label: &str, value: f64, unit: &str| {
        let _ = writeln!(text, "  {label:<34} {:>12} {unit}", significant(value, 6));
    };
    row(
        "inertial speed at the interface",
        single.start.inertial_speed_m_s() / 1e3,
        "km/s",
    );
    let angle = single.start.inertial_flight_path_angle_rad().to_degrees();
    row("inertial flight-path angle there", angle, "deg");
    for quantity in Quantity::ALL {
        if let (Some(value), (label, unit)) = (quantity.of(result), quantity.label()) {
            row(label, value, unit);
        }
    }
    if matches!(result.ending, Ending::Landed | Ending::OutOfTime) {
        row(
            "speed lost until the flight ends",
            result.speed_lost_m_s,
            "m/s",
        );
    }
    row("time in the air", result.duration_s, "s");
    if let Some(log) = &single.steered {
        if !log.knots.iter().any(|knot| knot.skirt_on) {
            #[allow(clippy::cast_precision_loss)]
            row(
                "changes of the side of the bank",
                log.reversals() as f64,
                "",
            );
        }
        if let Some(at) = log.dropped_s() {
            row("skirt dropped after", at, "s");
        }
        if let Some(knot) = log.knots.last() {
            row("drag over the model, as measured", knot.drag_ratio, "");
        }
    }
    if result.ending == Ending::Captured {
        row(
            "periapsis, osculating at apoapsis",
            result.periapsis_altitude_m / 1e3,
            "km",
        );
        if let Some(round) = &single.next_round {
            row(
                "lowest altitude of the next round",
                round.lowest_altitude_m / 1e3,
                "km",
            );
            row("time to the apoapsis", round.to_apoapsis_s / 3600.0, "h");
        }
        row(
            "inclination afterwards",
            result.orbit.inclination_rad.to_degrees(),
            "deg",
        );
    }
    if let Some(period) = single.period_s {
        row("period, osculating at apoapsis", period / 3600.0, "h");
    }
    if let Some(mending) = &single.corrections {
        let burns = &mending.burns;
        let lift = format!(
            "burn: periapsis to {} km",
            significant(mending.target_periapsis_m / 1e3, 4)
        );
        row(&lift, burns.lift_periapsis_m_s, "m/s");
        let trim = format!(
            "burn: apoapsis to {} km",
            significant(mending.target_apoapsis_m / 1e3, 6)
        );
        if burns.trim_apoapsis_m_s > 0.0 {
            row(&trim, burns.trim_apoapsis_m_s, "m/s");
        }
        if let Some(propellant) = mending.propellant_kg {
            row("propellant for the burns", propellant, "kg");
        }
    }
    text.pop();
    text
}

/// The summary of a single pass: stable keys, documented in the README.
#[must_use]
pub fn summary(case: &Case, single: &SinglePass, sample: Option<u64>) -> Value {
    let result = &single.flown.result;
    let verdicts = Verdicts::of_pass(&case.problem, single);
    let verdict = (!verdicts.limits.is_empty()).then(|| verdicts.all.key());
    let mut values = Map::new();
    for quantity in Quantity::ALL {
        values.insert(quantity.key().to_owned(), json!(quantity.of(result)));
    }
    json!({
        "study": "pass",
        "scenario": case.scenario.title,
        "world": case.world.body().name,
        "air": super::air_grades::summary(case),
        "aim_periapsis_km": single.aim_m / 1e3,
        "vacuum_low_km": single.vacuum_low_m.map(|low| low / 1e3),
        "sample": sample,
        "ending": result.ending.word(),
        "verdict": verdict,
        "entry": {
            "inertial_speed_m_s": single.start.inertial_speed_m_s(),
            "inertial_flight_path_angle_deg": single.start.inertial_flight_path_angle_rad().to_degrees(),
        },
        "pass": values,
        "duration_s": result.duration_s,
        "orbit_afterwards": {
            "periapsis_altitude_km": result.periapsis_altitude_m / 1e3,
            "apoapsis_altitude_km": result.apoapsis_altitude_m.map(|a| a / 1e3),
            "period_s": single.period_s,
            "inclination_deg": result.orbit.inclination_rad.to_degrees(),
        },
        "next_round": next_round_json(single.next_round.as_ref()),
        "corrections": single.corrections.as_ref().map(|mending| json!({
            "target_periapsis_km": mending.target_periapsis_m / 1e3,
            "target_apoapsis_km": mending.target_apoapsis_m / 1e3,
            "lift_periapsis_m_s": mending.burns.lift_periapsis_m_s,
            "trim_apoapsis_m_s": mending.burns.trim_apoapsis_m_s,
            "propellant_kg": mending.propellant_kg,
        })),
        "steering": single.steered.as_ref().map(|log| json!({
            "bank_reversals": log.reversals(),
            "skirt_dropped_s": log.dropped_s(),
            "drag_over_model": log.knots.last().map(|knot| knot.drag_ratio),
        })),
        "drawn": super::draws::summary(case, (single.aim_m, sample)),
        "convective_heating": super::heat_text::convective_json(case, single),
        "heating_errors": super::heat_text::errors_json(case),
        "spots": super::heat_text::spots_json((single, &verdicts)),
        "limits": limits(case, (single, &verdicts)),
    })
}

fn limits(case: &Case, (single, verdicts): (&SinglePass, &Verdicts)) -> Value {
    let entries = case.problem.limits().entries().iter();
    let judged = entries.filter_map(|limit| Some((limit, verdicts.of(limit.kind)?)));
    judged
        .map(|(limit, found)| {
            let mut value = json!({
                "limit": limit.kind.key(),
                "allowed": super::limit_words::value_text(limit.kind, limit.allowed),
                "held": found.verdict == Verdict::Held,
                "hardest_level": super::limit_words::is_of_the_curve(limit.kind).then(|| hardest_json(case, single)),
            });
            for (key, said) in coverage_words::keys(found) {
                value[key] = said;
            }
            value
        })
        .collect()
}

/// The level at which the pass is hardest on the curves for the people aboard.
fn hardest_json(case: &Case, single: &SinglePass) -> Value {
    let people = case.problem.limits().people();
    let hardest = people.and_then(|people| people.hardest(&single.flown.result));
    json!(hardest.map(|hardest| json!({
        "axis": hardest.axis.symbol(),
        "level_g": hardest.level_g,
        "stay_s": hardest.stay_s,
        "allowed_s": hardest.allowed_s.is_finite().then_some(hardest.allowed_s),
        "share_of_the_curve": hardest.ratio,
    })))
}

/// What the limits came to, in words: that all hold, or which are broken, not covered or not shown.
#[must_use]
pub fn broken(case: &Case, single: &SinglePass) -> String {
    let verdicts = Verdicts::of_pass(&case.problem, single);
    if verdicts.limits.is_empty() {
        return String::new();
    }
    let of = |verdict| {
        verdicts
            .limits
            .iter()
            .filter(move |limit| limit.verdict == verdict)
    };
    let mut words: Vec<String> = of(Verdict::Broken)
        .filter(|limit| limit.kind.spec().of != Some(Quantity::SpotHeatFlux))
        .map(|limit| super::limit_words::broken_by(case, limit.kind, &single.flown.result))
        .collect();
    words.extend(super::heat_text::broken_spots(single));
    let mut text = match verdicts.all {
        Verdict::Held => "All limits hold.".to_owned(),
        Verdict::NotShown => "Not shown: the flight failed.".to_owned(),
        _ if !words.is_empty() => format!("Broken: {}.", words.join("; ")),
        _ => String::new(),
    };
    if let Some(remark) = coverage_words::remark(case, &verdicts) {
        text = format!("{text} {remark}");
    }
    if verdicts.all == Verdict::NotCovered && of(Verdict::Held).next().is_some() {
        text.push_str(" The other limits hold.");
    }
    text.trim_start().to_owned()
}
