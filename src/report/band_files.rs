//! The files of a band study: summary, rows, figures, page, scenario as run, manifest.

use super::band_figures::{break_curves, distribution, ribbons};
use super::band_text;
use super::closing::closing;
use super::error::ReportError;
use super::figure::Figure;
use super::folder::{RunFacts, RunFolder};
use super::grid::{Grid, Tone};
use super::limit_words::{broken_words, value_text};
use super::number::percent;
use super::page::{Block, Page, Section};
use super::rows::SampleRows;
use super::run_facts::facts;
use crate::ensemble::interval::Interval;
use crate::ensemble::{Fleet, LimitKind, Progress};
use crate::study::Case;
use crate::study::band::BandResult;
use crate::study::outcome::{Outcome, Quantity, deceleration_ribbons, describe_aim};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Which flown samples become rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RowChoice {
    /// Those of the recommended aim.
    Recommended,
    /// Those of every aim flown.
    All,
    /// None.
    None,
}

/// Flights behind the ribbons.
const RIBBON_FLIGHTS: u64 = 400;

/// The run folder of a band study, being filled.
pub struct Files {
    folder: RunFolder,
    facts: RunFacts,
}

impl Files {
    /// Makes the folder under `base` and keeps the scenario as run in it.
    ///
    /// # Errors
    /// [`ReportError`] when the folder cannot be made or written.
    pub fn create(case: &Case, base: &Path) -> Result<Self, ReportError> {
        let (folder, facts) = facts(case, base, ("band", ""))?;
        Ok(Self { folder, facts })
    }

    /// Flies the samples of the recommended aim (and of all others, where their rows are wanted),
    /// writes the rows, and gives what the recommended aim's samples did.
    ///
    /// # Errors
    /// [`ReportError`] when the rows cannot be written; [`ReportError::Stopped`] when the run was cancelled.
    pub fn fly_rows(
        &mut self,
        case: &Case,
        result: &BandResult,
        (choice, progress): (RowChoice, &Progress),
    ) -> Result<Outcome, ReportError> {
        let fleet = Fleet::new(&case.problem, progress);
        let name = "samples.parquet";
        let notes = [
            (
                "scenario_sha256".to_owned(),
                self.facts.scenario_sha256.clone(),
            ),
            ("seed".to_owned(), self.facts.seed.to_string()),
            (
                "program".to_owned(),
                concat!("periband ", env!("CARGO_PKG_VERSION")).to_owned(),
            ),
        ];
        let start = |aims: &[f64]| SampleRows::create(&self.folder.file(name), case, aims, &notes);
        let mut rows = match choice {
            RowChoice::None => None,
            RowChoice::Recommended => Some(start(&[result.recommended_m])?),
            RowChoice::All => {
                let aims: Vec<f64> = result.points.iter().map(|point| point.aim_m).collect();
                let mut rows = start(&aims)?;
                fleet.fly(&aims, 0..result.samples, |flown| rows.take(flown))?;
                rows.finish()?;
                self.folder.note(name)?;
                None
            }
        };
        let (aim, confidence) = (
            (result.recommended_m, result.samples),
            case.scenario.ask.confidence,
        );
        let outcome = describe_aim(&fleet, aim, confidence, |flown| {
            if let Some(rows) = &mut rows {
                rows.take(flown);
            }
        })?;
        if let Some(rows) = rows {
            rows.finish()?;
            self.folder.note(name)?;
        }
        Ok(outcome)
    }

    /// Keeps what a stopped run had done, as `partial.json`, and gives the folder's path.
    ///
    /// # Errors
    /// [`ReportError`] when the file cannot be written.
    pub fn keep(mut self, partial: &Value) -> Result<PathBuf, ReportError> {
        self.folder.write_json("partial.json", partial)?;
        Ok(self.folder.finish(&self.facts)?)
    }

    /// Writes everything else and gives the folder's path.
    ///
    /// # Errors
    /// [`ReportError`] when a figure cannot be drawn or a file not written.
    pub fn finish(
        mut self,
        case: &Case,
        (result, outcome): (&BandResult, &Outcome),
        summary: &Value,
    ) -> Result<PathBuf, ReportError> {
        self.folder.write_json("summary.json", summary)?;
        let count = RIBBON_FLIGHTS.min(result.samples);
        let flown = deceleration_ribbons(&case.problem, result.recommended_m, count);
        let deceleration = (Quantity::PeakDeceleration, LimitKind::PeakDeceleration);
        let heat_flux = (Quantity::PeakHeatFlux, LimitKind::HeatFlux);
        let heat_load = (Quantity::HeatLoad, LimitKind::HeatLoad);
        let hist = |(quantity, kind)| distribution(case, outcome, quantity, kind);
        let figures: [(&str, &str, Box<dyn Figure>); 5] = [
            (
                "break_probability",
                "Which aims are safe",
                Box::new(break_curves(case, result)),
            ),
            (
                "peak_deceleration",
                "What the people feel",
                Box::new(hist(deceleration)),
            ),
            (
                "deceleration_over_time",
                "",
                Box::new(ribbons(case, result.recommended_m, &flown)),
            ),
            (
                "peak_heat_flux",
                "What the skin takes",
                Box::new(hist(heat_flux)),
            ),
            ("heat_load", "", Box::new(hist(heat_load))),
        ];
        let mut sections: Vec<Section> = vec![key_numbers(case, outcome)];
        for (name, heading, figure) in &figures {
            self.folder.write_figure(name, figure.as_ref())?;
            let block = Block::figure(figure.as_ref())?;
            match sections.last_mut() {
                Some(last) if heading.is_empty() => last.blocks.push(block),
                _ => sections.push(Section {
                    heading: (*heading).to_owned(),
                    blocks: vec![block],
                }),
            }
        }
        sections.extend([limits_section(case, outcome)]);
        sections.extend(closing(case, &self.facts));
        let page = Page {
            title: case.scenario.title.clone(),
            lead: band_text::answer(case, result),
            tone: if result.band.is_ok() {
                Tone::Good
            } else {
                Tone::Bad
            },
            sections,
        };
        self.folder.write_page(&page)?;
        Ok(self.folder.finish(&self.facts)?)
    }
}

fn key_numbers(case: &Case, outcome: &Outcome) -> Section {
    Section {
        heading: format!("At {:.2} km", outcome.aim_m / 1e3),
        blocks: vec![Block::Table {
            caption: format!("{} samples", outcome.tally.samples),
            grid: band_text::quantities(case, outcome),
        }],
    }
}

fn limits_section(case: &Case, outcome: &Outcome) -> Section {
    let mut grid = Grid::new()
        .words("broken when")
        .words("allowed")
        .numbers("broken")
        .numbers("chance")
        .numbers("at most");
    for (limit, &broken) in case
        .problem
        .limits()
        .entries()
        .iter()
        .zip(&outcome.tally.broken)
    {
        let interval =
            Interval::clopper_pearson(broken, outcome.tally.samples, case.scenario.ask.confidence);
        let (chance, most) = interval.map_or((f64::NAN, f64::NAN), |i| (i.estimate, i.upper));
        grid.row([
            broken_words(case, limit.kind),
            value_text(case, limit.kind, limit.allowed),
            broken.to_string(),
            percent(chance),
            percent(most),
        ]);
    }
    Section {
        heading: "Limits at the recommended aim".to_owned(),
        blocks: vec![Block::Table {
            caption: format!("with {} confidence", percent(case.scenario.ask.confidence)),
            grid,
        }],
    }
}
