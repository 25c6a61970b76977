//! What `land` says: the answer, and the tables under it.

use super::band_text;
use super::coverage_words;
use super::landing_outside::outside_words;
use super::landing_tables::{aims_table, aims_words, gate_table};
use super::number::{count, percent, significant};
use super::text::Terminal;
use super::whole::real;
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::interval::Interval;
use crate::numeric::angle::wrapped;
use crate::scenario::landing::Landing;
use crate::study::Case;
use crate::study::landing::LandingResult;
use crate::study::landing::ellipse::{Ellipse, HOLDS_95};
use crate::study::landing::ground::{FromEntry, OnMap};
use std::fmt::Write as _;

/// A place on the map in words.
#[must_use]
pub fn place_words(at: OnMap) -> String {
    let (latitude, longitude) = (at.latitude_rad.to_degrees(), at.longitude_rad.to_degrees());
    let side = |value: f64, plus: &str, minus: &str| {
        let letter = if value < 0.0 { minus } else { plus };
        format!("{:.3} deg {letter}", value.abs())
    };
    format!("{} {}", side(latitude, "N", "S"), side(longitude, "E", "W"))
}

/// A length in kilometres.
#[must_use]
pub fn km(m: f64) -> String {
    format!("{} km", significant(m / 1e3, 4))
}

/// A longitude between -180 and 180 deg.
#[must_use]
pub fn longitude(rad: f64) -> String {
    format!("{:.2} deg", wrapped(rad).to_degrees())
}

/// Share of flights with its lower bound.
fn share(case: &Case, (good, of): (u64, u64)) -> String {
    if case.problem.is_deterministic() {
        return if good == of { "all" } else { "none" }.to_owned();
    }
    let confidence = case.scenario.ask.confidence;
    let lower = Interval::clopper_pearson(good, of, confidence).map_or(f64::NAN, |i| i.lower);
    format!(
        "{} of {} ({} or more with {} confidence)",
        percent(real(good) / real(of.max(1))),
        count(of),
        percent(lower),
        percent(confidence)
    )
}

/// The answer in a few sentences.
#[must_use]
pub fn answer(case: &Case, (result, landing): (&LandingResult, &Landing)) -> String {
    let name = &landing.place.name;
    let mut text = if result.inside(landing) {
        format!("Aim for {:.2} km to land at {name}", result.aim_m / 1e3)
    } else {
        format!(
            "{name} is out of reach from an aim of {:.2} km",
            result.aim_m / 1e3
        )
    };
    let _ = write!(
        text,
        " ({}): the ascending node lies at {}.",
        place_words(result.place),
        longitude(result.placing.node_rad)
    );
    if let Some(outside) = &result.outside {
        text.push_str(&outside_words(case, outside));
    } else if !result.inside(landing) {
        let _ = write!(
            text,
            " The ship comes down {} from it, at {}.",
            km(-result.placing.depth_m),
            place_words(result.held_nominal.1)
        );
    }
    text.push_str(&burns(result));
    if let Some(steered) = &result.steered {
        let of = steered.flights.len() as u64;
        let _ = write!(
            text,
            " Steered, {} meet the gate; with the bank held {}, and {} about where that bank leads.",
            share(case, (steered.reached(), of)),
            percent(real(result.held.reached()) / real(of.max(1))),
            percent(real(result.held_at_own) / real(of.max(1))),
        );
    } else if let Some(ellipse) = &result.held.ellipse {
        if landing.gate.is_some() {
            let of = result.held.flights.len() as u64;
            let met = share(case, (result.held.reached(), of));
            let _ = write!(text, " The gate is met by {met}.");
        }
        let _ = write!(text, " {}", ellipse_words(case, result, ellipse));
    }
    let main = result.steered.as_ref().unwrap_or(&result.held);
    if let Some(words) = super::unflown::words(&main.outcome.tally) {
        let _ = write!(text, " {words}");
    }
    let said = coverage_words::remark(case, &band_text::counted(case, &main.outcome));
    let said = said.map_or(String::new(), |words| format!(" {words}"));
    text + &super::remarks::model_remarks(case) + &said
}

/// The burns before the entry.
fn burns(result: &LandingResult) -> String {
    let mut text = String::new();
    let propellant = |kg: Option<f64>| {
        kg.map_or_else(String::new, |kg| {
            format!(", {} kg of propellant", significant(kg, 3))
        })
    };
    if let Some(brought) = &result.brought {
        let _ = write!(
            text,
            " Deorbit burn: {} m/s{} over {}, {} min before the entry",
            significant(brought.burn.speed_m_s, 4),
            propellant(brought.burn.propellant_kg),
            place_words(brought.over),
            significant(brought.burn.coast_s / 60.0, 3)
        );
        let _ = match brought.rounds {
            0 => write!(text, "."),
            1 => write!(text, ", after one round of waiting."),
            rounds => write!(
                text,
                ", after {rounds} rounds of waiting ({} h).",
                significant(f64::from(rounds) * brought.period_s / 3600.0, 3)
            ),
        };
        let moved = f64::from(brought.rounds) * brought.periapsis_shift_rad.to_degrees();
        if moved.abs() >= 0.01 {
            let _ = write!(
                text,
                " Meanwhile the periapsis moves by {} deg in the plane of the orbit.",
                significant(moved, 3)
            );
        }
    }
    if let Some(earlier) = &result.earlier {
        let direction = if earlier.speed_m_s > 0.0 {
            "against"
        } else {
            "with"
        };
        let _ = write!(
            text,
            " The pass at {:.2} km leaves an apoapsis of {}; a burn of {} m/s {direction} the motion there{} leads \
             to the entry {} h after the first.",
            earlier.aim_m / 1e3,
            km(earlier.apoapsis_m),
            significant(earlier.speed_m_s.abs(), 3),
            propellant(earlier.propellant_kg),
            significant(earlier.later_s / 3600.0, 3)
        );
        if earlier.broken != 0 {
            text.push_str(" That pass breaks a limit.");
        }
    }
    text
}

