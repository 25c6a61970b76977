//! Reads how well the ship is delivered: the error of its periapsis altitude, of its flight-path
//! angle or in the B-plane, and of its speed.

use nalgebra::{Matrix2, SymmetricEigen};

use super::arrival::{Arrival, ArrivalEnergy};
use super::bound::Bound;
use super::distribution::Spread;
use super::message::InputError;
use super::section::{Node, Section};
use super::uncertainty::{Correlation, Distribution, Number, Uncertain};
use crate::numeric::units::{Dimension, format_quantity};

/// Largest errors that are believed; beyond these a unit has slipped.
const LARGEST_ALTITUDE_ERROR_M: f64 = 2e6;
const LARGEST_ANGLE_ERROR_RAD: f64 = 0.5;
const LARGEST_SPEED_ERROR_M_S: f64 = 5e3;
const LARGEST_B_PLANE_ERROR_M: f64 = 1e8;
/// Shares of rounding that are let pass in a covariance that must be symmetric.
const ROUNDING: f64 = 1e-9;

/// The delivery section, decoded.
#[derive(Debug, Default)]
pub(super) struct Delivery {
    pub(super) numbers: Vec<Uncertain>,
    pub(super) correlation: Option<Correlation>,
}

impl Delivery {
    /// Reads `uncertainty.delivery`; without it there are no errors.
    pub(super) fn decode(uncertainty: &Section<'_>, arrival: &Arrival) -> Result<Self, InputError> {
        let mut decoded = Self::default();
        let Some(delivery) = uncertainty.optional_section("delivery")? else {
            return Ok(decoded);
        };
        let forms = ["periapsis_altitude", "flight_path_angle", "b_plane"];
        let written: Vec<Node<'_>> = forms
            .iter()
            .filter_map(|form| delivery.optional(form))
            .collect();
        if let [first, second, ..] = written.as_slice() {
            let message = format!("`{}` stands beside `{}`", second.name(), first.name());
            let help = "they are one error in different terms: keep one of the two";
            return Err(second.error_at_key(message).with_help(help));
        }
        if let Some(node) = written.first() {
            match node.name().as_str() {
                "periapsis_altitude" => decoded.error(
                    node,
                    Number::DeliveryPeriapsis,
                    Spread::of_error(Dimension::Length, LARGEST_ALTITUDE_ERROR_M),
                )?,
                "flight_path_angle" => decoded.error(
                    node,
                    Number::DeliveryAngle,
                    Spread::of_error(Dimension::Angle, LARGEST_ANGLE_ERROR_RAD),
                )?,
                _ => decoded.b_plane(node, arrival)?,
            }
        }
        if let Some(node) = delivery.optional("speed") {
            let spread = Spread::of_error(Dimension::Speed, LARGEST_SPEED_ERROR_M_S);
            decoded.error(&node, Number::DeliverySpeed, spread)?;
        }
        delivery.finish()?;
        Ok(decoded)
    }

    fn error(&mut self, node: &Node<'_>, number: Number, spread: Spread) -> Result<(), InputError> {
        self.numbers.push(Uncertain {
            number,
            distribution: spread.decode(node)?,
        });
        Ok(())
    }

    fn b_plane(&mut self, node: &Node<'_>, arrival: &Arrival) -> Result<(), InputError> {
        let has_asymptote =
            matches!(arrival.energy, ArrivalEnergy::ExcessSpeed(speed) if speed > 0.0);
        if !has_asymptote {
            let help = "the B-plane belongs to a hyperbola with an excess speed above 0; \
                        give `periapsis_altitude` or `flight_path_angle` instead";
            return Err(node
                .error_at_key("this arrival has no B-plane")
                .with_help(help));
        }
        let section = node.section()?;
        let (t, r, coefficient) = match section.optional("covariance") {
            Some(covariance) => from_covariance(&covariance)?,
            None => from_std_devs(&section)?,
        };
        section.finish()?;
        for (number, std_dev) in [(Number::DeliveryBT, t), (Number::DeliveryBR, r)] {
            self.numbers.push(Uncertain {
                number,
                distribution: Distribution::Normal { mean: 0.0, std_dev },
            });
        }
        if coefficient != 0.0 {
            self.correlation = Some(Correlation {
                between: (Number::DeliveryBT, Number::DeliveryBR),
                coefficient,
            });
        }
        Ok(())
    }
}

