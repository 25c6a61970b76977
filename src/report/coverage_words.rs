//! What is said of verdicts: of limits that the sources of the models do not cover, and of what bounds the rest.
//! Every answer that speaks of limits takes its words from here, so that none says they all hold where one is not covered.

use super::grid::{Cell, Tone};
use super::limit_words::name;
use crate::ensemble::coverage::{Bound, Coverage};
use crate::ensemble::{LimitKind, Verdict};
use crate::numeric::units::{Dimension, show_quantity};
use crate::study::Case;
use crate::study::verdicts::{Covered, LimitVerdict, Verdicts};
use serde_json::{Value, json};

/// A verdict as a cell of a table.
#[must_use]
pub fn cell(verdict: Verdict) -> Cell {
    Cell::new(verdict.words(), tone(verdict))
}

/// How a verdict is to be understood.
#[must_use]
pub fn tone(verdict: Verdict) -> Tone {
    match verdict {
        Verdict::Held => Tone::Good,
        Verdict::NotShown | Verdict::NotCovered | Verdict::Broken => Tone::Bad,
    }
}

/// The tone of an answer over the range of aims: good where it is what was wanted, and every limit is covered.
#[must_use]
pub fn answer_tone(case: &Case, wanted: bool) -> Tone {
    if wanted && is_covered(case) {
        Tone::Good
    } else {
        Tone::Bad
    }
}

/// The keys that tell the verdict of a limit in a summary.
#[must_use]
pub fn keys(limit: &LimitVerdict) -> [(&'static str, Value); 3] {
    let [bound, why] = coverage_keys(&limit.coverage);
    [("verdict", json!(limit.verdict.key())), bound, why]
}

fn coverage_keys(coverage: &Coverage) -> [(&'static str, Value); 2] {
    let (bound, why) = match coverage {
        Coverage::Whole => (None, None),
        Coverage::Within(bound) => (Some(bound), None),
        Coverage::Not(why) => (None, Some(why)),
    };
    [
        ("covered_by", json!(bound.map(bound_json))),
        ("not_covered_because", json!(why)),
    ]
}

fn bound_json(bound: &Bound) -> Value {
    json!({ "radiation_share_of_convection": bound.share, "source": bound.source })
}

/// "all limits hold", or what may be said in its place where one is not covered.
#[must_use]
pub fn limits_hold(covered: bool) -> &'static str {
    if covered {
        "all limits hold"
    } else {
        "the limits hold, as far as they are covered,"
    }
}

/// "every limit held", or what may be said in its place where one is not covered.
#[must_use]
pub fn every_limit_held(covered: bool) -> &'static str {
    if covered {
        "every limit held"
    } else {
        "every limit held as far as it is covered"
    }
}

/// What has to be said of the verdicts beside an answer; `None` where all limits are covered whole.
#[must_use]
pub fn remark(case: &Case, verdicts: &Verdicts) -> Option<String> {
    let mut words = Vec::new();
    let of = |wanted: &dyn Fn(&LimitVerdict) -> Option<String>| {
        grouped(
            case,
            verdicts
                .limits
                .iter()
                .map(|limit| (limit.kind, wanted(limit))),
        )
    };
    for (limits, why) in of(&|limit| match (&limit.coverage, limit.verdict) {
        (Coverage::Not(why), Verdict::NotCovered) => Some(why.clone()),
        (Coverage::Within(bound), Verdict::NotCovered) => {
            Some(format!("{} on top could break it", most(bound)))
        }
        _ => None,
    }) {
        words.push(format!("Not covered: {limits}: {why}."));
    }
    for (limits, bound) in of(&|limit| match (&limit.coverage, limit.verdict) {
        (Coverage::Within(bound), Verdict::NotShown) => Some(most(bound)),
        _ => None,
    }) {
        words.push(format!(
            "Not shown: {limits} with {bound} on top: more samples would tell."
        ));
    }
    for (limits, bound) in of(&|limit| match (&limit.coverage, limit.verdict) {
        (Coverage::Within(bound), Verdict::Held) => Some(most(bound)),
        _ => None,
    }) {
        words.push(format!(
            "{} with {bound} on top.",
            sentence(&limits, "held")
        ));
    }
    (!words.is_empty()).then(|| words.join(" "))
}

/// What has to be said where a study judges limits over a range of aims: which of them are not covered there.
#[must_use]
pub fn range_remark(case: &Case) -> Option<String> {
    let covered = Covered::over_range(&case.problem);
    let entries = case.problem.limits().entries();
    let each = || entries.iter().zip(&covered.coverages);
    let mut words: Vec<String> = grouped(
        case,
        each().map(|(limit, coverage)| match coverage {
            Coverage::Not(why) => (limit.kind, Some(why.clone())),
            Coverage::Whole | Coverage::Within(_) => (limit.kind, None),
        }),
    )
    .iter()
    .map(|(limits, why)| format!("Not covered: {limits}: {why}."))
    .collect();
    let bounded = grouped(
        case,
        each().map(|(limit, coverage)| match coverage {
            Coverage::Within(bound) => (limit.kind, Some(most(bound))),
            Coverage::Whole | Coverage::Not(_) => (limit.kind, None),
        }),
    );
    words.extend(
        bounded.iter().map(|(limits, bound)| {
            format!("{} without {bound} on top.", sentence(limits, "judged"))
        }),
    );
    (!words.is_empty()).then(|| words.join(" "))
}

/// The same for the summary: each limit with what bounds or keeps it from being covered.
#[must_use]
pub fn range_json(case: &Case) -> Value {
    let covered = Covered::over_range(&case.problem);
    let entries = case.problem.limits().entries().iter();
    entries
        .zip(covered.coverages)
        .map(|(limit, coverage)| {
            let mut value = json!({
                "limit": limit.kind.key(),
                "name": name(case, limit.kind),
                "covered": !matches!(coverage, Coverage::Not(_)),
            });
            for (key, said) in coverage_keys(&coverage) {
                value[key] = said;
            }
            value
        })
        .collect()
}

/// Whether every limit is covered over the range of aims, or what is not is bounded.
#[must_use]
pub fn is_covered(case: &Case) -> bool {
    let whole = |coverage: &Coverage| !matches!(coverage, Coverage::Not(_));
    Covered::over_range(&case.problem)
        .coverages
        .iter()
        .all(whole)
}

/// Radiation of at most so much.
fn most(bound: &Bound) -> String {
    let share = show_quantity(bound.share, Dimension::Ratio);
    format!("radiation of up to {share} of the convection")
}

/// The limits of which the same is said, together.
fn grouped(
    case: &Case,
    said: impl Iterator<Item = (LimitKind, Option<String>)>,
) -> Vec<(String, String)> {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for (kind, words) in said {
        let Some(words) = words else { continue };
        let limit = name(case, kind);
        match groups.iter_mut().find(|(known, _)| *known == words) {
            Some((_, limits)) if !limits.contains(&limit) => limits.push(limit),
            Some(_) => {}
            None => groups.push((words, vec![limit])),
        }
    }
    let listed = |limits: Vec<String>| match limits.as_slice() {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => limits.concat(),
    };
    groups
        .into_iter()
        .map(|(words, limits)| (listed(limits), words))
        .collect()
}

/// "Peak heat flux is held", "Peak heat flux and heat load are held".
fn sentence(limits: &str, done: &str) -> String {
    let are = if limits.contains(" and ") {
        "are"
    } else {
        "is"
    };
    let mut letters = limits.chars();
    let first: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    format!("{first}{} {are} {done}", letters.as_str())
}
