//! The dispersion of the air's parts in plain words.

use super::uncertainty::{AirPart, AirParts};
use crate::numeric::units::{Dimension, format_number, format_quantity};

/// One line for the parts as the world file says, and one for each other.
pub(super) fn air_parts_in_words(parts: &AirParts) -> Vec<String> {
    let length = |m| format_quantity(m, Dimension::Length);
    let percent = |share: f64| format!("{} %", format_number(100.0 * share));
    let words = [
        (
            "scale height of the air",
            part_words(&parts.scale_height, |&sigma| percent(sigma)),
        ),
        (
            "small-scale density",
            part_words(&parts.small_scale, |own| {
                format!(
                    "{}, correlated over {} in altitude and {} along the track",
                    percent(own.sigma),
                    length(own.vertical_m),
                    length(own.along_track_m)
                )
            }),
        ),
        (
            "wind",
            part_words(&parts.wind, |&sigma| {
                format_quantity(sigma, Dimension::Speed)
            }),
        ),
    ];
    let as_world: Vec<&str> = words
        .iter()
        .filter(|(_, w)| w.is_none())
        .map(|(name, _)| *name)
        .collect();
    let mut lines = Vec::new();
    if !as_world.is_empty() {
        lines.push(format!("{}: as the world file says", as_world.join(", ")));
    }
    lines.extend(
        words
            .iter()
            .filter_map(|(name, words)| Some(format!("{name}: {}", words.as_ref()?))),
    );
    lines
}

/// `None` for a part that is as the world file says.
fn part_words<T>(part: &AirPart<T>, own: impl Fn(&T) -> String) -> Option<String> {
    match part {
        AirPart::World { factor } if (factor - 1.0).abs() < f64::EPSILON => None,
        AirPart::World { factor } => Some(format!(
            "{} times the spread in the world file",
            format_number(*factor)
        )),
        AirPart::Exact => Some("exact".to_owned()),
        AirPart::Own(value) => Some(format!("std dev {}", own(value))),
    }
}
