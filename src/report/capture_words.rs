//! Ways to be captured in words, the same on the screen, in figures and in files.

use super::limit_words;
use super::number::significant;
use crate::study::Case;
use crate::study::capture::{Break, Obstacle, Row, Way};

const DAY_S: f64 = 86_400.0;

/// The stable key of a way.
#[must_use]
pub fn way_key(way: &Way) -> &'static str {
    way.key()
}

/// The name of a row for people, its arrival included.
#[must_use]
pub fn row_name(row: &Row) -> String {
    let way = way_name(&row.way);
    if row.arrival.is_empty() {
        way
    } else {
        format!("{}: {way}", row.arrival)
    }
}

/// The name of a way for people.
#[must_use]
pub fn way_name(way: &Way) -> String {
    let burns = |count: u32| match count {
        0 | 1 => String::new(),
        many => format!(", {many} burns"),
    };
    match way {
        Way::Engine { burns: count } => format!("engine alone{}", burns(*count)),
        Way::Air => "one pass".to_owned(),
        Way::BurnThenAir {
            speed_change_m_s,
            air_brakes,
        } if *speed_change_m_s > 0.0 => format!(
            "burn of {} m/s, {}",
            significant(*speed_change_m_s, 3),
            if *air_brakes {
                "then one pass"
            } else {
                "the pass brakes nothing"
            }
        ),
        Way::BurnThenAir { .. } => "no burn, then one pass".to_owned(),
        Way::GentlePasses => "gentle passes".to_owned(),
        Way::MoonThenEngine { moon, burns: count } => {
            format!("{moon}, then engine{}", burns(*count))
        }
        Way::MoonThenAir { moon } => format!("{moon}, then one pass"),
    }
}

/// The stable key of what was broken.
#[must_use]
pub fn break_key(what: Break) -> &'static str {
    what.key()
}

/// What was broken, in words.
#[must_use]
pub fn break_words(case: &Case, what: Break) -> String {
    match what {
        Break::Limit(kind) => limit_words::broken_words(case, kind),
        Break::NotCaptured => "not captured".to_owned(),
        Break::Propellant => {
            let aboard = case
                .scenario
                .capture
                .as_ref()
                .and_then(|capture| capture.propellant_aboard_kg);
            format!(
                "needs more than the {} of propellant aboard",
                mass(aboard.unwrap_or(f64::NAN))
            )
        }
        Break::Target => "does not reach the target orbit".to_owned(),
        Break::Failed => "the integration failed".to_owned(),
        Break::NoApproach => "the numbers fit no approach: no such arrival".to_owned(),
    }
}

/// Short words for what was broken, for a column.
#[must_use]
pub fn break_name(case: &Case, what: Break) -> String {
    match what {
        Break::Limit(kind) => limit_words::breaking_name(case, kind),
        Break::NotCaptured => "not captured".to_owned(),
        Break::Propellant => "propellant aboard".to_owned(),
        Break::Target => "target missed".to_owned(),
        Break::Failed => "failed".to_owned(),
        Break::NoApproach => "no approach".to_owned(),
    }
}

/// Why a way is closed, in words.
#[must_use]
pub fn obstacle_words(obstacle: &Obstacle) -> String {
    obstacle.to_string()
}

/// A mass: in tonnes from 10 t on, else in kilograms.
#[must_use]
pub fn mass(kg: f64) -> String {
    if kg.abs() >= 9_999.5 {
        format!("{} t", significant(kg / 1e3, 3))
    } else if kg.abs() >= 99.5 || kg == 0.0 {
        format!("{kg:.0} kg")
    } else {
        format!("{} kg", significant(kg, 2))
    }
}

/// A time: in minutes up to two hours, in hours up to two days, in days beyond.
#[must_use]
pub fn duration(seconds: f64) -> String {
    if seconds.abs() < 7200.0 {
        format!("{} min", significant(seconds / 60.0, 2))
    } else if seconds.abs() < 2.0 * DAY_S {
        format!("{} h", significant(seconds / 3600.0, 3))
    } else {
        format!("{} d", significant(seconds / DAY_S, 3))
    }
}
