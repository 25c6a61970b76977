//! `periband corridor`: between which aims the ship can be flown at all.

use super::args::{Common, CorridorArgs};
use super::exit::CliError;
use super::screen::Screen;
use super::watch::Watch;
use crate::report::{ReportError, corridor_files, corridor_summary, corridor_text, run_facts};
use crate::study::corridor::find_corridor;
use std::time::Instant;

/// A guess of the passes flown, for the progress bar.
const PASSES: u64 = 40_000;

pub(super) fn run(args: &CorridorArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let case = args.scenario.case(&[])?;
    run_facts::probe(&case, &args.out.out, "corridor").map_err(ReportError::from)?;
    let started = Instant::now();
    let watch = Watch::start(screen, PASSES);
    let found = find_corridor(&case, watch.progress());
    drop(watch);
    let result = found.map_err(|error| CliError::corridor(error, args.scenario.file.clone()))?;
    let summary = corridor_summary::summary(&case, &result, started.elapsed().as_secs_f64());
    let folder = corridor_files::write(&case, &result, &summary, &args.out.out)?;
    screen.json(&summary);
    let tone = corridor_files::tone(&case, &result);
    screen.answer(&corridor_text::answer(&case, &result), tone);
    screen.say("");
    let tables = corridor_text::tables(&Screen::terminal(), &case, &result);
    screen.say(tables.trim_end());
    screen.say(&format!("\nFiles: {}", folder.display()));
    if result.failed > 0 {
        screen.remark(&format!(
            "{} flights have no result: they hold no aim, and break no limit",
            result.failed
        ));
    }
    if result.undecided() {
        return Err(CliError::NoResult(
            "not shown: flights without a result alone set an edge of the corridor".to_owned(),
        ));
    }
    Ok(())
}
