//! Aims already flown, in order, and whether each reaches the probability asked for.

use super::kept::{Flights, Keeper};
use super::rare::{Accidents, QUICK};
use crate::ensemble::interval::{Interval, StatisticsError};
use crate::ensemble::{Fleet, Halt, LimitKind, Tally};
use crate::numeric::counts::{index, real};
use crate::pass::Ending;
use crate::scenario::ask::Ask;
use std::collections::HashMap;

/// Passes flown between two moments at which what is done is kept.
const PASSES_TOGETHER: u64 = 50_000;

/// One aim with its counts.
#[derive(Debug, Clone, PartialEq)]
pub struct AimPoint {
    /// Aimed vacuum periapsis altitude, m.
    pub aim_m: f64,
    /// Counts over its samples.
    pub tally: Tally,
    /// Probability that all limits hold: of the counts, or of the accidents where they were looked for.
    pub held: Interval,
    /// The rare accidents, where they were looked for.
    pub accidents: Option<Accidents>,
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
    flights: Flights<'a>,
    ask: Ask,
    samples: u64,
    points: Vec<AimPoint>,
    /// What each sample did, by the bits of the aim, where that is recorded.
    did: Option<HashMap<u64, Vec<Did>>>,
    screens: bool,
    looks_for_accidents: bool,
}

/// What a sample did at an aim: how it ended, and one bit for each limit it broke.
type Did = (Ending, u32);

/// Whether a sample held every limit: what has no result did not.
fn held((ending, broken): &Did) -> bool {
    ending.is_flown() && *broken == 0
}

impl<'a> Aims<'a> {
    /// No aims yet. A problem without uncertainty needs one sample, and its probabilities are exact.
    #[must_use]
    pub fn new(fleet: &'a Fleet<'a>, ask: Ask) -> Self {
        let certain = fleet.problem().is_deterministic();
        Self {
            flights: Flights::new(fleet),
            ask,
            samples: if certain { 1 } else { ask.samples },
            points: Vec::new(),
            did: None,
            screens: false,
            looks_for_accidents: false,
        }
    }

    /// Aims whose counts are known; the samples of each are those of `ask`.
    ///
    /// # Errors
    /// [`StatisticsError`] where counts give no interval.
    pub fn counted(
        fleet: &'a Fleet<'a>,
        ask: Ask,
        counts: Vec<(f64, Tally)>,
    ) -> Result<Self, StatisticsError> {
        let mut aims = Self::new(fleet, ask);
        for (aim_m, tally) in counts {
            aims.add(aim_m, (tally, None))?;
        }
        Ok(aims)
    }

    /// As [`Aims::new`], and what each sample did is recorded.
    #[must_use]
    pub fn recorded(fleet: &'a Fleet<'a>, ask: Ask) -> Self {
        Self {
            did: Some(HashMap::new()),
            ..Self::new(fleet, ask)
        }
    }

    /// As [`Aims::recorded`], but between two flown aims only those samples are flown that did not hold at
    /// one of them: the safe aims of one sample are taken to lie side by side. [`Aims::holds_unscreened`]
    /// looks whether that was so.
    #[must_use]
    pub fn screened(fleet: &'a Fleet<'a>, ask: Ask) -> Self {
        Self {
            screens: true,
            ..Self::recorded(fleet, ask)
        }
    }

    /// As [`Aims::new`], and where the samples do not rule an aim out, its rare accidents are looked for: for a
    /// probability that the samples cannot show.
    #[must_use]
    pub fn with_accidents(fleet: &'a Fleet<'a>, ask: Ask) -> Self {
        Self {
            looks_for_accidents: true,
            ..Self::new(fleet, ask)
        }
    }

    /// The same aims, and of what is flown at them from now on that which `keeper` has is not flown again. What
    /// is recorded sample by sample is not kept.
    #[must_use]
    pub fn kept_by(mut self, keeper: Option<&'a dyn Keeper>) -> Self {
        self.flights.keeper = keeper;
        self
    }

