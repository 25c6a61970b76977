//! The files of a comparison of captures: summary, table, figures, page, scenario as run, manifest.

use super::capture_figures::{front, masses, timeline};
use super::capture_words::{break_key, row_name, way_key};
use super::closing::closing;
use super::coverage_words;
use super::error::ReportError;
use super::figure::Figure;
use super::page::{Block, Page, Section};
use super::run_facts::facts;
use super::table::{Column, write_csv, write_parquet};
use super::{capture_tables, capture_text};
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::study::Case;
use crate::study::capture::{Comparison, Costs, Row};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Keeps what a stopped run had done, as `partial.json`, and gives the folder's path.
///
/// # Errors
/// [`ReportError`] when the folder or the file cannot be written.
pub fn keep(case: &Case, base: &Path, partial: &Value) -> Result<PathBuf, ReportError> {
    let (mut folder, facts) = facts(case, base, ("capture", ""))?;
    folder.write_json("partial.json", partial)?;
    Ok(folder.finish(&facts)?)
}

/// Writes the files of a comparison under `base` and gives the folder's path.
///
/// # Errors
/// [`ReportError`] when the folder or a file cannot be written, or a figure not drawn.
pub fn write(
    case: &Case,
    comparison: &Comparison,
    summary: &Value,
    base: &Path,
) -> Result<PathBuf, ReportError> {
    let (mut folder, facts) = facts(case, base, ("capture", ""))?;
    folder.write_json("summary.json", summary)?;
    let columns = columns(case, comparison);
    let notes = [
        ("scenario_sha256".to_owned(), facts.scenario_sha256.clone()),
        ("seed".to_owned(), facts.seed.to_string()),
        (
            "program".to_owned(),
            concat!("periband ", env!("CARGO_PKG_VERSION")).to_owned(),
        ),
    ];
    write_parquet(&folder.file("capture.parquet"), &columns, &notes)?;
    folder.note("capture.parquet")?;
    write_csv(&folder.file("capture.csv"), &columns)?;
    folder.note("capture.csv")?;
    let mut figures: Vec<(&str, Box<dyn Figure>)> = vec![
        ("masses", Box::new(masses(case, comparison))),
        ("timeline", Box::new(timeline(case, comparison))),
    ];
    if let Some(front) = front(case, comparison) {
        figures.push(("front", Box::new(front)));
    }
    let mut drawn = Vec::new();
    for (name, figure) in &figures {
        folder.write_figure(name, figure.as_ref())?;
        drawn.push(Block::figure(figure.as_ref())?);
    }
    let mut sections = vec![
        ways(case, comparison),
        Section {
            heading: "Masses, times and the front".to_owned(),
            blocks: drawn,
        },
        assumptions(),
    ];
    sections.extend(closing(case, &facts));
    let page = Page {
        title: case.scenario.title.clone(),
        lead: capture_text::answer(case, comparison),
        tone: coverage_words::answer_tone(case, comparison.best().is_some()),
        sections,
    };
    folder.write_page(&page)?;
    Ok(folder.finish(&facts)?)
}

fn ways(case: &Case, comparison: &Comparison) -> Section {
    let mut blocks = vec![
        Block::Table {
            caption: "What each way costs and risks".to_owned(),
            grid: capture_tables::costs_grid(case, comparison),
        },
        Block::Table {
            caption: "What brakes, what is felt, and what each passenger costs".to_owned(),
            grid: capture_tables::details_grid(case, comparison),
        },
    ];
    let remarks = capture_text::remarks(case, comparison);
    if !remarks.is_empty() {
        blocks.push(Block::List(remarks));
    }
    Section {
        heading: "Ways to the orbit".to_owned(),
        blocks,
    }
}

