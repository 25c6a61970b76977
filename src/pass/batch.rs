//! Eight passes in step: each lane has its own step size and its own flight, and takes the next
//! flight the moment one ends.
//!
//! What happens to one lane alone (a peak between steps, a crossing, an end) is rare and is done
//! singly here; the step of all lanes is in `lockstep`.

use super::approach::EntryState;
use super::crossing::{End, StepEnds, end_of_flight};
use super::dynamics::{Felt, Sample, position, velocity};
use super::ending::{Ending, PassResult, bare_result, left_air, untouched};
use super::extremes::look_inside;
use super::lane::{air_of, felt_of, lane_state, resting_lanes, set_air, set_vehicle, vehicle_of};
use super::lockstep::{Bounds, Hot, flag, step_plainest, step_widest};
use super::models::Models;
pub use super::settings::{Instructions, Settings};
use super::stays::Stays;
use super::stepper::ErrorScale;
use super::trace::Trace;
use crate::numeric::lanes::WIDTH;

/// Where in its life a lane is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stage {
    /// No flight; the lane steps in place.
    Rest,
    /// A flight was loaded; its first derivative comes out of a step of length 0.
    Primed,
    /// Flying.
    Flying,
    /// Flying a step that should end just beyond an end of the flight.
    Closing,
    /// At a knot of a piloted flight: waits for the ship of the next stretch.
    Waiting,
}

/// What is kept of a lane's flight outside the step.
#[derive(Debug, Clone, Copy)]
pub(super) struct Flight {
    pub(super) stage: Stage,
    pub(super) number: usize,
    /// Peak heat flux with the nose before a drop, W/m².
    pub(super) flux_before_drop: Option<f64>,
    steps: u32,
    stays: Stays,
}

/// Counts of the work done, for benchmarks and cost tests.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Cost {
    /// Steps of all eight lanes together.
    pub lane_steps: u64,
    /// Steps tried in single flights, the priming one included.
    pub flight_steps: u64,
}

/// Flies any number of passes through eight lanes.
pub struct Batch<'p> {
    pub(super) models: &'p Models,
    pub(super) settings: &'p Settings,
    bounds: Bounds,
    pub(super) first_step_s: f64,
    /// How far beyond a crossing the last step is to end, s.
    moment_s: f64,
    pub(super) hot: Hot,
    pub(super) flights: [Flight; WIDTH],
    /// What was sensed along each flight, where it is held against curves.
    pub(super) traces: [Trace; WIDTH],
    pub(super) cost: Cost,
}

/// The next flight: its number, its start and its sample.
pub type Launch = (usize, EntryState, Sample<f64>);

impl<'p> Batch<'p> {
    /// Most steps of one flight before it counts as failed.
    const MOST_STEPS: u32 = 200_000;

    /// Lanes at rest about the planet of the models.
    #[must_use]
    pub fn new(models: &'p Models, settings: &'p Settings) -> Self {
        let rest = resting_lanes(models);
        let pace = settings.length_scale_m / settings.speed_scale_m_s;
        let lowest_level = settings
            .levels
            .iter()
            .map(|level| level.level_m_s2)
            .fold(f64::INFINITY, f64::min);
        Self {
            models,
            settings,
            bounds: Bounds {
                scale: ErrorScale {
                    position_m: settings.tolerance * settings.length_scale_m,
                    velocity_m_s: settings.tolerance * settings.speed_scale_m_s,
                },
                longest_s: settings.longest_s,
                stop_speed_m_s: settings.stop_speed_m_s,
                lowest_level,
                every: if settings.curves.is_empty() {
                    0
                } else {
                    flag::KEPT
                },
                shortest_step_s: 1e-10 * pace,
            },
            first_step_s: 0.02 * pace,
            moment_s: 2e-5 * pace,
            hot: rest,
            flights: [Flight {
                stage: Stage::Rest,
                number: 0,
                flux_before_drop: None,
                steps: 0,
                stays: Stays::default(),
            }; WIDTH],
            traces: Default::default(),
            cost: Cost::default(),
        }
    }

