//! The dispersion of the air's parts, spots and people's limits in plain words.

use super::people::{People, PeopleCurve, SeatChoice, SeveralPeaks};
use super::ship::Ship;
use super::spots::SpotShare;
use super::uncertainty::{AirMeans, AirPart, AirParts};
use super::wall::wall_in_words;
use crate::numeric::units::{Dimension, format_number, show_quantity};

/// One line for the parts as the world file says, and one for each other.
pub(super) fn air_parts_in_words(parts: &AirParts) -> Vec<String> {
    let length = |m| show_quantity(m, Dimension::Length);
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
            part_words(&parts.wind, |&sigma| show_quantity(sigma, Dimension::Speed)),
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
    lines.extend(means_in_words(&parts.means));
    lines
}

/// One line for each part of the air that is expected off the profile.
fn means_in_words(means: &AirMeans) -> Vec<String> {
    let signed = |text: String| {
        if text.starts_with('-') {
            text
        } else {
            format!("+{text}")
        }
    };
    let density = format!(
        "{} of the world's one-sigmas",
        format_number(means.density_sigmas)
    );
    let percent = format!("{} %", format_number(100.0 * means.scale_height));
    let wind = show_quantity(means.wind_m_s, Dimension::Speed);
    [
        ("log of the density", means.density_sigmas, density),
        ("scale height of the air", means.scale_height, percent),
        ("wind", means.wind_m_s, wind),
    ]
    .into_iter()
    .filter(|(_, mean, _)| *mean != 0.0)
    .map(|(name, _, words)| format!("{name}, expected off the profile by {}", signed(words)))
    .collect()
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

/// One line for each spot, and one for the roll.
pub(super) fn spots_in_words(ship: &Ship) -> Vec<String> {
    let mut lines: Vec<String> = ship
        .spots
        .iter()
        .map(|spot| {
            let share = match spot.heating {
                SpotShare::Share(share) => {
                    format!("{} % of the stagnation flux", format_number(100.0 * share))
                }
                SpotShare::Radius(radius) => {
                    format!(
                        "flux of a radius of {}",
                        show_quantity(radius, Dimension::Length)
                    )
                }
            };
            let kelvin = spot
                .highest_temperature_k
                .map(|k| show_quantity(k, Dimension::Temperature));
            let flux = spot
                .highest_flux_w_m2
                .map(|q| show_quantity(q, Dimension::HeatFlux));
            let limits: Vec<String> = [kelvin, flux].into_iter().flatten().collect();
            let most = if limits.is_empty() {
                "no limit".to_owned()
            } else {
                format!("at most {}", limits.join(" and "))
            };
            let wall =
                wall_in_words(&spot.wall).map_or(String::new(), |words| format!("; {words}"));
            format!(
                "{}: {share}, emissivity {}, {most}{wall}",
                spot.name,
                format_number(spot.emissivity)
            )
        })
        .collect();
    lines.extend(ship.roll.map(|roll| {
        let period = show_quantity(roll.period_s, Dimension::Time);
        format!("rolls once in {period}, which spreads the heat of spots on the circumference")
    }));
    lines
}

/// What the people may be given, in words.
pub(super) fn people_in_words(people: &People) -> String {
    let curve = match &people.curve {
        PeopleCurve::Named(name) => format!("the curve {name}"),
        PeopleCurve::Own(points) => format!("a curve of their own with {} points", points.len()),
    };
    let seat = match people.seat {
        SeatChoice::BackToStream => "on their backs against the stream",
        SeatChoice::FacingStream => "facing the stream",
        SeatChoice::FeetToStream => "feet to the stream",
    };
    let others: Vec<&str> = people.other_axes.iter().map(|(axis, _)| &**axis).collect();
    let others = if others.is_empty() {
        String::new()
    } else {
        format!(", and by curves of their own along {}", others.join(", "))
    };
    #[expect(clippy::float_cmp, reason = "exactly what is written")]
    let factor = if people.level_factor == 1.0 {
        String::new()
    } else {
        let factor = show_quantity(people.level_factor, Dimension::Ratio);
        format!(", at {factor} of their levels")
    };
    let peaks = match people.several_peaks {
        SeveralPeaks::LongestSingleStay => "the longest single stay above each level counts",
        SeveralPeaks::TimeAddedUp => "all time above each level is added up",
    };
    format!("people {seat}: level against duration by {curve}{others}{factor}; {peaks}")
}
