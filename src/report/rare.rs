//! What is said of rare accidents: in the answer, the tables, the page and the summary of a band.

use super::grid::{Cell, Grid, Tone};
use super::limit_words::{broken_words, name};
use super::number::{count, percent};
use crate::ensemble::interval::Interval;
use crate::study::Case;
use crate::study::band::BandResult;
use crate::study::rare::{Accidents, LimitChance};
use serde_json::{Value, json};

/// Numbers of the likeliest accident that are told.
const TOLD: usize = 3;

/// The accidents at the recommended aim, where they were looked for.
#[must_use]
pub(super) fn at_recommended(result: &BandResult) -> Option<&Accidents> {
    result.recommended.accidents.as_ref()
}

/// What the answer says of them.
#[must_use]
pub(super) fn remark(case: &Case, result: &BandResult) -> Option<String> {
    if !result.rare {
        return None;
    }
    let samples = format!(
        "{} samples at an aim cannot show {}: rare accidents were searched for by subset simulation.",
        count(result.samples),
        percent(case.scenario.ask.probability),
    );
    let Some(accidents) = at_recommended(result) else {
        return Some(samples);
    };
    let chance = &accidents.any;
    let words = if chance.estimate > 0.0 {
        format!(
            "A limit is broken in {} of arrivals ({} to {}).",
            percent(chance.estimate),
            percent(chance.lower),
            percent(chance.upper),
        )
    } else {
        format!(
            "No accident was met; at most {} of arrivals break a limit.",
            percent(chance.upper)
        )
    };
    let likeliest = accidents
        .likeliest()
        .map(|limit| format!(" Likeliest: {}.", likeliest_words(case, limit)));
    let unflown = accidents.unflown();
    let unflown = (unflown > 0.0).then(|| {
        let share = percent(unflown);
        format!(" {share} of arrivals have no result, which counts as not held.")
    });
    Some(format!(
        "{samples} {words}{}{}",
        unflown.unwrap_or_default(),
        likeliest.unwrap_or_default()
    ))
}

/// The likeliest accident by a limit: the limit, and the numbers that are farthest out.
fn likeliest_words(case: &Case, limit: &LimitChance) -> String {
    format!(
        "{}, with {}",
        broken_words(case, limit.kind),
        scores_words(limit)
    )
}

/// The numbers that are farthest out, in standard deviations of their normal score.
fn scores_words(limit: &LimitChance) -> String {
    let told = limit.likeliest.iter().take(TOLD).map(|(number, score)| {
        let sign = if *score < 0.0 { '\u{2212}' } else { '+' };
        format!("{} {sign}{:.1}σ", number.words(), score.abs())
    });
    told.collect::<Vec<_>>().join(", ")
}

/// Each limit with its chance and its likeliest accident.
#[must_use]
pub(super) fn table(case: &Case, accidents: &Accidents) -> Grid {
    let mut grid = Grid::new()
        .words("broken when")
        .numbers("chance")
        .numbers("at least")
        .numbers("at most")
        .words("likeliest with");
    for limit in &accidents.limits {
        grid.row([
            broken_words(case, limit.kind),
            percent(limit.broken.estimate),
            percent(limit.broken.lower),
            percent(limit.broken.upper),
            scores_words(limit),
        ]);
    }
    let mut whole = vec![("any limit", &accidents.any)];
    if accidents.unflown() > 0.0 {
        whole.push(("any limit, or no result", &accidents.not_held));
    }
    for (name, any) in whole {
        let kept = any.upper <= 1.0 - case.scenario.ask.probability;
        let tone = if kept { Tone::Good } else { Tone::Bad };
        grid.row([
            Cell::from(name),
            Cell::new(percent(any.estimate), tone),
            Cell::new(percent(any.lower), tone),
            Cell::new(percent(any.upper), tone),
            Cell::from(""),
        ]);
    }
    grid
}

/// What stands above the table.
#[must_use]
pub(super) fn caption(case: &Case, accidents: &Accidents) -> String {
    format!(
        "by subset simulation, {} passes; with {} confidence; σ: standard deviations from the median",
        count(accidents.passes),
        percent(case.scenario.ask.confidence),
    )
}

/// The entry of `summary.json`.
#[must_use]
pub(super) fn summary(case: &Case, accidents: &Accidents) -> Value {
    let limits = accidents.limits.iter().map(|limit| {
        let likeliest = limit
            .likeliest
            .iter()
            .map(|(number, score)| json!({ "number": number.key(), "standard_deviations": score }));
        json!({
            "limit": limit.kind.key(),
            "name": name(case, limit.kind),
            "probability_broken": interval(&limit.broken),
            "likeliest": likeliest.collect::<Vec<_>>(),
            "likeliest_small_scale_field_rms": limit.field,
        })
    });
    json!({
        "method": "subset simulation",
        "passes": accidents.passes,
        "probability_any_broken": interval(&accidents.any),
        "probability_not_held": interval(&accidents.not_held),
        "limits": limits.collect::<Vec<_>>(),
    })
}

fn interval(interval: &Interval) -> Value {
    json!({ "estimate": interval.estimate, "lower": interval.lower, "upper": interval.upper })
}
