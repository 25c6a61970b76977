//! What the skin of a spot is made of (`ship.spots[].wall`): nothing that takes time, a thin sheet, or
//! layers through which heat soaks.

use super::bound::Bound;
use super::message::InputError;
use super::section::{Node, Section};
use crate::numeric::units::{Dimension, show_quantity};

/// The wall behind a spot's surface.
#[derive(Debug, Clone, PartialEq)]
pub struct WallSpec {
    /// What it is made of.
    pub kind: WallKind,
    /// Temperature of all of it at the start of the first pass, K. Default 290.
    pub start_k: f64,
    /// Temperature of what its surface sees, K. Default 0: dark space.
    pub background_k: f64,
    /// How long it is followed after a pass, s; by default [`WallSpec::default_soak_s`].
    pub soak_s: Option<f64>,
}

/// What a wall is made of.
#[derive(Debug, Clone, PartialEq)]
pub enum WallKind {
    /// A surface that radiates at once what it takes.
    RadiativeEquilibrium,
    /// A sheet of one temperature.
    Thin {
        /// Heat capacity of a square metre, J/(m² K).
        heat_capacity_j_m2_k: f64,
    },
    /// Layers that conduct.
    Slab {
        /// From the surface inward, one at least.
        layers: Vec<LayerSpec>,
        /// What the back face does.
        back: BackSpec,
        /// Highest temperature that the back face may reach, K.
        highest_back_k: Option<f64>,
    },
}

/// One layer of a slab.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LayerSpec {
    /// Thickness, m.
    pub thickness_m: f64,
    /// Conductivity, W/(m K).
    pub conductivity_w_m_k: f64,
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    /// Specific heat, J/(kg K).
    pub specific_heat_j_kg_k: f64,
}

impl LayerSpec {
    /// Time in which heat goes through the layer, s: thickness² over diffusivity.
    #[must_use]
    pub fn diffusion_time_s(&self) -> f64 {
        self.thickness_m * self.thickness_m * self.density_kg_m3 * self.specific_heat_j_kg_k
            / self.conductivity_w_m_k
    }
}

/// What the back face of a slab does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BackSpec {
    /// Lets no heat through.
    Insulated,
    /// Radiates into a room.
    Radiating {
        /// Emissivity between face and room, above 0, at most 1.
        emissivity: f64,
        /// Temperature of the room, K.
        background_k: f64,
    },
}

impl WallSpec {
    /// A surface without a wall behind it.
    pub const EQUILIBRIUM: Self = Self {
        kind: WallKind::RadiativeEquilibrium,
        start_k: 0.0,
        background_k: 0.0,
        soak_s: None,
    };

    /// Most layers that a slab may have.
    pub const MOST_LAYERS: usize = 12;

    /// Temperature of a wall at the start unless the scenario says otherwise, K.
    pub const USUAL_START_K: f64 = 290.0;

    /// How long the wall is followed after a pass unless the scenario says otherwise, s: the time in which heat
    /// goes through all layers, (Σ √(thickness²/diffusivity))², from 10 min to 1 d; 10 min for a thin wall.
    #[must_use]
    pub fn default_soak_s(&self) -> f64 {
        match &self.kind {
            WallKind::RadiativeEquilibrium => 0.0,
            WallKind::Thin { .. } => 600.0,
            WallKind::Slab { layers, .. } => {
                let roots = layers.iter().map(|layer| layer.diffusion_time_s().sqrt());
                let root: f64 = roots.sum();
                (root * root).clamp(600.0, 86_400.0)
            }
        }
    }

    /// How long the wall is followed after a pass, s.
    #[must_use]
    pub fn followed_s(&self) -> f64 {
        self.soak_s.unwrap_or_else(|| self.default_soak_s())
    }
}

