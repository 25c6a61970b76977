//! Chains of places that a search moves along above a level.

use super::distribution::Chance;
use super::splitting::{Mark, Search};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::Rng;

/// Places of a chain: one over the share of the places that reach the next level.
pub(super) const LENGTH: usize = 10;

/// Places with their marks.
#[derive(Debug, Clone, Default)]
pub(super) struct Population {
    pub(super) places: Vec<Vec<f64>>,
    pub(super) marks: Vec<Mark>,
}

impl Population {
    pub(super) fn above(&self, severity: f64) -> Self {
        let all = self.places.iter().zip(&self.marks);
        let (places, marks) = all
            .filter(|(_, mark)| mark.severity >= severity)
            .map(|(place, mark)| (place.clone(), *mark))
            .unzip();
        Self { places, marks }
    }

    /// Takes off everything from this place on.
    pub(super) fn split_off(&mut self, from: usize) -> Self {
        Self {
            places: self.places.split_off(from),
            marks: self.marks.split_off(from),
        }
    }

    /// Standard deviation of each coordinate.
    pub(super) fn spreads(&self, dimensions: usize) -> Vec<f64> {
        let n = count(self.places.len().max(1));
        let of = |i: usize| {
            let mean = self.places.iter().map(|place| place[i]).sum::<f64>() / n;
            let squares = self.places.iter().map(|place| (place[i] - mean).powi(2));
            (squares.sum::<f64>() / n).sqrt()
        };
        (0..dimensions).map(of).collect()
    }
}

/// The chains of one run at one level.
pub(super) struct Chains {
    at: Population,
    luck: Vec<ChaCha8Rng>,
    /// Places that each chain still has to give, the one it stands at included.
    left: Vec<usize>,
    /// Chains that were moved last.
    moving: Vec<usize>,
}

impl Chains {
    /// Chains of [`LENGTH`] places, as many as fill a level, from the seeds in turn; by lot which has one more.
    ///
    /// What a seed's chain gives on the average does not depend on how many seeds there are: that keeps the
    /// estimate without bias.
    pub(super) fn new(
        search: &Search,
        (run, level): (usize, usize),
        mut seeds: Population,
    ) -> Self {
        let n = seeds.places.len();
        let mut lot = search.luck(run, level, usize::from(u16::MAX) << 16);
        for i in (1..n).rev() {
            let other = below(&mut lot, i + 1);
            seeds.places.swap(i, other);
            seeds.marks.swap(i, other);
        }
        let chains = if n == 0 { 0 } else { search.chains() };
        let at = Population {
            places: (0..chains).map(|c| seeds.places[c % n].clone()).collect(),
            marks: (0..chains).map(|c| seeds.marks[c % n]).collect(),
        };
        Self {
            at,
            luck: (0..chains)
                .map(|chain| search.luck(run, level, chain))
                .collect(),
            left: vec![LENGTH; chains],
            moving: Vec::new(),
        }
    }

    /// Gives the places at which the chains stand that have one to give; whether any has to move on.
    pub(super) fn collect(&mut self, to: &mut Population) -> bool {
        self.moving.clear();
        for (chain, left) in self
            .left
            .iter_mut()
            .enumerate()
            .filter(|(_, left)| **left > 0)
        {
            to.places.push(self.at.places[chain].clone());
            to.marks.push(self.at.marks[chain]);
            *left -= 1;
            if *left > 0 {
                self.moving.push(chain);
            }
        }
        !self.moving.is_empty()
    }

    pub(super) fn propose(&mut self, steps: &[f64]) -> Vec<Vec<f64>> {
        let mut proposed = Vec::with_capacity(self.moving.len());
        for &chain in &self.moving {
            let luck = &mut self.luck[chain];
            let along = self.at.places[chain].iter().zip(steps);
            let place = along.map(|(z, s)| (1.0 - s * s).sqrt() * z + s * normal(luck));
            proposed.push(place.collect());
        }
        proposed
    }

    /// Moves to what was proposed where that is severe enough; the share of steps taken.
    pub(super) fn take(&mut self, asked: Population, severity: f64) -> f64 {
        let mut taken = 0;
        let asked = asked.places.into_iter().zip(asked.marks);
        for (&chain, (place, mark)) in self.moving.iter().zip(asked) {
            if mark.severity >= severity {
                self.at.places[chain] = place;
                self.at.marks[chain] = mark;
                taken += 1;
            }
        }
        count(taken) / count(self.moving.len().max(1))
    }
}

pub(super) fn normal(luck: &mut ChaCha8Rng) -> f64 {
    Chance::from_bits(luck.next_u64()).normal_score()
}

/// A whole number below `end`, which is far below 2^32: the bias is below 1e-9.
fn below(luck: &mut ChaCha8Rng, end: usize) -> usize {
    let wide = u128::from(luck.next_u64()) * end as u128;
    usize::try_from(wide >> 64).unwrap_or(0)
}

#[expect(clippy::cast_precision_loss, reason = "counts stay below 2^53")]
pub(super) fn count(n: usize) -> f64 {
    n as f64
}
