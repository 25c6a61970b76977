//! Steers many ships in step: their decisions are made together, so that predictions fill the lanes.

use super::guide::Guide;
use super::knots::Log;
use super::predict::{Question, predict};
use super::seat::{Crew, Seat};
use crate::numeric::lanes::WIDTH;
use crate::pass::piloted::{Order, Pilot};
use crate::pass::reference::Moment;

/// Sets of eight lanes that fly under one pilot: of eight ships alone, few ask at the same time.
const SETS: usize = 4;

/// Steers ships in step, any number one after the other.
pub struct Steerer<'g> {
    guide: &'g Guide,
    crews: &'g [Crew],
    seats: Vec<Option<(usize, Seat)>>,
    logs: Option<Vec<Log>>,
    work: Work,
}

/// Counts of the work that decisions took, for benchmarks and cost tests.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Work {
    /// Flights predicted.
    pub predictions: u64,
    /// Rounds of predictions.
    pub rounds: u64,
    /// Steps of eight lanes in them.
    pub lane_steps: u64,
}

impl<'g> Steerer<'g> {
    /// A pilot for flights whose numbers are places in `crews`.
    #[must_use]
    pub fn new(guide: &'g Guide, crews: &'g [Crew]) -> Self {
        let sets = crews.len().div_ceil(WIDTH).clamp(1, SETS);
        Self {
            guide,
            crews,
            seats: vec![None; sets * WIDTH],
            logs: None,
            work: Work::default(),
        }
    }

    /// Sets of eight lanes that the pilot has seats for.
    #[must_use]
    pub fn sets(&self) -> usize {
        self.seats.len() / WIDTH
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
    fn send(&mut self, waiting: &[Option<Moment>], orders: &mut [Option<Order>]) {
        for ((moment, seat), to) in waiting.iter().zip(&mut self.seats).zip(orders) {
            let (Some(moment), Some((number, seat))) = (moment, seat) else {
                continue;
            };
            if let Some((order, knot)) = seat.next_order(self.guide, moment) {
                *to = Some(order);
                if let Some(log) = self.logs.as_mut().and_then(|logs| logs.get_mut(*number)) {
                    log.knots.push(knot);
                }
            }
        }
    }

    /// Makes the decisions of a cycle for every lane that waits.
    fn decide(&mut self, waiting: &[Option<Moment>]) {
        let guide = self.guide;
        for (moment, seat) in waiting.iter().zip(&mut self.seats) {
            if let (Some(moment), Some((_, seat))) = (moment, seat) {
                seat.look(guide, moment);
            }
        }
        loop {
            let asking = waiting.iter().zip(&self.seats).enumerate();
            let questions: Vec<(usize, Question)> = asking
                .filter_map(|(lane, (moment, seat))| {
                    moment.as_ref()?;
                    Some((lane, seat.as_ref()?.1.question(guide)?))
                })
                .collect();
            if questions.is_empty() {
                break;
            }
            let (answers, cost) = predict((guide.models(), guide.settings()), &questions);
            self.work.rounds += 1;
            self.work.lane_steps += cost.lane_steps;
            self.work.predictions += questions.len() as u64;
            for (lane, predicted) in answers {
                if let Some((_, seat)) = &mut self.seats[lane] {
                    seat.answer(guide, &predicted);
                }
            }
        }
        for (moment, seat) in waiting.iter().zip(&mut self.seats) {
            if let (Some(_), Some((_, seat))) = (moment, seat) {
                seat.set_out(guide);
            }
        }
    }
}

impl Pilot for Steerer<'_> {
    fn board(&mut self, lane: usize, number: usize) {
        let crew = self.crews.get(number);
        self.seats[lane] = crew.map(|crew| (number, Seat::new(self.guide, *crew)));
    }

    fn command(&mut self, waiting: &[Option<Moment>], orders: &mut [Option<Order>]) {
        let under_way = waiting.iter().zip(&self.seats).any(|(moment, seat)| {
            moment.is_some() && seat.as_ref().is_some_and(|(_, seat)| seat.under_way())
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
