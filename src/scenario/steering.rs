//! How the ship is steered through the pass: the `steering` section. Without it bank and drag are held.

use std::f64::consts::PI;

use super::arrival::APOAPSIS_ALTITUDE_M;
use super::bound::Bound;
use super::limits::DECELERATION_M_S2;
use super::message::InputError;
use super::section::Section;
use super::ship::{DRAG_COEFFICIENT, MASS_KG, NOSE_RADIUS_M, REFERENCE_AREA_M2, Ship};
use crate::numeric::units::Dimension;

/// The `steering` section, checked, in SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steering {
    /// What is aimed for.
    pub target: SteeringTarget,
    /// What is turned or dropped.
    pub control: Control,
    /// Time between two decisions, s. Default 2.
    pub cycle_s: f64,
    /// Time in which what was measured of the air fades to 1/e, s. Default 20.
    pub memory_s: f64,
    /// Sensed acceleration from which on the ship decides anew each cycle, m/s². Default 0.02 g.
    pub starts_at_m_s2: f64,
    /// Share of a limit at which lift is turned up to hold it, above 0. Default 0.95.
    pub relief: f64,
}

/// What a steered pass aims for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SteeringTarget {
    /// Apoapsis altitude of the orbit after the pass, m.
    ExitApoapsis(f64),
    /// Work of drag over the whole pass as a speed, m/s.
    ExitSpeedLoss(f64),
    /// The gate of the landing, flown by `land` alone: other commands hold the bank.
    Landing,
}

/// What the ship steers with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Control {
    /// The bank angle of a lifting ship.
    Bank(BankControl),
    /// A skirt that adds drag and is dropped once.
    Skirt(Skirt),
}

/// How the bank angle may move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BankControl {
    /// Highest bank rate, rad/s, above 0.
    pub rate_rad_s: f64,
    /// Highest bank acceleration, rad/s², above 0.
    pub acceleration_rad_s2: f64,
    /// Least magnitude that is commanded, rad: 0 is lift up. Default 0.
    pub least_rad: f64,
    /// Most magnitude that is commanded, rad: π is lift down. Default π.
    pub most_rad: f64,
    /// The bank changes sides when the inclination is off by more, rad. Default 0.2 deg.
    pub inclination_within_rad: f64,
}

/// The ship without its skirt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Skirt {
    /// Mass after the drop, kg.
    pub mass_kg: f64,
    /// Reference area after the drop, m².
    pub reference_area_m2: f64,
    /// Drag coefficient after the drop.
    pub drag_coefficient: f64,
    /// Nose radius after the drop, m. Default: as before.
    pub nose_radius_m: f64,
}

const HALF_TURN: Bound = Bound::between(0.0, PI);

impl Steering {
    /// Reads the section; `off` is no steering.
    pub(super) fn decode(root: &Section<'_>, ship: &Ship) -> Result<Option<Self>, InputError> {
        let off = |node: &super::section::Node<'_>| node.text().is_ok_and(|text| text == "off");
        if root.optional("steering").as_ref().is_some_and(off) {
            return Ok(None);
        }
        let Some(section) = root.optional_section("steering")? else {
            return Ok(None);
        };
        let steering = Self::decode_section(root, &section, ship)?;
        section.finish()?;
        Ok(Some(steering))
    }

    fn decode_section(
        root: &Section<'_>,
        section: &Section<'_>,
        ship: &Ship,
    ) -> Result<Self, InputError> {
        let gate = root.has("landing") && !section.has("target") && section.has("bank");
        let target = if gate {
            SteeringTarget::Landing
        } else {
            decode_target(section)?
        };
        Ok(Self {
            target,
            control: decode_control(section, ship)?,
            cycle_s: section
                .optional_quantity("cycle", Dimension::Time, Bound::between(0.1, 60.0))?
                .unwrap_or(2.0),
            memory_s: section
                .optional_quantity("memory", Dimension::Time, Bound::between(0.1, 1e4))?
                .unwrap_or(20.0),
            starts_at_m_s2: section
                .optional_quantity("starts_at", Dimension::Acceleration, DECELERATION_M_S2)?
                .unwrap_or(0.02 * 9.806_65),
            relief: section
                .optional_quantity("relief", Dimension::Ratio, Bound::between(0.1, 2.0))?
                .unwrap_or(0.95),
        })
    }
}

