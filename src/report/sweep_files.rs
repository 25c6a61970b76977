//! The files of a sweep: summary, table, figure, page, scenario as run, manifest. The answers of its points
//! are in the folder `points` beside them.

use super::closing::closing;
use super::error::ReportError;
use super::figure::Figure;
use super::folder::RunFacts;
use super::grid::Tone;
use super::page::{Block, Page, Section};
use super::plot::lines::{Area, Lines, Series};
use super::plot::map::Map;
use super::run_facts::facts;
use super::sweep_text::{answer, points, remark, remarks};
use super::table::{Column, write_csv, write_parquet};
use crate::scenario::variation::Variation;
use crate::study::Case;
use crate::study::sweep::{Cell, Measure, Row, Sweep, SweepResult};
use serde_json::{Map as Object, Value, json};
use std::path::{Path, PathBuf};

/// Writes the files of a sweep under `base` and gives the folder's path. `case` is the scenario without
/// what is varied; `shown` the measure in the figure where it is not those of the study.
///
/// # Errors
/// [`ReportError`] when the folder or a file cannot be written, or the figure not drawn.
pub fn write(
    case: &Case,
    (sweep, result, shown): (&Sweep<'_>, &SweepResult, Option<usize>),
    summary: &Value,
    (base, arguments): (&Path, &str),
) -> Result<PathBuf, ReportError> {
    let (mut folder, facts) = facts(case, base, ("sweep", arguments))?;
    folder.write_json("summary.json", summary)?;
    let columns = columns(sweep, result);
    let notes = [
        ("scenario_sha256".to_owned(), facts.scenario_sha256.clone()),
        ("study".to_owned(), sweep.study.name.to_owned()),
        ("seed".to_owned(), facts.seed.to_string()),
        (
            "program".to_owned(),
            concat!("periband ", env!("CARGO_PKG_VERSION")).to_owned(),
        ),
    ];
    write_parquet(&folder.file("sweep.parquet"), &columns, &notes)?;
    folder.note("sweep.parquet")?;
    write_csv(&folder.file("sweep.csv"), &columns)?;
    folder.note("sweep.csv")?;
    let figure = figure(case, sweep, (result, shown));
    folder.write_figure("sweep", figure.as_ref())?;
    let page = page(case, (sweep, result, shown), (figure.as_ref(), &facts))?;
    folder.write_page(&page)?;
    Ok(folder.finish(&facts)?)
}

/// Name of the column of a varied number: its key, and its unit where it has one.
fn column_name(variation: &Variation) -> String {
    let mut unit = String::new();
    for c in variation.unit.to_lowercase().chars() {
        match c {
            '²' => unit.push('2'),
            '³' => unit.push('3'),
            '%' => unit.push_str("percent"),
            c if c.is_ascii_alphanumeric() => unit.push(c),
            _ => unit.push('_'),
        }
    }
    match unit.trim_matches('_') {
        "" => variation.key.clone(),
        unit => format!("{}_{unit}", variation.key),
    }
}

fn columns(sweep: &Sweep<'_>, result: &SweepResult) -> Vec<Column> {
    let rows = &result.rows;
    let mut columns = Vec::new();
    for (i, variation) in sweep.variations.iter().enumerate() {
        let values = rows.iter().map(|row| variation.values[row.places[i]]);
        columns.push(Column::new(
            column_name(variation),
            values.collect::<Vec<f64>>(),
        ));
    }
    for (place, measure) in sweep.study.measures.iter().enumerate() {
        let cell = |row: &Row| match &row.answer {
            Ok(answer) => answer.cells[place].clone(),
            Err(_) => Cell::Missing,
        };
        columns.push(if measure.is_text {
            let text = |row: &Row| match cell(row) {
                Cell::Text(text) => text,
                Cell::Number(_) | Cell::Missing => String::new(),
            };
            Column::new(measure.key, rows.iter().map(text).collect::<Vec<String>>())
        } else {
            let numbers = rows.iter().map(|row| cell(row).number());
            Column::new(measure.key, numbers.collect::<Vec<Option<f64>>>())
        });
    }
    let outcome = |row: &Row| {
        if row.answer.is_ok() {
            "done"
        } else {
            "no answer"
        }
        .to_owned()
    };
    columns.push(Column::new(
        "outcome",
        rows.iter().map(outcome).collect::<Vec<String>>(),
    ));
    let remark = |row: &Row| remark(row).to_owned();
    columns.push(Column::new(
        "remark",
        rows.iter().map(remark).collect::<Vec<String>>(),
    ));
    columns
}

/// The key of a varied number with its unit, for an axis.
fn axis_title(variation: &Variation) -> String {
    if variation.unit.is_empty() {
        variation.key.clone()
    } else {
        format!("{}, {}", variation.key, variation.unit)
    }
}

fn measure_title(measure: &Measure) -> String {
    if measure.unit.is_empty() {
        measure.name.to_owned()
    } else {
        format!("{}, {}", measure.name, measure.unit)
    }
}

/// A number as drawn: a share in per cent.
fn drawn(measure: &Measure, row: &Row, place: usize) -> f64 {
    let number = row
        .answer
        .as_ref()
        .ok()
        .and_then(|a| a.cells[place].number());
    let times = if measure.unit == "%" { 100.0 } else { 1.0 };
    number.map_or(f64::NAN, |number| times * number)
}

/// The figure: lines over one number, a map over two.
#[must_use]
pub fn figure(
    case: &Case,
    sweep: &Sweep<'_>,
    (result, shown): (&SweepResult, Option<usize>),
) -> Box<dyn Figure> {
    match sweep.variations {
        [x, y] => Box::new(map(case, sweep, (result, shown), (x, y))),
        variations => Box::new(lines(case, sweep, (result, shown), variations.first())),
    }
}

fn note(sweep: &Sweep<'_>, result: &SweepResult) -> String {
    let refused = result.rows.iter().filter(|row| row.answer.is_err()).count();
    let mut note = format!("{}, {} points", sweep.study.about, result.rows.len());
    if refused > 0 {
        note = format!("{note}; no answer at {refused} of them");
    }
    note
}

fn lines(
    case: &Case,
    sweep: &Sweep<'_>,
    (result, shown): (&SweepResult, Option<usize>),
    variation: Option<&Variation>,
) -> Lines {
    let study = sweep.study;
    let places: Vec<usize> = match shown {
        Some(place) => vec![place],
        None => study
            .lines
            .iter()
            .filter_map(|key| study.place(key))
            .collect(),
    };
    let at = |row: &Row| variation.map_or(f64::NAN, |v| v.values[row.places[0]]);
    let mut points = Vec::new();
    let series = places.iter().map(|&place| {
        let measure = &study.measures[place];
        let mut curve: Vec<(f64, f64)> = result
            .rows
            .iter()
            .map(|row| (at(row), drawn(measure, row, place)))
            .collect();
        curve.sort_by(|a, b| a.0.total_cmp(&b.0));
        let finite = curve.iter().filter(|point| point.1.is_finite());
        points.extend(finite.copied());
        Series {
            // A single curve is named by its axis.
            name: if places.len() > 1 {
                measure.name.to_owned()
            } else {
                String::new()
            },
            points: curve,
            limit_key: String::new(),
        }
    });
    let series: Vec<Series> = series.collect();
    let y_title = match shown {
        Some(place) => measure_title(&study.measures[place]),
        None => study.lines_title.to_owned(),
    };
    let curve = |key: &str| -> Vec<(f64, f64)> {
        let place = study.place(key).filter(|place| places.contains(place));
        let place = place.and_then(|place| places.iter().position(|known| *known == place));
        place.map_or_else(Vec::new, |i| series[i].points.clone())
    };
    let between = study.between.filter(|_| shown.is_none());
    let areas = between.map(|(low, high)| Area {
        name: String::new(),
        low: curve(low),
        high: curve(high),
        muted: false,
    });
    let areas = areas.into_iter().collect();
    Lines {
        title: format!("What if: {}", case.scenario.title),
        note: note(sweep, result),
        x_title: variation.map(axis_title).unwrap_or_default(),
        y_title,
        series,
        dots: points,
        areas,
        ..Lines::default()
    }
}

fn map(
    case: &Case,
    sweep: &Sweep<'_>,
    (result, shown): (&SweepResult, Option<usize>),
    (x, y): (&Variation, &Variation),
) -> Map {
    let study = sweep.study;
    let place = shown.or_else(|| study.place(study.map)).unwrap_or_default();
    let measure = &study.measures[place];
    let mut values = vec![vec![f64::NAN; x.values.len()]; y.values.len()];
    for row in &result.rows {
        if let [column, line] = row.places[..] {
            values[line][column] = drawn(measure, row, place);
        }
    }
    let rising = |values: &[f64]| {
        let mut order: Vec<usize> = (0..values.len()).collect();
        order.sort_by(|&a, &b| values[a].total_cmp(&values[b]));
        order
    };
    let (across, up) = (rising(&x.values), rising(&y.values));
    Map {
        title: format!("What if: {}", case.scenario.title),
        note: note(sweep, result),
        x_title: axis_title(x),
        y_title: axis_title(y),
        value_title: measure_title(measure),
        x: across.iter().map(|&i| x.values[i]).collect(),
        y: up.iter().map(|&i| y.values[i]).collect(),
        values: up
            .iter()
            .map(|&line| across.iter().map(|&column| values[line][column]).collect())
            .collect(),
    }
}

fn page(
    case: &Case,
    (sweep, result, shown): (&Sweep<'_>, &SweepResult, Option<usize>),
    (figure, facts): (&dyn Figure, &RunFacts),
) -> Result<Page, ReportError> {
    let map = sweep.study.place(sweep.study.map).unwrap_or_default();
    let mut blocks = vec![
        Block::figure(figure)?,
        Block::Table {
            // How many were kept from before differs between equal sweeps.
            caption: format!(
                "{} at {} points; the same luck at each",
                sweep.study.name,
                result.rows.len()
            ),
            grid: points(sweep, result),
        },
    ];
    let remarks = remarks(sweep, result);
    if !remarks.is_empty() {
        blocks.push(Block::List(remarks));
    }
    let keys = sweep.variations.iter().map(|v| v.key.as_str());
    let mut sections = vec![Section {
        heading: format!(
            "{} by {}",
            sweep.study.name,
            keys.collect::<Vec<_>>().join(" and ")
        ),
        blocks,
    }];
    sections.extend(closing(case, facts));
    Ok(Page {
        title: format!("What if: {}", case.scenario.title),
        lead: answer(sweep, result, shown.unwrap_or(map)),
        tone: Tone::Plain,
        sections,
    })
}

/// `summary.json`: stable keys, documented in the README. `run`, `kept` and `wall_time_s` are the entries
/// that differ between equal sweeps.
#[must_use]
pub fn summary(
    case: &Case,
    (sweep, result): (&Sweep<'_>, &SweepResult),
    wall_time_s: f64,
) -> Value {
    let varied = sweep.variations.iter().map(|variation| {
        json!({ "key": variation.key, "unit": variation.unit, "values": variation.values })
    });
    let rows = result.rows.iter().map(|row| {
        let mut object = Object::new();
        for (variation, &place) in sweep.variations.iter().zip(&row.places) {
            object.insert(variation.key.clone(), json!(variation.values[place]));
        }
        let cells = row.answer.as_ref().map_or(&[][..], |answer| &answer.cells);
        for (place, measure) in sweep.study.measures.iter().enumerate() {
            let value = match cells.get(place) {
                Some(Cell::Number(number)) => json!(number),
                Some(Cell::Text(text)) => json!(text),
                Some(Cell::Missing) | None => Value::Null,
            };
            object.insert(measure.key.to_owned(), value);
        }
        object.insert("answered".to_owned(), json!(row.answer.is_ok()));
        object.insert("remark".to_owned(), json!(remark(row)));
        Value::Object(object)
    });
    json!({
        "study": "sweep",
        "swept_study": sweep.study.name,
        "scenario": case.scenario.title,
        "world": case.world.body().name,
        "air": super::air_grades::summary(case),
        "heating_errors": super::heat_text::errors_json(case),
        "seed": case.scenario.ask.seed,
        "varied": varied.collect::<Vec<_>>(),
        "points": rows.collect::<Vec<_>>(),
        "run": result.run,
        "kept": result.kept,
        "wall_time_s": wall_time_s,
    })
}
