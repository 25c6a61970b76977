//! The sensitivity indices of the outputs of a pass at one aim, and of "a limit is broken".

use super::super::outcome::Quantity;
use crate::ensemble::luck::Block;
use crate::ensemble::luck::Quantities;
use crate::ensemble::problem::SampleNumber;
use crate::ensemble::rare::{MOST_EVENTS, RareDesign};
use crate::ensemble::sobol::{Design, Indices, Resampling, SobolError};
use crate::ensemble::{Fleet, Stopped, Tally};
use crate::numeric::counts::{index, real};
use crate::pass::PassResult;
use crate::scenario::ask::Ask;

/// Samples flown between two looks at how many broke a limit, for each row of the design.
const EVENT_BLOCK: u64 = 2;
/// Blocks of them at most.
const EVENT_BLOCKS: u64 = 4;
/// Largest share of the rows of a design that may have no value.
const MOST_MISSING: f64 = 0.02;

/// An output of a pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Output {
    /// One of the quantities that are described for an aim.
    Of(Quantity),
    /// Inertial speed at the end of the pass, m/s.
    EndSpeed,
}

impl Output {
    /// Every output in the order in which they are shown.
    #[must_use]
    pub fn all() -> Vec<Self> {
        let quantities = Quantity::ALL.iter().map(|&quantity| Self::Of(quantity));
        quantities.chain([Self::EndSpeed]).collect()
    }

    /// Stable key with the unit.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Of(quantity) => quantity.key(),
            Self::EndSpeed => "end_inertial_speed_m_s",
        }
    }

    /// Name and unit for people.
    #[must_use]
    pub fn label(self) -> (&'static str, &'static str) {
        match self {
            Self::Of(quantity) => quantity.label(),
            Self::EndSpeed => ("exit speed", "m/s"),
        }
    }

    /// The value of a pass; `None` where it has none.
    #[must_use]
    pub fn of(self, pass: &PassResult) -> Option<f64> {
        match self {
            Self::Of(quantity) => quantity.of(pass),
            Self::EndSpeed => (pass.ending.is_flown()).then_some(pass.end_inertial_speed_m_s),
        }
    }
}

/// Why the indices of an output are not known.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Unknown {
    /// Too many passes have no such value, as a pass that escapes has no apoapsis.
    #[error("{missing} of {rows} rows have a pass without it")]
    Missing {
        /// Rows with a pass without the value.
        missing: u64,
        /// Rows in all.
        rows: u64,
    },
    /// As the estimator says.
    #[error(transparent)]
    Sobol(#[from] SobolError),
}

/// The indices of one output.
#[derive(Debug, Clone)]
pub struct OutputInfluence {
    /// The output.
    pub output: Output,
    /// Its indices, along the sources of the problem.
    pub indices: Result<Indices, Unknown>,
}

/// The indices of "a limit is broken".
#[derive(Debug, Clone)]
pub struct BrokenInfluence {
    /// Counts at the aim, with the samples that the indices start from.
    pub tally: Tally,
    /// The indices, along the sources of the problem.
    pub indices: Result<Indices, Unknown>,
}

fn resampling(ask: &Ask) -> Resampling {
    Resampling {
        confidence: ask.confidence,
        seed: ask.seed,
    }
}

fn columns(fleet: &Fleet<'_>) -> Vec<Quantities> {
    let sources = fleet.problem().sources();
    sources.iter().map(Quantities::from).collect()
}

/// Flies a design at an aim and reads off the indices of every output.
pub(super) fn of_outputs(
    fleet: &Fleet<'_>,
    aim_m: f64,
    (rows, ask): (u64, &Ask),
) -> Result<Vec<OutputInfluence>, Stopped> {
    let design = Design::new(rows, columns(fleet));
    let all = Output::all();
    let mut values: Vec<Vec<Option<f64>>> = vec![Vec::new(); all.len()];
    let which = |n| SampleNumber::Mixed(design.mix(n));
    fleet.fly_chosen((aim_m, design.samples()), which, |flown| {
        for (values, output) in values.iter_mut().zip(&all) {
            values.push(output.of(&flown.result));
        }
    })?;
    let resampling = resampling(ask);
    let found = all.iter().zip(values).map(|(&output, values)| {
        let indices = match rows_missing(&values, rows) {
            missing if real(missing) > MOST_MISSING * real(rows) => {
                Err(Unknown::Missing { missing, rows })
            }
            _ => design.indices(&values, &resampling).map_err(Unknown::from),
        };
        OutputInfluence { output, indices }
    });
    Ok(found.collect())
}

/// Rows of a design in which some value is missing.
fn rows_missing(values: &[Option<f64>], rows: u64) -> u64 {
    let rows = index(rows).max(1);
    let missing = |row: &usize| values.iter().skip(*row).step_by(rows).any(Option::is_none);
    (0..rows).filter(missing).count() as u64
}

/// Flies samples at an aim, of a block that had no part in choosing it, until enough broke a limit, mixes those with others, and reads off the indices.
pub(super) fn of_broken(
    fleet: &Fleet<'_>,
    aim_m: f64,
    (rows, ask): (u64, &Ask),
) -> Result<BrokenInfluence, Stopped> {
    let mut tally = Tally::new(fleet.problem().limits().entries().len());
    let mut events: Vec<u64> = Vec::new();
    let size = EVENT_BLOCK * rows;
    let first = Block::Second.samples(0).start;
    for block in 0..EVENT_BLOCKS {
        let samples = first + block * size..first + (block + 1) * size;
        fleet.fly(&[aim_m], samples, |flown| {
            tally.count(flown.result.ending, flown.broken);
            if flown.broken != 0 {
                events.push(flown.sample);
            }
        })?;
        if events.len() >= MOST_EVENTS {
            break;
        }
    }
    let indices = match RareDesign::new(events, tally.samples, columns(fleet)) {
        Ok(design) => {
            let mut broken = Vec::new();
            let which = |n| SampleNumber::Mixed(design.mix(n));
            fleet.fly_chosen((aim_m, design.samples()), which, |flown| {
                broken.push(flown.broken != 0);
            })?;
            Ok(design.indices(&broken, &resampling(ask)))
        }
        Err(unknown) => Err(unknown.into()),
    };
    Ok(BrokenInfluence { tally, indices })
}
