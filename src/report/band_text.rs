//! What `band` says on the screen: the answer in one line, then a compact table.

use super::coverage_words;
use super::grid::{Cell, Grid, Tone};
use super::limit_words::{about, broken_words, name, value_text};
use super::number::{MISSING, count, percent, significant};
use super::pass_text::{next_round, vacuum_low};
use super::text::Terminal;
use super::unflown;
use super::whole::real;
use crate::ensemble::coverage::Coverage;
use crate::ensemble::{LimitKind, Verdict};
use crate::pass::Ending;
use crate::study::Case;
use crate::study::afterwards::NextRound;
use crate::study::band::{Band, BandResult, Edge, Empty};
use crate::study::outcome::{Outcome, Quantity};
use crate::study::verdicts::Verdicts;
use std::fmt::Write as _;

/// What the limits came to at the aim to take.
#[must_use]
pub fn verdicts(case: &Case, result: &BandResult, outcome: &Outcome) -> Option<Verdicts> {
    let point = &result.recommended;
    Some(Verdicts::of_aim(
        &case.problem,
        &case.scenario.ask,
        (Some(point), outcome),
    ))
}

/// What the limits came to by the counts of an aim alone.
#[must_use]
pub fn counted(case: &Case, outcome: &Outcome) -> Verdicts {
    Verdicts::of_aim(&case.problem, &case.scenario.ask, (None, outcome))
}

/// The answer in one or two sentences a person can act on; without verdicts where the samples of the aim to take were
/// not flown to the end.
#[must_use]
pub fn answer(case: &Case, result: &BandResult, verdicts: Option<&Verdicts>) -> String {
    let covered = verdicts.map_or_else(|| coverage_words::is_covered(case), Verdicts::covered);
    let answer = plain_answer(case, result, covered);
    let said = match verdicts {
        Some(verdicts) => coverage_words::remark(case, verdicts),
        None => coverage_words::range_remark(case),
    };
    let edges = verdicts.and_then(|verdicts| edges_without_bound(case, result, verdicts));
    let open = verdicts
        .filter(|verdicts| verdicts.all == Verdict::NotShown)
        .map(|_| {
            format!(
                "Not shown: {} samples leave open whether {} is reached.",
                count(result.samples),
                percent(case.scenario.ask.probability)
            )
        });
    let mut told = String::new();
    for words in [open, said, edges].into_iter().flatten() {
        told.push(' ');
        told.push_str(&words);
    }
    let walls = super::remarks::wall_remark(case).map_or(String::new(), |w| format!(" {w}"));
    let rare = super::rare::remark(case, result).map_or(String::new(), |w| format!(" {w}"));
    let round = NextRound::nominal(&case.problem, result.recommended.aim_m);
    let round = next_round(round.as_ref());
    answer + &round + &rare + &super::remarks::model_remarks(case) + &told + &walls
}

/// That what bounds a limit is counted at the aim to take and not at the edge that this limit sets.
fn edges_without_bound(case: &Case, result: &BandResult, verdicts: &Verdicts) -> Option<String> {
    let band = result.band.as_ref().ok()?;
    let bounded = |kind: &LimitKind| {
        let found = verdicts.of(*kind);
        found.is_some_and(|found| matches!(found.coverage, Coverage::Within(_)))
    };
    let kind = [&band.low, &band.high]
        .into_iter()
        .filter_map(|edge| edge.limit)
        .find(bounded)?;
    Some(format!(
        "The edge that {} sets is without it.",
        name(case, kind)
    ))
}

/// How the answer is to be understood: good where the aim to take holds all limits, as far as is known of it.
#[must_use]
pub fn tone(result: &BandResult, verdicts: Option<&Verdicts>) -> Tone {
    match verdicts {
        _ if result.band.is_err() || result.verdict != Verdict::Held => Tone::Bad,
        Some(verdicts) => coverage_words::tone(verdicts.all),
        None => Tone::Good,
    }
}

/// How the aim to take begins the answer: only one that was shown to hold is simply aimed for.
fn aim_words(case: &Case, result: &BandResult) -> String {
    let aim_km = result.recommended.aim_m / 1e3;
    let asked = percent(case.scenario.ask.probability);
    match result.verdict {
        Verdict::Held => format!("Aim for {aim_km:.2} km"),
        other => format!(
            "The aim to take, {aim_km:.2} km, is {} to hold at {asked} by samples that had no part in choosing it",
            match other {
                Verdict::Broken => "shown not",
                other => other.words(),
            }
        ),
    }
}

