//! Second opinions on the convective heat flux at the stagnation point, to hold against the
//! Sutton-Graves flux of `heating`. Which one a study flies with is decided elsewhere.

use super::heating::{stagnation_factor, sutton_graves};
use super::validity::{Range, Validity};
use crate::numeric::Real;

/// Sea-level density of the correlation, kg/m³.
const SEA_LEVEL_KG_M3: f64 = 1.225;
/// Circular speed of the correlation, m/s (26 000 ft/s).
const REFERENCE_SPEED_M_S: f64 = 7925.0;
/// Exponent of speed.
const SPEED_EXPONENT: f64 = 3.15;
/// 11 030 W/cm² · m^½, in W/m² · m^½.
const SCALE: f64 = 1.103e8;

/// Detra-Kemp-Riddell heat flux times √(nose radius), W/m² · m^½, for a cold wall in the Earth's air:
/// 11030 W/cm² √(ρ/1.225) (V/7925 m/s)^3.15; divide by √Rn (m).
///
/// Detra, Kemp & Riddell, Jet Propulsion 27 (1957), from memory; it was fitted to shock-tube data at
/// satellite speeds (about 2 to 8 km/s) and goes on above without a bound. Chapman's form
/// (NASA TR R-11) has the same constant. Other gases need another constant: none is given here.
#[inline(always)]
pub fn detra_kemp_riddell<R: Real>(sqrt_density: R, speed_m_s: R) -> R {
    let ratio = speed_m_s.max(R::splat(1e-3)) * R::splat(1.0 / REFERENCE_SPEED_M_S);
    let power = (R::splat(SPEED_EXPONENT) * ratio.ln()).exp();
    // √1.225, so that the density enters by its root alone.
    sqrt_density * R::splat(SCALE / 1.106_797_181_058_933) * power
}

/// Detra-Kemp-Riddell heat flux in its customary form, W/m²:
/// 865 Btu/(ft² s) (V/10⁴ ft/s)^3.15 √(ρ/ρ0)/√(R/ft), converted; from memory.
///
/// It is 0.26 % from [`detra_kemp_riddell`], whose constants are rounded otherwise.
#[must_use]
pub fn detra_kemp_riddell_customary(stream: &Stream) -> f64 {
    /// W/m² in one Btu/(ft² s).
    const BTU_FT2_S: f64 = 11_356.526_7;
    const FOOT_M: f64 = 0.3048;
    let speed = stream.speed_m_s / (FOOT_M * 1e4);
    let density = stream.density_kg_m3 / SEA_LEVEL_KG_M3;
    865.0 * BTU_FT2_S * libm::pow(speed, SPEED_EXPONENT) * density.sqrt()
        / (stream.nose_radius_m / FOOT_M).sqrt()
}

/// The air ahead of the ship and the nose it meets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stream {
    /// Density, kg/m³, above 0.
    pub density_kg_m3: f64,
    /// Airspeed, m/s, above 0.
    pub speed_m_s: f64,
    /// Effective nose radius, m, above 0.
    pub nose_radius_m: f64,
}

/// Two correlations for the same point of a flight.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Sutton-Graves with the constant given, W/m².
    pub sutton_graves_w_m2: f64,
    /// Detra-Kemp-Riddell (SI form), W/m².
    pub detra_kemp_riddell_w_m2: f64,
    /// What lies outside the ranges the two correlations share.
    pub validity: Validity,
}

impl Comparison {
    /// How far correlations of this kind differ among themselves, as a share: their mutual tolerance.
    pub const USUAL_SPREAD: f64 = 0.2;

