//! What `band` says on the screen: the answer in one line, then a compact table.

use super::limit_words::{broken_words, name, value_text};
use super::number::{percent, significant};
use crate::ensemble::LimitKind;
use crate::pass::Ending;
use crate::study::Case;
use crate::study::band::{Band, BandResult, Edge, Empty};
use crate::study::outcome::{Outcome, Quantity};
use std::fmt::Write as _;

/// The answer in one or two sentences a person can act on.
#[must_use]
pub fn answer(case: &Case, result: &BandResult) -> String {
    let best = result.recommended().map(|point| point.held);
    let chance = best.map_or_else(String::new, |held| {
        if case.problem.is_deterministic() {
            "all limits hold (nothing is uncertain)".to_owned()
        } else {
            format!(
                "all limits hold in {} of arrivals ({} or more with {} confidence)",
                percent(held.estimate),
                percent(held.lower),
                percent(case.scenario.ask.confidence),
            )
        }
    });
    match &result.band {
        Ok(band) => format!(
            "Aim for {:.2} km: {chance}. Safe band {:.2} to {:.2} km; {}; {}.",
            result.recommended_m / 1e3,
            band.low.aim_m / 1e3,
            band.high.aim_m / 1e3,
            edge_words(case, "below it", &band.low),
            edge_words(case, "above it", &band.high),
        ),
        Err(empty) => no_band(case, empty, &chance),
    }
}

fn edge_words(case: &Case, side: &str, edge: &Edge) -> String {
    match edge.limit {
        Some(kind) => format!("{side}: {}", broken_words(case, kind)),
        None => format!("{side} the range of aims ends, not the band"),
    }
}

fn no_band(case: &Case, empty: &Empty, chance: &str) -> String {
    let asked = percent(case.scenario.ask.probability);
    let mut text = format!(
        "No safe band at {asked}. The best aim is {:.2} km, where {chance}.",
        empty.best_aim_m / 1e3
    );
    let words = |kind: Option<LimitKind>| kind.map(|kind| broken_words(case, kind));
    match (words(empty.colliding.0), words(empty.colliding.1)) {
        (Some(steep), Some(shallow)) => {
            let _ = write!(text, " Two limits collide: a little lower, {steep}; a little higher, {shallow}.");
        }
        (Some(one), None) | (None, Some(one)) => {
            let _ = write!(text, " One limit rules it out at every aim: {one}.");
        }
        (None, None) => {}
    }
    let opening = &empty.opening;
    let mut ways = Vec::new();
    if let Some(factor) = opening.delivery_factor {
        ways.push(format!("delivery errors of {} of those stated", percent(factor)));
    }
    for raise in &opening.raises {
        ways.push(format!(
            "{} of {} instead of {}",
            name(case, raise.kind),
            value_text(case, raise.kind, raise.needed),
            value_text(case, raise.kind, raise.allowed),
        ));
    }
    if ways.is_empty() {
        text.push_str(
            " Neither an exact delivery nor one higher limit alone opens it: the air, the ship or the \
             arrival must change (less uncertain density, lift, a slower arrival, a looser target).",
        );
    } else {
        let _ = write!(text, " Any one of these opens it: {}.", ways.join("; or "));
    }
    text
}

/// The compact table under the answer, at most 80 columns.
#[must_use]
pub fn table(case: &Case, result: &BandResult, outcome: &Outcome) -> String {
    let mut text = format!(
        "At {:.2} km, {} samples   {:>10} {:>10} {:>10} {:>16}\n",
        outcome.aim_m / 1e3,
        outcome.tally.samples,
        "median",
        "95 %",
        "99.865 %",
        "limit"
    );
    let heading = text.len();
    for (quantity, described) in &outcome.described {
        let Some(described) = described else { continue };
        let (label, unit) = quantity.label();
        let _ = writeln!(
            text,
            "  {:<30} {:>10} {:>10} {:>10} {:>16}",
            format!("{label} ({unit})"),
            significant(described.p50.value, 4),
            significant(described.p95.value, 4),
            significant(described.p99_865.value, 4),
            limit_of(case, *quantity).unwrap_or_default(),
        );
    }
    debug_assert!(heading > 0);
    text.push('\n');
    let _ = writeln!(text, "{:<46} {:>12} {:>16}", "Limits at this aim", "broken in", "of samples");
    for (limit, &broken) in case.problem.limits().entries().iter().zip(&outcome.tally.broken) {
        let share = share(broken, outcome.tally.samples);
        let _ = writeln!(text, "  {:<44} {:>12} {:>16}", broken_words(case, limit.kind), broken, share);
    }
    let endings: Vec<String> = Ending::ALL
        .iter()
        .zip(outcome.tally.endings)
        .filter(|(_, count)| *count > 0)
        .map(|(ending, count)| format!("{} {}", share(count, outcome.tally.samples), ending.word().replace('_', " ")))
        .collect();
    let _ = writeln!(text, "\nEndings: {}.", endings.join(", "));
    if let Ok(band) = &result.band {
        text.push_str(&edges(case, band));
    }
    let _ = write!(text, "{} passes flown at {} aims.", result.passes_flown, result.points.len());
    text
}

fn edges(case: &Case, band: &Band) -> String {
    let mut text = String::new();
    if !case.problem.is_deterministic() {
        let _ = writeln!(
            text,
            "Edges: the low one may lie up to {:.2} km lower, the high one up to {:.2} km higher; \nmore samples would tell.",
            band.low.uncertainty_m / 1e3,
            band.high.uncertainty_m / 1e3
        );
    }
    if band.others {
        text.push_str("Other aims farther away are safe too; this is the widest band.\n");
    }
    text
}

fn share(count: u64, of: u64) -> String {
    #[allow(clippy::cast_precision_loss)]
    let share = count as f64 / of.max(1) as f64;
    percent(share)
}

fn limit_of(case: &Case, quantity: Quantity) -> Option<String> {
    let kind = match quantity {
        Quantity::PeakDeceleration => LimitKind::PeakDeceleration,
        Quantity::Onset => LimitKind::Onset,
        Quantity::PeakHeatFlux => LimitKind::HeatFlux,
        Quantity::HeatLoad => LimitKind::HeatLoad,
        Quantity::PeakDynamicPressure => LimitKind::DynamicPressure,
        Quantity::LowestAltitude => LimitKind::LowestAltitude,
        Quantity::ApoapsisAltitude => LimitKind::CapturedBelow,
        Quantity::SpeedLost => return None,
    };
    let entries = case.problem.limits().entries();
    let limit = entries.iter().find(|limit| limit.kind == kind)?;
    Some(value_text(case, kind, limit.allowed).replace(" apoapsis", ""))
}
