//! Limits in words, the same on the screen, in figures and in files.

use super::number::grouped;
use crate::ensemble::LimitKind;
use crate::ensemble::people::PeopleWatch;
use crate::numeric::quantity::{Quantity, Unit};
use crate::pass::PassResult;
use crate::scenario::limits::filled;
use crate::scenario::people::SeveralPeaks;
use crate::study::Case;

/// Short name of a limit for people: "peak deceleration", "time above 2 g".
#[must_use]
pub fn name(case: &Case, kind: LimitKind) -> String {
    let limits = case.problem.limits();
    filled(kind.spec().words.name, |part| match part {
        "level" => {
            let level = limits.find(kind).and_then(|limit| limit.level_m_s2);
            level.map(|level| format!("{} g", trim(Unit::G.of(level), 3)))
        }
        "axes" => {
            let axes = limits.people().map_or_else(Vec::new, PeopleWatch::symbols);
            Some(axes.join(" and "))
        }
        "spot" => {
            let spot = case.scenario.ship.spots.get(kind.place()?);
            Some(spot.map_or("a spot", |spot| &spot.name).to_owned())
        }
        _ => None,
    })
}

/// A pattern of a limit's words about a value of it in words.
pub(super) fn about(case: &Case, kind: LimitKind, (pattern, value): (&str, &str)) -> String {
    filled(pattern, |part| match part {
        "name" => Some(name(case, kind)),
        "value" => Some(value.to_owned()),
        _ => None,
    })
}

/// Short name of breaking a limit, for curves of how often that happens.
#[must_use]
pub fn breaking_name(case: &Case, kind: LimitKind) -> String {
    about(case, kind, (kind.spec().words.breaking, ""))
}

/// What breaking the limit means for a pass that did, with the level at which people had too much.
#[must_use]
pub fn broken_by(case: &Case, kind: LimitKind, pass: &PassResult) -> String {
    let words = broken_words(case, kind);
    match hardest_level(case, pass).filter(|_| is_of_the_curve(kind)) {
        Some(hardest) => format!("{words}: {hardest}"),
        None => words,
    }
}

/// What breaking the limit means, for the edge of a band.
#[must_use]
pub fn broken_words(case: &Case, kind: LimitKind) -> String {
    let limit = case.problem.limits().find(kind);
    let allowed = limit.map_or_else(String::new, |limit| value_text(kind, limit.allowed));
    about(case, kind, (kind.spec().words.broken, &allowed))
}

/// A value of the limited quantity with its unit.
#[must_use]
pub fn value_text(kind: LimitKind, value: f64) -> String {
    #[expect(clippy::float_cmp, reason = "exactly the curve")]
    if is_of_the_curve(kind) && value == 1.0 {
        return "the curve".to_owned();
    }
    filled(kind.spec().words.value, |part| {
        let facts = kind.spec().of.filter(|_| part == "value")?.facts();
        let digits = trim(facts.unit.of(value), facts.digits);
        Some(format!("{digits} {}", facts.unit.shown))
    })
}

/// Whether it is the limit of people's curve, of which more is told than its value: where it was hardest.
pub(super) fn is_of_the_curve(kind: LimitKind) -> bool {
    kind.spec().of == Some(Quantity::PeopleShare)
}

/// At which level a pass is hardest on the curves for the people aboard, and what they allow there: "stays above 30 g
/// (+Gx) for 12.1 s where the curve allows 1.2 s". `None` without curves, or where nothing was felt.
#[must_use]
pub fn hardest_level(case: &Case, pass: &PassResult) -> Option<String> {
    let people = case.problem.limits().people()?;
    let hardest = people.hardest(pass)?;
    let (level, axis) = (trim(hardest.level_g, 3), hardest.axis.symbol());
    let seconds = |s: f64| format!("{} s", trim(s, 3));
    if hardest.allowed_s <= 0.0 && hardest.stay_s < 1e-3 {
        return Some(format!(
            "reaches {level} g ({axis}) where the curve ends at {} g",
            trim(hardest.level_g / hardest.ratio * people.level_factor(), 3)
        ));
    }
    let in_all = match people.several_peaks() {
        SeveralPeaks::LongestSingleStay => "",
        SeveralPeaks::TimeAddedUp => " in all",
    };
    let allows = match hardest.allowed_s {
        s if s <= 0.0 => "no time".to_owned(),
        s if s < LONGER_THAN_ANY_S => seconds(s),
        _ => "any time".to_owned(),
    };
    Some(format!(
        "stays above {level} g ({axis}) for {}{in_all} where the curve allows {allows}",
        seconds(hardest.stay_s)
    ))
}

/// Durations from here on stand for "and longer" in a curve, s.
const LONGER_THAN_ANY_S: f64 = 1e8;

/// A number to so many significant digits, without trailing zeros.
fn trim(value: f64, digits: usize) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap)]
    let places = digits as i32 - 1 - value.abs().log10().floor() as i32;
    let text = format!("{value:.*}", usize::try_from(places.max(0)).unwrap_or(0));
    if text.contains('.') {
        grouped(text.trim_end_matches('0').trim_end_matches('.'))
    } else {
        grouped(&text)
    }
}
