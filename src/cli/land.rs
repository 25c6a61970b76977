//! `periband land`: what the ship reaches, how it has to approach, and how near it comes to a place.

use super::args::{Common, OutArgs, ScenarioArgs};
use super::exit::CliError;
use super::screen::Screen;
use super::study_run::{Answer, Kept, Place, run_study};
use super::watch::Watch;
use crate::report::grid::Tone;
use crate::report::landing_summary::{landing_summary, without_aim};
use crate::report::learn_text::capital;
use crate::report::{coverage_words, landing_files, landing_text, unflown};
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
    let file = || args.scenario.file.clone();
    let Some(landing) = &case.scenario.landing else {
        return Err(CliError::landing(&LandingError::NoSection, file()));
    };
    let place = Place::of(&case, &args.out.out, "land")?;
    run_study(&place, screen, || {
        let started = Instant::now();
        let watch = Watch::start(screen, case.scenario.ask.samples.saturating_mul(3));
        let found = find_landing(&case, watch.progress());
        drop(watch);
        let terminal = Screen::terminal();
        let (case, base) = (&case, &args.out.out);
        let result = match found {
            Ok(result) => result,
            // That nothing comes down under the limits is what was asked.
            Err(error @ LandingError::NoAim { .. }) => {
                let answer = capital(&format!("{error}."));
                return Ok(Answer {
                    summary: without_aim(case, &answer),
                    text: vec![terminal.answer(&answer, Tone::Bad)],
                    keep: Box::new(move |summary| {
                        Ok(Kept::files(&landing_files::without_aim(
                            case, summary, base,
                        )?))
                    }),
                    end: Ok(()),
                });
            }
            Err(error) => return Err(CliError::landing(&error, file())),
        };
        let found = (&result, landing);
        let tone = coverage_words::answer_tone(case, result.inside(landing));
        let main = result.steered.as_ref().unwrap_or(&result.held);
        let end = if main.is_undecided(&case.scenario.ask) {
            let words = unflown::undecided(&main.outcome.tally, result.aim_m);
            Err(CliError::NoResult(words))
        } else {
            Ok(())
        };
        Ok(Answer {
            summary: landing_summary(case, found, started.elapsed().as_secs_f64()),
            text: vec![
                terminal.answer(&landing_text::answer(case, found), tone),
                String::new(),
                landing_text::table(&terminal, case, &result),
            ],
            keep: Box::new(move |summary| {
                let folder = landing_files::write(case, (&result, landing), summary, base)?;
                Ok(Kept::files(&folder))
            }),
            end,
        })
    })
}
