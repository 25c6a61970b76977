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
        " The place lies {} beyond the footprint; the nearest place reached is {}.",
        km(outside.gap_m),
        place_words(outside.nearest.1)
    );
    let (mut ways, mut nearer) = (Vec::new(), Vec::new());
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
    if let Some(inclination) = outside.inclination_rad {
        ways.push(format!(
            "an inclination of at least {:.1} deg",
            inclination.to_degrees()
        ));
    }
    if let Some((aim, gap)) = outside.other_aim {
        if gap >= 0.0 {
            ways.push(format!("an aim of {:.2} km", aim / 1e3));
        } else {
            nearer.push(format!(
                "an aim of {:.2} km still leaves {}",
                aim / 1e3,
                km(-gap)
            ));
        }
    }
    if let Some(factor) = outside.lift {
        ways.push(format!("{} times the lift", trimmed(factor, 3)));
    }
    if let (Some(near), false) = (outside.flight_m, outside.limits.is_empty()) {
        let list: Vec<String> = outside
            .limits
            .iter()
            .map(|&(kind, value, allowed)| {
                format!(
                    "{} of {} instead of {}",
                    name(case, kind),
                    value_text(kind, value),
                    value_text(kind, allowed)
                )
            })
            .collect();
        nearer.push(format!(
            "with {} a flight comes within {}",
            list.join(" and "),
            km(near)
        ));
    }
    if ways.is_empty() {
        text.push_str(
            " No node and no aim of the range brings it inside, nor up to five times the lift.",
        );
    } else {
        let _ = write!(text, " To reach it takes {}.", ways.join(", or "));
    }
    if !nearer.is_empty() {
        let _ = write!(text, " Nearer, but not there: {}.", nearer.join("; "));
    }
    text
}
