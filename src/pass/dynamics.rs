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
/// the bank angle loses its meaning, and full lift would flip from side to side. What is sensed fades with it.
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
    let inverse_speed = R::splat(1.0) / speed.max(R::splat(1e-9));
    let wind = relative.scale(inverse_speed);
    let up = place.r.scale(place.inverse_radius);
    let fade = if sample.lifting {
        Fade::of(up, wind)
    } else {
        Fade::none()
    };
    let found = coefficients(models, vehicle, (altitude, air.ln_density), (speed, &fade));
    let drag_per_speed = half_density * (vehicle.drag_area_per_mass * found.drag) * speed;
    let drag = drag_per_speed * speed;

    let mut acceleration = relative.scale_add(-drag_per_speed, planet.gravity(&place));
    if sample.lifting {
        // Lift: the part of the radius across the wind, turned about the wind by the bank angle.
        let across = wind.scale_add(-fade.cosine, up);
        let lift = drag * found.lift_over_drag / fade.divisor.sqrt();
        acceleration = across.scale_add(lift * vehicle.lift_up, acceleration);
        let right = wind.cross(up);
        acceleration = right.scale_add(lift * vehicle.lift_right, acceleration);
    }

    let altitude_rate = planet.ellipsoid.altitude_rate(&place, v, altitude);
    // The air turns with the body: d(v - ω × r)/dt = acceleration - ω × v.
    let turning = R::splat(planet.rotation_rad_s);
    let frame = Vec3::new(turning * v.y, -(turning * v.x), R::splat(0.0));
    let against_air = acceleration + frame;
    let speed_rate = relative.dot(against_air) * inverse_speed;
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
    let mut deceleration_log_rate =
        pressure_log_rate + found.log_rate(speed_log_rate + sound_log_rate, -density_log_rate);
    if sample.lifting {
        let up_rate = up.scale_add(-up.dot(v), v).scale(place.inverse_radius);
        let wind_rate = wind
            .scale_add(-speed_rate, against_air)
            .scale(inverse_speed);
        let cosine_rate = up_rate.dot(wind) + up.dot(wind_rate);
        deceleration_log_rate = fade
            .log_rate(cosine_rate)
            .mul_add(found.lift_share, deceleration_log_rate);
    }
    let felt = Felt {
        altitude,
        altitude_rate,
        speed,
        speed_rate,
        deceleration: drag * found.sensed_over_drag,
        deceleration_log_rate,
        heat_flux: heating.flux,
        heat_flux_log_rate: heating.log_rate,
        dynamic_pressure: half_density * speed_squared,
        dynamic_pressure_log_rate: pressure_log_rate,
    };
    (rates, felt)
}

/// How lift fades near the vertical: with the part of the radius across the wind, over [`VERTICAL`].
pub(crate) struct Fade<R> {
    /// Cosine of the angle between the radius and the motion against the air.
    cosine: R,
    /// Square of what the part of the radius across the wind is divided by.
    divisor: R,
    /// Square of the share of lift that is left, 1 away from the vertical.
    squared: R,
}

impl<R: Real> Fade<R> {
    /// No fading, as away from the vertical.
    #[inline(always)]
    pub(crate) fn none() -> Self {
        Self {
            cosine: R::splat(0.0),
            divisor: R::splat(1.0),
            squared: R::splat(1.0),
        }
    }

    #[inline(always)]
    fn of(up: Vec3<R>, wind: Vec3<R>) -> Self {
        let cosine = up.dot(wind);
        let across = wind.scale_add(-cosine, up);
        let square = across.dot(across);
        let divisor = square.max(R::splat(VERTICAL * VERTICAL));
        Self {
            cosine,
            divisor,
            squared: square / divisor,
        }
    }

    /// Rate of the logarithm of the share that is left, 1/s, from that of the cosine.
    #[inline(always)]
    fn log_rate(&self, cosine_rate: R) -> R {
        let square = (self.squared * self.divisor).max(R::splat(1e-12));
        let fading = -(self.cosine * cosine_rate) / square;
        self.squared
            .select_less(R::splat(1.0), fading, R::splat(0.0))
    }
}

/// What the coefficients are at a moment. Without a grid drag and lift over drag are 1: [`Vehicle`] has them.
pub(crate) struct Found<R> {
    pub drag: R,
    pub lift_over_drag: R,
    sensed_over_drag: R,
    /// Square of lift over that of the sensed force.
    lift_share: R,
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
    (speed, fade): (R, &Fade<R>),
) -> Found<R> {
    let (zero, one) = (R::splat(0.0), R::splat(1.0));
    // Lift as felt: with the factor on lift, and to the power of two.
    let factor = vehicle
        .lift_up
        .mul_add(vehicle.lift_up, vehicle.lift_right * vehicle.lift_right)
        * fade.squared;
    let Some(aerodynamics) = &models.ship.aerodynamics else {
        let sensed_squared = factor + one;
        return Found {
            drag: one,
            lift_over_drag: one,
            sensed_over_drag: sensed_squared.sqrt(),
            lift_share: factor / sensed_squared,
            by_ln_mach: zero,
            by_ln_knudsen: zero,
            inverse_sound_log_slope: zero,
        };
    };
    let (inverse_sound, slope) = models.planet.inverse_sound(altitude);
    let mach = speed * inverse_sound;
    let found = aerodynamics.at(vehicle, mach, ln_density);
    let (drag, lift) = (found.drag, found.lift);
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
        lift_share: share / sensed_squared,
        by_ln_mach: drag.value.mul_add(drag.by_mach, lifted * lift.by_mach) * weight * mach,
        by_ln_knudsen: drag
            .value
            .mul_add(drag.by_ln_knudsen, lifted * lift.by_ln_knudsen)
            * weight,
        inverse_sound_log_slope: slope / inverse_sound,
    }
}
