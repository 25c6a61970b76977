//! The U.S. Standard Atmosphere, 1976, from 0 to 1000 km of geometric altitude: its constants, its
//! layers up to 86 km and the answer at any altitude. The part above 86 km has a file of its own.
//!
//! Source of every equation and constant: U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562 and
//! NASA-TM-X-74335 (October 1976); constants from memory, the tables they lead to checked below.

use super::air::AirState;
use super::error::WorldError;
use super::layers::{HydrostaticLayers, Layer, LayerBase};
use super::ussa1976_upper::Upper;
use crate::numeric::elementary::exp;

/// Gas constant of the standard, J/(kmol K); not today's value.
pub(crate) const GAS_CONSTANT: f64 = 8_314.32;
/// Molar mass of air at sea level, kg/kmol.
pub(crate) const SEA_LEVEL_MOLAR_MASS: f64 = 28.9644;
/// Effective radius of the Earth r₀, m.
pub(crate) const RADIUS_M: f64 = 6_356_766.0;
/// Gravity at sea level, m/s².
pub(crate) const GRAVITY: f64 = 9.806_65;
/// Altitude at which the upper part begins, m.
const UPPER_FROM_M: f64 = 86_000.0;
/// Altitude at which M begins to fall, m.
const RATIO_FROM_M: f64 = 80_000.0;
/// Spacing of [`MOLAR_MASS_RATIO`], m.
const RATIO_STEP_M: f64 = 500.0;

/// Feet of the layers: geopotential altitude, m, and gradient of molecular-scale temperature, K/m (Table 4).
const LAYERS: [(f64, f64); 7] = [
    (0.0, -6.5e-3),
    (11_000.0, 0.0),
    (20_000.0, 1.0e-3),
    (32_000.0, 2.8e-3),
    (47_000.0, 0.0),
    (51_000.0, -2.8e-3),
    (71_000.0, -2.0e-3),
];

/// M/M₀ at 80, 80.5, 81 .. 86 km of geometric altitude (Table 8).
const MOLAR_MASS_RATIO: [f64; 13] = [
    1.0, 0.999_996, 0.999_989, 0.999_971, 0.999_941, 0.999_909, 0.999_870, 0.999_829, 0.999_786,
    0.999_741, 0.999_694, 0.999_641, 0.999_579,
];

/// The standard atmosphere, with its integrals above 86 km done.
#[derive(Debug, Clone, PartialEq)]
pub struct Ussa1976 {
    lower: HydrostaticLayers,
    upper: Upper,
}

/// The standard's answer at one altitude.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StandardAir {
    /// Density, its rate, kinetic temperature and pressure.
    pub state: AirState,
    /// Mean molar mass, kg/kmol.
    pub molar_mass_kg_kmol: f64,
    /// Number densities of N2, O, O2, Ar, He and H, 1/m³; given from 86 km up, H from 150 km up.
    pub number_densities_m3: Option<[f64; 6]>,
}

impl Ussa1976 {
    /// Lowest altitude for which the standard is taken, m.
    pub const FLOOR_M: f64 = 0.0;
    /// Highest altitude of the standard, m.
    pub const TOP_M: f64 = 1_000_000.0;

    /// The standard atmosphere; takes some milliseconds for the integrals.
    ///
    /// # Errors
    /// None with the constants of the standard; the type is that of the layers underneath.
    pub fn new() -> Result<Self, WorldError> {
        let base = LayerBase {
            radius_m: RADIUS_M,
            gravity_m_s2: GRAVITY,
            gas_constant_j_kg_k: GAS_CONSTANT / SEA_LEVEL_MOLAR_MASS,
            temperature_k: 288.15,
            pressure_pa: 101_325.0,
        };
        let layers = LAYERS.map(|(from_m, gradient_k_m)| Layer {
            from_m,
            gradient_k_m,
        });
        Ok(Self {
            lower: HydrostaticLayers::new(base, &layers)?,
            upper: Upper::integrate(),
        })
    }

    /// Density, its rate, temperature and pressure at a geometric altitude, m. Below 0 the lowest
    /// layer goes on; above 1000 km log densities go on as straight lines, which is no part of the standard.
    #[must_use]
    pub fn at(&self, altitude_m: f64) -> AirState {
        self.detail(altitude_m).state
    }

