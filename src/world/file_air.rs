//! The blocks of a world file about the air: profile, dispersion and wind.

use super::body::Body;
use super::curve::Curve;
use super::error::WorldError;
use super::file::{Reader, altitude, pairs};
use super::file_profile::profile;
use super::gas::Gas;
use super::grid::Grid;
use super::table::AirTable;
use crate::numeric::units::Dimension;
use crate::scenario::bound::Bound;
use crate::scenario::message::InputError;
use crate::scenario::section::{Node, Section};

/// Reads the three blocks and samples the air.
pub(super) fn air(
    root: &Section<'_>,
    (body, gas): (&Body, &Gas),
    reader: &mut Reader<'_>,
) -> Result<AirTable, InputError> {
    let block = root.section("profile")?;
    reader.cite(&block)?;
    let (profile, form) = profile(&block, (body, gas), reader)?;
    let step_m = block.optional_quantity("grid_step", Dimension::Length, Bound::above(0.0))?;
    block.finish()?;
    let log_sigma = curve(
        root,
        (
            "dispersion",
            "log_density_sigma",
            "an altitude and a one-sigma",
        ),
        reader,
        |node| node.quantity(Dimension::Ratio, Bound::between(0.0, 2.0)),
    )?;
    let wind = curve(
        root,
        ("wind", "zonal", "an altitude and an eastward speed"),
        reader,
        |node| node.quantity(Dimension::Speed, Bound::between(-1e3, 1e3)),
    )?;
    let mut grid = Grid::covering(profile.floor_m(), profile.top_m());
    grid.step_m = step_m.unwrap_or(grid.step_m);
    let log_sigma = log_sigma.unwrap_or(Curve::constant(0.0));
    AirTable::sample(
        grid,
        |altitude_m| profile.at(altitude_m),
        &log_sigma,
        wind.as_ref(),
    )
    .map_err(|error| match error {
        WorldError::OutOfRange {
            key: "grid_step", ..
        } => reader.refuse("profile", &error),
        _ => reader.refuse(&format!("profile.{form}"), &error),
    })
}

/// A curve against altitude from a block of its own, level beyond its ends; none if the block is left out.
fn curve(
    root: &Section<'_>,
    (name, key, what): (&str, &'static str, &str),
    reader: &mut Reader<'_>,
    value: impl Fn(&Node<'_>) -> Result<f64, InputError>,
) -> Result<Option<Curve>, InputError> {
    let Some(block) = root.optional_section(name)? else {
        return Ok(None);
    };
    reader.cite(&block)?;
    let points = pairs(
        &block.required(key, "a list of pairs")?,
        what,
        altitude,
        value,
    )?;
    block.finish()?;
    Curve::level_beyond(key, &points)
        .map(Some)
        .map_err(|error| reader.refuse(name, &error))
}
