//! The files of a landing: summary, rows, figures, page, scenario as run, manifest.

use super::band_figures::distribution;
use super::band_text;
use super::closing::closing;
use super::coverage_words;
use super::error::ReportError;
use super::figure::Figure;
use super::grid::Tone;
use super::landing_figures::{ends, map, misses};
use super::landing_tables::{aims_table, aims_words, gate_table};
use super::landing_text::{answer, ellipse_words, footprint_words, left_words};
use super::page::{Block, Page, Section};
use super::run_facts::facts;
use super::table::{Column, write_parquet};
use crate::scenario::landing::Landing;
use crate::study::Case;
use crate::study::landing::LandingResult;
use crate::study::landing::arrivals::{Arrival, Arrivals};
use crate::study::outcome::Quantity;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Writes what there is where no aim comes down with every limit held, and gives the folder's path.
///
/// # Errors
/// As [`write()`].
pub fn without_aim(case: &Case, summary: &Value, base: &Path) -> Result<PathBuf, ReportError> {
    let (mut folder, facts) = facts(case, base, ("land", ""))?;
    // Of an earlier run that had one.
    folder.forget("samples.parquet")?;
    for name in FIGURES {
        folder.forget(&format!("{name}.svg"))?;
        folder.forget(&format!("{name}.png"))?;
    }
    folder.write_json("summary.json", summary)?;
    folder.write_page(&Page {
        title: case.scenario.title.clone(),
        lead: summary["why_no_aim"]
            .as_str()
            .unwrap_or_default()
            .to_owned(),
        tone: Tone::Bad,
        sections: closing(case, &facts),
    })?;
    Ok(folder.finish(&facts)?)
}

/// Names of the figures, in the order of the page.
const FIGURES: [&str; 6] = [
    "map",
    "ends",
    "miss",
    "peak_deceleration",
    "peak_heat_flux",
    "heat_load",
];

/// Writes the files of a study under `base` and gives the folder's path.
///
/// # Errors
/// [`ReportError`] when the folder or a file cannot be written, or a figure not drawn.
pub fn write(
    case: &Case,
    (result, landing): (&LandingResult, &Landing),
    summary: &Value,
    base: &Path,
) -> Result<PathBuf, ReportError> {
    let (mut folder, facts) = facts(case, base, ("land", ""))?;
    folder.write_json("summary.json", summary)?;
    let notes = [
        ("scenario_sha256".to_owned(), facts.scenario_sha256.clone()),
        ("seed".to_owned(), facts.seed.to_string()),
        (
            "program".to_owned(),
            concat!("periband ", env!("CARGO_PKG_VERSION")).to_owned(),
        ),
    ];
    write_parquet(
        &folder.file("samples.parquet"),
        &columns(case, result),
        &notes,
    )?;
    folder.note("samples.parquet")?;
    let main = result.steered.as_ref().unwrap_or(&result.held);
    let spread = |quantity| distribution(case, &main.outcome, quantity);
    let limited = [
        Quantity::PeakDeceleration,
        Quantity::PeakHeatFlux,
        Quantity::HeatLoad,
    ];
    let mut figures: Vec<Box<dyn Figure>> = vec![
        Box::new(map(case, (result, landing))),
        Box::new(ends(case, (result, landing))),
        Box::new(misses(main, landing)),
    ];
    for quantity in limited {
        figures.push(Box::new(spread(quantity)));
    }
    for (name, figure) in FIGURES.iter().zip(&figures) {
        folder.write_figure(name, figure.as_ref())?;
    }
    let blocks = figures
        .iter()
        .map(|figure| Block::figure(figure.as_ref()))
        .collect::<Result<Vec<Block>, ReportError>>()?;
    let mut sections = sections(case, (result, landing), main, blocks);
    sections.extend(closing(case, &facts));
    let page = Page {
        title: case.scenario.title.clone(),
        lead: answer(case, (result, landing)),
        tone: coverage_words::answer_tone(case, result.inside(landing)),
        sections,
    };
    folder.write_page(&page)?;
    Ok(folder.finish(&facts)?)
}

