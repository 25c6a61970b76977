//! What is kept of the samples of one aim: counts, histograms, extremes, the worst samples of each limit.

use crate::ensemble::engine::FlownSample;
use crate::ensemble::histogram::{Bins, Histogram};
use crate::ensemble::{Fleet, LimitKind, Problem, Stopped, Tally};
use crate::pass::{Ending, PassResult};
use crate::scenario::limits::Form;
use crate::scenario::uncertainty::Number;
use crate::study::outcome::Quantity;
use std::ops::Range;

/// Worst samples kept of each limit at each aim.
pub const WORST: usize = 5;
/// Samples of each kind without a result listed at each aim.
pub const FAILED: usize = 100;

/// A sample and how hard it was on a limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worst {
    /// Rises with severity; in what unit depends on the limit.
    pub severity: f64,
    /// The sample.
    pub sample: u64,
}

/// What the samples of one aim did.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary {
    /// Counts.
    pub tally: Tally,
    /// A histogram of each of [`Quantity::ALL`].
    pub quantities: Vec<Histogram>,
    /// The worst samples of each limit in the order of the limit set, the worst first; of equals the lowest number.
    pub worst: Vec<Vec<Worst>>,
    /// The lowest numbers of the failed samples.
    pub failed: Vec<u64>,
    /// The same of those whose numbers fit no approach.
    pub without_approach: Vec<u64>,
}

impl Summary {
    /// Nothing flown yet, for so many limits and the bins of each quantity.
    #[must_use]
    pub fn new(limits: usize, bins: &[Bins]) -> Self {
        Self {
            tally: Tally::new(limits),
            quantities: bins.iter().map(Histogram::new).collect(),
            worst: vec![Vec::new(); limits],
            failed: Vec::new(),
            without_approach: Vec::new(),
        }
    }

    /// Counts one flown sample of a problem.
    pub fn count(&mut self, problem: &Problem, bins: &[Bins], flown: &FlownSample) {
        let (pass, sample) = (&flown.result, flown.sample);
        self.tally.count(pass.ending, flown.broken);
        let listed = match pass.ending {
            Ending::Failed => Some(&mut self.failed),
            Ending::NoApproach => Some(&mut self.without_approach),
            _ => None,
        };
        if let Some(listed) = listed {
            if listed.len() < FAILED {
                listed.push(sample);
            }
            return;
        }
        let quantities = Quantity::ALL.iter().zip(bins);
        for ((quantity, bins), histogram) in quantities.zip(&mut self.quantities) {
            if let Some(value) = quantity.of(pass) {
                histogram.count(bins, value, sample);
            }
        }
        for (bit, worst) in self.worst.iter_mut().enumerate() {
            let broken = flown.broken >> bit & 1 == 1;
            let kind = problem.limits().entries()[bit].kind;
            if let Some(severity) = severity(problem, kind, (flown, broken)) {
                keep(worst, Worst { severity, sample });
            }
        }
    }

    /// Adds what other samples of the same aim did.
    pub fn merge(&mut self, other: &Self) {
        self.tally.merge(&other.tally);
        for (mine, theirs) in self.quantities.iter_mut().zip(&other.quantities) {
            mine.merge(theirs);
        }
        for (mine, theirs) in self.worst.iter_mut().zip(&other.worst) {
            for &one in theirs {
                keep(mine, one);
            }
        }
        for (mine, theirs) in [
            (&mut self.failed, &other.failed),
            (&mut self.without_approach, &other.without_approach),
        ] {
            mine.extend(theirs);
            mine.sort_unstable();
            mine.truncate(FAILED);
        }
    }
}

/// Puts a sample among the worst if it is one of them.
fn keep(worst: &mut Vec<Worst>, one: Worst) {
    let before = |other: &Worst| {
        let order = one.severity.total_cmp(&other.severity);
        order.then_with(|| other.sample.cmp(&one.sample)).is_lt()
    };
    if worst.len() >= WORST && worst.last().is_some_and(before) {
        return;
    }
    let place = worst.partition_point(before);
    worst.insert(place, one);
    worst.truncate(WORST);
}

/// How hard a sample was on a limit: the value that is limited, where there is one. An apoapsis runs on through
/// the parabola as orbital energy. Of limits without a value only samples that broke them count, by their peak.
fn severity(
    problem: &Problem,
    kind: LimitKind,
    (flown, broken): (&FlownSample, bool),
) -> Option<f64> {
    let pass = &flown.result;
    let nose_radius_m = || problem.judging_numbers(flown.sample)[Number::NoseRadius as usize];
    let value = || problem.limits().value(kind, pass, nose_radius_m);
    let severity = match kind.spec().form {
        Form::Most | Form::MostTime => value()?,
        Form::Least => -value()?,
        Form::CapturedMost => leaves(pass).then_some(pass.orbit.twice_energy)?,
        Form::CapturedLeast => leaves(pass).then_some(-pass.orbit.twice_energy)?,
        Form::ComesDown => broken.then_some(pass.orbit.twice_energy)?,
        Form::LeavesAir => broken.then_some(pass.peak_deceleration_m_s2)?,
    };
    severity.is_finite().then_some(severity)
}

fn leaves(pass: &PassResult) -> bool {
    matches!(pass.ending, Ending::Captured | Ending::Escaped)
}

/// Flies a range of samples at every aim (m) and keeps what they did, an aim a summary.
///
/// # Errors
/// [`Stopped`] when the run was cancelled; nothing of it is kept.
pub fn fly_shard(
    fleet: &Fleet<'_>,
    (aims_m, bins): (&[f64], &[Vec<Bins>]),
    samples: Range<u64>,
) -> Result<Vec<Summary>, Stopped> {
    let problem = fleet.problem();
    let limits = problem.limits().entries().len();
    let mut summaries: Vec<Summary> = bins.iter().map(|b| Summary::new(limits, b)).collect();
    fleet.fly(aims_m, samples, |flown| {
        summaries[flown.aim].count(problem, &bins[flown.aim], flown);
    })?;
    Ok(summaries)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_are_the_same_in_any_order() {
        let all: Vec<Worst> = (0..40)
            .map(|sample| Worst {
                severity: f64::from(u32::try_from(sample * 7 % 11).unwrap()),
                sample,
            })
            .collect();
        let (mut forward, mut backward) = (Vec::new(), Vec::new());
        for &one in &all {
            keep(&mut forward, one);
        }
        for &one in all.iter().rev() {
            keep(&mut backward, one);
        }
        assert_eq!(forward, backward);
        let numbers: Vec<u64> = forward.iter().map(|one| one.sample).collect();
        // 7 s mod 11 is 10 for s = 3, 14, 25, 36 and 9 first for s = 6.
        assert_eq!(numbers, [3, 14, 25, 36, 6]);
    }
}