    /// As [`at`](Self::at), with molar mass and number densities.
    #[must_use]
    pub fn detail(&self, altitude_m: f64) -> StandardAir {
        if altitude_m >= UPPER_FROM_M {
            return self.upper.at(altitude_m);
        }
        let molecular = self.lower.at(altitude_m);
        let ratio = molar_mass_ratio(altitude_m);
        StandardAir {
            state: AirState {
                temperature_k: molecular.temperature_k.map(|kelvin| kelvin * ratio),
                ..molecular
            },
            molar_mass_kg_kmol: SEA_LEVEL_MOLAR_MASS * ratio,
            number_densities_m3: None,
        }
    }

    /// Density at a geometric altitude, m, in kg/m³.
    #[must_use]
    pub fn density_kg_m3(&self, altitude_m: f64) -> f64 {
        exp(self.at(altitude_m).ln_density)
    }
}

/// M/M₀, linear between the entries of the table.
fn molar_mass_ratio(altitude_m: f64) -> f64 {
    let place = ((altitude_m - RATIO_FROM_M) / RATIO_STEP_M).max(0.0);
    let mut rest = place;
    for pair in MOLAR_MASS_RATIO.windows(2) {
        if rest <= 1.0 {
            return (pair[1] - pair[0]).mul_add(rest, pair[0]);
        }
        rest -= 1.0;
    }
    MOLAR_MASS_RATIO[12]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows of a reference file: numbers by column, NaN where a field is empty or a word.
    fn rows(text: &str) -> impl Iterator<Item = Vec<f64>> {
        let lines = text.lines().filter(|line| !line.starts_with('#')).skip(1);
        lines.map(|line| {
            line.split(',')
                .map(|field| field.parse().unwrap_or(f64::NAN))
                .collect()
        })
    }

    fn assert_close(what: &str, found: f64, (expected, tolerance): (f64, f64)) {
        let error = found / expected - 1.0;
        assert!(
            error.abs() <= tolerance,
            "{what}: {found:e} against {expected:e}, off by {error:e}"
        );
    }

    /// 48 altitudes from 0 to 1000 km. T, p, density and M: computed from the report's equations by an
    /// independent program; 8 digits below 86 km, and trapezoids of 20 m above. Printed p and density of Table I: published or from memory.
    #[test]
    fn every_row_of_the_standard_is_reproduced() {
        let air = Ussa1976::new().unwrap();
        let mut count = 0;
        for row in rows(include_str!("../../tests/reference/ussa1976.csv")) {
            let found = air.detail(row[0] * 1e3);
            let at = |what: &str| format!("{what} at {} km", row[0]);
            // The file's 239.9997 K at 110 km is the end of the segment below; the next one begins at 240 K.
            let (kelvin, fine, molar) = if row[0] < 86.0 {
                (1e-6, 1e-6, 5e-6)
            } else {
                (2e-6, 1e-4, 1e-4)
            };
            assert_close(
                &at("temperature"),
                found.state.temperature_k.unwrap(),
                (row[1], kelvin),
            );
            assert_close(
                &at("pressure"),
                found.state.pressure_pa.unwrap(),
                (row[2], fine),
            );
            assert_close(&at("density"), found.state.ln_density.exp(), (row[3], fine));
            assert_close(&at("molar mass"), found.molar_mass_kg_kmol, (row[4], molar));
            if row[5].is_finite() {
                assert_close(
                    &at("printed pressure"),
                    found.state.pressure_pa.unwrap(),
                    (row[5], 1e-3),
                );
                assert_close(
                    &at("printed density"),
                    found.state.ln_density.exp(),
                    (row[6], 1e-3),
                );
            }
            count += 1;
        }
        assert_eq!(count, 48);
    }

    /// Computed from the report's equations by an independent program. Tolerances 1e-3, and 5e-3 for He and H.
    #[test]
    fn every_row_of_number_densities_is_reproduced() {
        let air = Ussa1976::new().unwrap();
        let mut count = 0;
        for row in rows(include_str!("../../tests/reference/ussa1976_species.csv")) {
            let found = air.detail(row[0] * 1e3).number_densities_m3.unwrap();
            for (i, gas) in ["N2", "O", "O2", "Ar", "He", "H"].into_iter().enumerate() {
                let tolerance = if i < 4 { 1e-3 } else { 5e-3 };
                let what = format!("{gas} at {} km", row[0]);
                if row[i + 1] > 0.0 {
                    assert_close(&what, found[i], (row[i + 1], tolerance));
                } else {
                    assert!(found[i] <= 0.0, "{what}: {}", found[i]);
                }
            }
            count += 1;
        }
        assert_eq!(count, 12);
    }

    #[test]
    fn densities_and_pressures_at_the_feet_of_the_layers() {
        // Geopotential kilometre of the foot; printed density, published, 5 figures: 5e-5 is half a unit of the last.
        let printed = [
            (0.0, 1.2250),
            (11.0, 3.6392e-1),
            (20.0, 8.8035e-2),
            (32.0, 1.3225e-2),
            (47.0, 1.4275e-3),
            (51.0, 8.6160e-4),
            (71.0, 6.4211e-5),
        ];
        // The same computed from the closed form; 7 digits.
        let computed = [
            1.224_999_e0,
            3.639_177e-1,
            8.803_481e-2,
            1.322_500e-2,
            1.427_532e-3,
            8.616_049e-4,
            6.421_098e-5,
        ];
        // Pressure there, computed from the closed form; 7 digits.
        let pressures = [
            101_325.0, 22_632.06, 5_474.889, 868.0187, 110.9063, 66.93887, 3.95642,
        ];
        let air = Ussa1976::new().unwrap();
        let altitude_m = |geopotential_km: f64| {
            RADIUS_M * geopotential_km * 1e3 / (RADIUS_M - geopotential_km * 1e3)
        };
        for ((geopotential_km, _), pressure) in printed.into_iter().zip(pressures) {
            let state = air.at(altitude_m(geopotential_km));
            let what = format!("pressure at {geopotential_km} km geopotential");
            assert_close(&what, state.pressure_pa.unwrap(), (pressure, 1.5e-6));
        }
        // The top of the lower part: 0.3733836 Pa, 186.946 K of molecular-scale temperature (186.8673 K kinetic).
        let top = air.detail(altitude_m(84.8520) - 1e-6);
        assert_close(
            "pressure at the top",
            top.state.pressure_pa.unwrap(),
            (0.373_383_6, 1e-6),
        );
        let scaled = top.state.temperature_k.unwrap() * 28.9644 / top.molar_mass_kg_kmol;
        assert_close(
            "molecular-scale temperature at the top",
            scaled,
            (186.946, 1e-6),
        );
        for ((geopotential_km, density), closed_form) in printed.into_iter().zip(computed) {
            let altitude_m = altitude_m(geopotential_km);
            let what = format!("density at {geopotential_km} km geopotential");
            let found = air.density_kg_m3(altitude_m);
            assert_close(&what, found, (density, 5e-5));
            assert_close(&what, found, (closed_form, 1e-6));
        }
    }

    #[test]
    fn the_two_parts_meet_at_86_km() {
        let air = Ussa1976::new().unwrap();
        let (below, above) = (air.detail(86e3 - 1e-6), air.detail(86e3));
        // The standard puts the join at 84.8520 km geopotential, which is 86 km only to 5e-5 km: 8e-6 in density.
        assert_close(
            "density",
            below.state.ln_density.exp(),
            (above.state.ln_density.exp(), 1e-5),
        );
        assert_close(
            "temperature",
            below.state.temperature_k.unwrap(),
            (186.8673, 1e-5),
        );
        assert_close(
            "molar mass",
            below.molar_mass_kg_kmol,
            (above.molar_mass_kg_kmol, 1e-5),
        );
    }

    #[test]
    fn rates_are_those_of_the_values() {
        let air = Ussa1976::new().unwrap();
        for km in [
            5.0, 15.5, 40.0, 83.3, 88.81, 96.02, 104.44, 118.0, 149.97, 233.33, 499.9, 777.7,
            999.9, 1200.0,
        ] {
            let (low, high) = (
                air.at(km * 1e3 - 2.0).ln_density,
                air.at(km * 1e3 + 2.0).ln_density,
            );
            assert_close(
                &format!("rate at {km} km"),
                air.at(km * 1e3).ln_density_per_m,
                ((high - low) / 4.0, 1e-6),
            );
        }
    }
}
