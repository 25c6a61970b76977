//! `summary.json` of a band: stable keys, documented in the README.

use crate::ensemble::LimitKind;
use crate::ensemble::interval::Interval;
use crate::ensemble::quantile::{Described, Estimate};
use crate::pass::Ending;
use crate::study::afterwards::NextRound;
use crate::study::band::{Band, BandResult, Empty};
use crate::study::held::Held;
use crate::study::outcome::Outcome;
use crate::study::verdicts::Verdicts;
use crate::study::{Case, aims::AimPoint};
use serde_json::{Map, Value, json};

/// The summary of a band study. `wall_time_s` is the one entry that differs between equal runs.
#[must_use]
pub fn band_summary(
    case: &Case,
    result: &BandResult,
    (outcome, unsteered): (&Outcome, Option<&Held>),
    wall_time_s: f64,
) -> Value {
    let why = |empty: &Empty| why_value(case, empty);
    let verdicts = super::band_text::verdicts(case, result, outcome);
    let mut all = found("band", case, (result, &why), verdicts.as_ref());
    let aim_m = result.recommended.aim_m;
    let more = json!({
        "at_recommended": described(outcome),
        "vacuum_low_at_recommended_km": case.problem.vacuum_low_m(aim_m).map(|low| low / 1e3),
        "next_round_at_recommended": super::pass_text::next_round_json(
            NextRound::nominal(&case.problem, aim_m).as_ref(),
        ),
        "rare_accidents": super::rare::at_recommended(result).map(|found| super::rare::summary(case, found)),
        "steering": unsteered.map(|held| super::steered::summary(case, outcome, held)),
    });
    extend(&mut all, more);
    extend(&mut all, counted(case, result, Some(outcome)));
    all.insert("wall_time_s".to_owned(), json!(wall_time_s));
    Value::Object(all)
}

/// What the summary of every search for a band begins with: what was asked and what was found.
pub(super) fn found(
    study: &str,
    case: &Case,
    (result, why): (&BandResult, &dyn Fn(&Empty) -> Value),
    verdicts: Option<&Verdicts>,
) -> Map<String, Value> {
    let ask = &case.scenario.ask;
    let (best, told_by) = (&result.recommended, &result.told_by);
    let (band, why) = match &result.band {
        Ok(band) => (band_value(band), Value::Null),
        Err(empty) => (Value::Null, why(empty)),
    };
    let value = json!({
        "study": study,
        "scenario": case.scenario.title,
        "world": case.world.body().name,
        "air": super::air_grades::summary(case),
        "heating_errors": super::heat_text::errors_json(case),
        "world_quality": case.world.quality().words(),
        "world_presets": case.world.applied_presets(),
        "seed": ask.seed,
        "samples": result.samples,
        "required_probability": ask.probability,
        "confidence": ask.confidence,
        "verdict": verdicts.map(|verdicts| verdicts.all.key()),
        "safe_periapsis_band_km": band,
        "why_no_band": why,
        "recommended_periapsis_km": (best.tally.held() > 0).then_some(best.aim_m / 1e3),
        "not_shown_for_want_of_results_at_km": result.undecided_m.map(|aim_m| aim_m / 1e3),
        "probability_at_recommended": interval(&best.held),
        "interval_is_for": "one_aim",
        "told_by_samples": { "first": told_by.start, "count": told_by.end - told_by.start },
    });
    let mut all = Map::new();
    extend(&mut all, value);
    all
}

/// What it goes on with: the samples of the aim to take, every aim, and the passes.
pub(super) fn counted(case: &Case, result: &BandResult, outcome: Option<&Outcome>) -> Value {
    let unflown = outcome.map(super::unflown::summary);
    json!({
        "outcomes": outcome.map(outcomes),
        "limits": outcome.map(|outcome| {
            let verdicts = super::band_text::verdicts(case, result, outcome);
            limits(case, outcome, verdicts.as_ref())
        }),
        "failed_samples": unflown.as_ref().map(|unflown| &unflown.0),
        "no_approach_samples": unflown.as_ref().map(|unflown| &unflown.1),
        "aims": result.points.iter().map(|point| aim(case, point)).collect::<Vec<_>>(),
        "passes_flown": result.passes_flown,
    })
}

/// Puts the entries of an object behind those that are there.
pub(super) fn extend(all: &mut Map<String, Value>, more: Value) {
    if let Value::Object(more) = more {
        all.extend(more);
    }
}

