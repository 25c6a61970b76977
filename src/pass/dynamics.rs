//! The equations of motion and what is felt along the way, written once over [`Real`].
//!
//! State: position and velocity in the body-centred inertial frame, stagnation heat load, and the
//! work of drag as a speed (∫ drag acceleration dt).

use super::models::Models;
use crate::craft::Vehicle;
use crate::craft::ship_models::Stream;
use crate::numeric::{Real, Vec3};
use crate::world::planet::AirSample;
use crate::world::shape::Place;

/// Cosine of the flight-path angle below which lift fades to nothing: within 1.15 deg of the vertical
/// the bank angle loses its meaning, and full lift would flip from side to side.
const VERTICAL: f64 = 0.02;

/// Position (m), velocity (m/s), heat load (J/m²), work of drag as a speed (m/s).
pub type State<R> = [R; 8];

/// One sample of ship and air, or eight.
#[derive(Debug, Clone, Copy)]
pub struct Sample<R> {
    /// The ship.
    pub vehicle: Vehicle<R>,
    /// The air.
    pub air: AirSample<R>,
    /// Whether any lift is to be computed; false only where lift is 0, and the bits are the same.
    pub lifting: bool,
}

/// What the ship feels at a moment, with the rates that follow from the equations.
#[derive(Debug, Clone, Copy)]
pub struct Felt<R> {
    /// Height above the ellipsoid, m.
    pub altitude: R,
    /// Its rate, m/s.
    pub altitude_rate: R,
    /// Speed against the air, m/s.
    pub speed: R,
    /// Its rate, m/s².
    pub speed_rate: R,
    /// Sensed (aerodynamic) acceleration, m/s².
    pub deceleration: R,
    /// d ln(deceleration)/dt, 1/s.
    pub deceleration_log_rate: R,
    /// Stagnation heat flux, W/m².
    pub heat_flux: R,
    /// d ln(heat flux)/dt, 1/s.
    pub heat_flux_log_rate: R,
    /// Dynamic pressure, Pa.
    pub dynamic_pressure: R,
    /// d ln(dynamic pressure)/dt, 1/s; that of the deceleration where coefficients are constant.
    pub dynamic_pressure_log_rate: R,
}

/// Position part of a state.
#[inline(always)]
pub fn position<R: Real>(y: &State<R>) -> Vec3<R> {
    Vec3::new(y[0], y[1], y[2])
}

/// Velocity part of a state.
#[inline(always)]
pub fn velocity<R: Real>(y: &State<R>) -> Vec3<R> {
    Vec3::new(y[3], y[4], y[5])
}

/// Derivative of the state, and what is felt there.
///
/// Callers that need only one of the two lose nothing: everything is inlined.
#[inline(always)]
pub fn derivative<R: Real>(
    models: &Models,
    sample: &Sample<R>,
    y: &State<R>,
) -> (State<R>, Felt<R>) {
    let planet = &models.planet;
    let (place, v) = (Place::new(position(y)), velocity(y));
    let vehicle = &sample.vehicle;
    let altitude = planet.ellipsoid.altitude(&place);
    let air = planet.air(altitude, place.r, &sample.air);
    let sqrt_density = (air.ln_density * R::splat(0.5)).exp();
    let density = sqrt_density * sqrt_density;
    let relative = planet.air_relative(place.r, v, altitude, &sample.air);
    let speed_squared = relative.dot(relative);
    let speed = speed_squared.sqrt();
    let half_density = R::splat(0.5) * density;
    let found = coefficients(models, vehicle, (altitude, air.ln_density), speed);
    let drag_per_speed = half_density * (vehicle.drag_area_per_mass * found.drag) * speed;
    let drag = drag_per_speed * speed;

    let mut acceleration = relative.scale_add(-drag_per_speed, planet.gravity(&place));
    let inverse_speed = R::splat(1.0) / speed.max(R::splat(1e-9));
    if sample.lifting {
        // Lift: the part of the radius across the wind, turned about the wind by the bank angle.
        let wind = relative.scale(inverse_speed);
        let up = place.r.scale(place.inverse_radius);
        let across = wind.scale_add(-up.dot(wind), up);
        let lift = drag * found.lift_over_drag
            / across.dot(across).max(R::splat(VERTICAL * VERTICAL)).sqrt();
        acceleration = across.scale_add(lift * vehicle.lift_up, acceleration);
        let right = wind.cross(up);
        acceleration = right.scale_add(lift * vehicle.lift_right, acceleration);
    }

    let altitude_rate = planet.ellipsoid.altitude_rate(&place, v, altitude);
    // The air turns with the body: d(v - ω × r)/dt = acceleration - ω × v.
    let turning = R::splat(planet.rotation_rad_s);
    let frame = Vec3::new(turning * v.y, -(turning * v.x), R::splat(0.0));
    let speed_rate = relative.dot(acceleration + frame) * inverse_speed;
    let waves = planet.small_scale_rate((altitude, altitude_rate), (place.r, v), &sample.air);
    let density_log_rate = air.ln_density_slope_per_m.mul_add(altitude_rate, waves);
    let speed_log_rate = speed_rate * inverse_speed;
    let heating = models.ship.heating(
        vehicle,
        &Stream {
            ln_density: air.ln_density,
            sqrt_density,
            density_log_rate,
            speed,
            speed_log_rate,
        },
    );
    let rates = [
        v.x,
        v.y,
        v.z,
        acceleration.x,
        acceleration.y,
        acceleration.z,
        heating.flux,
        drag,
    ];
    let sound_log_rate = found.inverse_sound_log_slope * altitude_rate;
    let pressure_log_rate = speed_log_rate.mul_add(R::splat(2.0), density_log_rate);
    let felt = Felt {
        altitude,
        altitude_rate,
        speed,
        speed_rate,
        deceleration: drag * found.sensed_over_drag,
        deceleration_log_rate: pressure_log_rate
            + found.log_rate(speed_log_rate + sound_log_rate, -density_log_rate),
        heat_flux: heating.flux,
        heat_flux_log_rate: heating.log_rate,
        dynamic_pressure: half_density * speed_squared,
        dynamic_pressure_log_rate: pressure_log_rate,
    };
    (rates, felt)
}

