//! One ship under way: what it has measured, decided and set in motion.

use super::correct::Search;
use super::estimate::DragRatio;
use super::foreseen::Foreseen;
use super::gate::Gate;
use super::guide::Guide;
use super::knots::Knot;
use super::motion::{Agility, Bank, Plan};
use super::predict::Question;
use super::reversal::{Passing, SideSearch, Sides};
use super::senses::{Seen, Truth};
use super::skirt::SkirtWatch;
use crate::craft::Vehicle;
use crate::numeric::elementary::exp;
use crate::pass::dynamics::State;
use crate::pass::dynamics::{position, velocity};
use crate::pass::piloted::Order;
use crate::pass::reference::{Moment, felt_at};
use crate::pass::{Ending, PassResult, Sample};
use crate::scenario::steering::{BankControl, Control};
use crate::world::planet::AirSample;
use std::cmp::Ordering;

/// A ship as it truly is, and its instruments.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crew {
    /// Errors of the instruments.
    pub truth: Truth,
    /// The true ship (with its skirt), its lift up.
    pub vehicle: Vehicle<f64>,
}

/// Bank over the second half of the way to a place, rad: with 37 deg there is lift left both ways, and the ship is not
/// deep when it meets the gate (assumed; bank that eases towards a fixed last value is common practice).
const LAST: f64 = 0.65;

/// What is asked in a cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Asking {
    Nothing,
    Bank(Search),
    Sides(SideSearch),
    Drop,
}

/// One ship under way.
#[derive(Debug, Clone)]
pub struct Seat {
    crew: Crew,
    seen: Option<Seen>,
    ratio: DragRatio,
    bank: Bank,
    side: f64,
    /// Time that was left to the gate when it was last predicted, s.
    left_s: Option<f64>,
    /// When the bank is to change sides, s since the start of the pass.
    reverse_at_s: Option<f64>,
    command_rad: f64,
    cosine: f64,
    slope: Option<f64>,
    demand: f64,
    decided: bool,
    asking: Asking,
    skirt: Option<SkirtWatch>,
    plan: Plan,
    next: usize,
    cycle_start_s: f64,
}

impl Seat {
    /// A ship at the start of its pass.
    #[must_use]
    pub fn new(guide: &Guide, crew: Crew) -> Self {
        let bank = Bank::at(guide.first_bank_rad());
        let side = if bank.angle_rad < 0.0 { -1.0 } else { 1.0 };
        Self {
            crew,
            seen: None,
            ratio: DragRatio::new(guide.steering().memory_s),
            bank,
            side,
            left_s: None,
            reverse_at_s: None,
            command_rad: bank.angle_rad,
            cosine: libm::cos(bank.angle_rad),
            slope: None,
            demand: f64::NAN,
            decided: false,
            asking: Asking::Nothing,
            skirt: guide.drop().map(|_| SkirtWatch::default()),
            plan: Plan::EMPTY,
            next: 0,
            cycle_start_s: 0.0,
        }
    }

    /// Whether stretches of the present cycle are still to be flown.
    #[must_use]
    pub fn under_way(&self) -> bool {
        self.next < self.plan.stretches().len()
    }

    /// The next stretch of the present cycle, as an order and for the log.
    pub fn next_order(&mut self, guide: &Guide, moment: &Moment) -> Option<(Order, Knot)> {
        let stretch = *self.plan.stretches().get(self.next)?;
        self.next += 1;
        let skirt_on = self.skirt.as_ref().is_some_and(|s| s.is_on(moment.time_s));
        let after = guide.dropped(&self.crew.vehicle).filter(|_| !skirt_on);
        let ship = after.unwrap_or(self.crew.vehicle);
        let vehicle = ship.banked(stretch.bank_rad + self.crew.truth.bank_rad);
        let until_s = self.cycle_start_s + stretch.until_s;
        let knot = Knot {
            moment: *moment,
            until_s,
            vehicle,
            bank_rad: stretch.bank_rad,
            command_rad: self.command_rad,
            drag_ratio: exp(self.ratio.ln_ratio()),
            demand: self.demand,
            skirt_on,
        };
        Some((Order { until_s, vehicle }, knot))
    }

