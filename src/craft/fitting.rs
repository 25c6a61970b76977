//! Makes ready to fly what a scenario says of a ship's coefficients: a table, a shape, or constants that
//! change in thin air.

use super::aero_csv::{AeroCsvError, read_aero_table};
use super::aero_error::AeroTableError;
use super::aero_grid::{FreeMolecularEnd, Trim};
use super::aero_table::{AeroNumbers, AeroTable};
use super::blunt_cone::{BluntCone, ShapeError};
use super::newtonian::{Shape, stagnation_pressure_coefficient};
use super::rarefaction::{Bridge, Molecules};
use super::ship_models::Aerodynamics;
use crate::scenario::aerodynamics::{AeroForm, AeroSpec, FreeMolecular, ShapeSpec};
use crate::scenario::ship::Ship;

/// Mach numbers of an estimate by Newton's rule: the pressure at the stagnation point still rises
/// between them, and so close that the corners between the cubics cost no steps. Below the first it is held; there the rule is of little use anyway.
const MACHS: [f64; 18] = [
    1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 15.0, 18.0, 22.0, 28.0, 36.0,
    50.0,
];
/// Temperature for the mean free path, K: hard spheres hardly ask for it.
const USUAL_K: f64 = 273.15;

/// The air as coefficients depend on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirFacts {
    /// Ratio of specific heats, and the molecules; `None` where the world does not say its gas.
    pub gas: Option<(f64, Molecules)>,
    /// Whether the speed of sound is known, and with it a Mach number.
    pub has_sound: bool,
}

/// Why coefficients cannot be flown, with the key of the scenario that is at fault.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FittingError {
    /// A table that cannot be read.
    #[error("in the table `{name}`: {cause}")]
    Table {
        /// Its file or key.
        name: String,
        /// What is wrong.
        cause: AeroCsvError,
    },
    /// A shape that cannot be.
    #[error(transparent)]
    Shape(#[from] ShapeError),
    /// Coefficients that cannot be.
    #[error("the shape has no usable coefficients at this trim angle: {0}")]
    Coefficients(#[from] AeroTableError),
    /// The coefficients go with Mach number and the world has no speed of sound.
    #[error("the coefficients depend on Mach number, but the world file gives no temperature")]
    NoSound,
    /// The coefficients go with Knudsen number and the world has no gas.
    #[error("the coefficients depend on Knudsen number, but the world file gives no gas")]
    NoGas,
    /// A trim error that takes all drag away.
    #[error(
        "an error of the trim angle of four standard deviations ({degrees:.3} deg) takes all drag away: drag is flown as a straight line in the angle, with its slope at one standard deviation; give a smaller error"
    )]
    TrimError {
        /// Four standard deviations, deg.
        degrees: f64,
    },
    /// Lift in thin air for a ship without lift in thick air.
    #[error("`free_molecular.lift_coefficient` needs a `lift_to_drag` of the ship to change from")]
    LiftFromNothing,
}

impl FittingError {
    /// The key of the scenario at fault.
    #[must_use]
    pub fn key(&self) -> &'static str {
        match self {
            Self::Table { .. } => "ship.aerodynamics.table",
            Self::Shape(_) => "ship.aerodynamics.shape",
            Self::Coefficients(_) | Self::TrimError { .. } => "ship.trim_angle",
            Self::NoSound | Self::NoGas => "ship.aerodynamics",
            Self::LiftFromNothing => "ship.aerodynamics.free_molecular",
        }
    }
}

