//! Reads how wrong the ship's own idea of where it is and how fast may be, and its accelerometer.

use super::distribution::Spread;
use super::message::InputError;
use super::section::Section;
use super::uncertainty::{Number, Uncertain};
use crate::numeric::units::Dimension;

/// Key, number, dimension and largest error that is believed.
const ERRORS: [(&str, Number, Dimension, f64); 4] = [
    (
        "altitude",
        Number::NavigationAltitude,
        Dimension::Length,
        1e6,
    ),
    ("speed", Number::NavigationSpeed, Dimension::Speed, 5e3),
    (
        "flight_path_angle",
        Number::NavigationAngle,
        Dimension::Angle,
        0.5,
    ),
    (
        "accelerometer",
        Number::NavigationAccelerometer,
        Dimension::Ratio,
        0.9,
    ),
];

/// The numbers of `uncertainty.navigation`. A ship that is not steered never asks for them.
pub(super) fn decode(uncertainty: &Section<'_>) -> Result<Vec<Uncertain>, InputError> {
    let Some(navigation) = uncertainty.optional_section("navigation")? else {
        return Ok(Vec::new());
    };
    let mut numbers = Vec::new();
    for (key, number, dimension, largest) in ERRORS {
        if let Some(node) = navigation.optional(key) {
            let distribution = Spread::of_error(dimension, largest).decode(&node)?;
            numbers.push(Uncertain {
                number,
                distribution,
            });
        }
    }
    navigation.finish()?;
    Ok(numbers)
}

/// The dimension of an error of navigation.
pub(super) fn dimension(number: Number) -> Option<Dimension> {
    let found = ERRORS.iter().find(|(_, known, _, _)| *known == number);
    found.map(|(_, _, dimension, _)| *dimension)
}
