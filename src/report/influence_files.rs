//! The files of an influence study: summary, table, figure, page, scenario as run, manifest.

use super::closing::closing;
use super::error::ReportError;
use super::folder::RunFacts;
use super::grid::{Grid, Tone};
use super::influence_text::{
    answer, bounded_share, halving_words, indices_of, order, rest, shown_outputs, spread,
};
use super::number::percent;
use super::page::{Block, Page, Section};
use super::plot::influence_bars::{Bar, InfluenceBars, OutputBars};
use super::run_facts::facts;
use super::table::{Column, write_csv, write_parquet};
use crate::ensemble::quantile::Estimate;
use crate::ensemble::sobol::Indices;
use crate::study::Case;
use crate::study::influence::{Influence, Output};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Boxes of the figure at most.
const MOST_BOXES: usize = 6;

/// Writes the files of a study under `base` and gives the folder's path; `arguments` run it again.
///
/// # Errors
/// [`ReportError`] when the folder or a file cannot be written, or the figure not drawn.
pub fn write(
    case: &Case,
    found: &Influence,
    summary: &Value,
    (base, arguments): (&Path, &str),
) -> Result<PathBuf, ReportError> {
    let (mut folder, facts) = facts(case, base, ("influence", arguments))?;
    folder.write_json("summary.json", summary)?;
    let columns = columns(found);
    let notes = [
        ("scenario_sha256".to_owned(), facts.scenario_sha256.clone()),
        ("seed".to_owned(), facts.seed.to_string()),
        (
            "program".to_owned(),
            concat!("periband ", env!("CARGO_PKG_VERSION")).to_owned(),
        ),
    ];
    write_parquet(&folder.file("influence.parquet"), &columns, &notes)?;
    folder.note("influence.parquet")?;
    write_csv(&folder.file("influence.csv"), &columns)?;
    folder.note("influence.csv")?;
    let figure = figure(case, found);
    folder.write_figure("influence", &figure)?;
    let page = page(case, found, (&figure, &facts))?;
    folder.write_page(&page)?;
    Ok(folder.finish(&facts)?)
}

/// Every output with known indices: key, name, indices; "a limit is broken" first.
fn known(found: &Influence) -> Vec<(&'static str, &'static str, &Indices)> {
    let broken = found.broken.indices.as_ref().ok();
    let broken = broken.map(|indices| ("limit_broken", "a limit is broken", indices));
    let outputs = found.outputs.iter().filter_map(|output| {
        let indices = output.indices.as_ref().ok()?;
        Some((output.output.key(), output.output.label().0, indices))
    });
    broken.into_iter().chain(outputs).collect()
}

/// A row of the table: the key of its output, the indices of that, and the place of its source.
type Row<'a> = (&'a str, &'a Indices, usize);