    /// Flies all passes that `next` gives, and hands each result with its number to `done`,
    /// in the order in which they end.
    pub fn fly(
        &mut self,
        next: impl FnMut() -> Option<Launch>,
        mut done: impl FnMut(usize, PassResult),
    ) -> Cost {
        self.fly_traced(next, |number, result, _| done(number, result))
    }

    /// The same with what was sensed along each flight, which is empty where nothing is held against curves.
    pub fn fly_traced(
        &mut self,
        mut next: impl FnMut() -> Option<Launch>,
        mut done: impl FnMut(usize, PassResult, &Trace),
    ) -> Cost {
        self.cost = Cost::default();
        for lane in 0..WIDTH {
            self.refill(lane, &mut next, &mut |n, result| {
                done(n, result, &Trace::default());
            });
        }
        while self.flights.iter().any(|f| f.stage != Stage::Rest) {
            self.step();
            for lane in 0..WIDTH {
                if let Some(ending) = self.attend(lane) {
                    let result = self.result(lane, ending);
                    done(self.flights[lane].number, result, &self.traces[lane]);
                    self.refill(lane, &mut next, &mut |n, result| {
                        done(n, result, &Trace::default());
                    });
                }
            }
        }
        self.cost
    }

    /// One step of all lanes.
    pub(super) fn step(&mut self) {
        match self.settings.instructions {
            Instructions::Widest => step_widest(self.models, &self.bounds, &mut self.hot),
            Instructions::Plainest => step_plainest(self.models, &self.bounds, &mut self.hot),
        }
        self.cost.lane_steps += 1;
    }

    /// Loads the next flight that meets the air; those that do not are done at once.
    pub(super) fn refill(
        &mut self,
        lane: usize,
        next: &mut impl FnMut() -> Option<Launch>,
        done: &mut impl FnMut(usize, PassResult),
    ) {
        self.cost.flight_steps += u64::from(self.flights[lane].steps);
        self.flights[lane].steps = 0;
        self.flights[lane].stage = Stage::Rest;
        self.hot.step.0[lane] = 0.0;
        while let Some((number, start, sample)) = next() {
            if start.meets_air {
                self.load(lane, number, &start, &sample);
                return;
            }
            done(number, untouched(self.models, &start));
        }
    }

    fn load(&mut self, lane: usize, number: usize, start: &EntryState, sample: &Sample<f64>) {
        let hot = &mut self.hot;
        let (r, v) = (start.position, start.velocity);
        let y = [r.x, r.y, r.z, v.x, v.y, v.z, 0.0, 0.0];
        for (c, value) in y.into_iter().enumerate() {
            hot.y[c].0[lane] = value;
            hot.k[c].0[lane] = 0.0;
        }
        let (to, from) = (&mut hot.sample, sample);
        to.lifting |= from.lifting;
        set_vehicle(&mut to.vehicle, lane, &from.vehicle);
        set_air(&mut to.air, lane, &from.air);
        hot.time.0[lane] = 0.0;
        hot.until.0[lane] = self.settings.longest_s;
        hot.step.0[lane] = 0.0;
        hot.peaks.deceleration.0[lane] = 0.0;
        hot.peaks.rise.0[lane] = 0.0;
        hot.peaks.heat_flux.0[lane] = 0.0;
        hot.peaks.pressure.0[lane] = 0.0;
        hot.peaks.lowest.0[lane] = f64::INFINITY;
        self.flights[lane] = Flight {
            stage: Stage::Primed,
            number,
            flux_before_drop: None,
            steps: 0,
            stays: Stays::default(),
        };
        self.traces[lane].clear();
    }