/// The wall in plain words; `None` for a surface without one.
pub(super) fn wall_in_words(wall: &WallSpec) -> Option<String> {
    let kelvin = |k| show_quantity(k, Dimension::Temperature);
    let made_of = match &wall.kind {
        WallKind::RadiativeEquilibrium => return None,
        WallKind::Thin {
            heat_capacity_j_m2_k,
        } => format!(
            "thin wall of {}",
            show_quantity(*heat_capacity_j_m2_k, Dimension::ArealHeatCapacity)
        ),
        WallKind::Slab {
            layers,
            back,
            highest_back_k,
        } => {
            let thickness = layers.iter().map(|layer| layer.thickness_m).sum();
            let thickness = show_quantity(thickness, Dimension::Length);
            let cut = match layers.len() {
                1 => format!("slab of {thickness}"),
                many => format!("slab of {many} layers, {thickness} in all"),
            };
            let back = match back {
                BackSpec::Insulated => "insulated behind".to_owned(),
                BackSpec::Radiating { background_k, .. } => {
                    format!("its back radiates toward {}", kelvin(*background_k))
                }
            };
            let most = highest_back_k.map_or(String::new(), |k| {
                format!(" (back face at most {}, which `pass` judges)", kelvin(k))
            });
            format!("{cut}, {back}{most}")
        }
    };
    Some(format!(
        "{made_of}, at {} at first and under a background of {}, followed for {} after the pass",
        kelvin(wall.start_k),
        kelvin(wall.background_k),
        show_quantity(wall.followed_s().round(), Dimension::Time)
    ))
}

const THICKNESS_M: Bound = Bound::between(1e-6, 10.0);
const CONDUCTIVITY_W_M_K: Bound = Bound::between(1e-4, 1e4);
const DENSITY_KG_M3: Bound = Bound::between(0.1, 3e4);
const SPECIFIC_HEAT_J_KG_K: Bound = Bound::between(10.0, 2e4);
const HEAT_CAPACITY_J_M2_K: Bound = Bound::between(1.0, 1e8);
const TEMPERATURE_K: Bound = Bound::between(0.0, 5000.0);

/// Reads `wall` of a spot whose surface may reach `highest_k`.
pub(super) fn decode_wall(
    spot: &Section<'_>,
    highest_k: Option<f64>,
) -> Result<WallSpec, InputError> {
    let Some(node) = spot.optional("wall") else {
        return Ok(WallSpec::EQUILIBRIUM);
    };
    if node
        .text()
        .is_ok_and(|text| text == "radiative_equilibrium")
    {
        return Ok(WallSpec::EQUILIBRIUM);
    }
    let kinds = "write `radiative_equilibrium`, `{thin: ...}` or `{slab: ...}`";
    let Ok(wall) = node.section() else {
        return Err(node
            .error("a wall is not of a kind that is known")
            .with_help(kinds));
    };
    let thin = wall.optional_section("thin")?;
    let slab = wall.optional_section("slab")?;
    let (kind, section) = match (thin, slab) {
        (Some(thin), None) => (decode_thin(&thin)?, thin),
        (None, Some(slab)) => (decode_slab(&slab)?, slab),
        _ => {
            return Err(node
                .error("a wall is either `thin` or a `slab`")
                .with_help(kinds));
        }
    };
    let temperature = |key| section.optional_quantity(key, Dimension::Temperature, TEMPERATURE_K);
    let decoded = WallSpec {
        start_k: temperature("start_temperature")?.unwrap_or(WallSpec::USUAL_START_K),
        background_k: temperature("background_temperature")?.unwrap_or(0.0),
        soak_s: section.optional_quantity("soak", Dimension::Time, Bound::between(0.0, 1e7))?,
        kind,
    };
    check_temperatures(&decoded, &section, highest_k)?;
    section.finish()?;
    wall.finish()?;
    Ok(decoded)
}

/// A wall must not begin, or be warmed by what it sees, above what it may reach.
fn check_temperatures(
    wall: &WallSpec,
    section: &Section<'_>,
    highest_k: Option<f64>,
) -> Result<(), InputError> {
    let back = match &wall.kind {
        WallKind::Slab { highest_back_k, .. } => *highest_back_k,
        _ => None,
    };
    if let (
        WallKind::Slab {
            back: BackSpec::Radiating { background_k, .. },
            ..
        },
        Some(highest),
    ) = (&wall.kind, highest_k)
        && *background_k >= highest
    {
        return Err(section.error_at(
            "back",
            format!(
                "the back face sees {background_k} K, which is not below the {highest} K that the surface may reach"
            ),
        ));
    }
    for (key, value, highest, face) in [
        ("start_temperature", wall.start_k, highest_k, "surface"),
        (
            "background_temperature",
            wall.background_k,
            highest_k,
            "surface",
        ),
        ("start_temperature", wall.start_k, back, "back face"),
    ] {
        if let Some(highest) = highest
            && value >= highest
        {
            return Err(section
                .error_at(
                    key,
                    format!(
                        "the wall's {} of {value} K is not below the {highest} K that its {face} may reach",
                        key.replace('_', " ")
                    ),
                )
                .with_help("a wall that begins at its limit has none left for the pass"));
        }
    }
    Ok(())
}

