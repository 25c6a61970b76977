//! The forms of a profile in a world file: a standard, layers, a table or scale heights.

use super::body::Body;
use super::error::WorldError;
use super::file::{ALTITUDES, Reader, altitude, pairs};
use super::gas::{GAS_CONSTANT_J_KMOL_K, Gas};
use super::layers::{Layer, LayerBase};
use super::profile::{Above, Profile, TableRow};
use crate::numeric::units::{Dimension, parse_quantity};
use crate::scenario::bound::Bound;
use crate::scenario::likeness::closest;
use crate::scenario::message::InputError;
use crate::scenario::section::{Node, Section};

/// Scale heights that a file may give, m: generous about those of planets, some 4 km (Venus, high up) to some
/// hundred (a hot thermosphere), so that a slip of unit is seen. Assumed.
const SCALE_HEIGHT_M: Bound = Bound::between(100.0, 1e6);
/// Temperatures at the lowest altitude of layers, K. Assumed, to the same end.
const TEMPERATURE_K: Bound = Bound::between(1.0, 1e5);
/// Pressures at the lowest altitude of layers, Pa. Assumed, to the same end.
const PRESSURE_PA: Bound = Bound::between(1e-6, 1e10);
/// Forms of a profile; exactly one is used.
const FORMS: [&str; 4] = ["standard", "layers", "table", "scale_heights"];

/// The profile and the key of its form.
pub(super) fn profile(
    block: &Section<'_>,
    (body, gas): (&Body, &Gas),
    reader: &mut Reader<'_>,
) -> Result<(Profile, &'static str), InputError> {
    let mut given = FORMS.into_iter().filter(|form| block.has(form));
    let (Some(form), None) = (given.next(), given.next()) else {
        let message = format!("a profile needs exactly one of {}", FORMS.join(", "));
        return Err(block.error(message));
    };
    let above = above(block, form, reader)?;
    let profile = match form {
        "standard" => standard(block, above)?,
        "layers" => layers(block.section(form)?, (body, gas), above)?,
        "table" => table(block.section(form)?, above)?,
        _ => scale_heights(block.section(form)?, above)?,
    };
    let profile = profile.map_err(|error| match error {
        WorldError::OutOfRange {
            key: "to" | "scale_height",
            ..
        } => reader.refuse("profile.above", &error),
        _ => reader.refuse(&format!("profile.{form}"), &error),
    })?;
    Ok((profile, form))
}

/// What goes on above the top; it has to be stated where the form itself does not say it.
fn above(block: &Section<'_>, form: &str, reader: &mut Reader<'_>) -> Result<Above, InputError> {
    let Some(above) = block.optional_section("above")? else {
        if form == "table" || form == "layers" {
            let help = "add `above: {source: ..., known: ..., scale_height: ... km, to: ... km}`";
            return Err(block
                .error("the profile does not say how the air goes on above it")
                .with_help(help));
        }
        return Ok(Above::default());
    };
    reader.cite(&above)?;
    let scale_height_m = above.quantity("scale_height", Dimension::Length, SCALE_HEIGHT_M)?;
    let to_m = above.optional_quantity("to", Dimension::Length, ALTITUDES)?;
    above.finish()?;
    Ok(Above {
        scale_height_m: Some(scale_height_m),
        to_m,
    })
}

/// A profile as far as its keys could be read.
type Checked = Result<Result<Profile, WorldError>, InputError>;

fn standard(block: &Section<'_>, above: Above) -> Checked {
    let node = block.required("standard", "`us-1976`")?;
    match node.text()? {
        "us-1976" => Ok(Profile::us_1976(above)),
        other => Err(node
            .error(format!("unknown standard atmosphere `{other}`"))
            .with_help("the known one is `us-1976`")),
    }
}

