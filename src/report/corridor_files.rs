//! The files of a corridor study: summary, table of edges, figures, page, scenario as run, manifest.

use super::closing::closing;
use super::corridor_edges::{Measure, against_speed};
use super::corridor_figures::{banks, delivery, exits, map};
use super::corridor_text;
use super::corridor_words::demand_key;
use super::coverage_words;
use super::error::ReportError;
use super::figure::Figure;
use super::grid::Tone;
use super::page::{Block, Page, Section};
use super::run_facts::facts;
use super::table::{Column, write_csv, write_parquet};
use crate::study::Case;
use crate::study::corridor::demand::Bank;
use crate::study::corridor::stretch::Edge;
use crate::study::corridor::{AtArrival, CorridorResult, angle_at, lift_to_drag};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Writes the files of a corridor under `base` and gives the folder's path.
///
/// # Errors
/// [`ReportError`] when the folder or a file cannot be written, or a figure not drawn.
pub fn write(
    case: &Case,
    result: &CorridorResult,
    summary: &Value,
    base: &Path,
) -> Result<PathBuf, ReportError> {
    let (mut folder, facts) = facts(case, base, ("corridor", ""))?;
    folder.write_json("summary.json", summary)?;
    let columns = columns(case, result);
    let notes = [
        ("scenario_sha256".to_owned(), facts.scenario_sha256.clone()),
        (
            "program".to_owned(),
            concat!("periband ", env!("CARGO_PKG_VERSION")).to_owned(),
        ),
    ];
    write_parquet(&folder.file("edges.parquet"), &columns, &notes)?;
    folder.note("edges.parquet")?;
    write_csv(&folder.file("edges.csv"), &columns)?;
    folder.note("edges.csv")?;
    let angle = against_speed(case, result, Measure::Angle);
    let periapsis = against_speed(case, result, Measure::Periapsis);
    let mut figures: Vec<(&str, Box<dyn Figure>)> = vec![
        ("corridor_angle", Box::new(angle)),
        ("corridor_periapsis", Box::new(periapsis)),
    ];
    for name in ["delivery", "banks", "exit", "map"] {
        folder.forget(&format!("{name}.svg"))?;
        folder.forget(&format!("{name}.png"))?;
    }
    if let Some(figure) = delivery(case, result) {
        figures.push(("delivery", Box::new(figure)));
    }
    if let Some(figure) = banks(case, result) {
        figures.push(("banks", Box::new(figure)));
    }
    if let Some(figure) = exits(case, result) {
        figures.push(("exit", Box::new(figure)));
    }
    if let Some(figure) = map(case, result) {
        figures.push(("map", Box::new(figure)));
    }
    let mut sections = vec![tables(case, result)];
    let lifts = lift_to_drag(&case.problem) > 0.0;
    for (name, figure) in &figures {
        folder.write_figure(name, figure.as_ref())?;
        let block = Block::figure(figure.as_ref())?;
        let heading = match *name {
            "corridor_angle" if lifts => "The upper bound against the arrival",
            "corridor_angle" => "The corridor against the arrival",
            "delivery" => "What the delivery spreads over",
            "banks" => "With one bank held throughout",
            "exit" => "What the exit makes of the aim",
            "map" => "Lift against arrival",
            _ => "",
        };
        match sections.last_mut() {
            Some(last) if heading.is_empty() => last.blocks.push(block),
            _ => sections.push(Section {
                heading: heading.to_owned(),
                blocks: vec![block],
            }),
        }
    }
    sections.push(assumptions());
    sections.extend(closing(case, &facts));
    folder.write_page(&Page {
        title: case.scenario.title.clone(),
        lead: corridor_text::answer(case, result),
        tone: tone(case, result),
        sections,
    })?;
    Ok(folder.finish(&facts)?)
}

/// Good where one flight holds every limit (and its models cover it), bad where none can; between them lies what only steering could reach.
#[must_use]
pub fn tone(case: &Case, result: &CorridorResult) -> Tone {
    let open = result
        .own()
        .is_some_and(|own| own.corridor.open().is_some());
    match (open, lift_to_drag(&case.problem) > 0.0) {
        (false, _) => Tone::Bad,
        (true, true) if result.one_bank.is_none() => Tone::Plain,
        (true, _) => coverage_words::answer_tone(case, true),
    }
}