fn decode_thin(thin: &Section<'_>) -> Result<WallKind, InputError> {
    let whole = thin.optional_quantity(
        "heat_capacity_per_area",
        Dimension::ArealHeatCapacity,
        HEAT_CAPACITY_J_M2_K,
    )?;
    let parts = ["thickness", "density", "specific_heat"];
    let written: Vec<&str> = parts.into_iter().filter(|key| thin.has(key)).collect();
    let heat_capacity_j_m2_k = match (whole, written.first()) {
        (Some(whole), None) => whole,
        (None, _) => {
            thin.quantity("thickness", Dimension::Length, THICKNESS_M)?
                * thin.quantity("density", Dimension::Density, DENSITY_KG_M3)?
                * thin.quantity(
                    "specific_heat",
                    Dimension::SpecificHeat,
                    SPECIFIC_HEAT_J_KG_K,
                )?
        }
        (Some(_), Some(key)) => {
            return Err(thin
                .error_at(
                    key,
                    format!("`{key}` stands beside `heat_capacity_per_area`, which says it all"),
                )
                .with_help("write either `heat_capacity_per_area` or `thickness`, `density` and `specific_heat`"));
        }
    };
    Ok(WallKind::Thin {
        heat_capacity_j_m2_k,
    })
}

fn decode_slab(slab: &Section<'_>) -> Result<WallKind, InputError> {
    let layers = slab.optional_list("layers")?;
    let layers = if layers.is_empty() {
        vec![decode_layer(slab)?]
    } else {
        if let Some(key) = ["thickness", "conductivity", "density", "specific_heat"]
            .into_iter()
            .find(|key| slab.has(key))
        {
            return Err(slab
                .error_at(key, format!("`{key}` stands beside `layers`"))
                .with_help("write it in each of the layers, or leave `layers` out for one layer"));
        }
        if layers.len() > WallSpec::MOST_LAYERS {
            return Err(slab.error_at(
                "layers",
                format!(
                    "{} layers are listed, at most {} count",
                    layers.len(),
                    WallSpec::MOST_LAYERS
                ),
            ));
        }
        let decode = |node: &Node<'_>| {
            let section = node.section()?;
            let layer = decode_layer(&section)?;
            section.finish()?;
            Ok(layer)
        };
        layers
            .iter()
            .map(decode)
            .collect::<Result<_, InputError>>()?
    };
    Ok(WallKind::Slab {
        layers,
        back: decode_back(slab)?,
        highest_back_k: slab.optional_quantity(
            "highest_back_temperature",
            Dimension::Temperature,
            Bound::between(100.0, 5000.0),
        )?,
    })
}

fn decode_layer(layer: &Section<'_>) -> Result<LayerSpec, InputError> {
    Ok(LayerSpec {
        thickness_m: layer.quantity("thickness", Dimension::Length, THICKNESS_M)?,
        conductivity_w_m_k: layer.quantity(
            "conductivity",
            Dimension::Conductivity,
            CONDUCTIVITY_W_M_K,
        )?,
        density_kg_m3: layer.quantity("density", Dimension::Density, DENSITY_KG_M3)?,
        specific_heat_j_kg_k: layer.quantity(
            "specific_heat",
            Dimension::SpecificHeat,
            SPECIFIC_HEAT_J_KG_K,
        )?,
    })
}

fn decode_back(slab: &Section<'_>) -> Result<BackSpec, InputError> {
    let Some(node) = slab.optional("back") else {
        return Ok(BackSpec::Insulated);
    };
    if node.text().is_ok_and(|text| text == "insulated") {
        return Ok(BackSpec::Insulated);
    }
    let refused = || {
        node.error("the back face of a slab is of no kind that is known")
            .with_help("write `insulated` or `{emissivity: 0.8, background_temperature: 290 K}`")
    };
    let back = node.section().map_err(|_| refused())?;
    let decoded = BackSpec::Radiating {
        emissivity: back.quantity(
            "emissivity",
            Dimension::Ratio,
            Bound::above(0.0).at_most(1.0),
        )?,
        background_k: back.quantity(
            "background_temperature",
            Dimension::Temperature,
            TEMPERATURE_K,
        )?,
    };
    back.finish()?;
    Ok(decoded)
}
