//! World files: from YAML to a [`World`], block by block, each block with its source.
//! Which worlds are compiled in, and how a scenario names one, is left to `bundled`.

use std::path::Path;

use super::error::WorldError;
use super::file_air;
use super::file_body;
use super::file_moons::moons;
use super::file_presets::presets;
use super::model::{Known, Quality, Source, World, WorldParts};
use super::radiation::radiation;
use crate::numeric::units::Dimension;
use crate::scenario::bound::Bound;
use crate::scenario::document::Document;
use crate::scenario::likeness::closest;
use crate::scenario::message::InputError;
use crate::scenario::section::{Node, Section};

impl World {
    /// Reads a world file.
    ///
    /// # Errors
    /// When the file cannot be read, is no world file, or holds a number that makes no sense; with its place.
    pub fn load(path: &Path) -> Result<Self, InputError> {
        read(&Document::read(path)?)
    }

    /// Reads the text of a world file; `name` stands in messages for the file's path.
    ///
    /// # Errors
    /// As [`World::load`].
    pub fn from_text(name: &str, text: &str) -> Result<Self, InputError> {
        read(&Document::from_text(name, text)?)
    }
}

fn read(document: &Document) -> Result<World, InputError> {
    let root = document.root()?;
    let mut reader = Reader {
        document,
        sources: Vec::new(),
    };
    let name = root.text("name")?;
    let quality = choice(
        &root.required("quality", QUALITIES_HELP)?,
        &Quality::ALL,
        Quality::words,
    )?;
    let (body, ground_m) = file_body::body(root.section("body")?, name, &mut reader)?;
    let (gas, mixture) = file_body::gas(root.section("gas")?, &mut reader)?;
    let (heating_constant, radiative) = file_body::heating(&root, mixture, &mut reader)?;
    let radiation = radiation(&root, &mut reader)?;
    let (air, sourced_m, dispersion) = file_air::air(&root, (&body, &gas), &mut reader)?;
    let presets = presets(&root, &mut reader)?;
    let moons = moons(&root, &body, &mut reader)?;
    let invented = reader
        .sources
        .iter()
        .filter(|source| source.what == "profile")
        // A profile that somebody chose is made up, too.
        .any(|source| matches!(source.known, Known::Chosen | Known::Invented));
    if invented != (quality == Quality::Invented) {
        let message = "`quality` must be `invented` exactly when the profile is";
        return Err(root.error_at("quality", message));
    }
    root.finish()?;
    let ground_m = ground_m.unwrap_or(air.floor_m());
    let sources = std::mem::take(&mut reader.sources);
    let text = Some(document.text().to_owned());
    let gas = Some(gas);
    World::new(WorldParts {
        body,
        air,
        gas,
        heating_constant,
        radiative,
        radiation,
        sourced_m,
        ground_m,
        dispersion,
        presets,
        moons,
        quality,
        sources,
        text,
    })
    .map_err(|error| reader.refuse("body", &error))
}

/// Altitudes that a file may name, m.
pub(super) const ALTITUDES: Bound = Bound::between(-1e6, 1e8);
/// What is written for the quality of a world.
const QUALITIES_HELP: &str = "one of published, from memory, coarse, invented";

/// What the readers of the blocks share.
pub(super) struct Reader<'d> {
    document: &'d Document,
    sources: Vec<Source>,
}

impl Reader<'_> {
    /// Reads the `source` and `known` lines of a block, keeps them and gives them.
    pub(super) fn cite(&mut self, block: &Section<'_>) -> Result<Source, InputError> {
        let text = block
            .required("source", "where the numbers come from")?
            .text()?;
        let known = block.required(
            "known",
            "one of published, computed, from memory, chosen, invented",
        )?;
        let known = choice(&known, &Known::ALL, Known::words)?;
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let source = Source {
            what: block.node().dotted(),
            text,
            known,
        };
        self.sources.push(source.clone());
        Ok(source)
    }

    /// Places what is wrong with a number or a list at its key in a block.
    pub(super) fn refuse(&self, block: &str, error: &WorldError) -> InputError {
        let path = match error {
            WorldError::OutOfRange { key, .. } | WorldError::TooFew { key, .. } => {
                format!("{block}.{key}")
            }
            WorldError::NotRising { key, index } => format!("{block}.{key}.{index}"),
        };
        self.document.error_at(&path, error.to_string())
    }

    /// Places what is wrong with a list at its entry, or at the list.
    pub(super) fn refuse_list(&self, node: &Node<'_>, error: &WorldError) -> InputError {
        let path = match error {
            WorldError::NotRising { index, .. } => format!("{}.{index}", node.dotted()),
            WorldError::OutOfRange { .. } | WorldError::TooFew { .. } => node.dotted(),
        };
        self.document.error_at(&path, error.to_string())
    }
}