fn sections(
    case: &Case,
    (result, landing): (&LandingResult, &Landing),
    main: &Arrivals,
    figures: Vec<Block>,
) -> Vec<Section> {
    let mut figures = figures.into_iter();
    let mut next = || figures.next().into_iter();
    let table = |caption: &str, grid| Block::Table {
        caption: caption.to_owned(),
        grid,
    };
    let mut reach: Vec<Block> = next().collect();
    reach.extend(footprint_words(result).map(Block::Text));
    reach.extend(aims_words(case, result).map(Block::Text));
    reach.push(table(
        "What each aim reaches under the limits",
        aims_table(result),
    ));
    let mut there: Vec<Block> = next().chain(next()).collect();
    there.extend(
        main.ellipse
            .as_ref()
            .map(|e| Block::Text(ellipse_words(case, result, e))),
    );
    let how = if result.steered.is_some() {
        "steered"
    } else {
        "with the bank held"
    };
    let caption = format!("{} flights {how}", main.flights.len());
    there.push(table(&caption, gate_table(main)));
    there.extend(left_words(result).map(Block::Text));
    if result.steered.is_some() {
        there.push(table(
            &format!("The same {} flights with the bank held", main.flights.len()),
            gate_table(&result.held),
        ));
    }
    let takes: Vec<Block> = next().chain(next()).chain(next()).collect();
    let mut feel = takes;
    feel.push(table(
        "What people and skin take",
        band_text::quantities(case, &main.outcome),
    ));
    let broken = band_text::broken(
        case,
        &main.outcome,
        Some(&band_text::counted(case, &main.outcome)),
    );
    if !broken.is_empty() {
        feel.push(table("Limits", broken));
    }
    let section = |heading: String, blocks| Section { heading, blocks };
    vec![
        section("What the ship reaches".to_owned(), reach),
        section(
            format!("How near it comes to {}", landing.place.name),
            there,
        ),
        section("Deceleration, heat and comfort".to_owned(), feel),
    ]
}

/// One row a flight: those that steer first, then those that hold their bank.
fn columns(case: &Case, result: &LandingResult) -> Vec<Column> {
    let sets = [
        result.steered.as_ref().map(|flown| ("steered", flown)),
        Some(("held", &result.held)),
    ];
    let rows: Vec<(&str, &Arrival)> = sets
        .into_iter()
        .flatten()
        .flat_map(|(name, flown)| flown.flights.iter().map(move |flight| (name, flight)))
        .collect();
    // A flight without a result has no end to tell of.
    let numbers = |of: &dyn Fn(&Arrival) -> f64| -> Vec<Option<f64>> {
        let of = |(_, flight): &(&str, &Arrival)| flight.ending.is_flown().then(|| of(flight));
        rows.iter().map(of).collect()
    };
    let whole = |of: &dyn Fn(&Arrival) -> u64| -> Vec<i64> {
        rows.iter()
            .map(|(_, flight)| i64::try_from(of(flight)).unwrap_or(i64::MAX))
            .collect()
    };
    let texts =
        |of: &dyn Fn(&(&str, &Arrival)) -> String| -> Vec<String> { rows.iter().map(of).collect() };
    let mut columns = vec![
        Column::new("flown", texts(&|row| row.0.to_owned())),
        Column::new("sample", whole(&|flight| flight.sample)),
        Column::new("ending", texts(&|row| row.1.ending.word().to_owned())),
        Column::new("meets_gate", whole(&|flight| u64::from(flight.reached))),
        Column::new(
            "latitude_deg",
            numbers(&|f| f.on_map.latitude_rad.to_degrees()),
        ),
        Column::new(
            "longitude_deg",
            numbers(&|f| f.on_map.longitude_rad.to_degrees()),
        ),
        Column::new("downrange_km", numbers(&|f| f.from_entry.downrange_m / 1e3)),
        Column::new(
            "crossrange_km",
            numbers(&|f| f.from_entry.crossrange_m / 1e3),
        ),
        Column::new("range_to_place_km", numbers(&|f| f.range_m / 1e3)),
        Column::new("miss_km", numbers(&|f| f.miss_m / 1e3)),
        Column::new("heading_off_deg", numbers(&|f| f.heading_rad.to_degrees())),
        Column::new("altitude_km", numbers(&|f| f.altitude_m / 1e3)),
        Column::new("speed_m_s", numbers(&|f| f.speed_m_s)),
        Column::new(
            "flight_path_angle_deg",
            numbers(&|f| f.angle_rad.to_degrees()),
        ),
        Column::new("energy_height_km", numbers(&|f| f.energy_height_m / 1e3)),
        Column::new("duration_s", numbers(&|f| f.duration_s)),
    ];
    for (bit, limit) in case.problem.limits().entries().iter().enumerate() {
        let broken = whole(&|flight| u64::from(flight.broken >> bit & 1));
        columns.push(Column::new(
            format!("broken_{}_{}", bit + 1, limit.kind.key()),
            broken,
        ));
    }
    columns
}
