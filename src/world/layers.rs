//! Air at rest under its own weight, in layers whose temperature is linear in geopotential altitude.

use super::air::AirState;
use super::error::{WorldError, given};
use crate::numeric::elementary::{exp, ln};

/// What the layers stand on. Geopotential altitude H = r z/(r + z) comes from the geometric
/// altitude z with `radius_m` as r, so that gravity is `gravity_m_s2` per metre of H throughout.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LayerBase {
    /// Radius r of the body, m.
    pub radius_m: f64,
    /// Gravity at altitude 0, m/s².
    pub gravity_m_s2: f64,
    /// Gas constant over molar mass, J/(kg K), the same in all layers.
    pub gas_constant_j_kg_k: f64,
    /// Temperature at the foot of the first layer, K.
    pub temperature_k: f64,
    /// Pressure there, Pa.
    pub pressure_pa: f64,
}

/// One layer, which ends where the next begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    /// Geopotential altitude of its foot, m.
    pub from_m: f64,
    /// Rate of temperature with geopotential altitude, K/m.
    pub gradient_k_m: f64,
}

/// Hydrostatic layers (U.S. Standard Atmosphere, 1976, equations 18, 23, 33a and 33b).
#[derive(Debug, Clone, PartialEq)]
pub struct HydrostaticLayers {
    base: LayerBase,
    feet: Vec<Foot>,
}

/// The foot of a layer.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Foot {
    layer: Layer,
    temperature_k: f64,
    ln_pressure: f64,
}

impl HydrostaticLayers {
    /// Stacks the layers upward from the first.
    ///
    /// # Errors
    /// [`WorldError`] for a base that is not positive, no layer, layers that do not rise, or a
    /// gradient that would bring the foot of a layer to absolute zero.
    pub fn new(base: LayerBase, layers: &[Layer]) -> Result<Self, WorldError> {
        let rows = [
            ("radius", "m", base.radius_m),
            ("gravity", "m/s2", base.gravity_m_s2),
            ("gas_constant", "J/(kg K)", base.gas_constant_j_kg_k),
            ("temperature", "K", base.temperature_k),
            ("pressure", "Pa", base.pressure_pa),
        ];
        for (key, unit, value) in rows {
            given(key, unit, value).must(value > 0.0, "above 0")?;
        }
        let Some(&first) = layers.first() else {
            return Err(WorldError::TooFew {
                key: "stack",
                least: 1,
                found: 0,
            });
        };
        let mut foot = Foot {
            layer: first,
            temperature_k: base.temperature_k,
            ln_pressure: ln(base.pressure_pa),
        };
        let mut feet = Vec::with_capacity(layers.len());
        for (index, &layer) in layers.iter().enumerate() {
            given("gradient", "K/m", layer.gradient_k_m)
                .must(layer.gradient_k_m.abs() < 1.0, "below 1 K/m in size")?;
            let rises = index == 0 || layer.from_m > foot.layer.from_m;
            if !rises || !layer.from_m.is_finite() {
                return Err(WorldError::NotRising {
                    key: "stack",
                    index,
                });
            }
            let (temperature_k, ln_pressure) = foot.climb(&base, layer.from_m);
            given("temperature", "K", temperature_k)
                .must(temperature_k > 0.0, "above 0 at the foot of every layer")?;
            foot = Foot {
                layer,
                temperature_k,
                ln_pressure,
            };
            feet.push(foot);
        }
        Ok(Self { base, feet })
    }

    /// The air at a geometric altitude, m. The first layer goes on below its foot and the last one
    /// without end; where a gradient would lead to absolute zero the numbers are NaN or not positive.
    #[must_use]
    pub fn at(&self, altitude_m: f64) -> AirState {
        let base = &self.base;
        let shrink = base.radius_m / (base.radius_m + altitude_m);
        let geopotential_m = altitude_m * shrink;
        let above = self
            .feet
            .partition_point(|foot| foot.layer.from_m <= geopotential_m);
        let foot = &self.feet[above.saturating_sub(1)];
        let (temperature_k, ln_pressure) = foot.climb(base, geopotential_m);
        let weight = base.gravity_m_s2 / base.gas_constant_j_kg_k;
        AirState {
            ln_density: ln_pressure - ln(base.gas_constant_j_kg_k * temperature_k),
            ln_density_per_m: -(weight + foot.layer.gradient_k_m) / temperature_k * shrink * shrink,
            temperature_k: Some(temperature_k),
            pressure_pa: Some(exp(ln_pressure)),
        }
    }
}