/// A number of a row, where it is known.
type Measure<'a> = &'a dyn Fn(&Row<'_>) -> Option<f64>;

/// One row an output and source.
fn columns(found: &Influence) -> Vec<Column> {
    let known = known(found);
    let rows: Vec<Row<'_>> = known
        .iter()
        .flat_map(|&(key, _, indices)| (0..found.sources.len()).map(move |i| (key, indices, i)))
        .collect();
    let texts = |of: &dyn Fn(&Row<'_>) -> String| -> Vec<String> { rows.iter().map(of).collect() };
    let numbers = |of: Measure<'_>| rows.iter().map(of).collect::<Vec<Option<f64>>>();
    let mut columns = vec![
        Column::new("output", texts(&|row| row.0.to_owned())),
        Column::new("source", texts(&|row| found.sources[row.2].key())),
    ];
    for name in ["first_order", "total"] {
        let at = |&(_, indices, source): &Row<'_>| -> Estimate {
            let first = name == "first_order";
            if first {
                indices.first[source]
            } else {
                indices.total[source]
            }
        };
        columns.extend([
            Column::new(name, numbers(&|row| Some(at(row).value))),
            Column::new(format!("{name}_lower"), numbers(&|row| at(row).lower)),
            Column::new(format!("{name}_upper"), numbers(&|row| at(row).upper)),
        ]);
    }
    columns
}

/// Outputs of the figure and the page's table.
fn boxes(case: &Case, found: &Influence) -> Vec<Output> {
    let mut shown = shown_outputs(case, found);
    shown.truncate(MOST_BOXES - usize::from(found.broken.indices.is_ok()));
    shown
}

/// The figure.
#[must_use]
pub fn figure(case: &Case, found: &Influence) -> InfluenceBars {
    let shown = boxes(case, found);
    let order = order(found, &shown);
    let bar = |estimate: &Estimate| Bar {
        value: estimate.value,
        lower: estimate.lower.unwrap_or(f64::NAN),
        upper: estimate.upper.unwrap_or(f64::NAN),
    };
    let bars = |name: &str, indices: &Indices| OutputBars {
        name: name.to_owned(),
        bars: order
            .iter()
            .map(|&i| (bar(&indices.first[i]), bar(&indices.total[i])))
            .collect(),
    };
    let broken = found.broken.indices.as_ref().ok();
    let broken = broken.map(|indices| bars("a limit is broken", indices));
    let outputs = shown
        .iter()
        .filter_map(|&output| Some(bars(output.label().0, indices_of(found, output)?)));
    InfluenceBars {
        title: format!("What matters: {}", case.scenario.title),
        note: format!(
            "aimed at {:.2} km over {}; lines: {} confidence",
            found.aim.0 / 1e3,
            case.world.body().name,
            percent(case.scenario.ask.confidence)
        ),
        sources: order.iter().map(|&i| found.sources[i].words()).collect(),
        outputs: broken.into_iter().chain(outputs).collect(),
    }
}

fn page(
    case: &Case,
    found: &Influence,
    (figure, facts): (&InfluenceBars, &RunFacts),
) -> Result<Page, ReportError> {
    let base = found.band.as_ref().ok();
    let base = base.and_then(Option::as_ref);
    let halvings: Vec<String> = found
        .halvings
        .iter()
        .map(|halving| halving_words(case, found, (base, halving)))
        .collect();
    let mut sections = vec![Section {
        heading: format!("At {:.2} km", found.aim.0 / 1e3),
        blocks: vec![Block::figure(figure)?, Block::Text(rest(found))],
    }];
    if !halvings.is_empty() {
        sections.push(Section {
            heading: "What it would be worth to know better".to_owned(),
            blocks: vec![
                Block::List(halvings),
                Block::Text(
                    "The band was looked for again with the spread halved and the same luck; the interval comes from \
                     drawing the samples anew, the same ones for both bands."
                        .to_owned(),
                ),
            ],
        });
    }
    sections.push(Section {
        heading: "Shares of the variance".to_owned(),
        blocks: tables(found),
    });
    sections.extend(closing(case, facts));
    Ok(Page {
        title: format!("What matters: {}", case.scenario.title),
        lead: answer(case, found),
        tone: Tone::Plain,
        sections,
    })
}

/// A table for each output with known indices.
fn tables(found: &Influence) -> Vec<Block> {
    let describe = |key: &str, name: &str, indices: &Indices| {
        let output = Output::all().into_iter().find(|output| output.key() == key);
        let what = output.map_or_else(
            || format!("{name} in {}", percent(indices.mean)),
            |output| format!("{name}, {}", spread(output, indices)),
        );
        format!(
            "{what}; first-order shares sum to {}",
            bounded_share(&indices.first_sum)
        )
    };
    let table = |(key, name, indices): (&str, &str, &Indices)| {
        let mut grid = Grid::new()
            .words("uncertain quantity")
            .numbers("first order")
            .numbers("total");
        for (i, source) in found.sources.iter().enumerate() {
            grid.row([
                source.words(),
                bounded_share(&indices.first[i]),
                bounded_share(&indices.total[i]),
            ]);
        }
        Block::Table {
            caption: describe(key, name, indices),
            grid,
        }
    };
    known(found).into_iter().map(table).collect()
}
