//! Aims already flown, in order, and whether each reaches the probability asked for.

use super::choice::{Grain, Risk, Top, best};
use super::kept::{Flights, Keeper};
use super::rare::{Accidents, QUICK, THOROUGH};
use crate::ensemble::interval::{Interval, StatisticsError};
use crate::ensemble::luck::Block;
use crate::ensemble::{Fleet, Halt, LimitKind, Tally};
use crate::numeric::counts::{index, real};
use crate::pass::Ending;
use crate::scenario::ask::Ask;
use std::collections::HashMap;
use std::ops::Range;

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
fn held((ending, broken): Did) -> bool {
    ending.is_flown() && broken == 0
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

    /// The same aims, flown by the draws of a block; what is told of them comes from the second one all the same.
    #[must_use]
    pub(super) fn by(mut self, block: Block) -> Self {
        self.flights.block = block;
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
        let missing = |aim: &f64| self.at(*aim).is_none();
        let mut wanted: Vec<f64> = aims.iter().copied().filter(missing).collect();
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
        let place = self.points.partition_point(|point| point.aim_m < aim_m);
        self.points
            .insert(place, self.point(aim_m, (tally, accidents))?);
        Ok(())
    }

    fn point(
        &self,
        aim_m: f64,
        (tally, accidents): (Tally, Option<Accidents>),
    ) -> Result<AimPoint, StatisticsError> {
        let held = match &accidents {
            Some(accidents) => accidents.held(),
            None => self.probability(&tally)?,
        };
        Ok(AimPoint {
            aim_m,
            tally,
            held,
            accidents,
        })
    }

    fn accidents(&self, aim_m: f64, places: usize) -> Result<Accidents, Halt> {
        self.flights.accidents(&self.ask, (aim_m, places))
    }

    /// What draws say of an aim (m) that had no part in the search: its counts, and where accidents are looked for a
    /// thorough search for them. Where all samples are alike, what the first one said.
    ///
    /// # Errors
    /// [`Halt`]: the run was cancelled, or its counts give no interval.
    pub fn told(&self, aim_m: f64) -> Result<AimPoint, Halt> {
        let flights = Flights {
            block: self.telling(),
            ..self.flights
        };
        let mut tally = Tally::new(flights.fleet.problem().limits().entries().len());
        for counted in flights.counts(&[aim_m], self.samples)? {
            tally.merge(&counted);
        }
        let accidents = if self.looks_for_accidents {
            Some(flights.accidents(&self.ask, (aim_m, THOROUGH))?)
        } else {
            None
        };
        Ok(self.point(aim_m, (tally, accidents))?)
    }

    /// The block of draws that tells of an aim chosen here.
    fn telling(&self) -> Block {
        if self.flights.fleet.problem().is_deterministic() {
            Block::First
        } else {
            Block::Second
        }
    }

    /// The numbers of the samples behind [`Aims::told`].
    #[must_use]
    pub fn told_by(&self) -> Range<u64> {
        self.telling().samples(self.samples)
    }

    /// Whether rare accidents are looked for.
    #[must_use]
    pub fn looks_for_accidents(&self) -> bool {
        self.looks_for_accidents
    }

    /// What is at risk at an aim: samples, or where accidents are looked for the probability of one. Probabilities
    /// below a hundredth of the accepted one are alike.
    fn risk(&self, point: &AimPoint) -> Risk {
        let risk = match self.grain() {
            Grain::Chances(alike) => (1.0 - point.held.estimate).max(alike),
            Grain::Exact | Grain::Counts => real(point.tally.samples - point.tally.held()),
        };
        Risk {
            aim_m: point.aim_m,
            risk,
        }
    }

    fn grain(&self) -> Grain {
        if self.flights.fleet.problem().is_deterministic() {
            Grain::Exact
        } else if self.looks_for_accidents {
            Grain::Chances(0.01 * (1.0 - self.ask.probability))
        } else {
            Grain::Counts
        }
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
                let chosen = numbered.filter(|(_, (one, other))| !(held(**one) && held(**other)));
                (below.to_vec(), chosen.map(|(sample, _)| sample).collect())
            }
            _ => (Vec::new(), Block::First.samples(self.samples).collect()),
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
        let others = (0..)
            .zip(self.did_at(aim_m)?)
            .filter(|(_, did)| !held(**did));
        Some(others.map(|(sample, _)| sample).collect())
    }

    /// Whether flying every sample at a flown aim gives the counts that screened samples gave.
    ///
    /// # Errors
    /// [`Halt`]: the run was cancelled, or its counts give no interval.
    pub fn holds_unscreened(&self, aim_m: f64) -> Result<bool, Halt> {
        let whole = self.flights.fleet.tally(&[aim_m], 0..self.samples)?;
        let both = self.at(aim_m).zip(whole.first());
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

    /// Whether the aim at this place reaches the probability asked for.
    ///
    /// One aim that falls short between two that are safe is taken for unlucky, and is safe too, where its
    /// upper bound reaches the probability and so does the mean of the three lower bounds. An aim that is ruled out,
    /// or two side by side that fall short, part the band.
    #[must_use]
    pub fn passes(&self, place: usize, judge: Judge) -> bool {
        let asked = self.ask.probability;
        let Some(point) = self.points.get(place) else {
            return false;
        };
        match judge {
            Judge::Upper => point.held.upper >= asked,
            Judge::Lower if point.held.lower >= asked => true,
            Judge::Lower => {
                let beside = [place.checked_sub(1), place.checked_add(1)];
                let beside = beside.map(|place| self.points.get(place?).map(|p| p.held.lower));
                let [Some(before), Some(after)] = beside else {
                    return false;
                };
                let both = before >= asked && after >= asked && point.held.upper >= asked;
                both && (before + point.held.lower + after) / 3.0 >= asked
            }
        }
    }

    /// The aim at which samples without a result alone keep the probability asked for from being shown: as it is, no
    /// aim is safe, and it would be had they held. Of several the one where most held.
    #[must_use]
    pub fn undecided(&self) -> Option<&AimPoint> {
        if (0..self.points.len()).any(|place| self.passes(place, Judge::Lower)) {
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
        points.min_by(|a, b| self.risk(a).risk.total_cmp(&self.risk(b).risk))
    }

    /// The best aims from `from_m` to `to_m`, by their smoothed risk; `None` where none was flown there.
    #[must_use]
    pub(super) fn best_within(&self, within_m: (f64, f64)) -> Option<Top> {
        let risks: Vec<Risk> = self.points.iter().map(|point| self.risk(point)).collect();
        best(&risks, within_m, self.grain())
    }

    /// The aim with the least smoothed risk; of several alike, the middle of the longest run.
    #[must_use]
    pub fn best(&self) -> Option<&AimPoint> {
        let top = self.best_within((f64::NEG_INFINITY, f64::INFINITY))?;
        self.at(top.aim_m)
    }

    /// The point of a flown aim (m).
    #[must_use]
    pub fn at(&self, aim_m: f64) -> Option<&AimPoint> {
        let same = |point: &&AimPoint| point.aim_m.to_bits() == aim_m.to_bits();
        self.points.iter().find(same)
    }
}
