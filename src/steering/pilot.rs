//! Steers the ships of eight lanes: their decisions are made together, so that predictions fly eight at once.

use super::guide::Guide;
use super::knots::Log;
use super::predict::{Question, predict};
use super::seat::{Crew, Seat};
use crate::numeric::lanes::WIDTH;
use crate::pass::piloted::{Orders, Pilot, Waiting};
use crate::pass::reference::Moment;

/// Steers eight ships at once, any number one after the other.
pub struct Steerer<'g> {
    guide: &'g Guide,
    crews: &'g [Crew],
    seats: [Option<(usize, Seat)>; WIDTH],
    logs: Option<Vec<Log>>,
    work: Work,
}

/// Counts of the work that decisions took, for benchmarks and cost tests.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Work {
    /// Flights predicted.
    pub predictions: u64,
    /// Rounds of predictions, each of up to eight flights.
    pub rounds: u64,
    /// Steps of eight lanes in them.
    pub lane_steps: u64,
}

impl<'g> Steerer<'g> {
    /// A pilot for flights whose numbers are places in `crews`.
    #[must_use]
    pub fn new(guide: &'g Guide, crews: &'g [Crew]) -> Self {
        Self {
            guide,
            crews,
            seats: [const { None }; WIDTH],
            logs: None,
            work: Work::default(),
        }
    }

    /// The same pilot, keeping a log of every flight.
    #[must_use]
    pub fn logging(self) -> Self {
        Self {
            logs: Some(vec![Log::default(); self.crews.len()]),
            ..self
        }
    }

    /// The logs, at the numbers of their flights; empty for a pilot that keeps none.
    #[must_use]
    pub fn into_logs(self) -> Vec<Log> {
        self.logs.unwrap_or_default()
    }

    /// The work that decisions took so far.
    #[must_use]
    pub fn work(&self) -> Work {
        self.work
    }

    /// Orders the next stretch of each of these lanes.
    fn send(&mut self, waiting: &Waiting, orders: &mut Orders) {
        for lane in 0..WIDTH {
            let (Some(moment), Some((number, seat))) = (&waiting[lane], &mut self.seats[lane])
            else {
                continue;
            };
            if let Some((order, knot)) = seat.next_order(self.guide, moment) {
                orders[lane] = Some(order);
                if let Some(log) = self.logs.as_mut().and_then(|logs| logs.get_mut(*number)) {
                    log.knots.push(knot);
                }
            }
        }
    }

    /// Makes the decisions of a cycle for every lane that waits.
    fn decide(&mut self, waiting: &Waiting) {
        for lane in 0..WIDTH {
            if let (Some(moment), Some((_, seat))) = (&waiting[lane], &mut self.seats[lane]) {
                seat.look(self.guide, moment);
            }
        }
        loop {
            let mut questions: [Option<Question>; WIDTH] = [None; WIDTH];
            for lane in 0..WIDTH {
                if let (Some(_), Some((_, seat))) = (&waiting[lane], &self.seats[lane]) {
                    questions[lane] = seat.question(self.guide);
                }
            }
            if questions.iter().all(Option::is_none) {
                break;
            }
            let how = (self.guide.models(), self.guide.settings());
            let (answers, cost) = predict(how, &questions);
            self.work.rounds += 1;
            self.work.lane_steps += cost.lane_steps;
            self.work.predictions += questions.iter().flatten().map(|_| 1).sum::<u64>();
            for lane in 0..WIDTH {
                if let (Some(predicted), Some((_, seat))) = (&answers[lane], &mut self.seats[lane])
                {
                    seat.answer(self.guide, predicted);
                }
            }
        }
        for lane in 0..WIDTH {
            if let (Some(_), Some((_, seat))) = (&waiting[lane], &mut self.seats[lane]) {
                seat.set_out(self.guide);
            }
        }
    }
}

impl Pilot for Steerer<'_> {
    fn board(&mut self, lane: usize, number: usize) {
        let crew = self.crews.get(number);
        self.seats[lane] = crew.map(|crew| (number, Seat::new(self.guide, *crew)));
    }

    fn command(&mut self, waiting: &Waiting, orders: &mut Orders) {
        let under_way = (0..WIDTH).any(|lane| {
            let seat = self.seats[lane].as_ref();
            waiting[lane].is_some() && seat.is_some_and(|(_, seat)| seat.under_way())
        });
        if !under_way {
            self.decide(waiting);
        }
        self.send(waiting, orders);
    }

    fn alight(&mut self, lane: usize, last: &Moment) {
        if let Some((number, _)) = self.seats[lane].take()
            && let Some(log) = self.logs.as_mut().and_then(|logs| logs.get_mut(number))
        {
            log.last = Some(*last);
        }
    }
}
