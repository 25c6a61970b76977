//! How the layers of a scenario's slab are cut into cells: thin below the surface, where the heat of a pass
//! comes in, and wider inward.

use super::layer::Layer;
use crate::scenario::wall::LayerSpec;

/// Width of the first cell, √s: thickness over √diffusivity. Heat of one second reaches twenty times as deep.
const FIRST: f64 = 0.05;
/// Growth from cell to cell: with it the peak rise of a half space is within 4e-4 for pulses of a second and
/// longer, and falls with its square.
const GROWTH: f64 = 0.05;
/// Fewest cells through the whole wall.
const FEWEST: f64 = 60.0;

/// Layers of one cell each that make up `layers`, from the surface inward; `fineness` times as many as
/// usual. Not more than some hundred for twelve layers at a fineness of 1.
#[must_use]
pub(super) fn graded(layers: &[LayerSpec], fineness: f64) -> Vec<Layer> {
    let whole: f64 = layers.iter().map(depth).sum();
    let widest = whole / (FEWEST * fineness);
    let mut width = FIRST / fineness;
    let mut cells = Vec::new();
    for layer in layers {
        let (mut widths, mut sum) = (Vec::new(), 0.0);
        // Two cells at least in every layer, so that a foil is resolved.
        let most = widest.min(0.5 * depth(layer));
        while sum < depth(layer) * (1.0 - 1e-12) {
            width = width.min(widest);
            let cell = width.min(most);
            widths.push(cell);
            sum += cell;
            width *= 1.0 + GROWTH / fineness;
        }
        cells.extend(widths.iter().map(|cell| Layer {
            thickness_m: layer.thickness_m * cell / sum,
            conductivity_w_m_k: layer.conductivity_w_m_k,
            density_kg_m3: layer.density_kg_m3,
            specific_heat_j_kg_k: layer.specific_heat_j_kg_k,
            cells: 1,
        }));
    }
    cells
}

/// Thickness of a layer over the root of its diffusivity, √s.
fn depth(layer: &LayerSpec) -> f64 {
    layer.diffusion_time_s().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_make_up_the_layers_and_grow_slowly() {
        let tile = LayerSpec {
            thickness_m: 0.05,
            conductivity_w_m_k: 0.05,
            density_kg_m3: 150.0,
            specific_heat_j_kg_k: 1000.0,
        };
        let sheet = LayerSpec {
            thickness_m: 0.002,
            conductivity_w_m_k: 120.0,
            density_kg_m3: 2700.0,
            specific_heat_j_kg_k: 900.0,
        };
        let cells = graded(&[tile, sheet], 1.0);
        let thickness: f64 = cells.iter().map(|cell| cell.thickness_m).sum();
        assert!((thickness - 0.052).abs() < 1e-12, "{thickness}");
        let own = |cell: &Layer| cell.conductivity_w_m_k == tile.conductivity_w_m_k;
        let tiles: Vec<f64> = cells
            .iter()
            .filter(|c| own(c))
            .map(|c| c.thickness_m)
            .collect();
        assert!(tiles[0] < 1e-4 && tiles.len() < 140, "{tiles:?}");
        assert!(tiles.windows(2).all(|pair| pair[1] < 1.051 * pair[0]));
        assert!(cells.len() - tiles.len() >= 2, "{}", cells.len());
        assert!(graded(&[tile, sheet], 2.0).len() > 3 * cells.len() / 2);
    }
}
