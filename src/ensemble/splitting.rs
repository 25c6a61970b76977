//! The probability of something rare, by subset simulation: a pilot run finds levels of severity, each reached by a
//! tenth of what reached the one before, and independent runs climb them. What is rare, and how severe a place in
//! the space of independent standard normal numbers is, is asked of the caller, for many places at once.
//!
//! The pilot is a subset simulation with levels from its own places (Au and Beck, Probabilistic Engineering Mechanics
//! 16 (2001) 263). Its levels, and the steps of its chains, are then held, and each run is a splitting with a fixed
//! number of places at every level, whose product of shares has the probability for its mean, without bias (Botev and
//! Kroese, Statistics and Computing 22 (2012) 1; Cérou and others, ibid. 795): the survivors of a level are the
//! seeds of as many chains of ten places as fill a level. A chain proposes a step by conditional sampling with a
//! spread of each coordinate's own (Papaioannou and others, Probabilistic Engineering Mechanics 41 (2015) 89),
//! which leaves the normal law as it is. The interval is of the runs' scatter, so that the correlation
//! inside a run counts in full. (Sources from memory.)
//!
//! What a search like this cannot see: an accident that does not announce itself by a rising severity.

use super::chains::{Chains, LENGTH, Population, count, normal};
use super::engine::{Halt, Stopped};
use super::interval::Interval;
use super::luck::Block;
use super::replicates::{RUNS, interval};
use crate::numeric::elementary::exp;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;

/// What is asked of a search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Search {
    /// Coordinates of a place, 1 or more.
    pub dimensions: usize,
    /// Places at each level of each run, 20 or more; whole tens count.
    pub places: usize,
    /// No levels are looked for below this probability: what is rarer is given an upper bound.
    pub floor: f64,
    /// Confidence of the interval.
    pub confidence: f64,
    /// Seed of the places.
    pub seed: u64,
    /// Searches of one seed with different numbers have different luck; below 256.
    pub number: u8,
    /// So have searches of different blocks.
    pub block: Block,
}

/// How severe a place is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// At least 0 exactly where the event happens, and where nobody can tell whether it does.
    pub severity: f64,
    /// What counts of the event, 0 to 1, where it happens: 1, or a share among several events that happen at once.
    pub share: f64,
    /// Whether it can be told that the event happens. A place of which it cannot counts by its share alone, and not
    /// in the probability of the event.
    pub told: bool,
}

/// What a search found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Probability of the event.
    pub probability: Interval,
    /// The estimate of each run.
    pub runs: [f64; RUNS],
    /// The same of what counts of the event.
    pub shares: [f64; RUNS],
    /// The same of the places among them of which the event cannot be told.
    pub untold: [f64; RUNS],
    /// Where no run met the event: what its probability stays below (part of `probability`), else 0.
    pub unseen: f64,
    /// Levels climbed before the event.
    pub levels: usize,
    /// Places asked for in all.
    pub places: u64,
    /// The likeliest place with the event that was met.
    pub likeliest: Option<Vec<f64>>,
}

/// Share of the places that reach the next level.
const SHARE: f64 = 0.1;
/// Most levels of a pilot.
const MOST_LEVELS: usize = 24;
/// Share of steps that a chain should take: near the best for a random walk.
const TAKEN: f64 = 0.44;
/// Smallest spread of a step.
const SMALLEST_STEP: f64 = 0.02;

/// A level and how chains move above it.
#[derive(Debug, Clone)]
struct Level {
    severity: f64,
    /// Spread of a step along each coordinate, in (0, 1].
    steps: Vec<f64>,
}

/// A search on its way: the asker and what it was asked.
struct Climb<'s, F> {
    search: &'s Search,
    ask: F,
    asked: u64,
}