    /// Single attention after a step; the ending when the flight is over.
    pub(super) fn attend(&mut self, lane: usize) -> Option<Ending> {
        let flight = &mut self.flights[lane];
        match flight.stage {
            Stage::Rest | Stage::Waiting => return None,
            Stage::Primed => {
                flight.steps = 1;
                // A step of length 0 keeps the state whatever it holds: NaN shows only here.
                if !(self.hot.trial.error_squared.0[lane] <= 1.0) {
                    return Some(Ending::Failed);
                }
                let start = felt_of(&self.hot.trial.felt, lane);
                self.note_moment(lane, &start);
                let flight = &mut self.flights[lane];
                if self.hot.until.0[lane] <= 0.0 {
                    flight.stage = Stage::Waiting;
                    return None;
                }
                flight.stage = Stage::Flying;
                self.hot.step.0[lane] = self.first_step_s.min(self.settings.longest_s);
                return None;
            }
            Stage::Flying | Stage::Closing => flight.steps += 1,
        }
        let flags = self.hot.flags[lane] & !flag::KEPT;
        if self.hot.flags[lane] & flag::KEPT != 0 {
            let felt = &self.hot.felt;
            self.traces[lane].push(
                self.hot.time.0[lane],
                felt.deceleration.0[lane],
                felt.deceleration_log_rate.0[lane],
            );
        }
        if flags == 0 && self.flights[lane].steps < Self::MOST_STEPS {
            self.flights[lane].stage = Stage::Flying;
            return None;
        }
        if flags & flag::END != 0 {
            return self.end_inside(lane);
        }
        self.flights[lane].stage = Stage::Flying;
        if flags & (flag::PEAK | flag::HEAT | flag::ONSET | flag::LOW | flag::STAY) != 0 {
            let (before, after) = (
                felt_of(&self.hot.before, lane),
                felt_of(&self.hot.felt, lane),
            );
            self.note_inside(lane, &before, &after);
        }
        if flags & flag::TIME != 0 {
            if self.hot.until.0[lane] >= self.settings.longest_s {
                return Some(Ending::OutOfTime);
            }
            self.flights[lane].stage = Stage::Waiting;
        }
        let stuck = flags & flag::FAIL != 0 || self.flights[lane].steps >= Self::MOST_STEPS;
        stuck.then_some(Ending::Failed)
    }

    /// Takes a moment of the flight in, where it is held against curves.
    pub(super) fn note_moment(&mut self, lane: usize, felt: &Felt<f64>) {
        if !self.settings.curves.is_empty() {
            let (level, rate) = (felt.deceleration, felt.deceleration_log_rate);
            self.traces[lane].push(self.hot.time.0[lane], level, rate);
        }
    }

    /// Follows peaks, lows and stays inside a step that was kept.
    fn note_inside(&mut self, lane: usize, before: &Felt<f64>, after: &Felt<f64>) {
        let inside = look_inside(before, after, self.hot.tried.0[lane]);
        let peaks = &mut self.hot.peaks;
        for (peak, value) in [
            (&mut peaks.deceleration, inside.deceleration),
            (&mut peaks.rise, inside.rise),
            (&mut peaks.heat_flux, inside.heat_flux),
            (&mut peaks.pressure, inside.pressure),
        ] {
            peak.0[lane] = peak.0[lane].max(value);
        }
        peaks.lowest.0[lane] = peaks.lowest.0[lane].min(inside.lowest);
        let tried_s = self.hot.tried.0[lane];
        let stays = &mut self.flights[lane].stays;
        stays.note(&self.settings.levels, (before, after), tried_s);
    }

