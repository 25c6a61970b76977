//! The file of one part of a run: what a shard counted, under the hash of its plan and a digest of its own.
//!
//! One line of JSON and a line `sha256 <digest of that line>`. Every change of a byte shows; nothing in it
//! depends on the clock, the machine or the threads.

pub use super::seal::sealed;
use super::seal::{Exact, Fault, unsealed};
use crate::ensemble::Tally;
use crate::ensemble::histogram::{Bins, Histogram, Numbered};
use crate::pass::Ending;
use crate::study::shards::Summary;
use crate::study::shards::summary::{FAILED, WORST, Worst};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::ops::Range;

/// Whose part it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartHead {
    /// Version of the form.
    pub schema: u32,
    /// The program that flew it.
    pub program: String,
    /// Hash of the plan.
    pub plan_sha256: String,
    /// Number of the shard, from 0.
    pub index: u64,
    /// First sample.
    pub first: u64,
    /// The sample after the last.
    pub end: u64,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct PartFile {
    head: PartHead,
    aims: Vec<AimCounts>,
}

/// What the samples of one aim did, as it is written.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct AimCounts {
    endings: [u64; Ending::ALL.len()],
    broken_any: u64,
    broken: Vec<u64>,
    failed: Vec<u64>,
    without_approach: Vec<u64>,
    worst: Vec<Vec<(Exact, u64)>>,
    quantities: Vec<Counts>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Counts {
    below: u64,
    above: u64,
    lowest: Option<(Exact, u64)>,
    highest: Option<(Exact, u64)>,
    /// Bins that are not empty: place and count.
    bins: Vec<(u32, u64)>,
}

/// The file of a part.
///
/// # Panics
/// Never: what is written is made of numbers and texts alone.
#[must_use]
pub fn encode(head: PartHead, summaries: &[Summary]) -> String {
    let aims = summaries.iter().map(AimCounts::of).collect();
    let part = PartFile { head, aims };
    let line = serde_json::to_string(&part).expect("numbers and texts can be written");
    sealed(&line)
}

/// Reads the file of a part and holds it against what is expected of it.
///
/// # Errors
/// [`Fault`], the first that is found.
pub fn decode(
    bytes: &[u8],
    expected: &PartHead,
    (limits, bins): (usize, &[Vec<Bins>]),
) -> Result<Vec<Summary>, Fault> {
    let line = unsealed(bytes)?;
    let malformed = |why: &dyn fmt::Display| Fault::Malformed(why.to_string());
    // Whose part it is comes before its form, which may be that of another version.
    let value: serde_json::Value = serde_json::from_str(line).map_err(|error| malformed(&error))?;
    let text = |key: &str| Some(value.get("head")?.get(key)?.as_str()?.to_owned());
    if let Some(program) = text("program").filter(|program| *program != expected.program) {
        return Err(Fault::OtherProgram(program));
    }
    let part: PartFile = serde_json::from_value(value).map_err(|error| malformed(&error))?;
    let head = &part.head;
    if head.schema != expected.schema {
        return Err(malformed(&format_args!(
            "its form is version {}",
            head.schema
        )));
    }
    if head.plan_sha256 != expected.plan_sha256 {
        return Err(Fault::OtherPlan);
    }
    if head.index != expected.index {
        return Err(Fault::Doubled(head.index));
    }
    if (head.first, head.end) != (expected.first, expected.end) {
        return Err(Fault::OtherSamples);
    }
    if part.aims.len() != bins.len() {
        return Err(malformed(&"another number of aims"));
    }
    let samples = expected.first..expected.end;
    let aims = part.aims.into_iter().zip(bins);
    aims.map(|(aim, bins)| {
        aim.summary((limits, bins), samples.clone())
            .ok_or_else(|| malformed(&"its counts contradict each other"))
    })
    .collect()
}

impl AimCounts {
    /// Samples that were flown to an end: what has no result can have broken no limit.
    fn flown(&self) -> u64 {
        let endings = Ending::ALL.iter().zip(self.endings);
        let flown = endings.filter(|(ending, _)| ending.is_flown());
        flown.fold(0, |sum, (_, count)| sum.saturating_add(count))
    }