fn from_std_devs(section: &Section<'_>) -> Result<(f64, f64, f64), InputError> {
    let bound = Bound::above(0.0).at_most(LARGEST_B_PLANE_ERROR_M);
    let t = section.quantity("t", Dimension::Length, bound)?;
    let r = section.quantity("r", Dimension::Length, bound)?;
    let inside = Bound::above(-1.0).below(1.0);
    let coefficient = section.optional_quantity("correlation", Dimension::Dimensionless, inside)?;
    Ok((t, r, coefficient.unwrap_or(0.0)))
}

/// Standard deviations along T and R and their correlation, from `[[tt, tr], [rt, rr]]`.
fn from_covariance(node: &Node<'_>) -> Result<(f64, f64, f64), InputError> {
    let form = "write `[[9 km2, 1 km2], [1 km2, 4 km2]]`: the variance along T, the covariance twice, the variance along R";
    let mut cells = Vec::new();
    for row in node.list()? {
        cells.push(row.list()?);
    }
    let [first, second] = cells.as_slice() else {
        return Err(node
            .error("the covariance must have two rows")
            .with_help(form));
    };
    let ([tt, tr], [rt, rr]) = (first.as_slice(), second.as_slice()) else {
        return Err(node
            .error("each row of the covariance must have two entries")
            .with_help(form));
    };
    let largest = LARGEST_B_PLANE_ERROR_M * LARGEST_B_PLANE_ERROR_M;
    let variance =
        |cell: &Node<'_>| cell.quantity(Dimension::Area, Bound::above(0.0).at_most(largest));
    let covariance =
        |cell: &Node<'_>| cell.quantity(Dimension::Area, Bound::between(-largest, largest));
    let matrix = Matrix2::new(
        variance(tt)?,
        covariance(tr)?,
        covariance(rt)?,
        variance(rr)?,
    );
    if (matrix.m12 - matrix.m21).abs() > ROUNDING * matrix.amax() {
        return Err(rt
            .error("the covariance is not symmetric")
            .with_help("the two entries off the diagonal are the same number"));
    }
    let smallest = SymmetricEigen::new(matrix).eigenvalues.min();
    if smallest < -ROUNDING * matrix.amax() {
        let value = format_quantity(smallest, Dimension::Area);
        return Err(node
            .error(format!(
                "the covariance is not positive semi-definite: its smallest eigenvalue is {value}"
            ))
            .with_help(
                "the covariance of T and R can be at most the product of their standard deviations",
            ));
    }
    let (t, r) = (matrix.m11.sqrt(), matrix.m22.sqrt());
    let coefficient = matrix.m12 / (t * r);
    if coefficient.abs() > 1.0 - ROUNDING {
        return Err(node
            .error("the covariance has an eigenvalue of 0: the errors along T and R are one error")
            .with_help("make the covariance a little smaller"));
    }
    Ok((t, r, coefficient))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{STARTER, Scenario};

    fn delivery(b_plane: &str) -> Vec<(Number, Distribution)> {
        numbers(b_plane)
            .iter()
            .map(|uncertain| (uncertain.number, uncertain.distribution))
            .collect()
    }

    fn scenario(b_plane: &str) -> Scenario {
        let old = "periapsis_altitude: {normal: {std_dev: 0.35 km}}";
        Scenario::from_text(
            "x.yaml",
            &STARTER.replacen(old, &format!("b_plane: {b_plane}"), 1),
        )
        .unwrap()
    }

    fn numbers(b_plane: &str) -> Vec<Uncertain> {
        scenario(b_plane).uncertainty.numbers
    }

    #[test]
    fn a_covariance_becomes_two_errors_and_a_correlation() {
        // Variances 9 and 4 km², covariance 1.2 km²: standard deviations 3 and 2 km,
        // correlation 1.2 / (3 · 2) = 0.2 (by hand).
        let normal = |std_dev| Distribution::Normal { mean: 0.0, std_dev };
        for form in [
            "{covariance: [[9 km2, 1.2 km2], [1.2 km2, 4 km2]]}",
            "{t: 3 km, r: 2 km, correlation: 0.2}",
        ] {
            let errors = delivery(form);
            assert_eq!(
                errors[..2],
                [
                    (Number::DeliveryBT, normal(3000.0)),
                    (Number::DeliveryBR, normal(2000.0))
                ]
            );
            let correlations = scenario(form).uncertainty.correlations;
            assert_eq!(correlations.len(), 1);
            assert_eq!(
                correlations[0].between,
                (Number::DeliveryBT, Number::DeliveryBR)
            );
            assert!((correlations[0].coefficient - 0.2).abs() < 1e-15);
        }
        assert!(
            scenario("{t: 3 km, r: 2 km}")
                .uncertainty
                .correlations
                .is_empty()
        );
    }
}
