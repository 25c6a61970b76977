//! What the search for a band has flown, kept on disk aim by aim, so that a run that was stopped goes on from there.

use super::error::FileError;
use super::part_store::PartStore;
use super::run_facts;
use super::seal::{Exact, Fault};
use super::shard_part::AimCounts;
use super::shard_plan::Resolved;
use crate::ensemble::LimitKind;
use crate::ensemble::interval::Interval;
use crate::scenario::message::InputError;
use crate::scenario::uncertainty::Number;
use crate::study::Case;
use crate::study::kept::{Flight, Keeper, Needed, Record, What};
use crate::study::rare::{Accidents, LimitChance};
use crate::study::shards::Summary;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::cell::Cell;
use std::fs;
use std::path::{Path, PathBuf};

/// Name of the folder of all parts in the folder of the run.
const PARTS: &str = "parts";

/// The flights of one question: a scenario with all that is set over it and its data, and the program.
#[derive(Debug)]
pub struct BandStore {
    parts: PartStore,
    /// The folder of the parts of every question.
    above: PathBuf,
    question: String,
    samples: u64,
    limits: Vec<LimitKind>,
    /// Whether parts can be written.
    keeps: Cell<bool>,
}

/// An estimate with its bounds, as it is written.
type Bounded = (Exact, Exact, Exact);

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct AccidentsPart {
    any: Bounded,
    not_held: Bounded,
    limits: Vec<LimitPart>,
    passes: u64,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitPart {
    broken: Bounded,
    /// Places in [`Number::ALL`], and scores.
    likeliest: Vec<(usize, Exact)>,
    field: Option<Exact>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct NeededPart {
    others: u64,
    /// None where no value would do.
    value: Option<Exact>,
}

impl BandStore {
    /// What is kept of a case in the folder of its band under `base`. Parts of other questions there are told of
    /// on standard error, and neither used nor removed.
    ///
    /// # Errors
    /// [`InputError`] where a file that the scenario names is gone.
    pub fn open(case: &Case, base: &Path) -> Result<Self, InputError> {
        let question = Resolved::of(case)?.sha256();
        let question = format!("{question}\n{:?}", case.precision.tolerance);
        let above = run_facts::folder(case, base, "band").join(PARTS);
        let parts = PartStore::new(&above).inside(&question);
        for other in fs::read_dir(&above).into_iter().flatten().flatten() {
            if other.path() != parts.folder() {
                log::warn!(
                    "{}: kept of another scenario, seed, number of samples or program, and not used here; remove it \
                     if no run is to go on from there",
                    other.path().display()
                );
            }
        }
        let certain = case.problem.is_deterministic();
        let entries = case.problem.limits().entries();
        Ok(Self {
            parts,
            above,
            question,
            samples: if certain {
                1
            } else {
                case.scenario.ask.samples
            },
            limits: entries.iter().map(|limit| limit.kind).collect(),
            keeps: Cell::new(true),
        })
    }

    /// The folder of the parts.
    #[must_use]
    pub fn folder(&self) -> &Path {
        self.parts.folder()
    }

    /// How many aims there are whose samples were all flown.
    #[must_use]
    pub fn aims(&self) -> usize {
        self.parts.count(kind(What::Counts))
    }

    /// Removes the parts, once nothing is to go on from there.
    ///
    /// # Errors
    /// [`FileError`] when they cannot be removed.
    pub fn remove(&self) -> Result<(), FileError> {
        match fs::remove_dir_all(self.folder()) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                return Err(FileError::of(self.folder(), error));
            }
            _ => {}
        }
        // Stays where another question has parts in it.
        let _ = fs::remove_dir(&self.above);
        Ok(())
    }

    fn depends_on(&self, flight: &Flight) -> String {
        format!("{}\n{flight:?}", self.question)
    }

    fn read(&self, flight: &Flight, content: Value) -> Result<Record, Fault> {
        let malformed = |why: serde_json::Error| Fault::Malformed(why.to_string());
        let contradicts = || Fault::Malformed("its numbers contradict each other".to_owned());
        match flight.what {
            What::Counts => {
                let counts: AimCounts = serde_json::from_value(content).map_err(malformed)?;
                let summary = counts.summary((self.limits.len(), &[]), 0..self.samples);
                let tally = summary.ok_or_else(contradicts)?.tally;
                Ok(Record::Counts(tally))
            }
            What::Accidents { .. } => {
                let part: AccidentsPart = serde_json::from_value(content).map_err(malformed)?;
                let found = accidents(part, &self.limits).ok_or_else(contradicts)?;
                Ok(Record::Accidents(found))
            }
            What::Needed { .. } => {
                let part: NeededPart = serde_json::from_value(content).map_err(malformed)?;
                Ok(Record::Needed(Needed {
                    others: part.others,
                    value: part.value.map_or(f64::INFINITY, |value| value.0),
                }))
            }
        }
    }
}