/// What a stopped run had done: the aims that were complete.
#[must_use]
pub fn partial(case: &Case, kept: &[AimPoint]) -> Value {
    json!({
        "study": "band",
        "complete": false,
        "scenario": case.scenario.title,
        "seed": case.scenario.ask.seed,
        "samples": case.scenario.ask.samples,
        "aims": kept.iter().map(|point| aim(case, point)).collect::<Vec<_>>(),
    })
}

pub(super) fn interval(interval: &Interval) -> Value {
    json!({ "estimate": interval.estimate, "lower": interval.lower, "upper": interval.upper })
}

pub(super) fn band_value(band: &Band) -> Value {
    json!({
        "low": band.low.aim_m / 1e3,
        "high": band.high.aim_m / 1e3,
        "low_limit": band.low.key(),
        "high_limit": band.high.key(),
        "low_uncertainty": band.low.uncertainty_m / 1e3,
        "high_uncertainty": band.high.uncertainty_m / 1e3,
        "other_bands": band.others,
    })
}

pub(super) fn why_value(case: &Case, empty: &Empty) -> Value {
    let raises = empty.opening.raises.iter().map(|raise| {
        json!({
            "limit": raise.kind.key(),
            "name": super::limit_words::name(case, raise.kind),
            "allowed": super::limit_words::value_text(raise.kind, raise.allowed),
            "needed": super::limit_words::value_text(raise.kind, raise.needed),
        })
    });
    let mut why = colliding(empty);
    why["delivery_error_factor_that_opens"] = json!(empty.opening.delivery_factor);
    why["limits_that_open"] = raises.collect();
    why
}

/// Why there is no band, without what would open it.
pub(super) fn colliding(empty: &Empty) -> Value {
    let key = |kind: Option<LimitKind>| kind.map(LimitKind::key);
    json!({
        "best_aim_km": empty.best_aim_m / 1e3,
        "steep_side_limit": key(empty.colliding.0),
        "shallow_side_limit": key(empty.colliding.1),
    })
}

pub(super) fn described(outcome: &Outcome) -> Value {
    let mut all = Map::new();
    for (quantity, described) in &outcome.described {
        let value = described.as_ref().map_or(Value::Null, description);
        all.insert(quantity.key().to_owned(), value);
    }
    Value::Object(all)
}

pub(super) fn description(described: &Described) -> Value {
    let estimate = |e: &Estimate| json!({ "value": e.value, "lower": e.lower, "upper": e.upper });
    json!({
        "count": described.count,
        "mean": estimate(&described.mean),
        "std_dev": estimate(&described.std_dev),
        "p00_135": estimate(&described.p00_135),
        "p05": estimate(&described.p05),
        "p50": estimate(&described.p50),
        "p95": estimate(&described.p95),
        "p99_865": estimate(&described.p99_865),
    })
}

pub(super) fn outcomes(outcome: &Outcome) -> Value {
    let counts = Ending::ALL.iter().zip(outcome.tally.endings);
    Value::Object(
        counts
            .map(|(ending, count)| (ending.word().to_owned(), json!(count)))
            .collect(),
    )
}

pub(super) fn limits(case: &Case, outcome: &Outcome, verdicts: Option<&Verdicts>) -> Value {
    let entries = case
        .problem
        .limits()
        .entries()
        .iter()
        .zip(&outcome.tally.broken);
    let confidence = case.scenario.ask.confidence;
    entries
        .map(|(limit, &broken)| {
            let chance = Interval::clopper_pearson(broken, outcome.tally.samples, confidence);
            let mut value = json!({
                "limit": limit.kind.key(),
                "name": super::limit_words::name(case, limit.kind),
                "allowed": super::limit_words::value_text(limit.kind, limit.allowed),
                "broken": broken,
                "probability_broken": chance.ok().as_ref().map(interval),
            });
            let found = verdicts.and_then(|verdicts| verdicts.of(limit.kind));
            for (key, said) in found.into_iter().flat_map(super::coverage_words::keys) {
                value[key] = said;
            }
            value
        })
        .collect()
}

pub(super) fn aim(case: &Case, point: &AimPoint) -> Value {
    let entries = case.problem.limits().entries().iter();
    let broken: Vec<Value> = entries
        .zip(&point.tally.broken)
        .map(|(limit, count)| {
            let name = super::limit_words::name(case, limit.kind);
            json!({ "limit": limit.kind.key(), "name": name, "samples": count })
        })
        .collect();
    json!({
        "periapsis_km": point.aim_m / 1e3,
        "probability_held": interval(&point.held),
        "by_rare_accidents": point.accidents.is_some(),
        "broken": broken,
        "no_result": point.tally.unflown(),
    })
}
