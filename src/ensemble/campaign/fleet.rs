//! Many campaigns at once: eight in step in each set of lanes, each lane with the next pass of its own
//! campaign, and sets side by side on every core.

use super::super::engine::{Progress, Stopped};
use super::flight::Flight;
use super::plan::Plan;
use super::record::FlownCampaign;
use super::start::Starts;
use crate::pass::batch::{Batch, Launch};
use rayon::prelude::*;
use std::cell::RefCell;
use std::ops::Range;

/// Campaigns flown through one set of lanes before they are handed back.
const BLOCK: u64 = 32;
/// Blocks in the air for each thread between two hand-backs.
const BLOCKS_PER_THREAD: usize = 2;

/// Flies `campaigns` of a plan and hands each to `sink` in the order of their numbers. The passes of those
/// below `rows_below` are kept.
///
/// # Errors
/// [`Stopped`] when the run was cancelled; the campaigns that were over by then have been handed on.
pub fn fly(
    plan: &Plan<'_>,
    starts: &Starts<'_>,
    (campaigns, rows_below): (u64, u64),
    (progress, mut sink): (&Progress, impl FnMut(FlownCampaign)),
) -> Result<(), Stopped> {
    let blocks = campaigns.div_ceil(BLOCK);
    let group = (rayon::current_num_threads() * BLOCKS_PER_THREAD) as u64;
    let mut first = 0;
    while first < blocks {
        if progress.is_cancelled() {
            return Err(Stopped);
        }
        let last = blocks.min(first + group);
        let flown: Vec<Vec<FlownCampaign>> = (first..last)
            .into_par_iter()
            .map(|block| {
                let from = block * BLOCK;
                let range = from..campaigns.min(from + BLOCK);
                fly_block(plan, starts, (range, rows_below), progress)
            })
            .collect();
        flown.into_iter().flatten().for_each(&mut sink);
        first = last;
    }
    if progress.is_cancelled() {
        return Err(Stopped);
    }
    Ok(())
}

/// The campaigns of one block on their way through one set of lanes.
struct Herd<'p> {
    flights: Vec<Flight<'p>>,
    /// Those whose pass has just ended.
    ready: Vec<usize>,
    /// The first that has not begun.
    fresh: usize,
}

impl Herd<'_> {
    fn next(&mut self, progress: &Progress) -> Option<Launch> {
        while !progress.is_cancelled() {
            let index = self.ready.pop().or_else(|| {
                let index = self.fresh;
                (index < self.flights.len()).then(|| {
                    self.fresh += 1;
                    index
                })
            })?;
            if let Some((start, sample)) = self.flights[index].launch() {
                return Some((index, start, sample));
            }
        }
        None
    }
}

fn fly_block(
    plan: &Plan<'_>,
    starts: &Starts<'_>,
    (campaigns, rows_below): (Range<u64>, u64),
    progress: &Progress,
) -> Vec<FlownCampaign> {
    let herd = RefCell::new(Herd {
        flights: campaigns
            .map(|number| Flight::new(plan, starts, number, number < rows_below))
            .collect(),
        ready: Vec::new(),
        fresh: 0,
    });
    Batch::new(&plan.models, plan.problem.settings()).fly(
        || herd.borrow_mut().next(progress),
        |index, pass| {
            let mut herd = herd.borrow_mut();
            herd.flights[index].take_in(&pass);
            herd.ready.push(index);
            progress.count(1);
        },
    );
    let flights = herd.into_inner().flights;
    flights.into_iter().filter_map(Flight::finish).collect()
}
