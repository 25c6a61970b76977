//! `summary.json` of a corridor: stable keys, documented in the README.

use super::corridor_words::{bank_words, demand_key, energy_axis};
use crate::ensemble::interval::Interval;
use crate::ensemble::problem::Numbers;
use crate::study::Case;
use crate::study::corridor::demand::Bank;
use crate::study::corridor::exits::Exit;
use crate::study::corridor::one_bank::OneBank;
use crate::study::corridor::stretch::{Edge, Stretch};
use crate::study::corridor::trace::Traced;
use crate::study::corridor::{AtArrival, Corridor, CorridorResult, angle_at, lift_to_drag};
use serde_json::{Map, Value, json};

/// The summary. `wall_time_s` is the one entry that differs between equal runs.
#[must_use]
pub fn summary(case: &Case, result: &CorridorResult, wall_time_s: f64) -> Value {
    let own = result.own();
    let about = |corridor: fn(&AtArrival) -> &Corridor| {
        own.map(|at| corridor_value(case, result, (corridor(at), &at.numbers)))
    };
    json!({
        "study": "corridor",
        "scenario": case.scenario.title,
        "world": case.world.body().name,
        "air": super::air_grades::summary(case),
        "world_quality": case.world.quality().words(),
        "lift_to_drag": lift_to_drag(&case.problem),
        "entry_speed_km_s": own.map(|at| at.entry_speed_m_s / 1e3),
        "corridor_is": if lift_to_drag(&case.problem) > 0.0 { "upper_bound" } else { "exact" },
        "one_bank_of_deliveries": result.held_by_one.as_ref().map(|one| json!({
            "bank_deg": one.bank_rad.to_degrees(),
            "aim_periapsis_km": one.aim_m / 1e3,
            "deliveries": one.deliveries,
            "held": one.held,
            "probability_held": held_interval(case, one),
        })),
        "corridor": about(|at| &at.corridor),
        "without_lift": about(|at| &at.without_lift),
        "one_bank": own.and_then(|at| {
            let stretch = result.one_bank?;
            Some(stretch_value(case, result, (stretch, &at.numbers)))
        }),
        "arrivals": result.arrivals.iter().map(|at| arrival(case, result, at)).collect::<Vec<_>>(),
        "banks": banks(case, result),
        "map": map(result),
        "exit": exits(result),
        "delivery": delivery(case, result),
        "coverage": super::coverage_words::range_json(case),
        "failed_flights": result.failed,
        "passes_flown": result.passes_flown,
        "wall_time_s": wall_time_s,
    })
}

fn held_interval(case: &Case, one: &OneBank) -> Option<Value> {
    let confidence = case.scenario.ask.confidence;
    let held = Interval::clopper_pearson(one.held, one.deliveries, confidence);
    held.ok().as_ref().map(super::summary::interval)
}

fn degrees(case: &Case, aim_m: f64, numbers: &Numbers) -> Option<f64> {
    angle_at(&case.problem, aim_m, numbers).map(f64::to_degrees)
}

fn edge_value(case: &Case, result: &CorridorResult, (edge, numbers): (Edge, &Numbers)) -> Value {
    let owner = edge.owner;
    let key = owner.and_then(|(demand, _)| result.demands.get(demand).copied().map(demand_key));
    json!({
        "aim_periapsis_km": edge.aim_m / 1e3,
        "flight_path_angle_deg": degrees(case, edge.aim_m, numbers),
        "limit": key,
        "flown": owner.map(|(_, bank)| bank.key()),
    })
}

fn stretch_value(
    case: &Case,
    result: &CorridorResult,
    (stretch, numbers): (Stretch, &Numbers),
) -> Value {
    let (low, high) = (stretch.low, stretch.high);
    let angle = |edge: Edge| degrees(case, edge.aim_m, numbers);
    json!({
        "steep": edge_value(case, result, (low, numbers)),
        "shallow": edge_value(case, result, (high, numbers)),
        "width_km": stretch.width_m() / 1e3,
        "width_deg": angle(high).zip(angle(low)).map(|(high, low)| high - low),
    })
}

/// A corridor with its edges; one that is closed says which edges have crossed.
fn corridor_value(
    case: &Case,
    result: &CorridorResult,
    (corridor, numbers): (&Corridor, &Numbers),
) -> Value {
    let mut value = Map::new();
    value.insert("open".to_owned(), json!(corridor.open().is_some()));
    match corridor {
        Corridor::Open(stretch) => {
            if let Value::Object(parts) = stretch_value(case, result, (*stretch, numbers)) {
                value.extend(parts);
            }
        }
        Corridor::Closed { low, high } => {
            let crossed = Stretch {
                low: *low,
                high: *high,
            };
            if let Value::Object(parts) = stretch_value(case, result, (crossed, numbers)) {
                value.extend(parts);
            }
        }
        Corridor::Never(demand) => {
            let key = result.demands.get(*demand).copied().map(demand_key);
            value.insert("never_held".to_owned(), json!(key));
        }
    }
    Value::Object(value)
}