fn plain_answer(case: &Case, result: &BandResult, covered: bool) -> String {
    let held = result.recommended.held;
    let chance = if case.problem.is_deterministic() {
        let all = if held.estimate < 1.0 {
            "not all limits hold"
        } else {
            coverage_words::limits_hold(covered)
        };
        format!("{all} (nothing is uncertain)")
    } else {
        format!(
            "{} in {} of arrivals ({} or more with {} confidence, for this one aim)",
            coverage_words::limits_hold(covered),
            percent(held.estimate),
            percent(held.lower),
            percent(case.scenario.ask.confidence),
        )
    };
    let low = vacuum_low(
        result.recommended.aim_m,
        case.problem.vacuum_low_m(result.recommended.aim_m),
    );
    match &result.band {
        Ok(band) => format!(
            "{}{low}: {chance}. {} {:.2} to {:.2} km; {}; {}.",
            aim_words(case, result),
            if covered {
                "Safe band"
            } else {
                "Band of the covered limits"
            },
            band.low.aim_m / 1e3,
            band.high.aim_m / 1e3,
            edge_words(case, "below it", &band.low),
            edge_words(case, "above it", &band.high),
        ),
        Err(empty) => not_shown(case, result).unwrap_or_else(|| {
            let mut text = no_band(case, empty, (result.recommended.aim_m, &chance));
            if result.verdict == Verdict::Held && !case.problem.is_deterministic() {
                text.push_str(
                    " Samples other than those of the search show that aim to hold: more of them may show a band.",
                );
            }
            text
        }),
    }
}

/// The answer where samples without a result alone keep a band from being shown.
pub(super) fn not_shown(case: &Case, result: &BandResult) -> Option<String> {
    let point = result.undecided()?;
    let words = unflown::words(&point.tally).unwrap_or_default();
    Some(format!(
        "Not shown at {}: no aim is safe as it is, and {:.2} km would be had the samples without a result held. \
         {words}",
        percent(case.scenario.ask.probability),
        point.aim_m / 1e3,
    ))
}

pub(super) fn edge_words(case: &Case, side: &str, edge: &Edge) -> String {
    match edge.limit {
        Some(kind) => format!("{side}: {}", broken_words(case, kind)),
        None if edge.unflown => format!("{side}: samples without a result"),
        None => format!("{side} the range of aims ends, not the band"),
    }
}

fn no_band(case: &Case, empty: &Empty, (best_m, chance): (f64, &str)) -> String {
    let asked = percent(case.scenario.ask.probability);
    let mut text = format!(
        "No safe band at {asked}. The best aim is {:.2} km, where {chance}.",
        best_m / 1e3
    );
    let words = |kind: Option<LimitKind>| kind.map(|kind| broken_words(case, kind));
    match (words(empty.colliding.0), words(empty.colliding.1)) {
        (Some(steep), Some(shallow)) => {
            let _ = write!(
                text,
                " Two limits collide: a little lower, {steep}; a little higher, {shallow}."
            );
        }
        (Some(one), None) | (None, Some(one)) => {
            let _ = write!(text, " One limit rules it out at every aim: {one}.");
        }
        (None, None) => {}
    }
    let opening = &empty.opening;
    let mut ways = Vec::new();
    if let Some(factor) = opening.delivery_factor {
        ways.push(format!(
            "delivery errors of {} of those stated",
            percent(factor)
        ));
    }
    for raise in &opening.raises {
        let value = |value| value_text(raise.kind, value).replace(" apoapsis", "");
        let what = about(case, raise.kind, (raise.kind.spec().words.opening, ""));
        let (needed, allowed) = (value(raise.needed), value(raise.allowed));
        ways.push(format!("{what} {needed} instead of {allowed}"));
    }
    if !opening.looked_for {
        text.push_str(" What would open it is not looked for where accidents are so rare.");
    } else if ways.is_empty() {
        text.push_str(
            " Neither an exact delivery nor one higher limit alone opens it: the air, the ship or the \
             arrival must change (less uncertain density, lift, a slower arrival, a looser target).",
        );
    } else {
        let _ = write!(text, " Any one of these opens it: {}.", ways.join("; or "));
    }
    text
}

/// The quantities at an aim, with their limits.
#[must_use]
pub fn quantities(case: &Case, outcome: &Outcome) -> Grid {
    let mut grid = Grid::new()
        .words("quantity")
        .numbers("median")
        .numbers("p95")
        .numbers("p99.865")
        .numbers("limit");
    for (quantity, described) in &outcome.described {
        let Some(described) = described else { continue };
        let (label, unit) = quantity.label();
        grid.row([
            format!("{label} ({unit})"),
            significant(described.p50.value, 4),
            significant(described.p95.value, 4),
            significant(described.p99_865.value, 4),
            limit_of(case, *quantity).unwrap_or_default(),
        ]);
    }
    grid
}

