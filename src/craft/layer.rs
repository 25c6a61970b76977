//! What a wall is made of, layer by layer, and how its surfaces radiate. `slab` conducts through it.

use super::wall::STEFAN_BOLTZMANN;

/// Most cells that a wall may be divided into.
pub(super) const MOST_CELLS: usize = 10_000;

/// One layer of a wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    /// Thickness, m, above 0.
    pub thickness_m: f64,
    /// Conductivity, W/(m K), above 0.
    pub conductivity_w_m_k: f64,
    /// Density, kg/m³, above 0.
    pub density_kg_m3: f64,
    /// Specific heat, J/(kg K), above 0.
    pub specific_heat_j_kg_k: f64,
    /// How many equal cells it is divided into, 1 or more. The time a cell needs, thickness² over
    /// diffusivity, should be short against the heat pulse: 20 cells to a layer do for most.
    pub cells: usize,
}

/// A surface that radiates toward a background.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Radiating {
    /// Emissivity, 0 to 1.
    pub emissivity: f64,
    /// Temperature of what it sees, K, 0 or more.
    pub background_k: f64,
}

impl Radiating {
    /// Net heat radiated at a temperature, W/m², and its slope with it.
    pub(super) fn net(&self, temperature_k: f64) -> (f64, f64) {
        let (scale, b) = (self.emissivity * STEFAN_BOLTZMANN, self.background_k);
        let cube = temperature_k * temperature_k * temperature_k;
        (
            scale * (cube * temperature_k - b * b * b * b),
            4.0 * scale * cube,
        )
    }

    pub(super) fn check(&self) -> Result<(), SlabError> {
        let fine = (0.0..=1.0).contains(&self.emissivity)
            && self.background_k >= 0.0
            && self.background_k.is_finite();
        if fine {
            Ok(())
        } else {
            Err(SlabError::Surface)
        }
    }
}

impl Layer {
    /// Checks the layer that has this place in its wall.
    pub(super) fn check(&self, layer: usize) -> Result<(), SlabError> {
        for (property, value) in [
            ("thickness", self.thickness_m),
            ("conductivity", self.conductivity_w_m_k),
            ("density", self.density_kg_m3),
            ("specific heat", self.specific_heat_j_kg_k),
        ] {
            if !(value > 0.0 && value.is_finite()) {
                return Err(SlabError::Property {
                    layer,
                    property,
                    value,
                });
            }
        }
        if (1..=MOST_CELLS).contains(&self.cells) {
            Ok(())
        } else {
            Err(SlabError::Cells)
        }
    }
}

/// A wall that cannot be, or a step that cannot be taken.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SlabError {
    /// No layer.
    #[error("a wall needs at least one layer")]
    NoLayer,
    /// A property of a layer that is not a positive number.
    #[error("layer {}: {property} must be above 0, got {value}", layer + 1)]
    Property {
        /// Which layer, from 0.
        layer: usize,
        /// Which property, in words.
        property: &'static str,
        /// The value.
        value: f64,
    },
    /// Too many cells, or a layer without one.
    #[error("a wall needs 1 to {MOST_CELLS} cells in each layer and in all")]
    Cells,
    /// A surface whose emissivity or background is out of range.
    #[error("emissivity must be 0 to 1 and the background 0 K or more")]
    Surface,
    /// A temperature that is not a number of 0 or more.
    #[error("a wall's temperature must be 0 K or more, got {0}")]
    Temperature(f64),
    /// The equations of a step found no solution.
    #[error(
        "no wall temperature satisfies a step of {step_s} s that ends with {heat_flux_w_m2} W/m2"
    )]
    NoSolution {
        /// Length of the step, s.
        step_s: f64,
        /// Flux at its end, W/m².
        heat_flux_w_m2: f64,
    },
}