    /// Looks at the instruments at the start of a cycle, and sees what is to be asked in it.
    pub fn look(&mut self, guide: &Guide, moment: &Moment) {
        let seen = Seen::of(moment, &self.crew.truth);
        let since = self.seen.map_or(0.0, |before| seen.time_s - before.time_s);
        self.seen = Some(seen);
        self.cycle_start_s = seen.time_s;
        let steering = guide.steering();
        let feels = seen.sensed_m_s2 >= steering.starts_at_m_s2;
        if feels {
            let modelled = modelled_deceleration(guide, &seen, &self.nominal(guide, seen.time_s));
            self.ratio.note(seen.sensed_m_s2, modelled, since);
        }
        self.asking = match steering.control {
            Control::Bank(bank) if feels || !self.decided => {
                if guide.gate().is_none() {
                    self.side = guide.inclination().side(&seen, self.side);
                }
                let range = (libm::cos(bank.most_rad), libm::cos(bank.least_rad));
                Asking::Bank(Search::new(range, self.cosine, self.slope))
            }
            Control::Skirt(_)
                if feels && self.skirt.as_ref().is_some_and(|s| s.is_on(seen.time_s)) =>
            {
                Asking::Drop
            }
            Control::Bank(_) | Control::Skirt(_) => Asking::Nothing,
        };
    }

    /// The nominal ship as it flies at this time.
    fn nominal(&self, guide: &Guide, time_s: f64) -> Vehicle<f64> {
        let off = self.skirt.is_some_and(|skirt| !skirt.is_on(time_s));
        let after = guide.dropped(guide.vehicle()).filter(|_| off);
        after.unwrap_or(*guide.vehicle())
    }

    /// What is to be predicted next; `None` when the decision is made.
    #[must_use]
    pub fn question(&self, guide: &Guide) -> Option<Question> {
        let (vehicle, flight) = match &self.asking {
            Asking::Nothing => return None,
            Asking::Bank(search) => {
                let reverse_in_s = self.reverse_at_s.map(|at_s| at_s - self.cycle_start_s);
                let flight = self.foreseen(guide, search.wants()?, reverse_in_s);
                (*guide.vehicle(), flight)
            }
            Asking::Sides(search) => {
                let flight = self.foreseen(guide, self.cosine, search.wants()?);
                (*guide.vehicle(), flight)
            }
            Asking::Drop => {
                let (sine, cosine) = libm::sincos(guide.first_bank_rad());
                let vehicle = guide.dropped(guide.vehicle())?;
                (vehicle, Foreseen::held(cosine, sine))
            }
        };
        Some(Question {
            seen: self.seen?,
            vehicle,
            flight,
            lifting: guide.lifting(),
            ln_ratio: self.ratio.ln_ratio(),
        })
    }

    /// The flight with a bank of this cosine. Through a pass it is held; on the way to a place, where a few seconds
    /// of lift are kilometres on the ground, rolls and a change of sides are foreseen, and over the second half of
    /// the time the [`LAST`] bank.
    fn foreseen(&self, guide: &Guide, cosine: f64, reverse_in_s: Option<f64>) -> Foreseen {
        let (Some(_), Control::Bank(control)) = (guide.gate(), guide.steering().control) else {
            let sine = (1.0 - cosine * cosine).max(0.0).sqrt();
            return Foreseen::held(cosine, self.side * sine);
        };
        let first = libm::acos(cosine.clamp(-1.0, 1.0));
        let last = LAST.clamp(control.least_rad, control.most_rad);
        let half_s = self.left_s.map(|left_s| 0.5 * left_s);
        let command = |time_s: f64| {
            let size = half_s.filter(|half_s| time_s >= *half_s);
            let other = reverse_in_s.filter(|turn_s| time_s >= *turn_s);
            let side = other.map_or(self.side, |_| -self.side);
            (time_s, side * size.map_or(first, |_| last))
        };
        let mut times = [Some(0.0), half_s, reverse_in_s];
        times.sort_by(|a, b| a.partial_cmp(b).unwrap_or(Ordering::Equal));
        let commands: Vec<(f64, f64)> = times.into_iter().flatten().map(command).collect();
        Foreseen::through(self.bank.angle_rad, &commands, agility(&control))
    }

