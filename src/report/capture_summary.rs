//! `summary.json` of a comparison of captures: stable keys, documented in the README.

use super::capture_words::{break_key, break_words, row_name, way_key};
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::study::Case;
use crate::study::capture::{Comparison, Costs, MoonFacts, Row, SplitTried, StretchKind, Way};
use serde_json::{Value, json};

const DAY_S: f64 = 86_400.0;

/// The summary. `wall_time_s` is the one entry that differs between equal runs.
#[must_use]
pub fn summary(case: &Case, comparison: &Comparison, wall_time_s: f64) -> Value {
    let best = comparison.best().map(|(_, row, costs)| {
        json!({
            "name": row_name(row),
            "arrival": arrival(row),
            "way": way_key(&row.way),
            "propellant_kg": costs.reserve_kg,
            "heat_shield_kg": costs.shield_kg,
            "propellant_and_heat_shield_kg": costs.spent_kg(),
            "mass_delivered_kg": costs.delivered_kg,
        })
    });
    let mut value = shared(case, comparison);
    if let Value::Object(map) = &mut value {
        map.insert("most_delivered".to_owned(), json!(best));
        // The same way under its older key: the least propellant is that of the ship with its heat shield.
        map.insert("least_propellant".to_owned(), json!(best));
        map.insert(
            "coverage".to_owned(),
            super::coverage_words::range_json(case),
        );
        map.insert("ways".to_owned(), rows(case, comparison));
        map.insert("passes_flown".to_owned(), json!(comparison.passes_flown));
        map.insert("wall_time_s".to_owned(), json!(wall_time_s));
    }
    value
}

/// What a stopped run had done: the ways that were complete.
#[must_use]
pub fn partial(case: &Case, kept: &Comparison) -> Value {
    let mut value = shared(case, kept);
    if let Value::Object(map) = &mut value {
        map.insert("complete".to_owned(), json!(false));
        map.insert("ways".to_owned(), rows(case, kept));
    }
    value
}

fn shared(case: &Case, comparison: &Comparison) -> Value {
    let ask = &case.scenario.ask;
    let target = case.scenario.capture.as_ref().map(|capture| {
        let target = &capture.target;
        json!({
            "periapsis_altitude_km": target.periapsis_m / 1e3,
            "apoapsis_altitude_km": target.apoapsis_m / 1e3,
            "tolerance_km": target.tolerance_m / 1e3,
        })
    });
    json!({
        "study": "capture",
        "scenario": case.scenario.title,
        "world": case.world.body().name,
        "air": super::air_grades::summary(case),
        "heating_errors": super::heat_text::errors_json(case),
        "world_quality": case.world.quality().words(),
        "world_presets": case.world.applied_presets(),
        "seed": ask.seed,
        "samples": comparison.rows.iter().filter_map(|row| Some(row.costs.as_ref().ok()?.samples)).max(),
        "required_probability": ask.probability,
        "confidence": ask.confidence,
        "passengers": case.scenario.ship.passengers,
        "mass_kg": case.scenario.ship.mass_kg,
        "target": target,
    })
}

fn rows(case: &Case, comparison: &Comparison) -> Value {
    comparison.rows.iter().map(|row| value(case, row)).collect()
}

fn arrival(row: &Row) -> &str {
    if row.arrival.is_empty() {
        "planned"
    } else {
        &row.arrival
    }
}

fn value(case: &Case, row: &Row) -> Value {
    let (moon, burns, burn_m_s) = match &row.way {
        Way::Engine { burns } => (None, Some(*burns), None),
        Way::MoonThenEngine { moon, burns } => (Some(moon.as_str()), Some(*burns), None),
        Way::MoonThenAir { moon } => (Some(moon.as_str()), None, None),
        Way::BurnThenAir {
            speed_change_m_s, ..
        } => (None, None, Some(*speed_change_m_s)),
        Way::Air | Way::GentlePasses => (None, None, None),
    };
    json!({
        "name": row_name(row),
        "arrival": arrival(row),
        "way": way_key(&row.way),
        "moon": moon,
        "burns": burns,
        "burn_before_entry_m_s": burn_m_s,
        "air_brakes": match row.way {
            Way::BurnThenAir { air_brakes, .. } => Some(air_brakes),
            _ => None,
        },
        "closed": row.costs.as_ref().err().map(ToString::to_string),
        "costs": row.costs.as_ref().ok().map(|costs| costs_value(case, costs)),
        "flyby": row.moon.as_ref().map(moon_value),
        "burns_tried": row.splits.iter().map(split_value).collect::<Vec<_>>(),
        "sweep": row.sweep.iter().map(|(speed, costs)| json!({
            "burn_before_entry_m_s": speed,
            "costs": costs_value(case, costs),
        })).collect::<Vec<_>>(),
    })
}