fn arrival(case: &Case, result: &CorridorResult, at: &AtArrival) -> Value {
    let (key, _, unit) = energy_axis(case);
    let mut value = Map::new();
    value.insert(key.to_owned(), json!(at.energy / unit));
    value.insert(
        "entry_speed_km_s".to_owned(),
        json!(at.entry_speed_m_s / 1e3),
    );
    value.insert("own".to_owned(), json!(at.nominal));
    value.insert(
        "corridor".to_owned(),
        corridor_value(case, result, (&at.corridor, &at.numbers)),
    );
    value.insert(
        "without_lift".to_owned(),
        corridor_value(case, result, (&at.without_lift, &at.numbers)),
    );
    let mut edges = edges(case, result, (Bank::Up, &at.up, &at.numbers));
    edges.extend(self::edges(
        case,
        result,
        (Bank::Down, &at.down, &at.numbers),
    ));
    value.insert("edges".to_owned(), Value::Array(edges));
    Value::Object(value)
}

fn edges(
    case: &Case,
    result: &CorridorResult,
    (bank, traced, numbers): (Bank, &Traced, &Numbers),
) -> Vec<Value> {
    let mut values = Vec::new();
    for (&demand, held) in result.demands.iter().zip(&traced.held) {
        for stretch in held {
            let end = |edge: Edge| {
                edge.owner.map(|_| {
                    json!({
                        "aim_periapsis_km": edge.aim_m / 1e3,
                        "flight_path_angle_deg": degrees(case, edge.aim_m, numbers),
                    })
                })
            };
            values.push(json!({
                "limit": demand_key(demand),
                "flown": bank.key(),
                "held_from": end(stretch.low),
                "held_to": end(stretch.high),
            }));
        }
    }
    values
}

fn banks(case: &Case, result: &CorridorResult) -> Vec<Value> {
    let Some(own) = result.own() else {
        return Vec::new();
    };
    let banks = result.banks.iter();
    banks
        .map(|held| {
            let all = held.all.iter();
            let all = all.map(|stretch| stretch_value(case, result, (*stretch, &own.numbers)));
            json!({
                "bank_deg": held.bank_rad.to_degrees(),
                "all_limits_hold": all.collect::<Vec<_>>(),
            })
        })
        .collect()
}

fn map(result: &CorridorResult) -> Vec<Value> {
    let cells = result.map.iter();
    cells
        .map(|cell| {
            let at = &result.arrivals[cell.arrival];
            json!({
                "lift_to_drag": cell.lift_to_drag,
                "entry_speed_km_s": at.entry_speed_m_s / 1e3,
                "width_km": cell.corridor.width_m().map(|m| m / 1e3),
                "width_deg": cell.width_rad.map(f64::to_degrees),
            })
        })
        .collect()
}

fn exit_value(bank: Bank, place: &str, exit: &Exit) -> Value {
    json!({
        "flown": bank_words(bank),
        "at": place,
        "aim_periapsis_km": exit.aim_m / 1e3,
        "ending": exit.ending.word(),
        "exit_speed_m_s": exit.speed_m_s,
        "exit_speed_m_s_per_km": exit.speed_per_m.map(|slope| slope * 1e3),
        "apoapsis_altitude_km": exit.apoapsis_m.map(|m| m / 1e3),
        "apoapsis_km_per_km": exit.apoapsis_per_m,
    })
}

fn exits(result: &CorridorResult) -> Vec<Value> {
    let Some(exits) = &result.exits else {
        return Vec::new();
    };
    let mut values = Vec::new();
    for (bank, at) in &exits.at {
        for (place, exit) in ["steep_edge", "middle", "shallow_edge"].iter().zip(at) {
            values.push(exit_value(*bank, place, exit));
        }
    }
    values
}

fn delivery(case: &Case, result: &CorridorResult) -> Option<Value> {
    let (delivered, own) = (result.delivered.as_ref()?, result.own()?);
    let angle = |aim_m: f64| angle_at(&case.problem, aim_m, &own.numbers);
    let lifts = lift_to_drag(&case.problem) > 0.0;
    let sigma = delivered.angle_sigma_rad;
    let away = |edge_m: f64| {
        let difference = angle(edge_m)? - angle(delivered.aim_m)?;
        (sigma > 0.0).then_some(difference / sigma)
    };
    let edges = own.corridor.edges();
    Some(json!({
        "aim_periapsis_km": delivered.aim_m / 1e3,
        "samples": delivered.samples,
        "inside": (!lifts).then_some(delivered.inside),
        "inside_upper_bound": lifts.then_some(delivered.inside),
        "flight_path_angle_sigma_deg": sigma.to_degrees(),
        "entry_speed_sigma_m_s": delivered.speed_sigma_m_s,
        "periapsis_sigma_km": delivered.periapsis_sigma_m / 1e3,
        "steep_edge_sigmas": edges.and_then(|(low, _)| away(low.aim_m)),
        "shallow_edge_sigmas": edges.and_then(|(_, high)| away(high.aim_m)),
    }))
}