    /// What flies and keeps.
    pub(super) fn flights(&self) -> Flights<'a> {
        self.flights
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
        let entries = self.flights.fleet.problem().limits().entries();
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
    /// [`Halt`]: the run was cancelled, or its counts give no interval; aims that were complete by then are kept.
    pub fn fly(&mut self, aims: &[f64]) -> Result<(), Halt> {
        let flown = |aim: f64| {
            self.points
                .iter()
                .any(|p| p.aim_m.to_bits() == aim.to_bits())
        };
        let mut wanted: Vec<f64> = aims.iter().copied().filter(|&aim| !flown(aim)).collect();
        wanted.sort_by(f64::total_cmp);
        wanted.dedup();
        if self.did.is_some() {
            return self.fly_from_the_ends(&wanted);
        }
        // A few aims at a time, so that a run that is stopped keeps the ones before.
        let together = index((PASSES_TOGETHER / self.samples).max(1));
        for some in wanted.chunks(together) {
            let tallies = self.flights.counts(some, self.samples)?;
            for (&aim_m, tally) in some.iter().zip(tallies) {
                let possible = self.probability(&tally)?.upper >= self.ask.probability;
                let accidents = if self.looks_for_accidents && possible {
                    Some(self.accidents(aim_m, QUICK)?)
                } else {
                    None
                };
                self.add(aim_m, (tally, accidents))?;
            }
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

    fn add(
        &mut self,
        aim_m: f64,
        (tally, accidents): (Tally, Option<Accidents>),
    ) -> Result<(), StatisticsError> {
        let held = match &accidents {
            Some(accidents) => accidents.held(),
            None => self.probability(&tally)?,
        };
        let place = self.points.partition_point(|point| point.aim_m < aim_m);
        let point = AimPoint {
            aim_m,
            tally,
            held,
            accidents,
        };
        self.points.insert(place, point);
        Ok(())
    }

    fn accidents(&self, aim_m: f64, places: usize) -> Result<Accidents, Halt> {
        self.flights.accidents(&self.ask, (aim_m, places))
    }

    /// Looks for the accidents at a flown aim once more, with so many places at each level.
    ///
    /// # Errors
    /// [`Halt`]: the run was cancelled, or its counts give no interval.
    pub fn look_again(&mut self, aim_m: f64, places: usize) -> Result<(), Halt> {
        let accidents = self.accidents(aim_m, places)?;
        let mut points = self.points.iter_mut();
        if let Some(point) = points.find(|point| point.aim_m.to_bits() == aim_m.to_bits()) {
            point.held = accidents.held();
            point.accidents = Some(accidents);
        }
        Ok(())
    }

    /// Whether rare accidents are looked for.
    #[must_use]
    pub fn looks_for_accidents(&self) -> bool {
        self.looks_for_accidents
    }

    /// What orders aims, the best with the highest: samples held, or where accidents are looked for the probability
    /// of holding. Risks below a hundredth of the accepted one are alike.
    #[must_use]
    pub fn rank(&self, point: &AimPoint) -> f64 {
        if self.looks_for_accidents {
            let alike = 0.01 * (1.0 - self.ask.probability);
            return point.held.estimate.min(1.0 - alike);
        }
        real(point.tally.held())
    }

    /// Flies the first and the last of some aims, then those between by halves: each time as few samples
    /// as the aims about it allow.
    fn fly_from_the_ends(&mut self, aims: &[f64]) -> Result<(), Halt> {
        let Some((&first, rest)) = aims.split_first() else {
            return Ok(());
        };
        self.fly_recorded(first)?;
        let Some((&last, between)) = rest.split_last() else {
            return Ok(());
        };
        self.fly_recorded(last)?;
        self.fly_by_halves(between)
    }

    fn fly_by_halves(&mut self, aims: &[f64]) -> Result<(), Halt> {
        let (below, above) = aims.split_at(aims.len() / 2);
        let Some((&middle, above)) = above.split_first() else {
            return Ok(());
        };
        self.fly_recorded(middle)?;
        self.fly_by_halves(below)?;
        self.fly_by_halves(above)
    }

    /// Flies one aim and records what each sample did. Where samples are screened, only those are flown that
    /// did not hold at one of the flown aims next to this one; the others did what they did next to it.
    fn fly_recorded(&mut self, aim_m: f64) -> Result<(), Halt> {
        let place = self.points.partition_point(|point| point.aim_m < aim_m);
        let next = [place.checked_sub(1), Some(place)]
            .map(|place| place.and_then(|place| self.did_at(self.points.get(place)?.aim_m)));
        let (mut did, chosen): (Vec<Did>, Vec<u64>) = match next {
            [Some(below), Some(above)] if self.screens => {
                let numbered = (0..).zip(below.iter().zip(above));
                let chosen = numbered.filter(|(_, (one, other))| !(held(one) && held(other)));
                (below.to_vec(), chosen.map(|(sample, _)| sample).collect())
            }
            _ => (Vec::new(), (0..self.samples).collect()),
        };
        did.resize(index(self.samples), (Ending::Failed, 0));
        self.flights.fleet.fly_listed(&[aim_m], &chosen, |flown| {
            did[index(flown.sample)] = (flown.result.ending, flown.broken);
        })?;
        let mut tally = Tally::new(self.flights.fleet.problem().limits().entries().len());
        for &(ending, broken) in &did {
            tally.count(ending, broken);
        }
        self.add(aim_m, (tally, None))?;
        if let Some(all) = &mut self.did {
            all.insert(aim_m.to_bits(), did);
        }
        Ok(())
    }

    fn did_at(&self, aim_m: f64) -> Option<&[Did]> {
        Some(self.did.as_ref()?.get(&aim_m.to_bits())?)
    }

    /// The samples that did not hold every limit at a flown aim, where that is recorded.
    #[must_use]
    pub fn not_held_at(&self, aim_m: f64) -> Option<Vec<u64>> {
        let others = (0..).zip(self.did_at(aim_m)?).filter(|(_, did)| !held(did));
        Some(others.map(|(sample, _)| sample).collect())
    }

    /// Whether flying every sample at a flown aim gives the counts that screened samples gave.
    ///
    /// # Errors
    /// [`Halt`]: the run was cancelled, or its counts give no interval.
    pub fn holds_unscreened(&self, aim_m: f64) -> Result<bool, Halt> {
        let whole = self.flights.fleet.tally(&[aim_m], 0..self.samples)?;
        let mut points = self.points.iter();
        let screened = points.find(|point| point.aim_m.to_bits() == aim_m.to_bits());
        let both = screened.zip(whole.first());
        Ok(both.is_some_and(|(screened, whole)| {
            let screened = &screened.tally;
            screened.broken == whole.broken && screened.unflown() == whole.unflown()
        }))
    }

    /// Probability of holding all limits after these counts; exact where all samples are alike.
    fn probability(&self, tally: &Tally) -> Result<Interval, StatisticsError> {
        if self.flights.fleet.problem().is_deterministic() {
            return Ok(Interval::certain(tally.held() == tally.samples));
        }
        tally.probability_held(self.ask.confidence)
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

    /// The aim at which samples without a result alone keep the probability asked for from being shown: as it is, no
    /// aim is safe, and it would be had they held. Of several the one where most held.
    #[must_use]
    pub fn undecided(&self) -> Option<&AimPoint> {
        if self.points.iter().any(|p| self.passes(p, Judge::Lower)) {
            return None;
        }
        let would = |point: &&AimPoint| {
            let tally = &point.tally;
            match &point.accidents {
                Some(found) => {
                    found.unflown() > 0.0 && 1.0 - found.any.upper >= self.ask.probability
                }
                None if self.flights.fleet.problem().is_deterministic() => {
                    tally.unflown() > 0 && tally.broken_any == 0
                }
                None => tally.is_undecided(self.ask.probability, self.ask.confidence),
            }
        };
        let points = self.points.iter().filter(would);
        points.max_by(|a, b| self.rank(a).total_cmp(&self.rank(b)))
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
        let ranks = points.iter().map(|p| self.rank(p));
        let top = ranks.max_by(f64::total_cmp)?;
        let mut longest: Option<(f64, f64)> = None;
        for run in points.chunk_by(|a, b| self.rank(a) == self.rank(b)) {
            let (from, to) = (run[0].aim_m, run[run.len() - 1].aim_m);
            if self.rank(&run[0]) == top && longest.is_none_or(|(a, b)| to - from > b - a) {
                longest = Some((from, to));
            }
        }
        let (from, to) = longest?;
        let middle = 0.5 * (from + to);
        points
            .iter()
            .filter(|p| self.rank(p) == top)
            .min_by(|a, b| {
                (a.aim_m - middle)
                    .abs()
                    .total_cmp(&(b.aim_m - middle).abs())
            })
    }
}
