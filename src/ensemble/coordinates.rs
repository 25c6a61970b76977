//! Samples at given places in the space of normal scores, instead of drawn ones: what a search for rare
//! accidents moves through. Where to go is left to it.
//!
//! A place has one coordinate for each uncertain number, in the order of the draw indices, and behind them, where
//! the small-scale field of the air is flown, three for each of its waves. A drawn sample is a place whose
//! coordinates are independent standard normal numbers.

use super::distribution::Chance;
use super::draws::{Correlated, Draws};
use super::engine::{Fleet, Stopped};
use super::problem::{Numbers, Problem, SampleNumber};
use crate::pass::PassResult;
use crate::pass::batch::Launch;
use crate::scenario::uncertainty::Number;
use crate::world::waves::COUNT;
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
        let drawn = self.draws.numbers().into_iter();
        drawn.filter(|&number| self.is_moved_by(number)).collect()
    }

    /// How many coordinates a place has.
    #[must_use]
    pub fn dimensions(&self) -> usize {
        let field = self.air.field.map_or(0, |_| FIELD);
        self.coordinates().len() + field
    }

    /// The numbers of a place.
    #[must_use]
    pub fn numbers_at(&self, place: &[f64]) -> Numbers {
        let mut scores = [0.0; Number::COUNT];
        for (number, &score) in self.coordinates().iter().zip(place) {
            scores[*number as usize] = score;
        }
        self.scored(&scores)
    }

    /// What a lane needs to fly a place at an aim (m); `None` where its numbers fit no approach conic.
    fn launch_place(&self, aim_m: f64, place: &[f64], numbers: &Numbers) -> Option<Launch> {
        let (start, mut sample) = self.launch(aim_m, numbers, SampleNumber::Nominal)?;
        if let Some(waves) = self.air.field {
            let field = place.len().saturating_sub(FIELD);
            let mut scores = place[field..].iter();
            let next = || {
                let score = scores.next().copied();
                Chance::from_normal_score(score.expect("a place has every coordinate of the field"))
            };
            sample.air.waves = waves.waves(&start, next);
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
            let result = result.unwrap_or_else(PassResult::without_approach);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ensemble::Progress;
    use crate::ensemble::luck::{Luck, Mix};
    use crate::scenario::{STARTER, Scenario};
    use crate::world::World;
    use rand_chacha::rand_core::Rng;

    /// The place whose coordinates are the scores that a sample drew is flown as the sample is.
    #[test]
    fn a_drawn_sample_is_the_place_of_its_scores() {
        let text = STARTER.replacen(
            "uncertainty:\n",
            "uncertainty:\n  correlations:\n    - {between: [ship.mass, ship.nose_radius], coefficient: 0.4}\n",
            1,
        );
        let scenario = Scenario::from_text("x.yaml", &text).unwrap();
        let world = World::bundled(&scenario.world).unwrap();
        let problem = Problem::new(&scenario, &world).unwrap();
        let luck = Luck::new(problem.seed());
        let place = |sample: u64| -> Vec<f64> {
            let mut words = [0; Number::COUNT];
            luck.words(Mix::of(sample), &mut words);
            let numbers = problem.coordinates();
            let mut words: Vec<u64> = numbers.iter().map(|n| words[*n as usize]).collect();
            let mut field = luck.of_field(Mix::of(sample));
            words.extend((0..FIELD).map(|_| field.next_u64()));
            let score = |word: u64| Chance::from_bits(word).normal_score();
            words.into_iter().map(score).collect()
        };
        let (count, aim_m) = (20, 51e3);
        let places: Vec<Vec<f64>> = (0..count).map(place).collect();
        assert_eq!(places[0].len(), problem.dimensions());
        let progress = Progress::default();
        let fleet = Fleet::new(&problem, &progress);
        let flown = fleet.fly_places(aim_m, &places).unwrap();
        assert_eq!(progress.flown(), count);
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * a.abs().max(1e-6);
        fleet
            .fly(&[aim_m], 0..count, |sample| {
                let at = usize::try_from(sample.sample).unwrap();
                let drawn = problem.numbers(sample.sample);
                let scored = problem.numbers_at(&places[at]);
                // The error of radiation is drawn, but has no coordinate where none is flown.
                for number in problem.coordinates() {
                    let (a, b) = (drawn[number as usize], scored[number as usize]);
                    assert!(near(a, b), "{number:?}: {a} {b}");
                }
                let (a, b) = (&sample.result, &flown[at].result);
                assert_eq!(a.ending, b.ending);
                assert!(near(a.peak_deceleration_m_s2, b.peak_deceleration_m_s2));
                assert!(near(a.heat_load_j_m2, b.heat_load_j_m2));
                assert_eq!(sample.broken, flown[at].broken);
            })
            .unwrap();
    }
}