impl Foot {
    /// Temperature and log pressure at a geopotential altitude in the layer.
    fn climb(&self, base: &LayerBase, geopotential_m: f64) -> (f64, f64) {
        let height = geopotential_m - self.layer.from_m;
        let gain = self.layer.gradient_k_m * height / self.temperature_k;
        let temperature_k = self.layer.gradient_k_m.mul_add(height, self.temperature_k);
        // ln(1 + x)/x by its series where the quotient would lose digits; 1 in an isothermal layer.
        let mean_inverse = if gain.abs() < 1e-4 {
            (-0.25f64)
                .mul_add(gain, 1.0 / 3.0)
                .mul_add(gain, -0.5)
                .mul_add(gain, 1.0)
        } else {
            ln(1.0 + gain) / gain
        };
        let exponent = base.gravity_m_s2 * height / (base.gas_constant_j_kg_k * self.temperature_k);
        (
            temperature_k,
            (-exponent).mul_add(mean_inverse, self.ln_pressure),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BASE: LayerBase = LayerBase {
        radius_m: 5e6,
        gravity_m_s2: 8.0,
        gas_constant_j_kg_k: 280.0,
        temperature_k: 300.0,
        pressure_pa: 9e4,
    };

    fn stack(layers: &[(f64, f64)]) -> Result<HydrostaticLayers, WorldError> {
        let layers: Vec<_> = layers
            .iter()
            .map(|&(from_m, gradient_k_m)| Layer {
                from_m,
                gradient_k_m,
            })
            .collect();
        HydrostaticLayers::new(BASE, &layers)
    }

    #[test]
    fn pressure_carries_the_weight_of_the_air_above() {
        let layers = stack(&[(0.0, -5e-3), (12e3, 0.0), (30e3, 2e-3)]).unwrap();
        for altitude_m in [-500.0, 3e3, 11.9e3, 15e3, 29e3, 45e3, 80e3] {
            let (low, high) = (layers.at(altitude_m - 1.0), layers.at(altitude_m + 1.0));
            let here = layers.at(altitude_m);
            let gravity = 8.0 * (5e6f64 / (5e6 + altitude_m)).powi(2);
            let falls = (low.pressure_pa.unwrap() - high.pressure_pa.unwrap()) / 2.0;
            assert!(
                (falls / (gravity * here.ln_density.exp()) - 1.0).abs() < 1e-7,
                "{altitude_m}"
            );
            let rate = (high.ln_density - low.ln_density) / 2.0;
            assert!(
                (rate / here.ln_density_per_m - 1.0).abs() < 1e-7,
                "{altitude_m}"
            );
            let ideal_gas = here.ln_density.exp() * 280.0 * here.temperature_k.unwrap();
            assert!(
                (ideal_gas / here.pressure_pa.unwrap() - 1.0).abs() < 1e-14,
                "{altitude_m}"
            );
        }
    }

    #[test]
    fn a_tiny_gradient_is_the_limit_of_both_forms() {
        let (level, tiny) = (
            stack(&[(0.0, 0.0)]).unwrap(),
            stack(&[(0.0, 1e-10)]).unwrap(),
        );
        let (series, logarithm) = (
            stack(&[(0.0, 9.99e-7)]).unwrap(),
            stack(&[(0.0, 1.001e-6)]).unwrap(),
        );
        let at = |layers: &HydrostaticLayers| layers.at(30e3).ln_density;
        assert!((at(&level) - at(&tiny)).abs() < 1e-7);
        // 2e-9 K/m more over 30 km moves log density by the derivative below, whichever branch is taken.
        let by_gradient = (stack(&[(0.0, 1.1e-6)]).map(|l| at(&l)).unwrap() - at(&level)) / 1.1e-6;
        assert!(((at(&logarithm) - at(&series)) / 2e-9 / by_gradient - 1.0).abs() < 1e-3);
    }

    #[test]
    fn unusable_layers_are_refused() {
        assert_eq!(
            stack(&[]),
            Err(WorldError::TooFew {
                key: "stack",
                least: 1,
                found: 0
            })
        );
        assert_eq!(
            stack(&[(0.0, 0.0), (0.0, 0.0)]),
            Err(WorldError::NotRising {
                key: "stack",
                index: 1
            })
        );
        let cold = stack(&[(0.0, -10e-3), (40e3, 0.0)]);
        assert!(
            matches!(
                cold,
                Err(WorldError::OutOfRange {
                    key: "temperature",
                    ..
                })
            ),
            "{cold:?}"
        );
        let airless = HydrostaticLayers::new(
            LayerBase {
                pressure_pa: 0.0,
                ..BASE
            },
            &[],
        );
        assert!(
            matches!(
                airless,
                Err(WorldError::OutOfRange {
                    key: "pressure",
                    ..
                })
            ),
            "{airless:?}"
        );
    }
}