/// The limits at an aim: how often each was broken.
pub(super) fn broken(case: &Case, outcome: &Outcome, verdicts: Option<&Verdicts>) -> Grid {
    let mut grid = Grid::new()
        .words("limit broken")
        .numbers("samples")
        .numbers("share")
        .words("verdict");
    for (limit, &broken) in case
        .problem
        .limits()
        .entries()
        .iter()
        .zip(&outcome.tally.broken)
    {
        let tone = broken_tone(case, (broken, outcome.tally.samples));
        grid.row([
            Cell::from(broken_words(case, limit.kind)),
            Cell::new(count(broken), tone),
            Cell::new(share(broken, outcome.tally.samples), tone),
            verdict_cell(verdicts, limit.kind),
        ]);
    }
    unflown::row(&mut grid, &outcome.tally, |number, share| {
        vec![number, share, Cell::from("")]
    });
    grid
}

/// The verdict of a limit as a cell.
pub(super) fn verdict_cell(verdicts: Option<&Verdicts>, kind: LimitKind) -> Cell {
    let found = verdicts.and_then(|verdicts| verdicts.of(kind));
    found.map_or_else(
        || Cell::from(MISSING),
        |found| coverage_words::cell(found.verdict),
    )
}

/// Whether a limit by itself is broken more often than all together may be.
pub(super) fn broken_tone(case: &Case, (broken, of): (u64, u64)) -> Tone {
    let allowed = 1.0 - case.scenario.ask.probability;
    if real(broken) > allowed * real(of) {
        Tone::Bad
    } else {
        Tone::Plain
    }
}

/// The compact tables under the answer.
#[must_use]
pub fn table(
    terminal: &Terminal,
    case: &Case,
    (result, outcome): (&BandResult, &Outcome),
) -> String {
    let mut text = format!(
        "At {:.2} km, {} {}:\n\n",
        outcome.aim_m / 1e3,
        count(outcome.tally.samples),
        if outcome.tally.samples == 1 {
            "sample"
        } else {
            "samples"
        }
    );
    text.push_str(terminal.table(&quantities(case, outcome)).trim_end());
    text.push_str("\n\n");
    let limits = match super::rare::at_recommended(result) {
        Some(accidents) => super::rare::table(case, accidents),
        None => broken(case, outcome, verdicts(case, result, outcome).as_ref()),
    };
    text.push_str(terminal.table(&limits).trim_end());
    let endings: Vec<String> = Ending::ALL
        .iter()
        .zip(outcome.tally.endings)
        .filter(|(_, count)| *count > 0)
        .map(|(ending, count)| {
            let word = ending.word().replace('_', " ");
            format!("{} {word}", share(count, outcome.tally.samples))
        })
        .collect();
    let mut rest = format!("Endings: {}.", endings.join(", "));
    if let Ok(band) = &result.band {
        rest.push_str(&edges(case, band));
    }
    let _ = write!(
        rest,
        " {} passes flown at {} aims.",
        count(result.passes_flown),
        result.points.len()
    );
    text.push_str("\n\n");
    text.push_str(&terminal.paragraph(&rest, 0));
    text
}

fn edges(case: &Case, band: &Band) -> String {
    let mut text = String::new();
    // Where the range of aims ends the edge is not in doubt: it was not looked for farther out.
    let doubt = |edge: &Edge| {
        (!edge.ends_the_range()).then(|| format!("{:.2} km", edge.uncertainty_m / 1e3))
    };
    if !case.problem.is_deterministic() {
        let words = match (doubt(&band.low), doubt(&band.high)) {
            (Some(low), Some(high)) => {
                format!("low edge may lie up to {low} lower and the high one up to {high} higher")
            }
            (Some(low), None) => format!("low edge may lie up to {low} lower"),
            (None, Some(high)) => format!("high edge may lie up to {high} higher"),
            (None, None) => String::new(),
        };
        if !words.is_empty() {
            let _ = write!(text, " The {words}: more samples would tell.");
        }
    }
    if band.others {
        text.push_str(" Other aims farther away are safe too; this is the widest band.");
    }
    text
}

pub(super) fn share(count: u64, of: u64) -> String {
    percent(real(count) / real(of.max(1)))
}

pub(super) fn limit_of(case: &Case, quantity: Quantity) -> Option<String> {
    let limit = case.problem.limits().on(quantity)?;
    Some(value_text(limit.kind, limit.allowed).replace(" apoapsis", ""))
}
