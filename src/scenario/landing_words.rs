//! A landing in plain words.

use super::landing::{GateSpec, Landing};
use super::wording::say;
use crate::numeric::units::Dimension;

/// The lines of a landing.
pub(super) fn landing_in_words(landing: &Landing) -> Vec<String> {
    let length = |m| say(m, Dimension::Length);
    let angle = |rad| say(rad, Dimension::Angle);
    let place = &landing.place;
    let mut lines = vec![format!(
        "at {}: latitude {}, longitude {} east",
        place.name,
        angle(place.latitude_rad),
        angle(place.longitude_rad)
    )];
    if let Some(parking) = landing.parking {
        lines.push(format!(
            "a burn at the apoapsis of an orbit with a periapsis of {}; the ship may wait {} rounds",
            length(parking.periapsis_altitude_m),
            parking.most_rounds
        ));
    }
    if let Some(pass) = landing.after_pass_m {
        lines.push(format!(
            "after a pass aimed at a periapsis of {} and a burn at the apoapsis that follows",
            length(pass)
        ));
    }
    lines.push(match landing.aim_m {
        Some(aim) => format!("aims the entry at a periapsis of {}", length(aim)),
        None => "chooses the aim of the entry in the range of the arrival".to_owned(),
    });
    lines.push(match landing.node_longitude_rad {
        Some(node) => format!("the ascending node lies at longitude {}", angle(node)),
        None => "chooses the longitude of the ascending node".to_owned(),
    });
    if landing.free_argument {
        lines.push("chooses the argument of periapsis".to_owned());
    }
    lines.push(landing.gate.as_ref().map_or_else(
        || "flights are followed to the ground".to_owned(),
        gate_in_words,
    ));
    lines
}

fn gate_in_words(gate: &GateSpec) -> String {
    let length = |m| say(m, Dimension::Length);
    let altitude = if gate.lowest_m.is_finite() {
        format!(
            ", at an altitude of {} to {}",
            length(gate.lowest_m),
            length(gate.highest_m)
        )
    } else {
        String::new()
    };
    format!(
        "the gate is met at {} against the air, {} from the place within {}, which lies within {} of the direction \
         of flight{altitude}",
        say(gate.speed_m_s, Dimension::Speed),
        length(gate.distance_to_go_m),
        length(gate.within_m),
        say(gate.heading_rad, Dimension::Angle),
    )
}
