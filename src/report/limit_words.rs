//! Limits in words, the same on the screen, in figures and in files.

use super::number::grouped;
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::LimitKind;
use crate::ensemble::people::PeopleWatch;
use crate::pass::PassResult;
use crate::scenario::people::SeveralPeaks;
use crate::study::Case;

/// Short name of a limit for people: "peak deceleration", "time above 2 g".
#[must_use]
pub fn name(case: &Case, kind: LimitKind) -> String {
    match kind {
        LimitKind::PeakDeceleration => "peak deceleration".to_owned(),
        LimitKind::Onset => "onset".to_owned(),
        LimitKind::StayAbove(index) => {
            let level = case.problem.limits().levels_m_s2().get(index);
            format!(
                "time above {} g",
                trim(level.map_or(f64::NAN, |level| level / G0), 3)
            )
        }
        LimitKind::HeatFlux => "peak heat flux".to_owned(),
        LimitKind::HeatLoad => "heat load".to_owned(),
        LimitKind::DynamicPressure => "dynamic pressure".to_owned(),
        LimitKind::LowestAltitude => "lowest altitude".to_owned(),
        LimitKind::CapturedBelow => "captured low enough".to_owned(),
        LimitKind::CapturedAbove => "captured high enough".to_owned(),
        LimitKind::LeavesAir => "leaves the air again".to_owned(),
        LimitKind::ComesDown => "comes down".to_owned(),
        LimitKind::People => {
            let people = case.problem.limits().people();
            let axes = people.map_or_else(Vec::new, PeopleWatch::symbols);
            format!("people's {} by level and duration", axes.join(" and "))
        }
        LimitKind::Spot(index) => {
            let spot = case.scenario.ship.spots.get(index);
            format!("heat flux of {}", spot.map_or("a spot", |spot| &spot.name))
        }
    }
}

/// The key by which the palette of the figures knows a limit: levels and spots carry their number.
#[must_use]
pub fn mark_key(kind: LimitKind) -> String {
    match kind {
        LimitKind::StayAbove(level) => format!("stay_above_{}", level + 1),
        LimitKind::Spot(spot) => format!("spot_{}", spot + 1),
        other => other.key().to_owned(),
    }
}

/// Short name of breaking a limit, for curves of how often that happens.
#[must_use]
pub fn breaking_name(case: &Case, kind: LimitKind) -> String {
    match kind {
        LimitKind::CapturedBelow => "not captured low enough".to_owned(),
        LimitKind::CapturedAbove => "captured too low".to_owned(),
        LimitKind::LeavesAir => "does not leave the air".to_owned(),
        LimitKind::ComesDown => "does not come down".to_owned(),
        _ => name(case, kind),
    }
}

/// What breaking the limit means for a pass that did, with the level at which people had too much.
#[must_use]
pub fn broken_by(case: &Case, kind: LimitKind, pass: &PassResult) -> String {
    let words = broken_words(case, kind);
    match (kind, hardest_level(case, pass)) {
        (LimitKind::People, Some(hardest)) => format!("{words}: {hardest}"),
        _ => words,
    }
}

/// What breaking the limit means, for the edge of a band.
#[must_use]
pub fn broken_words(case: &Case, kind: LimitKind) -> String {
    let allowed = |kind| {
        let entries = case.problem.limits().entries();
        let limit = entries.iter().find(|limit| limit.kind == kind);
        limit.map_or_else(String::new, |limit| value_text(case, kind, limit.allowed))
    };
    match kind {
        LimitKind::CapturedBelow => format!("not captured below {}", allowed(kind)),
        LimitKind::CapturedAbove => format!("captured below {}", allowed(kind)),
        LimitKind::LeavesAir => "does not leave the air again".to_owned(),
        LimitKind::ComesDown => "does not come down in this pass".to_owned(),
        LimitKind::People => format!("{} beyond {}", name(case, kind), allowed(kind)),
        LimitKind::LowestAltitude => format!("{} below {}", name(case, kind), allowed(kind)),
        LimitKind::StayAbove(_) => format!("{} longer than {}", name(case, kind), allowed(kind)),
        _ => format!("{} above {}", name(case, kind), allowed(kind)),
    }
}

/// A value of the limited quantity with its unit.
#[must_use]
pub fn value_text(_case: &Case, kind: LimitKind, value: f64) -> String {
    match kind {
        LimitKind::PeakDeceleration => format!("{} g", trim(value / G0, 4)),
        LimitKind::Onset => format!("{} g/s", trim(value / G0, 4)),
        LimitKind::StayAbove(_) => format!("{} s", trim(value, 4)),
        LimitKind::HeatFlux | LimitKind::Spot(_) => format!("{} W/cm²", trim(value / 1e4, 4)),
        LimitKind::HeatLoad => format!("{} J/cm²", trim(value / 1e4, 5)),
        LimitKind::DynamicPressure => format!("{} kPa", trim(value / 1e3, 4)),
        LimitKind::LowestAltitude => format!("{} km", trim(value / 1e3, 5)),
        LimitKind::CapturedBelow | LimitKind::CapturedAbove => {
            format!("{} km apoapsis", trim(value / 1e3, 6))
        }
        #[expect(clippy::float_cmp, reason = "exactly the curve")]
        LimitKind::People if value == 1.0 => "the curve".to_owned(),
        LimitKind::People => format!("{} % of the curve", trim(100.0 * value, 4)),
        LimitKind::LeavesAir | LimitKind::ComesDown => "yes".to_owned(),
    }
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
