//! Passes in step that stop at knots, where a pilot says which ship flies on and to when.
//!
//! Between two knots a lane flies as any other: the ship is held, steps are adaptive, peaks, stays and
//! ends are found inside them. Several sets of lanes fly side by side, so that a pilot decides for many
//! ships at once. What it makes of what it is told is its own affair.

use super::batch::{Batch, Cost, Launch, Settings, Stage};
use super::ending::PassResult;
use super::lane::{felt_of, lane_state, set_felt, set_vehicle, vehicle_of};
use super::models::Models;
use super::reference::{Moment, felt_at, rates};
use crate::craft::Vehicle;
use crate::numeric::lanes::WIDTH;

/// What flies from a knot on, and to when.
#[derive(Debug, Clone, Copy)]
pub struct Order {
    /// Time of the next knot since the start of the pass, s; beyond the longest time to fly there is none.
    pub until_s: f64,
    /// The ship until then.
    pub vehicle: Vehicle<f64>,
}

/// Flies the ships of the lanes.
pub trait Pilot {
    /// The flight of this number was put into a lane; its first knot is its start.
    fn board(&mut self, lane: usize, number: usize);
    /// Every lane with a flight waits at a knot, those that are `Some`: says what at least one of them does next.
    /// A lane without an order goes on waiting for the others.
    fn command(&mut self, waiting: &[Option<Moment>], orders: &mut [Option<Order>]);
    /// The flight of a lane is over; `last` is how it ended.
    fn alight(&mut self, lane: usize, last: &Moment);
}

/// Sets of eight lanes under one pilot, who counts their lanes through.
pub struct Squadron<'p> {
    sets: Vec<Batch<'p>>,
}

impl<'p> Squadron<'p> {
    /// Lanes at rest, `sets` times eight of them.
    #[must_use]
    pub fn new(models: &'p Models, settings: &'p Settings, sets: usize) -> Self {
        Self {
            sets: (0..sets).map(|_| Batch::new(models, settings)).collect(),
        }
    }

    /// Lanes in all.
    #[must_use]
    pub fn lanes(&self) -> usize {
        self.sets.len() * WIDTH
    }

    /// Flies all passes that `next` gives under a pilot, and hands each result with its number to `done`, in
    /// the order in which they end.
    pub fn fly(
        &mut self,
        pilot: &mut impl Pilot,
        mut next: impl FnMut() -> Option<Launch>,
        mut done: impl FnMut(usize, PassResult),
    ) -> Cost {
        for (index, set) in self.sets.iter_mut().enumerate() {
            set.cost = Cost::default();
            for lane in 0..WIDTH {
                set.embark((index, lane), pilot, (&mut next, &mut done));
            }
        }
        while !self.all(|stage| stage == Stage::Rest) {
            if self.all(|stage| matches!(stage, Stage::Rest | Stage::Waiting)) {
                self.take_orders(pilot);
            }
            for (index, set) in self.sets.iter_mut().enumerate() {
                if set.is_idle() {
                    continue;
                }
                set.step();
                for lane in 0..WIDTH {
                    if let Some(ending) = set.attend(lane) {
                        let result = set.result(lane, ending);
                        pilot.alight(index * WIDTH + lane, &set.moment(lane));
                        done(set.flights[lane].number, result);
                        set.embark((index, lane), pilot, (&mut next, &mut done));
                    }
                }
            }
        }
        self.sets.iter().fold(Cost::default(), |sum, set| Cost {
            lane_steps: sum.lane_steps + set.cost.lane_steps,
            flight_steps: sum.flight_steps + set.cost.flight_steps,
        })
    }

    fn all(&self, is: impl Fn(Stage) -> bool) -> bool {
        let mut flights = self.sets.iter().flat_map(|set| &set.flights);
        flights.all(|flight| is(flight.stage))
    }

    fn take_orders(&mut self, pilot: &mut impl Pilot) {
        let lanes = self
            .sets
            .iter()
            .flat_map(|set| (0..WIDTH).map(move |lane| (set, lane)));
        let waiting: Vec<Option<Moment>> = lanes
            .map(|(set, lane)| {
                (set.flights[lane].stage == Stage::Waiting).then(|| set.moment(lane))
            })
            .collect();
        let mut orders = vec![None; waiting.len()];
        pilot.command(&waiting, &mut orders);
        let idle = orders.iter().all(Option::is_none);
        for (index, set) in self.sets.iter_mut().enumerate() {
            for lane in 0..WIDTH {
                if set.flights[lane].stage != Stage::Waiting {
                    continue;
                }
                match orders[index * WIDTH + lane] {
                    Some(order) => set.fly_on(lane, &order),
                    // A pilot that orders nothing holds the ships it has.
                    None if idle => {
                        let vehicle = vehicle_of(&set.hot.sample.vehicle, lane);
                        let until_s = f64::INFINITY;
                        set.fly_on(lane, &Order { until_s, vehicle });
                    }
                    None => {}
                }
            }
        }
    }
}

impl Batch<'_> {
    /// Whether every lane rests or waits.
    fn is_idle(&self) -> bool {
        let mut flights = self.flights.iter();
        flights.all(|flight| matches!(flight.stage, Stage::Rest | Stage::Waiting))
    }

    /// Loads the next flight with its first knot at its start.
    fn embark(
        &mut self,
        (set, lane): (usize, usize),
        pilot: &mut impl Pilot,
        (next, done): (
            &mut impl FnMut() -> Option<Launch>,
            &mut impl FnMut(usize, PassResult),
        ),
    ) {
        self.refill(lane, next, done);
        if self.flights[lane].stage == Stage::Primed {
            self.hot.until.0[lane] = 0.0;
            pilot.board(set * WIDTH + lane, self.flights[lane].number);
        }
    }

    fn moment(&self, lane: usize) -> Moment {
        Moment {
            time_s: self.hot.time.0[lane],
            state: lane_state(&self.hot.y, lane),
            felt: felt_of(&self.hot.felt, lane),
        }
    }

    fn fly_on(&mut self, lane: usize, order: &Order) {
        let before = vehicle_of(&self.hot.sample.vehicle, lane);
        if before != order.vehicle {
            set_vehicle(&mut self.hot.sample.vehicle, lane, &order.vehicle);
            // The next step starts from the derivative with the ship that flies it.
            let y = lane_state(&self.hot.y, lane);
            let sample = self.lane_sample(lane);
            let k = rates(self.models, &sample, &y);
            for (c, rate) in k.into_iter().enumerate() {
                self.hot.k[c].0[lane] = rate;
            }
            if before.drag_area_per_mass != order.vehicle.drag_area_per_mass {
                // What was dropped is no longer felt; peaks of the heat flux go by the nose that flies.
                set_felt(&mut self.hot.felt, lane, &felt_at(self.models, &sample, &y));
                let so_far = &mut self.hot.peaks.heat_flux.0[lane];
                let flight = &mut self.flights[lane];
                flight.flux_before_drop =
                    Some(flight.flux_before_drop.map_or(*so_far, |f| f.max(*so_far)));
                *so_far = self.hot.felt.heat_flux.0[lane];
                let felt = felt_of(&self.hot.felt, lane);
                self.note_moment(lane, &felt);
            }
        }
        let (longest, time) = (self.settings.longest_s, self.hot.time.0[lane]);
        let until = if order.until_s < longest {
            order.until_s
        } else {
            longest
        };
        self.hot.until.0[lane] = until;
        // A long stretch begins as a flight does; a short one is tried whole.
        self.hot.step.0[lane] = (until - time).clamp(0.0, self.first_step_s);
        self.flights[lane].stage = Stage::Flying;
    }
}
