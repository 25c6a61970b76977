//! The ship as the scenario describes it: mass, people, drag, lift, nose.

use std::f64::consts::PI;

use super::bound::Bound;
use super::message::InputError;
use super::section::Section;
use super::spots::{Roll, SpotSpec, decode_roll, decode_spots};
use crate::numeric::units::Dimension;

/// The ship, in SI units, as checked from the `ship` section.
#[derive(Debug, Clone, PartialEq)]
pub struct Ship {
    /// Mass at entry, kg, above 0.
    pub mass_kg: f64,
    /// People aboard who are neither crew nor cargo; 0 for a ship without.
    pub passengers: u32,
    /// Reference area of the drag and lift coefficients, m², above 0.
    pub reference_area_m2: f64,
    /// Drag coefficient on the reference area, above 0.
    pub drag_coefficient: f64,
    /// Lift-to-drag ratio, 0 or more; the bank angle gives the direction.
    pub lift_to_drag: f64,
    /// Bank angle, rad: 0 is lift up, π is lift down, positive to the right.
    pub bank_angle_rad: f64,
    /// Effective nose radius for stagnation heating, m, above 0.
    pub nose_radius_m: f64,
    /// Engine for correction burns, when the scenario names one.
    pub engine: Option<Engine>,
    /// Named places that take heat.
    pub spots: Vec<SpotSpec>,
    /// The roll that spreads heat over the circumference, if the ship rolls.
    pub roll: Option<Roll>,
}

/// A rocket engine, as far as corrections after a pass need it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Engine {
    /// Specific impulse, s, above 0.
    pub specific_impulse_s: f64,
    /// Thrust, N, above 0, when stated.
    pub thrust_n: Option<f64>,
}

/// Ranges that catch slips of unit; generous on both sides.
pub(super) const MASS_KG: Bound = Bound::between(1.0, 1e9);
pub(super) const REFERENCE_AREA_M2: Bound = Bound::between(1e-3, 1e6);
pub(super) const DRAG_COEFFICIENT: Bound = Bound::between(0.01, 10.0);
pub(super) const LIFT_TO_DRAG: Bound = Bound::between(0.0, 10.0);
pub(super) const NOSE_RADIUS_M: Bound = Bound::between(1e-3, 1e3);
const BANK_ANGLE_RAD: Bound = Bound::between(-PI, PI);
const MOST_PASSENGERS: u32 = 1_000_000;

impl Ship {
    pub(super) fn decode(ship: &Section<'_>) -> Result<Self, InputError> {
        Ok(Self {
            mass_kg: ship.quantity("mass", Dimension::Mass, MASS_KG)?,
            passengers: decode_passengers(ship)?,
            reference_area_m2: ship.quantity(
                "reference_area",
                Dimension::Area,
                REFERENCE_AREA_M2,
            )?,
            drag_coefficient: ship.quantity(
                "drag_coefficient",
                Dimension::Dimensionless,
                DRAG_COEFFICIENT,
            )?,
            lift_to_drag: ship
                .optional_quantity("lift_to_drag", Dimension::Dimensionless, LIFT_TO_DRAG)?
                .unwrap_or(0.0),
            bank_angle_rad: ship
                .optional_quantity("bank", Dimension::Angle, BANK_ANGLE_RAD)?
                .unwrap_or(0.0),
            nose_radius_m: ship.quantity("nose_radius", Dimension::Length, NOSE_RADIUS_M)?,
            engine: ship
                .optional_section("engine")?
                .map(Engine::decode)
                .transpose()?,
            spots: decode_spots(ship)?,
            roll: decode_roll(ship)?,
        })
    }
}

impl Engine {
    fn decode(engine: Section<'_>) -> Result<Self, InputError> {
        let decoded = Self {
            specific_impulse_s: engine.quantity(
                "specific_impulse",
                Dimension::Time,
                Bound::between(10.0, 1e7),
            )?,
            thrust_n: engine.optional_quantity(
                "thrust",
                Dimension::Force,
                Bound::between(1e-3, 1e10),
            )?,
        };
        engine.finish()?;
        Ok(decoded)
    }
}

fn decode_passengers(ship: &Section<'_>) -> Result<u32, InputError> {
    let count = ship.optional_integer("passengers", 0..=u64::from(MOST_PASSENGERS))?;
    Ok(count
        .and_then(|count| u32::try_from(count).ok())
        .unwrap_or(0))
}
