//! `periband compare`: finished runs side by side.

use super::args::OutArgs;
use super::exit::CliError;
use super::screen::Screen;
use super::study_run::{Answer, Kept, Place, run_study};
use crate::report::ReportError;
use crate::report::compare::Comparison;
use crate::report::finished::FinishedError;
use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(super) struct CompareArgs {
    /// Folders of finished runs of `band`, `run` or `merge`; differences are against the first
    #[arg(value_name = "RUN", num_args = 2..=26, required = true)]
    runs: Vec<PathBuf>,
    #[command(flatten)]
    out: OutArgs,
}

pub(super) fn run(args: &CompareArgs, screen: Screen) -> Result<(), CliError> {
    let refused = |error: FinishedError| {
        if error.is_other {
            CliError::Usage(error.to_string())
        } else {
            ReportError::from(error).into()
        }
    };
    let comparison = Comparison::of(&args.runs).map_err(refused)?;
    let place = Place {
        at_once: true,
        ..Place::at(comparison.folder(&args.out.out))
    };
    let (comparison, base) = (&comparison, &args.out.out);
    run_study(&place, screen, || {
        let answer = comparison.answer();
        let terminal = Screen::terminal();
        let lead = terminal.answer(&answer.lead, answer.tone);
        Ok(Answer {
            summary: answer.summary.clone(),
            text: vec![lead, String::new(), answer.text(terminal)],
            keep: Box::new(move |_| Ok(Kept::files(&comparison.write(&answer, base)?))),
            end: Ok(()),
        })
    })
}
