//! Single flights with numbers of the caller's choice, flown in lanes on every core.
//!
//! Where an ensemble draws its numbers, a sortie is given them: for edges, maps and footprints. The air is
//! the nominal one, and the bank is held.

use super::engine::{Progress, Stopped};
use super::problem::{Numbers, Problem, SampleNumber};
use crate::pass::PassResult;
use crate::pass::batch::Batch;
use rayon::prelude::*;

/// Sorties flown through one set of lanes.
const BLOCK: usize = 256;
/// Blocks between two looks at whether the run was asked to stop.
const TOGETHER: usize = 64;

/// One flight to fly.
#[derive(Debug, Clone, Copy)]
pub struct Sortie {
    /// Aimed vacuum periapsis altitude, m.
    pub aim_m: f64,
    /// The numbers flown with.
    pub numbers: Numbers,
}

/// Flies the sorties; the results stand in their order, `None` where the numbers fit no approach conic.
///
/// # Errors
/// [`Stopped`] when the run was cancelled.
pub fn fly_sorties(
    problem: &Problem,
    sorties: &[Sortie],
    progress: &Progress,
) -> Result<Vec<Option<PassResult>>, Stopped> {
    let mut results = Vec::with_capacity(sorties.len());
    for group in sorties.chunks(BLOCK * TOGETHER) {
        if progress.is_cancelled() {
            return Err(Stopped);
        }
        let flown: Vec<Vec<Option<PassResult>>> = group
            .par_chunks(BLOCK)
            .map(|block| fly_block(problem, block))
            .collect();
        results.extend(flown.into_iter().flatten());
        progress.count(group.len() as u64);
    }
    Ok(results)
}

fn fly_block(problem: &Problem, block: &[Sortie]) -> Vec<Option<PassResult>> {
    let mut results = vec![None; block.len()];
    let mut pending = block.iter().enumerate();
    Batch::new(problem.models(), problem.settings()).fly(
        || {
            pending.find_map(|(number, sortie)| {
                let (start, sample) =
                    problem.launch(sortie.aim_m, &sortie.numbers, SampleNumber::Nominal)?;
                Some((number, start, sample))
            })
        },
        |number, result| results[number] = Some(result),
    );
    results
}
