//! Says in plain words what was understood of the ship.

use super::Scenario;
use super::aerodynamics::{AeroForm, Radiative};
use super::part_words::spots_in_words;
use super::wording::say;
use crate::numeric::units::{Dimension, format_number};

impl Scenario {
    /// A quantity, marked if it was left to its default.
    pub(super) fn quantity(&self, key: &str, words: &str, si: f64, dimension: Dimension) -> String {
        let mark = if self.document().has(key) {
            ""
        } else {
            " (default)"
        };
        format!("{words} {}{mark}", say(si, dimension))
    }

    pub(super) fn describe_ship(&self) -> Vec<String> {
        let ship = &self.ship;
        let name = self
            .ship_name
            .as_ref()
            .map_or(String::new(), |name| format!("{name}, "));
        let people = match ship.passengers {
            0 => "no passengers".to_owned(),
            1 => "1 passenger".to_owned(),
            many => format!("{many} passengers"),
        };
        let mut lines = vec![format!(
            "{name}{}, {people}",
            say(ship.mass_kg, Dimension::Mass)
        )];
        lines.extend(self.describe_forces());
        lines.push(match ship.engine {
            None => "no engine: corrections after the pass are given as speeds only".to_owned(),
            Some(engine) => {
                let impulse = format!(
                    "engine with a specific impulse of {} s",
                    format_number(engine.specific_impulse_s)
                );
                match engine.thrust_n {
                    Some(thrust) => {
                        format!("{impulse} and {} of thrust", say(thrust, Dimension::Force))
                    }
                    None => impulse,
                }
            }
        });
        lines.extend(spots_in_words(ship));
        lines
    }

    /// What the air does to the ship, and how it is heated.
    fn describe_forces(&self) -> Vec<String> {
        let (ship, pure) = (&self.ship, Dimension::Dimensionless);
        let area = self.quantity(
            "ship.reference_area",
            "reference area",
            ship.reference_area_m2,
            Dimension::Area,
        );
        let bank = self.quantity(
            "ship.bank",
            "bank angle",
            ship.bank_angle_rad,
            Dimension::Angle,
        );
        let nose = format!("nose radius {}", say(ship.nose_radius_m, Dimension::Length));
        let of_mass = ship.mass_kg / (ship.drag_coefficient * ship.reference_area_m2);
        let ballistic = format!(
            "so a ballistic coefficient of {} kg/m²",
            format_number((of_mass * 10.0).round() / 10.0)
        );
        let (drag, lift) = (ship.drag_coefficient, ship.lift_to_drag);
        let mut lines = match ship.aerodynamics.as_ref().map(|spec| &spec.form) {
            None | Some(AeroForm::Constant) => vec![
                [
                    area,
                    self.quantity("ship.drag_coefficient", "drag coefficient", drag, pure),
                    ballistic,
                ]
                .join(", "),
                [
                    self.quantity("ship.lift_to_drag", "lift-to-drag ratio", lift, pure),
                    bank,
                    nose,
                ]
                .join(", "),
            ],
            Some(form) => {
                let source = match form {
                    AeroForm::Table { name, .. } => format!("coefficients of the table {name}"),
                    _ => "coefficients by Newton's rule for the shape".to_owned(),
                };
                let trim = self.quantity(
                    "ship.trim_angle",
                    "trim angle",
                    ship.trim_angle_rad,
                    Dimension::Angle,
                );
                let round = |x: f64| format_number((x * 1e3).round() / 1e3);
                vec![
                    [area, source, trim].join(", "),
                    format!(
                        "at Mach 20 a drag coefficient of {} and a lift-to-drag ratio of {}, {ballistic}",
                        round(drag),
                        round(lift)
                    ),
                    [bank, nose].join(", "),
                ]
            }
        };
        if let Some(end) = ship
            .aerodynamics
            .as_ref()
            .and_then(|spec| spec.free_molecular)
        {
            lines.push(format!(
                "in thin air a drag coefficient of {}, a lift coefficient of {}",
                format_number(end.drag),
                format_number(end.lift)
            ));
        }
        let heating = &ship.heating;
        let left_out: Vec<&str> = [
            ("radiative", heating.radiative != Radiative::LeftOut),
            ("free-molecular", heating.free_molecular),
        ]
        .iter()
        .filter_map(|(words, flown)| (!flown).then_some(*words))
        .collect();
        if !left_out.is_empty() {
            lines.push(format!(
                "heating without its {} part",
                left_out.join(" and ")
            ));
        }
        if let Some(bound) = &heating.radiation_bound {
            lines.push(format!(
                "radiation of at most {} of the convection where none is flown ({})",
                say(bound.share, Dimension::Ratio),
                bound.source
            ));
        }
        if let Some(name) = &self.configuration {
            let all: Vec<&str> = self
                .configurations
                .iter()
                .map(|(name, _)| &**name)
                .collect();
            lines.push(format!("configuration {name} of {}", all.join(", ")));
        }
        lines
    }
}
