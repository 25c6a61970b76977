//! Flies many samples at many aims on every core, and hands the results back in a fixed order.
//!
//! Work is cut into blocks of samples of one aim. A block is flown through one set of lanes; blocks
//! run side by side; results leave in the order of aims and samples, whatever the threads did.

use super::interval::StatisticsError;
use super::problem::{Problem, SampleNumber};
use super::tally::Tally;
use crate::numeric::counts::index;
use crate::pass::PassResult;
use crate::pass::batch::Cost;
use crate::pass::ending::Ending;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// Samples flown through one set of lanes before the results are handed back.
const BLOCK: u64 = 512;
/// The same of steered samples, each of which takes longer.
const STEERED_BLOCK: u64 = 64;
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

impl FlownSample {
    /// Whether it held every limit: it was flown, and broke none.
    #[must_use]
    pub fn held(&self) -> bool {
        self.result.ending.is_flown() && self.broken == 0
    }
}

/// Shared between a run and whoever watches it.
#[derive(Debug, Default)]
pub struct Progress {
    cancel: AtomicBool,
    flown: AtomicU64,
    spared: AtomicU64,
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
    /// Counts passes that need not be flown, since what they gave is kept from before.
    pub fn spare(&self, passes: u64) {
        self.spared.fetch_add(passes, Ordering::Relaxed);
    }
    /// Passes flown so far, and those that were spared.
    #[must_use]
    pub fn done(&self) -> u64 {
        self.flown() + self.spared.load(Ordering::Relaxed)
    }
}

/// A run was asked to stop before it was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("stopped before all passes were flown")]
pub struct Stopped;

/// Why a question that is put to flown samples has no answer.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Halt {
    /// The run was asked to stop.
    #[error(transparent)]
    Stopped(#[from] Stopped),
    /// What was counted gives no statistic.
    #[error(transparent)]
    Statistics(#[from] StatisticsError),
}

/// Flies samples of a problem on every core.
pub struct Fleet<'a> {
    problem: &'a Problem,
    progress: &'a Progress,
}

/// The number and the luck of the sample at a place.
type Numbering<'n> = dyn Fn(u64) -> (u64, SampleNumber) + Sync + 'n;

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

    /// Who counts the passes and may stop them.
    #[must_use]
    pub fn progress(&self) -> &'a Progress {
        self.progress
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
        let number = |sample| (sample, SampleNumber::Of(sample));
        self.fly_numbered(aims, samples, (&number, sink))
    }

    /// Flies `count` samples at one aim (m), the `n`th being the one that `which` gives for `n`, and hands
    /// every flown sample to `sink` in that order, with `n` for its number.
    ///
    /// # Errors
    /// [`Stopped`] when the run was cancelled; what was handed over until then is complete up to a sample.
    pub fn fly_chosen(
        &self,
        (aim_m, count): (f64, u64),
        which: impl Fn(u64) -> SampleNumber + Sync,
        sink: impl FnMut(&FlownSample),
    ) -> Result<(), Stopped> {
        let number = |n| (n, which(n));
        self.fly_numbered(&[aim_m], 0..count, (&number, sink))
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
        let number = |place: u64| {
            let sample = listed[index(place)];
            (sample, SampleNumber::Of(sample))
        };
        self.fly_numbered(aims, 0..listed.len() as u64, (&number, sink))
    }

    /// Flies places `samples`, each of which stands for a sample and has the number to hand it back with.
    fn fly_numbered(
        &self,
        aims: &[f64],
        samples: Range<u64>,
        (number, mut sink): (&Numbering<'_>, impl FnMut(&FlownSample)),
    ) -> Result<(), Stopped> {
        let size = if self.problem.guide().is_some() {
            STEERED_BLOCK
        } else {
            BLOCK
        };
        let per_aim = samples.end.saturating_sub(samples.start).div_ceil(size);
        let blocks = per_aim * aims.len() as u64;
        let group = (rayon::current_num_threads() * BLOCKS_PER_THREAD) as u64;
        let mut first = 0;
        while first < blocks {
            if self.progress.is_cancelled() {
                return Err(Stopped);
            }
            let last = blocks.min(first + group);
            let flown: Vec<Option<Vec<FlownSample>>> = (first..last)
                .into_par_iter()
                .map(|block| {
                    // A group of steered blocks may take long: each looks for itself.
                    if self.progress.is_cancelled() {
                        return None;
                    }
                    let aim = index(block / per_aim);
                    let start = samples.start + block % per_aim * size;
                    let range = start..samples.end.min(start + size);
                    Some(self.fly_block((aim, aims[aim]), range, number))
                })
                .collect();
            for block in flown {
                block.ok_or(Stopped)?.iter().for_each(&mut sink);
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
        number: &Numbering<'_>,
    ) -> Vec<FlownSample> {
        let problem = self.problem;
        let first = samples.start;
        let mut out: Vec<Option<PassResult>> = vec![None; index(samples.end - first)];
        let mut pending = samples.clone();
        // A sample whose numbers fit no approach stays without a flight.
        let launches = pending.by_ref().filter_map(|place| {
            let (_, sample) = number(place);
            let numbers = problem.numbers_of(sample);
            let (start, ready) = problem.launch(aim_m, &numbers, sample)?;
            Some(((index(place - first), start, ready), numbers))
        });
        let _: Cost = problem.fly_in_lanes(launches, |number, result| out[number] = Some(result));
        self.progress.count(samples.end - first);
        samples
            .zip(out)
            .map(|(place, result)| {
                let (sample, drawn) = number(place);
                let result = result.unwrap_or_else(PassResult::without_approach);
                let numbers = problem.judging_numbers_of(drawn);
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

impl PassResult {
    /// The result of a sample whose numbers fit no approach.
    #[must_use]
    pub fn without_approach() -> Self {
        Self {
            ending: Ending::NoApproach,
            ..Self::default()
        }
    }
}