fn layers(form: Section<'_>, (body, gas): (&Body, &Gas), above: Above) -> Checked {
    let radius_m = body.mean_radius_m();
    let base = LayerBase {
        radius_m,
        gravity_m_s2: body.gm_m3_s2 / (radius_m * radius_m),
        gas_constant_j_kg_k: GAS_CONSTANT_J_KMOL_K / gas.molar_mass_kg_kmol(),
        temperature_k: form.quantity("temperature", Dimension::Temperature, TEMPERATURE_K)?,
        pressure_pa: form.quantity("pressure", Dimension::Pressure, PRESSURE_PA)?,
    };
    let top_m = form.quantity("top", Dimension::Length, ALTITUDES)?;
    let layer = |node: &Node<'_>| {
        let section = node.section()?;
        let from_m = section.quantity("from", Dimension::Length, Bound::between(-1e5, 1e6))?;
        let gradient_k_m = section.quantity(
            "gradient",
            Dimension::TemperatureGradient,
            Bound::between(-0.1, 0.1),
        )?;
        section.finish()?;
        Ok(Layer {
            from_m,
            gradient_k_m,
        })
    };
    let stack = form
        .list("stack")?
        .iter()
        .map(layer)
        .collect::<Result<Vec<_>, InputError>>()?;
    form.finish()?;
    Ok(Profile::layers(base, &stack, (top_m, above)))
}

fn scale_heights(form: Section<'_>, above: Above) -> Checked {
    let density = form.quantity("density", Dimension::Density, Bound::between(1e-9, 1e4))?;
    let top_m = form.quantity("top", Dimension::Length, ALTITUDES)?;
    let stretches = pairs(
        &form.required("stretches", "a list of pairs")?,
        "an altitude and the scale height above it",
        altitude,
        |node| node.quantity(Dimension::Length, SCALE_HEIGHT_M),
    )?;
    form.finish()?;
    Ok(Profile::scale_heights(density, &stretches, (top_m, above)))
}

/// Columns that a table may have.
const COLUMNS: [(&str, Dimension); 4] = [
    ("altitude", Dimension::Length),
    ("density", Dimension::Density),
    ("temperature", Dimension::Temperature),
    ("pressure", Dimension::Pressure),
];

fn table(form: Section<'_>, above: Above) -> Checked {
    let header = form.required("columns", "like `[altitude km, density kg/m3]`")?;
    let columns = header
        .list()?
        .iter()
        .map(column)
        .collect::<Result<Vec<_>, _>>()?;
    for (index, (name, _)) in COLUMNS.iter().enumerate() {
        let count = columns.iter().filter(|column| column.0 == index).count();
        if count > 1 || (count == 0 && index < 2) {
            return Err(header.error(format!("a table needs one column `{name}`, got {count}")));
        }
    }
    let row = |node: &Node<'_>| {
        let numbers = node.list()?;
        if numbers.len() != columns.len() {
            let message = format!(
                "a row must have {} numbers, one a column; got {}",
                columns.len(),
                numbers.len()
            );
            return Err(node.error(message));
        }
        let mut values = [None; 4];
        for (number, &(index, unit)) in numbers.iter().zip(&columns) {
            let bound = if index == 0 {
                Bound::ANY
            } else {
                Bound::above(0.0)
            };
            values[index] = Some(number.quantity(Dimension::Dimensionless, bound)? * unit);
        }
        let [altitude, density, temperature_k, pressure_pa] = values;
        // Both columns are there.
        let (altitude_m, density_kg_m3) =
            (altitude.unwrap_or(f64::NAN), density.unwrap_or(f64::NAN));
        Ok(TableRow {
            altitude_m,
            density_kg_m3,
            temperature_k,
            pressure_pa,
        })
    };
    let rows = form
        .list("rows")?
        .iter()
        .map(row)
        .collect::<Result<Vec<_>, InputError>>()?;
    form.finish()?;
    Ok(Profile::table(&rows, above))
}

/// Which of [`COLUMNS`] a column is, and its unit in SI.
fn column(node: &Node<'_>) -> Result<(usize, f64), InputError> {
    let text = node.text()?;
    let (name, unit) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
    let Some(index) = COLUMNS.iter().position(|(known, _)| *known == name) else {
        let known = COLUMNS.map(|(known, _)| known);
        let error = node.error(format!("unknown column `{name}`"));
        return Err(error.with_help(match closest(name, known) {
            Some(meant) => format!("did you mean `{meant}`?"),
            None => format!("known columns: {}", known.join(", ")),
        }));
    };
    let unit = parse_quantity(&format!("1 {unit}"), COLUMNS[index].1).map_err(|error| {
        let help = error.help();
        node.error(format!("`{text}` needs the unit of its numbers"))
            .with_help(help)
    })?;
    Ok((index, unit))
}
