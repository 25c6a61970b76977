//! How thin the air is for a ship: mean free path, Knudsen number, and the bridge from continuum to
//! free-molecular coefficients. The free-molecular values themselves are in `free_molecular`.

use crate::numeric::Real;

/// Avogadro's number, 1/kmol (SI, exact).
const AVOGADRO_PER_KMOL: f64 = 6.022_140_76e26;
/// Gas constant, J/(kmol K) (SI, exact product of Avogadro's and Boltzmann's numbers).
const GAS_CONSTANT_J_KMOL_K: f64 = 8_314.462_618_153_24;

/// A gas of hard spheres, or of spheres that shrink as it grows hot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Molecules {
    /// Molar mass, kg/kmol, above 0.
    pub molar_mass_kg_kmol: f64,
    /// Collision diameter at the reference temperature, m, above 0.
    pub diameter_m: f64,
    /// Reference temperature of the diameter, K, above 0.
    pub reference_temperature_k: f64,
    /// Exponent of viscosity with temperature: 0.5 for hard spheres (no effect of temperature),
    /// about 0.74 for air.
    pub viscosity_exponent: f64,
}

impl Molecules {
    /// Air as the U.S. Standard Atmosphere 1976 has it: hard spheres of 3.65e-10 m, 28.9644 kg/kmol
    /// (from memory of its Table 2, reproduced by its other numbers).
    pub const STANDARD_AIR: Self = Self {
        molar_mass_kg_kmol: 28.9644,
        diameter_m: 3.65e-10,
        reference_temperature_k: 273.15,
        viscosity_exponent: 0.5,
    };

    /// Mean free path times density, kg/m², at a temperature in K: `M/(√2 π d² N_A)`, with the
    /// diameter of a variable hard sphere `d² = d_ref² (T_ref/T)^(ω - ½)`.
    ///
    /// Divide by density (kg/m³) for the mean free path in m. `temperature_k` must be above 0.
    #[must_use]
    pub fn path_times_density_kg_m2(&self, temperature_k: f64) -> f64 {
        let growth = libm::pow(
            temperature_k / self.reference_temperature_k,
            self.viscosity_exponent - 0.5,
        );
        let section = std::f64::consts::PI * self.diameter_m * self.diameter_m / growth;
        self.molar_mass_kg_kmol / (std::f64::consts::SQRT_2 * section * AVOGADRO_PER_KMOL)
    }

    /// Mean free path, m, in air at rest.
    #[must_use]
    pub fn mean_free_path_m(&self, density_kg_m3: f64, temperature_k: f64) -> f64 {
        self.path_times_density_kg_m2(temperature_k) / density_kg_m3
    }

    /// ln(Kn ρ), so that ln Kn = this - ln ρ along a flight at one temperature; the Knudsen number
    /// is mean free path over `length_m` (above 0), which must be the length its user means.
    #[must_use]
    pub fn ln_knudsen_density(&self, temperature_k: f64, length_m: f64) -> f64 {
        Real::ln(self.path_times_density_kg_m2(temperature_k) / length_m)
    }

    /// Speed ratio V/√(2 R T/M): airspeed over the most probable thermal speed.
    #[must_use]
    pub fn speed_ratio(&self, speed_m_s: f64, temperature_k: f64) -> f64 {
        let square = 2.0 * GAS_CONSTANT_J_KMOL_K * temperature_k / self.molar_mass_kg_kmol;
        speed_m_s / square.sqrt()
    }
}

/// The share of free-molecular behaviour against ln Kn: sin² of an angle that rises from 0 to 90
/// degrees between two Knudsen numbers. Common practice, not a law; real bodies differ by some 10 %
/// of the step in between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bridge {
    ln_continuum: f64,
    inverse_width: f64,
}

impl Bridge {
    /// From Kn 1e-3 to Kn 10, on a Knudsen number of the ship's diameter: sin²(π(3 + log10 Kn)/8)
    /// (in wide use; from memory).
    pub const USUAL: Self = Self {
        ln_continuum: -3.0 * std::f64::consts::LN_10,
        inverse_width: 0.25 / std::f64::consts::LN_10,
    };

    /// From the Knudsen number up to which the flow is a continuum to that above which it is
    /// free-molecular; `None` unless 0 < `continuum` < `free_molecular`, both finite.
    #[must_use]
    pub fn between(continuum: f64, free_molecular: f64) -> Option<Self> {
        let ordered = continuum > 0.0 && free_molecular > continuum && free_molecular.is_finite();
        ordered.then(|| {
            let low = Real::ln(continuum);
            Self {
                ln_continuum: low,
                inverse_width: 1.0 / (Real::ln(free_molecular) - low),
            }
        })
    }

    /// The free-molecular share at ln Kn, 0 to 1; 0 below and 1 above the two Knudsen numbers, with
    /// continuous slope.
    #[inline(always)]
    #[must_use]
    pub fn share<R: Real>(&self, ln_knudsen: R) -> R {
        let place = (ln_knudsen - R::splat(self.ln_continuum)) * R::splat(self.inverse_width);
        sine_squared(place.max(R::splat(0.0)).min(R::splat(1.0)))
    }

    /// ln Kn at which the bridge begins and at which it ends.
    pub(super) fn ends(&self) -> (f64, f64) {
        (
            self.ln_continuum,
            self.ln_continuum + 1.0 / self.inverse_width,
        )
    }

    /// A coefficient between its continuum and free-molecular values.
    #[inline(always)]
    #[must_use]
    pub fn coefficient<R: Real>(&self, ln_knudsen: R, continuum: R, free_molecular: R) -> R {
        self.share(ln_knudsen)
            .mul_add(free_molecular - continuum, continuum)
    }
}