    /// Takes in what was predicted for the question.
    pub fn answer(&mut self, guide: &Guide, predicted: &PassResult) {
        let Some(seen) = self.seen else { return };
        let miss = guide.target().miss(guide.models(), &seen, predicted);
        match self.asking {
            Asking::Nothing => {}
            Asking::Bank(mut search) => {
                search.take(miss.max(guide.relief().excess(predicted)));
                self.asking = Asking::Bank(search);
                if search.wants().is_none() {
                    self.settle(&search);
                    self.left_s =
                        (predicted.ending == Ending::Landed).then_some(predicted.duration_s);
                    self.asking = match guide.gate() {
                        Some(gate) => {
                            let planned = self.reverse_at_s.map(|at_s| {
                                let passing = passing(guide, gate, &seen, predicted);
                                (at_s - seen.time_s, passing.offset_m)
                            });
                            Asking::Sides(SideSearch::new(gate.aside_within_m, planned))
                        }
                        None => Asking::Nothing,
                    };
                }
            }
            Asking::Sides(mut search) => {
                if let Some(gate) = guide.gate() {
                    search.take(passing(guide, gate, &seen, predicted));
                }
                self.asking = Asking::Sides(search);
                if search.wants().is_none() {
                    self.choose_side(guide, &search);
                }
            }
            Asking::Drop => {
                if let Some(skirt) = &mut self.skirt {
                    skirt.note(seen.time_s, miss, guide.steering().cycle_s);
                }
                self.demand = miss;
                self.asking = Asking::Nothing;
            }
        }
    }

    /// Takes the bank that was found.
    fn settle(&mut self, search: &Search) {
        let (cosine, slope) = search.answer();
        (self.cosine, self.slope) = (cosine, Some(slope));
        self.demand = search.demand();
        self.decided = true;
    }

    /// Takes the side that was found.
    fn choose_side(&mut self, guide: &Guide, search: &SideSearch) {
        self.asking = Asking::Nothing;
        self.reverse_at_s = match search.answer(guide.steering().cycle_s) {
            Sides::Keep => None,
            Sides::ChangeIn(wait_s) => Some(self.cycle_start_s + wait_s),
            Sides::ChangeNow => {
                self.side = -self.side;
                None
            }
        };
    }

    /// Turns what was decided into the stretches of this cycle.
    pub fn set_out(&mut self, guide: &Guide) {
        let cycle_s = guide.steering().cycle_s;
        self.next = 0;
        self.asking = Asking::Nothing;
        if let Control::Bank(control) = guide.steering().control {
            self.command_rad = self.side * libm::acos(self.cosine.clamp(-1.0, 1.0));
            self.plan = self
                .bank
                .pursue(self.command_rad, (cycle_s, agility(&control)));
        } else {
            let within = self.skirt.as_ref().and_then(SkirtWatch::drops_at);
            let drop = within.map(|at_s| at_s - self.cycle_start_s);
            self.plan = Plan::held(cycle_s, drop, self.bank.angle_rad);
        }
    }
}

fn agility(control: &BankControl) -> Agility {
    Agility {
        rate_rad_s: control.rate_rad_s,
        acceleration_rad_s2: control.acceleration_rad_s2,
    }
}

/// How a predicted flight passes the place of the gate; one that does not come down passes it nowhere.
fn passing(guide: &Guide, gate: &Gate, seen: &Seen, predicted: &PassResult) -> Passing {
    let lasts_s = predicted.duration_s;
    let y = &predicted.end_state;
    let there = gate.bearing(
        guide.models(),
        (position(y), velocity(y)),
        seen.time_s + lasts_s,
    );
    Passing {
        offset_m: if predicted.ending == Ending::Landed {
            there.aside_m
        } else {
            f64::NAN
        },
        lasts_s,
    }
}

/// The sensed deceleration that the model has where the ship believes to be, m/s².
fn modelled_deceleration(guide: &Guide, seen: &Seen, vehicle: &Vehicle<f64>) -> f64 {
    let sample = Sample {
        vehicle: *vehicle,
        air: AirSample::EXACT,
        lifting: false,
    };
    let (r, v) = (seen.position, seen.velocity);
    let y: State<f64> = [r.x, r.y, r.z, v.x, v.y, v.z, 0.0, 0.0];
    felt_at(guide.models(), &sample, &y).deceleration
}
