//! `summary.json` of campaigns: stable keys, documented in the README.

use super::campaign_text::shown_unit;
use crate::ensemble::campaign::CampaignEnding;
use crate::ensemble::interval::Interval;
use crate::ensemble::quantile::{Described, Estimate, Sorted};
use crate::scenario::campaign::Campaign;
use crate::study::Case;
use crate::study::campaign::{CampaignOutcome, CampaignQuantity, SpotWarmth};
use serde_json::{Map, Value, json};

/// The summary. `wall_time_s` is the one entry that differs between equal runs; `complete` is false where the
/// run was stopped before all campaigns were flown.
#[must_use]
pub fn campaign_summary(
    case: &Case,
    rule: &Campaign,
    (outcome, walls): (&CampaignOutcome, &[SpotWarmth]),
    (passes, wall_time_s): (u64, f64),
) -> Value {
    let confidence = case.scenario.ask.confidence;
    let flown = outcome.campaigns.len() as u64;
    let chance = |count: u64| {
        outcome
            .probability(count, confidence)
            .as_ref()
            .map(interval)
    };
    let reached = outcome.endings()[CampaignEnding::Reached as usize];
    json!({
        "study": "campaign",
        "complete": flown == outcome.asked,
        "scenario": case.scenario.title,
        "world": case.world.body().name,
        "air": super::air_grades::summary(case),
        "heating_errors": super::heat_text::errors_json(case),
        "world_quality": case.world.quality().words(),
        "world_presets": case.world.applied_presets(),
        "seed": case.scenario.ask.seed,
        "confidence": confidence,
        "campaigns_asked": outcome.asked,
        "campaigns": flown,
        "coverage": super::coverage_words::range_json(case),
        "probability_held": chance(outcome.held()),
        "probability_reached": chance(reached),
        "probability_decayed": chance(outcome.endings()[CampaignEnding::Decayed as usize]),
        "endings": endings(outcome),
        "at_campaigns": quantities(outcome, confidence),
        "limits": limits(case, outcome),
        "walls": walls.iter().map(wall).collect::<Vec<_>>(),
        "control": control(rule, outcome),
        "target": {
            "apoapsis_altitude_km": rule.target_apoapsis_m / 1e3,
            "periapsis_altitude_km": rule.raised_periapsis_m / 1e3,
        },
        "example_campaign": outcome.example().map(|(result, _)| result.campaign),
        "air_up_to_km": outcome.interface_m / 1e3,
        "passes_flown": passes,
        "wall_time_s": wall_time_s,
    })
}

fn interval(interval: &Interval) -> Value {
    json!({ "estimate": interval.estimate, "lower": interval.lower, "upper": interval.upper })
}

fn endings(outcome: &CampaignOutcome) -> Value {
    let counts = CampaignEnding::ALL.iter().zip(outcome.endings());
    Value::Object(
        counts
            .map(|(ending, count)| (ending.word().to_owned(), json!(count)))
            .collect(),
    )
}

fn quantities(outcome: &CampaignOutcome, confidence: f64) -> Value {
    let mut all = Map::new();
    for quantity in CampaignQuantity::ALL {
        let described = outcome.described(quantity, confidence);
        let value = described.as_ref().map_or(Value::Null, description);
        all.insert(quantity.key().to_owned(), value);
    }
    Value::Object(all)
}

fn description(described: &Described) -> Value {
    let estimate = |e: &Estimate| json!({ "value": e.value, "lower": e.lower, "upper": e.upper });
    json!({
        "count": described.count,
        "mean": estimate(&described.mean),
        "std_dev": estimate(&described.std_dev),
        "p05": estimate(&described.p05),
        "p50": estimate(&described.p50),
        "p95": estimate(&described.p95),
        "p99": estimate(&described.p99),
    })
}

fn limits(case: &Case, outcome: &CampaignOutcome) -> Value {
    let confidence = case.scenario.ask.confidence;
    let entries = case.problem.limits().entries().iter();
    entries
        .zip(outcome.broken())
        .map(|(limit, broken)| {
            let broken = (!limit.kind.is_of_the_way_out()).then_some(broken);
            let probability = broken.and_then(|broken| outcome.probability(broken, confidence));
            json!({
                "limit": limit.kind.key(),
                "name": super::limit_words::name(case, limit.kind),
                "allowed": super::limit_words::value_text(limit.kind, limit.allowed),
                "campaigns_broken": broken,
                "probability_broken": probability.as_ref().map(interval),
            })
        })
        .collect()
}

fn wall(wall: &SpotWarmth) -> Value {
    let face = |values: Vec<f64>, limit_k: Option<f64>| {
        let sorted = Sorted::new(values).ok()?;
        let above = |limit: f64| sorted.values().iter().filter(|k| **k > limit).count();
        Some(json!({
            "p05_k": sorted.quantile(0.05),
            "p50_k": sorted.quantile(0.5),
            "p95_k": sorted.quantile(0.95),
            "highest_k": sorted.values().last(),
            "limit_k": limit_k,
            "campaigns_above_limit": limit_k.map(above),
        }))
    };
    json!({
        "spot": wall.name,
        "takes_time": wall.takes_time,
        "campaigns": wall.campaigns.len(),
        "surface": face(wall.worst_surface_k(), wall.highest_k),
        "behind": face(wall.worst_back_k(), wall.highest_back_k),
    })
}

fn control(rule: &Campaign, outcome: &CampaignOutcome) -> Value {
    let (unit, factor) = shown_unit(rule.control.quantity);
    let [met, below, above] = outcome.band_shares().unwrap_or([f64::NAN; 3]);
    json!({
        "quantity": rule.control.quantity.key(),
        "unit": unit.replace('²', "2"),
        "low": rule.control.low * factor,
        "high": rule.control.high * factor,
        "target": rule.control.target * factor,
        "share_of_passes_in_band": number(met),
        "share_below": number(below),
        "share_above": number(above),
        "forecast_error_log": number(outcome.median(|c| c.forecast_error)),
    })
}

/// A number that may be missing.
fn number(value: f64) -> Value {
    if value.is_finite() {
        json!(value)
    } else {
        Value::Null
    }
}
