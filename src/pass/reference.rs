//! One pass by a library integrator: the reference for the lanes, and the source of flight histories.
//!
//! `ode_solvers` Dop853, sparse output, on equations that do not use time (its eighth-order nodes
//! are wrong for those that do). Steps are capped so that the history is dense; the ends of the
//! flight and the peaks are found between its steps.

use super::approach::EntryState;
use super::dynamics::{Felt, Sample, State, derivative, position, velocity};
use super::ending::{Ending, PassResult, left_air};
use super::gather::gather;
use super::models::Models;
use super::settings::Settings;
use super::solver::eighth_order;
use crate::numeric::root::bracketed_root;
use nalgebra::SVector;
use ode_solvers::System;
use ode_solvers::dop_shared::{IntegrationError, SolverResult};

type Scaled = SVector<f64, 8>;

/// One moment of a flown pass.
#[derive(Debug, Clone, Copy)]
pub struct Moment {
    /// Time since the start of the pass, s.
    pub time_s: f64,
    /// State: position, velocity, heat load, work of drag as a speed.
    pub state: State<f64>,
    /// What is felt.
    pub felt: Felt<f64>,
}

/// A flown pass with its history.
#[derive(Debug, Clone)]
pub struct FlownPass {
    /// The history from the start to the end, at most [`FlyOptions::longest_step_s`] apart.
    pub history: Vec<Moment>,
    /// What the pass gave.
    pub result: PassResult,
}

/// How the reference flies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlyOptions {
    /// Relative and absolute tolerance in units of the equatorial radius and the circular speed.
    pub tolerance: f64,
    /// Longest step, s: the spacing of the history.
    pub longest_step_s: f64,
}

impl Default for FlyOptions {
    fn default() -> Self {
        Self {
            tolerance: 1e-12,
            longest_step_s: 1.0,
        }
    }
}

/// Why a reference pass could not be flown.
#[derive(Debug, Clone, thiserror::Error)]
pub enum FlyError {
    /// The integrator gave up.
    #[error("the integration stopped at {time_s:.3} s, altitude {altitude_m:.0} m: {reason}")]
    Stopped {
        /// Time reached, s.
        time_s: f64,
        /// Altitude reached, m.
        altitude_m: f64,
        /// The integrator's own words.
        reason: IntegrationErrorText,
    },
}

/// The words of the integrator's error.
#[derive(Debug, Clone, thiserror::Error)]
#[error("{0}")]
pub struct IntegrationErrorText(String);

impl From<IntegrationError> for IntegrationErrorText {
    fn from(error: IntegrationError) -> Self {
        Self(error.to_string())
    }
}

/// Units in which the state is of order one.
#[derive(Debug, Clone, Copy)]
struct Units {
    length: f64,
    speed: f64,
    heat: f64,
}

impl Units {
    fn new(settings: &Settings) -> Self {
        Self {
            length: settings.length_scale_m,
            speed: settings.speed_scale_m_s,
            heat: 1e8,
        }
    }
    fn scales(&self) -> State<f64> {
        let (l, s) = (self.length, self.speed);
        [l, l, l, s, s, s, self.heat, s]
    }
    fn scaled(&self, y: &State<f64>) -> Scaled {
        let scales = self.scales();
        Scaled::from_fn(|c, _| y[c] / scales[c])
    }
    fn state(&self, y: &Scaled) -> State<f64> {
        let scales = self.scales();
        let mut out = [0.0; 8];
        for (c, value) in out.iter_mut().enumerate() {
            *value = y[c] * scales[c];
        }
        out
    }
}

struct Motion<'a> {
    models: &'a Models,
    sample: &'a Sample<f64>,
    units: Units,
    settings: &'a Settings,
}

/// Rates of the state for one number, for the widest instructions this machine has: fused
/// multiply-adds without them are calls of a library function.
// The dispatch that the macro writes needs one unsafe call of a function whose instructions were just detected.
#[allow(unsafe_code)]
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
pub fn rates(models: &Models, sample: &Sample<f64>, y: &State<f64>) -> State<f64> {
    derivative(models, sample, y).0
}