    /// Both fluxes at one point; `heating_constant` is the Sutton-Graves k, kg^½/m. Only for the
    /// Earth's air is the second correlation meant.
    #[must_use]
    pub fn at(stream: &Stream, heating_constant: f64) -> Self {
        let root = stream.density_kg_m3.sqrt();
        let factor = stagnation_factor(heating_constant, stream.nose_radius_m);
        let speed = Range {
            quantity: "speed",
            unit: "m/s",
            // Stagnation enthalpy of 2.3 MJ/kg and the fastest of the shock-tube data.
            lowest: 2145.0,
            highest: 8000.0,
        };
        Self {
            sutton_graves_w_m2: factor * sutton_graves(root, stream.speed_m_s),
            detra_kemp_riddell_w_m2: detra_kemp_riddell(root, stream.speed_m_s)
                / stream.nose_radius_m.sqrt(),
            validity: Validity::of(&[(speed, stream.speed_m_s)]),
        }
    }

    /// Detra-Kemp-Riddell over Sutton-Graves.
    #[must_use]
    pub fn ratio(&self) -> f64 {
        self.detra_kemp_riddell_w_m2 / self.sutton_graves_w_m2
    }

    /// Whether the two differ by no more than correlations usually do.
    #[must_use]
    pub fn agrees(&self) -> bool {
        (self.ratio() - 1.0).abs() <= Self::USUAL_SPREAD
    }
}

/// The gas at the stagnation point, as Fay & Riddell's formula needs it; all stated by the caller.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StagnationGas {
    /// Prandtl number; 0.71 in the source.
    pub prandtl: f64,
    /// Lewis number; 1.4 in the source, 1 switches diffusion off.
    pub lewis: f64,
    /// Density times viscosity at the wall, kg²/(m⁴ s).
    pub wall_density_viscosity: f64,
    /// Density at the edge of the boundary layer, kg/m³.
    pub edge_density_kg_m3: f64,
    /// Viscosity there, Pa s.
    pub edge_viscosity_pa_s: f64,
    /// Pressure there less that of the free stream, Pa.
    pub pressure_rise_pa: f64,
    /// Total enthalpy at the edge, J/kg.
    pub edge_enthalpy_j_kg: f64,
    /// Enthalpy of the gas at the wall, J/kg.
    pub wall_enthalpy_j_kg: f64,
    /// Enthalpy of dissociation of the edge gas (mass fraction of atoms times their heat of formation), J/kg.
    pub dissociation_enthalpy_j_kg: f64,
}

/// Fay-Riddell heat flux of a catalytic wall, W/m²:
/// 0.763 Pr^-0.6 (ρw μw)^0.1 (ρs μs)^0.4 √(du/dx) (hs - hw) (1 + (Le^0.52 - 1) hD/hs),
/// with Newton's du/dx = √(2 (ps - p∞)/ρs)/R.
///
/// Fay & Riddell, J. Aero. Sci. 25(2), 1958, 73-85: laminar equilibrium boundary layer on a nose of
/// radius `nose_radius_m` (m, above 0). Published, read in a copy.
#[must_use]
pub fn fay_riddell(gas: &StagnationGas, nose_radius_m: f64) -> f64 {
    let gradient = (2.0 * gas.pressure_rise_pa / gas.edge_density_kg_m3).sqrt() / nose_radius_m;
    let diffusion = (libm::pow(gas.lewis, 0.52) - 1.0) * gas.dissociation_enthalpy_j_kg
        / gas.edge_enthalpy_j_kg;
    let edge = gas.edge_density_kg_m3 * gas.edge_viscosity_pa_s;
    0.763
        * libm::pow(gas.prandtl, -0.6)
        * libm::pow(gas.wall_density_viscosity, 0.1)
        * libm::pow(edge, 0.4)
        * gradient.sqrt()
        * (gas.edge_enthalpy_j_kg - gas.wall_enthalpy_j_kg)
        * (1.0 + diffusion)
}

/// Viscosity of air, Pa s, by Sutherland's law with the constants of the U.S. Standard Atmosphere
/// 1976: 1.458e-6 T^1.5/(T + 110.4), `temperature_k` above 0. Meant up to about 1500 K; above, the
/// air dissociates and the law is only a guide.
#[must_use]
pub fn air_viscosity_pa_s(temperature_k: f64) -> f64 {
    1.458e-6 * temperature_k * temperature_k.sqrt() / (temperature_k + 110.4)
}

