//! One attempted step of eight passes at once: the hot function, compiled once per instruction set.
//!
//! It keeps the step where the error allows, moves the step sizes, keeps the running extremes, and
//! raises a flag on each lane that wants single attention; that is left to `batch`.

use super::dynamics::{Felt, Sample, State};
use super::models::Models;
use super::stepper::{ErrorScale, Trial, attempt};
use crate::numeric::Real;
use crate::numeric::lanes::{Lanes, WIDTH};

/// Why a lane wants single attention after a step.
pub(super) mod flag {
    /// Deceleration or dynamic pressure has a peak inside the step.
    pub(in crate::pass) const PEAK: u64 = 1;
    /// Heat flux has a peak inside the step.
    pub(in crate::pass) const HEAT: u64 = 2;
    /// The rise of deceleration is steepest inside the step.
    pub(in crate::pass) const ONSET: u64 = 4;
    /// The altitude has a low inside the step.
    pub(in crate::pass) const LOW: u64 = 8;
    /// Deceleration is above a level at an end of the step.
    pub(in crate::pass) const STAY: u64 = 16;
    /// The step ends beyond an end of the flight and was not kept.
    pub(in crate::pass) const END: u64 = 32;
    /// The lane has come to the time at which it stops.
    pub(in crate::pass) const TIME: u64 = 64;
    /// The step has become too small.
    pub(in crate::pass) const FAIL: u64 = 128;
    /// The step was kept, where every one of them is wanted.
    pub(in crate::pass) const KEPT: u64 = 256;
}

/// Extremes at the ends of the steps so far.
#[derive(Debug, Clone, Copy)]
pub(super) struct Peaks<R> {
    pub(super) deceleration: R,
    pub(super) rise: R,
    pub(super) heat_flux: R,
    pub(super) pressure: R,
    pub(super) lowest: R,
}

/// Everything the step works on, lane by lane.
#[derive(Debug, Clone)]
pub(super) struct Hot {
    pub(super) sample: Sample<Lanes>,
    pub(super) y: State<Lanes>,
    pub(super) k: State<Lanes>,
    pub(super) felt: Felt<Lanes>,
    /// What was felt at the start of the step just tried.
    pub(super) before: Felt<Lanes>,
    pub(super) trial: Trial<Lanes>,
    pub(super) time: Lanes,
    /// Time at which each lane stops: the longest time to fly, or a knot of its flight, s.
    pub(super) until: Lanes,
    /// Length of the step to try next, s; 0 in a lane at rest.
    pub(super) step: Lanes,
    /// Length of the step just tried, s.
    pub(super) tried: Lanes,
    pub(super) peaks: Peaks<Lanes>,
    pub(super) flags: [u64; WIDTH],
}

/// Constants of the step.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bounds {
    pub(super) scale: ErrorScale,
    pub(super) longest_s: f64,
    pub(super) stop_speed_m_s: f64,
    /// Lowest level whose stay is wanted, m/s²; infinite when there is none.
    pub(super) lowest_level: f64,
    /// Flags of every kept step: [`flag::KEPT`] where a history is wanted, or none.
    pub(super) every: u64,
    /// Shortest step before a flight counts as failed, s.
    pub(super) shortest_step_s: f64,
}

/// The step for the widest instructions this machine has.
// The dispatch that the macro writes needs one unsafe call of a function whose instructions were just detected.
#[allow(unsafe_code)]
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
pub(super) fn step_widest(models: &Models, bounds: &Bounds, hot: &mut Hot) {
    step(models, bounds, hot);
}

/// The step for the instructions every machine of this architecture has.
#[inline(never)]
pub(super) fn step_plainest(models: &Models, bounds: &Bounds, hot: &mut Hot) {
    step(models, bounds, hot);
}

#[inline(always)]
fn step(models: &Models, bounds: &Bounds, hot: &mut Hot) {
    let trial = attempt(
        models,
        &hot.sample,
        (&hot.y, &hot.k),
        hot.step,
        bounds.scale,
    );
    let growth = growth(trial.error_squared);
    let short_of_top = short_of_top(models, hot, &trial.felt);
    let mut kept = Lanes::ZERO;
    for i in 0..WIDTH {
        let outward = trial.felt.altitude_rate.0[i] > 0.0;
        let above = (trial.felt.altitude.0[i] > models.interface_m) & outward;
        let below = trial.felt.altitude.0[i] < models.floor_m;
        let slow = trial.felt.speed.0[i] < bounds.stop_speed_m_s;
        let end = above | below | slow;
        let good = trial.error_squared.0[i] <= 1.0;
        let over_inside = short_of_top.0[i] < f64::INFINITY;
        kept.0[i] = if good & !end & !over_inside { 1.0 } else { 0.0 };
        hot.flags[i] = if good & end { flag::END } else { 0 };
    }
    raise_flags(bounds, hot, &trial.felt, kept);
    hot.before = hot.felt;
    hot.tried = hot.step;
    for c in 0..8 {
        hot.y[c] = choose(kept, trial.y[c], hot.y[c]);
        hot.k[c] = choose(kept, trial.k[c], hot.k[c]);
    }
    hot.felt = choose_felt(kept, &trial.felt, &hot.felt);
    hot.time = kept.mul_add(hot.step, hot.time);
    let rise = hot.felt.deceleration * hot.felt.deceleration_log_rate;
    hot.peaks.deceleration = hot.peaks.deceleration.max(hot.felt.deceleration);
    hot.peaks.rise = hot.peaks.rise.max(rise);
    hot.peaks.heat_flux = hot.peaks.heat_flux.max(hot.felt.heat_flux);
    hot.peaks.pressure = hot.peaks.pressure.max(hot.felt.dynamic_pressure);
    hot.peaks.lowest = hot.peaks.lowest.min(hot.felt.altitude);
    // A step that was not kept may not grow.
    let growth = choose(kept, growth, growth.min(Lanes::splat(1.0)));
    let rest = hot.until - hot.time;
    hot.step = (hot.step * growth)
        .min(rest.max(Lanes::ZERO))
        .min(short_of_top);
    for i in 0..WIDTH {
        let over = rest.0[i] <= 1e-9 * bounds.longest_s;
        let small = (hot.step.0[i] < bounds.shortest_step_s) & !over;
        hot.flags[i] |= if over { flag::TIME } else { 0 };
        hot.flags[i] |= if small { flag::FAIL } else { 0 };
    }
    hot.trial = trial;
}