fn tables(case: &Case, result: &CorridorResult) -> Section {
    let mut blocks = vec![Block::Table {
        caption:
            "Edges and width by arrival; where there is no corridor, the edges that have crossed"
                .to_owned(),
        grid: corridor_text::by_arrival(case, result),
    }];
    for (caption, grid) in [
        (
            "Edges of each limit at the scenario's own arrival; –: none between 45 deg below the horizon and the interface",
            corridor_text::edges(case, result),
        ),
        (
            "What is left after the pass, and how it changes with the aim",
            corridor_text::sensitivity(result),
        ),
    ] {
        if !grid.is_empty() {
            blocks.push(Block::Table {
                caption: caption.to_owned(),
                grid,
            });
        }
    }
    Section {
        heading: "The corridor in numbers".to_owned(),
        blocks,
    }
}

fn assumptions() -> Section {
    let list = [
        "An aim lies in the corridor where each limit is held by full lift up or by full lift down, each flown \
         throughout. One flight need not hold them all at once: for a ship with lift it is an upper bound of what \
         steering can reach, and no flight of a controller stands behind it. Where one bank held throughout meets all \
         limits together, no steering is needed; the share of the deliveries that the best such bank holds was flown, \
         each delivery with its own errors of arrival, ship and air without theirs.",
        "Every flight is nominal: air, ship and arrival as the scenario says, without their errors. The ellipse of the \
         delivery shows one of these errors beside the corridor; `band` counts all of them.",
        "Each edge is the outermost aim that holds, known to 1 m: a grid of aims even in the flight-path angle, to 45 \
         deg below the horizon, brackets it, and the bracket is halved. Two edges of one limit that lie between two \
         neighbours of the grid (a quarter of a degree) are not seen.",
    ];
    Section {
        heading: "How the edges are found".to_owned(),
        blocks: vec![Block::List(list.map(str::to_owned).to_vec())],
    }
}

/// Every edge of every demand, flown lift up and lift down, by arrival.
fn columns(case: &Case, result: &CorridorResult) -> Vec<Column> {
    struct Row<'a> {
        at: &'a AtArrival,
        flown: Bank,
        limit: &'static str,
        ends: (Edge, Edge),
    }
    let mut rows: Vec<Row<'_>> = Vec::new();
    for at in &result.arrivals {
        for (flown, traced) in [(Bank::Up, &at.up), (Bank::Down, &at.down)] {
            for (&demand, held) in result.demands.iter().zip(&traced.held) {
                rows.extend(held.iter().map(|stretch| Row {
                    at,
                    flown,
                    limit: demand_key(demand),
                    ends: (stretch.low, stretch.high),
                }));
            }
        }
    }
    let numbers = |name: &str, of: &dyn Fn(&Row<'_>) -> Option<f64>| {
        Column::new(name, rows.iter().map(of).collect::<Vec<Option<f64>>>())
    };
    let texts = |name: &str, of: &dyn Fn(&Row<'_>) -> String| {
        Column::new(name, rows.iter().map(of).collect::<Vec<String>>())
    };
    let known = |edge: Edge| edge.owner.map(|_| edge.aim_m);
    let angle = |row: &Row<'_>, edge: Edge| {
        angle_at(&case.problem, known(edge)?, &row.at.numbers).map(f64::to_degrees)
    };
    vec![
        numbers("entry_speed_km_s", &|row| {
            Some(row.at.entry_speed_m_s / 1e3)
        }),
        texts("flown", &|row| row.flown.key().to_owned()),
        texts("limit", &|row| row.limit.to_owned()),
        numbers("held_from_km", &|row| known(row.ends.0).map(|m| m / 1e3)),
        numbers("held_from_deg", &|row| angle(row, row.ends.0)),
        numbers("held_to_km", &|row| known(row.ends.1).map(|m| m / 1e3)),
        numbers("held_to_deg", &|row| angle(row, row.ends.1)),
    ]
}