impl Search {
    /// Looks for the probability of the event that `ask` marks.
    ///
    /// # Errors
    /// [`Halt`]: stopped by the asker, or a confidence out of range.
    pub fn run(
        &self,
        ask: impl FnMut(&[Vec<f64>]) -> Result<Vec<Mark>, Stopped>,
    ) -> Result<Found, Halt> {
        let mut climb = Climb {
            search: self,
            ask,
            asked: 0,
        };
        let levels = climb.pilot()?;
        let mut runs = Vec::with_capacity(RUNS);
        for run in 1..=RUNS {
            runs.push((climb.first(run)?, 1.0));
        }
        let mut reached = Vec::with_capacity(levels.len());
        for (number, level) in levels.iter().enumerate() {
            climb.raise(&mut runs, (number + 1, level))?;
            let mut weights = [0.0; RUNS];
            for (weight, (_, run)) in weights.iter_mut().zip(&runs) {
                *weight = *run;
            }
            reached.push(weights);
        }
        self.sum_up(&runs, &reached, climb.asked)
    }

    fn sum_up(
        &self,
        runs: &[(Population, f64)],
        reached: &[[f64; RUNS]],
        places: u64,
    ) -> Result<Found, Halt> {
        let (mut estimates, mut shares, mut untold) = ([0.0; RUNS], [0.0; RUNS], [0.0; RUNS]);
        let mut events = 0;
        let mut likeliest: Option<(f64, &Vec<f64>)> = None;
        for (k, (population, weight)) in runs.iter().enumerate() {
            let happened = population.places.iter().zip(&population.marks);
            let each = weight / count(population.marks.len().max(1));
            for (place, mark) in happened.filter(|(_, mark)| mark.severity >= 0.0) {
                shares[k] += each * mark.share;
                if !mark.told {
                    untold[k] += each * mark.share;
                    continue;
                }
                estimates[k] += each;
                events += 1;
                let far = place.iter().map(|z| z * z).sum::<f64>();
                if likeliest.is_none_or(|(least, _)| far < least) {
                    likeliest = Some((far, place));
                }
            }
        }
        let likeliest = likeliest.map(|(_, place)| place.clone());
        let mut probability = interval(&estimates, self.confidence)?;
        let mut unseen = 0.0;
        if reached.is_empty() {
            // Independent places without a level: a count as any other.
            let of = (RUNS * self.chains() * LENGTH) as u64;
            probability = Interval::clopper_pearson(events, of, self.confidence)?;
        } else if events == 0 {
            // What reaches the event reaches every level: the level that is known best bounds it. One that no run
            // reached is not known at all.
            unseen = 1.0;
            for weights in reached
                .iter()
                .filter(|weights| weights.iter().all(|w| *w > 0.0))
            {
                unseen = f64::min(unseen, interval(weights, self.confidence)?.upper);
            }
            probability.upper = unseen;
        }
        Ok(Found {
            probability,
            runs: estimates,
            shares,
            untold,
            unseen,
            levels: reached.len(),
            places,
            likeliest,
        })
    }

    /// Chains that fill a level.
    pub(super) fn chains(&self) -> usize {
        (self.places / LENGTH).max(2)
    }

    /// The generator of a chain: of a run (0 the pilot), a level and a chain of its own.
    pub(super) fn luck(&self, run: usize, level: usize, chain: usize) -> ChaCha8Rng {
        // Keeps the words apart from those of drawn samples.
        let apart = match self.block {
            Block::First => 0x7261_7265_5F61_6363,
            Block::Second => 0x7261_7265_5F32_6E64,
        };
        let mut generator = ChaCha8Rng::seed_from_u64(self.seed ^ apart);
        let stream = (u64::from(self.number) << 56) | ((run as u64) << 48) | ((level as u64) << 40);
        generator.set_stream(stream | chain as u64);
        generator
    }
}

