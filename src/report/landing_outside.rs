//! What is said of a place outside the footprint.

use super::landing_text::{km, longitude, place_words};
use super::limit_words::{name, value_text};
use super::number::trimmed;
use crate::study::Case;
use crate::study::landing::outside::Outside;
use std::fmt::Write as _;

/// How far the place lies outside, what is nearest, and what would bring it inside.
#[must_use]
pub fn outside_words(case: &Case, outside: &Outside) -> String {
    let mut text = format!(
        " It lies {} beyond the footprint; the nearest place reached is {}.",
        km(outside.gap_m),
        place_words(outside.nearest.1)
    );
    let mut ways = Vec::new();
    if !outside.nodes_rad.is_empty() {
        let list: Vec<String> = outside
            .nodes_rad
            .iter()
            .map(|&(from, to)| format!("{} to {}", longitude(from), longitude(to)))
            .collect();
        ways.push(format!(
            "the ascending node at a longitude of {} (another hour of arrival, or rounds of waiting)",
            list.join(" or ")
        ));
    }
    if let Some((aim, gap)) = outside.other_aim {
        ways.push(if gap >= 0.0 {
            format!("an aim of {:.2} km", aim / 1e3)
        } else {
            format!(
                "an aim of {:.2} km, which still leaves {}",
                aim / 1e3,
                km(-gap)
            )
        });
    }
    if let (Some(near), false) = (outside.flight_m, outside.limits.is_empty()) {
        let list: Vec<String> = outside
            .limits
            .iter()
            .map(|&(kind, value, allowed)| {
                format!(
                    "{} of {} instead of {}",
                    name(case, kind),
                    value_text(case, kind, value),
                    value_text(case, kind, allowed)
                )
            })
            .collect();
        ways.push(format!(
            "{} (a flight then comes within {})",
            list.join(" and "),
            km(near)
        ));
    }
    if let Some(factor) = outside.lift {
        ways.push(format!("{} times the lift", trimmed(factor, 3)));
    }
    if ways.is_empty() {
        text.push_str(
            " No other node, aim or limit alone and no lift up to five times as much brings it inside: another \
             inclination or argument of periapsis is needed.",
        );
    } else {
        let _ = write!(text, " What would bring it nearer: {}.", ways.join("; or "));
    }
    text
}
