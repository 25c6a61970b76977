//! `summary.json` of an influence study: stable keys, documented in the README.

use super::influence_text::halving_words;
use crate::ensemble::quantile::Estimate;
use crate::ensemble::sobol::Indices;
use crate::study::Case;
use crate::study::band::Band;
use crate::study::influence::{AimChoice, Change, Halving, Influence, Unknown};
use serde_json::{Value, json};

/// The summary. `wall_time_s` is the one entry that differs between equal runs.
#[must_use]
pub fn influence_summary(case: &Case, found: &Influence, wall_time_s: f64) -> Value {
    let ask = &case.scenario.ask;
    let outputs = found.outputs.iter().map(|output| {
        let mut value = shares(found, &output.indices);
        value["output"] = json!(output.output.key());
        value
    });
    let mut broken = shares(found, &found.broken.indices);
    broken["samples"] = json!(found.broken.tally.samples);
    broken["broken"] = json!(found.broken.tally.broken_any);
    let (band, why) = match &found.band {
        Ok(Some(band)) => (band_value(band), Value::Null),
        Ok(None) => (
            Value::Null,
            json!("no aim reaches the probability asked for"),
        ),
        Err(why) => (Value::Null, json!(why)),
    };
    json!({
        "study": "influence",
        "scenario": case.scenario.title,
        "world": case.world.body().name,
        "air": super::air_grades::summary(case),
        "heating_errors": super::heat_text::errors_json(case),
        "seed": ask.seed,
        "required_probability": ask.probability,
        "confidence": ask.confidence,
        "aim_periapsis_km": found.aim.0 / 1e3,
        "aim_is": choice_key(found.aim.1),
        "rows": found.rows,
        "sources": found.sources.iter().map(|source| json!({
            "source": source.key(),
            "name": source.words(),
            "correlated": source.is_correlated(),
        })).collect::<Vec<_>>(),
        "outputs": outputs.collect::<Vec<_>>(),
        "coverage": super::coverage_words::range_json(case),
        "limit_broken": broken,
        "band_samples": found.band_samples,
        "safe_periapsis_band_km": band,
        "why_no_band": why,
        "halved": found.halvings.iter().map(|h| halving(case, found, h)).collect::<Vec<_>>(),
        "passes_flown": found.passes_flown,
        "wall_time_s": wall_time_s,
    })
}

fn choice_key(choice: AimChoice) -> &'static str {
    match choice {
        AimChoice::Given => "given",
        AimChoice::Only => "only",
        AimChoice::Recommended => "recommended",
        AimChoice::Likeliest => "likeliest",
    }
}

fn estimate(estimate: &Estimate) -> Value {
    json!({ "value": estimate.value, "lower": estimate.lower, "upper": estimate.upper })
}

fn shares(found: &Influence, indices: &Result<Indices, Unknown>) -> Value {
    match indices {
        Ok(indices) => {
            let shares = found.sources.iter().enumerate().map(|(i, source)| {
                json!({
                    "source": source.key(),
                    "first_order": estimate(&indices.first[i]),
                    "total": estimate(&indices.total[i]),
                })
            });
            json!({
                "output": "limit_broken",
                "mean": indices.mean,
                "std_dev": indices.variance.sqrt(),
                "shares": shares.collect::<Vec<_>>(),
                "first_order_sum": estimate(&indices.first_sum),
                "rests_on": indices.rows,
                "why_unknown": null,
            })
        }
        Err(why) => json!({
            "output": "limit_broken",
            "mean": null,
            "std_dev": null,
            "shares": null,
            "first_order_sum": null,
            "rests_on": 0,
            "why_unknown": why.to_string(),
        }),
    }
}

fn band_value(band: &Band) -> Value {
    json!({
        "low": band.low.aim_m / 1e3,
        "high": band.high.aim_m / 1e3,
        "low_limit": band.low.key(),
        "high_limit": band.high.key(),
    })
}

fn halving(case: &Case, found: &Influence, halving: &Halving) -> Value {
    let base = found.band.as_ref().ok();
    let base = base.and_then(Option::as_ref);
    let in_km = |m: f64| m / 1e3;
    let wider = match halving.change {
        Change::Wider(by) => json!({
            "value": in_km(by.value),
            "lower": by.lower.map(in_km),
            "upper": by.upper.map(in_km),
        }),
        _ => Value::Null,
    };
    json!({
        "source": found.sources.get(halving.source).map(crate::ensemble::sources::Source::key),
        "widens_band_by_km": wider,
        "safe_periapsis_band_km": halving.band.as_ref().map(band_value),
        "says": halving_words(case, found, (base, halving)),
    })
}
