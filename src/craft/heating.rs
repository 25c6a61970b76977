//! Heat flux at the stagnation point of a cold wall.

use crate::numeric::Real;

/// Convective stagnation heat flux over √(nose radius), W/m² · m^½ at k = 1, for a cold wall:
/// √ρ · V³, to be multiplied by k/√Rn.
///
/// Sutton & Graves, NASA TR R-376 (1971), in the SI form q = k √(ρ/Rn) V³. The correlation covers
/// stagnation enthalpies of 2.3 to 116 MJ/kg; radiation and the enthalpy of the wall are neglected.
#[inline(always)]
pub fn sutton_graves<R: Real>(sqrt_density: R, speed_m_s: R) -> R {
    sqrt_density * speed_m_s * speed_m_s * speed_m_s
}

/// k/√Rn, the factor of [`sutton_graves`], in kg^½/m^1.5.
///
/// `constant` is k of the gas (kg^½/m), `nose_radius_m` the effective nose radius, above 0.
#[must_use]
pub fn stagnation_factor(constant: f64, nose_radius_m: f64) -> f64 {
    constant / nose_radius_m.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NASA TFAWS 2012 Aerothermodynamics Course, worked example (published, read in a copy):
    /// density 3.1459e-4 kg/m³, nose radius 1 m, 3535 m/s, k 1.7415e-4 -> 13.6 W/cm². Tolerance 0.5 %.
    #[test]
    fn the_published_worked_example_is_met() {
        let flux = stagnation_factor(1.7415e-4, 1.0) * sutton_graves(3.1459e-4_f64.sqrt(), 3535.0);
        assert!((flux / 1e4 / 13.6 - 1.0).abs() < 5e-3, "{flux}");
    }
}
