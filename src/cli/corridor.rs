//! `periband corridor`: between which aims the ship can be flown at all.

use super::args::{Common, CorridorArgs};
use super::exit::CliError;
use super::screen::Screen;
use super::study_run::{Answer, Kept, Place, run_study};
use super::watch::Watch;
use crate::report::{corridor_files, corridor_summary, corridor_text};
use crate::study::corridor::find_corridor;
use std::time::Instant;

/// A guess of the passes flown, for the progress bar.
const PASSES: u64 = 40_000;

pub(super) fn run(args: &CorridorArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let case = args.scenario.case(&[])?;
    let place = Place::of(&case, &args.out.out, "corridor")?;
    run_study(&place, screen, || {
        let started = Instant::now();
        let watch = Watch::start(screen, PASSES);
        let found = find_corridor(&case, watch.progress());
        drop(watch);
        let result =
            found.map_err(|error| CliError::corridor(error, args.scenario.file.clone()))?;
        let summary = corridor_summary::summary(&case, &result, started.elapsed().as_secs_f64());
        let terminal = Screen::terminal();
        let tone = corridor_files::tone(&case, &result);
        let answer = terminal.answer(&corridor_text::answer(&case, &result), tone);
        let tables = corridor_text::tables(&terminal, &case, &result);
        let end = if result.undecided() {
            Err(CliError::NoResult(
                "not shown: flights without a result alone set an edge of the corridor".to_owned(),
            ))
        } else {
            Ok(())
        };
        let (case, base) = (&case, &args.out.out);
        Ok(Answer {
            summary,
            text: vec![answer, String::new(), tables],
            keep: Box::new(move |summary| {
                let folder = corridor_files::write(case, &result, summary, base)?;
                let failed = (result.failed > 0).then(|| {
                    format!(
                        "{} flights have no result: they hold no aim, and break no limit",
                        result.failed
                    )
                });
                Ok(Kept {
                    remark: failed,
                    ..Kept::files(&folder)
                })
            }),
            end,
        })
    })
}
