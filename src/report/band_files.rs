//! The files of a band study: summary, rows, figures, page, scenario as run, manifest.

use super::band_page::{self, BandFigures};
use super::error::ReportError;
use super::folder::{RunFacts, RunFolder};
use super::partial;
use super::rows::SampleRows;
use super::run_facts::facts;
use crate::ensemble::engine::FlownSample;
use crate::ensemble::{Fleet, Progress};
use crate::study::Case;
use crate::study::band::BandResult;
use crate::study::held::Held;
use crate::study::live::{Live, Look};
use crate::study::outcome::{Outcome, describe_aim};
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

/// What rows a run writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RowsWanted {
    /// Of which samples.
    pub of: RowChoice,
    /// Whether what was drawn stands beside what was flown.
    pub draws: bool,
}

/// Most severities kept on a page for limits that can be moved: about 400 kB of text.
const LIVE_VALUES: usize = 200_000;
/// Passes of the study to one flown for them, at least.
const LIVE_SHARE: u64 = 6;

/// The run folder of a band study, being filled.
pub struct Files {
    folder: RunFolder,
    facts: RunFacts,
    live: Option<Live>,
}

impl Files {
    /// Makes the folder under `base` and keeps the scenario as run in it.
    ///
    /// # Errors
    /// [`ReportError`] when the folder cannot be made or written.
    pub fn create(case: &Case, base: &Path) -> Result<Self, ReportError> {
        let (folder, facts) = facts(case, base, ("band", ""))?;
        Ok(Self {
            folder,
            facts,
            live: None,
        })
    }

    /// Flies the samples that tell of the recommended aim (and those of the search at every aim, where their rows are
    /// wanted), writes the rows, and gives what the former did.
    ///
    /// # Errors
    /// [`ReportError`] when the rows cannot be written; [`ReportError::Stopped`] when the run was cancelled.
    pub fn fly_rows(
        &mut self,
        case: &Case,
        result: &BandResult,
        (wanted, progress): (RowsWanted, &Progress),
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
        let start = |aims: &[f64]| {
            let rows = SampleRows::create(&self.folder.file(name), case, aims, &notes)?;
            Ok::<_, ReportError>(if wanted.draws {
                rows.with_draws(case)
            } else {
                rows
            })
        };
        let mut rows = match wanted.of {
            RowChoice::None => None,
            RowChoice::Recommended => Some(start(&[result.recommended.aim_m])?),
            RowChoice::All => {
                // The recommended aim once more at the end, for the samples that tell of it.
                let mut aims: Vec<f64> = result.points.iter().map(|point| point.aim_m).collect();
                aims.push(result.recommended.aim_m);
                let mut rows = start(&aims)?;
                aims.pop();
                fleet.fly(&aims, 0..result.samples, |flown| rows.take(flown))?;
                Some(rows)
            }
        };
        // Where nothing is uncertain the one sample of the search tells of the aim, and is there already.
        let again = wanted.of == RowChoice::All && result.told_by.start == 0;
        let place = match wanted.of {
            RowChoice::All => result.points.len(),
            RowChoice::Recommended | RowChoice::None => 0,
        };
        let told = (result.recommended.aim_m, result.told_by.clone());
        let confidence = case.scenario.ask.confidence;
        let outcome = describe_aim(&fleet, told, confidence, |flown| {
            if let Some(rows) = rows.as_mut().filter(|_| !again) {
                rows.take(&FlownSample {
                    aim: place,
                    ..*flown
                });
            }
        })?;
        if let Some(rows) = rows {
            rows.finish()?;
            self.folder.note(name)?;
        }
        // A run that is stopped here has its answer already; its page stays without limits to move.
        let most = (
            LIVE_VALUES,
            usize::try_from(result.passes_flown / LIVE_SHARE).unwrap_or(usize::MAX),
        );
        // Just beyond the edges those that break a limit are more than may: they are all to be kept.
        let edges = result.band.as_ref().map_or_else(
            |_| Vec::new(),
            |band| {
                let range = case.problem.aim();
                let low = band.low.aim_m - band.low.uncertainty_m;
                let high = band.high.aim_m + band.high.uncertainty_m;
                vec![low.max(range.from_m), high.min(range.to_m)]
            },
        );
        let about = (result.recommended.aim_m, edges.as_slice(), result.samples);
        // Accidents that no sample meets cannot be counted on the page either. The page moves the band, and so looks
        // at the samples that it was found by.
        if !result.rare {
            let mut look = Look::new(&case.problem);
            let looked = fleet.fly(&[result.recommended.aim_m], 0..result.samples, |flown| {
                look.take(&case.problem, flown);
            });
            let live = looked.and_then(|()| Live::gather(&fleet, look, about, most));
            self.live = live.ok();
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
        (result, outcome, held): (&BandResult, &Outcome, Option<&Held>),
        summary: &Value,
    ) -> Result<PathBuf, ReportError> {
        self.folder.write_json("summary.json", summary)?;
        let figures = BandFigures::draw(case, (result, outcome, held));
        for (name, figure) in figures.named() {
            self.folder.write_figure(name, figure)?;
        }
        let live = self.live.as_ref();
        let page = band_page::page(case, (result, outcome, held), (&figures, live, &self.facts))?;
        self.folder.write_page(&page)?;
        let path = self.folder.finish(&self.facts)?;
        partial::tidy(&path, "");
        Ok(path)
    }
}
