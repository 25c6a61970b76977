//! Samples without a result in words, rows and numbers, the same in every study: those whose integration failed, and
//! those whose numbers fit no approach. They count in every denominator, in no limit, and never as held.

use super::grid::{Cell, Grid, Tone};
use super::number::count;
use crate::ensemble::Tally;
use crate::study::outcome::Outcome;
use serde_json::{Value, json};

/// The row and the edge of samples without a result.
pub const NO_RESULT: &str = "no result";

/// How many have no result and why: "3 failed and 11 fit no approach"; `None` where all have one.
fn parts(tally: &Tally) -> Option<String> {
    let failed = tally.failed();
    let without = tally.without_approach();
    let failed = (failed > 0).then(|| format!("{} could not be integrated", count(failed)));
    let without = (without > 0).then(|| format!("{} fit no approach", count(without)));
    match (failed, without) {
        (Some(failed), Some(without)) => Some(format!("{failed} and {without}")),
        (failed, without) => failed.or(without),
    }
}

fn of_samples(tally: &Tally) -> Option<String> {
    Some(format!(
        "of {} samples {}",
        count(tally.samples),
        parts(tally)?
    ))
}

/// What is said of the samples without a result at one aim; `None` where all have one.
#[must_use]
pub fn words(tally: &Tally) -> Option<String> {
    let counts = of_samples(tally)?;
    let such = if tally.without_approach() > 0 {
        " (no arrival has the numbers drawn: `check` says which delivery makes them)"
    } else {
        ""
    };
    let mut words = format!("{counts}{such}: they count as not held, and against no limit.");
    if let Some(first) = words.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    Some(words)
}

/// Why a verdict is "not shown" where samples without a result alone decide it.
#[must_use]
pub fn undecided(tally: &Tally, aim_m: f64) -> String {
    format!(
        "not shown: at {:.2} km {}, and these alone decide",
        aim_m / 1e3,
        of_samples(tally).unwrap_or_else(|| "some samples have no result".to_owned()),
    )
}

/// Puts a row for the samples without a result under a table of limits, where there are any: its name, their number,
/// their share.
pub(super) fn row(grid: &mut Grid, tally: &Tally, cells: impl FnOnce(Cell, Cell) -> Vec<Cell>) {
    if tally.unflown() > 0 {
        let share = super::band_text::share(tally.unflown(), tally.samples);
        let number = Cell::new(count(tally.unflown()), Tone::Bad);
        let mut row = vec![Cell::from(format!("{NO_RESULT} (counts as not held)"))];
        row.extend(cells(number, Cell::new(share, Tone::Bad)));
        grid.row(row);
    }
}

/// The entries of a summary: each kind by its count, and some of its samples to be replayed.
#[must_use]
pub fn summary(outcome: &Outcome) -> (Value, Value) {
    let tally = &outcome.tally;
    (
        json!({ "count": tally.failed(), "listed": outcome.failed }),
        json!({ "count": tally.without_approach(), "listed": outcome.without_approach }),
    )
}

/// A command that replays the first sample without a result, and what follows from it.
#[must_use]
pub fn replay(outcome: &Outcome, file: &str) -> Option<String> {
    let sample = outcome
        .failed
        .first()
        .or(outcome.without_approach.first())?;
    Some(format!(
        "{} Replay one with: periband pass {file} --periapsis {:.3}km --sample {sample}",
        words(&outcome.tally)?,
        outcome.aim_m / 1e3,
    ))
}