fn assumptions() -> Section {
    let list: Vec<String> = [
        "Burns of the capture by engine are integrated: constant thrust and specific impulse, gravity of a point mass, \
         the best start by minimisation. The first is done as planned whatever the delivery; each later one is sized \
         for the orbit that the one before it left. Robbins' estimate of the loss stands beside the integrated one.",
        "Burns that mend the orbit are impulses at its apsides, with errors of size and pointing, repeated until the \
         orbit is within the tolerance. The target has no inclination: the orbit keeps that of the arrival.",
        "A burn before entry ends at the entry interface, against the velocity, its loss to gravity integrated; its \
         errors add to those of the delivery. Every single pass is aimed by one rule: of seven places across its safe \
         band and the aim that `band` recommends, where most is delivered while every limit holds; a burn before entry \
         is chosen in the same way. What is told of it is flown on samples that had no part in the choice; where a \
         choice does not hold on those, the next is taken.",
        "A moon goes round on a circle in the equator and stands where it is wanted: no date is looked for. The flyby \
         is unpowered, at the lowest altitude that the world file allows. What its errors cost is in the allowance \
         set aside for it; delivery at the planet is as for the arrival without it.",
        "Heat shield: mass share 0.091 Q^0.51575 per cent of the mass at entry, Q the stagnation heat load in J/cm² \
         (Laub and Venkatapathy 2003, from memory), a fit to ablating shields that took 3 to 200 kJ/cm². The mass at \
         the start is that delivered, the propellant and the heat shield together; propellant before the arrival is \
         part of the propellant.",
        "Gentle passes begin with a burn into an orbit inside the loosest apoapsis, by so much that its errors and those \
         of the delivery leave it there but for a tenth of the accepted risk; a burn at its apoapsis lowers the \
         periapsis to the first pass, a campaign as the section `campaign` says brings the apoapsis down, and burns \
         with errors make the target orbit. Their heat load is that of the hottest pass; no ablating shield is added for them.",
        "Felt: the sensed deceleration of the pass or the acceleration by thrust, whichever is higher.",
    ]
    .map(str::to_owned)
    .to_vec();
    Section {
        heading: "Assumptions of the comparison".to_owned(),
        blocks: vec![Block::List(list)],
    }
}

/// The table of the ways, with the points of each sweep after its row.
fn columns(case: &Case, comparison: &Comparison) -> Vec<Column> {
    let mut rows: Vec<(&Row, Option<f64>, Option<&Costs>)> = Vec::new();
    for row in &comparison.rows {
        rows.push((row, None, row.costs.as_ref().ok()));
        for (speed, costs) in &row.sweep {
            rows.push((row, Some(*speed), Some(costs)));
        }
    }
    let texts = |name: &str, of: &dyn Fn(&Row, Option<&Costs>) -> String| {
        let values: Vec<String> = rows.iter().map(|(row, _, costs)| of(row, *costs)).collect();
        Column::new(name, values)
    };
    let numbers = |name: &str, of: &dyn Fn(&Costs) -> Option<f64>| {
        let values: Vec<Option<f64>> = rows
            .iter()
            .map(|(_, _, costs)| costs.and_then(of))
            .collect();
        Column::new(name, values)
    };
    let passengers = f64::from(case.scenario.ship.passengers);
    let each = |kg: Option<f64>| kg.filter(|_| passengers > 0.0).map(|kg| kg / passengers);
    vec![
        texts("arrival", &|row, _| row.arrival.clone()),
        texts("way", &|row, _| way_key(&row.way).to_owned()),
        texts("name", &|row, _| row_name(row)),
        Column::new(
            "swept_burn_m_s",
            rows.iter().map(|(_, speed, _)| *speed).collect::<Vec<_>>(),
        ),
        texts("closed", &|row, _| {
            row.costs
                .as_ref()
                .err()
                .map(ToString::to_string)
                .unwrap_or_default()
        }),
        numbers("aim_periapsis_km", &|c| c.aim_m.map(|aim| aim / 1e3)),
        numbers("speed_by_air_m_s", &|c| Some(c.air_speed_m_s)),
        numbers("speed_by_engine_m_s", &|c| Some(c.engine_speed_m_s)),
        numbers("propellant_median_kg", &|c| c.propellant_kg),
        numbers("propellant_kg", &|c| c.reserve_kg),
        numbers("propellant_per_passenger_kg", &|c| each(c.reserve_kg)),
        numbers("heat_shield_kg", &|c| Some(c.shield_kg)),
        numbers("heat_shield_per_passenger_kg", &|c| each(Some(c.shield_kg))),
        numbers("mass_delivered_kg", &|c| c.delivered_kg),
        numbers("mass_delivered_per_passenger_kg", &|c| each(c.delivered_kg)),
        numbers("peak_deceleration_g", &|c| Some(c.peak_m_s2 / G0)),
        numbers("onset_g_s", &|c| Some(c.onset_m_s3 / G0)),
        numbers("peak_heat_flux_w_cm2", &|c| Some(c.heat_flux_w_m2 / 1e4)),
        numbers("heat_load_j_cm2", &|c| Some(c.heat_load_j_m2 / 1e4)),
        numbers("passes", &|c| Some(c.passes)),
        numbers("days_to_target", &|c| Some(c.time_s() / 86_400.0)),
        numbers("probability_held", &|c| Some(c.held.estimate)),
        numbers("probability_held_lower", &|c| Some(c.held.lower)),
        numbers("probability_held_upper", &|c| Some(c.held.upper)),
        texts("verdict", &|_, costs| {
            let verdict = costs.map(|costs| costs.verdict.key());
            verdict.unwrap_or_default().to_owned()
        }),
        texts("set_by", &|_, costs| {
            let ruling = costs.and_then(|costs| costs.ruling);
            ruling.map(break_key).unwrap_or_default().to_owned()
        }),
    ]
}