/// The coefficients of a ship, if they vary; `trim_span_rad` is the spread of its trim angle (0 for none).
///
/// A table is flown at the trim angle, with the slope over the span for samples off it. A shape is taken
/// by the modified Newtonian rule, with the hyperthermal limit of diffuse reflection in thin air: twice
/// the silhouette, without lift; for a cone only while it is met within its half angle, beyond which
/// there is no bridge unless the scenario gives its end. Constants are flown as shares of themselves.
///
/// # Errors
/// [`FittingError`] with the key at fault.
pub fn aerodynamics(
    ship: &Ship,
    air: &AirFacts,
    trim_span_rad: f64,
) -> Result<Option<Aerodynamics>, FittingError> {
    let Some(spec) = &ship.aerodynamics else {
        return Ok(None);
    };
    let trim_rad = ship.trim_angle_rad;
    let (table, end) = match &spec.form {
        AeroForm::Constant => of_constants(ship, spec)?,
        AeroForm::Table { text, name } => {
            let read = read_aero_table(text).map_err(|cause| FittingError::Table {
                name: name.clone(),
                cause,
            })?;
            (read, spec.free_molecular)
        }
        AeroForm::Shape(shape) => {
            let share = shape.area_m2() / ship.reference_area_m2;
            let gamma = air.gas.map_or(1.4, |(gamma, _)| gamma);
            let table = of_shape(*shape, (trim_rad, trim_span_rad), (gamma, share))?;
            let end = silhouette(*shape, trim_rad).map(|part| FreeMolecular {
                drag: 2.0 * part * share,
                lift: 0.0,
            });
            (table, spec.free_molecular.or(end))
        }
    };
    let bridged = table.ln_knudsens().len() > 1 || end.is_some();
    if table.machs().len() > 1 && !air.has_sound {
        return Err(FittingError::NoSound);
    }
    let diameter = (4.0 * ship.reference_area_m2 / std::f64::consts::PI).sqrt();
    let length_m = spec.knudsen_length_m.unwrap_or(diameter);
    let ln_knudsen_density = match air.gas {
        Some((_, molecules)) => molecules.ln_knudsen_density(USUAL_K, length_m),
        None if bridged => return Err(FittingError::NoGas),
        None => 0.0,
    };
    let grid = table.at_trim(&Trim {
        angle_of_attack_rad: trim_rad,
        span_rad: trim_span_rad,
        free_molecular: end.map(|end| FreeMolecularEnd {
            drag: end.drag,
            lift: end.lift,
            bridge: Bridge::USUAL,
        }),
    });
    let far = 4.0 * trim_span_rad;
    if grid.falls_to_nothing(far) {
        return Err(FittingError::TrimError {
            degrees: far.to_degrees(),
        });
    }
    Ok(Some(Aerodynamics {
        grid,
        ln_knudsen_density,
    }))
}

/// Constants as shares of themselves, so that their dispersion stays that of the constants.
fn of_constants(
    ship: &Ship,
    spec: &AeroSpec,
) -> Result<(AeroTable, Option<FreeMolecular>), FittingError> {
    let (drag, lift) = (
        ship.drag_coefficient,
        ship.drag_coefficient * ship.lift_to_drag,
    );
    let end = match spec.free_molecular {
        Some(end) if end.lift != 0.0 && lift == 0.0 => return Err(FittingError::LiftFromNothing),
        Some(end) => Some(FreeMolecular {
            drag: end.drag / drag,
            lift: if lift == 0.0 { 0.0 } else { end.lift / lift },
        }),
        None => None,
    };
    Ok((AeroTable::constant(1.0, 1.0)?, end))
}

fn of_shape(
    spec: ShapeSpec,
    (trim_rad, span_rad): (f64, f64),
    (gamma, share): (f64, f64),
) -> Result<AeroTable, FittingError> {
    let shape = match spec {
        ShapeSpec::Sphere { .. } => Shape::Sphere,
        ShapeSpec::SphereCone {
            nose_radius_m,
            base_radius_m,
            half_angle_rad,
        } => Shape::BluntCone(BluntCone::new(
            nose_radius_m,
            base_radius_m,
            half_angle_rad,
        )?),
        ShapeSpec::Segment {
            radius_m,
            base_radius_m,
        } => Shape::BluntCone(BluntCone::segment(radius_m, base_radius_m)?),
        ShapeSpec::Plate { .. } => Shape::FlatPlate,
        ShapeSpec::Cylinder { .. } => Shape::Cylinder,
    };
    let angles_rad = if span_rad > 0.0 {
        vec![trim_rad - span_rad, trim_rad, trim_rad + span_rad]
    } else {
        vec![trim_rad]
    };
    let (mut drag, mut lift) = (Vec::new(), Vec::new());
    for angle in &angles_rad {
        for mach in MACHS {
            let found = shape.coefficients(*angle, stagnation_pressure_coefficient(mach, gamma));
            drag.push(found.drag * share);
            lift.push(found.lift * share);
        }
    }
    Ok(AeroTable::new(AeroNumbers {
        angles_rad,
        machs: MACHS.to_vec(),
        knudsens: vec![1.0],
        drag,
        lift,
    })?)
}

/// The silhouette over the shape's own area, where it is simple.
fn silhouette(shape: ShapeSpec, angle_rad: f64) -> Option<f64> {
    let angle = angle_rad.abs();
    match shape {
        ShapeSpec::Sphere { .. } => Some(1.0),
        ShapeSpec::SphereCone { half_angle_rad, .. } => {
            (angle <= half_angle_rad).then(|| libm::cos(angle))
        }
        ShapeSpec::Segment {
            radius_m,
            base_radius_m,
        } => (angle <= libm::acos((base_radius_m / radius_m).min(1.0))).then(|| libm::cos(angle)),
        ShapeSpec::Plate { .. } | ShapeSpec::Cylinder { .. } => Some(libm::sin(angle)),
    }
}
