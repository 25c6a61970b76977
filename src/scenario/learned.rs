//! Writes a scenario anew with what a flown pass has taught: nominal values, distributions, correlations.
//! What was learned is left to the study.

use std::path::Path;

use super::Scenario;
use super::correlation::name_of;
use super::document::Document;
use super::emit::emit;
use super::message::InputError;
use super::numbers::{Dispersible, dispersibles};
use super::uncertainty::{AirDensity, Distribution, Number};
use crate::numeric::units::Dimension;

/// What is known of one uncertain number after a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Which number.
    pub number: Number,
    /// Its middle, SI; of density the multiple of the scenario's spread (or the log of the factor), of scale
    /// height its relative error, of wind m/s.
    pub middle: f64,
    /// One-sigma in the same unit.
    pub std_dev: f64,
    /// Standard score of the middle, by the scenario as it was.
    pub score: f64,
    /// One-sigma over that of the scenario as it was.
    pub left: f64,
}

/// A number that is as uncertain as it was, within these shares, is left as it is written.
const AS_IT_WAS: (f64, f64) = (0.02, 0.05);

impl Scenario {
    /// The scenario with these numbers as they are known now, below `comment` (whose lines begin with `#`),
    /// to be kept as `path`.
    ///
    /// Correlations among the numbers are those given; those that the scenario has between other numbers
    /// stay; one between a number given and another is dropped.
    ///
    /// # Errors
    /// When the scenario so written cannot be read back: what was learned contradicts a bound.
    pub fn with_known(
        &self,
        known: &[Known],
        correlations: &[(Number, Number, f64)],
        (comment, path): (&str, &Path),
    ) -> Result<String, InputError> {
        let mut document = self.document().clone();
        let table = dispersibles(&self.ship, &self.arrival, &self.limits);
        for number in known {
            self.set_number(&mut document, number, &table)?;
        }
        let mut pairs: Vec<(Number, Number, f64)> = correlations.to_vec();
        let is_known = |number: Number| known.iter().any(|k| k.number == number);
        pairs.extend(
            self.uncertainty
                .correlations
                .iter()
                .map(|pair| (pair.between.0, pair.between.1, pair.coefficient))
                .filter(|(a, b, _)| !is_known(*a) && !is_known(*b))
                // These stand in the section of the delivery.
                .filter(|(a, b, _)| (*a, *b) != (Number::DeliveryBT, Number::DeliveryBR)),
        );
        let listed: Vec<String> = pairs
            .iter()
            .filter_map(|(a, b, coefficient)| {
                let (a, b) = (name_of(*a, &table)?, name_of(*b, &table)?);
                Some(format!(
                    "{{between: [{a}, {b}], coefficient: {coefficient:.9}}}"
                ))
            })
            .collect();
        if !listed.is_empty() || document.has("uncertainty.correlations") {
            document.set(
                "uncertainty.correlations",
                &format!("[{}]", listed.join(", ")),
            )?;
        }
        self.place_world(&mut document, path)?;
        let text = comment.to_owned() + &emit(document.tree());
        Self::from_text(&path.display().to_string(), &text)?;
        Ok(text)
    }

    fn set_number(
        &self,
        document: &mut Document,
        known: &Known,
        table: &[Dispersible],
    ) -> Result<(), InputError> {
        let (middle, std_dev) = (known.middle, known.std_dev);
        match known.number {
            Number::AirDensity => {
                let text = match self.uncertainty.air_density {
                    AirDensity::World { factor } => {
                        let mean =
                            self.uncertainty.air_parts.means.density_sigmas + factor * middle;
                        format!(
                            "{{world_times: {}, mean: {}}}",
                            written(factor * std_dev),
                            written(mean)
                        )
                    }
                    _ => format!(
                        "{{lognormal: {{median: {}, log_std_dev: {}}}}}",
                        written(middle.exp()),
                        written(std_dev)
                    ),
                };
                document.set("uncertainty.air.density", &text)
            }
            Number::AirScaleHeight => {
                let text = format!(
                    "{{std_dev: {} %, mean: {} %}}",
                    written(100.0 * std_dev),
                    written(100.0 * middle)
                );
                document.set("uncertainty.air.scale_height", &text)
            }
            Number::AirWind => {
                let text = format!(
                    "{{std_dev: {} m/s, mean: {} m/s}}",
                    written(std_dev),
                    written(middle)
                );
                document.set("uncertainty.air.wind", &text)
            }
            number => match table.iter().find(|entry| entry.number == number) {
                Some(entry) => self.set_own(document, known, entry),
                None => Ok(()),
            },
        }
    }

