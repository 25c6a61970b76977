//! Samples at given places in the space of normal scores, instead of drawn ones: what a search for rare
//! accidents moves through. Where to go is left to it.
//!
//! A place has one coordinate for each uncertain number, in the order of the draw indices, and behind them, where
//! the small-scale field of the air is flown, three for each of its waves. A drawn sample is a place whose
//! coordinates are independent standard normal numbers.

use super::air::waves_of;
use super::distribution::Chance;
use super::draws::{Correlated, Draws};
use super::engine::{Fleet, Stopped};
use super::problem::{Numbers, Problem, SampleNumber};
use crate::pass::batch::Launch;
use crate::pass::{Ending, PassResult};
use crate::scenario::uncertainty::Number;
use crate::world::waves::{COUNT, Waves};
use rayon::prelude::*;

/// Coordinates of the small-scale field.
const FIELD: usize = 3 * COUNT;
/// Places flown through one set of lanes.
const BLOCK: usize = 64;

/// What a place did.
#[derive(Debug, Clone, Copy)]
pub struct FlownPlace {
    /// What the pass gave.
    pub result: PassResult,
    /// The numbers of its sample.
    pub numbers: Numbers,
    /// One bit for each limit it broke.
    pub broken: u32,
}

impl Draws {
    /// The numbers that are drawn, in the order of their draw indices.
    pub(super) fn numbers(&self) -> Vec<Number> {
        let alone = self.alone.iter().map(|number| number.index);
        let correlated = self.correlated.iter().map(|number| number.index);
        let mut indices: Vec<usize> = alone.chain(correlated).collect();
        indices.sort_unstable();
        indices
            .into_iter()
            .map(|index| Number::ALL[index])
            .collect()
    }

    /// As [`Draws::fill`], of a sample whose numbers have these normal scores, each at its draw index. Of
    /// correlated numbers the scores are those before they lean on one another.
    pub(super) fn fill_scored(&self, scores: &Numbers, values: &mut Numbers) {
        for number in &self.alone {
            values[number.index] = number.quantiles.from_normal_score(scores[number.index]);
        }
        for Correlated {
            index,
            quantiles,
            row,
        } in &self.correlated
        {
            let before = self.correlated.iter().map(|other| scores[other.index]);
            let leaning = row.iter().zip(before).map(|(l, z)| l * z).sum();
            values[*index] = quantiles.from_normal_score(leaning);
        }
    }
}

impl Problem {
    /// The numbers that have a coordinate, in the order of the coordinates; those of the small-scale field, if
    /// there are more, come behind.
    #[must_use]
    pub fn coordinates(&self) -> Vec<Number> {
        self.draws.numbers()
    }

    /// How many coordinates a place has.
    #[must_use]
    pub fn dimensions(&self) -> usize {
        let field = self.air.wave_lengths_m.map_or(0, |_| FIELD);
        self.draws.numbers().len() + field
    }

    /// The numbers of a place.
    #[must_use]
    pub fn numbers_at(&self, place: &[f64]) -> Numbers {
        let mut scores = [0.0; Number::COUNT];
        for (number, &score) in self.draws.numbers().iter().zip(place) {
            scores[*number as usize] = score;
        }
        self.scored(&scores)
    }

    /// What a lane needs to fly a place at an aim (m); `None` where its numbers fit no approach conic.
    fn launch_place(&self, aim_m: f64, place: &[f64], numbers: &Numbers) -> Option<Launch> {
        let (start, mut sample) = self.launch(aim_m, numbers, SampleNumber::Nominal)?;
        if let Some(lengths) = self.air.wave_lengths_m {
            let field = place.len().saturating_sub(FIELD);
            let mut scores = place[field..].iter();
            let next = || Chance::from_normal_score(scores.next().copied().unwrap_or(0.0));
            sample.air.waves = Waves {
                along: start.along_track(),
                ..waves_of(lengths, next)
            };
        }
        Some((0, start, sample))
    }

    fn fly_block_of_places(&self, aim_m: f64, places: &[Vec<f64>]) -> Vec<FlownPlace> {
        let numbers: Vec<Numbers> = places.iter().map(|place| self.numbers_at(place)).collect();
        let mut results: Vec<Option<PassResult>> = vec![None; places.len()];
        let launches = places.iter().zip(&numbers).enumerate();
        let launches = launches.filter_map(|(i, (place, numbers))| {
            let (_, start, sample) = self.launch_place(aim_m, place, numbers)?;
            Some(((i, start, sample), *numbers))
        });
        self.fly_in_lanes(launches, |i, result| results[i] = Some(result));
        let flown = results.into_iter().zip(numbers);
        let flown = flown.map(|(result, numbers)| {
            // Numbers that fit no approach conic are a pass that failed, as in any sample.
            let result = result.unwrap_or_else(|| PassResult {
                ending: Ending::Failed,
                ..PassResult::default()
            });
            let judging = if self.uncertain_limits {
                &numbers
            } else {
                self.nominal()
            };
            FlownPlace {
                result,
                numbers: *judging,
                broken: self.limits().broken(&result, judging),
            }
        });
        flown.collect()
    }
}

impl Fleet<'_> {
    /// Flies places at one aim (m) on every core; what they did, in their order.
    ///
    /// # Errors
    /// [`Stopped`] when the run was cancelled.
    pub fn fly_places(&self, aim_m: f64, places: &[Vec<f64>]) -> Result<Vec<FlownPlace>, Stopped> {
        if self.progress().is_cancelled() {
            return Err(Stopped);
        }
        let blocks: Vec<Vec<FlownPlace>> = places
            .par_chunks(BLOCK)
            .map(|block| self.problem().fly_block_of_places(aim_m, block))
            .collect();
        self.progress().count(places.len() as u64);
        Ok(blocks.into_iter().flatten().collect())
    }
}
