//! The files of campaigns: summary, tables of campaigns and passes, figures, page, scenario as run, manifest.

use super::campaign_figures::{
    days, orbit_over_time, passes_in_band, periapsis_over_time, trims, walls_in_passes, worst,
};
use super::campaign_rows;
use super::campaign_tables::{events, quantities};
use super::campaign_text::{answer, shown_unit};
use super::closing::closing;
use super::coverage_words;
use super::error::ReportError;
use super::figure::Figure;
use super::folder::{RunFacts, RunFolder};
use super::number::percent;
use super::page::{Block, Page, Section};
use super::run_facts::facts;
use super::table::{write_csv, write_parquet};
use crate::ensemble::campaign::PassRow;
use crate::scenario::campaign::Campaign;
use crate::study::Case;
use crate::study::campaign::{CampaignOutcome, SpotWarmth};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Campaigns as they were flown, with what is written of them.
pub struct Flown<'a> {
    /// The rule they were flown by.
    pub rule: &'a Campaign,
    /// What they gave.
    pub outcome: &'a CampaignOutcome,
    /// How warm the walls got.
    pub walls: &'a [SpotWarmth],
    /// Whether the table of passes is written.
    pub keep_passes: bool,
}

/// Names of the figures.
const FIGURES: [&str; 7] = [
    "orbit_over_time",
    "periapsis_over_time",
    "passes_in_band",
    "worst_pass",
    "walls",
    "trims",
    "days",
];

/// Writes the summary and the tables of a run that was stopped, which take no time, and gives the folder's path.
///
/// # Errors
/// [`ReportError`] when the folder or a file cannot be written.
pub fn keep(
    case: &Case,
    flown: &Flown<'_>,
    (summary, base): (&Value, &Path),
) -> Result<PathBuf, ReportError> {
    let (mut folder, facts) = tables(case, flown, (summary, base))?;
    // Of an earlier run.
    folder.forget("report.html")?;
    for name in FIGURES {
        folder.forget(&format!("{name}.svg"))?;
        folder.forget(&format!("{name}.png"))?;
    }
    Ok(folder.finish(&facts)?)
}

/// The folder with the summary and the tables.
fn tables(
    case: &Case,
    flown: &Flown<'_>,
    (summary, base): (&Value, &Path),
) -> Result<(RunFolder, RunFacts), ReportError> {
    let Flown {
        rule,
        outcome,
        walls,
        keep_passes,
    } = *flown;
    let (mut folder, facts) = facts(case, base, ("campaign", ""))?;
    for stale in ["passes.parquet", "passes.csv", "campaigns.parquet"] {
        folder.forget(stale)?;
    }
    folder.write_json("summary.json", summary)?;
    let notes = [
        ("scenario_sha256".to_owned(), facts.scenario_sha256.clone()),
        ("seed".to_owned(), facts.seed.to_string()),
        (
            "program".to_owned(),
            concat!("periband ", env!("CARGO_PKG_VERSION")).to_owned(),
        ),
    ];
    let table = campaign_rows::campaigns(&outcome.campaigns, &outcome.limits);
    write_parquet(&folder.file("campaigns.parquet"), &table, &notes)?;
    folder.note("campaigns.parquet")?;
    let unit = shown_unit(rule.control.quantity);
    if keep_passes {
        let kept: Vec<(u64, &[PassRow])> = outcome
            .rows
            .iter()
            .map(|(number, rows)| (*number, rows.as_slice()))
            .collect();
        let table = campaign_rows::passes(&kept, (&outcome.limits, walls), unit);
        write_parquet(&folder.file("passes.parquet"), &table, &notes)?;
        folder.note("passes.parquet")?;
        let example = outcome.example().into_iter();
        let one: Vec<(u64, &[PassRow])> = example
            .map(|(result, rows)| (result.campaign, rows))
            .collect();
        let table = campaign_rows::passes(&one, (&outcome.limits, walls), unit);
        write_csv(&folder.file("passes.csv"), &table)?;
        folder.note("passes.csv")?;
    }
    Ok((folder, facts))
}

