//! The ship as the scenario describes it: mass, people, drag, lift, nose.

use std::f64::consts::{FRAC_PI_2, PI};

use super::aerodynamics::{AeroForm, AeroSpec, HeatingSpec, decode_aerodynamics, decode_heating};
use super::bound::Bound;
use super::likeness::{alike, closest};
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
    /// Drag coefficient on the reference area, above 0; 1 where `aerodynamics` gives the coefficients.
    pub drag_coefficient: f64,
    /// Lift-to-drag ratio, 0 or more; the bank angle gives the direction. 0 where `aerodynamics` gives it.
    pub lift_to_drag: f64,
    /// Coefficients that vary along the flight, if they do.
    pub aerodynamics: Option<AeroSpec>,
    /// Angle of attack at which the ship trims, rad; counts with `aerodynamics` alone.
    pub trim_angle_rad: f64,
    /// Bank angle, rad: 0 is lift up, π is lift down, positive to the right.
    pub bank_angle_rad: f64,
    /// Effective nose radius for stagnation heating, m, above 0.
    pub nose_radius_m: f64,
    /// Which heating is flown.
    pub heating: HeatingSpec,
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
pub(super) const FACTOR: Bound = Bound::between(0.1, 10.0);
pub(super) const TRIM_ANGLE_RAD: Bound = Bound::between(-FRAC_PI_2, FRAC_PI_2);
const MOST_PASSENGERS: u32 = 1_000_000;

/// A ship as it flies, and in each of its named configurations.
pub(super) struct Fleet {
    /// The ship as it flies.
    pub(super) flown: Ship,
    /// Name of the configuration that flies.
    pub(super) chosen: Option<String>,
    /// Each configuration by its name.
    pub(super) configurations: Vec<(String, Ship)>,
}

impl Fleet {
    /// Reads `ship`. A configuration has any of the keys of the ship that it changes.
    pub(super) fn decode(ship: &Section<'_>) -> Result<Self, InputError> {
        let chosen = ship.optional("configuration");
        let Some(section) = ship.optional_section("configurations")? else {
            return match chosen {
                Some(node) => Err(node
                    .error("the ship has no configurations to choose from")
                    .with_help("add `configurations:` with the name and what differs")),
                None => Ok(Self {
                    flown: Ship::decode(ship, None)?,
                    chosen: None,
                    configurations: Vec::new(),
                }),
            };
        };
        let mut configurations: Vec<(String, Ship)> = Vec::new();
        for (name, node) in section.entries() {
            if configurations.iter().any(|(other, _)| alike(other, name)) {
                let message = format!("a second configuration is named `{name}`");
                return Err(node.error_at_key(message));
            }
            let differs = node.section()?;
            let fitted = Ship::decode(ship, Some(&differs))?;
            differs.finish()?;
            configurations.push((name.to_owned(), fitted));
        }
        let Some(node) = chosen else {
            return Err(ship
                .error("the ship has `configurations`, but none is chosen")
                .with_help(format!(
                    "add `configuration: {}`",
                    configurations.first().map_or("...", |(name, _)| name)
                )));
        };
        let name = node.text()?;
        if let Some((_, flown)) = configurations.iter().find(|(known, _)| known == name) {
            return Ok(Self {
                flown: flown.clone(),
                chosen: Some(name.to_owned()),
                configurations,
            });
        }
        let known: Vec<&str> = configurations.iter().map(|(name, _)| &**name).collect();
        Err(node
            .error(format!("the ship has no configuration `{name}`"))
            .with_help(match closest(name, known.iter().copied()) {
                Some(meant) => format!("did you mean `{meant}`?"),
                None => format!("known here: {}", known.join(", ")),
            }))
    }
}

/// The ship's section under that of a configuration: what the configuration has counts.
struct Layers<'s, 'd> {
    ship: &'s Section<'d>,
    differs: Option<&'s Section<'d>>,
}

impl<'s, 'd> Layers<'s, 'd> {
    /// The section in which a key counts.
    fn with(&self, key: &str) -> &'s Section<'d> {
        // Asked of both, so that neither takes the key for an unknown one.
        self.ship.allow(key);
        match self.differs {
            Some(differs) if differs.optional(key).is_some() => differs,
            _ => self.ship,
        }
    }

    fn quantity(&self, key: &str, unit: Dimension, bound: Bound) -> Result<f64, InputError> {
        self.with(key).quantity(key, unit, bound)
    }

    fn optional(
        &self,
        key: &str,
        unit: Dimension,
        bound: Bound,
    ) -> Result<Option<f64>, InputError> {
        self.with(key).optional_quantity(key, unit, bound)
    }
}

impl Ship {
    fn decode(ship: &Section<'_>, differs: Option<&Section<'_>>) -> Result<Self, InputError> {
        let layers = Layers { ship, differs };
        let aerodynamics = decode_aerodynamics(layers.with("aerodynamics"))?;
        // A configuration with a drag coefficient of its own has left a table of the ship behind.
        let own_drag = differs.is_some_and(|d| d.has("drag_coefficient") && !d.has("aerodynamics"));
        let aerodynamics = aerodynamics.filter(|_| !own_drag);
        let form = aerodynamics.as_ref().map(|spec| &spec.form);
        let (drag_coefficient, lift_to_drag) = coefficients(&layers, form)?;
        let reference_area_m2 = match form {
            Some(AeroForm::Shape(shape))
                if !layers.with("reference_area").has("reference_area") =>
            {
                shape.area_m2()
            }
            _ => layers.quantity("reference_area", Dimension::Area, REFERENCE_AREA_M2)?,
        };
        Ok(Self {
            mass_kg: layers.quantity("mass", Dimension::Mass, MASS_KG)?,
            passengers: decode_passengers(ship)?,
            reference_area_m2,
            drag_coefficient,
            lift_to_drag,
            aerodynamics,
            trim_angle_rad: layers
                .optional("trim_angle", Dimension::Angle, TRIM_ANGLE_RAD)?
                .unwrap_or(0.0),
            bank_angle_rad: layers
                .optional("bank", Dimension::Angle, BANK_ANGLE_RAD)?
                .unwrap_or(0.0),
            nose_radius_m: layers.quantity("nose_radius", Dimension::Length, NOSE_RADIUS_M)?,
            heating: decode_heating(ship)?,
            engine: ship
                .optional_section("engine")?
                .map(Engine::decode)
                .transpose()?,
            spots: decode_spots(ship)?,
            roll: decode_roll(ship)?,
        })
    }
}

/// Constant drag coefficient and lift-to-drag ratio; 1 and 0 where a table or a shape gives them, and
/// then they may not stand beside it.
fn coefficients(
    layers: &Layers<'_, '_>,
    form: Option<&AeroForm>,
) -> Result<(f64, f64), InputError> {
    let pure = Dimension::Dimensionless;
    if form.is_none_or(|form| *form == AeroForm::Constant) {
        let lift = layers.optional("lift_to_drag", pure, LIFT_TO_DRAG)?;
        return Ok((
            layers.quantity("drag_coefficient", pure, DRAG_COEFFICIENT)?,
            lift.unwrap_or(0.0),
        ));
    }
    let section = layers.with("aerodynamics");
    for key in ["drag_coefficient", "lift_to_drag"] {
        layers.ship.allow(key);
        if section.optional(key).is_some() {
            let message =
                format!("`{key}` stands beside `aerodynamics`, which gives the coefficients");
            let help = "remove one of the two; errors of a table are `ship.drag_factor` and `ship.lift_factor` under `uncertainty`";
            return Err(section.error_at(key, message).with_help(help));
        }
    }
    Ok((1.0, 0.0))
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
