//! `periband land`: what the ship reaches, how it has to approach, and how near it comes to a place.

use super::args::{Common, OutArgs, ScenarioArgs};
use super::exit::CliError;
use super::screen::Screen;
use super::watch::Watch;
use crate::report::landing_summary::landing_summary;
use crate::report::{ReportError, coverage_words, landing_files, landing_text, run_facts, unflown};
use crate::study::landing::{LandingError, find_landing};
use clap::Args;
use std::time::Instant;

#[derive(Debug, Args)]
pub(super) struct LandArgs {
    #[command(flatten)]
    scenario: ScenarioArgs,
    /// Flights, over the scenario's `ask.samples`
    #[arg(long, value_name = "N", value_parser = super::runs::samples)]
    samples: Option<u64>,
    /// Seed of the draws, over the scenario's `ask.seed`
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    #[command(flatten)]
    out: OutArgs,
}

pub(super) fn run(args: &LandArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let options = [("ask.samples", args.samples), ("ask.seed", args.seed)];
    let case = args.scenario.case(&options)?;
    run_facts::probe(&case, &args.out.out, "land").map_err(ReportError::from)?;
    let started = Instant::now();
    let file = || args.scenario.file.clone();
    let Some(landing) = &case.scenario.landing else {
        return Err(CliError::landing(&LandingError::NoSection, file()));
    };
    let watch = Watch::start(screen, case.scenario.ask.samples.saturating_mul(3));
    let result =
        find_landing(&case, watch.progress()).map_err(|error| CliError::landing(&error, file()))?;
    drop(watch);
    let found = (&result, landing);
    let summary = landing_summary(&case, found, started.elapsed().as_secs_f64());
    let folder = landing_files::write(&case, found, &summary, &args.out.out)?;
    screen.json(&summary);
    let tone = coverage_words::answer_tone(&case, result.inside(landing));
    screen.answer(&landing_text::answer(&case, found), tone);
    screen.say("");
    screen.say(landing_text::table(&Screen::terminal(), &case, &result).trim_end());
    screen.say(&format!("\nFiles: {}", folder.display()));
    let main = result.steered.as_ref().unwrap_or(&result.held);
    if main.is_undecided(&case.scenario.ask) {
        let words = unflown::undecided(&main.outcome.tally, result.aim_m);
        return Err(CliError::NoResult(words));
    }
    Ok(())
}
