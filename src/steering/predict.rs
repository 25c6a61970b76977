//! The predictor: what follows if the bank is held to the end, for the ships of all lanes at once.
//!
//! It flies the same equations by the same stepper as the passes, about the planet as the model has it (no
//! small-scale air, no gusts), with the nominal ship and the estimated drag, at a loose tolerance.

use super::senses::Seen;
use crate::craft::Vehicle;
use crate::numeric::lanes::WIDTH;
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
pub fn settings(planet: &Planet, stop_speed_m_s: f64) -> Settings {
    Settings {
        tolerance: TOLERANCE,
        stop_speed_m_s,
        ..Settings::new(planet)
    }
}

/// Predicts what follows from each question, and the work it took.
#[must_use]
pub fn predict(
    (models, settings): (&Models, &Settings),
    questions: &[Option<Question>; WIDTH],
) -> ([Option<PassResult>; WIDTH], Cost) {
    let mut answers = [None; WIDTH];
    let mut asked = questions
        .iter()
        .enumerate()
        .filter_map(|(lane, question)| Some((lane, (*question)?)));
    let next = || {
        let (lane, question) = asked.next()?;
        let sample = Sample {
            vehicle: question.vehicle,
            air: AirSample {
                ln_factor: question.ln_ratio,
                ..AirSample::EXACT
            },
            lifting: question.lifting,
        };
        Some((lane, question.seen.start(), sample))
    };
    let cost = Batch::new(models, settings).fly(next, |lane, result| answers[lane] = Some(result));
    (answers, cost)
}
