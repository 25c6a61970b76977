//! What a study answers, in parts that every medium shows in its own way: the terminal below its lead, a page, and the
//! files of a folder. A study says its answer once; what a part looks like is decided here.

use super::error::ReportError;
use super::figure::Figure;
use super::folder::{RunFacts, RunFolder};
use super::grid::{Grid, Tone};
use super::page::{Block, Page, Section};
use super::text::Terminal;
use serde_json::Value;
use std::path::PathBuf;

/// An answer.
pub struct Answer {
    /// Title of the page.
    pub title: String,
    /// The answer in a few sentences.
    pub lead: String,
    /// How it is to be understood.
    pub tone: Tone,
    /// What stands below it, in order.
    pub parts: Vec<Part>,
    /// The same for programs.
    pub summary: Value,
}

/// A part of an answer.
pub enum Part {
    /// A table, everywhere.
    Table(&'static str, Grid),
    /// Sentences below each other, everywhere.
    Remarks(&'static str, Vec<String>),
    /// A list on the page alone.
    Notes(&'static str, Vec<String>),
    /// A figure by the name of its files, on the page and in the folder.
    Figure(String, Box<dyn Figure>),
}

/// Columns of a terminal that a column of a wide table takes at least.
const NARROW: usize = 13;

impl Answer {
    /// All that a terminal shows below the lead.
    #[must_use]
    pub fn text(&self, terminal: Terminal) -> String {
        let part = |part: &Part| match part {
            Part::Table(_, grid) if grid.is_empty() => None,
            Part::Table(_, grid) => {
                let folded = folded(grid, (terminal.width / NARROW).max(3));
                let shown: Vec<String> = folded.iter().map(|grid| terminal.table(grid)).collect();
                Some(shown.join("\n"))
            }
            Part::Remarks(_, all) if !all.is_empty() => {
                Some(all.iter().map(|text| terminal.paragraph(text, 0)).collect())
            }
            Part::Remarks(..) | Part::Notes(..) | Part::Figure(..) => None,
        };
        let parts: Vec<String> = self.parts.iter().filter_map(part).collect();
        parts.join("\n")
    }

    /// Writes summary, figures, page and manifest into a folder, and gives its path.
    ///
    /// # Errors
    /// [`ReportError`] when a file cannot be written or a figure not drawn.
    pub fn write(&self, mut folder: RunFolder, facts: &RunFacts) -> Result<PathBuf, ReportError> {
        folder.write_json("summary.json", &self.summary)?;
        let mut sections: Vec<Section> = Vec::new();
        for part in &self.parts {
            let (heading, block) = match part {
                Part::Table(_, grid) if grid.is_empty() => continue,
                Part::Table(heading, grid) => {
                    let caption = String::new();
                    let grid = grid.clone();
                    (*heading, Block::Table { caption, grid })
                }
                Part::Remarks(_, all) | Part::Notes(_, all) if all.is_empty() => continue,
                Part::Remarks(heading, all) | Part::Notes(heading, all) => {
                    (*heading, Block::List(all.clone()))
                }
                Part::Figure(name, figure) => {
                    folder.write_figure(name, figure.as_ref())?;
                    ("", Block::figure(figure.as_ref())?)
                }
            };
            match sections.last_mut() {
                Some(last) if heading.is_empty() => last.blocks.push(block),
                _ => sections.push(Section {
                    heading: heading.to_owned(),
                    blocks: vec![block],
                }),
            }
        }
        sections.push(Section {
            heading: "How to run it again".to_owned(),
            blocks: vec![Block::Preformatted(facts.command.clone())],
        });
        folder.write_page(&Page {
            title: self.title.clone(),
            lead: self.lead.clone(),
            tone: self.tone,
            sections,
        })?;
        Ok(folder.finish(facts)?)
    }
}

/// A table in as many as it takes for none to have more columns than `most`; each begins with the first two.
fn folded(grid: &Grid, most: usize) -> Vec<Grid> {
    if grid.columns.len() <= most {
        return vec![grid.clone()];
    }
    let rest: Vec<usize> = (2..grid.columns.len()).collect();
    let part = |group: &[usize]| {
        let kept: Vec<usize> = [0, 1].iter().chain(group).copied().collect();
        let cells = |row: &Vec<_>| kept.iter().filter_map(|&i| row.get(i).cloned()).collect();
        Grid {
            columns: kept.iter().map(|&i| grid.columns[i].clone()).collect(),
            rows: grid.rows.iter().map(cells).collect(),
        }
    };
    rest.chunks(most - 2).map(part).collect()
}
