//! How large a burn has to be that leaves a wanted apoapsis, and what thrust would do where it cannot be done.

use super::burn::{Burn, BurnError, Burned, Burner, DEEPEST};
use crate::craft::engine::{Thruster, exhaust_speed_m_s};
use crate::numeric::root::bracketed_root;
use std::f64::consts::TAU;

/// One burn of a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlannedBurn {
    /// The ship before it.
    pub burner: Burner,
    /// The burn.
    pub burn: Burn,
    /// What it leaves.
    pub burned: Burned,
    /// Apoapsis radius it is for, m.
    pub apoapsis_m: f64,
    /// The impulse at periapsis that does the same, m/s.
    pub impulse_m_s: f64,
}

/// Why a burn cannot be sized.
pub(super) enum Shortfall {
    /// The engine would have to be on where it may not be, or for more than one way round.
    Weak,
    /// The integration failed.
    Burn(BurnError),
}

/// The burn with the best start that leaves this apoapsis radius (m), in less than one way round the body.
pub(super) fn burn_to(burner: &Burner, apoapsis_m: f64) -> Result<PlannedBurn, Shortfall> {
    /// Of the speed change, relative.
    const TOLERANCE: f64 = 1e-8;
    let gm = burner.conic.gm_m3_s2;
    let r_p = burner.conic.periapsis_radius_m;
    let impulse_m_s = burner.impulse_m_s(-2.0 * gm / (r_p + apoapsis_m.max(r_p)));
    let most = 3.0 * exhaust_speed_m_s(burner.thruster.specific_impulse_s);
    // How far the energy is above that of an orbit with the wanted apoapsis and the periapsis that it really has.
    let above = |speed: f64| -> Result<(f64, Burn, Burned), BurnError> {
        let (burn, burned) = burner.best_start(speed)?;
        let r_p = burned.conic.periapsis_radius_m;
        let wanted = -2.0 * gm / (r_p + apoapsis_m.max(r_p));
        Ok((burned.conic.twice_energy - wanted, burn, burned))
    };
    let mut high = impulse_m_s * 1.02;
    let mut step = 0.04 * impulse_m_s;
    let done = |burned: &Burned, burn: Burn| PlannedBurn {
        burner: *burner,
        burn,
        burned: *burned,
        apoapsis_m,
        impulse_m_s,
    };
    loop {
        if high > most {
            return Err(Shortfall::Weak);
        }
        let (excess, _, burned) = above(high).map_err(Shortfall::Burn)?;
        // The engine is still on where it may not be: what is left of the burn no longer counts. And what goes once
        // round the body is no burn at a periapsis.
        let too_far = burned.end_radius_m > burner.farthest_m * (1.0 + 1e-9);
        let too_deep = burned.end_radius_m < DEEPEST * r_p;
        if too_far || too_deep || burned.swept_rad >= TAU {
            return Err(Shortfall::Weak);
        }
        if excess <= 0.0 {
            break;
        }
        high += step;
        step *= 2.0;
    }
    let mut failed = None;
    let miss = |speed: f64| match above(speed) {
        Ok((excess, ..)) => excess,
        Err(error) => {
            failed = Some(error);
            f64::NAN
        }
    };
    let low = 0.98 * impulse_m_s;
    let speed = bracketed_root(miss, low, high, TOLERANCE * impulse_m_s).unwrap_or(high);
    if let Some(error) = failed {
        return Err(Shortfall::Burn(error));
    }
    let (_, burn, burned) = above(speed).map_err(Shortfall::Burn)?;
    Ok(done(&burned, burn))
}

/// Thrust with which a burner reaches this apoapsis, to some per cent, N.
pub(super) fn needed_thrust_n(burner: &Burner, apoapsis_m: f64) -> Option<f64> {
    let reaches = |thrust_n: f64| {
        let stronger = Burner {
            thruster: Thruster {
                thrust_n,
                ..burner.thruster
            },
            ..*burner
        };
        burn_to(&stronger, apoapsis_m).is_ok()
    };
    let mut low = burner.thruster.thrust_n;
    let mut high = 2.0 * low;
    for _ in 0..40 {
        if reaches(high) {
            for _ in 0..5 {
                let middle = (low * high).sqrt();
                if reaches(middle) {
                    high = middle;
                } else {
                    low = middle;
                }
            }
            return Some(high);
        }
        low = high;
        high *= 2.0;
    }
    None
}
