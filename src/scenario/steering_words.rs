//! How the ship is steered, in plain words.

use super::steering::{BankControl, Control, Skirt, Steering, SteeringTarget};
use super::wording::say;
use crate::numeric::units::{Dimension, format_number};

/// One line for each choice; none for a ship that is not steered.
pub(super) fn steering_in_words(steering: Option<&Steering>) -> Vec<String> {
    let Some(steering) = steering else {
        return Vec::new();
    };
    let target = match steering.target {
        SteeringTarget::ExitApoapsis(altitude) => {
            format!(
                "an apoapsis altitude of {} after the pass",
                say(altitude, Dimension::Length)
            )
        }
        SteeringTarget::ExitSpeedLoss(speed) => {
            format!("{} lost to the air", say(speed, Dimension::Speed))
        }
        SteeringTarget::Landing => "the gate of the landing (with `land`)".to_owned(),
    };
    let mut lines = match &steering.control {
        Control::Bank(bank) => {
            let lands = steering.target == SteeringTarget::Landing;
            bank_in_words(bank, &target, (steering.relief, lands))
        }
        Control::Skirt(skirt) => skirt_in_words(skirt, &target),
    };
    lines.push(format!(
        "decides every {} above {} of sensed acceleration, and forgets what it measured of the air in {}",
        say(steering.cycle_s, Dimension::Time),
        say(steering.starts_at_m_s2, Dimension::Acceleration),
        say(steering.memory_s, Dimension::Time),
    ));
    lines
}

fn bank_in_words(bank: &BankControl, target: &str, (relief, lands): (f64, bool)) -> Vec<String> {
    let angle = |rad| say(rad, Dimension::Angle);
    let sides = if lands {
        "keeps the place ahead by changing sides".to_owned()
    } else {
        format!(
            "holds the inclination of the approach within {} by changing sides",
            angle(bank.inclination_within_rad)
        )
    };
    vec![
        format!(
            "turns the lift for {target}: bank from {} to {}, up to {} and {}",
            angle(bank.least_rad),
            angle(bank.most_rad),
            say(bank.rate_rad_s, Dimension::AngularRate),
            say(bank.acceleration_rad_s2, Dimension::AngularAcceleration),
        ),
        format!(
            "{sides}; turns the lift up at {} % of a limit on deceleration, heat flux or dynamic pressure",
            format_number(100.0 * relief),
        ),
    ]
}

fn skirt_in_words(skirt: &Skirt, target: &str) -> Vec<String> {
    vec![format!(
        "drops its skirt once for {target}: then {}, {}, drag coefficient {}, nose radius {}",
        say(skirt.mass_kg, Dimension::Mass),
        say(skirt.reference_area_m2, Dimension::Area),
        format_number(skirt.drag_coefficient),
        say(skirt.nose_radius_m, Dimension::Length),
    )]
}
