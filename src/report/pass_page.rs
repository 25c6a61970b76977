//! The page of a single pass.

use super::closing::closing;
use super::coverage_words;
use super::error::ReportError;
use super::figure::Figure;
use super::folder::RunFacts;
use super::grid::{Cell, Grid, Tone};
use super::heat_text;
use super::limit_words::{broken_words, hardest_level, is_of_the_curve, value_text};
use super::page::{Block, Page, Section};
use super::pass_text;
use crate::study::Case;
use crate::study::single::SinglePass;
use crate::study::verdicts::Verdicts;

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
    let verdicts = Verdicts::of_pass(&case.problem, single);
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
            heat_text::spots_table((single, &verdicts)),
            heat_text::spot_remarks(single),
        );
        sections.push(heat("Heat of the spots", table, remarks));
    }
    sections.extend(limits(case, (single, &verdicts)));
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

/// What each limit came to in the pass, and what is not covered.
fn limits(case: &Case, (single, verdicts): (&SinglePass, &Verdicts)) -> Option<Section> {
    let result = &single.flown.result;
    let mut grid = Grid::new()
        .words("broken when")
        .words("allowed")
        .words("in this pass");
    let told = |kind| {
        let hardest = is_of_the_curve(kind)
            .then(|| hardest_level(case, result))
            .flatten();
        hardest.map_or_else(String::new, |hardest| format!(" (hardest: {hardest})"))
    };
    for limit in case.problem.limits().entries() {
        let found = verdicts.of(limit.kind)?;
        grid.row([
            Cell::from(broken_words(case, limit.kind) + &told(limit.kind)),
            Cell::from(value_text(limit.kind, limit.allowed)),
            coverage_words::cell(found.verdict),
        ]);
    }
    let table = Block::Table {
        caption: format!("all together: {}", verdicts.all.words()),
        grid,
    };
    let remark = coverage_words::remark(case, verdicts).map(Block::Text);
    (!verdicts.limits.is_empty()).then(|| Section {
        heading: "Limits".to_owned(),
        blocks: std::iter::once(table).chain(remark).collect(),
    })
}