/// Where a flight rises over the interface inside the step and ends it on the way down again: the time to a little
/// before its highest place, s, at which it is still climbing; infinite everywhere else.
///
/// The climb is followed by the parabola of its rates, which is given 2 % of room. A tenth of a metre over does not count.
#[inline(always)]
fn short_of_top(models: &Models, hot: &Hot, after: &Felt<Lanes>) -> Lanes {
    const SHORT: f64 = 0.98;
    let mut short = Lanes::splat(f64::INFINITY);
    for i in 0..WIDTH {
        let (up, down) = (hot.felt.altitude_rate.0[i], after.altitude_rate.0[i]);
        let to_top = up * hot.step.0[i] / (up - down);
        let climb = 0.5 * up * to_top;
        let over = hot.felt.altitude.0[i] + 1.02 * climb - models.interface_m > 0.1;
        let turns = (up > 0.0) & (down <= 0.0);
        short.0[i] = if turns & over {
            SHORT * to_top
        } else {
            short.0[i]
        };
    }
    short
}

/// Factor on the step for an error: 0.9 error^(-3/16) between 0.2 and 5; a NaN shrinks.
///
/// The error of a step goes with its fifth power; 3/16 is nearly a fifth, and made of square roots.
#[inline(always)]
fn growth(error_squared: Lanes) -> Lanes {
    let error = error_squared.max(Lanes::splat(1e-14));
    let sixteenth = error.sqrt().sqrt().sqrt().sqrt();
    let wanted = Lanes::splat(0.9) / (sixteenth * sixteenth.sqrt());
    let bounded = wanted.min(Lanes::splat(5.0)).max(Lanes::splat(0.2));
    error_squared.select_less(Lanes::splat(1e30), bounded, Lanes::splat(0.2))
}

/// `new` where `kept` is 1, `old` where it is 0.
#[inline(always)]
fn choose(kept: Lanes, new: Lanes, old: Lanes) -> Lanes {
    Lanes::splat(0.5).select_less(kept, new, old)
}

#[inline(always)]
fn choose_felt(kept: Lanes, new: &Felt<Lanes>, old: &Felt<Lanes>) -> Felt<Lanes> {
    Felt {
        altitude: choose(kept, new.altitude, old.altitude),
        altitude_rate: choose(kept, new.altitude_rate, old.altitude_rate),
        speed: choose(kept, new.speed, old.speed),
        speed_rate: choose(kept, new.speed_rate, old.speed_rate),
        deceleration: choose(kept, new.deceleration, old.deceleration),
        deceleration_log_rate: choose(kept, new.deceleration_log_rate, old.deceleration_log_rate),
        heat_flux: choose(kept, new.heat_flux, old.heat_flux),
        heat_flux_log_rate: choose(kept, new.heat_flux_log_rate, old.heat_flux_log_rate),
        dynamic_pressure: choose(kept, new.dynamic_pressure, old.dynamic_pressure),
        dynamic_pressure_log_rate: choose(
            kept,
            new.dynamic_pressure_log_rate,
            old.dynamic_pressure_log_rate,
        ),
    }
}

/// Flags what happened inside a kept step.
#[inline(always)]
fn raise_flags(bounds: &Bounds, hot: &mut Hot, after: &Felt<Lanes>, kept: Lanes) {
    let before = &hot.felt;
    for i in 0..WIDTH {
        let (a0, a1) = (
            before.deceleration_log_rate.0[i],
            after.deceleration_log_rate.0[i],
        );
        let (q0, q1) = (
            before.heat_flux_log_rate.0[i],
            after.heat_flux_log_rate.0[i],
        );
        let bend = (a1 - a0) / hot.step.0[i];
        let steepest = (bend + a0 * a0 > 0.0) & (bend + a1 * a1 < 0.0) & (a0 > 0.0);
        let low = (before.altitude_rate.0[i] < 0.0) & (after.altitude_rate.0[i] >= 0.0);
        let levelled = (before.deceleration.0[i] > bounds.lowest_level)
            | (after.deceleration.0[i] > bounds.lowest_level);
        let mut flags = bounds.every;
        let (p0, p1) = (
            before.dynamic_pressure_log_rate.0[i],
            after.dynamic_pressure_log_rate.0[i],
        );
        let topped = ((a0 > 0.0) & (a1 <= 0.0)) | ((p0 > 0.0) & (p1 <= 0.0));
        flags |= if topped { flag::PEAK } else { 0 };
        flags |= if (q0 > 0.0) & (q1 <= 0.0) {
            flag::HEAT
        } else {
            0
        };
        flags |= if steepest { flag::ONSET } else { 0 };
        flags |= if low { flag::LOW } else { 0 };
        flags |= if levelled { flag::STAY } else { 0 };
        hot.flags[i] |= if kept.0[i] > 0.5 { flags } else { 0 };
    }
}
