//! From which speed on the gas of a world radiates heat in front of a ship, as its file states it, and what bounds
//! that heat below. Correlations of the heat itself are left to `craft`.

use super::file::Reader;
use super::model::Source;
use crate::numeric::units::Dimension;
use crate::scenario::bound::Bound;
use crate::scenario::message::InputError;
use crate::scenario::section::Section;

/// Speeds from which on a gas may radiate, m/s: below the first no air is hot enough to, above the last every one is.
const ONSET_M_S: Bound = Bound::between(1e3, 1e5);
/// Shares of the convective flux that a bound may state.
const SHARE: Bound = Bound::between(0.0, 1.0);

/// When the gas of a world radiates.
#[derive(Debug, Clone, PartialEq)]
pub struct Radiation {
    /// Speed against the air from which on radiation counts, m/s; `None` where the file states that there is none.
    pub onset_m_s: Option<f64>,
    /// Where that is from.
    pub source: Source,
    /// What radiation is at most below that speed; `None` where it counts for nothing there.
    pub bound: Option<RadiationBound>,
}

/// The most that radiation adds below the speed of its onset.
#[derive(Debug, Clone, PartialEq)]
pub struct RadiationBound {
    /// Share of the convective flux at the stagnation point, 0 to 1.
    pub share: f64,
    /// Where that is from.
    pub source: Source,
}

/// Reads the block `radiation`; `None` where the file says nothing of it.
pub(super) fn radiation(
    root: &Section<'_>,
    reader: &mut Reader<'_>,
) -> Result<Option<Radiation>, InputError> {
    let Some(block) = root.optional_section("radiation")? else {
        return Ok(None);
    };
    let source = reader.cite(&block)?;
    let expected = "a speed like `6 km/s`, or `none` for a gas that does not radiate";
    let node = block.required("onset_speed", expected)?;
    let onset_m_s = if node.text().is_ok_and(|text| text.trim() == "none") {
        None
    } else {
        Some(node.quantity(Dimension::Speed, ONSET_M_S)?)
    };
    let bound = match block.optional_section("bound")? {
        Some(section) if onset_m_s.is_none() => {
            let message = "a `bound` holds below the speed of the onset, and there is none";
            return Err(section
                .error(message)
                .with_help("remove it, or state the speed"));
        }
        Some(section) => {
            let source = reader.cite(&section)?;
            let share = section.quantity("share_of_convection", Dimension::Ratio, SHARE)?;
            section.finish()?;
            Some(RadiationBound { share, source })
        }
        None => None,
    };
    block.finish()?;
    Ok(Some(Radiation {
        onset_m_s,
        source,
        bound,
    }))
}

#[cfg(test)]
mod tests {
    use super::super::bundled_names;
    use super::super::file::{error, refused};
    use super::super::model::{Known, World};

    const MARS: &str = include_str!("../../atmospheres/mars.yaml");
    const ONSET: &str = "  onset_speed: 6 km/s";

    #[test]
    fn every_bundled_world_says_from_which_speed_its_gas_radiates() {
        for name in bundled_names() {
            let world = World::bundled(name).unwrap();
            let radiation = world.radiation().unwrap_or_else(|| panic!("{name}"));
            assert!(radiation.onset_m_s.is_some(), "{name}");
            assert_eq!(radiation.bound.is_some(), name == "mars", "{name}");
        }
        let mars = World::bundled("mars").unwrap();
        let bound = mars.radiation().unwrap().bound.clone().unwrap();
        assert_eq!((bound.share, bound.source.known), (0.09, Known::Published));
    }

    #[test]
    fn a_world_may_say_nothing_or_that_there_is_none() {
        let start = MARS.find("radiation:\n").unwrap();
        let end = MARS.find("profile:\n").unwrap();
        let silent = format!("{}{}", &MARS[..start], &MARS[end..]);
        let world = World::from_text("world.yaml", &silent).unwrap();
        assert_eq!(world.radiation(), None);
        let none = format!(
            "{}radiation: {{source: made up, known: invented, onset_speed: none}}\n\n{}",
            &MARS[..start],
            &MARS[end..]
        );
        let world = World::from_text("world.yaml", &none).unwrap();
        assert_eq!(world.radiation().unwrap().onset_m_s, None);
    }

    #[test]
    fn mistakes_are_refused_under_their_keys() {
        refused(
            MARS,
            (ONSET, "  onset_speed: 6 m/s"),
            (
                "`radiation.onset_speed` must be between 1 km/s and 100 km/s, got 6 m/s",
                "radiation.onset_speed",
            ),
        );
        refused(
            MARS,
            (ONSET, "  onset_speed: none"),
            (
                "a `bound` holds below the speed of the onset, and there is none",
                "radiation.bound",
            ),
        );
        refused(
            MARS,
            ("share_of_convection: 9 %", "share_of_convection: 900 %"),
            (
                "`radiation.bound.share_of_convection` must be between 0 % and 100 %, got 900 %",
                "radiation.bound.share_of_convection",
            ),
        );
        let missing = error(MARS, ONSET, "  ");
        assert_eq!(missing.message(), "`onset_speed` is missing in `radiation`");
    }
}
