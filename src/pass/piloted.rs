//! Eight passes in step that stop at knots, where a pilot says which ship flies on and to when.
//!
//! Between two knots a lane flies as any other: the ship is held, steps are adaptive, peaks, stays and
//! ends are found inside them. What the pilot makes of what it is told is its own affair.

use super::batch::{Batch, Cost, Launch, Stage};
use super::ending::PassResult;
use super::lane::{felt_of, lane_state, set_vehicle, vehicle_of};
use super::reference::{Moment, rates};
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

/// The lanes that wait at a knot.
pub type Waiting = [Option<Moment>; WIDTH];

/// Orders for the lanes; a lane without one goes on waiting for the others.
pub type Orders = [Option<Order>; WIDTH];

/// Flies the ships of eight lanes.
pub trait Pilot {
    /// The flight of this number was put into a lane; its first knot is its start.
    fn board(&mut self, lane: usize, number: usize);
    /// Every lane with a flight waits at a knot: says what at least one of them does next.
    fn command(&mut self, waiting: &Waiting, orders: &mut Orders);
    /// The flight of a lane is over; `last` is how it ended.
    fn alight(&mut self, lane: usize, last: &Moment);
}

impl Batch<'_> {
    /// Flies all passes that `next` gives under a pilot, and hands each result with its number to `done`, in
    /// the order in which they end.
    pub fn fly_piloted(
        &mut self,
        pilot: &mut impl Pilot,
        mut next: impl FnMut() -> Option<Launch>,
        mut done: impl FnMut(usize, PassResult),
    ) -> Cost {
        self.cost = Cost::default();
        for lane in 0..WIDTH {
            self.embark(lane, pilot, (&mut next, &mut done));
        }
        while self.flights.iter().any(|f| f.stage != Stage::Rest) {
            let at_knot = |stage| matches!(stage, Stage::Rest | Stage::Waiting);
            if self.flights.iter().all(|flight| at_knot(flight.stage)) {
                self.take_orders(pilot);
            }
            self.step();
            for lane in 0..WIDTH {
                if let Some(ending) = self.attend(lane) {
                    let result = self.result(lane, ending);
                    pilot.alight(lane, &self.moment(lane));
                    done(self.flights[lane].number, result);
                    self.embark(lane, pilot, (&mut next, &mut done));
                }
            }
        }
        self.cost
    }

    /// Loads the next flight with its first knot at its start.
    fn embark(
        &mut self,
        lane: usize,
        pilot: &mut impl Pilot,
        (next, done): (
            &mut impl FnMut() -> Option<Launch>,
            &mut impl FnMut(usize, PassResult),
        ),
    ) {
        self.refill(lane, next, done);
        if self.flights[lane].stage == Stage::Primed {
            self.hot.until.0[lane] = 0.0;
            pilot.board(lane, self.flights[lane].number);
        }
    }

    fn moment(&self, lane: usize) -> Moment {
        Moment {
            time_s: self.hot.time.0[lane],
            state: lane_state(&self.hot.y, lane),
            felt: felt_of(&self.hot.felt, lane),
        }
    }

    fn take_orders(&mut self, pilot: &mut impl Pilot) {
        let mut waiting: Waiting = [None; WIDTH];
        for (lane, place) in waiting.iter_mut().enumerate() {
            if self.flights[lane].stage == Stage::Waiting {
                *place = Some(self.moment(lane));
            }
        }
        let mut orders: Orders = [None; WIDTH];
        pilot.command(&waiting, &mut orders);
        let idle = orders.iter().all(Option::is_none);
        for lane in 0..WIDTH {
            if self.flights[lane].stage != Stage::Waiting {
                continue;
            }
            match orders[lane] {
                Some(order) => self.fly_on(lane, &order),
                // A pilot that orders nothing holds the ships it has.
                None if idle => {
                    let vehicle = vehicle_of(&self.hot.sample.vehicle, lane);
                    let until_s = f64::INFINITY;
                    self.fly_on(lane, &Order { until_s, vehicle });
                }
                None => {}
            }
        }
    }

    fn fly_on(&mut self, lane: usize, order: &Order) {
        let before = vehicle_of(&self.hot.sample.vehicle, lane);
        if before != order.vehicle {
            set_vehicle(&mut self.hot.sample.vehicle, lane, &order.vehicle);
            // The next step starts from the derivative with the ship that flies it.
            let y = lane_state(&self.hot.y, lane);
            let k = rates(self.models, &self.lane_sample(lane), &y);
            for (c, rate) in k.into_iter().enumerate() {
                self.hot.k[c].0[lane] = rate;
            }
        }
        let (longest, time) = (self.settings.longest_s, self.hot.time.0[lane]);
        let until = if order.until_s < longest {
            order.until_s
        } else {
            longest
        };
        self.hot.until.0[lane] = until;
        self.hot.step.0[lane] = (until - time).max(0.0);
        self.flights[lane].stage = Stage::Flying;
    }
}
