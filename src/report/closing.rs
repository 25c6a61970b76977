//! What closes the page of every study: models and where they hold, what was assumed, how the program
//! was verified, the scenario as run, and how to run it again.

use super::folder::RunFacts;
use super::grid::{Cell, Grid, Tone};
use super::models::models;
use super::page::{Block, Section};
use super::verified;
use crate::study::Case;

/// The sections that close a page.
#[must_use]
pub fn closing(case: &Case, facts: &RunFacts) -> Vec<Section> {
    vec![
        models_section(case),
        sources(case),
        verification(),
        as_run(case),
        again(facts),
    ]
}

fn models_section(case: &Case) -> Section {
    Section {
        heading: "Models and where they hold".to_owned(),
        blocks: vec![
            Block::Table {
                caption: "What was flown, for what it is stated, and whether this run stays inside"
                    .to_owned(),
                grid: models(case),
            },
            Block::List(vec![
                "The aim is the vacuum periapsis: that of the approach without air, above the ellipsoid."
                    .to_owned(),
                "Deceleration is sensed acceleration, what a passenger feels, without gravity."
                    .to_owned(),
                "A probability comes from counts, with its interval by Clopper and Pearson; a sample \
                 without a result (its integration failed, or its numbers fit no approach) counts as not held, and in \
                 no limit."
                    .to_owned(),
                "Peaks are found between steps to 0.1 %, the lowest altitude to 1 m, the onset to 5 %."
                    .to_owned(),
            ]),
        ],
    }
}

fn sources(case: &Case) -> Section {
    let list = case.world.sources().iter().map(|source| {
        format!(
            "{} ({}): {}",
            source.what,
            source.known.words(),
            source.text
        )
    });
    Section {
        heading: "Assumptions and sources".to_owned(),
        blocks: vec![
            Block::Preformatted(case.scenario.describe().join("\n")),
            Block::Text(format!(
                "Where the numbers of {} are from:",
                case.world.body().name
            )),
            Block::List(list.collect()),
        ],
    }
}

fn verification() -> Section {
    let mut grid = Grid::new()
        .words("checked against")
        .words("known")
        .numbers("checks")
        .numbers("within");
    let mut outside = Vec::new();
    let groups = verified::groups();
    for group in &groups {
        let tone = if group.within == group.checks {
            Tone::Good
        } else {
            Tone::Bad
        };
        grid.row([
            Cell::from(group.name.as_str()),
            Cell::from(group.known.as_str()),
            Cell::from(group.checks.to_string()),
            Cell::new(group.within.to_string(), tone),
        ]);
        outside.extend(group.outside.iter().map(|miss| {
            format!(
                "{}: {} off, {} allowed. {}",
                miss.check, miss.difference, miss.tolerance, miss.why
            )
        }));
    }
    let checks: u32 = groups.iter().map(|group| group.checks).sum();
    let within: u32 = groups.iter().map(|group| group.within).sum();
    let mut blocks = vec![
        Block::Text(format!(
            "This version of the program was held against {checks} published or independently computed values; \
             {within} lie within their tolerance. Not this scenario, but the models it uses."
        )),
        Block::Table {
            caption: "Checks by group; each has its source in the program's verification table"
                .to_owned(),
            grid,
        },
    ];
    if !outside.is_empty() {
        blocks.push(Block::Text(
            "Outside their tolerance, each with its reason:".to_owned(),
        ));
        blocks.push(Block::List(outside));
    }
    Section {
        heading: "How the program was verified".to_owned(),
        blocks,
    }
}

fn as_run(case: &Case) -> Section {
    Section {
        heading: "The scenario as run".to_owned(),
        blocks: vec![Block::Preformatted(case.scenario.document().as_run())],
    }
}

fn again(facts: &RunFacts) -> Section {
    let mut kept = vec![
        format!("program version {}", env!("CARGO_PKG_VERSION")),
        format!("seed {}", facts.seed),
        format!("scenario SHA-256 {}", facts.scenario_sha256),
    ];
    kept.extend(
        facts
            .data
            .iter()
            .map(|(name, hash)| format!("{name}, SHA-256 {hash}")),
    );
    Section {
        heading: "How to run it again".to_owned(),
        blocks: vec![
            Block::Text(
                "In the folder of this page; the same version gives the same numbers on any machine:"
                    .to_owned(),
            ),
            Block::Preformatted(facts.command.clone()),
            Block::List(kept),
        ],
    }
}
