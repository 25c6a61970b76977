//! The files of a band study: summary, rows, figures, page, scenario as run, manifest.

use super::band_page::{self, BandFigures};
use super::error::ReportError;
use super::folder::{RunFacts, RunFolder};
use super::rows::SampleRows;
use super::run_facts::facts;
use crate::ensemble::engine::FlownSample;
use crate::ensemble::{Fleet, Progress, Stopped};
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

/// Name of the file of the rows.
const ROWS: &str = "samples.parquet";
/// Most severities kept on a page for limits that can be moved: about 400 kB of text.
const LIVE_VALUES: usize = 200_000;
/// Passes of the study to one flown for them, at least.
const LIVE_SHARE: u64 = 6;

/// The run folder of a band study, being filled. What cannot be written is told at the end: the study goes on without.
pub struct Files {
    folder: Result<(RunFolder, RunFacts), ReportError>,
    /// The first thing that went wrong with the rows.
    rows: Result<(), ReportError>,
    live: Option<Live>,
}

impl Files {
    /// Makes the folder under `base` and keeps the scenario as run in it.
    #[must_use]
    pub fn create(case: &Case, base: &Path) -> Self {
        Self {
            folder: facts(case, base, ("band", "")),
            rows: Ok(()),
            live: None,
        }
    }

    /// Starts the rows at these aims.
    fn start_rows<'c>(
        &mut self,
        case: &'c Case,
        (aims, draws): (&[f64], bool),
    ) -> Result<Option<SampleRows<'c>>, ReportError> {
        let Ok((folder, facts)) = &self.folder else {
            return Ok(None);
        };
        let notes = [
            ("scenario_sha256".to_owned(), facts.scenario_sha256.clone()),
            ("seed".to_owned(), facts.seed.to_string()),
            (
                "program".to_owned(),
                concat!("periband ", env!("CARGO_PKG_VERSION")).to_owned(),
            ),
        ];
        let rows = SampleRows::create(&folder.file(ROWS), case, aims, &notes)?;
        Ok(Some(if draws { rows.with_draws(case) } else { rows }))
    }

    /// Flies the samples that tell of the recommended aim (and those of the search at every aim, where their rows are
    /// wanted), writes the rows, and gives what the former did.
    ///
    /// # Errors
    /// [`Stopped`] when the run was cancelled.
    pub fn fly_rows(
        &mut self,
        case: &Case,
        result: &BandResult,
        (wanted, progress): (RowsWanted, &Progress),
    ) -> Result<Outcome, Stopped> {
        let fleet = Fleet::new(&case.problem, progress);
        // The recommended aim once more at the end, for the samples that tell of it.
        let mut aims: Vec<f64> = match wanted.of {
            RowChoice::All => result.points.iter().map(|point| point.aim_m).collect(),
            RowChoice::Recommended | RowChoice::None => Vec::new(),
        };
        aims.push(result.recommended.aim_m);
        let started = match wanted.of {
            RowChoice::None => Ok(None),
            RowChoice::Recommended | RowChoice::All => self.start_rows(case, (&aims, wanted.draws)),
        };
        let mut rows = started.unwrap_or_else(|error| {
            self.rows = Err(error);
            None
        });
        aims.pop();
        if let Some(rows) = rows.as_mut().filter(|_| !aims.is_empty()) {
            fleet.fly(&aims, 0..result.samples, |flown| rows.take(flown))?;
        }
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
        if let (Some(rows), Ok((folder, _))) = (rows, &mut self.folder) {
            self.rows = rows.finish().and_then(|()| Ok(folder.note(ROWS)?));
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
    pub fn keep(self, partial: &Value) -> Result<PathBuf, ReportError> {
        let (mut folder, facts) = self.folder?;
        folder.write_json("partial.json", partial)?;
        Ok(folder.finish(&facts)?)
    }

    /// Writes everything else and gives the folder's path.
    ///
    /// # Errors
    /// [`ReportError`] when a figure cannot be drawn or a file not written.
    pub fn finish(
        self,
        case: &Case,
        (result, outcome, held): (&BandResult, &Outcome, Option<&Held>),
        summary: &Value,
    ) -> Result<PathBuf, ReportError> {
        let (mut folder, facts) = self.folder?;
        folder.write_json("summary.json", summary)?;
        let figures = BandFigures::draw(case, (result, outcome, held));
        for (name, figure) in figures.named() {
            folder.write_figure(name, figure)?;
        }
        let live = self.live.as_ref();
        let page = band_page::page(case, (result, outcome, held), (&figures, live, &facts))?;
        folder.write_page(&page)?;
        // Everything else is there; without the rows it is not the whole run.
        self.rows?;
        Ok(folder.finish(&facts)?)
    }
}