#[cfg(test)]
mod tests {
    use super::*;

    const LOW: Stream = Stream {
        density_kg_m3: 1e-4,
        speed_m_s: 7800.0,
        nose_radius_m: 1.0,
    };
    const FAST: Stream = Stream {
        density_kg_m3: 2e-4,
        speed_m_s: 11_000.0,
        nose_radius_m: 4.7,
    };

    /// Computed from the equations (constants from memory of the source) by an independent program:
    /// SI form 94.789 and 182.605, customary form 94.548 W/cm²; Sutton-Graves with 1.7415e-4
    /// 82.643 and 151.206. Printed to five or six figures.
    #[test]
    fn both_forms_and_both_correlations_meet_their_computed_values() {
        let (low, fast) = (
            Comparison::at(&LOW, 1.7415e-4),
            Comparison::at(&FAST, 1.7415e-4),
        );
        for (value, expected) in [
            (low.detra_kemp_riddell_w_m2, 94.789),
            (fast.detra_kemp_riddell_w_m2, 182.605),
            (low.sutton_graves_w_m2, 82.643),
            (fast.sutton_graves_w_m2, 151.206),
            (detra_kemp_riddell_customary(&LOW), 94.548),
        ] {
            assert!(
                (value / 1e4 / expected - 1.0).abs() < 1e-5,
                "{value} {expected}"
            );
        }
        assert!(low.agrees() && low.validity.holds());
        assert!(!fast.agrees() && !fast.validity.holds(), "{}", fast.ratio());
    }

    /// Hand-set inputs; expected value computed from the formula by an independent program.
    const GAS: StagnationGas = StagnationGas {
        prandtl: 0.71,
        lewis: 1.4,
        wall_density_viscosity: 1e-6,
        edge_density_kg_m3: 1.5e-3,
        edge_viscosity_pa_s: 1.6e-4,
        pressure_rise_pa: 4700.0,
        edge_enthalpy_j_kg: 24.5e6,
        wall_enthalpy_j_kg: 0.3e6,
        dissociation_enthalpy_j_kg: 13e6,
    };

    #[test]
    fn fay_riddell_is_its_formula() {
        let flux = fay_riddell(&GAS, 1.0);
        assert!((flux / FAY_RIDDELL_EXPECTED - 1.0).abs() < 1e-12, "{flux}");
        // The flux falls with the root of the radius.
        assert!((fay_riddell(&GAS, 4.0) / flux - 0.5).abs() < 1e-14);
    }

    /// Computed from the equation by an independent program.
    const FAY_RIDDELL_EXPECTED: f64 = 7.061_478_173_239_725e5;

    /// A stagnation point at 7000 m/s in air of 1e-4 kg/m³: pressure 0.96 ρV², total enthalpy V²/2,
    /// wall at 300 K, edge near 6000 K and 1.5e-3 kg/m³ (read off equilibrium charts, from memory).
    /// The two correlations then differ by no more than the 20 % usual among them.
    #[test]
    fn fay_riddell_with_plausible_gas_lies_near_sutton_graves() {
        let wall = 4700.0 / (287.05 * 300.0) * air_viscosity_pa_s(300.0);
        let gas = StagnationGas {
            wall_density_viscosity: wall,
            ..GAS
        };
        let other = stagnation_factor(1.7415e-4, 1.0) * sutton_graves(1e-2, 7000.0);
        let ratio = fay_riddell(&gas, 1.0) / other;
        assert!((ratio - 1.0).abs() < Comparison::USUAL_SPREAD, "{ratio}");
    }

    /// U.S. Standard Atmosphere 1976 at sea level, 1.7894e-5 Pa s (from memory of the table).
    #[test]
    fn viscosity_at_sea_level_is_that_of_the_standard_atmosphere() {
        assert!((air_viscosity_pa_s(288.15) / 1.7894e-5 - 1.0).abs() < 5e-5);
    }
}
