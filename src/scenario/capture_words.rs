//! The `capture` section in plain words.

use super::capture::{Alternative, Capture, CaptureOption};
use std::fmt::Write as _;

use super::wording::say;
use crate::numeric::units::{Dimension, format_number};

/// One line for each thing that was understood.
pub(super) fn capture_in_words(capture: &Capture) -> Vec<String> {
    let length = |m| say(m, Dimension::Length);
    let target = &capture.target;
    let options: Vec<&str> = capture.options.iter().map(|&o| option_words(o)).collect();
    let mut lines = vec![
        format!(
            "into an orbit of {} by {}, either to {}",
            length(target.periapsis_m),
            length(target.apoapsis_m),
            length(target.tolerance_m)
        ),
        format!("compared: {}", options.join(", ")),
    ];
    lines.extend(
        capture
            .loosest_apoapsis_m
            .map(|m| format!("at first at least below an apoapsis of {}", length(m))),
    );
    let burns = &capture.burns;
    let attitude = if burns.against_velocity {
        "against the velocity"
    } else {
        "fixed in space"
    };
    let count = match burns.count {
        Some(1) => "one burn".to_owned(),
        Some(count) => format!("{count} burns"),
        None => format!(
            "as few burns as lose at most {} %",
            format_number(100.0 * burns.accepted_loss)
        ),
    };
    lines.push(format!(
        "thrust {attitude}, {count}, within {}",
        say(burns.longest_s, Dimension::Time)
    ));
    lines.push(format!(
        "burns: size to {} %, pointing to {} (one sigma)",
        format_number(100.0 * burns.size_sigma),
        say(burns.pointing_sigma_rad, Dimension::Angle)
    ));
    lines.extend(
        capture
            .propellant_aboard_kg
            .map(|kg| format!("propellant aboard: {}", say(kg, Dimension::Mass))),
    );
    if capture.has(CaptureOption::Moon) {
        let moons = if capture.moons.is_empty() {
            "every moon of the world".to_owned()
        } else {
            capture.moons.join(", ")
        };
        lines.push(format!(
            "moons: {moons}, {} set aside for each flyby",
            say(capture.flyby_allowance_m_s, Dimension::Speed)
        ));
    }
    lines.extend(capture.alternatives.iter().map(alternative));
    lines
}

fn alternative(one: &Alternative) -> String {
    let mut line = format!(
        "other arrival {}: excess speed {}",
        one.name,
        say(one.excess_speed_m_s, Dimension::Speed)
    );
    if one.extra_time_s != 0.0 {
        let _ = write!(line, ", {} more", say(one.extra_time_s, Dimension::Time));
    }
    if one.extra_propellant_kg != 0.0 {
        let _ = write!(
            line,
            ", {} of propellant before it",
            say(one.extra_propellant_kg, Dimension::Mass)
        );
    }
    line
}

fn option_words(option: CaptureOption) -> &'static str {
    match option {
        CaptureOption::Engine => "engine alone",
        CaptureOption::Air => "one pass through the air",
        CaptureOption::BurnThenAir => "a burn, then one pass",
        CaptureOption::GentlePasses => "a loose orbit, then gentle passes",
        CaptureOption::Moon => "a moon's gravity first",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{STARTER, Scenario};

    #[test]
    fn what_is_compared_is_said_in_plain_words() {
        let text = STARTER.replace(
            "  # propellant_aboard: 25 t",
            "  alternatives: [{name: later, excess_speed: 2.2 km/s, extra_time: 90 d, extra_propellant: 800 kg}]\n  \
             propellant_aboard: 25 t",
        );
        let scenario = Scenario::from_text("starter.yaml", &text).unwrap();
        let lines = capture_in_words(scenario.capture.as_ref().unwrap());
        let expected = "\
into an orbit of 400 km by 8000 km, either to 25 km
compared: engine alone, one pass through the air, a burn, then one pass
at first at least below an apoapsis of 60\u{202f}000 km
thrust fixed in space, as few burns as lose at most 2 %, within 120 d
burns: size to 0.5 %, pointing to 0.3 deg (one sigma)
propellant aboard: 25 t
other arrival later: excess speed 2.2 km/s, 90 d more, 800 kg of propellant before it";
        assert_eq!(lines.join("\n").replace('\u{a0}', " "), expected);
    }
}
