//! The predictor: what follows if the bank is held to the end, for many ships at once.
//!
//! It flies the same equations by the same stepper as the passes, about the planet as the model has it (no
//! small-scale air, no gusts), with the nominal ship and the estimated drag, at a loose tolerance.

use super::senses::Seen;
use super::target::Target;
use crate::craft::Vehicle;
use crate::pass::batch::{Batch, Cost, Settings};
use crate::pass::{Models, PassResult, Sample};
use crate::world::Planet;
use crate::world::planet::AirSample;

/// A flight to predict.
#[derive(Debug, Clone, Copy)]
pub struct Question {
    /// From where and when.
    pub seen: Seen,
    /// The ship that flies.
    pub vehicle: Vehicle<f64>,
    /// Whether it has lift.
    pub lifting: bool,
    /// ln of the factor on the drag of the model.
    pub ln_ratio: f64,
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
    let mut asked = questions.iter();
    let next = || {
        let (number, question) = asked.next()?;
        let sample = Sample {
            vehicle: question.vehicle,
            air: AirSample {
                ln_factor: question.ln_ratio,
                ..AirSample::EXACT
            },
            lifting: question.lifting,
        };
        Some((*number, question.seen.start(), sample))
    };
    let cost =
        Batch::new(models, settings).fly(next, |number, result| answers.push((number, result)));
    (answers, cost)
}
