//! How hot the skin becomes: in balance with what it radiates, or as a thin wall that takes time.
//! Heat that soaks into thickness is in `slab`; what reaches the skin is for the heating models.

use crate::numeric::Real;
use crate::numeric::root::bracketed_root;

/// Stefan-Boltzmann constant, W/(m² K⁴) (SI, exact product of defined constants, rounded).
pub const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;

/// Temperature, K, at which a wall radiates all the heat it takes: (q/(ε σ) + `T_b`⁴)^¼.
///
/// `heat_flux` is the net flux into the wall without radiation, W/m², 0 or more; `emissivity` above 0;
/// `background_k` the temperature of what the wall sees (0 for dark space). A real wall is colder while
/// it warms and where heat flows on into the ship; the heating models' cold-wall flux makes this an
/// upper estimate. Branch-free.
#[inline(always)]
pub fn equilibrium_temperature<R: Real>(heat_flux: R, emissivity: R, background_k: R) -> R {
    let square = background_k * background_k;
    let radiated = heat_flux.max(R::splat(0.0)) / (emissivity * R::splat(STEFAN_BOLTZMANN));
    square.mul_add(square, radiated).sqrt().sqrt()
}

/// A wall so thin that it has one temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThinWall {
    /// Heat capacity of a square metre, J/(m² K): density times thickness times specific heat, above 0.
    pub heat_capacity_j_m2_k: f64,
    /// Emissivity, 0 to 1.
    pub emissivity: f64,
    /// Temperature of what the wall sees, K, 0 or more.
    pub background_k: f64,
}

impl ThinWall {
    /// Rate of temperature, K/s: (q - ε σ (T⁴ - `T_b`⁴))/c, for use beside the equations of motion.
    #[inline(always)]
    #[must_use]
    pub fn rate<R: Real>(&self, temperature_k: R, heat_flux: R) -> R {
        let square = temperature_k * temperature_k;
        let background = self.background_k * self.background_k;
        let net = square.mul_add(square, R::splat(-background * background));
        let radiation = R::splat(-self.emissivity * STEFAN_BOLTZMANN);
        radiation.mul_add(net, heat_flux) * R::splat(1.0 / self.heat_capacity_j_m2_k)
    }

    /// Temperature after `duration_s` of a constant flux, K, exact for any length of step.
    ///
    /// With x = T/`T_e` (`T_e` the equilibrium temperature of the flux) and τ = ε σ `T_e`³ t/c, the wall
    /// follows dx/dτ = 1 - x⁴, so artanh x + arctan x grows by 2τ below equilibrium, and
    /// arcoth x + arctan x above it. `temperature_k` and `heat_flux_w_m2` are 0 or more.
    #[must_use]
    pub fn after(&self, temperature_k: f64, heat_flux_w_m2: f64, duration_s: f64) -> f64 {
        let radiation = self.emissivity * STEFAN_BOLTZMANN / self.heat_capacity_j_m2_k;
        if radiation <= 0.0 {
            return temperature_k + heat_flux_w_m2 * duration_s / self.heat_capacity_j_m2_k;
        }
        let balance = equilibrium_temperature(heat_flux_w_m2, self.emissivity, self.background_k);
        let start = temperature_k.max(0.0);
        if balance <= 1e-6 * start {
            // Cooling to nothing: 1/T³ grows in proportion to time.
            let growth = 3.0 * radiation * start * start * start * duration_s;
            return start / libm::cbrt(1.0 + growth);
        }
        let x = start / balance;
        let tau = radiation * balance * balance * balance * duration_s;
        balance * relaxed(x, tau)
    }

    /// Time, s, in which a small departure from `temperature_k` falls to 1/e by radiation: c/(4 ε σ T³).
    #[must_use]
    pub fn thermal_time_s(&self, temperature_k: f64) -> f64 {
        let cube = temperature_k * temperature_k * temperature_k;
        self.heat_capacity_j_m2_k / (4.0 * self.emissivity * STEFAN_BOLTZMANN * cube)
    }
}