    /// A good step ended beyond an end of the flight. The first time a shorter one is tried that ends
    /// just beyond; then the flight ends at the crossing inside it.
    fn end_inside(&mut self, lane: usize) -> Option<Ending> {
        let hot = &self.hot;
        let ends = StepEnds {
            y: (lane_state(&hot.y, lane), lane_state(&hot.trial.y, lane)),
            k: (lane_state(&hot.k, lane), lane_state(&hot.trial.k, lane)),
            felt: (felt_of(&hot.before, lane), felt_of(&hot.trial.felt, lane)),
            step_s: hot.tried.0[lane],
        };
        let (sample, stop) = (self.lane_sample(lane), self.settings.stop_speed_m_s);
        if !self.settings.exact_ends {
            return Some(self.end_beyond(lane, &ends));
        }
        let (crossing, end, y, felt) = end_of_flight(self.models, &sample, stop, &ends);
        let part_s = crossing * ends.step_s;
        let shorter_s = part_s + self.moment_s;
        if self.flights[lane].stage == Stage::Flying && shorter_s < ends.step_s {
            self.flights[lane].stage = Stage::Closing;
            self.hot.step.0[lane] = shorter_s;
            return None;
        }
        let hot = &mut self.hot;
        for c in 0..8 {
            hot.y[c].0[lane] = y[c];
        }
        hot.time.0[lane] += part_s;
        hot.tried.0[lane] = part_s;
        hot.felt.speed.0[lane] = felt.speed;
        let rise = felt.deceleration * felt.deceleration_log_rate;
        let peaks = &mut hot.peaks;
        let altitude = if end == End::Ground {
            self.models.floor_m
        } else {
            felt.altitude
        };
        peaks.lowest.0[lane] = peaks.lowest.0[lane].min(altitude).max(self.models.floor_m);
        for (peak, value) in [
            (&mut peaks.deceleration, felt.deceleration),
            (&mut peaks.rise, rise),
            (&mut peaks.heat_flux, felt.heat_flux),
            (&mut peaks.pressure, felt.dynamic_pressure),
        ] {
            peak.0[lane] = peak.0[lane].max(value);
        }
        self.note_inside(lane, &ends.felt.0, &felt);
        self.note_moment(lane, &felt);
        Some(match end {
            End::Interface => self.left_air(lane),
            End::Ground | End::StopSpeed => Ending::Landed,
        })
    }

    /// Ends a flight with the step that went beyond its end.
    fn end_beyond(&mut self, lane: usize, ends: &StepEnds) -> Ending {
        let (felt, hot) = (&ends.felt.1, &mut self.hot);
        for c in 0..8 {
            hot.y[c].0[lane] = ends.y.1[c];
        }
        hot.time.0[lane] += ends.step_s;
        hot.felt.speed.0[lane] = felt.speed;
        hot.peaks.lowest.0[lane] = hot.peaks.lowest.0[lane].min(felt.altitude);
        self.note_inside(lane, &ends.felt.0, felt);
        self.note_moment(lane, felt);
        if felt.altitude > self.models.interface_m {
            self.left_air(lane)
        } else {
            Ending::Landed
        }
    }

    pub(super) fn lane_sample(&self, lane: usize) -> Sample<f64> {
        let sample = &self.hot.sample;
        Sample {
            vehicle: vehicle_of(&sample.vehicle, lane),
            air: air_of(&sample.air, lane),
            lifting: sample.lifting,
        }
    }

    fn left_air(&self, lane: usize) -> Ending {
        let y = lane_state(&self.hot.y, lane);
        left_air(self.models, position(&y), velocity(&y))
    }

    pub(super) fn result(&self, lane: usize, ending: Ending) -> PassResult {
        let hot = &self.hot;
        let y = lane_state(&hot.y, lane);
        let flux = hot.peaks.heat_flux.0[lane];
        let before_drop = self.flights[lane].flux_before_drop;
        PassResult {
            duration_s: hot.time.0[lane],
            peak_deceleration_m_s2: hot.peaks.deceleration.0[lane],
            onset_m_s3: hot.peaks.rise.0[lane],
            peak_heat_flux_w_m2: before_drop.map_or(flux, |before| flux.max(before)),
            peak_heat_flux_by_nose_w_m2: before_drop.map(|before| [before, flux]),
            heat_load_j_m2: y[6],
            peak_dynamic_pressure_pa: hot.peaks.pressure.0[lane],
            lowest_altitude_m: hot.peaks.lowest.0[lane],
            times_above: self.flights[lane].stays.times(&self.settings.levels),
            exposure: self.settings.curves.exposure(&self.traces[lane]),
            speed_lost_m_s: y[7],
            end_relative_speed_m_s: hot.felt.speed.0[lane],
            ..bare_result(self.models, &y, ending)
        }
    }
}
