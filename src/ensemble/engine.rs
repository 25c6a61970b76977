//! Flies many samples at many aims on every core, and hands the results back in a fixed order.
//!
//! Work is cut into blocks of samples of one aim. A block is flown through one set of lanes; blocks
//! run side by side; results leave in the order of aims and samples, whatever the threads did.

use super::problem::{Problem, SampleNumber};
use super::tally::Tally;
use crate::pass::PassResult;
use crate::pass::approach::EntryState;
use crate::pass::batch::{Batch, Cost};
use crate::pass::dynamics::Sample;
use crate::pass::ending::Ending;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// Samples flown through one set of lanes before the results are handed back.
const BLOCK: u64 = 512;
/// Blocks in the air for each thread between two hand-backs: bounds what is held in memory.
const BLOCKS_PER_THREAD: usize = 8;

/// One flown sample.
#[derive(Debug, Clone, Copy)]
pub struct FlownSample {
    /// Index of the aim.
    pub aim: usize,
    /// Number of the sample.
    pub sample: u64,
    /// What the pass gave.
    pub result: PassResult,
    /// One bit for each limit it broke.
    pub broken: u32,
}

/// Shared between a run and whoever watches it.
#[derive(Debug, Default)]
pub struct Progress {
    cancel: AtomicBool,
    flown: AtomicU64,
}

impl Progress {
    /// Asks the run to stop after the blocks now in the air.
    pub fn cancel(&self) {
        self.cancel.store(true, Ordering::Relaxed);
    }
    /// Whether the run was asked to stop.
    #[must_use]
    pub fn is_cancelled(&self) -> bool {
        self.cancel.load(Ordering::Relaxed)
    }
    /// Counts passes that were flown.
    pub(super) fn count(&self, passes: u64) {
        self.flown.fetch_add(passes, Ordering::Relaxed);
    }
    /// Passes flown so far.
    #[must_use]
    pub fn flown(&self) -> u64 {
        self.flown.load(Ordering::Relaxed)
    }
}

/// A run was asked to stop before it was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("stopped before all passes were flown")]
pub struct Stopped;

/// Flies samples of a problem on every core.
pub struct Fleet<'a> {
    problem: &'a Problem,
    progress: &'a Progress,
}

impl<'a> Fleet<'a> {
    /// A fleet for a problem; `progress` counts and can stop it.
    #[must_use]
    pub fn new(problem: &'a Problem, progress: &'a Progress) -> Self {
        Self { problem, progress }
    }

    /// The problem flown.
    #[must_use]
    pub fn problem(&self) -> &'a Problem {
        self.problem
    }

    /// Flies `samples` at each of `aims` (vacuum periapsis altitude, m) and hands every flown sample
    /// to `sink`, ordered by aim, then sample.
    ///
    /// # Errors
    /// [`Stopped`] when the run was cancelled; what was handed over until then is complete up to a sample.
    pub fn fly(
        &self,
        aims: &[f64],
        samples: Range<u64>,
        sink: impl FnMut(&FlownSample),
    ) -> Result<(), Stopped> {
        self.fly_numbered(aims, samples, (|number| number, sink))
    }

    /// Flies the samples of these numbers at each of `aims` (m), ordered by aim, then as they are listed.
    ///
    /// # Errors
    /// [`Stopped`] when the run was cancelled.
    pub fn fly_listed(
        &self,
        aims: &[f64],
        listed: &[u64],
        sink: impl FnMut(&FlownSample),
    ) -> Result<(), Stopped> {
        let number = |place: u64| listed.get(index(place)).copied().unwrap_or(u64::MAX);
        self.fly_numbered(aims, 0..listed.len() as u64, (number, sink))
    }

    /// Flies places `samples`, each of which stands for the sample of a number.
    fn fly_numbered(
        &self,
        aims: &[f64],
        samples: Range<u64>,
        (number, mut sink): (impl Fn(u64) -> u64 + Sync, impl FnMut(&FlownSample)),
    ) -> Result<(), Stopped> {
        let per_aim = samples.end.saturating_sub(samples.start).div_ceil(BLOCK);
        let blocks = per_aim * aims.len() as u64;
        let group = (rayon::current_num_threads() * BLOCKS_PER_THREAD) as u64;
        let mut first = 0;
        while first < blocks {
            if self.progress.is_cancelled() {
                return Err(Stopped);
            }
            let last = blocks.min(first + group);
            let flown: Vec<Vec<FlownSample>> = (first..last)
                .into_par_iter()
                .map(|block| {
                    let aim = usize::try_from(block / per_aim).unwrap_or(usize::MAX);
                    let start = samples.start + block % per_aim * BLOCK;
                    let range = start..samples.end.min(start + BLOCK);
                    self.fly_block((aim, aims[aim]), range, &number)
                })
                .collect();
            for sample in flown.iter().flatten() {
                sink(sample);
            }
            first = last;
        }
        Ok(())
    }

    /// Counts over `samples` at each of `aims`.
    ///
    /// # Errors
    /// [`Stopped`] when the run was cancelled.
    pub fn tally(&self, aims: &[f64], samples: Range<u64>) -> Result<Vec<Tally>, Stopped> {
        let limits = self.problem.limits().entries().len();
        let mut tallies = vec![Tally::new(limits); aims.len()];
        self.fly(aims, samples, |flown| {
            tallies[flown.aim].count(flown.result.ending, flown.broken);
        })?;
        Ok(tallies)
    }

    fn fly_block(
        &self,
        (aim, aim_m): (usize, f64),
        samples: Range<u64>,
        number: &(impl Fn(u64) -> u64 + Sync),
    ) -> Vec<FlownSample> {
        let problem = self.problem;
        let first = samples.start;
        let mut out: Vec<Option<PassResult>> = vec![None; index(samples.end - first)];
        let mut pending = samples.clone();
        let next = || -> Option<(usize, EntryState, Sample<f64>)> {
            // A sample whose numbers fit no approach conic stays without a result: it failed.
            pending.find_map(|place| {
                let sample = number(place);
                let (start, ready) =
                    problem.launch(aim_m, &problem.numbers(sample), SampleNumber::Of(sample))?;
                Some((index(place - first), start, ready))
            })
        };
        let _: Cost = Batch::new(problem.models(), problem.settings())
            .fly(next, |number, result| out[number] = Some(result));
        self.progress.count(samples.end - first);
        samples
            .zip(out)
            .map(|(place, result)| {
                let sample = number(place);
                let result = result.unwrap_or_else(PassResult::without_approach);
                let numbers = problem.judging_numbers(sample);
                FlownSample {
                    aim,
                    sample,
                    broken: problem.limits().broken(&result, &numbers),
                    result,
                }
            })
            .collect()
    }
}

/// Position of a sample in its block, which holds at most [`BLOCK`].
fn index(offset: u64) -> usize {
    usize::try_from(offset).unwrap_or(usize::MAX)
}

impl PassResult {
    /// The result of a sample whose numbers fit no approach conic: counted as failed.
    fn without_approach() -> Self {
        Self {
            ending: Ending::Failed,
            ..Self::default()
        }
    }
}