/// What the coefficients are at a moment. Without a grid drag and lift over drag are 1: [`Vehicle`] has them.
pub(crate) struct Found<R> {
    pub drag: R,
    pub lift_over_drag: R,
    sensed_over_drag: R,
    /// Slopes of ln(sensed force coefficient) with ln M and with ln Kn.
    by_ln_mach: R,
    by_ln_knudsen: R,
    /// d ln(1/speed of sound)/d altitude, 1/m.
    inverse_sound_log_slope: R,
}

impl<R: Real> Found<R> {
    /// Rate of the logarithm of the sensed force coefficient, 1/s.
    #[inline(always)]
    fn log_rate(&self, mach_log_rate: R, ln_knudsen_rate: R) -> R {
        self.by_ln_mach
            .mul_add(mach_log_rate, self.by_ln_knudsen * ln_knudsen_rate)
    }
}

#[inline(always)]
pub(crate) fn coefficients<R: Real>(
    models: &Models,
    vehicle: &Vehicle<R>,
    (altitude, ln_density): (R, R),
    speed: R,
) -> Found<R> {
    let (zero, one) = (R::splat(0.0), R::splat(1.0));
    let Some(aerodynamics) = &models.ship.aerodynamics else {
        return Found {
            drag: one,
            lift_over_drag: one,
            sensed_over_drag: vehicle.sensed_over_drag,
            by_ln_mach: zero,
            by_ln_knudsen: zero,
            inverse_sound_log_slope: zero,
        };
    };
    let (inverse_sound, slope) = models.planet.inverse_sound(altitude);
    let mach = speed * inverse_sound;
    let found = aerodynamics.at(vehicle, mach, ln_density);
    let (drag, lift) = (found.drag, found.lift);
    // Lift as felt: with the factor on lift, and to the power of two below.
    let factor = vehicle
        .lift_up
        .mul_add(vehicle.lift_up, vehicle.lift_right * vehicle.lift_right);
    let lift_over_drag = lift.value / drag.value;
    let share = lift_over_drag * lift_over_drag * factor;
    let sensed_squared = share + one;
    // ln √(D² + f L²): each slope weighs by its own square.
    let weight = one / (drag.value * drag.value * sensed_squared);
    let lifted = lift.value * factor;
    Found {
        drag: drag.value,
        lift_over_drag,
        sensed_over_drag: sensed_squared.sqrt(),
        by_ln_mach: drag.value.mul_add(drag.by_mach, lifted * lift.by_mach) * weight * mach,
        by_ln_knudsen: drag
            .value
            .mul_add(drag.by_ln_knudsen, lifted * lift.by_ln_knudsen)
            * weight,
        inverse_sound_log_slope: slope / inverse_sound,
    }
}
