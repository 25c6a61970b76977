//! The page of a single pass.

use super::closing::closing;
use super::error::ReportError;
use super::figure::Figure;
use super::folder::RunFacts;
use super::grid::{Cell, Grid, Tone};
use super::heat_text;
use super::limit_words::{broken_words, hardest_level, value_text};
use super::page::{Block, Page, Section};
use super::pass_text;
use crate::ensemble::LimitKind;
use crate::study::Case;
use crate::study::single::SinglePass;

/// The page of a pass, with its figures.
///
/// # Errors
/// [`ReportError`] when a figure cannot be drawn.
pub(super) fn page(
    case: &Case,
    single: &SinglePass,
    figures: &[&dyn Figure],
    facts: &RunFacts,
) -> Result<Page, ReportError> {
    let drawn = figures.iter().map(|figure| Block::figure(*figure));
    let mut sections = vec![
        Section {
            heading: "The flight".to_owned(),
            blocks: drawn.collect::<Result<Vec<Block>, ReportError>>()?,
        },
        Section {
            heading: "In numbers".to_owned(),
            blocks: vec![Block::Preformatted(pass_text::table(single))],
        },
        heat(
            "Heat at the stagnation point",
            heat_text::convective_table(case, single),
            heat_text::convective_remarks(case, single),
        ),
    ];
    if !single.spots.is_empty() {
        let (table, remarks) = (
            heat_text::spots_table(single),
            heat_text::spot_remarks(single),
        );
        sections.push(heat("Heat of the spots", table, remarks));
    }
    sections.extend(limits(case, single));
    sections.extend(closing(case, facts));
    Ok(Page {
        title: case.scenario.title.clone(),
        lead: pass_text::answer(case, single),
        tone: Tone::Plain,
        sections,
    })
}

fn heat(heading: &str, grid: Grid, remarks: Vec<String>) -> Section {
    let table = Block::Table {
        caption: String::new(),
        grid,
    };
    let remarks = (!remarks.is_empty()).then_some(Block::List(remarks));
    Section {
        heading: heading.to_owned(),
        blocks: std::iter::once(table).chain(remarks).collect(),
    }
}

/// Which limits the pass holds and which it breaks.
fn limits(case: &Case, single: &SinglePass) -> Option<Section> {
    let set = case.problem.limits();
    let broken = set.broken(&single.flown.result, &single.numbers);
    let mut grid = Grid::new()
        .words("broken when")
        .words("allowed")
        .words("in this pass");
    let told = |kind| {
        let hardest = (kind == LimitKind::People)
            .then(|| hardest_level(case, &single.flown.result))
            .flatten();
        hardest.map_or_else(String::new, |hardest| format!(" (hardest: {hardest})"))
    };
    for (bit, limit) in set.entries().iter().enumerate() {
        grid.row([
            Cell::from(broken_words(case, limit.kind) + &told(limit.kind)),
            Cell::from(value_text(case, limit.kind, limit.allowed)),
            if broken >> bit & 1 == 1 {
                Cell::new("broken", Tone::Bad)
            } else {
                Cell::new("held", Tone::Good)
            },
        ]);
    }
    (!grid.is_empty()).then(|| Section {
        heading: "Limits".to_owned(),
        blocks: vec![Block::Table {
            caption: String::new(),
            grid,
        }],
    })
}
