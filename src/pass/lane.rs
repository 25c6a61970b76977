//! One lane of eight, and eight lanes at rest.

use super::dynamics::{Felt, Sample, State};
use super::lockstep::{Hot, Peaks};
use super::stepper::Trial;
use crate::craft::Vehicle;
use crate::craft::radiative::RadiativeNose;
use crate::craft::vehicle::VehicleNumbers;
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
        dynamic_pressure_log_rate: felt.dynamic_pressure_log_rate.0[lane],
    }
}

/// Puts what is felt into a lane.
pub(super) fn set_felt(all: &mut Felt<Lanes>, lane: usize, felt: &Felt<f64>) {
    for (to, from) in [
        (&mut all.altitude, felt.altitude),
        (&mut all.altitude_rate, felt.altitude_rate),
        (&mut all.speed, felt.speed),
        (&mut all.speed_rate, felt.speed_rate),
        (&mut all.deceleration, felt.deceleration),
        (&mut all.deceleration_log_rate, felt.deceleration_log_rate),
        (&mut all.heat_flux, felt.heat_flux),
        (&mut all.heat_flux_log_rate, felt.heat_flux_log_rate),
        (&mut all.dynamic_pressure, felt.dynamic_pressure),
        (
            &mut all.dynamic_pressure_log_rate,
            felt.dynamic_pressure_log_rate,
        ),
    ] {
        to.0[lane] = from;
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
        dynamic_pressure_log_rate: zero,
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
                heating_factor: zero,
                off_trim: zero,
                accommodation: zero,
                radiative_nose: RadiativeNose {
                    ln_radius: zero,
                    exponent_cap: one,
                },
                radiative_factor: one,
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
        per_turn: Lanes::ZERO,
        phase: Lanes::ZERO,
    };
    let nowhere = Vec3::new(Lanes::ZERO, Lanes::ZERO, Lanes::ZERO);
    let mut all = AirSample {
        sigmas: Lanes::ZERO,
        ln_factor: Lanes::ZERO,
        stretch: Lanes::ZERO,
        wind_m_s: Lanes::ZERO,
        waves: Waves {
            waves: [still; COUNT],
            toward: nowhere,
            ahead: nowhere,
        },
    };
    for lane in 0..WIDTH {
        set_air(&mut all, lane, air);
    }
    all
}

/// Every number of a vehicle, in one order.
fn numbers<R>(vehicle: &Vehicle<R>) -> [&R; 9] {
    let nose = &vehicle.radiative_nose;
    [
        &vehicle.drag_area_per_mass,
        &vehicle.lift_up,
        &vehicle.lift_right,
        &vehicle.heating_factor,
        &vehicle.off_trim,
        &vehicle.accommodation,
        &nose.ln_radius,
        &nose.exponent_cap,
        &vehicle.radiative_factor,
    ]
}

/// Every number of a vehicle, to set, in the order of [`numbers`].
fn numbers_mut<R>(vehicle: &mut Vehicle<R>) -> [&mut R; 9] {
    let nose = &mut vehicle.radiative_nose;
    [
        &mut vehicle.drag_area_per_mass,
        &mut vehicle.lift_up,
        &mut vehicle.lift_right,
        &mut vehicle.heating_factor,
        &mut vehicle.off_trim,
        &mut vehicle.accommodation,
        &mut nose.ln_radius,
        &mut nose.exponent_cap,
        &mut vehicle.radiative_factor,
    ]
}

/// Puts the vehicle of one sample into a lane.
pub(super) fn set_vehicle(all: &mut Vehicle<Lanes>, lane: usize, vehicle: &Vehicle<f64>) {
    for (to, from) in numbers_mut(all).into_iter().zip(numbers(vehicle)) {
        to.0[lane] = *from;
    }
}

/// The vehicle of one lane.
pub(super) fn vehicle_of(all: &Vehicle<Lanes>, lane: usize) -> Vehicle<f64> {
    let mut vehicle = Vehicle::new(&VehicleNumbers::default());
    for (to, from) in numbers_mut(&mut vehicle).into_iter().zip(numbers(all)) {
        *to = from.0[lane];
    }
    vehicle
}

/// Puts the air of one sample into a lane.
pub(super) fn set_air(all: &mut AirSample<Lanes>, lane: usize, air: &AirSample<f64>) {
    all.sigmas.0[lane] = air.sigmas;
    all.ln_factor.0[lane] = air.ln_factor;
    all.stretch.0[lane] = air.stretch;
    all.wind_m_s.0[lane] = air.wind_m_s;
    for (to, from) in all.waves.waves.iter_mut().zip(&air.waves.waves) {
        to.per_m_up.0[lane] = from.per_m_up;
        to.per_turn.0[lane] = from.per_turn;
        to.phase.0[lane] = from.phase;
    }
    let (to, from) = (&mut all.waves, &air.waves);
    for (to, from) in [(&mut to.toward, from.toward), (&mut to.ahead, from.ahead)] {
        (to.x.0[lane], to.y.0[lane], to.z.0[lane]) = (from.x, from.y, from.z);
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
            per_turn: from.per_turn.0[lane],
            phase: from.phase.0[lane],
        };
    }
    let of = |all: &Vec3<Lanes>| Vec3::new(all.x.0[lane], all.y.0[lane], all.z.0[lane]);
    (air.waves.toward, air.waves.ahead) = (of(&all.waves.toward), of(&all.waves.ahead));
    air
}
