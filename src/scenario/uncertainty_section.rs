//! Reads the section `uncertainty`: which numbers it names, and how the air is dispersed.
//! Delivery, distributions and correlations are left to the files of those names.

use super::arrival::Arrival;
use super::correlation;
use super::delivery::Delivery;
use super::distribution::Spread;
use super::heating_errors;
use super::likeness::closest;
use super::message::InputError;
use super::numbers::Dispersible;
use super::section::{Node, Section};
use super::uncertainty::{Number, Uncertain, Uncertainty};

impl Uncertainty {
    /// Reads the `uncertainty` section of a scenario with these numbers; those `unsaid` are uncertain as they
    /// stand there unless the section names them.
    pub(super) fn decode(
        uncertainty: &Section<'_>,
        arrival: &Arrival,
        table: &[Dispersible],
        unsaid: &[Uncertain],
    ) -> Result<Self, InputError> {
        let delivery = Delivery::decode(uncertainty, arrival)?;
        let (air_density, air_parts) = super::air_section::decode(uncertainty)?;
        let correlations = uncertainty.optional("correlations");
        let mut numbers = delivery.numbers;
        numbers.extend(super::navigation::decode(uncertainty)?);
        let mut said = Said::default();
        for (key, node) in uncertainty.entries() {
            if !SECTIONS.contains(&key) {
                decode_numbers(key, &node, table, &mut said)?;
            }
        }
        let others = unsaid.iter().filter(|u| !said.names(u.number));
        numbers.extend(others.copied());
        numbers.extend(said.numbers);
        numbers.sort_by_key(|uncertain| uncertain.number);
        let mut decoded = Self {
            numbers,
            air_density,
            air_parts,
            correlations: Vec::new(),
        };
        let linked = delivery.correlation.into_iter().collect();
        decoded.correlations = correlation::decode(correlations.as_ref(), linked, &decoded, table)?;
        Ok(decoded)
    }
}

/// Keys of the section that are no numbers of the scenario.
const SECTIONS: [&str; 4] = ["delivery", "navigation", "air", "correlations"];

/// What the section says of numbers by their dotted keys.
#[derive(Default)]
struct Said {
    numbers: Vec<Uncertain>,
    exact: Vec<Number>,
}

impl Said {
    fn names(&self, number: Number) -> bool {
        self.exact.contains(&number) || self.numbers.iter().any(|u| u.number == number)
    }

    /// Adds what `node` at `key` says of a number; `None` for exact.
    fn add(
        &mut self,
        (key, node): (&str, &Node<'_>),
        (number, uncertain): (Number, Option<Uncertain>),
    ) -> Result<(), InputError> {
        if self.names(number) {
            return Err(node
                .error_at_key(format!("`{key}` is given twice"))
                .with_help("keep one of the two"));
        }
        match uncertain {
            Some(uncertain) => self.numbers.push(uncertain),
            None => self.exact.push(number),
        }
        Ok(())
    }
}

/// Reads the number of this dotted key, or the numbers of the section of this key.
fn decode_numbers(
    key: &str,
    node: &Node<'_>,
    table: &[Dispersible],
    said: &mut Said,
) -> Result<(), InputError> {
    if let Some(all) = heating_errors::decode(key, node)? {
        return all
            .into_iter()
            .try_for_each(|one| said.add((key, node), one));
    }
    let is_section = |entry: &Dispersible| {
        entry
            .key
            .strip_prefix(key)
            .is_some_and(|rest| rest.starts_with('.'))
    };
    if table.iter().any(is_section) {
        for (inner, node) in node.section()?.entries() {
            decode_numbers(&format!("{key}.{inner}"), &node, table, said)?;
        }
        return Ok(());
    }
    let decoded = decode_number(key, node, table)?;
    said.add((key, node), (decoded.number, Some(decoded)))
}

fn decode_number(
    key: &str,
    node: &Node<'_>,
    table: &[Dispersible],
) -> Result<Uncertain, InputError> {
    let Some(entry) = table.iter().find(|entry| entry.key == key) else {
        let known = || table.iter().map(|entry| entry.key.as_str()).chain(SECTIONS);
        let help = match closest(key, known()) {
            Some(meant) => format!("did you mean `{meant}`?"),
            None => format!("known here: {}", known().collect::<Vec<_>>().join(", ")),
        };
        return Err(node
            .error_at_key(format!("`{key}` is no number of this scenario"))
            .with_help(help)
            .of_unknown_key());
    };
    let Some(centre) = entry.nominal else {
        return Err(node
            .error_at_key(format!(
                "`{key}` is uncertain, but the scenario does not set it"
            ))
            .with_help(format!("set `{key}`, or remove it here")));
    };
    let spread = Spread {
        dimension: entry.dimension,
        centre,
        bound: entry.bound,
        is_error: false,
    };
    Ok(Uncertain {
        number: entry.number,
        distribution: spread.decode(node)?,
    })
}

#[cfg(test)]
mod tests {
    use super::super::uncertainty::{AirDensity, Correlation, Distribution};
    use super::*;
    use crate::scenario::Scenario;

