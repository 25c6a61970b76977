//! `periband capture`: air, propellant, or both.

use super::args::{CaptureArgs, Common};
use super::exit::CliError;
use super::screen::Screen;
use super::watch::Watch;
use crate::report::capture_words::row_name;
use crate::report::{ReportError, capture_files, capture_summary, capture_text, run_facts};
use crate::study::capture::{CaptureError, compare};
use std::time::Instant;

/// A guess of the aims flown for a comparison, for the progress bar.
const AIMS: u64 = 150;

pub(super) fn run(args: &CaptureArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let options = [("ask.samples", args.samples), ("ask.seed", args.seed)];
    let case = args.scenario.case(&options)?;
    run_facts::probe(&case, &args.out.out, "capture").map_err(ReportError::from)?;
    let started = Instant::now();
    let watch = Watch::start(screen, case.scenario.ask.samples.saturating_mul(AIMS));
    let compared = compare(&case, watch.progress());
    drop(watch);
    let comparison = match compared {
        Ok(comparison) => comparison,
        Err(CaptureError::Stopped { kept }) => {
            let partial = capture_summary::partial(&case, &kept);
            screen.json(&partial);
            let folder = capture_files::keep(&case, &args.out.out, &partial)?;
            screen.remark(&format!("Kept: {}", folder.display()));
            let error = CaptureError::Stopped { kept };
            return Err(CliError::capture(error, args.scenario.file.clone()));
        }
        Err(error) => return Err(CliError::capture(error, args.scenario.file.clone())),
    };
    let summary = capture_summary::summary(&case, &comparison, started.elapsed().as_secs_f64());
    let folder = capture_files::write(&case, &comparison, &summary, &args.out.out);
    screen.json(&summary);
    let terminal = Screen::terminal();
    let answer = capture_text::answer(&case, &comparison);
    screen.say(terminal.paragraph(&answer, 0).trim_end());
    screen.say("");
    screen.say(capture_text::tables(&terminal, &case, &comparison).trim_end());
    screen.say(&format!("\nFiles: {}", folder?.display()));
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
