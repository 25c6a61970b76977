//! `periband capture`: air, propellant, or both.

use super::args::{CaptureArgs, Common};
use super::exit::CliError;
use super::screen::Screen;
use super::study_run::{Answer, Kept, Place, run_study};
use super::watch::Watch;
use crate::report::capture_words::row_name;
use crate::report::{capture_files, capture_summary, capture_text};
use crate::study::capture::{CaptureError, Comparison, compare};
use std::time::Instant;

/// A guess of the aims flown for a comparison, for the progress bar.
const AIMS: u64 = 150;

pub(super) fn run(args: &CaptureArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let options = [("ask.samples", args.samples), ("ask.seed", args.seed)];
    let case = args.scenario.case(&options)?;
    let place = Place::of(&case, &args.out.out, "capture")?;
    run_study(&place, screen, || {
        let started = Instant::now();
        let watch = Watch::start(screen, case.scenario.ask.samples.saturating_mul(AIMS));
        let compared = compare(&case, watch.progress());
        drop(watch);
        let (case, base) = (&case, &args.out.out);
        let file = args.scenario.file.clone();
        let comparison = match compared {
            Ok(comparison) => comparison,
            Err(CaptureError::Stopped { kept }) => {
                return Ok(Answer {
                    summary: capture_summary::partial(case, &kept),
                    text: Vec::new(),
                    keep: Box::new(move |partial| {
                        Ok(Kept::partly(&capture_files::keep(case, base, partial)?))
                    }),
                    end: Err(CliError::capture(CaptureError::Stopped { kept }, file)),
                });
            }
            Err(error) => return Err(CliError::capture(error, file)),
        };
        let terminal = Screen::terminal();
        let answer = capture_text::answer(case, &comparison);
        Ok(Answer {
            summary: capture_summary::summary(case, &comparison, started.elapsed().as_secs_f64()),
            text: vec![
                terminal.paragraph(&answer, 0),
                String::new(),
                capture_text::tables(&terminal, case, &comparison),
            ],
            end: decided(&comparison),
            keep: Box::new(move |summary| {
                let folder = capture_files::write(case, &comparison, summary, base)?;
                Ok(Kept::files(&folder))
            }),
        })
    })
}

/// The error of verdicts that samples without a result alone decide.
fn decided(comparison: &Comparison) -> Result<(), CliError> {
    let undecided = comparison.rows.iter().filter_map(|row| {
        let costs = row.costs.as_ref().ok().filter(|costs| costs.undecided)?;
        Some(format!(
            "{} ({} of {} samples)",
            row_name(row),
            costs.unflown,
            costs.samples
        ))
    });
    let undecided: Vec<String> = undecided.collect();
    if undecided.is_empty() {
        return Ok(());
    }
    Err(CliError::NoResult(format!(
        "not shown: samples without a result alone decide whether it holds: {}",
        undecided.join("; ")
    )))
}