    pub(super) fn of(summary: &Summary) -> Self {
        let numbered = |one: Option<Numbered>| one.map(|one| (Exact(one.value), one.sample));
        let counts = |histogram: &Histogram| Counts {
            below: histogram.below,
            above: histogram.above,
            lowest: numbered(histogram.lowest),
            highest: numbered(histogram.highest),
            bins: (0..)
                .zip(&histogram.counts)
                .filter(|(_, count)| **count > 0)
                .map(|(place, count)| (place, *count))
                .collect(),
        };
        let worst = |worst: &Vec<Worst>| {
            let one = |one: &Worst| (Exact(one.severity), one.sample);
            worst.iter().map(one).collect()
        };
        Self {
            endings: summary.tally.endings,
            broken_any: summary.tally.broken_any,
            broken: summary.tally.broken.clone(),
            failed: summary.failed.clone(),
            without_approach: summary.without_approach.clone(),
            worst: summary.worst.iter().map(worst).collect(),
            quantities: summary.quantities.iter().map(counts).collect(),
        }
    }

    /// The counts of these samples; `None` where they cannot be such.
    pub(super) fn summary(
        self,
        (limits, bins): (usize, &[Bins]),
        numbers: Range<u64>,
    ) -> Option<Summary> {
        let samples = numbers.end.checked_sub(numbers.start)?;
        let sum = |counts: &[u64]| counts.iter().try_fold(0_u64, |sum, n| sum.checked_add(*n));
        let most_broken = self.broken.iter().copied().max().unwrap_or_default();
        let ended = |ending: Ending| self.endings[ending as usize];
        // Each listed once, in order, and none that there is not.
        let listed = |list: &[u64], ending: Ending| {
            list.len() <= FAILED
                && list.len() as u64 <= ended(ending)
                && list.iter().all(|sample| numbers.contains(sample))
                && list.windows(2).all(|pair| pair[0] < pair[1])
        };
        let worst_fit = |worst: &Vec<(Exact, u64)>| {
            worst.len() <= WORST
                && worst.iter().all(|(_, sample)| numbers.contains(sample))
                && worst.windows(2).all(|pair| pair[0].0.0 >= pair[1].0.0)
        };
        let fits = sum(&self.endings) == Some(samples)
            && self.broken.len() == limits
            && self.broken_any >= most_broken
            && self.broken_any <= self.flown()
            && sum(&self.broken).is_some_and(|broken| self.broken_any <= broken)
            && self.worst.len() == limits
            && self.worst.iter().all(worst_fit)
            && listed(&self.failed, Ending::Failed)
            && listed(&self.without_approach, Ending::NoApproach)
            && self.quantities.len() == bins.len();
        if !fits {
            return None;
        }
        let mut quantities = Vec::with_capacity(bins.len());
        for (counts, bins) in self.quantities.into_iter().zip(bins) {
            let mut histogram = Histogram::new(bins);
            if !counts.bins.windows(2).all(|pair| pair[0].0 < pair[1].0) {
                return None;
            }
            for (place, count) in counts.bins {
                *histogram.counts.get_mut(usize::try_from(place).ok()?)? = count;
            }
            (histogram.below, histogram.above) = (counts.below, counts.above);
            let all = sum(&histogram.counts)?.checked_add(counts.below)?;
            let all = all.checked_add(counts.above)?;
            let numbered = |one: Option<(Exact, u64)>| {
                one.map(|(Exact(value), sample)| Numbered { value, sample })
            };
            histogram.lowest = numbered(counts.lowest);
            histogram.highest = numbered(counts.highest);
            let extremes_fit = match (histogram.lowest, histogram.highest) {
                (Some(low), Some(high)) => {
                    let known = |one: Numbered| numbers.contains(&one.sample);
                    all > 0 && low.value <= high.value && known(low) && known(high)
                }
                (None, None) => all == 0,
                _ => false,
            };
            if all > samples || !extremes_fit {
                return None;
            }
            quantities.push(histogram);
        }
        let worst = |worst: Vec<(Exact, u64)>| {
            let one = |(Exact(severity), sample)| Worst { severity, sample };
            worst.into_iter().map(one).collect()
        };
        Some(Summary {
            tally: Tally {
                samples,
                broken_any: self.broken_any,
                broken: self.broken,
                endings: self.endings,
            },
            quantities,
            worst: self.worst.into_iter().map(worst).collect(),
            failed: self.failed,
            without_approach: self.without_approach,
        })
    }
}