/// The solution of dx/dτ = 1 - x⁴ that begins at `x`, after `tau`.
///
/// In u = artanh(min(x, 1/x)) the growing quantity is u ± arctan(tanh u), plus below equilibrium
/// and minus above; u is never far from the start plus 2τ, so that a bracket is at hand.
fn relaxed(x: f64, tau: f64) -> f64 {
    let sign = if x < 1.0 { 1.0 } else { -1.0 };
    let start = libm::atanh(x.min(1.0 / x));
    // At rest, or so close to it that no number lies between.
    if !start.is_finite() || tau <= 0.0 {
        return x;
    }
    let grown = |u: f64| u + sign * libm::atan(libm::tanh(u));
    let target = grown(start) + 2.0 * tau;
    let (low, high) = if sign > 0.0 {
        (
            start + tau * (1.0 - 1e-12),
            start + 2.0 * tau * (1.0 + 1e-12),
        )
    } else {
        (start + 2.0 * tau * (1.0 - 1e-12), start + 2.0 * tau + 1.0)
    };
    let tolerance = 1e-15 * (1.0 + high);
    let u = bracketed_root(|u| grown(u) - target, low, high, tolerance).unwrap_or(high);
    let ratio = libm::tanh(u);
    if sign > 0.0 { ratio } else { 1.0 / ratio }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;
    use crate::numeric::Lanes;

    const WALL: ThinWall = ThinWall {
        heat_capacity_j_m2_k: 5000.0,
        emissivity: 0.8,
        background_k: 200.0,
    };

    #[test]
    fn at_equilibrium_the_wall_radiates_what_it_takes() {
        let t = equilibrium_temperature(2e5, 0.85, 0.0);
        assert!((0.85 * STEFAN_BOLTZMANN * t * t * t * t / 2e5 - 1.0_f64).abs() < 1e-14);
        assert!((equilibrium_temperature(0.0, 0.85, 250.0) - 250.0_f64).abs() < 1e-12);
        let lanes = Lanes::splat(2e5);
        let wall = equilibrium_temperature(lanes, Lanes::splat(0.85), Lanes::ZERO);
        assert_eq!(wall.0[5], t);
        assert!(
            WALL.rate(equilibrium_temperature(3e4, 0.8, 200.0), 3e4)
                .abs()
                < 1e-12_f64
        );
    }

    /// Fourth-order Runge-Kutta steps of the rate itself.
    fn stepped(wall: &ThinWall, mut t: f64, q: f64, duration: f64) -> f64 {
        let (steps, h) = (20_000, duration / 20_000.0);
        for _ in 0..steps {
            let k1 = wall.rate(t, q);
            let k2 = wall.rate(t + 0.5 * h * k1, q);
            let k3 = wall.rate(t + 0.5 * h * k2, q);
            let k4 = wall.rate(t + h * k3, q);
            t += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
        }
        t
    }

    #[test]
    fn exact_steps_agree_with_many_small_ones() {
        for (start, flux, duration) in [
            (300.0, 1e5, 3.0),
            (300.0, 1e5, 60.0),
            (0.0, 2e4, 400.0),
            (1500.0, 1e4, 30.0),
            (3000.0, 0.0, 500.0),
            (1000.0, 45_000.0, 10.0),
        ] {
            let exact = WALL.after(start, flux, duration);
            let small = stepped(&WALL, start, flux, duration);
            assert!(
                (exact / small - 1.0).abs() < 1e-10,
                "{start} {flux}: {exact} {small}"
            );
        }
    }

    #[test]
    fn steps_compose_and_long_ones_end_in_balance() {
        let once = WALL.after(400.0, 8e4, 50.0);
        let twice = WALL.after(WALL.after(400.0, 8e4, 17.0), 8e4, 33.0);
        assert!((once - twice).abs() < 1e-9);
        let balance = equilibrium_temperature(8e4, 0.8, 200.0);
        for start in [0.0, 400.0, balance, 4000.0] {
            assert!((WALL.after(start, 8e4, 1e5) - balance).abs() < 1e-9);
        }
    }

    #[test]
    fn limiting_cases_have_their_closed_forms() {
        let mirror = ThinWall {
            emissivity: 0.0,
            ..WALL
        };
        assert_eq!(mirror.after(300.0, 1000.0, 10.0), 302.0);
        let space = ThinWall {
            background_k: 0.0,
            ..WALL
        };
        let k = 0.8 * STEFAN_BOLTZMANN / 5000.0;
        let expected = (900.0_f64.powi(-3) + 3.0 * k * 250.0).powf(-1.0 / 3.0);
        assert!((space.after(900.0, 0.0, 250.0) / expected - 1.0).abs() < 1e-13);
        // A small departure falls to 1/e in one thermal time.
        let balance = equilibrium_temperature(8e4, 0.8, 200.0);
        let after = WALL.after(balance + 0.01, 8e4, WALL.thermal_time_s(balance)) - balance;
        assert!((after / 0.01 * std::f64::consts::E - 1.0).abs() < 1e-4);
    }
}
