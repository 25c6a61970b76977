//! Says in plain words what was understood of a scenario, with what was left to defaults,
//! in lines of at most 80 columns.

use super::Scenario;
use super::arrival::{Aim, ArrivalEnergy};
use super::campaign_words::campaign_in_words;
use super::capture_words::capture_in_words;
use super::heating_errors::HeatingError;
use super::landing_words::landing_in_words;
use super::limits::{LimitKind, LimitSpec, Written, filled};
use super::navigation;
use super::numbers::{Dispersible, dispersibles};
use super::part_words::{air_parts_in_words, people_in_words};
use super::steering_words::steering_in_words;
use super::uncertainty::{AirDensity, Correlation, Number};
use super::wording::{in_words, say, wrap};
use crate::numeric::units::{Dimension, format_number};
use crate::numeric::written::grouped;

/// Values first, then times above levels, and last where the pass has to lead; `None` for what is told elsewhere.
fn order_of(spec: &LimitSpec) -> Option<u8> {
    match spec.written {
        Written::Value if !spec.form.is_least() => Some(0),
        Written::Levels => Some(1),
        Written::Value => Some(2),
        Written::Apoapsis => Some(3),
        Written::People => Some(4),
        Written::Flag => Some(5),
        Written::WithCapture | Written::Spot => None,
    }
}

impl Scenario {
    /// What was understood, as lines of at most 80 columns (longer only for a longer word).
    #[must_use]
    pub fn describe(&self) -> Vec<String> {
        let table = dispersibles(&self.ship, &self.arrival, &self.limits);
        let mut lines = wrap("Scenario", &self.title);
        let world = match self.world_path() {
            Some(path) => format!("file {}", path.display()),
            None => format!("{} (bundled)", self.world),
        };
        let world = match self.presets.as_slice() {
            [] => world,
            presets => format!("{world}, with {}", presets.join(", ")),
        };
        let blocks = [
            ("World", vec![world]),
            ("Ship", self.describe_ship()),
            ("Arrival", vec![self.describe_arrival()]),
            ("Aim", vec![self.describe_aim()]),
            ("Steering", steering_in_words(self.steering.as_ref())),
            ("Limits", self.describe_limits()),
            ("Uncertain", self.describe_uncertainty(&table)),
            ("Asked", vec![self.describe_ask()]),
            (
                "Capture",
                self.capture
                    .as_ref()
                    .map_or_else(Vec::new, capture_in_words),
            ),
            (
                "Campaign",
                self.campaign.as_ref().map_or(Vec::new(), campaign_in_words),
            ),
            (
                "Landing",
                self.landing.as_ref().map_or(Vec::new(), landing_in_words),
            ),
        ];
        for (label, entries) in blocks {
            for (index, entry) in entries.iter().enumerate() {
                lines.extend(wrap(if index == 0 { label } else { "" }, entry));
            }
        }
        for set in self.document().overrides() {
            lines.extend(wrap("Set", set));
        }
        lines
    }

    fn describe_arrival(&self) -> String {
        let arrival = &self.arrival;
        let kind = match arrival.energy {
            ArrivalEnergy::ExcessSpeed(speed) => {
                format!(
                    "on a hyperbola with an excess speed of {}",
                    say(speed, Dimension::Speed)
                )
            }
            ArrivalEnergy::InertialEntrySpeed(speed) => {
                format!(
                    "at the entry interface with an inertial speed of {}",
                    say(speed, Dimension::Speed)
                )
            }
            ArrivalEnergy::ApoapsisAltitude(altitude) => {
                format!(
                    "from an orbit with its apoapsis at an altitude of {}",
                    say(altitude, Dimension::Length)
                )
            }
        };
        let key = format!("arrival.{}.argument_of_periapsis", arrival.kind());
        let argument = self.quantity(
            &key,
            "argument of periapsis",
            arrival.argument_of_periapsis_rad,
            Dimension::Angle,
        );
        format!(
            "{kind}, inclination {}, {argument}",
            say(arrival.inclination_rad, Dimension::Angle)
        )
    }

    fn describe_aim(&self) -> String {
        let length = |altitude| say(altitude, Dimension::Length);
        match self.arrival.aim {
            Aim::FlightPathAngle(angle) => {
                format!(
                    "one inertial flight-path angle at the entry interface, {}",
                    say(angle, Dimension::Angle)
                )
            }
            Aim::Periapsis(range) if range.is_single() => {
                format!("one vacuum periapsis altitude, {}", length(range.from_m))
            }
            Aim::Periapsis(range) => format!(
                "vacuum periapsis altitudes from {} to {} in steps of {}",
                length(range.from_m),
                length(range.to_m),
                length(range.step_m)
            ),
        }
    }

    fn describe_limits(&self) -> Vec<String> {
        let mut told: Vec<(u8, String)> = Vec::new();
        for limit in self.limits.entries() {
            let spec = limit.kind.spec();
            let Some(order) = order_of(spec) else {
                continue;
            };
            let words = filled(spec.words.asks, |part| match part {
                "value" => Some(say(limit.allowed, spec.dimension())),
                "level" => limit
                    .level_m_s2
                    .map(|level| say(level, Dimension::Acceleration)),
                _ => None,
            });
            told.push((order, words));
        }
        if let Some(people) = &self.limits.people {
            told.extend(order_of(LimitKind::People.spec()).map(|at| (at, people_in_words(people))));
        }
        told.sort_by_key(|(order, _)| *order);
        let mut lines: Vec<String> = told.into_iter().map(|(_, words)| words).collect();
        if lines.is_empty() {
            lines.push("none: a pass can be flown, but there is no safe band to find".to_owned());
        }
        lines
    }