impl<F: FnMut(&[Vec<f64>]) -> Result<Vec<Mark>, Stopped>> Climb<'_, F> {
    fn ask(&mut self, places: Vec<Vec<f64>>) -> Result<Population, Stopped> {
        self.asked += places.len() as u64;
        let marks = (self.ask)(&places)?;
        Ok(Population { places, marks })
    }

    /// Independent places.
    fn first(&mut self, run: usize) -> Result<Population, Stopped> {
        let search = self.search;
        let places = (0..search.chains() * LENGTH).map(|chain| {
            let mut luck = search.luck(run, 0, chain);
            (0..search.dimensions).map(|_| normal(&mut luck)).collect()
        });
        self.ask(places.collect())
    }

    /// The levels up to the event, or to the floor, or to where severity rises no further.
    fn pilot(&mut self) -> Result<Vec<Level>, Stopped> {
        let mut levels: Vec<Level> = Vec::new();
        let mut population = self.first(0)?;
        let mut probability = 1.0;
        let mut stride = 0.6;
        while let Some(severity) = next_level(&population.marks, levels.last()) {
            let seeds = population.above(severity);
            probability *= count(seeds.places.len()) / count(population.places.len());
            if levels.len() == MOST_LEVELS || probability < self.search.floor {
                break;
            }
            let number = levels.len() + 1;
            let spreads = seeds.spreads(self.search.dimensions);
            let mut chains = Chains::new(self.search, (0, number), seeds);
            let (mut all, mut strides, mut rounds) = (Population::default(), 0.0, 0.0);
            let mut steps = steps(&spreads, stride);
            while chains.collect(&mut all) {
                let asked = self.ask(chains.propose(&steps))?;
                let taken = chains.take(asked, severity);
                strides += stride;
                rounds += 1.0;
                stride = (stride * exp((taken - TAKEN) / f64::sqrt(rounds))).clamp(0.05, 3.0);
                steps = self::steps(&spreads, stride);
            }
            if rounds > 0.0 {
                stride = strides / rounds;
            }
            levels.push(Level {
                severity,
                steps: self::steps(&spreads, stride),
            });
            population = all;
        }
        Ok(levels)
    }

    /// Takes all runs up one level, their chains side by side.
    fn raise(
        &mut self,
        runs: &mut [(Population, f64)],
        (number, level): (usize, &Level),
    ) -> Result<(), Stopped> {
        let mut climbing = Vec::new();
        for (run, (population, weight)) in runs.iter_mut().enumerate() {
            let seeds = population.above(level.severity);
            *weight *= count(seeds.places.len()) / count(population.places.len().max(1));
            *population = Population::default();
            climbing.push(Chains::new(self.search, (run + 1, number), seeds));
        }
        loop {
            let mut proposed = Vec::new();
            let mut sizes = vec![0; runs.len()];
            for (k, chains) in climbing.iter_mut().enumerate() {
                if chains.collect(&mut runs[k].0) {
                    let some = chains.propose(&level.steps);
                    sizes[k] = some.len();
                    proposed.extend(some);
                }
            }
            if proposed.is_empty() {
                return Ok(());
            }
            let mut asked = self.ask(proposed)?;
            for (chains, &size) in climbing.iter_mut().zip(&sizes) {
                let rest = asked.split_off(size);
                chains.take(asked, level.severity);
                asked = rest;
            }
        }
    }
}

/// The severity that a tenth of the places reach; `None` where a tenth of them reach the event, or none is more
/// severe than the level before.
fn next_level(marks: &[Mark], last: Option<&Level>) -> Option<f64> {
    let mut severities: Vec<f64> = marks.iter().map(|mark| mark.severity).collect();
    severities.sort_by(|a, b| b.total_cmp(a));
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a count"
    )]
    let place = (count(severities.len()) * SHARE) as usize;
    let level = severities.get(place.saturating_sub(1)).copied()?;
    // Of equal severities those above the level before, or above what all have, count.
    let least = severities.last().copied()?;
    let floor = last.map_or(least, |last| last.severity.max(least));
    let level = if level > floor {
        level
    } else {
        severities.into_iter().rev().find(|&s| s > floor)?
    };
    (level < 0.0).then_some(level)
}

/// The spread of a step along each coordinate: a stride times that of the seeds.
fn steps(spreads: &[f64], stride: f64) -> Vec<f64> {
    let step = |spread: &f64| (stride * spread).clamp(SMALLEST_STEP, 1.0);
    spreads.iter().map(step).collect()
}