/// What is felt at a state, for the widest instructions this machine has.
// The dispatch that the macro writes needs one unsafe call of a function whose instructions were just detected.
#[allow(unsafe_code)]
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
pub fn felt_at(models: &Models, sample: &Sample<f64>, y: &State<f64>) -> Felt<f64> {
    derivative(models, sample, y).1
}

/// A part of a flight on which the ship does not change.
#[derive(Debug, Clone, Copy)]
pub struct Leg {
    /// Its end since the start of the pass, s; the last leg goes on to the longest time to fly.
    pub until_s: f64,
    /// Ship and air.
    pub sample: Sample<f64>,
}

impl Motion<'_> {
    fn over(&self, y: &State<f64>) -> bool {
        let felt = felt_at(self.models, self.sample, y);
        (felt.altitude > self.models.interface_m && felt.altitude_rate > 0.0)
            || felt.altitude < self.models.floor_m
            || felt.speed < self.settings.stop_speed_m_s
    }
}

impl System<f64, Scaled> for &Motion<'_> {
    fn system(&self, _time: f64, y: &Scaled, dy: &mut Scaled) {
        let rates = rates(self.models, self.sample, &self.units.state(y));
        let scales = self.units.scales();
        for c in 0..8 {
            dy[c] = rates[c] / scales[c];
        }
    }
    fn solout(&mut self, _time: f64, y: &Scaled, _dy: &Scaled) -> bool {
        self.over(&self.units.state(y))
    }
}

/// Flies one pass with its history.
///
/// # Errors
/// [`FlyError::Stopped`] when the integrator can take no further step.
pub fn fly(
    models: &Models,
    sample: &Sample<f64>,
    start: &EntryState,
    (settings, options): (&Settings, FlyOptions),
) -> Result<FlownPass, FlyError> {
    let leg = Leg {
        until_s: f64::INFINITY,
        sample: *sample,
    };
    fly_legs(models, &[leg], start, (settings, options))
}

/// Flies one pass leg by leg, with its history.
///
/// # Errors
/// [`FlyError::Stopped`] when the integrator can take no further step.
pub fn fly_legs(
    models: &Models,
    legs: &[Leg],
    start: &EntryState,
    (settings, options): (&Settings, FlyOptions),
) -> Result<FlownPass, FlyError> {
    let units = Units::new(settings);
    let (r, v) = (start.position, start.velocity);
    let mut last = [r.x, r.y, r.z, v.x, v.y, v.z, 0.0, 0.0];
    let mut time_s = 0.0;
    let mut history: Vec<Moment> = Vec::new();
    let mut jumps: Vec<(usize, Felt<f64>)> = Vec::new();
    let mut drag_area = legs
        .first()
        .map(|leg| leg.sample.vehicle.drag_area_per_mass);
    let mut ending = if start.meets_air {
        Ending::OutOfTime
    } else {
        Ending::Escaped
    };
    for (index, leg) in legs.iter().enumerate() {
        let sample = &leg.sample;
        let moment = |time_s: f64, state: State<f64>| Moment {
            time_s,
            state,
            felt: felt_at(models, sample, &state),
        };
        if history.is_empty() {
            history.push(moment(0.0, last));
        }
        // What is felt jumps with the drag of the ship.
        let area = Some(sample.vehicle.drag_area_per_mass);
        if area != drag_area {
            jumps.retain(|(at, _)| *at + 1 != history.len());
            jumps.push((history.len() - 1, moment(time_s, last).felt));
            drag_area = area;
        }
        let is_last = index + 1 == legs.len();
        let until = if is_last { f64::INFINITY } else { leg.until_s }.min(settings.longest_s);
        if !start.meets_air || until <= time_s {
            continue;
        }
        let motion = Motion {
            models,
            sample,
            units,
            settings,
        };
        let span = (until - time_s, options.longest_step_s);
        let solved = integrate(&motion, &last, span, options.tolerance);
        let (times, states) = solved.map_err(|error| FlyError::Stopped {
            time_s,
            altitude_m: moment(time_s, last).felt.altitude,
            reason: error.into(),
        })?;
        let flown = times.iter().zip(&states).skip(1);
        history.extend(flown.map(|(&t, y)| moment(time_s + t, units.state(y))));
        let over = history.last().is_some_and(|end| motion.over(&end.state));
        if over {
            ending = end_on_crossing(&motion, &mut history, options.tolerance);
        }
        if let Some(end) = history.last() {
            (time_s, last) = (end.time_s, end.state);
        }
        if over {
            break;
        }
    }
    if ending == Ending::Escaped {
        ending = left_air(models, position(&last), velocity(&last));
    }
    let result = gather(models, settings, (&history, &jumps), ending);
    Ok(FlownPass { history, result })
}

