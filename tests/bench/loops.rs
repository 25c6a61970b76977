//! Plain loops over the library integrator on the equations of the lanes, for the benchmarks to compare with.

use nalgebra::SVector;
use ode_solvers::dop_shared::OutputType;
use ode_solvers::{Dop853, Dopri5, System};
use periband::numeric::Vec3;
use periband::pass::dynamics::{State, derivative};
use periband::pass::reference::rates;
use periband::pass::{EntryState, Models, Sample};

/// The state at the start of a flight.
pub(crate) fn state_of(start: &EntryState) -> State<f64> {
    let (r, v) = (start.position, start.velocity);
    [r.x, r.y, r.z, v.x, v.y, v.z, 0.0, 0.0]
}

type Scaled = SVector<f64, 8>;

/// The same equations under a library integrator, in units in which the state is of order one.
pub(crate) struct Motion<'a> {
    pub(crate) models: &'a Models,
    pub(crate) sample: &'a Sample<f64>,
    /// Whether the flight ends where it leaves the air, or has slowed to this speed, m/s.
    pub(crate) stops: Option<f64>,
    /// Whether the equations are compiled for the machine's fused multiply-adds; a stock build calls a
    /// library function for each.
    pub(crate) fused: bool,
}

impl Motion<'_> {
    fn scales(&self) -> [f64; 8] {
        let (l, v) = (
            self.models.equatorial_radius_m,
            self.models.circular_speed_m_s(),
        );
        // The heat load drives no step, as in the lanes: its rate jumps where radiation sets in.
        [l, l, l, v, v, v, 1e16, v]
    }
}

impl System<f64, Scaled> for Motion<'_> {
    fn system(&self, _time: f64, y: &Scaled, dy: &mut Scaled) {
        let scales = self.scales();
        let mut state = [0.0; 8];
        for c in 0..8 {
            state[c] = y[c] * scales[c];
        }
        let rates = if self.fused {
            rates(self.models, self.sample, &state)
        } else {
            derivative(self.models, self.sample, &state).0
        };
        for c in 0..8 {
            dy[c] = rates[c] / scales[c];
        }
    }
    fn solout(&mut self, _time: f64, y: &Scaled, _dy: &Scaled) -> bool {
        let l = self.models.equatorial_radius_m;
        let r = Vec3::new(y[0] * l, y[1] * l, y[2] * l);
        let climbing = y[0] * y[3] + y[1] * y[4] + y[2] * y[5] > 0.0;
        let Some(slowest) = self.stops else {
            return false;
        };
        let speed =
            (y[3] * y[3] + y[4] * y[4] + y[5] * y[5]).sqrt() * self.models.circular_speed_m_s();
        speed < slowest || climbing && self.models.altitude_at(r) > self.models.interface_m
    }
}

#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Library {
    Dop853,
    Dopri5,
}

/// Integrates from `raw` for `length_s`, or until the flight ends; the state there.
pub(crate) fn library(
    which: Library,
    motion: Motion<'_>,
    raw: &State<f64>,
    (length_s, first): (f64, f64),
    tolerance: f64,
) -> State<f64> {
    let scales = motion.scales();
    let y = Scaled::from_fn(|c, _| raw[c] / scales[c]);
    let most = u32::MAX;
    let end = match which {
        Library::Dop853 => {
            let mut stepper = Dop853::from_param(
                motion,
                0.0,
                length_s,
                first,
                y,
                tolerance,
                tolerance,
                0.9,
                0.0,
                0.333,
                6.0,
                length_s,
                0.0,
                100_000,
                most,
                OutputType::Sparse,
            );
            stepper.integrate().expect("integrates");
            stepper.y_out().last().copied()
        }
        Library::Dopri5 => {
            let mut stepper = Dopri5::from_param(
                motion,
                0.0,
                length_s,
                first,
                y,
                tolerance,
                tolerance,
                0.9,
                0.04,
                0.2,
                10.0,
                length_s,
                0.0,
                100_000,
                most,
                OutputType::Sparse,
            );
            stepper.integrate().expect("integrates");
            stepper.y_out().last().copied()
        }
    };
    let y = end.expect("a last state");
    let mut state = *raw;
    for c in 0..8 {
        state[c] = y[c] * scales[c];
    }
    state
}