impl Keeper for BandStore {
    fn find(&self, flight: &Flight) -> Option<Record> {
        let (kind, depends_on) = (kind(flight.what), self.depends_on(flight));
        let found = self.parts.find(kind, &depends_on);
        match found.and_then(|content| self.read(flight, content)) {
            Ok(record) => Some(record),
            Err(Fault::Missing) => None,
            Err(fault) => {
                let file = self.parts.file(kind, &depends_on);
                log::warn!("{}: {fault}; its aim is flown again", file.display());
                None
            }
        }
    }

    fn keep(&self, flight: &Flight, record: &Record) {
        let (kind, depends_on) = (kind(flight.what), self.depends_on(flight));
        if !self.keeps.get() {
            return;
        }
        let kept = written(record, self.limits.len())
            .map(|content| self.parts.keep(kind, &depends_on, &content));
        if let Ok(Err(error)) = kept {
            // Said once: what is flown is the answer, with or without a way to go on after a stop.
            self.keeps.set(false);
            log::warn!("{error}; what is flown from now on is not kept for a run that goes on");
        }
    }
}

fn kind(what: What) -> &'static str {
    match what {
        What::Counts => "aim",
        What::Accidents { .. } => "accidents",
        What::Needed { .. } => "needed",
    }
}

fn written(record: &Record, limits: usize) -> Result<Value, serde_json::Error> {
    match record {
        Record::Counts(tally) => {
            let mut summary = Summary::new(limits, &[]);
            summary.tally = tally.clone();
            serde_json::to_value(AimCounts::of(&summary))
        }
        Record::Accidents(found) => serde_json::to_value(AccidentsPart {
            any: bounded(&found.any),
            not_held: bounded(&found.not_held),
            limits: found.limits.iter().map(limit_part).collect(),
            passes: found.passes,
        }),
        Record::Needed(needed) => serde_json::to_value(NeededPart {
            others: needed.others,
            value: needed.value.is_finite().then_some(Exact(needed.value)),
        }),
    }
}

fn bounded(interval: &Interval) -> Bounded {
    let Interval {
        estimate,
        lower,
        upper,
    } = *interval;
    (Exact(estimate), Exact(lower), Exact(upper))
}

fn interval((Exact(estimate), Exact(lower), Exact(upper)): Bounded) -> Interval {
    Interval {
        estimate,
        lower,
        upper,
    }
}

fn limit_part(chance: &LimitChance) -> LimitPart {
    let scores = chance.likeliest.iter();
    LimitPart {
        broken: bounded(&chance.broken),
        likeliest: scores
            .map(|&(number, score)| (number as usize, Exact(score)))
            .collect(),
        field: chance.field.map(Exact),
    }
}

/// The accidents of a part; `None` where they do not fit the limits.
fn accidents(part: AccidentsPart, limits: &[LimitKind]) -> Option<Accidents> {
    if part.limits.len() != limits.len() {
        return None;
    }
    let chance = |(limit, &kind): (LimitPart, &LimitKind)| {
        let scores = limit.likeliest.into_iter();
        let likeliest: Option<Vec<(Number, f64)>> = scores
            .map(|(place, Exact(score))| Some((*Number::ALL.get(place)?, score)))
            .collect();
        Some(LimitChance {
            kind,
            broken: interval(limit.broken),
            likeliest: likeliest?,
            field: limit.field.map(|field| field.0),
        })
    };
    let chances = part.limits.into_iter().zip(limits).map(chance);
    Some(Accidents {
        any: interval(part.any),
        not_held: interval(part.not_held),
        limits: chances.collect::<Option<Vec<LimitChance>>>()?,
        passes: part.passes,
    })
}