/// Writes everything under `base` and gives the folder's path.
///
/// # Errors
/// [`ReportError`] when the folder or a file cannot be written, or a figure not drawn.
pub fn write(
    case: &Case,
    flown: &Flown<'_>,
    (summary, base): (&Value, &Path),
) -> Result<PathBuf, ReportError> {
    let Flown {
        rule,
        outcome,
        walls,
        ..
    } = *flown;
    let (mut folder, facts) = tables(case, flown, (summary, base))?;
    let mut sections = vec![key_numbers(case, outcome, walls)];
    for (name, heading, figure) in figures(case, rule, (outcome, walls)) {
        folder.write_figure(name, figure.as_ref())?;
        let block = Block::figure(figure.as_ref())?;
        match sections.last_mut() {
            Some(last) if heading.is_empty() => last.blocks.push(block),
            _ => sections.push(Section {
                heading: heading.to_owned(),
                blocks: vec![block],
            }),
        }
    }
    sections.extend([happened(case, outcome), assumptions(case, rule, outcome)]);
    sections.extend(closing(case, &facts));
    let good = outcome.held() == outcome.asked;
    let page = Page {
        title: case.scenario.title.clone(),
        lead: answer(case, outcome),
        tone: coverage_words::answer_tone(case, good),
        sections,
    };
    folder.write_page(&page)?;
    Ok(folder.finish(&facts)?)
}

/// A figure with the name of its files and the heading above it, which is empty where it goes on.
type Named = (&'static str, &'static str, Box<dyn Figure>);

fn figures(
    case: &Case,
    rule: &Campaign,
    (outcome, walls): (&CampaignOutcome, &[SpotWarmth]),
) -> Vec<Named> {
    let mut all: Vec<Named> = vec![(
        "orbit_over_time",
        "The orbit",
        Box::new(orbit_over_time(outcome, rule)),
    )];
    if let Some((result, rows)) = outcome.example() {
        let example = (result.campaign, rows);
        all.extend([
            (
                "periapsis_over_time",
                "",
                Box::new(periapsis_over_time(example)) as Box<dyn Figure>,
            ),
            (
                "passes_in_band",
                "The passes",
                Box::new(passes_in_band(case, rule, example)),
            ),
            ("worst_pass", "", Box::new(worst(case, rule, outcome))),
        ]);
        if !walls.is_empty() {
            let figure = walls_in_passes(walls, result.campaign);
            all.push(("walls", "", Box::new(figure)));
        }
        all.extend([(
            "trims",
            "The burns",
            Box::new(trims(outcome, example)) as Box<dyn Figure>,
        )]);
    }
    if !outcome.certain {
        all.push(("days", "The time", Box::new(days(case, outcome))));
    }
    all
}

fn key_numbers(case: &Case, outcome: &CampaignOutcome, walls: &[SpotWarmth]) -> Section {
    Section {
        heading: "Over all campaigns".to_owned(),
        blocks: vec![Block::Table {
            caption: format!(
                "{} campaigns; passes, days, burns and propellant of those that reached the target",
                outcome.campaigns.len()
            ),
            grid: quantities(case, outcome, walls),
        }],
    }
}

fn happened(case: &Case, outcome: &CampaignOutcome) -> Section {
    Section {
        heading: "Limits and endings".to_owned(),
        blocks: vec![Block::Table {
            caption: format!(
                "campaigns in which it came once or more, with {} confidence",
                percent(case.scenario.ask.confidence)
            ),
            grid: events(case, outcome),
        }],
    }
}

fn assumptions(case: &Case, rule: &Campaign, outcome: &CampaignOutcome) -> Section {
    let world = &case.world;
    let list = vec![
        format!(
            "World {}: {}; passes are flown below {:.1} km, where the air counts, and above it under gravity alone.",
            world.body().name,
            world.quality().words(),
            outcome.interface_m / 1e3
        ),
        "Gravity is that of the body with the zonal harmonics of the world file; the Sun, moons and tesseral \
         harmonics are left out. Burns are impulses along or against the motion at apoapsis."
            .to_owned(),
        "The operator expects the mean air of the world file times what the last passes met, knows the orbit \
         exactly, and trims once before a pass whose expected peak lies outside its band."
            .to_owned(),
        "The log density and the error of the scale height go on from pass to pass with the stated memory; \
         waves, wind and the errors of burns are drawn anew for each pass, ship and arrival once for a campaign."
            .to_owned(),
        format!(
            "Heat: {}; of free molecules it is half the accommodation times density times speed cubed.",
            rule.heating.words()
        ),
        "Walls of spots take each pass as a bell of its peak flux and heat load, within 2 % of the temperatures of the \
         flown flux, and only radiate between passes; their limits of temperature are held against radiative \
         equilibrium at the peak, which no wall exceeds."
            .to_owned(),
        "Of the errors of delivery an orbit at the start has that of its periapsis altitude; a correlation of the density \
         with other numbers does not count."
            .to_owned(),
        "Limits on the orbit after a pass (captured below and above, comes down) are not asked of a campaign.".to_owned(),
    ];
    Section {
        heading: "Assumptions of the campaign".to_owned(),
        blocks: vec![Block::List(list)],
    }
}
