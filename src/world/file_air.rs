//! The blocks of a world file about the air: profile, dispersion and wind.

use super::body::Body;
use super::curve::Curve;
use super::dispersion::{Dispersion, ScaleHeightError, SmallScale};
use super::error::WorldError;
use super::file::{ALTITUDES, Reader, altitude, pairs};
use super::file_profile::profile;
use super::gas::Gas;
use super::grid::Grid;
use super::table::AirTable;
use crate::numeric::units::Dimension;
use crate::scenario::bound::Bound;
use crate::scenario::message::InputError;
use crate::scenario::section::{Node, Section};
use crate::scenario::value::Value;

/// One-sigma of log density that a file may give.
const LOG_SIGMA: Bound = Bound::between(0.0, 2.0);

/// Reads the three blocks, samples the air and gives the altitudes that its source has (m) and what the dispersion has
/// beside its bias curve.
pub(super) fn air(
    root: &Section<'_>,
    (body, gas): (&Body, &Gas),
    reader: &mut Reader<'_>,
) -> Result<(AirTable, (f64, f64), Dispersion), InputError> {
    let block = root.section("profile")?;
    reader.cite(&block)?;
    let (profile, form) = profile(&block, (body, gas), reader)?;
    let step_m = block.optional_quantity("grid_step", Dimension::Length, Bound::above(0.0))?;
    block.finish()?;
    let (log_sigma, scale_height, small_scale) = match root.optional_section("dispersion")? {
        Some(block) => dispersion(block, reader)?,
        None => (None, None, None),
    };
    let (zonal_wind, wind_sigma_m_s) = match root.optional_section("wind")? {
        Some(block) => wind(block, reader)?,
        None => (None, None),
    };
    let mut grid = Grid::covering(profile.floor_m(), profile.top_m());
    grid.step_m = step_m.unwrap_or(grid.step_m);
    let air = AirTable::sample(
        grid,
        |altitude_m| profile.at(altitude_m),
        &log_sigma.unwrap_or(Curve::constant(0.0)),
        zonal_wind.as_ref(),
    )
    .map_err(|error| match error {
        WorldError::OutOfRange {
            key: "grid_step", ..
        } => reader.refuse("profile", &error),
        _ => reader.refuse(&format!("profile.{form}"), &error),
    })?;
    let dispersion = Dispersion {
        scale_height,
        small_scale,
        wind_sigma_m_s,
    };
    Ok((air, profile.form_m(), dispersion))
}

/// The parts of the dispersion as far as the block has them: bias, scale height, small scale.
type Parts = (Option<Curve>, Option<ScaleHeightError>, Option<SmallScale>);

fn dispersion(block: Section<'_>, reader: &mut Reader<'_>) -> Result<Parts, InputError> {
    reader.cite(&block)?;
    let bias = block.optional("log_density_sigma");
    let bias = bias
        .map(|node| sigma_curve("log_density_sigma", &node, reader))
        .transpose()?;
    let asked = ["scale_height_sigma", "scale_height_pivot"].map(|key| block.optional(key));
    let scale_height = if asked.iter().any(Option::is_some) {
        let sigma = Bound::between(0.0, 0.5);
        Some(ScaleHeightError {
            sigma: block.quantity("scale_height_sigma", Dimension::Ratio, sigma)?,
            pivot_m: block.quantity("scale_height_pivot", Dimension::Length, ALTITUDES)?,
        })
    } else {
        None
    };
    let small_scale = block.optional_section("small_scale")?;
    let small_scale = small_scale
        .map(|section| small_scale_field(section, reader))
        .transpose()?;
    block.finish()?;
    Ok((bias, scale_height, small_scale))
}

fn small_scale_field(
    section: Section<'_>,
    reader: &mut Reader<'_>,
) -> Result<SmallScale, InputError> {
    // A source of its own if it has one; otherwise that of the dispersion stands for it.
    if section.has("source") || section.has("known") {
        reader.cite(&section)?;
    }
    let sigma = section.required("sigma", "a share like `5 %`, or a list of pairs")?;
    let sigma = match sigma.value() {
        Value::List(_) => sigma_curve("sigma", &sigma, reader)?,
        _ => Curve::constant(sigma.quantity(Dimension::Ratio, LOG_SIGMA)?),
    };
    let length = |key| section.quantity(key, Dimension::Length, Bound::above(0.0).at_most(1e8));
    let field = SmallScale {
        sigma,
        vertical_m: length("vertical_correlation")?,
        along_track_m: length("along_track_correlation")?,
    };
    section.finish()?;
    Ok(field)
}

/// Reads a one-sigma of log density against altitude, level beyond its ends.
fn sigma_curve(
    key: &'static str,
    node: &Node<'_>,
    reader: &Reader<'_>,
) -> Result<Curve, InputError> {
    let what = "an altitude and a one-sigma";
    let sigma = |node: &Node<'_>| node.quantity(Dimension::Ratio, LOG_SIGMA);
    let points = pairs(node, what, altitude, sigma)?;
    Curve::level_beyond(key, &points).map_err(|error| reader.refuse_list(node, &error))
}

/// The zonal wind against altitude, level beyond its ends, and its one-sigma, m/s.
fn wind(
    block: Section<'_>,
    reader: &mut Reader<'_>,
) -> Result<(Option<Curve>, Option<f64>), InputError> {
    reader.cite(&block)?;
    let speed = |node: &Node<'_>| node.quantity(Dimension::Speed, Bound::between(-1e3, 1e3));
    let zonal = |node: Node<'_>| {
        let points = pairs(&node, "an altitude and an eastward speed", altitude, speed)?;
        Curve::level_beyond("zonal", &points).map_err(|error| reader.refuse_list(&node, &error))
    };
    let zonal = block.optional("zonal").map(zonal).transpose()?;
    let sigma =
        block.optional_quantity("zonal_sigma", Dimension::Speed, Bound::between(0.0, 500.0))?;
    block.finish()?;
    Ok((zonal, sigma))
}

