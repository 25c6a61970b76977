//! The `moons` list of a world file.

use super::body::Body;
use super::file::Reader;
use super::moon::Moon;
use crate::numeric::units::Dimension;
use crate::scenario::bound::Bound;
use crate::scenario::likeness::alike;
use crate::scenario::message::InputError;
use crate::scenario::section::Section;

/// The moons of the body; none if the list is left out.
pub(super) fn moons(
    root: &Section<'_>,
    body: &Body,
    reader: &mut Reader<'_>,
) -> Result<Vec<Moon>, InputError> {
    let mut moons: Vec<Moon> = Vec::new();
    for (index, entry) in root.optional_sections("moons")?.into_iter().enumerate() {
        let name = entry.text("name")?.trim();
        if moons.iter().any(|moon| alike(&moon.name, name)) {
            return Err(entry.error_at("name", format!("a second moon is named `{name}`")));
        }
        reader.cite(&entry)?;
        let length = |key, bound| entry.quantity(key, Dimension::Length, bound);
        let gm = Dimension::GravitationalParameter;
        let moon = Moon {
            name: name.to_owned(),
            gm_m3_s2: entry.quantity("gravitational_parameter", gm, Bound::above(0.0))?,
            radius_m: length("radius", Bound::above(0.0))?,
            orbit_radius_m: length("orbit_radius", Bound::above(0.0))?,
            lowest_flyby_altitude_m: length("lowest_flyby_altitude", Bound::at_least(0.0))?,
        };
        entry.finish()?;
        moon.check(body)
            .map_err(|error| reader.refuse(&format!("moons.{index}"), &error))?;
        moons.push(moon);
    }
    Ok(moons)
}

#[cfg(test)]
mod tests {
    use super::super::file::refused;

    const EARTH: &str = include_str!("../../atmospheres/earth.yaml");
    const JUPITER: &str = include_str!("../../atmospheres/jupiter.yaml");

    #[test]
    fn moons_are_refused_under_their_keys() {
        refused(
            EARTH,
            ("4902.800118 km3/s2", "4902800 km3/s2"),
            (
                "`gravitational_parameter` must be above 0 and below that of the body, got 4902800 km3/s2",
                "moons.0.gravitational_parameter",
            ),
        );
        refused(
            EARTH,
            ("radius: 1737.4 km", "radius: 1737.4"),
            ("`moons.0.radius`: `1737.4` has no unit", "moons.0.radius"),
        );
        refused(
            EARTH,
            ("orbit_radius: 384400 km", "orbit_radius: 384.4 km"),
            (
                "`orbit_radius` must be so wide that the moon stays above the entry interface, got 384.4 km",
                "moons.0.orbit_radius",
            ),
        );
        refused(
            EARTH,
            (
                "lowest_flyby_altitude: 100 km",
                "lowest_flyby_altitude: -1 km",
            ),
            (
                "`moons.0.lowest_flyby_altitude` must be at least 0 km, got -1 km",
                "moons.0.lowest_flyby_altitude",
            ),
        );
        refused(
            EARTH,
            ("lowest_flyby_altitude:", "lowest_flyby_height:"),
            ("`lowest_flyby_altitude` is missing in `moons.0`", "moons.0"),
        );
        refused(
            JUPITER,
            ("name: Europa", "name: Io"),
            ("a second moon is named `Io`", "moons.1.name"),
        );
    }
}