    /// A number of the scenario's own: its value and its distribution about it.
    fn set_own(
        &self,
        document: &mut Document,
        known: &Known,
        entry: &Dispersible,
    ) -> Result<(), InputError> {
        if (known.left - 1.0).abs() < AS_IT_WAS.0 && known.score.abs() < AS_IT_WAS.1 {
            return Ok(());
        }
        let mut uncertain = self.uncertainty.numbers.iter();
        let before = uncertain
            .find(|uncertain| uncertain.number == known.number)
            .map(|uncertain| uncertain.distribution);
        let quantity = |si: f64| in_unit(si, entry.dimension);
        let (middle, std_dev) = (quantity(known.middle), quantity(known.std_dev));
        // A factor on a table has no value of its own in the scenario: its middle stands with its spread.
        let mean = match self.key_of_value(document, &entry.key) {
            Some(key) => {
                document.set(&key, &middle)?;
                String::new()
            }
            None => format!("mean: {middle}, "),
        };
        let text = match before {
            Some(Distribution::LogNormal { .. }) => {
                let median = mean.replace("mean", "median");
                let log_std_dev = written(known.std_dev / known.middle);
                format!("{{lognormal: {{{median}log_std_dev: {log_std_dev}}}}}")
            }
            Some(Distribution::Normal { .. }) if reach(known, entry) >= 6.0 => {
                format!("{{normal: {{{mean}std_dev: {std_dev}}}}}")
            }
            Some(
                Distribution::TruncatedNormal { low, high, .. }
                | Distribution::Uniform { low, high }
                | Distribution::Triangular { low, high, .. },
            ) => format!(
                "{{truncated_normal: {{{mean}std_dev: {std_dev}, low: {}, high: {}}}}}",
                quantity(low),
                quantity(high)
            ),
            _ => format!(
                "{{truncated_normal: {{{mean}std_dev: {std_dev}, within: {}}}}}",
                reach(known, entry)
            ),
        };
        document.set(&format!("uncertainty.{}", entry.key), &text)
    }

    /// The key under which the value of a number of the ship stands: in the configuration flown, if it has it.
    fn key_of_value(&self, document: &Document, key: &str) -> Option<String> {
        let field = key.strip_prefix("ship.")?;
        if let Some(name) = &self.configuration {
            let own = format!("ship.configurations.{name}.{field}");
            if document.has(&own) {
                return Some(own);
            }
        }
        let optional = ["lift_to_drag", "bank"];
        (document.has(key) || optional.contains(&field)).then(|| key.to_owned())
    }

    /// Names an own world file so that it is found from where the new scenario is kept.
    fn place_world(&self, document: &mut Document, path: &Path) -> Result<(), InputError> {
        let Some(world) = self.world_path() else {
            return Ok(());
        };
        let folder = |path: &Path| path.parent().map(Path::to_path_buf).unwrap_or_default();
        if self.document().path().map(folder) == Some(folder(path)) {
            return Ok(());
        }
        let world = world.canonicalize().unwrap_or(world);
        document.set("world", &format!("{:?}", world.display().to_string()))
    }
}

/// How many standard deviations about the middle the range of the number holds, 0.25 to 6.
fn reach(known: &Known, entry: &Dispersible) -> f64 {
    let holds = |reach: f64| {
        entry.bound.holds(known.middle - reach * known.std_dev)
            && entry.bound.holds(known.middle + reach * known.std_dev)
    };
    let quarters = (1..=24_u32)
        .rev()
        .map(|quarters| 0.25 * f64::from(quarters));
    quarters
        .into_iter()
        .find(|reach| holds(*reach))
        .unwrap_or(0.25)
}

/// A number with at most eight digits, without an exponent.
fn written(value: f64) -> String {
    let rounded: f64 = format!("{value:.7e}").parse().unwrap_or(value);
    format!("{rounded}")
}

fn in_unit(si: f64, dimension: Dimension) -> String {
    match dimension {
        Dimension::Mass => format!("{} kg", written(si)),
        Dimension::Area => format!("{} m2", written(si)),
        Dimension::Length => format!("{} m", written(si)),
        Dimension::Speed => format!("{} m/s", written(si)),
        Dimension::Angle => format!("{} deg", written(si.to_degrees())),
        _ => written(si),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::STARTER;

    #[test]
    fn what_is_known_is_read_back() {
        let scenario = Scenario::from_text("starter.yaml", STARTER).unwrap();
        let known = |number, middle, std_dev, left| Known {
            number,
            middle,
            std_dev,
            score: 1.0,
            left,
        };
        let text = scenario
            .with_known(
                &[
                    known(Number::AirDensity, -0.5, 0.25, 0.25),
                    known(Number::AirScaleHeight, 0.01, 0.004, 0.5),
                    known(Number::DragCoefficient, 1.43, 0.02, 0.5),
                    known(Number::ShipMass, 61_900.0, 100.0, 0.5),
                ],
                &[(Number::AirDensity, Number::DragCoefficient, -0.75)],
                ("# learned\n", Path::new("next.yaml")),
            )
            .unwrap();
        assert!(text.starts_with("# learned\ntitle: "), "{text}");
        let next = Scenario::from_text("next.yaml", &text).unwrap();
        assert_eq!(next.ship.mass_kg, 61_900.0);
        // The starter takes half the world's spread: a quarter of that is left.
        assert_eq!(
            next.uncertainty.air_density,
            AirDensity::World { factor: 0.125 }
        );
        assert_eq!(next.uncertainty.air_parts.means.density_sigmas, -0.25);
        assert!((next.uncertainty.air_parts.means.scale_height - 0.01).abs() < 1e-15);
        let drag = next
            .uncertainty
            .numbers
            .iter()
            .find(|u| u.number == Number::DragCoefficient)
            .unwrap();
        // The ends stay those of 1.45 with 3 % cut at three standard deviations.
        let Distribution::TruncatedNormal {
            mean,
            std_dev,
            low,
            high,
        } = drag.distribution
        else {
            panic!("{drag:?}");
        };
        assert!((mean - 1.43).abs() < 1e-12 && (std_dev - 0.02).abs() < 1e-12);
        assert!((low - 1.3195).abs() < 1e-6 && (high - 1.5805).abs() < 1e-6);
        assert_eq!(next.uncertainty.correlations[0].coefficient, -0.75);
        assert_eq!(next.limits, scenario.limits);
        assert_eq!(next.arrival, scenario.arrival);
    }
}
