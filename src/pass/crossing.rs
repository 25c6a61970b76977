//! The end of a flight inside a step: where it crosses the interface, the ground or a speed.
//!
//! Position is followed by the quintic through position, velocity and acceleration at both ends of the
//! step. It finds the crossing; the state there is only as good as the quintic, so a long step is first
//! tried again to end just beyond.

use super::dynamics::{Felt, Sample, State, derivative};
use crate::numeric::Vec3;
use crate::numeric::root::hermite;
use crate::world::Planet;

/// What ends a flight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    Interface,
    Ground,
    StopSpeed,
}

/// Both ends of a step.
#[derive(Debug, Clone, Copy)]
pub(super) struct StepEnds {
    pub(super) y: (State<f64>, State<f64>),
    pub(super) k: (State<f64>, State<f64>),
    pub(super) felt: (Felt<f64>, Felt<f64>),
    pub(super) step_s: f64,
}

/// The state at a place in [0, 1] of the step.
#[inline(always)]
fn between(ends: &StepEnds, place: f64) -> State<f64> {
    let h = ends.step_s;
    let t = place;
    let mut y = [0.0; 8];
    for c in 0..3 {
        let (x0, x1) = (ends.y.0[c], ends.y.1[c]);
        let (v0, v1) = (ends.y.0[c + 3] * h, ends.y.1[c + 3] * h);
        let (a0, a1) = (ends.k.0[c + 3] * h * h, ends.k.1[c + 3] * h * h);
        // x0 + v0 t + a0 t²/2 + t³ (p + q t + r t²), with the far end met in all three.
        let dx = x1 - (x0 + v0 + 0.5 * a0);
        let dv = v1 - (v0 + a0);
        let da = a1 - a0;
        let p = 10.0 * dx - 4.0 * dv + 0.5 * da;
        let q = -15.0 * dx + 7.0 * dv - da;
        let r = 6.0 * dx - 3.0 * dv + 0.5 * da;
        y[c] = x0 + t * (v0 + t * (0.5 * a0 + t * (p + t * (q + t * r))));
        let rate = v0 + t * (a0 + t * (3.0 * p + t * (4.0 * q + t * 5.0 * r)));
        y[c + 3] = rate / h;
    }
    for c in 6..8 {
        y[c] = hermite(
            ends.y.0[c],
            ends.k.0[c] * h,
            ends.y.1[c],
            ends.k.1[c] * h,
            t,
        );
    }
    y
}

/// The end of a flight inside a step: its place, what it crosses, the state and what is felt there.
// The dispatch that the macro writes needs one unsafe call of a function whose instructions were just detected.
#[allow(unsafe_code)]
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
pub(super) fn end_of_flight(
    planet: &Planet,
    sample: &Sample<f64>,
    stop_speed_m_s: f64,
    ends: &StepEnds,
) -> (f64, End, State<f64>, Felt<f64>) {
    let (place, end) = first_crossing(planet, stop_speed_m_s, ends);
    let y = between(ends, place);
    (place, end, y, derivative(planet, sample, &y).1)
}

/// The earliest crossing inside a step that ends beyond an end: its place, and what it crosses.
#[inline(always)]
fn first_crossing(planet: &Planet, stop_speed_m_s: f64, ends: &StepEnds) -> (f64, End) {
    let (before, after) = (&ends.felt.0, &ends.felt.1);
    let altitude = |y: &State<f64>| planet.altitude_at(Vec3::new(y[0], y[1], y[2]));
    let speed = |y: &State<f64>| {
        let (r, v) = (Vec3::new(y[0], y[1], y[2]), Vec3::new(y[3], y[4], y[5]));
        planet.air_relative(r, v, planet.altitude_at(r)).norm()
    };
    let mut first: Option<(f64, End)> = None;
    let mut consider = |place: f64, end: End| {
        if first.is_none_or(|(earlier, _)| place < earlier) {
            first = Some((place, end));
        }
    };
    let (top, floor) = (planet.interface_m, planet.floor_m);
    if after.altitude > top && after.altitude_rate > 0.0 {
        // Climbing away: nearly straight in time, met from the far end.
        let guess = 1.0 - (after.altitude - top) / (after.altitude_rate * ends.step_s);
        let place = meet(|t| altitude(&between(ends, t)) - top, guess);
        consider(place, End::Interface);
    }
    if after.altitude < floor {
        let fall = after.altitude - before.altitude;
        let guess = (floor - before.altitude) / fall;
        consider(
            meet(|t| floor - altitude(&between(ends, t)), guess),
            End::Ground,
        );
    }
    if after.speed < stop_speed_m_s {
        let guess = (stop_speed_m_s - before.speed) / (after.speed - before.speed);
        consider(
            meet(|t| stop_speed_m_s - speed(&between(ends, t)), guess),
            End::StopSpeed,
        );
    }
    // Only a caller without a crossing comes here; the step's own end is then the end.
    first.unwrap_or((1.0, End::Ground))
}

