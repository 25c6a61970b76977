//! The blocks of a world file about the body, its gas and the heating constant.

use super::body::Body;
use super::file::{Reader, choice};
use super::gas::{Gas, Species};
use super::model::RadiativeGas;
use crate::numeric::units::{Dimension, format_number, parse_quantity};
use crate::scenario::bound::Bound;
use crate::scenario::likeness::closest;
use crate::scenario::message::InputError;
use crate::scenario::section::{Node, Section};

/// Unit of the heating constant as it is written.
const HEATING_UNIT: &str = "kg^0.5/m";

/// The body, and the altitude of its ground if the file states one, m.
pub(super) fn body(
    block: Section<'_>,
    name: &str,
    reader: &mut Reader<'_>,
) -> Result<(Body, Option<f64>), InputError> {
    reader.cite(&block)?;
    let length = |key| block.quantity(key, Dimension::Length, Bound::above(0.0));
    let harmonic = |key| block.optional_quantity(key, Dimension::Dimensionless, Bound::ANY);
    let equatorial_radius_m = length("equatorial_radius")?;
    let reference =
        block.optional_quantity("j_reference_radius", Dimension::Length, Bound::above(0.0))?;
    let body = Body {
        name: name.to_owned(),
        gm_m3_s2: block.quantity(
            "gravitational_parameter",
            Dimension::GravitationalParameter,
            Bound::above(0.0),
        )?,
        equatorial_radius_m,
        polar_radius_m: length("polar_radius")?,
        j2: harmonic("j2")?.unwrap_or(0.0),
        j3: harmonic("j3")?.unwrap_or(0.0),
        j4: harmonic("j4")?.unwrap_or(0.0),
        j_reference_radius_m: reference.unwrap_or(equatorial_radius_m),
        rotation_rad_s: block.quantity("rotation_rate", Dimension::AngularRate, Bound::ANY)?,
        entry_interface_m: length("entry_interface")?,
    };
    gravity_makes_sense(
        &block,
        body.gm_m3_s2 / (equatorial_radius_m * equatorial_radius_m),
    )?;
    let ground_m = block.optional_quantity("ground_altitude", Dimension::Length, Bound::ANY)?;
    body.check()
        .map_err(|error| reader.refuse("body", &error))?;
    block.finish()?;
    Ok((body, ground_m))
}

/// Gravity at an equator that is taken for a body's, m/s²: of known bodies with air 0.6 (Pluto) to 25 (Jupiter), from
/// memory; a slip between km3/s2 and m3/s2 is a factor of 1e9.
const GRAVITY_M_S2: (f64, f64) = (0.01, 1000.0);

/// Refuses a gravity at the equator that no body has: the unit of the gravitational parameter or that of the radius
/// is another than was meant.
fn gravity_makes_sense(block: &Section<'_>, gravity_m_s2: f64) -> Result<(), InputError> {
    let (least, most) = GRAVITY_M_S2;
    if (least..=most).contains(&gravity_m_s2) {
        return Ok(());
    }
    let message = format!(
        "`gravitational_parameter` gives with `equatorial_radius` a gravity of {} m/s2 at the equator, not between \
         {least} and {most} m/s2",
        format_number(gravity_m_s2)
    );
    Err(block.error_at("gravitational_parameter", message).with_help(
        "expected is GM: about 398600 km3/s2 for the Earth and 42828 km3/s2 for Mars; the same in m3/s2 is a thousand \
         million times the number",
    ))
}

/// The gas, and the heating constant by the mixture rule or the gas that has none.
pub(super) fn gas(
    block: Section<'_>,
    reader: &mut Reader<'_>,
) -> Result<(Gas, Result<f64, Species>), InputError> {
    reader.cite(&block)?;
    let gamma = block.quantity(
        "gamma",
        Dimension::Dimensionless,
        Bound::above(1.0).below(1.667),
    )?;
    let gas = match (block.has("mole_fractions"), block.has("mass_fractions")) {
        (true, true) => {
            return Err(block.error_at(
                "mass_fractions",
                "give mole fractions or mass fractions, not both",
            ));
        }
        (_, false) => Gas::by_mole(&fractions(&block.section("mole_fractions")?)?, gamma),
        (false, true) => Gas::by_mass(&fractions(&block.section("mass_fractions")?)?, gamma),
    };
    let gas = gas.map_err(|error| reader.refuse("gas", &error))?;
    block.finish()?;
    let mixture = gas.mixture_heating_constant();
    Ok((gas, mixture))
}

fn fractions(section: &Section<'_>) -> Result<Vec<(Species, f64)>, InputError> {
    let fraction = |(formula, node): (&str, Node<'_>)| {
        let Some(species) = Species::named(formula) else {
            let known: Vec<_> = Species::ALL
                .iter()
                .map(|species| species.formula())
                .collect();
            let error = node.error_at_key(format!("unknown gas `{formula}`"));
            return Err(
                error.with_help(match closest(formula, known.iter().copied()) {
                    Some(meant) => format!("did you mean `{meant}`?"),
                    None => format!("known gases: {}", known.join(", ")),
                }),
            );
        };
        Ok((
            species,
            node.quantity(Dimension::Ratio, Bound::between(0.0, 1.0))?,
        ))
    };
    section.entries().into_iter().map(fraction).collect()
}

/// The constant of the `heating` block if there is one, otherwise that of the mixture; and the gas for
/// radiative heating, if the block names one.
pub(super) fn heating(
    root: &Section<'_>,
    mixture: Result<f64, Species>,
    reader: &mut Reader<'_>,
) -> Result<(f64, Option<RadiativeGas>), InputError> {
    let of_mixture = || {
        mixture.map_err(|species| {
            let message = format!("no heating constant is known for {}", species.formula());
            let help = format!(
                "add a `heating` block with `constant: ... {HEATING_UNIT}` for the mixture"
            );
            root.error_at("gas", message).with_help(help)
        })
    };
    let Some(block) = root.optional_section("heating")? else {
        return Ok((of_mixture()?, None));
    };
    reader.cite(&block)?;
    let constant = match block.optional("constant") {
        Some(node) => constant(&node)?,
        None => of_mixture()?,
    };
    let radiative = block
        .optional("radiative")
        .map(|node| choice(&node, &RadiativeGas::ALL, RadiativeGas::words))
        .transpose()?;
    block.finish()?;
    Ok((constant, radiative))
}

/// The number of `heating.constant`.
fn constant(node: &Node<'_>) -> Result<f64, InputError> {
    let number = node.text()?.trim().strip_suffix(HEATING_UNIT);
    let constant = number.and_then(|number| parse_quantity(number, Dimension::Dimensionless).ok());
    match constant {
        Some(constant) if (1e-6..=1e-2).contains(&constant) => Ok(constant),
        Some(_) => Err(node.error(format!("`heating.constant` must be between 1e-6 and 1e-2 {HEATING_UNIT}"))),
        None => Err(node
            .error("`heating.constant` must be a number with its unit")
            .with_help(format!("write it like `1.74e-4 {HEATING_UNIT}`: k of q = k sqrt(density/radius) speed^3 in SI"))),
    }
}
