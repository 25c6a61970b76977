//! What `sweep` says: from where to where the answer goes, and the points in a table.

use super::grid::{Cell as Shown, Grid, Tone};
use super::number::{MISSING, percent, significant, trimmed};
use super::text::Terminal;
use crate::scenario::variation::Variation;
use crate::study::sweep::{Cell, Measure, Row, Sweep, SweepResult};

/// The last part of a key in words with the unit: `lift to drag`, `mass (t)`; the whole key where two end alike.
#[must_use]
pub fn short_title(sweep: &Sweep<'_>, variation: &Variation) -> String {
    let last = |key: &str| key.rsplit('.').next().unwrap_or(key).to_owned();
    let others = sweep.variations.iter().filter(|v| v.key != variation.key);
    let alike = others
        .map(|v| last(&v.key))
        .any(|l| l == last(&variation.key));
    let name = if alike {
        variation.key.clone()
    } else {
        // In words, so that a narrow column can break it.
        last(&variation.key).replace('_', " ")
    };
    if variation.unit.is_empty() {
        name
    } else {
        format!("{name} ({})", variation.unit)
    }
}

/// The values at a row: `lift_to_drag 0.3, mass 60 t`.
#[must_use]
pub fn place_words(sweep: &Sweep<'_>, row: &Row) -> String {
    let places = sweep.variations.iter().zip(&row.places);
    let words = places.map(|(v, &place)| format!("{} {}", v.key, v.value_text(place)));
    words.collect::<Vec<_>>().join(", ")
}

/// A cell with the digits and the sign of its measure.
#[must_use]
pub fn cell_text(measure: &Measure, cell: &Cell) -> String {
    match cell {
        Cell::Number(share) if measure.unit == "%" => percent(*share),
        Cell::Number(km) if measure.unit == "km" && km.abs() < 1e4 => format!("{km:.2}"),
        Cell::Number(number) => significant(*number, 4),
        Cell::Text(text) => text.replace('_', " "),
        Cell::Missing => MISSING.to_owned(),
    }
}

fn with_unit(measure: &Measure, number: f64) -> String {
    let text = cell_text(measure, &Cell::Number(number));
    if measure.unit == "%" || measure.unit.is_empty() {
        return text;
    }
    format!("{text} {}", measure.unit)
}

/// From where to where the measure at `shown` goes, in a sentence, and how many points have no answer.
#[must_use]
pub fn answer(sweep: &Sweep<'_>, result: &SweepResult, shown: usize) -> String {
    if let Some(nothing) = nothing_found(sweep, result) {
        return nothing;
    }
    let measure = &sweep.study.measures[shown];
    let value = |row: &Row| row.answer.as_ref().ok()?.cells[shown].number();
    let known = || {
        result
            .rows
            .iter()
            .filter_map(|row| Some((value(row)?, row)))
    };
    let least = known().min_by(|a, b| a.0.total_cmp(&b.0));
    let most = known().max_by(|a, b| a.0.total_cmp(&b.0));
    let mut text = match (least, most) {
        (Some((low, at_low)), Some((high, at_high))) if high > low => format!(
            "The {} goes from {} at {} to {} at {}.",
            measure.name,
            with_unit(measure, low),
            place_words(sweep, at_low),
            with_unit(measure, high),
            place_words(sweep, at_high)
        ),
        (Some((same, _)), Some(_)) => format!(
            "The {} is {} at every point that has one.",
            measure.name,
            with_unit(measure, same)
        ),
        _ => format!("The {} is known at no point.", measure.name),
    };
    let points = result.rows.len();
    let refused = result.rows.iter().filter(|row| row.answer.is_err()).count();
    if refused > 0 {
        text = format!("{text} {refused} of {points} points have no answer; the table says why.");
    }
    let remarked = result.rows.iter().filter(|row| !remark(row).is_empty());
    let remarked = remarked.count() - refused;
    if remarked > 0 {
        text =
            format!("{text} At {remarked} of {points} points something has to be said, see there.");
    }
    text
}

