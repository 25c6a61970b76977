//! One lane of eight, and eight lanes at rest.

use super::dynamics::{Felt, Sample, State};
use super::lockstep::{Hot, Peaks};
use super::stepper::Trial;
use crate::craft::Vehicle;
use crate::numeric::Real;
use crate::numeric::lanes::{Lanes, WIDTH};
use crate::world::planet::{AirSample, Planet};

pub(super) fn lane_state(y: &State<Lanes>, lane: usize) -> State<f64> {
    let mut out = [0.0; 8];
    for (c, value) in out.iter_mut().enumerate() {
        *value = y[c].0[lane];
    }
    out
}

pub(super) fn felt_of(felt: &Felt<Lanes>, lane: usize) -> Felt<f64> {
    Felt {
        altitude: felt.altitude.0[lane],
        altitude_rate: felt.altitude_rate.0[lane],
        speed: felt.speed.0[lane],
        speed_rate: felt.speed_rate.0[lane],
        deceleration: felt.deceleration.0[lane],
        deceleration_log_rate: felt.deceleration_log_rate.0[lane],
        heat_flux: felt.heat_flux.0[lane],
        heat_flux_log_rate: felt.heat_flux_log_rate.0[lane],
        dynamic_pressure: felt.dynamic_pressure.0[lane],
    }
}

/// Lanes that hold a harmless state: at rest above the equator, stepping in place.
pub(super) fn resting_lanes(planet: &Planet) -> Hot {
    let zero = Lanes::ZERO;
    let one = Lanes::splat(1.0);
    let felt = Felt {
        altitude: zero,
        altitude_rate: zero,
        speed: one,
        speed_rate: zero,
        deceleration: zero,
        deceleration_log_rate: zero,
        heat_flux: zero,
        heat_flux_log_rate: zero,
        dynamic_pressure: zero,
    };
    let mut y = [zero; 8];
    y[0] = Lanes::splat(planet.equatorial_radius_m + planet.interface_m);
    y[4] = Lanes::splat(planet.circular_speed_m_s());
    Hot {
        sample: Sample {
            vehicle: Vehicle {
                drag_area_per_mass: zero,
                lift_up: zero,
                lift_right: zero,
                sensed_over_drag: one,
                heating_factor: zero,
            },
            air: AirSample {
                sigmas: zero,
                ln_factor: zero,
            },
            lifting: false,
        },
        y,
        k: [zero; 8],
        felt,
        before: felt,
        trial: Trial {
            y,
            k: [zero; 8],
            felt,
            error_squared: zero,
        },
        time: zero,
        step: zero,
        tried: zero,
        peaks: Peaks {
            deceleration: zero,
            rise: zero,
            heat_flux: zero,
            pressure: zero,
            lowest: zero,
        },
        flags: [0; WIDTH],
    }
}
