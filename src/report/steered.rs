//! What steering is worth, in words, numbers and a figure: the steered ship beside the one that holds its bank.

use super::band_text::edge_words;
use super::number::significant;
use super::plot::break_curves::BreakCurve;
use super::plot::spreads::{Spread, Spreads};
use super::summary::{band_value, description};
use crate::ensemble::interval::Interval;
use crate::scenario::steering::{Control, SteeringTarget};
use crate::study::Case;
use crate::study::band::BandResult;
use crate::study::held::{Held, described, three_sigma};
use crate::study::outcome::{Outcome, Quantity};
use serde_json::{Value, json};

/// What a ship that is not steered holds.
fn held_words(case: &Case) -> String {
    match case.scenario.steering.map(|steering| steering.control) {
        Some(Control::Skirt(_)) => "skirt kept".to_owned(),
        Some(Control::Bank(_)) | None => format!(
            "bank held at {} deg",
            significant(case.scenario.ship.bank_angle_rad.to_degrees(), 3)
        ),
    }
}

/// The model of the steering and what it holds for, for the table of models.
#[must_use]
pub fn model(case: &Case) -> Option<[&'static str; 2]> {
    Some(match case.scenario.steering?.control {
        Control::Bank(_) => [
            "Steering: each cycle the ship predicts where a bank held to the end would lead, in the air of the world \
             file times the ratio of the drag it measures, and turns to what meets the target; it changes sides to \
             hold the inclination",
            "bank within its rate and acceleration; lift turned up for deceleration, heat flux and dynamic pressure, \
             not for heat load, onset, stays and people's curves; constant errors of navigation",
        ],
        Control::Skirt(_) => [
            "Steering: each cycle the ship predicts where a drop of its skirt at once would lead, in the air of the \
             world file times the ratio of the drag it measures, and drops it when that meets the target",
            "one drop, by constant factors on drag, mass and nose; no limit is steered for; constant errors of \
             navigation",
        ],
    })
}

/// The target of the steering in words; empty for a ship that is not steered.
#[must_use]
pub fn target_words(case: &Case) -> String {
    steered_for(case).map_or_else(String::new, |(quantity, target)| {
        let (label, unit) = quantity.label();
        format!("for {label} of {} {unit}", significant(target, 6))
    })
}

/// The quantity that is steered for, and the value wanted in the unit in which it is shown.
fn steered_for(case: &Case) -> Option<(Quantity, f64)> {
    Some(match case.scenario.steering?.target {
        SteeringTarget::ExitApoapsis(altitude) => (Quantity::ApoapsisAltitude, altitude / 1e3),
        SteeringTarget::ExitSpeedLoss(speed) => (Quantity::SpeedLost, speed),
        SteeringTarget::Landing => return None,
    })
}

/// A sentence or two that compare the steered ship with the held one.
#[must_use]
pub fn comparison(case: &Case, outcome: &Outcome, held: &Held) -> String {
    let Some((quantity, target)) = steered_for(case) else {
        return String::new();
    };
    let (label, unit) = quantity.label();
    let spread = |outcome: &Outcome| {
        let median = described(outcome, quantity).map(|d| d.p50.value);
        median.zip(three_sigma(outcome, quantity))
    };
    let words = |spread: Option<(f64, f64)>| {
        spread.map_or_else(
            || "none".to_owned(),
            |(median, three)| {
                format!(
                    "{} {unit}, three sigma {} {unit}",
                    significant(median, 5),
                    significant(three, 3)
                )
            },
        )
    };
    let band = match &held.result.band {
        Ok(band) => format!(
            "has a safe band of {:.2} to {:.2} km ({}; {})",
            band.low.aim_m / 1e3,
            band.high.aim_m / 1e3,
            edge_words(case, "below it", &band.low),
            edge_words(case, "above it", &band.high),
        ),
        Err(empty) => format!(
            "has no safe band, and does best at {:.2} km",
            empty.best_aim_m / 1e3
        ),
    };
    format!(
        "Steered for {label} of {} {unit}: median {}. With its {} the ship {band}; median there {}.",
        significant(target, 6),
        words(spread(outcome)),
        held_words(case),
        words(spread(&held.outcome)),
    )
}

/// The comparison as part of the summary: stable keys, documented in the README.
#[must_use]
pub fn summary(case: &Case, outcome: &Outcome, held: &Held) -> Value {
    let Some((quantity, target)) = steered_for(case) else {
        return Value::Null;
    };
    let of = |outcome: &Outcome| {
        json!({
            "described": described(outcome, quantity).map(description),
            "three_sigma": three_sigma(outcome, quantity),
        })
    };
    let ratio = three_sigma(outcome, quantity)
        .zip(three_sigma(&held.outcome, quantity))
        .filter(|(_, held)| *held > 0.0)
        .map(|(steered, held)| steered / held);
    json!({
        "quantity": quantity.key(),
        "target": target,
        "steered": of(outcome),
        "held": {
            "safe_periapsis_band_km": held.result.band.as_ref().ok().map(band_value),
            "recommended_periapsis_km": held.outcome.aim_m / 1e3,
            "what": held_words(case),
            "outcome": of(&held.outcome),
        },
        "three_sigma_steered_over_held": ratio,
    })
}

/// The quantity steered for, steered and held, each at its own best aim.
#[must_use]
pub fn spreads(case: &Case, outcome: &Outcome, held: &Held) -> Option<Spreads> {
    let (quantity, target) = steered_for(case)?;
    let (label, unit) = quantity.label();
    let values = |outcome: &Outcome| {
        let found = outcome.values.iter().find(|(known, _)| *known == quantity);
        found.map_or_else(Vec::new, |(_, values)| values.clone())
    };
    Some(Spreads {
        title: format!("What steering does to the {label}"),
        quantity: label.to_owned(),
        unit: unit.to_owned(),
        series: vec![
            Spread {
                name: format!("steered, at {:.2} km", outcome.aim_m / 1e3),
                values: values(outcome),
            },
            Spread {
                name: format!(
                    "{}, at {:.2} km",
                    held_words(case),
                    held.outcome.aim_m / 1e3
                ),
                values: values(&held.outcome),
            },
        ],
        target: Some(target),
    })
}

/// The curve of breaking any limit with the bank held, at the aims of its own band.
#[must_use]
pub fn held_curve(case: &Case, held: &BandResult) -> (Vec<f64>, BreakCurve) {
    let confidence = case.scenario.ask.confidence;
    let chance = |broken: u64, of: u64| {
        Interval::clopper_pearson(broken, of, confidence).map_or(f64::NAN, |i| i.estimate)
    };
    let points = held.points.iter();
    let curve = BreakCurve {
        name: format!("any limit, {}", held_words(case)),
        probability: points
            .map(|p| chance(p.tally.not_held(), p.tally.samples))
            .collect(),
        ..BreakCurve::default()
    };
    (held.points.iter().map(|p| p.aim_m).collect(), curve)
}