/// That no point has what the study looks for, with what is said at most of them.
fn nothing_found(sweep: &Sweep<'_>, result: &SweepResult) -> Option<String> {
    let (key, words) = sweep.study.found?;
    let place = sweep.study.place(key)?;
    let has = |row: &Row| {
        let answer = row.answer.as_ref().ok();
        answer.is_some_and(|answer| answer.cells[place] != Cell::Missing)
    };
    if result.rows.iter().any(has) {
        return None;
    }
    let at = |words: &str| {
        let alike = result.rows.iter().filter(|row| remark(row) == words);
        alike.count()
    };
    let reason = result
        .rows
        .iter()
        .map(remark)
        .max_by_key(|words| at(words))?;
    let points = result.rows.len();
    let why = reason.strip_prefix("no safe band: ").unwrap_or(reason);
    Some(match at(reason) {
        all if all == points => format!("{words}. At every one: {why}."),
        some => format!(
            "{words}. At {some} of {points}: {why}; what is said of the others stands below the table."
        ),
    })
}

/// What has to be said at a point; empty where nothing has.
#[must_use]
pub fn remark(row: &Row) -> &str {
    match &row.answer {
        Ok(answer) => &answer.remark,
        Err(why) => why,
    }
}

/// The points: the values varied, and what the study shows of its answer.
#[must_use]
pub fn points(sweep: &Sweep<'_>, result: &SweepResult) -> Grid {
    let measures: Vec<(usize, &Measure)> = sweep
        .study
        .shown
        .iter()
        .filter_map(|key| sweep.study.place(key))
        .map(|place| (place, &sweep.study.measures[place]))
        .collect();
    let mut grid = Grid::new();
    for variation in sweep.variations {
        grid = grid.numbers(short_title(sweep, variation));
    }
    for (_, measure) in &measures {
        let title = match measure.unit {
            "" | "%" => measure.name.to_owned(),
            unit => format!("{} ({unit})", measure.name),
        };
        grid = if measure.is_text {
            grid.words(title)
        } else {
            grid.numbers(title)
        };
    }
    for row in &result.rows {
        let places = sweep.variations.iter().zip(&row.places);
        let mut cells: Vec<Shown> = places
            .map(|(v, &place)| trimmed(v.values[place], 6).into())
            .collect();
        let answer = row.answer.as_ref().ok();
        cells.extend(measures.iter().map(|(place, measure)| {
            let text = answer.map(|answer| cell_text(measure, &answer.cells[*place]));
            let bad = row.answer.is_err();
            Shown::new(
                text.unwrap_or_else(|| MISSING.to_owned()),
                if bad { Tone::Bad } else { Tone::Plain },
            )
        }));
        grid.row(cells);
    }
    grid
}

/// What has to be said at the points, those with the same words together.
#[must_use]
pub fn remarks(sweep: &Sweep<'_>, result: &SweepResult) -> Vec<String> {
    let mut said: Vec<(&str, Vec<String>)> = Vec::new();
    for row in result.rows.iter().filter(|row| !remark(row).is_empty()) {
        let place = place_words(sweep, row);
        match said.iter_mut().find(|(words, _)| *words == remark(row)) {
            Some((_, places)) => places.push(place),
            None => said.push((remark(row), vec![place])),
        }
    }
    let sentence = |(words, places): (&str, Vec<String>)| match places.as_slice() {
        [one] => format!("At {one}: {words}."),
        [first, .., last] => format!("At {} points ({first} to {last}): {words}.", places.len()),
        [] => String::new(),
    };
    said.into_iter().map(sentence).collect()
}

/// The table under the answer, with what has to be said and how much was run.
#[must_use]
pub fn table(terminal: &Terminal, sweep: &Sweep<'_>, result: &SweepResult) -> String {
    let mut text = terminal.table(&points(sweep, result)).trim_end().to_owned();
    text.push_str("\n\n");
    for remark in remarks(sweep, result) {
        text.push_str(&terminal.paragraph(&remark, 0));
    }
    text.push_str(&terminal.paragraph(&counts(sweep, result), 0));
    text
}

/// How many points were run and how many kept from before.
fn counts(sweep: &Sweep<'_>, result: &SweepResult) -> String {
    format!(
        "{}: run at {} of {} points, {} kept from before; the same luck at each.",
        sweep.study.name,
        result.run,
        result.rows.len(),
        result.kept
    )
}