/// Steps of a flight at most.
const MOST_STEPS: u32 = 10_000_000;

/// Integrates from `y0` for `span.0` seconds with steps up to `span.1`, or until the flight is over.
fn integrate(
    motion: &Motion<'_>,
    y0: &State<f64>,
    (length_s, longest_step_s): (f64, f64),
    tolerance: f64,
) -> Result<(Vec<f64>, Vec<Scaled>), IntegrationError> {
    let start = motion.units.scaled(y0);
    let mut stepper = eighth_order(
        motion,
        start,
        (length_s, longest_step_s),
        (tolerance, MOST_STEPS),
    );
    stepper.integrate()?;
    let result: &SolverResult<f64, Scaled> = stepper.results();
    let (times, states) = result.get();
    Ok((times.clone(), states.clone()))
}

/// Replaces the last moment, which lies beyond an end of the flight, by the crossing itself.
fn end_on_crossing(motion: &Motion<'_>, history: &mut Vec<Moment>, tolerance: f64) -> Ending {
    let (Some(beyond), Some(&from)) = (history.pop(), history.last()) else {
        return Ending::Landed;
    };
    let models = motion.models;
    let h = beyond.time_s - from.time_s;
    // The state a part of the step later, integrated afresh so that it is as good as any other.
    let state_after = |part: f64| -> Moment {
        let mut free = motion.settings.clone();
        free.longest_s = f64::INFINITY;
        let still = Motion {
            models,
            sample: motion.sample,
            units: motion.units,
            settings: &free,
        };
        let length = (part * h).max(1e-9);
        let state = integrate_to(&still, &from.state, length, tolerance).unwrap_or(beyond.state);
        Moment {
            time_s: from.time_s + length,
            state,
            felt: felt_at(models, motion.sample, &state),
        }
    };
    let stop = motion.settings.stop_speed_m_s;
    let above = |felt: &Felt<f64>| felt.altitude - models.interface_m;
    let over_ground = |felt: &Felt<f64>| felt.altitude - models.floor_m;
    let too_fast = |felt: &Felt<f64>| felt.speed - stop;
    let mut first: Option<(f64, Ending)> = None;
    let mut consider = |crossed: bool, miss: &dyn Fn(&Felt<f64>) -> f64, ending| {
        if crossed {
            let part = bracketed_root(|part| miss(&state_after(part).felt), 0.0, 1.0, 1e-12);
            let part = part.unwrap_or(0.0);
            if first.is_none_or(|(earlier, _)| part < earlier) {
                first = Some((part, ending));
            }
        }
    };
    consider(above(&beyond.felt) > 0.0, &above, Ending::Escaped);
    consider(
        over_ground(&beyond.felt) < 0.0,
        &over_ground,
        Ending::Landed,
    );
    consider(too_fast(&beyond.felt) < 0.0, &too_fast, Ending::Landed);
    let (part, ending) = first.unwrap_or((1.0, Ending::Landed));
    history.push(state_after(part));
    ending
}

/// The state after `length_s`, without looking for an end.
fn integrate_to(
    motion: &Motion<'_>,
    y0: &State<f64>,
    length_s: f64,
    tolerance: f64,
) -> Option<State<f64>> {
    struct Plain<'a>(&'a Motion<'a>);
    impl System<f64, Scaled> for Plain<'_> {
        fn system(&self, time: f64, y: &Scaled, dy: &mut Scaled) {
            self.0.system(time, y, dy);
        }
    }
    let start = motion.units.scaled(y0);
    let mut stepper = eighth_order(
        Plain(motion),
        start,
        (length_s, length_s),
        (tolerance, MOST_STEPS),
    );
    stepper.integrate().ok()?;
    stepper.y_out().last().map(|y| motion.units.state(y))
}
