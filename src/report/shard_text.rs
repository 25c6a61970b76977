//! What a run in shards says on the screen, and the tables it shares with its page.

use super::band_text;
use super::coverage_words;
use super::grid::{Cell, Grid, Tone};
use super::limit_words::broken_words;
use super::number::{count, percent, significant};
use super::shard_plan::Plan;
use super::text::Terminal;
use crate::ensemble::histogram::Histogram;
use crate::pass::Ending;
use crate::study::Case;
use crate::study::outcome::{Outcome, Quantity};
use crate::study::shards::{Summary, Whole};
use crate::study::verdicts::Verdicts;

/// The answer in one or two sentences.
#[must_use]
pub fn answer(case: &Case, whole: &Whole) -> String {
    let result = &whole.result;
    let verdicts = verdicts(case, whole);
    let covered = verdicts.as_ref().is_some_and(Verdicts::covered);
    let alone = result.points.len() == 1;
    if result.band.is_ok() && !alone {
        return format!(
            "{} The aim was chosen of {} when the run was planned, by a few samples that are not among the {} flown at \
             each: `band` and `influence` fly other aims and samples, and may name another.",
            band_text::answer(case, result, verdicts.as_ref()),
            result.points.len(),
            count(result.samples)
        );
    }
    let held = result.recommended.held;
    let chance = format!(
        "{} in {} of arrivals ({} to {} with {} confidence, for this one aim)",
        coverage_words::limits_hold(covered),
        percent(held.estimate),
        percent(held.lower),
        percent(held.upper),
        percent(case.scenario.ask.confidence),
    );
    let said = verdicts.and_then(|verdicts| coverage_words::remark(case, &verdicts));
    let said = said.map_or(String::new(), |words| format!(" {words}"));
    if alone {
        let aim_km = result.recommended.aim_m / 1e3;
        return format!("At {aim_km:.2} km, the one aim flown, {chance}.{said}");
    }
    if let Some(words) = band_text::not_shown(case, result) {
        return words;
    }
    format!(
        "No safe band at {} among these {} aims. The aim chosen when the run was planned is {:.2} km: {chance}. \
         `periband band` says what would open one.{said}",
        percent(case.scenario.ask.probability),
        result.points.len(),
        result.recommended.aim_m / 1e3,
    )
}

/// What the limits came to at the aim to take.
#[must_use]
pub(super) fn verdicts(case: &Case, whole: &Whole) -> Option<Verdicts> {
    band_text::verdicts(case, &whole.result, &outcome(whole)?)
}

/// How the answer is to be understood.
#[must_use]
pub fn tone(case: &Case, whole: &Whole) -> Tone {
    band_text::tone(&whole.result, verdicts(case, whole).as_ref())
}

/// What the aim to take gave, in the form of a band's outcome, without its values.
#[must_use]
pub(super) fn outcome(whole: &Whole) -> Option<Outcome> {
    let best = whole.summaries.get(whole.best)?;
    Some(Outcome {
        aim_m: whole.result.recommended.aim_m,
        tally: best.tally.clone(),
        described: Vec::new(),
        values: Vec::new(),
        covered: whole.covered.clone(),
        failed: best.failed.clone(),
        without_approach: best.without_approach.clone(),
    })
}

/// The histograms of the aim to take that have values, each with its quantity and its place.
pub(super) fn spreads(best: &Summary) -> impl Iterator<Item = (usize, Quantity, &Histogram)> {
    let all = Quantity::ALL.iter().zip(&best.quantities).enumerate();
    all.filter(|(_, (_, histogram))| histogram.total() > 0)
        .map(|(place, (&quantity, histogram))| (place, quantity, histogram))
}

/// The quantities at the aim to take, with their limits.
#[must_use]
pub(super) fn quantities(case: &Case, plan: &Plan, whole: &Whole) -> Grid {
    let mut grid = Grid::new()
        .words("quantity")
        .numbers("median")
        .numbers("p95")
        .numbers("p99.865")
        .numbers("highest")
        .numbers("limit");
    let bins = plan.bins().unwrap_or_default();
    let (Some(best), Some(bins)) = (whole.summaries.get(whole.best), bins.get(whole.best)) else {
        return grid;
    };
    for (place, quantity, histogram) in spreads(best) {
        let (label, unit) = quantity.label();
        let at = |share| {
            let found = histogram.quantile(&bins[place], share);
            found.map_or_else(String::new, |found| significant(found.value, 4))
        };
        let highest = histogram.highest.map(|one| significant(one.value, 4));
        grid.row([
            format!("{label} ({unit})"),
            at(0.5),
            at(0.95),
            at(0.99865),
            highest.unwrap_or_default(),
            band_text::limit_of(case, quantity).unwrap_or_default(),
        ]);
    }
    grid
}

/// How often each limit was broken at the aim to take, and its worst samples.
#[must_use]
pub(super) fn limits(case: &Case, whole: &Whole) -> Grid {
    let mut grid = Grid::new()
        .words("limit broken")
        .numbers("samples")
        .numbers("share")
        .words("worst samples");
    let Some(best) = whole.summaries.get(whole.best) else {
        return grid;
    };
    let entries = case.problem.limits().entries().iter();
    for ((limit, &broken), worst) in entries.zip(&best.tally.broken).zip(&best.worst) {
        let tone = band_text::broken_tone(case, (broken, best.tally.samples));
        let numbers = worst.iter().take(2).map(|one| one.sample.to_string());
        grid.row([
            Cell::from(broken_words(case, limit.kind)),
            Cell::new(count(broken), tone),
            Cell::new(band_text::share(broken, best.tally.samples), tone),
            Cell::from(numbers.collect::<Vec<_>>().join(", ")),
        ]);
    }
    let unflown = best.failed.iter().chain(&best.without_approach).take(2);
    let numbers: Vec<String> = unflown.map(u64::to_string).collect();
    super::unflown::row(&mut grid, &best.tally, |number, share| {
        vec![number, share, Cell::from(numbers.join(", "))]
    });
    grid
}

/// How the samples of the aim to take ended, and what was flown in all.
pub(super) fn remarks(whole: &Whole) -> String {
    let Some(best) = whole.summaries.get(whole.best) else {
        return String::new();
    };
    let endings: Vec<String> = Ending::ALL
        .iter()
        .zip(best.tally.endings)
        .filter(|(_, count)| *count > 0)
        .map(|(ending, count)| {
            let word = ending.word().replace('_', " ");
            format!("{} {word}", band_text::share(count, best.tally.samples))
        })
        .collect();
    format!(
        "Endings: {}. {} passes flown at {}. Quantiles are known to the width of a bin; summary.json has \
         their bounds.",
        endings.join(", "),
        count(whole.result.passes_flown),
        match whole.result.points.len() {
            1 => "1 aim".to_owned(),
            many => format!("{many} aims"),
        }
    )
}

/// The tables under the answer.
#[must_use]
pub fn table(terminal: &Terminal, case: &Case, (plan, whole): (&Plan, &Whole)) -> String {
    format!(
        "At {:.2} km, {} samples:\n\n{}\n\n{}\n\n{}",
        whole.result.recommended.aim_m / 1e3,
        count(whole.result.samples),
        terminal.table(&quantities(case, plan, whole)).trim_end(),
        terminal.table(&limits(case, whole)).trim_end(),
        terminal.paragraph(&remarks(whole), 0),
    )
}
