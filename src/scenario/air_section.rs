//! Reads `uncertainty.air`: how each part of the air is dispersed.

use super::bound::Bound;
use super::distribution::Spread;
use super::message::InputError;
use super::section::{Node, Section};
use super::uncertainty::{AirDensity, AirPart, AirParts, Distribution, OwnField};
use super::value::Value;
use crate::numeric::units::Dimension;

/// Largest one-sigma of a part in log density.
const SIGMA: Bound = Bound::between(0.0, 1.0);

/// Reads the section, or `air: exact` for none of it; what is left out is as the world file says.
pub(super) fn decode(uncertainty: &Section<'_>) -> Result<(AirDensity, AirParts), InputError> {
    let mut density = AirDensity::World { factor: 1.0 };
    let mut parts = AirParts::default();
    let whole = uncertainty.optional("air");
    if whole.is_some_and(|node| *node.value() == Value::Text("exact".to_owned())) {
        let exact = AirParts {
            scale_height: AirPart::Exact,
            small_scale: AirPart::Exact,
            wind: AirPart::Exact,
            ..AirParts::default()
        };
        return Ok((AirDensity::Exact, exact));
    }
    let Some(air) = uncertainty.optional_section("air")? else {
        return Ok((density, parts));
    };
    if let Some(node) = air.optional("density") {
        density = decode_density(&node, &mut parts.means.density_sigmas)?;
    }
    if let Some(node) = air.optional("scale_height") {
        let own = |part: &Section<'_>| {
            part.quantity("std_dev", Dimension::Ratio, Bound::between(0.0, 0.5))
        };
        parts.scale_height = decode_part(&node, ("scale height", "{std_dev: 2 %}"), own)?;
        let widest = Bound::between(-0.5, 0.5);
        parts.means.scale_height = decode_mean(&node, Dimension::Ratio, widest)?;
    }
    if let Some(node) = air.optional("small_scale") {
        let own = |part: &Section<'_>| {
            Ok(OwnField {
                sigma: part.quantity("std_dev", Dimension::Ratio, SIGMA)?,
                vertical_m: part.quantity(
                    "vertical",
                    Dimension::Length,
                    Bound::between(100.0, 1e6),
                )?,
                along_track_m: part.quantity(
                    "along_track",
                    Dimension::Length,
                    Bound::between(1e3, 1e8),
                )?,
            })
        };
        let example = "{std_dev: 5 %, vertical: 8 km, along_track: 300 km}";
        parts.small_scale = decode_part(&node, ("small-scale field", example), own)?;
    }
    if let Some(node) = air.optional("wind") {
        let own = |part: &Section<'_>| {
            part.quantity("std_dev", Dimension::Speed, Bound::between(0.0, 500.0))
        };
        parts.wind = decode_part(&node, ("wind", "{std_dev: 30 m/s}"), own)?;
        let strongest = Bound::between(-500.0, 500.0);
        parts.means.wind_m_s = decode_mean(&node, Dimension::Speed, strongest)?;
    }
    air.finish()?;
    Ok((density, parts))
}

/// Farthest from the profile that a density is expected, in one-sigmas of the world.
const FARTHEST: Bound = Bound::between(-20.0, 20.0);

/// The `mean` of a part that is written as a section; 0 where there is none.
fn decode_mean(node: &Node<'_>, dimension: Dimension, bound: Bound) -> Result<f64, InputError> {
    let Value::Map(_) = node.value() else {
        return Ok(0.0);
    };
    let mean = node
        .section()?
        .optional_quantity("mean", dimension, bound)?;
    Ok(mean.unwrap_or(0.0))
}

/// `world`, `exact`, `{world_times: 1.5}` or an own form.
fn decode_part<T>(
    node: &Node<'_>,
    (what, example): (&str, &str),
    own: impl Fn(&Section<'_>) -> Result<T, InputError>,
) -> Result<AirPart<T>, InputError> {
    let Value::Map(_) = node.value() else {
        return match node.value() {
            Value::Text(text) if text == "world" => Ok(AirPart::World { factor: 1.0 }),
            Value::Text(text) if text == "exact" => Ok(AirPart::Exact),
            _ => Err(node
                .error(format!("the dispersion of the {what} is not understood"))
                .with_help(format!(
                    "write `world`, `exact`, `{{world_times: 1.5}}` or `{example}`"
                ))),
        };
    };
    let choice = node.section()?;
    let part = if choice.has("world_times") {
        let factor = choice.quantity(
            "world_times",
            Dimension::Dimensionless,
            Bound::between(0.0, 10.0),
        )?;
        AirPart::World { factor }
    } else {
        AirPart::Own(own(&choice)?)
    };
    // Where it has a `mean` as well, that is read by `decode_mean`.
    let _ = choice.optional("mean");
    choice.finish()?;
    Ok(part)
}

fn decode_density(node: &Node<'_>, mean: &mut f64) -> Result<AirDensity, InputError> {
    let choices =
        "write `world`, `exact`, `{world_times: 1.5}` or `{lognormal: {log_std_dev: 0.2}}`";
    let Value::Map(_) = node.value() else {
        return match node.value() {
            Value::Text(text) if text == "world" => Ok(AirDensity::World { factor: 1.0 }),
            Value::Text(text) if text == "exact" => Ok(AirDensity::Exact),
            _ => Err(node
                .error("the dispersion of the density is not understood")
                .with_help(choices)),
        };
    };
    let choice = node.section()?;
    if choice.has("world_times") {
        let factor = choice.quantity(
            "world_times",
            Dimension::Dimensionless,
            Bound::between(0.0, 10.0),
        )?;
        *mean = decode_mean(node, Dimension::Dimensionless, FARTHEST)?;
        let _ = choice.optional("mean");
        choice.finish()?;
        return Ok(AirDensity::World { factor });
    }
    let spread = Spread {
        dimension: Dimension::Dimensionless,
        centre: 1.0,
        bound: Bound::between(1e-6, 1e6),
        is_error: false,
    };
    match spread.decode(node)? {
        Distribution::LogNormal {
            median,
            log_std_dev,
        } => Ok(AirDensity::LogFactor(Distribution::Normal {
            mean: median.ln(),
            std_dev: log_std_dev,
        })),
        _ => Err(node
            .error("a factor on the density must be lognormal")
            .with_help("densities differ by factors: write `{lognormal: {log_std_dev: 0.2}}`")),
    }
}
