//! Reads which uncertain numbers move together, and checks that they can.

use std::collections::BTreeSet;

use nalgebra::{DMatrix, SymmetricEigen};

use super::bound::Bound;
use super::likeness::closest;
use super::message::InputError;
use super::numbers::Dispersible;
use super::section::Node;
use super::uncertainty::{Correlation, Number, Uncertainty};
use crate::numeric::units::{Dimension, format_number};

/// Below this an eigenvalue is negative by more than rounding.
const LOWEST_EIGENVALUE: f64 = -1e-10;

/// Names of the numbers that do not stand in the table of the scenario's own.
const OWN_NAMES: [(&str, Number); 12] = [
    ("delivery.periapsis_altitude", Number::DeliveryPeriapsis),
    ("delivery.flight_path_angle", Number::DeliveryAngle),
    ("delivery.b_plane.t", Number::DeliveryBT),
    ("delivery.b_plane.r", Number::DeliveryBR),
    ("delivery.speed", Number::DeliverySpeed),
    ("air.density", Number::AirDensity),
    ("air.scale_height", Number::AirScaleHeight),
    ("air.wind", Number::AirWind),
    ("navigation.altitude", Number::NavigationAltitude),
    ("navigation.speed", Number::NavigationSpeed),
    ("navigation.flight_path_angle", Number::NavigationAngle),
    ("navigation.accelerometer", Number::NavigationAccelerometer),
];

/// Reads the list `correlations` and adds it to the `correlations` known already.
pub(super) fn decode(
    list: Option<&Node<'_>>,
    mut correlations: Vec<Correlation>,
    uncertainty: &Uncertainty,
    table: &[Dispersible],
) -> Result<Vec<Correlation>, InputError> {
    let Some(list) = list else {
        return Ok(correlations);
    };
    for node in list.list()? {
        let entry = node.section()?;
        let between = entry.list("between")?;
        let [first, second] = between.as_slice() else {
            return Err(entry
                .error_at("between", "`between` must name two numbers")
                .with_help("write `between: [ship.drag_coefficient, ship.lift_to_drag]`"));
        };
        let pair = (
            named(first, uncertainty, table)?,
            named(second, uncertainty, table)?,
        );
        if pair.0 == pair.1 {
            return Err(second
                .error("a number is named twice")
                .with_help("name two different numbers"));
        }
        if correlations
            .iter()
            .any(|known| known.between == pair || known.between == (pair.1, pair.0))
        {
            return Err(entry.error_at("between", "the correlation of these two is already given"));
        }
        let inside = Bound::above(-1.0).below(1.0);
        let coefficient = entry.quantity("coefficient", Dimension::Dimensionless, inside)?;
        entry.finish()?;
        correlations.push(Correlation {
            between: pair,
            coefficient,
        });
    }
    let smallest = smallest_eigenvalue(&correlations);
    if smallest < LOWEST_EIGENVALUE {
        return Err(list
            .error_at_key(format!(
                "these correlations cannot hold together: the smallest eigenvalue of their matrix is {}",
                format_number(smallest)
            ))
            .with_help("numbers that each move with a third must move with each other: lower a coefficient, or add the missing pair"));
    }
    Ok(correlations)
}

/// The dotted name of a number.
pub(super) fn name_of(number: Number, table: &[Dispersible]) -> Option<String> {
    let own = OWN_NAMES.iter().find(|(_, known)| *known == number);
    own.map(|(name, _)| (*name).to_owned()).or_else(|| {
        let entry = table.iter().find(|entry| entry.number == number)?;
        Some(entry.key.clone())
    })
}

/// The number that a dotted name means, if it is uncertain here.
fn named(
    node: &Node<'_>,
    uncertainty: &Uncertainty,
    table: &[Dispersible],
) -> Result<Number, InputError> {
    let name = node.text()?;
    let own = OWN_NAMES.iter().map(|(name, number)| (*name, *number));
    let names = || {
        own.clone()
            .chain(table.iter().map(|entry| (entry.key.as_str(), entry.number)))
    };
    let uncertain = || {
        names()
            .filter(|(_, number)| uncertainty.draws(*number))
            .map(|(name, _)| name)
    };
    match names().find(|(known, _)| *known == name) {
        Some((_, number)) if uncertainty.draws(number) => Ok(number),
        Some(_) => Err(node
            .error(format!("`{name}` is not uncertain here"))
            .with_help("give it a distribution first")),
        None => {
            let help = match closest(name, names().map(|(name, _)| name)) {
                Some(meant) => format!("did you mean `{meant}`?"),
                None => format!(
                    "uncertain here: {}",
                    uncertain().collect::<Vec<_>>().join(", ")
                ),
            };
            Err(node
                .error(format!("`{name}` is no number of this scenario"))
                .with_help(help))
        }
    }
}

/// Smallest eigenvalue of the correlation matrix of the numbers in these pairs; 1 without any.
fn smallest_eigenvalue(correlations: &[Correlation]) -> f64 {
    let numbers: BTreeSet<Number> = correlations
        .iter()
        .flat_map(|pair| [pair.between.0, pair.between.1])
        .collect();
    let row = |number: Number| numbers.iter().position(|known| *known == number);
    let mut matrix = DMatrix::<f64>::identity(numbers.len(), numbers.len());
    for Correlation {
        between: (a, b),
        coefficient,
    } in correlations
    {
        if let (Some(i), Some(j)) = (row(*a), row(*b)) {
            matrix[(i, j)] = *coefficient;
            matrix[(j, i)] = *coefficient;
        }
    }
    if numbers.is_empty() {
        1.0
    } else {
        SymmetricEigen::new(matrix).eigenvalues.min()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(a: Number, b: Number, coefficient: f64) -> Correlation {
        Correlation {
            between: (a, b),
            coefficient,
        }
    }

    #[test]
    fn the_smallest_eigenvalue_is_that_of_the_matrix() {
        // Equal coefficients c of three numbers: eigenvalues 1 + 2c, 1 - c, 1 - c (computed by hand).
        use Number::{DragCoefficient as D, LiftToDrag as L, ShipMass as M};
        let all = |c: f64| smallest_eigenvalue(&[pair(M, D, c), pair(D, L, c), pair(M, L, c)]);
        assert!((all(0.5) - 0.5).abs() < 1e-14);
        assert!((all(-0.6) + 0.2).abs() < 1e-14);
        // A chain without the third pair: 1 - c·√2.
        let chain = smallest_eigenvalue(&[pair(M, D, 0.9), pair(D, L, 0.9)]);
        assert!((chain - (1.0 - 0.9 * 2f64.sqrt())).abs() < 1e-14);
        assert!((smallest_eigenvalue(&[]) - 1.0).abs() < 1e-15);
    }
}
