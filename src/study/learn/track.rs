//! One flight as an instrument would see it: altitude, speed and deceleration at any time, before the
//! entry interface and after it too.

use crate::ensemble::Problem;
use crate::ensemble::problem::{Numbers, SampleNumber};
use crate::numeric::Vec3;
use crate::pass::dynamics::{State, position, velocity};
use crate::pass::reference::{FlyOptions, Moment, felt_at, fly, rates};
use crate::pass::{EntryState, Models, Sample};
use crate::scenario::log_columns::Channel;

/// How the flights of a fit are flown: the tolerance keeps altitudes to millimetres.
const OPTIONS: FlyOptions = FlyOptions {
    tolerance: 1e-11,
    longest_step_s: 4.0,
};

/// What is measured at a moment, at the places of [`Channel::ALL`], SI.
pub type Readings = [f64; Channel::COUNT];

/// A moment with its rates.
#[derive(Debug, Clone, Copy)]
struct Knot {
    time_s: f64,
    state: State<f64>,
    rates: State<f64>,
}

/// A flown pass that can be read at any time.
#[derive(Debug, Clone)]
pub struct Track {
    models: Models,
    sample: Sample<f64>,
    knots: Vec<Knot>,
}

impl Track {
    /// Flies a pass with these numbers, from `span.0` (below 0 for a stretch before the interface) to `span.1`
    /// after the entry interface, s, or down to the ground. `None` when the numbers give no flight.
    #[must_use]
    pub fn fly(
        problem: &Problem,
        (aim_m, numbers): (f64, &Numbers),
        sample: SampleNumber,
        span: (f64, f64),
    ) -> Option<Self> {
        let (start, sample) = problem.launch(aim_m, numbers, sample)?;
        if !start.meets_air {
            return None;
        }
        let mut models = problem.models().clone();
        // The ship is followed out of the air as well.
        models.planet.interface_m = f64::INFINITY;
        let mut settings = problem.settings().clone();
        settings.longest_s = span.1.max(1.0);
        let flown = fly(&models, &sample, &start, (&settings, OPTIONS)).ok()?;
        let mut moments = Vec::new();
        if span.0 < 0.0 {
            settings.longest_s = -span.0;
            moments = before(&sample, &start, &|still, turned| {
                let back = fly(&models, still, turned, (&settings, OPTIONS)).ok()?;
                Some(back.history)
            })?;
        }
        moments.extend(
            flown
                .history
                .iter()
                .map(|moment| (moment.time_s, moment.state)),
        );
        let knots = moments
            .into_iter()
            .map(|(time_s, state)| Knot {
                time_s,
                state,
                rates: rates(&models, &sample, &state),
            })
            .collect();
        Some(Self {
            models,
            sample,
            knots,
        })
    }

    /// First and last time that can be read, s after the entry interface.
    #[must_use]
    pub fn span(&self) -> (f64, f64) {
        let at = |knot: Option<&Knot>| knot.map_or(0.0, |knot| knot.time_s);
        (at(self.knots.first()), at(self.knots.last()))
    }

    /// What is measured at a time, s after the entry interface; `None` outside the flight.
    #[must_use]
    pub fn at(&self, time_s: f64) -> Option<Readings> {
        let after = self.knots.partition_point(|knot| knot.time_s < time_s);
        let next = self.knots.get(after)?;
        let state = if after == 0 {
            (next.time_s == time_s).then_some(next.state)?
        } else {
            between(&self.knots[after - 1], next, time_s)
        };
        let felt = felt_at(&self.models, &self.sample, &state);
        Some([
            felt.altitude,
            position(&state).norm(),
            felt.speed,
            velocity(&state).norm(),
            felt.deceleration,
        ])
    }

    /// Lowest altitude of the flight, m.
    #[must_use]
    pub fn lowest_m(&self) -> f64 {
        self.knots
            .iter()
            .map(|knot| self.models.altitude_at(position(&knot.state)))
            .fold(f64::INFINITY, f64::min)
    }
}

/// Flies a sample from a start and gives its history.
type Fly<'a> = dyn Fn(&Sample<f64>, &EntryState) -> Option<Vec<Moment>> + 'a;

/// The way to the start in order of time: flown backwards from it without air, which is not felt there.
fn before(
    sample: &Sample<f64>,
    start: &EntryState,
    fly: &Fly<'_>,
) -> Option<Vec<(f64, State<f64>)>> {
    let mut still = *sample;
    still.vehicle.drag_area_per_mass = 0.0;
    let turned = EntryState {
        velocity: Vec3::new(-start.velocity.x, -start.velocity.y, -start.velocity.z),
        ..*start
    };
    let history = fly(&still, &turned)?;
    let forward = history.iter().skip(1).rev().map(|moment| {
        let mut state = moment.state;
        for velocity in &mut state[3..6] {
            *velocity = -*velocity;
        }
        (state[6], state[7]) = (0.0, 0.0);
        (-moment.time_s, state)
    });
    Some(forward.collect())
}

/// The state between two moments: position by the quintic through positions, velocities and accelerations of
/// both, everything else by the cubic through values and rates.
fn between(a: &Knot, b: &Knot, time_s: f64) -> State<f64> {
    let h = b.time_s - a.time_s;
    let t = (time_s - a.time_s) / h;
    let (t2, t3) = (t * t, t * t * t);
    // Weights of value and rate at both ends of the cubic.
    let cubic = [
        2.0 * t3 - 3.0 * t2 + 1.0,
        (t3 - 2.0 * t2 + t) * h,
        3.0 * t2 - 2.0 * t3,
        (t3 - t2) * h,
    ];
    let (t4, t5) = (t2 * t2, t2 * t3);
    // Weights of value, rate and second rate at both ends of the quintic.
    let quintic = [
        1.0 - 10.0 * t3 + 15.0 * t4 - 6.0 * t5,
        (t - 6.0 * t3 + 8.0 * t4 - 3.0 * t5) * h,
        (0.5 * t2 - 1.5 * t3 + 1.5 * t4 - 0.5 * t5) * h * h,
        10.0 * t3 - 15.0 * t4 + 6.0 * t5,
        (-4.0 * t3 + 7.0 * t4 - 3.0 * t5) * h,
        (0.5 * t3 - t4 + 0.5 * t5) * h * h,
    ];
    let mut state = [0.0; 8];
    for c in 0..3 {
        let ends = [
            a.state[c],
            a.rates[c],
            a.rates[c + 3],
            b.state[c],
            b.rates[c],
            b.rates[c + 3],
        ];
        state[c] = quintic.iter().zip(ends).map(|(w, v)| w * v).sum();
    }
    for c in 3..8 {
        let ends = [a.state[c], a.rates[c], b.state[c], b.rates[c]];
        state[c] = cubic.iter().zip(ends).map(|(w, v)| w * v).sum();
    }
    state
}
