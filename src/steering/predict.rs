//! The predictor: what follows from a bank that is held, or changes sides on the way, for many ships at once.
//!
//! It flies the same equations by the same stepper as the passes, about the planet as the model has it (no
//! small-scale air, no gusts), with the nominal ship and the estimated drag, at a loose tolerance.

use super::foreseen::{Foreseen, Part};
use super::senses::Seen;
use super::target::Target;
use crate::craft::Vehicle;
use crate::numeric::lanes::WIDTH;
use crate::pass::batch::{Batch, Cost, Settings};
use crate::pass::piloted::{Order, Pilot, Squadron};
use crate::pass::reference::{Leg, Moment};
use crate::pass::{Models, PassResult, Sample};
use crate::world::Planet;
use crate::world::planet::AirSample;

/// A flight to predict.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// From where and when.
    pub seen: Seen,
    /// The ship that flies, its lift up.
    pub vehicle: Vehicle<f64>,
    /// Where its lift points on the way.
    pub flight: Foreseen,
    /// Whether it has lift.
    pub lifting: bool,
    /// ln of the factor on the drag of the model.
    pub ln_ratio: f64,
}

impl Question {
    /// The ship and the air on a part of the flight.
    fn sample(&self, part: &Part) -> Sample<f64> {
        Sample {
            vehicle: self.vehicle.turned(part.up, part.right),
            air: AirSample {
                ln_factor: self.ln_ratio,
                ..AirSample::EXACT
            },
            lifting: self.lifting,
        }
    }

    /// The same flight for the reference integrator.
    #[must_use]
    pub fn legs(&self) -> Vec<Leg> {
        let parts = self.flight.parts().iter();
        let leg = |part: &Part| Leg {
            until_s: part.until_s,
            sample: self.sample(part),
        };
        parts.map(leg).collect()
    }
}

/// Step error of predictions over the radius and the circular speed.
pub const TOLERANCE: f64 = 1e-5;

/// How predictions about the planet of the model are flown.
#[must_use]
pub fn settings(planet: &Planet, target: &Target) -> Settings {
    Settings {
        tolerance: TOLERANCE,
        stop_speed_m_s: target.stop_speed_m_s(planet),
        // An orbit is the same a little above the interface; a place is not.
        exact_ends: matches!(target, Target::Gate(_)),
        ..Settings::new(planet)
    }
}

/// Predicts what follows from each numbered question, and the work it took; the answers come as the flights end.
#[must_use]
pub fn predict(
    (models, settings): (&Models, &Settings),
    questions: &[(usize, Question)],
) -> (Vec<(usize, PassResult)>, Cost) {
    let mut answers = Vec::with_capacity(questions.len());
    let mut asked = questions.iter().enumerate();
    let next = || {
        let (place, (_, question)) = asked.next()?;
        let sample = question.sample(question.flight.first());
        Some((place, question.seen.start(), sample))
    };
    let done = |place: usize, result| answers.push((questions[place].0, result));
    let held = |(_, question): &(usize, Question)| question.flight.parts().len() == 1;
    let cost = if questions.iter().all(held) {
        Batch::new(models, settings).fly(next, done)
    } else {
        let sets = questions.len().div_ceil(WIDTH);
        let mut script = Script {
            questions,
            lanes: vec![None; sets * WIDTH],
        };
        Squadron::new(models, settings, sets).fly(&mut script, next, done)
    };
    (answers, cost)
}

/// Flies predictions part by part.
struct Script<'q> {
    questions: &'q [(usize, Question)],
    /// For each lane, which question is flown and its next part.
    lanes: Vec<Option<(usize, usize)>>,
}

impl Pilot for Script<'_> {
    fn board(&mut self, lane: usize, number: usize) {
        self.lanes[lane] = Some((number, 0));
    }

    fn command(&mut self, waiting: &[Option<Moment>], orders: &mut [Option<Order>]) {
        for ((moment, lane), order) in waiting.iter().zip(&mut self.lanes).zip(orders) {
            let (Some(_), Some((number, part))) = (moment, lane) else {
                continue;
            };
            let question = &self.questions[*number].1;
            let next = question.flight.parts().get(*part);
            *order = next.map(|part| Order {
                until_s: part.until_s,
                vehicle: question.sample(part).vehicle,
            });
            *part += 1;
        }
    }

    fn alight(&mut self, lane: usize, _: &Moment) {
        self.lanes[lane] = None;
    }
}