/// Reads one of a few words.
pub(super) fn choice<T: Copy>(
    node: &Node<'_>,
    all: &[T],
    words: fn(T) -> &'static str,
) -> Result<T, InputError> {
    let text = node.text()?;
    if let Some(&found) = all.iter().find(|&&one| words(one) == text) {
        return Ok(found);
    }
    let known: Vec<_> = all.iter().map(|&one| words(one)).collect();
    let error = node.error(format!("`{}` cannot be `{text}`", node.dotted()));
    Err(error.with_help(match closest(text, known.iter().copied()) {
        Some(meant) => format!("did you mean `{meant}`?"),
        None => format!("write one of {}", known.join(", ")),
    }))
}

/// Reads an altitude, m.
pub(super) fn altitude(node: &Node<'_>) -> Result<f64, InputError> {
    node.quantity(Dimension::Length, ALTITUDES)
}

/// Reads a list of pairs as points of a curve, with the given readers of the two numbers.
pub(super) fn pairs(
    node: &Node<'_>,
    what: &str,
    first: impl Fn(&Node<'_>) -> Result<f64, InputError>,
    second: impl Fn(&Node<'_>) -> Result<f64, InputError>,
) -> Result<Vec<(f64, f64)>, InputError> {
    let pair = |row: &Node<'_>| match row.list()?.as_slice() {
        [x, y] => Ok((first(x)?, second(y)?)),
        _ => Err(row.error(format!("`{}` must be {what}", row.dotted()))),
    };
    node.list()?.iter().map(pair).collect()
}

/// The error of a world file with one stretch of its text replaced.
#[cfg(test)]
pub(super) fn error(text: &str, from: &str, to: &str) -> InputError {
    assert_eq!(
        text.matches(from).count(),
        1,
        "`{from}` must stand in the file once"
    );
    World::from_text("world.yaml", &text.replace(from, to)).unwrap_err()
}

/// Asserts the message and the key of the error.
#[cfg(test)]
pub(super) fn refused(text: &str, (from, to): (&str, &str), expected: (&str, &str)) {
    let error = error(text, from, to);
    assert_eq!((error.message(), error.key().unwrap_or_default()), expected);
}

#[cfg(test)]
mod tests {
    use super::*;

    const EARTH: &str = include_str!("../../atmospheres/earth.yaml");
    const MARS: &str = include_str!("../../atmospheres/mars.yaml");
    const TAVRELLE: &str = include_str!("../../atmospheres/tavrelle.yaml");

    #[test]
    fn numbers_of_the_body_are_refused_under_their_keys() {
        let interface = ("entry_interface: 121.92 km", "body.entry_interface");
        refused(
            EARTH,
            ("398600.435507 km3/s2", "-398600 km3/s2"),
            (
                "`body.gravitational_parameter` must be above 0 km3/s2, got -398600 km3/s2",
                "body.gravitational_parameter",
            ),
        );
        refused(
            EARTH,
            ("j2: 1.082626684e-3", "j2: 1.08"),
            ("`j2` must be between -0.07 and 0.07, got 1.08", "body.j2"),
        );
        let slip = "`gravitational_parameter` gives with `equatorial_radius` a gravity of 9.79829e-9 m/s2 at the equator, not between 0.01 and 1000 m/s2";
        refused(
            EARTH,
            ("398600.435507 km3/s2", "398600.435507 m3/s2"),
            (slip, "body.gravitational_parameter"),
        );
        let low = "`entry_interface` must be so high that the air is a thousand times thinner than at the ground, got 121.92 m";
        refused(
            EARTH,
            (interface.0, "entry_interface: 121.92 m"),
            (low, interface.1),
        );
        let high = "`entry_interface` must be above the ground and not above the top of the profile, got 1500 km";
        refused(
            EARTH,
            (interface.0, "entry_interface: 1500 km"),
            (high, interface.1),
        );
        let ground = "`ground_altitude` must be within the altitudes of the profile, got -9 km";
        refused(
            MARS,
            ("ground_altitude: 0 km", "ground_altitude: -9 km"),
            (ground, "body.ground_altitude"),
        );
    }

    #[test]
    fn gases_and_the_heating_constant_are_refused_under_their_keys() {
        let sum = "`mole_fractions` must be 1 in all, within one per cent, got 0.899";
        refused(
            MARS,
            ("CO2: 95.6 %", "CO2: 85.6 %"),
            (sum, "gas.mole_fractions"),
        );
        refused(
            MARS,
            ("CO2: 95.6 %", "Co2: 95.6 %"),
            ("unknown gas `Co2`", "gas.mole_fractions.Co2"),
        );
        let unit = "`heating.constant` must be a number with its unit";
        refused(
            EARTH,
            ("1.7415e-4 kg^0.5/m", "1.7415e-4 kg"),
            (unit, "heating.constant"),
        );
        let range = "`heating.constant` must be between 1e-6 and 1e-2 kg^0.5/m";
        refused(
            EARTH,
            ("1.7415e-4 kg^0.5/m", "1.7415 kg^0.5/m"),
            (range, "heating.constant"),
        );
        refused(
            TAVRELLE,
            ("Ar: 1.5 %", "H2O: 1.5 %"),
            ("no heating constant is known for H2O", "gas"),
        );
    }

    #[test]
    fn profiles_are_refused_under_their_keys() {
        let rising = "`rows` must rise from entry to entry: entry 2 is not above the one before it";
        refused(
            MARS,
            ("[-7, 214.0,", "[-8, 214.0,"),
            (rising, "profile.table.rows.1"),
        );
        let positive = "`profile.table.rows.27.3` must be above 0, got -2";
        refused(
            MARS,
            ("0.0608, 2.29e-06]", "0.0608, -2]"),
            (positive, "profile.table.rows.27.3"),
        );
        let short = "a row must have 4 numbers, one a column; got 3";
        refused(
            MARS,
            ("0.0608, 2.29e-06]", "2.29e-06]"),
            (short, "profile.table.rows.27"),
        );
        refused(
            MARS,
            ("pressure Pa, density", "presure Pa, density"),
            ("unknown column `presure`", "profile.table.columns.2"),
        );
        let unit = "`altitude kg` needs the unit of its numbers";
        refused(
            MARS,
            ("altitude km,", "altitude kg,"),
            (unit, "profile.table.columns.0"),
        );
        let column = "a table needs one column `density`, got 0";
        refused(
            MARS,
            (", density kg/m3]", ", temperature K]"),
            (column, "profile.table.columns"),
        );
        let to = "`to` must be at or above the top of the profile, got 120 km";
        refused(
            MARS,
            ("    to: 250 km", "    to: 120 km"),
            (to, "profile.above.to"),
        );
        let cold = "`temperature` must be above 0 at the foot of every layer, got -33 K";
        refused(
            TAVRELLE,
            ("gradient: -2 K/km", "gradient: -9 K/km"),
            (cold, "profile.layers.temperature"),
        );
        let forms = "a profile needs exactly one of standard, layers, table, scale_heights";
        refused(
            EARTH,
            ("  standard: us-1976", "  stnadard: us-1976"),
            (forms, "profile"),
        );
        let ends = "the profile does not say how the air goes on above it";
        refused(
            TAVRELLE,
            (
                "\n  above:\n    source: made up\n    known: invented\n    scale_height: 17 km\n    to: 300 km",
                "",
            ),
            (ends, "profile"),
        );
    }

    #[test]
    fn dispersion_wind_and_marks_are_refused_under_their_keys() {
        let rising = "`log_density_sigma` must rise from entry to entry: entry 3 is not above the one before it";
        refused(
            MARS,
            ("[100 km, 30 %]", "[50 km, 30 %]"),
            (rising, "dispersion.log_density_sigma.2"),
        );
        let pair = "`wind.zonal.4` must be an altitude and an eastward speed";
        refused(
            TAVRELLE,
            ("[90 km, 0 m/s]", "[90 km, 0 m/s, 3 m/s]"),
            (pair, "wind.zonal.4"),
        );
        refused(
            EARTH,
            ("quality: published", "quality: publishd"),
            ("`quality` cannot be `publishd`", "quality"),
        );
        let honest = "`quality` must be `invented` exactly when the profile is";
        refused(
            TAVRELLE,
            ("quality: invented", "quality: published"),
            (honest, "quality"),
        );
        let missing = error(TAVRELLE, "  source: made up, after the Earth\n", "");
        assert_eq!(missing.message(), "`source` is missing in `dispersion`");
    }

    #[test]
    fn scale_heights_may_be_written_too() {
        let start = TAVRELLE.find("  layers:").unwrap();
        let end = TAVRELLE.find("dispersion:").unwrap();
        let form = "  scale_heights:\n    density: 1.1 kg/m3\n    top: 200 km\n    stretches: [[0 km, 9 km], [60 km, 7 km]]\n\n";
        let text = format!("{}{form}{}", &TAVRELLE[..start], &TAVRELLE[end..]);
        let world = World::from_text("world.yaml", &text).unwrap();
        let point = world.air().lookup(95e3);
        assert!((point.ln_density - (1.1f64.ln() - 60.0 / 9.0 - 5.0)).abs() < 1e-13);
        assert_eq!(point.temperature_k, None);
        assert_eq!(world.air().top_m().to_bits(), 200e3f64.to_bits());
        for wrong in ["7 mm", "7000 km"] {
            let slip = text.replace("[60 km, 7 km]", &format!("[60 km, {wrong}]"));
            let error = World::from_text("world.yaml", &slip).unwrap_err();
            let key = "profile.scale_heights.stretches.1.1";
            let message = format!("`{key}` must be between 100 m and 1000 km, got {wrong}");
            assert_eq!((error.message(), error.key()), (&*message, Some(key)));
        }
        let twice = text.replace("[60 km, 7 km]", "[0 km, 7 km]");
        let error = World::from_text("world.yaml", &twice).unwrap_err();
        assert_eq!(error.key(), Some("profile.scale_heights.stretches.1"));
    }
}