    fn describe_uncertainty(&self, table: &[Dispersible]) -> Vec<String> {
        let uncertainty = &self.uncertainty;
        let mut lines = vec![match uncertainty.air_density {
            AirDensity::World { factor } => {
                let mark = if self.document().has("uncertainty.air.density") {
                    ""
                } else {
                    " (default)"
                };
                match factor {
                    1.0 => format!("density of the air: as the world file says{mark}"),
                    _ => format!(
                        "density of the air: {} times the spread in the world file",
                        format_number(factor)
                    ),
                }
            }
            AirDensity::Exact => "density of the air: exact".to_owned(),
            AirDensity::LogFactor(distribution) => {
                format!(
                    "natural log of a factor on the density: {}",
                    in_words(distribution, Dimension::Dimensionless)
                )
            }
        }];
        lines.extend(air_parts_in_words(&uncertainty.air_parts));
        for uncertain in &uncertainty.numbers {
            let dimension = dimension_of(uncertain.number, table);
            let mark = HeatingError::behind(uncertain).map_or("", |_| " (default)");
            lines.push(format!(
                "{}: {}{mark}",
                uncertain.number.words(),
                in_words(uncertain.distribution, dimension)
            ));
        }
        if uncertainty.numbers.is_empty() {
            lines.push("nothing else: every other number is exact".to_owned());
        }
        for Correlation {
            between: (a, b),
            coefficient,
        } in &uncertainty.correlations
        {
            lines.push(format!(
                "correlation of {} and {}: {}",
                a.words(),
                b.words(),
                format_number(*coefficient)
            ));
        }
        lines
    }

    fn describe_ask(&self) -> String {
        let ask = &self.ask;
        let mark = |key: &str| {
            if self.document().has(key) {
                ""
            } else {
                " (default)"
            }
        };
        format!(
            "all limits together with a probability of {}{}, at {} % confidence{}, from {} samples{} at each aim, seed {}{}",
            format_number(ask.probability),
            mark("ask.probability"),
            format_number(100.0 * ask.confidence),
            mark("ask.confidence"),
            grouped(&ask.samples.to_string()),
            mark("ask.samples"),
            ask.seed,
            mark("ask.seed"),
        )
    }
}

fn dimension_of(number: Number, table: &[Dispersible]) -> Dimension {
    match number {
        Number::DeliveryPeriapsis | Number::DeliveryBT | Number::DeliveryBR => Dimension::Length,
        Number::DeliveryAngle => Dimension::Angle,
        Number::DeliverySpeed => Dimension::Speed,
        _ => navigation::dimension(number)
            .or_else(|| {
                let entry = table.iter().find(|entry| entry.number == number);
                entry.map(|entry| entry.dimension)
            })
            .unwrap_or(Dimension::Dimensionless),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::STARTER;
    use crate::scenario::document::Document;
    use crate::scenario::wording::COLUMNS;

    #[test]
    fn the_starter_is_described_in_plain_words() {
        let (starter, _) = STARTER.split_once("\n# For `periband capture`").unwrap();
        let text = starter
            .replace(
                "ship.nose_radius: {uniform: {low: 3.0 m, high: 3.4 m}}",
                "correlations: [{between: [ship.mass, ship.drag_coefficient], coefficient: 0.4}]",
            )
            .replace("  bank: 0 deg ", "  # ")
            .replace("confidence: 0.95", "# ");
        let mut document = Document::from_text("starter.yaml", &text).unwrap();
        document.set("ship.mass", "60 t").unwrap();
        let lines = Scenario::from_document(&document).unwrap().describe();
        let expected = "\
Scenario     Capture of the liner Brisandel at Mars
World        mars (bundled)
Ship         Brisandel, 60 t, 96 passengers
             reference area 310 m², drag coefficient 1.45, so a ballistic
             coefficient of 133.5 kg/m²
             lift-to-drag ratio 0, bank angle 0 deg (default), nose radius 3.2 m
             engine with a specific impulse of 340 s and 80 kN of thrust
Arrival      on a hyperbola with an excess speed of 2.55 km/s, inclination
             32 deg, argument of periapsis 0 deg
Aim          vacuum periapsis altitudes from 42 km to 60 km in steps of 1 km
Limits       peak sensed deceleration at most 1.2 g
             onset of deceleration at most 0.1 g/s
             heat flux at most 60 W/cm²
             heat load at most 9 kJ/cm²
             dynamic pressure at most 8 kPa
             above 1 g for at most 60 s without a break
             captured, with the apoapsis altitude below 100\u{202f}000 km
Uncertain    density of the air: 0.5 times the spread in the world file
             scale height of the air, small-scale density, wind: as the world
             file says
             error of the periapsis altitude: normal, mean 0 km, std dev 350 m
             error of the entry speed: normal, mean 0 m/s, std dev 2 m/s
             mass: normal, mean 60 t, std dev 180 kg
             drag coefficient: normal, mean 1.45, std dev 0.0435, cut to between
             1.3195 and 1.5805
             factor on convective heating: lognormal, median 1, std dev of the
             log 0.15 (default)
             factor on radiative heating: lognormal, median 1, std dev of the
             log 0.4 (default)
             correlation of mass and drag coefficient: 0.4
Asked        all limits together with a probability of 0.9973, at 95 %
             confidence (default), from 4000 samples at each aim, seed 7
Set          --set ship.mass=60 t";
        assert_eq!(lines.join("\n"), expected);
        assert!(lines.iter().all(|line| line.chars().count() <= COLUMNS));
    }
}
