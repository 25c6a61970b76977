//! Aims already flown, in order, and whether each reaches the probability asked for.

use crate::ensemble::interval::Interval;
use crate::ensemble::{Fleet, LimitKind, Stopped, Tally};
use crate::scenario::ask::Ask;

/// Passes flown between two moments at which what is done is kept.
const PASSES_TOGETHER: u64 = 50_000;

/// One aim with its counts.
#[derive(Debug, Clone, PartialEq)]
pub struct AimPoint {
    /// Aimed vacuum periapsis altitude, m.
    pub aim_m: f64,
    /// Counts over its samples.
    pub tally: Tally,
    /// Probability that all limits hold.
    pub held: Interval,
}

/// A level that the probability of holding all limits is compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Judge {
    /// The lower confidence bound reaches the probability asked for: safe.
    Lower,
    /// The upper confidence bound reaches it: cannot be ruled out.
    Upper,
}

/// All aims flown so far, from the lowest to the highest.
pub struct Aims<'a> {
    fleet: &'a Fleet<'a>,
    ask: Ask,
    samples: u64,
    points: Vec<AimPoint>,
}

impl<'a> Aims<'a> {
    /// No aims yet. A problem without uncertainty needs one sample, and its probabilities are exact.
    #[must_use]
    pub fn new(fleet: &'a Fleet<'a>, ask: Ask) -> Self {
        let certain = fleet.problem().is_deterministic();
        Self {
            fleet,
            ask,
            samples: if certain { 1 } else { ask.samples },
            points: Vec::new(),
        }
    }

    /// What is asked.
    #[must_use]
    pub fn ask(&self) -> Ask {
        self.ask
    }

    /// Samples flown at each aim.
    #[must_use]
    pub fn samples(&self) -> u64 {
        self.samples
    }

    /// The kind of the limit at this place of the limit set.
    #[must_use]
    pub fn limit_kind(&self, index: usize) -> Option<LimitKind> {
        let entries = self.fleet.problem().limits().entries();
        entries.get(index).map(|limit| limit.kind)
    }

    /// The aims in order.
    #[must_use]
    pub fn points(&self) -> &[AimPoint] {
        &self.points
    }

    /// Flies those of `aims` (m) that were not flown yet.
    ///
    /// # Errors
    /// [`Stopped`] when the run was cancelled; aims that were complete by then are kept.
    pub fn fly(&mut self, aims: &[f64]) -> Result<(), Stopped> {
        let flown = |aim: f64| {
            self.points
                .iter()
                .any(|p| p.aim_m.to_bits() == aim.to_bits())
        };
        let mut wanted: Vec<f64> = aims.iter().copied().filter(|&aim| !flown(aim)).collect();
        wanted.sort_by(f64::total_cmp);
        wanted.dedup();
        // A few aims at a time, so that a run that is stopped keeps the ones before.
        let together = usize::try_from((PASSES_TOGETHER / self.samples).max(1)).unwrap_or(1);
        for some in wanted.chunks(together) {
            let tallies = self.fleet.tally(some, 0..self.samples)?;
            for (&aim_m, tally) in some.iter().zip(tallies) {
                let held = self.probability(&tally);
                self.points.push(AimPoint { aim_m, tally, held });
            }
            self.points.sort_by(|a, b| a.aim_m.total_cmp(&b.aim_m));
            log::debug!(
                "flown at {} aims, {:.3} to {:.3} km, {} samples each",
                some.len(),
                some[0] / 1e3,
                some[some.len() - 1] / 1e3,
                self.samples
            );
        }
        Ok(())
    }

    /// Probability of holding all limits after these counts.
    fn probability(&self, tally: &Tally) -> Interval {
        let exact = f64::from(u8::from(tally.broken_any == 0));
        let certain = Interval {
            estimate: exact,
            lower: exact,
            upper: exact,
        };
        if self.fleet.problem().is_deterministic() {
            return certain;
        }
        tally
            .probability_held(self.ask.confidence)
            .unwrap_or(certain)
    }

    /// Whether an aim reaches the probability asked for.
    #[must_use]
    pub fn passes(&self, point: &AimPoint, judge: Judge) -> bool {
        let bound = match judge {
            Judge::Lower => point.held.lower,
            Judge::Upper => point.held.upper,
        };
        bound >= self.ask.probability
    }

    /// The aim with the most samples held; of equals, the middle of the longest run.
    #[must_use]
    pub fn best(&self) -> Option<&AimPoint> {
        self.best_of(0, self.points.len().checked_sub(1)?)
    }

    /// The best aim among the points from `first` to `last`: the middle of the longest run of the
    /// highest count.
    #[must_use]
    pub fn best_of(&self, first: usize, last: usize) -> Option<&AimPoint> {
        let points = self.points.get(first..=last)?;
        let top = points.iter().map(|p| p.tally.held()).max()?;
        let mut longest: Option<(f64, f64)> = None;
        for run in points.chunk_by(|a, b| a.tally.held() == b.tally.held()) {
            let (from, to) = (run[0].aim_m, run[run.len() - 1].aim_m);
            if run[0].tally.held() == top && longest.is_none_or(|(a, b)| to - from > b - a) {
                longest = Some((from, to));
            }
        }
        let (from, to) = longest?;
        let middle = 0.5 * (from + to);
        points
            .iter()
            .filter(|p| p.tally.held() == top)
            .min_by(|a, b| {
                (a.aim_m - middle)
                    .abs()
                    .total_cmp(&(b.aim_m - middle).abs())
            })
    }
}
