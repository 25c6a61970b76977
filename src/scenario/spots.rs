//! Named places on the ship that take heat, and a ship that rolls to spread it.

use super::bound::Bound;
use super::likeness::alike;
use super::message::InputError;
use super::section::{Node, Section};
use super::wall::{WallSpec, decode_wall};
use crate::numeric::units::Dimension;

/// Highest flux that a spot may be given, W/m².
pub(crate) const SPOT_FLUX_W_M2: Bound = Bound::between(1.0, 1e9);

/// A named place on the ship (`ship.spots`).
#[derive(Debug, Clone, PartialEq)]
pub struct SpotSpec {
    /// The user's name for it.
    pub name: String,
    /// How its flux follows from that of the stagnation point.
    pub heating: SpotShare,
    /// Emissivity of its surface, above 0, at most 1. Default 0.85.
    pub emissivity: f64,
    /// Highest temperature its surface may reach, K.
    pub highest_temperature_k: Option<f64>,
    /// Highest flux it may take, W/m².
    pub highest_flux_w_m2: Option<f64>,
    /// Whether it lies on the circumference, so that a roll spreads its heat.
    pub on_circumference: bool,
    /// The wall behind its surface.
    pub wall: WallSpec,
}

/// How the flux of a spot follows from that of the stagnation point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SpotShare {
    /// A share of it.
    Share(f64),
    /// As of a stagnation point of this effective radius, m.
    Radius(f64),
}

/// A roll about an axis across the stream (`ship.roll`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Roll {
    /// Time of one turn, s, above 0.
    pub period_s: f64,
    /// The flux falls with the cosine of the angle from the stagnation line to this power. Default 1.
    pub exponent: f64,
    /// Share of the stagnation-line flux on the lee half, 0 to 1. Default 0.
    pub lee_share: f64,
}

/// Most spots a ship may have.
const MOST_SPOTS: usize = 8;

/// Reads `ship.spots`.
pub(super) fn decode_spots(ship: &Section<'_>) -> Result<Vec<SpotSpec>, InputError> {
    let list = ship.optional_list("spots")?;
    if list.len() > MOST_SPOTS {
        return Err(ship.error_at(
            "spots",
            format!(
                "{} spots are listed, at most {MOST_SPOTS} count",
                list.len()
            ),
        ));
    }
    let mut spots: Vec<SpotSpec> = Vec::new();
    for node in &list {
        let spot = decode_spot(node)?;
        if spots.iter().any(|other| alike(&other.name, &spot.name)) {
            let message = format!("a second spot is named `{}`", spot.name);
            return Err(node.section()?.error_at("name", message));
        }
        spots.push(spot);
    }
    Ok(spots)
}

fn decode_spot(node: &Node<'_>) -> Result<SpotSpec, InputError> {
    let spot = node.section()?;
    let share = spot.optional_quantity("share", Dimension::Ratio, Bound::between(0.0, 10.0))?;
    let radius = spot.optional_quantity("radius", Dimension::Length, Bound::between(1e-4, 1e3))?;
    let heating = match (share, radius) {
        (Some(share), None) => SpotShare::Share(share),
        (None, Some(radius)) => SpotShare::Radius(radius),
        _ => {
            return Err(node
                .error(
                    "a spot has either a `share` of the stagnation flux or a `radius` of its own",
                )
                .with_help("write one of `share: 30 %` and `radius: 0.4 m`"));
        }
    };
    let highest_temperature_k = spot.optional_quantity(
        "highest_temperature",
        Dimension::Temperature,
        Bound::between(100.0, 5000.0),
    )?;
    let decoded = SpotSpec {
        name: spot.text("name")?.to_owned(),
        heating,
        emissivity: spot
            .optional_quantity(
                "emissivity",
                Dimension::Ratio,
                Bound::above(0.0).at_most(1.0),
            )?
            .unwrap_or(0.85),
        highest_temperature_k,
        highest_flux_w_m2: spot.optional_quantity(
            "highest_flux",
            Dimension::HeatFlux,
            SPOT_FLUX_W_M2,
        )?,
        on_circumference: spot.flag("on_circumference")?,
        wall: decode_wall(&spot, highest_temperature_k)?,
    };
    spot.finish()?;
    Ok(decoded)
}

/// Reads `ship.roll`.
pub(super) fn decode_roll(ship: &Section<'_>) -> Result<Option<Roll>, InputError> {
    let Some(roll) = ship.optional_section("roll")? else {
        return Ok(None);
    };
    let decoded = Roll {
        period_s: roll.quantity("period", Dimension::Time, Bound::between(0.1, 1e5))?,
        exponent: roll
            .optional_quantity(
                "exponent",
                Dimension::Dimensionless,
                Bound::between(0.0, 10.0),
            )?
            .unwrap_or(1.0),
        lee_share: roll
            .optional_quantity("lee_share", Dimension::Ratio, Bound::between(0.0, 1.0))?
            .unwrap_or(0.0),
    };
    roll.finish()?;
    Ok(Some(decoded))
}
