//! What the search for a band has flown, kept aim by aim, so that a search that was stopped goes on from there.
//! Where and how it is kept is left to a [`Keeper`].

use super::rare::{self, Accidents};
use crate::ensemble::engine::FlownSample;
use crate::ensemble::luck::Block;
use crate::ensemble::{Fleet, Halt, Stopped, Tally};
use crate::scenario::ask::Ask;

/// What is kept as a whole: something flown at one aim with all samples that it takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flight {
    /// Aimed vacuum periapsis altitude, m.
    pub aim_m: f64,
    /// Whether the ship steers itself.
    pub steered: bool,
    /// Factor on the delivery errors: 1 as the scenario has them.
    pub delivery: f64,
    /// Whose draws it has.
    pub block: Block,
    /// What is asked of it.
    pub what: What,
}

/// What is asked of a flight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// The counts over the samples.
    Counts,
    /// The rare accidents, with so many places at each level.
    Accidents {
        /// Places at each level of each run.
        places: usize,
    },
    /// The value of a limit that would make the aim safe.
    Needed {
        /// Place of the limit in the limit set.
        limit: usize,
    },
}

/// What a flight gave.
#[derive(Debug, Clone, PartialEq)]
pub enum Record {
    /// The answer to [`What::Counts`].
    Counts(Tally),
    /// The answer to [`What::Accidents`].
    Accidents(Accidents),
    /// The answer to [`What::Needed`].
    Needed(Needed),
}

/// The value of a limit that would make an aim safe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needed {
    /// Samples without a result, or that broke another limit.
    pub others: u64,
    /// The allowed value, an altitude negative, SI units; infinite where none would do.
    pub value: f64,
}

/// Keeps flights between runs.
///
/// It is asked for the flights of one scenario, resolved with its data, and one program only.
pub trait Keeper {
    /// What this flight gave, if that is kept.
    fn find(&self, flight: &Flight) -> Option<Record>;

    /// Keeps what a flight gave, before the next aim is flown. A keeper that cannot says so itself: the search
    /// does not end with it.
    fn keep(&self, flight: &Flight, record: &Record);
}

/// Flies a problem, and what is kept of it is not flown again.
#[derive(Clone, Copy)]
pub(super) struct Flights<'a> {
    /// Flies.
    pub(super) fleet: &'a Fleet<'a>,
    /// Keeps.
    pub(super) keeper: Option<&'a dyn Keeper>,
    /// Factor on the delivery errors that the problem of the fleet has.
    pub(super) delivery: f64,
    /// Whose draws are flown.
    pub(super) block: Block,
}

impl<'a> Flights<'a> {
    /// Flights of the problem of a fleet, of which nothing is kept.
    pub(super) fn new(fleet: &'a Fleet<'a>) -> Self {
        Self {
            fleet,
            keeper: None,
            delivery: 1.0,
            block: Block::First,
        }
    }

    fn flight(&self, aim_m: f64, what: What) -> Flight {
        Flight {
            aim_m,
            steered: self.fleet.problem().guide().is_some(),
            delivery: self.delivery,
            block: self.block,
            what,
        }
    }

    fn find(&self, flight: &Flight, passes: impl FnOnce(&Record) -> u64) -> Option<Record> {
        let record = self.keeper?.find(flight)?;
        self.fleet.progress().spare(passes(&record));
        Some(record)
    }

    fn keep(&self, flight: &Flight, record: &Record) {
        if let Some(keeper) = self.keeper {
            keeper.keep(flight, record);
        }
    }