#[cfg(test)]
mod tests {
    use super::super::file::refused;
    use super::super::model::World;

    const TAVRELLE: &str = include_str!("../../atmospheres/tavrelle.yaml");

    #[test]
    fn every_part_of_the_dispersion_may_be_left_out() {
        let start = TAVRELLE.find("dispersion:").unwrap();
        let (head, tail) = TAVRELLE.split_at(start);
        let still = World::from_text("still.yaml", head).unwrap();
        assert_eq!(still.dispersion(), &super::Dispersion::default());
        assert!(still.air().zonal_wind_cells().is_none());
        let whole = World::from_text("whole.yaml", TAVRELLE).unwrap();
        let parts = whole.dispersion();
        let small = parts.small_scale.as_ref().unwrap();
        assert_eq!(
            (small.vertical_m, small.along_track_m, small.sigma.at(9e9).0),
            (6e3, 250e3, 0.04)
        );
        assert_eq!(
            parts.scale_height.unwrap().pivot_m.to_bits(),
            60e3f64.to_bits()
        );
        // One by one.
        let without = |from: &str, to: &str| {
            let (first, last) = (tail.find(from).unwrap(), tail.find(to).unwrap());
            World::from_text(
                "part.yaml",
                &format!("{head}{}{}", &tail[..first], &tail[last..]),
            )
        };
        let no_bias = without("  log_density_sigma:", "  scale_height_sigma:").unwrap();
        assert!(
            no_bias
                .air()
                .cells()
                .iter()
                .all(|cell| cell.row()[4..] == [0.0; 4])
        );
        assert_eq!(no_bias.dispersion(), parts);
        let no_scale = without("  scale_height_sigma:", "  small_scale:").unwrap();
        assert_eq!(
            (
                no_scale.dispersion().scale_height,
                &no_scale.dispersion().small_scale
            ),
            (None, &parts.small_scale)
        );
        let no_field = without("  small_scale:", "\nwind:").unwrap();
        assert_eq!(no_field.dispersion().small_scale, None);
        let no_profile = without("  zonal:", "  zonal_sigma:").unwrap();
        assert!(no_profile.air().zonal_wind_cells().is_none());
        assert_eq!(no_profile.dispersion().wind_sigma_m_s, Some(15.0));
        // And in code.
        let off = whole
            .clone()
            .with_dispersion(super::Dispersion::default())
            .unwrap();
        assert_eq!(
            (off.dispersion(), off.air()),
            (still.dispersion(), whole.air())
        );
    }

    #[test]
    fn a_field_may_have_one_sigma_against_altitude_and_a_source_of_its_own() {
        let earth = World::bundled("earth").unwrap();
        let field = earth.dispersion().small_scale.as_ref().unwrap();
        assert_eq!(
            (field.sigma.at(0.0).0, field.sigma.at(100e3).0),
            (0.005, 0.04)
        );
        let cited = |what: &str| earth.sources().iter().any(|source| source.what == what);
        assert!(cited("dispersion") && cited("dispersion.small_scale"));
    }

    #[test]
    fn parts_of_the_dispersion_are_refused_under_their_keys() {
        let field = "dispersion.small_scale";
        refused(
            TAVRELLE,
            ("    sigma: 4 %", "    sigma: 4 km"),
            (
                "`dispersion.small_scale.sigma`: `km` is a unit of length in `4 km`",
                &format!("{field}.sigma"),
            ),
        );
        refused(
            TAVRELLE,
            ("    sigma: 4 %", "    sigma: [[0 km, 4 %], [0 km, 5 %]]"),
            (
                "`sigma` must rise from entry to entry: entry 2 is not above the one before it",
                &format!("{field}.sigma.1"),
            ),
        );
        refused(
            TAVRELLE,
            ("    sigma: 4 %", "    sigma: []"),
            (
                "`sigma` needs at least 1 entries, got 0",
                &format!("{field}.sigma"),
            ),
        );
        refused(
            TAVRELLE,
            ("vertical_correlation: 6 km", "vertical_correlation: 0 km"),
            (
                "`dispersion.small_scale.vertical_correlation` must be above 0 km and at most 100000 km, got 0 km",
                &format!("{field}.vertical_correlation"),
            ),
        );
        refused(
            TAVRELLE,
            ("    along_track_correlation: 250 km\n", ""),
            (
                "`along_track_correlation` is missing in `dispersion.small_scale`",
                field,
            ),
        );
        refused(
            TAVRELLE,
            ("  scale_height_pivot: 60 km\n", ""),
            (
                "`scale_height_pivot` is missing in `dispersion`",
                "dispersion",
            ),
        );
        refused(
            TAVRELLE,
            ("scale_height_sigma: 1.5 %", "scale_height_sigma: 150 %"),
            (
                "`dispersion.scale_height_sigma` must be between 0 % and 50 %, got 150 %",
                "dispersion.scale_height_sigma",
            ),
        );
        refused(
            TAVRELLE,
            ("zonal_sigma: 15 m/s", "zonal_sigma: -15 m/s"),
            (
                "`wind.zonal_sigma` must be between 0 m/s and 500 m/s, got -15 m/s",
                "wind.zonal_sigma",
            ),
        );
    }
}
