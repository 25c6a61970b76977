//! The figures of a band study, from its results.

use super::coverage_words::is_covered;
use super::limit_words::{breaking_name, value_text};
use super::plot::break_curves::{BreakCurve, BreakCurves};
use super::plot::distribution::{Distribution, LimitMark};
use super::plot::ribbons::{Ribbon, Ribbons};
use super::steered::held_curve;
use crate::ensemble::Tally;
use crate::ensemble::interval::Interval;
use crate::study::Case;
use crate::study::band::BandResult;
use crate::study::held::Held;
use crate::study::outcome::{Outcome, Quantity, Ribbons as FlownRibbons};
use crate::study::rare::Accidents;

/// What was found of an accident.
type Searched<'s> = &'s dyn Fn(&Accidents) -> Interval;

/// Probability of breaking each limit against the aim, with the band.
#[must_use]
pub fn break_curves(case: &Case, result: &BandResult, held: Option<&Held>) -> BreakCurves {
    let confidence = case.scenario.ask.confidence;
    let points = &result.points;
    // Of the accidents where they were looked for, else of the counts.
    let chance = |of: &dyn Fn(&Tally) -> u64,
                  searched: Searched<'_>|
     -> (Vec<f64>, Vec<(f64, f64)>) {
        points
            .iter()
            .map(|point| {
                let tally = &point.tally;
                let counted = || Interval::clopper_pearson(of(tally), tally.samples, confidence);
                let found = point.accidents.as_ref().map(|found| Ok(searched(found)));
                found
                    .unwrap_or_else(counted)
                    .map_or((f64::NAN, (f64::NAN, f64::NAN)), |i| {
                        (i.estimate, (i.lower, i.upper))
                    })
            })
            .unzip()
    };
    let limits = case
        .problem
        .limits()
        .entries()
        .iter()
        .enumerate()
        .filter_map(|(index, limit)| {
            let (probability, interval) = chance(&|tally| tally.broken[index], &|found| {
                found.limits[index].broken
            });
            // A limit that no sample breaks at any aim has no curve.
            probability.iter().any(|&p| p > 0.0).then(|| BreakCurve {
                key: limit.kind.numbered_key(),
                name: breaking_name(case, limit.kind),
                probability,
                interval,
            })
        });
    let limits = limits.collect();
    // What has no result is not held.
    let (probability, interval) = chance(&Tally::not_held, &|found| found.not_held);
    BreakCurves {
        title: "Probability of breaking a limit against the aim".to_owned(),
        aim_m: points.iter().map(|point| point.aim_m).collect(),
        limits,
        any: BreakCurve {
            probability,
            interval,
            ..BreakCurve::default()
        },
        held: held.map(|held| held_curve(case, &held.result)),
        required: case.scenario.ask.probability,
        safe_band_m: result
            .band
            .as_ref()
            .ok()
            .map(|band| (band.low.aim_m, band.high.aim_m)),
        recommended_m: Some(result.recommended.aim_m),
        passes: Some(result.samples),
        uncovered: !is_covered(case),
    }
}

/// Histogram and cumulative of a quantity at the recommended aim, with its limit.
#[must_use]
pub fn distribution(case: &Case, outcome: &Outcome, quantity: Quantity) -> Distribution {
    let none = Vec::new();
    let values = outcome
        .values
        .iter()
        .find(|(q, _)| *q == quantity)
        .map_or(&none, |(_, values)| values);
    let described = outcome.described.iter().find(|(q, _)| *q == quantity);
    let (label, unit) = quantity.label();
    let limit = case.problem.limits().on(quantity);
    let marks = described
        .and_then(|(_, described)| described.as_ref())
        .map_or_else(Vec::new, |d| {
            vec![
                ("median".to_owned(), d.p50.value),
                ("99.865 %".to_owned(), d.p99_865.value),
            ]
        });
    let mut title = label.to_owned();
    if let Some(first) = title.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    Distribution {
        title: format!("{title} at {:.2} km", outcome.aim_m / 1e3),
        quantity: label.to_owned(),
        unit: unit.to_owned(),
        limit: limit.map(|limit| LimitMark {
            key: limit.kind.key().to_owned(),
            value: quantity.unit().of(limit.allowed),
            from_below: limit.kind.spec().form.is_least(),
        }),
        quantiles: marks,
        ..Distribution::of_values(values, 50)
    }
}

/// Deceleration against time as ribbons.
#[must_use]
pub fn ribbons(case: &Case, aim_m: f64, flown: &FlownRibbons) -> Ribbons {
    let row = |i: usize| flown.quantiles.get(i).cloned().unwrap_or_default();
    let limit = case.problem.limits().on(Quantity::PeakDeceleration);
    Ribbons {
        title: format!("Deceleration over time at {:.2} km", aim_m / 1e3),
        note: format!("{} flights; time from the entry interface", flown.samples),
        x_title: "time, s".to_owned(),
        y_title: "sensed deceleration, g".to_owned(),
        x: flown.time_s.clone(),
        median: row(2),
        ribbons: vec![
            Ribbon {
                name: "1 to 99 % of flights".to_owned(),
                low: row(0),
                high: row(4),
            },
            Ribbon {
                name: "5 to 95 %".to_owned(),
                low: row(1),
                high: row(3),
            },
        ],
        limits: limit
            .map(|limit| {
                let text = value_text(limit.kind, limit.allowed);
                (
                    limit.kind.key().to_owned(),
                    format!("limit {text}"),
                    limit.kind.unit().of(limit.allowed),
                )
            })
            .into_iter()
            .collect(),
    }
}
