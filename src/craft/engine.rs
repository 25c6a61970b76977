//! What a speed change costs in propellant.

/// Standard gravity that turns specific impulse into exhaust speed, m/s² (ISO 80000-3 value).
pub const STANDARD_GRAVITY_M_S2: f64 = 9.806_65;

/// Propellant for a speed change by the rocket equation, kg: m (1 - exp(-Δv/(g0 Isp))).
///
/// `mass_kg` is the mass before the burn, `speed_change_m_s` is 0 or more,
/// `specific_impulse_s` above 0.
#[must_use]
pub fn propellant_kg(mass_kg: f64, speed_change_m_s: f64, specific_impulse_s: f64) -> f64 {
    -mass_kg * (-speed_change_m_s / (STANDARD_GRAVITY_M_S2 * specific_impulse_s)).exp_m1()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Computed from the rocket equation by an independent program: 1000 kg, 1000 m/s, 320 s.
    #[test]
    fn propellant_follows_the_rocket_equation() {
        let expected = 272.878_228_285_6;
        assert!((propellant_kg(1000.0, 1000.0, 320.0) / expected - 1.0).abs() < 1e-12);
        assert_eq!(propellant_kg(1000.0, 0.0, 320.0), 0.0);
    }
}
