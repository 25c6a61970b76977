//! The `presets` block of a world file: named additions to log density against altitude.

use super::curve::Curve;
use super::file::{Reader, altitude, pairs};
use super::preset::Preset;
use crate::numeric::units::Dimension;
use crate::scenario::bound::Bound;
use crate::scenario::message::InputError;
use crate::scenario::section::Section;

/// Largest addition to ln density: a factor of 150.
const MOST: f64 = 5.0;

/// The presets; none if the block is left out.
pub(super) fn presets(
    root: &Section<'_>,
    reader: &mut Reader<'_>,
) -> Result<Vec<Preset>, InputError> {
    let Some(block) = root.optional_section("presets")? else {
        return Ok(Vec::new());
    };
    let mut presets: Vec<Preset> = Vec::new();
    for (name, node) in block.entries() {
        let twin = |preset: &Preset| preset.name.to_lowercase() == name.to_lowercase();
        if presets.iter().any(twin) {
            return Err(node.error_at_key(format!("a second preset is named `{name}`")));
        }
        let entry = node.section()?;
        reader.cite(&entry)?;
        let points = pairs(
            &entry.required("log_density_bias", "a list of pairs")?,
            "an altitude and what is added to the natural logarithm of density",
            altitude,
            |node| node.quantity(Dimension::Dimensionless, Bound::between(-MOST, MOST)),
        )?;
        entry.finish()?;
        let log_density_bias = Curve::level_beyond("log_density_bias", &points)
            .map_err(|error| reader.refuse(&node.dotted(), &error))?;
        let name = name.to_owned();
        presets.push(Preset {
            name,
            log_density_bias,
        });
    }
    Ok(presets)
}

#[cfg(test)]
mod tests {
    use super::super::file::refused;

    const MARS: &str = include_str!("../../atmospheres/mars.yaml");

    #[test]
    fn presets_are_refused_under_their_keys() {
        let bias = "presets.dust-storm.log_density_bias";
        refused(
            MARS,
            ("- [80 km, 0.30]", "- [60 km, 0.30]"),
            (
                "`log_density_bias` must rise from entry to entry: entry 5 is not above the one before it",
                &format!("{bias}.4"),
            ),
        );
        refused(
            MARS,
            ("- [80 km, 0.30]", "- [80 km, 30 %]"),
            (
                "`presets.dust-storm.log_density_bias.4.1`: `%` is a unit of share in `30 %`",
                &format!("{bias}.4.1"),
            ),
        );
        refused(
            MARS,
            ("- [80 km, 0.30]", "- [80 km, 30]"),
            (
                "`presets.dust-storm.log_density_bias.4.1` must be between -5 and 5, got 30",
                &format!("{bias}.4.1"),
            ),
        );
        refused(
            MARS,
            ("- [80 km, 0.30]", "- 0.30"),
            (
                "`presets.dust-storm.log_density_bias.4` must be a list, got a number",
                &format!("{bias}.4"),
            ),
        );
        refused(
            MARS,
            ("  dust-clear:", "  Dust-Storm:"),
            (
                "a second preset is named `Dust-Storm`",
                "presets.Dust-Storm",
            ),
        );
    }
}
