//! The end of a flight inside a step: where it crosses the interface, the ground or a speed.
//!
//! Position is followed by the quintic through position, velocity and acceleration at both ends of the
//! step. It finds the crossing; the state there is only as good as the quintic, so a long step is first
//! tried again to end just beyond.

use super::dynamics::{Felt, Sample, State, derivative};
use super::models::Models;
use crate::numeric::Vec3;
use crate::numeric::root::hermite;
use crate::world::planet::AirSample;

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
    models: &Models,
    sample: &Sample<f64>,
    stop_speed_m_s: f64,
    ends: &StepEnds,
) -> (f64, End, State<f64>, Felt<f64>) {
    let (place, end) = first_crossing(models, &sample.air, stop_speed_m_s, ends);
    let y = between(ends, place);
    (place, end, y, derivative(models, sample, &y).1)
}

/// The earliest crossing inside a step that ends beyond an end: its place, and what it crosses.
#[inline(always)]
fn first_crossing(
    models: &Models,
    air: &AirSample<f64>,
    stop_speed_m_s: f64,
    ends: &StepEnds,
) -> (f64, End) {
    let (before, after) = (&ends.felt.0, &ends.felt.1);
    let (top, floor) = (models.interface_m, models.floor_m);
    // Climbing away is nearly straight in time, met from the far end.
    let climb = after.altitude_rate * ends.step_s;
    let fall = after.altitude - before.altitude;
    let slowing = after.speed - before.speed;
    let candidates = [
        (
            after.altitude > top && after.altitude_rate > 0.0,
            End::Interface,
            1.0 - (after.altitude - top) / climb,
        ),
        (
            after.altitude < floor,
            End::Ground,
            (floor - before.altitude) / fall,
        ),
        (
            after.speed < stop_speed_m_s,
            End::StopSpeed,
            (stop_speed_m_s - before.speed) / slowing,
        ),
    ];
    let mut first: Option<(f64, End)> = None;
    for (crossed, end, guess) in candidates {
        if crossed {
            let over = Over {
                models,
                air,
                stop_speed_m_s,
                ends,
                end,
            };
            let place = over.meet(guess);
            if first.is_none_or(|(earlier, _)| place < earlier) {
                first = Some((place, end));
            }
        }
    }
    // Only a caller without a crossing comes here; the step's own end is then the end.
    first.unwrap_or((1.0, End::Ground))
}

/// How far a flight is over one of its ends, along a step.
struct Over<'a> {
    models: &'a Models,
    air: &'a AirSample<f64>,
    stop_speed_m_s: f64,
    ends: &'a StepEnds,
    end: End,
}

impl Over<'_> {
    /// Positive beyond the end: m, or m/s for a speed.
    #[inline(always)]
    fn by(&self, place: f64) -> f64 {
        let y = between(self.ends, place);
        let r = Vec3::new(y[0], y[1], y[2]);
        let altitude = self.models.altitude_at(r);
        match self.end {
            End::Interface => altitude - self.models.interface_m,
            End::Ground => self.models.floor_m - altitude,
            End::StopSpeed => {
                let v = Vec3::new(y[3], y[4], y[5]);
                self.stop_speed_m_s - self.models.air_relative(r, v, altitude, self.air).norm()
            }
        }
    }

    /// The place in [0, 1] where the end is met, near `guess`; 0 when the step begins beyond it.
    #[inline(always)]
    fn meet(&self, guess: f64) -> f64 {
        const CLOSE: f64 = 1e-4;
        let (mut low, mut high) = (0.0_f64, 1.0_f64);
        let (mut before, mut after) = (self.by(low), self.by(high));
        if before >= 0.0 && self.by(0.5) >= 0.0 {
            return 0.0;
        }
        let mut place = guess.clamp(0.0, 1.0);
        for _ in 0..60 {
            let value = self.by(place);
            if value.abs() < CLOSE || high - low < 1e-13 {
                break;
            }
            // The chord from the nearer side of the bracket, kept inside it.
            let slope = if value < 0.0 {
                let slope = (value - before) / (place - low);
                (low, before) = (place, value);
                slope
            } else {
                let slope = (after - value) / (high - place);
                (high, after) = (place, value);
                slope
            };
            let chord = place - value / slope;
            let inside = chord > low && chord < high;
            place = if inside { chord } else { 0.5 * (low + high) };
        }
        place
    }
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
            dynamic_pressure_log_rate: 0.0,
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
}