/// sin²(π x/2) for x in [0, 1], error below 1e-13: ½ + ½ sin(π(x - ½)) by its series.
#[inline(always)]
pub(super) fn sine_squared<R: Real>(x: R) -> R {
    let angle = (x - R::splat(0.5)) * R::splat(std::f64::consts::PI);
    let z = angle * angle;
    let mut p = R::splat(-1.0 / 121_645_100_408_832_000.0);
    p = p.mul_add(z, R::splat(1.0 / 355_687_428_096_000.0));
    p = p.mul_add(z, R::splat(-1.0 / 1_307_674_368_000.0));
    p = p.mul_add(z, R::splat(1.0 / 6_227_020_800.0));
    p = p.mul_add(z, R::splat(-1.0 / 39_916_800.0));
    p = p.mul_add(z, R::splat(1.0 / 362_880.0));
    p = p.mul_add(z, R::splat(-1.0 / 5_040.0));
    p = p.mul_add(z, R::splat(1.0 / 120.0));
    p = p.mul_add(z, R::splat(-1.0 / 6.0));
    let sine = p.mul_add(z * angle, angle);
    R::splat(0.5).mul_add(sine, R::splat(0.5))
}

/// Heat flux between its continuum and free-molecular values, in their unit: qc/√(1 + (qc/qf)²).
///
/// The flux is the free-molecular one in thin air (where the continuum formula gives too much) and
/// the continuum one in thick air, and never above either. Matting, J. Spacecraft Rockets 8 (1971),
/// from memory. Both must be 0 or more; 0 where both are.
#[inline(always)]
pub fn bridged_heat_flux<R: Real>(continuum: R, free_molecular: R) -> R {
    let squares = continuum.mul_add(continuum, free_molecular * free_molecular);
    continuum * free_molecular / squares.max(R::splat(1e-300)).sqrt()
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;
    use crate::numeric::Lanes;

    /// U.S. Standard Atmosphere 1976, Table I: 6.6332e-8 m at sea level, 0.142 m at 100 km (from
    /// memory); density and molar mass there from the same report (published, and computed).
    #[test]
    fn mean_free_paths_of_the_standard_atmosphere_are_met() {
        let air = Molecules::STANDARD_AIR;
        assert!((air.mean_free_path_m(1.225, 288.15) / 6.6332e-8 - 1.0).abs() < 3e-5);
        let high = Molecules {
            molar_mass_kg_kmol: 28.40,
            ..air
        };
        assert!((high.mean_free_path_m(5.604e-7, 195.08) / 0.142 - 1.0).abs() < 4e-3);
    }

    #[test]
    fn hot_soft_molecules_fly_further() {
        let soft = Molecules {
            viscosity_exponent: 0.74,
            ..Molecules::STANDARD_AIR
        };
        let ratio = soft.mean_free_path_m(1e-6, 4.0 * 273.15) / soft.mean_free_path_m(1e-6, 273.15);
        assert!((ratio - f64::powf(4.0, 0.24)).abs() < 1e-12);
        let kn = Real::exp(soft.ln_knudsen_density(300.0, 3.5) - Real::ln(1e-7));
        assert!((kn * 3.5 / soft.mean_free_path_m(1e-7, 300.0) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn speed_ratio_is_speed_over_the_most_probable_one() {
        // √(2 R T/M) of air at 288.15 K is 406.7 m/s: √(2/1.4) / 1 of the speed of sound, 340.294 m/s
        // (U.S. Standard Atmosphere 1976, published).
        let ratio = Molecules::STANDARD_AIR.speed_ratio(340.294, 288.15);
        assert!((ratio / 0.7f64.sqrt() - 1.0).abs() < 1e-5, "{ratio}");
    }

    #[test]
    fn the_bridge_is_sine_squared_between_its_ends() {
        let bridge = Bridge::between(1e-3, 10.0).unwrap();
        for i in -10..=50 {
            let log = -3.0 + f64::from(i) * 0.1;
            let ln_kn = log * std::f64::consts::LN_10;
            let angle = std::f64::consts::PI * (3.0 + log.clamp(-3.0, 1.0)) / 8.0;
            let expected = angle.sin() * angle.sin();
            assert!((bridge.share(ln_kn) - expected).abs() < 1e-13, "{log}");
            assert!(
                (Bridge::USUAL.share(ln_kn) - expected).abs() < 1e-13,
                "{log}"
            );
            assert_eq!(bridge.share(Lanes::splat(ln_kn)).0[3], bridge.share(ln_kn));
        }
        assert!((bridge.coefficient(-std::f64::consts::LN_10, 1.6, 2.2) - 1.9).abs() < 1e-13);
    }

    #[test]
    fn a_bridge_needs_two_rising_knudsen_numbers() {
        for (low, high) in [
            (0.0, 1.0),
            (1.0, 1.0),
            (2.0, 1.0),
            (f64::NAN, 1.0),
            (1.0, f64::INFINITY),
        ] {
            assert_eq!(Bridge::between(low, high), None);
        }
    }

    #[test]
    fn bridged_heat_is_below_both_and_tends_to_the_smaller() {
        assert!((bridged_heat_flux(3.0, 4.0) - 2.4_f64).abs() < 1e-15);
        assert!((bridged_heat_flux(1.0, 1e6) - 1.0_f64).abs() < 1e-12);
        assert!((bridged_heat_flux(1e6, 2.0) - 2.0_f64).abs() < 1e-11);
        assert_eq!(bridged_heat_flux(0.0, 0.0), 0.0);
    }
}