fn costs_value(case: &Case, costs: &Costs) -> Value {
    let passengers = f64::from(case.scenario.ship.passengers);
    let each = |kg: Option<f64>| kg.filter(|_| passengers > 0.0).map(|kg| kg / passengers);
    json!({
        "aim_periapsis_km": costs.aim_m.map(|aim| aim / 1e3),
        "safe_periapsis_band_km": costs.band.as_ref().map(|band| json!({
            "low": band.low.aim_m / 1e3,
            "high": band.high.aim_m / 1e3,
        })),
        "speed_by_air_m_s": finite(costs.air_speed_m_s),
        "speed_by_engine_m_s": finite(costs.engine_speed_m_s),
        "propellant_median_kg": costs.propellant_kg,
        "propellant_kg": costs.reserve_kg,
        "propellant_before_arrival_kg": costs.extra_kg,
        "heat_shield_kg": costs.shield_kg,
        "heat_shield_share": costs.shield.map(|shield| shield.mass_share),
        "heat_shield_fit_in_range": costs.shield.map(|shield| shield.in_range),
        "propellant_and_heat_shield_kg": costs.spent_kg(),
        "mass_delivered_kg": costs.delivered_kg,
        "propellant_per_passenger_kg": each(costs.reserve_kg),
        "heat_shield_per_passenger_kg": each(Some(costs.shield_kg)),
        "mass_delivered_per_passenger_kg": each(costs.delivered_kg),
        "peak_deceleration_g": costs.peak_m_s2 / G0,
        "onset_g_s": costs.onset_m_s3 / G0,
        "peak_heat_flux_w_cm2": costs.heat_flux_w_m2 / 1e4,
        "heat_load_j_cm2": costs.heat_load_j_m2 / 1e4,
        "passes": finite(costs.passes),
        "days_to_target": finite(costs.time_s() / DAY_S),
        "stretches_days": costs.stretches.iter().map(|stretch| json!({
            "stretch": stretch_name(stretch.kind),
            "days": finite(stretch.duration_s / DAY_S),
        })).collect::<Vec<_>>(),
        "probability_held": {
            "estimate": costs.held.estimate,
            "lower": costs.held.lower,
            "upper": costs.held.upper,
        },
        "holds": costs.holds(),
        "verdict": costs.verdict.key(),
        "no_result": costs.unflown,
        "not_shown_for_want_of_results": costs.undecided,
        "samples": costs.samples,
        "broken": costs.broken.iter().map(|(what, count)| json!({
            "what": break_key(*what),
            "words": break_words(case, *what),
            "samples": count,
        })).collect::<Vec<_>>(),
        "set_by": costs.ruling.map(break_key),
    })
}

fn stretch_name(kind: StretchKind) -> &'static str {
    let found = StretchKind::ALL.iter().find(|(other, _)| *other == kind);
    found.map_or("", |(_, name)| name)
}

fn moon_value(moon: &MoonFacts) -> Value {
    json!({
        "relative_speed_m_s": moon.relative_speed_m_s,
        "turn_deg": moon.turn_rad.to_degrees(),
        "turn_to_close_the_orbit_deg": moon.wanted_rad.map(f64::to_degrees),
        "flybys_for_that_turn": moon.flybys,
        "excess_speed_after_m_s": (moon.twice_energy_after > 0.0).then(|| moon.twice_energy_after.sqrt()),
        "apoapsis_altitude_after_km": moon.apoapsis_altitude_m.map(|altitude| altitude / 1e3),
        "inclination_after_deg": moon.inclination_rad.to_degrees(),
    })
}

fn split_value(split: &SplitTried) -> Value {
    json!({
        "burns": split.burns,
        "speed_change_m_s": split.speed_change_m_s,
        "impulse_m_s": split.impulse_m_s,
        "loss_m_s": split.speed_change_m_s - split.impulse_m_s,
        "robbins_estimate_m_s": split.robbins_m_s,
        "robbins_valid": split.robbins_holds,
        "days": split.duration_s / DAY_S,
        "taken": split.taken,
    })
}

/// Null for what is not a number.
fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}