fn decode_target(section: &Section<'_>) -> Result<SteeringTarget, InputError> {
    let target = section.section("target")?;
    let apoapsis =
        target.optional_quantity("exit_apoapsis", Dimension::Length, APOAPSIS_ALTITUDE_M)?;
    let loss = target.optional_quantity(
        "exit_speed_loss",
        Dimension::Speed,
        Bound::above(0.0).at_most(1e6),
    )?;
    let decoded = match (apoapsis, loss) {
        (Some(altitude), None) => SteeringTarget::ExitApoapsis(altitude),
        (None, Some(speed)) => SteeringTarget::ExitSpeedLoss(speed),
        _ => {
            return Err(target
                .error(
                    "`target` has either an `exit_apoapsis` (an altitude) or an `exit_speed_loss`",
                )
                .with_help(
                    "write one of `exit_apoapsis: 34000 km` and `exit_speed_loss: 1.6 km/s`",
                ));
        }
    };
    target.finish()?;
    Ok(decoded)
}

fn decode_control(section: &Section<'_>, ship: &Ship) -> Result<Control, InputError> {
    let bank = section.optional_section("bank")?;
    let skirt = section.optional_section("skirt")?;
    match (bank, skirt) {
        (Some(bank), None) => decode_bank(bank).map(Control::Bank),
        (None, Some(skirt)) => decode_skirt(skirt, ship).map(Control::Skirt),
        _ => Err(section
            .error("`steering` has either a `bank` or a `skirt`")
            .with_help(
                "a lifting ship turns: `bank: {rate: 15 deg/s, acceleration: 5 deg/s2}`; another may drop \
                 a skirt: `skirt: {mass: 55 t, reference_area: 120 m2, drag_coefficient: 1.4}`, the ship after it",
            )),
    }
}

fn decode_bank(bank: Section<'_>) -> Result<BankControl, InputError> {
    let positive = Bound::above(0.0).at_most(100.0);
    let decoded = BankControl {
        rate_rad_s: bank.quantity("rate", Dimension::AngularRate, positive)?,
        acceleration_rad_s2: bank.quantity(
            "acceleration",
            Dimension::AngularAcceleration,
            positive,
        )?,
        least_rad: bank
            .optional_quantity("least", Dimension::Angle, HALF_TURN)?
            .unwrap_or(0.0),
        most_rad: bank
            .optional_quantity("most", Dimension::Angle, HALF_TURN)?
            .unwrap_or(PI),
        inclination_within_rad: bank
            .optional_quantity(
                "inclination_within",
                Dimension::Angle,
                Bound::above(0.0).at_most(PI),
            )?
            .unwrap_or(0.2_f64.to_radians()),
    };
    if decoded.least_rad >= decoded.most_rad {
        return Err(bank
            .error_at("most", "`most` is not above `least`")
            .with_help(
                "0 deg is lift up and 180 deg lift down, as in `least: 15 deg, most: 165 deg`",
            ));
    }
    bank.finish()?;
    Ok(decoded)
}

fn decode_skirt(skirt: Section<'_>, ship: &Ship) -> Result<Skirt, InputError> {
    let decoded = Skirt {
        mass_kg: skirt.quantity("mass", Dimension::Mass, MASS_KG)?,
        reference_area_m2: skirt.quantity("reference_area", Dimension::Area, REFERENCE_AREA_M2)?,
        drag_coefficient: skirt.quantity(
            "drag_coefficient",
            Dimension::Dimensionless,
            DRAG_COEFFICIENT,
        )?,
        nose_radius_m: skirt
            .optional_quantity("nose_radius", Dimension::Length, NOSE_RADIUS_M)?
            .unwrap_or(ship.nose_radius_m),
    };
    if decoded.mass_kg > ship.mass_kg {
        return Err(skirt
            .error_at("mass", "the ship is heavier after the drop than before")
            .with_help("`skirt` describes the ship without its skirt"));
    }
    let before = ship.drag_coefficient * ship.reference_area_m2 / ship.mass_kg;
    let after = decoded.drag_coefficient * decoded.reference_area_m2 / decoded.mass_kg;
    // Coefficients of a table or a shape are not known here.
    if ship.aerodynamics.is_none() && after >= before {
        return Err(skirt
            .error("the ship brakes no less without its skirt than with it")
            .with_help(
                "drag coefficient times area over mass must fall when the skirt is dropped; `ship` describes the \
                 ship with its skirt, `skirt` the one without",
            ));
    }
    skirt.finish()?;
    Ok(decoded)
}
