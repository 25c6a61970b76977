//! One lane of eight, and eight lanes at rest.

use super::dynamics::{Felt, Sample, State};
use super::lockstep::{Hot, Peaks};
use super::stepper::Trial;
use crate::craft::Vehicle;
use crate::numeric::lanes::{Lanes, WIDTH};
use crate::numeric::{Real, Vec3};
use crate::world::planet::{AirSample, Planet};
use crate::world::waves::{COUNT, Wave, Waves};

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
            air: air_in_lanes(&AirSample::EXACT),
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
        until: one,
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

/// The same air in every lane.
fn air_in_lanes(air: &AirSample<f64>) -> AirSample<Lanes> {
    let still = Wave {
        per_m_up: Lanes::ZERO,
        per_m_along: Lanes::ZERO,
        phase: Lanes::ZERO,
    };
    let along = Vec3::new(Lanes::ZERO, Lanes::ZERO, Lanes::ZERO);
    let mut all = AirSample {
        sigmas: Lanes::ZERO,
        ln_factor: Lanes::ZERO,
        stretch: Lanes::ZERO,
        wind_m_s: Lanes::ZERO,
        waves: Waves {
            waves: [still; COUNT],
            along,
        },
    };
    for lane in 0..WIDTH {
        set_air(&mut all, lane, air);
    }
    all
}

/// Puts the air of one sample into a lane.
pub(super) fn set_air(all: &mut AirSample<Lanes>, lane: usize, air: &AirSample<f64>) {
    all.sigmas.0[lane] = air.sigmas;
    all.ln_factor.0[lane] = air.ln_factor;
    all.stretch.0[lane] = air.stretch;
    all.wind_m_s.0[lane] = air.wind_m_s;
    for (to, from) in all.waves.waves.iter_mut().zip(&air.waves.waves) {
        to.per_m_up.0[lane] = from.per_m_up;
        to.per_m_along.0[lane] = from.per_m_along;
        to.phase.0[lane] = from.phase;
    }
    let (to, from) = (&mut all.waves.along, &air.waves.along);
    (to.x.0[lane], to.y.0[lane], to.z.0[lane]) = (from.x, from.y, from.z);
}

/// Puts a ship into a lane.
pub(super) fn set_vehicle(all: &mut Vehicle<Lanes>, lane: usize, vehicle: &Vehicle<f64>) {
    all.drag_area_per_mass.0[lane] = vehicle.drag_area_per_mass;
    all.lift_up.0[lane] = vehicle.lift_up;
    all.lift_right.0[lane] = vehicle.lift_right;
    all.sensed_over_drag.0[lane] = vehicle.sensed_over_drag;
    all.heating_factor.0[lane] = vehicle.heating_factor;
}

/// The ship of one lane.
pub(super) fn vehicle_of(all: &Vehicle<Lanes>, lane: usize) -> Vehicle<f64> {
    Vehicle {
        drag_area_per_mass: all.drag_area_per_mass.0[lane],
        lift_up: all.lift_up.0[lane],
        lift_right: all.lift_right.0[lane],
        sensed_over_drag: all.sensed_over_drag.0[lane],
        heating_factor: all.heating_factor.0[lane],
    }
}

/// The air of one lane.
pub(super) fn air_of(all: &AirSample<Lanes>, lane: usize) -> AirSample<f64> {
    let mut air = AirSample {
        sigmas: all.sigmas.0[lane],
        ln_factor: all.ln_factor.0[lane],
        stretch: all.stretch.0[lane],
        wind_m_s: all.wind_m_s.0[lane],
        ..AirSample::EXACT
    };
    for (to, from) in air.waves.waves.iter_mut().zip(&all.waves.waves) {
        *to = Wave {
            per_m_up: from.per_m_up.0[lane],
            per_m_along: from.per_m_along.0[lane],
            phase: from.phase.0[lane],
        };
    }
    let along = &all.waves.along;
    air.waves.along = Vec3::new(along.x.0[lane], along.y.0[lane], along.z.0[lane]);
    air
}