/// Azimuth of the long axis of an ellipse on the map, deg from north to the east, 0 to 180.
#[must_use]
pub fn azimuth_deg(case: &Case, result: &LandingResult, ellipse: &Ellipse) -> f64 {
    const STEP_M: f64 = 1000.0;
    let at = |ahead: f64| {
        let (sine, cosine) = (ellipse.turned_rad.sin(), ellipse.turned_rad.cos());
        let place = FromEntry {
            downrange_m: ellipse.centre.downrange_m + ahead * cosine,
            crossrange_m: ellipse.centre.crossrange_m + ahead * sine,
        };
        let direction = result.track.direction(place);
        OnMap::of(case.problem.planet(), direction, result.placing.node_rad)
    };
    let (a, b) = (at(-STEP_M), at(STEP_M));
    let east = wrapped(b.longitude_rad - a.longitude_rad)
        * f64::midpoint(a.latitude_rad, b.latitude_rad).cos();
    let north = b.latitude_rad - a.latitude_rad;
    east.atan2(north).to_degrees().rem_euclid(180.0)
}

/// The ellipse in words.
#[must_use]
pub fn ellipse_words(case: &Case, result: &LandingResult, ellipse: &Ellipse) -> String {
    let direction = result.track.direction(ellipse.centre);
    let centre = OnMap::of(case.problem.planet(), direction, result.placing.node_rad);
    let axes = |scale: f64| {
        format!(
            "{} by {}",
            km(scale * ellipse.axes_m[0]),
            km(scale * ellipse.axes_m[1])
        )
    };
    format!(
        "The 95 % ellipse about {} has semi-axes of {}, the long one at azimuth {:.0} deg ({} of the flights lie in \
         it); that of three sigma {} ({}).",
        place_words(centre),
        axes(HOLDS_95),
        azimuth_deg(case, result, ellipse),
        percent(ellipse.inside[0]),
        axes(3.0),
        percent(ellipse.inside[1])
    )
}

/// What the ship has left for the approach, in words.
#[must_use]
pub fn left_words(result: &LandingResult) -> Option<String> {
    let left = result.left?;
    Some(format!(
        "Left at the gate: energy for a fall from {}; with its lift of {} g to one side the ship turns on a radius of \
         {}, and by {:.0} deg while drag halves its speed.",
        km(left.energy_height_m),
        significant(left.lift_m_s2 / G0, 2),
        km(left.turn_radius_m),
        left.turn_rad.to_degrees()
    ))
}

/// The footprint in words.
#[must_use]
pub fn footprint_words(result: &LandingResult) -> Option<String> {
    let footprint = result.footprint.as_ref()?;
    let (near, far) = footprint.held.downrange_m()?;
    let (left, right) = footprint.held.crossrange_m()?;
    let mut text = format!(
        "The footprint reaches from {} to {} downrange, {} to the left and {} to the right of the track: {} \
         thousand km². ",
        km(near),
        km(far),
        km(-left),
        km(right),
        significant(footprint.held.area_m2() / 1e9, 3)
    );
    if result.placing.depth_m >= 0.0 {
        let _ = write!(
            text,
            "The place lies {} inside its edge",
            km(result.placing.depth_m)
        );
    } else {
        let _ = write!(
            text,
            "The place lies {} outside",
            km(-result.placing.depth_m)
        );
    }
    let nodes: Vec<String> = result
        .nodes_rad
        .iter()
        .map(|&(from, to)| format!("{} to {}", longitude(from), longitude(to)))
        .collect();
    if !nodes.is_empty() {
        let _ = write!(text, "; it is inside for a node at {}", nodes.join(" or "));
    }
    text.push('.');
    Some(text)
}

/// Everything under the answer.
#[must_use]
pub fn table(terminal: &Terminal, case: &Case, result: &LandingResult) -> String {
    let main = result.steered.as_ref().unwrap_or(&result.held);
    let mut text = String::new();
    for words in [footprint_words(result), left_words(result)]
        .into_iter()
        .flatten()
    {
        text.push_str(&terminal.paragraph(&words, 0));
        text.push('\n');
    }
    if let Some(steered) = &result.steered
        && let Some(ellipse) = &steered.ellipse
    {
        let words = ellipse_words(case, result, ellipse);
        text.push_str(&terminal.paragraph(&words, 0));
        text.push('\n');
    }
    if let Some(words) = aims_words(case, result) {
        text.push_str(&terminal.paragraph(&words, 0));
        text.push('\n');
    }
    for grid in [
        aims_table(result),
        gate_table(main),
        band_text::quantities(case, &main.outcome),
        band_text::broken(
            case,
            &main.outcome,
            Some(&band_text::counted(case, &main.outcome)),
        ),
    ] {
        if !grid.is_empty() {
            let _ = write!(text, "{}\n\n", terminal.table(&grid).trim_end());
        }
    }
    text
}