/// The place in [0, 1] where `beyond`, at least 0 at 1, becomes 0: the latest such place near `guess`,
/// or 0 when it is not below 0 at the start.
#[inline(always)]
fn meet(beyond: impl Fn(f64) -> f64, guess: f64) -> f64 {
    const CLOSE: f64 = 1e-4;
    let mut place = guess.clamp(0.0, 1.0);
    // Nearly always one or two chords from the guess do.
    let (mut other, mut there) = (1.0, beyond(1.0));
    for _ in 0..4 {
        let here = beyond(place);
        if here.abs() < CLOSE {
            return place;
        }
        let next = place - here * (other - place) / (there - here);
        (other, there) = (place, here);
        if !(0.0..=1.0).contains(&next) {
            break;
        }
        place = next;
    }
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    let (mut before, mut after) = (beyond(low), beyond(high));
    if before >= 0.0 && beyond(0.5) >= 0.0 {
        return 0.0;
    }
    for _ in 0..60 {
        let value = beyond(place);
        if value.abs() < CLOSE {
            return place;
        }
        if value < 0.0 {
            (low, before) = (place, value);
        } else {
            (high, after) = (place, value);
        }
        // The chord of the bracket, kept off its ends.
        let chord = low - before * (high - low) / (after - before);
        let margin = 1e-3 * (high - low);
        place = if before < 0.0 {
            chord.clamp(low + margin, high - margin)
        } else {
            0.5 * (low + high)
        };
        if high - low < 1e-13 {
            break;
        }
    }
    place
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quintic_path_is_followed_exactly() {
        let x =
            |t: f64| 1.0 + 2.0 * t - t * t + 0.5 * t.powi(3) + 0.1 * t.powi(4) - 0.03 * t.powi(5);
        let v = |t: f64| 2.0 - 2.0 * t + 1.5 * t * t + 0.4 * t.powi(3) - 0.15 * t.powi(4);
        let a = |t: f64| -2.0 + 3.0 * t + 1.2 * t * t - 0.6 * t.powi(3);
        let felt = Felt {
            altitude: 0.0,
            altitude_rate: 0.0,
            speed: 0.0,
            speed_rate: 0.0,
            deceleration: 0.0,
            deceleration_log_rate: 0.0,
            heat_flux: 0.0,
            heat_flux_log_rate: 0.0,
            dynamic_pressure: 0.0,
        };
        let state = |t: f64| [x(t), 0.0, 0.0, v(t), 0.0, 0.0, 0.0, 0.0];
        let rates = |t: f64| [v(t), 0.0, 0.0, a(t), 0.0, 0.0, 0.0, 0.0];
        let ends = StepEnds {
            y: (state(1.0), state(3.0)),
            k: (rates(1.0), rates(3.0)),
            felt: (felt, felt),
            step_s: 2.0,
        };
        let y = between(&ends, 0.35);
        assert!((y[0] - x(1.7)).abs() < 1e-13 && (y[3] - v(1.7)).abs() < 1e-13);
    }

    #[test]
    fn a_crossing_is_met_from_any_guess() {
        for guess in [-3.0, 0.0, 0.2, 0.9, 1.0, 7.0] {
            let place = meet(|t| t * t * 1e8 - 2e7, guess);
            assert!((place - 0.2_f64.sqrt()).abs() < 1e-9);
        }
    }
}