    fn uncertainty(section: &str) -> Uncertainty {
        let text = format!(
            "title: x\nworld: mars\n\
            ship: {{mass: 100 t, reference_area: 5 m2, drag_coefficient: 1.5, nose_radius: 1 m}}\n\
            arrival: {{hyperbola: {{excess_speed: 3 km/s, inclination: 90 deg, aim_periapsis: 50 km}}}}\n\
            limits: {{heat_flux: 60 W/cm2}}\nuncertainty: {section}\n"
        );
        Scenario::from_text("x.yaml", &text)
            .map_err(|error| error.to_string())
            .unwrap()
            .uncertainty
    }

    fn mass(distribution: &str) -> Distribution {
        uncertainty(&format!("{{ship.mass: {distribution}}}")).numbers[0].distribution
    }

    #[test]
    fn every_distribution_is_read_into_si_units() {
        let normal = Distribution::Normal {
            mean: 100e3,
            std_dev: 300.0,
        };
        assert_eq!(mass("{normal: {std_dev: 0.3 %}}"), normal);
        assert_eq!(mass("{normal: {mean: 100 t, std_dev: 300 kg}}"), normal);
        assert_eq!(mass("{normal: {mean: 100 %, std_dev: 300 kg}}"), normal);
        let cut = |low, high| Distribution::TruncatedNormal {
            mean: 100e3,
            std_dev: 1000.0,
            low,
            high,
        };
        assert_eq!(
            mass("{truncated_normal: {std_dev: 1 %, within: 3}}"),
            cut(97e3, 103e3)
        );
        assert_eq!(
            mass("{truncated_normal: {std_dev: 1 t, low: 99 t, high: 104 t}}"),
            cut(99e3, 104e3)
        );
        assert_eq!(
            mass("{uniform: {low: 95 %, high: 104 t}}"),
            Distribution::Uniform {
                low: 95e3,
                high: 104e3
            }
        );
        let triangular = Distribution::Triangular {
            low: 90e3,
            mode: 100e3,
            high: 101e3,
        };
        assert_eq!(mass("{triangular: {low: 90 t, high: 101 t}}"), triangular);
        let lognormal = Distribution::LogNormal {
            median: 100e3,
            log_std_dev: 0.1,
        };
        assert_eq!(mass("{lognormal: {log_std_dev: 0.1}}"), lognormal);
    }

    #[test]
    fn numbers_stand_in_the_order_of_their_draws() {
        let all = uncertainty(
            "{limits.heat_flux: {normal: {std_dev: 3 %}}, ship.bank: {normal: {std_dev: 1 deg}}, \
            delivery: {speed: {normal: {std_dev: 1 m/s}}}, arrival.hyperbola.inclination: {normal: {std_dev: 0.1 deg}}}",
        );
        let order: Vec<Number> = all
            .numbers
            .iter()
            .map(|uncertain| uncertain.number)
            .collect();
        assert_eq!(
            order,
            [
                Number::DeliverySpeed,
                Number::BankAngle,
                Number::Inclination,
                Number::LimitHeatFlux,
                // Nobody named them, but heat is limited.
                Number::HeatingConvective,
                Number::HeatingRadiative
            ]
        );
        assert!(all.draws(Number::AirDensity) && !all.draws(Number::ShipMass));
    }

    #[test]
    fn keys_may_be_dotted_or_nested() {
        let dotted = "{ship.mass: {normal: {std_dev: 1 %}}, arrival.hyperbola.excess_speed: {normal: {std_dev: 1 m/s}}}";
        let nested = "{ship: {mass: {normal: {std_dev: 1 %}}}, arrival: {hyperbola: {excess_speed: {normal: {std_dev: 1 m/s}}}}}";
        assert_eq!(uncertainty(dotted), uncertainty(nested));
    }

    #[test]
    fn the_air_is_dispersed_as_written() {
        let air =
            |density: &str| uncertainty(&format!("{{air: {{density: {density}}}}}")).air_density;
        assert_eq!(air("world"), AirDensity::World { factor: 1.0 });
        assert_eq!(air("exact"), AirDensity::Exact);
        assert_eq!(air("{world_times: 1.5}"), AirDensity::World { factor: 1.5 });
        let log = Distribution::Normal {
            mean: 0.0,
            std_dev: 0.2,
        };
        assert_eq!(
            air("{lognormal: {log_std_dev: 0.2}}"),
            AirDensity::LogFactor(log)
        );
        let log = Distribution::Normal {
            mean: 1.2_f64.ln(),
            std_dev: 0.2,
        };
        assert_eq!(
            air("{lognormal: {median: 1.2, log_std_dev: 0.2}}"),
            AirDensity::LogFactor(log)
        );
    }

    #[test]
    fn correlations_name_numbers_by_their_keys() {
        let all = uncertainty(
            "{ship.mass: {normal: {std_dev: 1 %}}, delivery: {speed: {normal: {std_dev: 1 m/s}}}, \
            correlations: [{between: [ship.mass, delivery.speed], coefficient: 0.4}, \
            {between: [air.density, ship.mass], coefficient: -0.3}]}",
        );
        let expected = [
            Correlation {
                between: (Number::ShipMass, Number::DeliverySpeed),
                coefficient: 0.4,
            },
            Correlation {
                between: (Number::AirDensity, Number::ShipMass),
                coefficient: -0.3,
            },
        ];
        assert_eq!(all.correlations, expected);
    }
}
