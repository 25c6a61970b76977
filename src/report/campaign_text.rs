//! What `campaign` says on the screen: the answer first, then a compact table.

use super::coverage_words;
use super::limit_words::broken_words;
use super::number::{count, percent, significant, trimmed};
use super::remarks::coarse_remark;
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::campaign::CampaignEnding;
use crate::scenario::campaign_rule::{Control, Controlled};
use crate::study::Case;
use crate::study::campaign::{CampaignOutcome, CampaignQuantity};
use std::fmt::Write as _;

/// Share of passes outside the band from which the answer says that it cannot be kept.
const MOSTLY: f64 = 0.5;

/// The answer in a few sentences a person can act on.
#[must_use]
pub fn answer(case: &Case, outcome: &CampaignOutcome) -> String {
    let mut text = chance(case, outcome);
    if outcome.endings()[CampaignEnding::Reached as usize] > 0 {
        let _ = write!(text, " {}", takes(case, outcome));
    }
    for sentence in [troubles(case, outcome), band_trouble(case, outcome)] {
        if !sentence.is_empty() {
            let _ = write!(text, " {sentence}");
        }
    }
    let remarks = [coarse_remark(case), coverage_words::range_remark(case)];
    for remark in remarks.into_iter().flatten() {
        let _ = write!(text, " {remark}");
    }
    text
}

fn chance(case: &Case, outcome: &CampaignOutcome) -> String {
    let every = coverage_words::every_limit_held(coverage_words::is_covered(case));
    let confidence = case.scenario.ask.confidence;
    let flown = outcome.campaigns.len() as u64;
    let held = outcome.held();
    let target = case
        .scenario
        .campaign
        .as_ref()
        .map_or(f64::NAN, |rule| rule.target_apoapsis_m / 1e3);
    if outcome.certain {
        let whether = if held > 0 { "" } else { " does not" };
        let reaches = if held > 0 { "reaches" } else { " reach" };
        return format!(
            "The campaign{whether} {} {} km with {every} (nothing is uncertain).",
            reaches.trim(),
            trimmed(target, 6)
        );
    }
    let share = outcome.probability(held, confidence);
    let (estimate, lower) = share.map_or((f64::NAN, f64::NAN), |s| (s.estimate, s.lower));
    format!(
        "{} of {} campaigns reach {} km with {every} ({}; {} or more with {} confidence).",
        count(held),
        count(flown),
        trimmed(target, 6),
        percent(estimate),
        percent(lower),
        percent(confidence)
    )
}

fn takes(case: &Case, outcome: &CampaignOutcome) -> String {
    let confidence = case.scenario.ask.confidence;
    let described = |quantity| outcome.described(quantity, confidence);
    let middle = |quantity: CampaignQuantity, digits| {
        described(quantity).map_or_else(
            || {
                significant(
                    outcome
                        .values(quantity)
                        .first()
                        .copied()
                        .unwrap_or(f64::NAN),
                    digits,
                )
            },
            |d| significant(d.p50.value, digits),
        )
    };
    let range = |quantity: CampaignQuantity, digits| match described(quantity) {
        Some(d) if !outcome.certain => format!(
            " ({} to {})",
            significant(d.p05.value, digits),
            significant(d.p95.value, digits)
        ),
        _ => String::new(),
    };
    let mut text = format!(
        "{} {} passes{} and {} days{}; trims take {} m/s, the target orbit {} m/s",
        if outcome.certain {
            "It takes"
        } else {
            "They take"
        },
        middle(CampaignQuantity::Passes, 3),
        range(CampaignQuantity::Passes, 3),
        middle(CampaignQuantity::Days, 3),
        range(CampaignQuantity::Days, 3),
        middle(CampaignQuantity::TrimSpeed, 3),
        middle(CampaignQuantity::RaiseSpeed, 3),
    );
    if case.scenario.ship.engine.is_some() {
        let _ = write!(
            text,
            ": {} kg of propellant, {} kg less than the engine alone",
            middle(CampaignQuantity::Propellant, 3),
            middle(CampaignQuantity::Saved, 3)
        );
    }
    text.push('.');
    text
}

/// What went wrong, and how often.
fn troubles(case: &Case, outcome: &CampaignOutcome) -> String {
    let mut words = Vec::new();
    if let Some((kind, campaigns)) = outcome.ruling_limit() {
        words.push(format!(
            "{} in {}",
            broken_words(case, kind),
            count(campaigns)
        ));
    }
    let ends = CampaignEnding::ALL.iter().zip(outcome.endings());
    for (ending, campaigns) in ends {
        if *ending != CampaignEnding::Reached && campaigns > 0 {
            words.push(format!("{} in {}", ending_words(*ending), count(campaigns)));
        }
    }
    if words.is_empty() {
        return String::new();
    }
    format!("What goes wrong: {}.", words.join("; "))
}

/// An ending in words, for what went wrong.
#[must_use]
pub fn ending_words(ending: CampaignEnding) -> &'static str {
    match ending {
        CampaignEnding::Reached => "target reached",
        CampaignEnding::Decayed => "the orbit decays, a pass does not come out of the air again",
        CampaignEnding::Escaped => "the ship is not captured",
        CampaignEnding::OutOfPasses => "the most passes are flown before the target is reached",
        CampaignEnding::OutOfTime => "the time is over before the target is reached",
        CampaignEnding::Failed => "the integration fails",
        CampaignEnding::NoApproach => "the numbers fit no approach",
    }
}

fn band_trouble(case: &Case, outcome: &CampaignOutcome) -> String {
    let Some([met, below, above]) = outcome.band_shares() else {
        return String::new();
    };
    let Some(rule) = &case.scenario.campaign else {
        return String::new();
    };
    let words = rule.control.quantity.words();
    if met >= MOSTLY {
        return format!(
            "{} of the passes after the walk-in meet the band of {words}.",
            percent(met)
        );
    }
    let miss = outcome.median(|c| c.forecast_error).exp();
    let error = if miss.is_finite() {
        format!(
            "a pass misses its forecast by a factor of {} (one sigma), and the band spans one of {}: ",
            significant(miss, 3),
            significant(rule.control.high / rule.control.low, 3)
        )
    } else {
        String::new()
    };
    format!(
        "The band of {words} cannot be kept: only {} of the passes after the walk-in meet it, {} are below and {} above; \
         {error}widen the band, or allow larger trims.",
        percent(met),
        percent(below),
        percent(above)
    )
}

/// The unit in which a controlled quantity is shown, and how many of it make one SI unit.
#[must_use]
pub fn shown_unit(quantity: Controlled) -> (&'static str, f64) {
    match quantity {
        Controlled::HeatFlux => ("W/cm²", 1e-4),
        Controlled::DynamicPressure => ("Pa", 1.0),
        Controlled::Deceleration => ("g", 1.0 / G0),
    }
}

/// The band with its unit.
#[must_use]
pub fn band_words(control: &Control) -> String {
    let (unit, factor) = shown_unit(control.quantity);
    format!(
        "{} to {} {unit}",
        trimmed(control.low * factor, 4),
        trimmed(control.high * factor, 4)
    )
}
