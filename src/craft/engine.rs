//! What a speed change costs in propellant and time, and what a long burn loses to gravity by estimate.
//! The burn that is really integrated is in `pass::burn`.

/// Standard gravity that turns specific impulse into exhaust speed, m/s² (ISO 80000-3 value).
pub const STANDARD_GRAVITY_M_S2: f64 = 9.806_65;

/// Exhaust speed of a specific impulse (s), m/s.
#[must_use]
pub fn exhaust_speed_m_s(specific_impulse_s: f64) -> f64 {
    STANDARD_GRAVITY_M_S2 * specific_impulse_s
}

/// Propellant for a speed change by the rocket equation, kg: m (1 - exp(-Δv/(g0 Isp))).
///
/// `mass_kg` is the mass before the burn, `speed_change_m_s` is 0 or more,
/// `specific_impulse_s` above 0.
#[must_use]
pub fn propellant_kg(mass_kg: f64, speed_change_m_s: f64, specific_impulse_s: f64) -> f64 {
    -mass_kg * (-speed_change_m_s / exhaust_speed_m_s(specific_impulse_s)).exp_m1()
}

/// A rocket engine of constant thrust.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thruster {
    /// Thrust, N, above 0.
    pub thrust_n: f64,
    /// Specific impulse, s, above 0.
    pub specific_impulse_s: f64,
}

impl Thruster {
    /// How long a burn takes that changes the speed of a ship of `mass_kg` by `speed_change_m_s` in free space, s.
    #[must_use]
    pub fn burn_time_s(&self, mass_kg: f64, speed_change_m_s: f64) -> f64 {
        propellant_kg(mass_kg, speed_change_m_s, self.specific_impulse_s) / self.flow_kg_s()
    }

    /// Propellant used in a second, kg/s.
    #[must_use]
    pub fn flow_kg_s(&self) -> f64 {
        self.thrust_n / exhaust_speed_m_s(self.specific_impulse_s)
    }
}

/// Robbins' estimate of what a burn loses against an impulse, m/s: (1/24) (μ/r³) t² Δv.
///
/// For a burn of `burn_time_s` about an apsis at radius `radius_m`, its attitude fixed in space
/// (Robbins, AIAA Journal 4(8), 1966, 1417-1423; from memory). Against the integrated burn it is within 4 % while
/// [`robbins_holds`]; for longer burns it overstates the loss, and about twofold for thrust against the velocity.
#[must_use]
pub fn robbins_loss_m_s(
    gm_m3_s2: f64,
    radius_m: f64,
    burn_time_s: f64,
    speed_change_m_s: f64,
) -> f64 {
    let turned = turn_during_burn_rad(gm_m3_s2, radius_m, burn_time_s);
    turned * turned * speed_change_m_s / 24.0
}

/// Whether [`robbins_loss_m_s`] may be relied on: a circular orbit at this radius turns by less than half a radian
/// during the burn. Outside it stays a bound from above.
#[must_use]
pub fn robbins_holds(gm_m3_s2: f64, radius_m: f64, burn_time_s: f64) -> bool {
    turn_during_burn_rad(gm_m3_s2, radius_m, burn_time_s) < 0.5
}

/// √(μ/r³) t: how far a circular orbit at this radius turns in this time, rad.
fn turn_during_burn_rad(gm_m3_s2: f64, radius_m: f64, burn_time_s: f64) -> f64 {
    (gm_m3_s2 / radius_m.powi(3)).sqrt() * burn_time_s
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

    /// Mars, periapsis 3696.19 km, 1000 kg, 320 s, 900 m/s. Burn times and estimates computed from the equations by
    /// an independent program, given to six and four figures.
    #[test]
    fn burn_times_and_the_estimate_of_their_loss_follow_the_equations() {
        for (thrust_n, time_s, loss_m_s) in [(2000.0, 391.222, 4.8680), (400.0, 1956.109, 121.70)] {
            let thruster = Thruster {
                thrust_n,
                specific_impulse_s: 320.0,
            };
            let time = thruster.burn_time_s(1000.0, 900.0);
            assert!((time / time_s - 1.0).abs() < 2e-6, "{time}");
            let loss = robbins_loss_m_s(4.282_837_5e13, 3_696_190.0, time, 900.0);
            assert!((loss / loss_m_s - 1.0).abs() < 1e-4, "{loss}");
        }
        assert!(robbins_holds(4.282_837_5e13, 3_696_190.0, 391.222));
        assert!(!robbins_holds(4.282_837_5e13, 3_696_190.0, 1956.109));
    }
}