    /// What is asked of so many samples at each aim (m). Every sample that is flown is handed to `take` with the
    /// place of its aim, in the order of aims, then samples; at the last of an aim `take` gives its record.
    fn records(
        &self,
        (aims_m, samples): (&[f64], u64),
        what: What,
        mut take: impl FnMut(usize, &FlownSample) -> Option<Record>,
    ) -> Result<Vec<Record>, Stopped> {
        let find = |&aim_m: &f64| self.find(&self.flight(aim_m, what), |_| samples);
        let mut records: Vec<Option<Record>> = aims_m.iter().map(find).collect();
        let missing: Vec<usize> = (0..aims_m.len())
            .filter(|&place| records[place].is_none())
            .collect();
        let wanted: Vec<f64> = missing.iter().map(|&place| aims_m[place]).collect();
        let numbers = self.block.samples(samples);
        self.fleet.fly(&wanted, numbers, |flown| {
            let place = missing[flown.aim];
            if let Some(record) = take(place, flown) {
                self.keep(&self.flight(aims_m[place], what), &record);
                records[place] = Some(record);
            }
        })?;
        let complete =
            |record: Option<Record>| record.expect("each aim was flown to its last sample");
        Ok(records.into_iter().map(complete).collect())
    }

    /// Counts over so many samples at each aim (m).
    ///
    /// # Errors
    /// [`Stopped`] when the run was cancelled; the aims that were complete by then are kept.
    pub(super) fn counts(&self, aims_m: &[f64], samples: u64) -> Result<Vec<Tally>, Stopped> {
        let limits = self.fleet.problem().limits().entries().len();
        let mut tallies = vec![Tally::new(limits); aims_m.len()];
        let records = self.records((aims_m, samples), What::Counts, |place, flown| {
            let tally = &mut tallies[place];
            tally.count(flown.result.ending, flown.broken);
            (tally.samples == samples).then(|| Record::Counts(tally.clone()))
        })?;
        let counts = |record| match record {
            Record::Counts(tally) => Some(tally),
            Record::Accidents(_) | Record::Needed(_) => None,
        };
        Ok(records.into_iter().filter_map(counts).collect())
    }

    /// The value of a limit that would make each aim (m) safe, if `spare` of so many samples may break a limit.
    /// `value` gives that of a sample, or `None` where the sample failed or broke another limit.
    ///
    /// # Errors
    /// [`Stopped`] when the run was cancelled; the aims that were complete by then are kept.
    pub(super) fn needed(
        &self,
        (aims_m, limit): (&[f64], usize),
        (samples, spare): (u64, u64),
        value: impl Fn(&FlownSample) -> Option<f64>,
    ) -> Result<Vec<Needed>, Stopped> {
        let (mut values, mut others) = (Vec::new(), 0);
        let what = What::Needed { limit };
        let last = self.block.samples(samples).end - 1;
        let records = self.records((aims_m, samples), what, |_, flown| {
            match value(flown) {
                Some(value) => values.push(value),
                None => others += 1,
            }
            (flown.sample == last).then(|| {
                values.sort_by(|a: &f64, b| b.total_cmp(a));
                let left = spare.checked_sub(others);
                let left = left.and_then(|left| usize::try_from(left).ok());
                let value = left.and_then(|left| values.get(left)).copied();
                values.clear();
                Record::Needed(Needed {
                    others: std::mem::take(&mut others),
                    value: value.unwrap_or(f64::INFINITY),
                })
            })
        })?;
        let needed = |record| match record {
            Record::Needed(needed) => Some(needed),
            Record::Counts(_) | Record::Accidents(_) => None,
        };
        Ok(records.into_iter().filter_map(needed).collect())
    }

    /// The rare accidents at an aim (m), with so many places at each level.
    ///
    /// # Errors
    /// [`Halt`] as [`rare::accidents`].
    pub(super) fn accidents(
        &self,
        ask: &Ask,
        (aim_m, places): (f64, usize),
    ) -> Result<Accidents, Halt> {
        let flight = self.flight(aim_m, What::Accidents { places });
        let passes = |record: &Record| match record {
            Record::Accidents(found) => found.passes,
            Record::Counts(_) | Record::Needed(_) => 0,
        };
        if let Some(Record::Accidents(found)) = self.find(&flight, passes) {
            return Ok(found);
        }
        let found = rare::accidents(self.fleet, ask, (aim_m, places), self.block)?;
        self.keep(&flight, &Record::Accidents(found.clone()));
        Ok(found)
    }
}
