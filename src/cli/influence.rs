//! `periband influence`: which uncertain quantity matters, and what it would be worth to know it better.

use super::args::{Common, OutArgs, ScenarioArgs};
use super::exit::CliError;
use super::screen::Screen;
use super::study_run::{Answer, Kept, Place, run_study};
use super::watch::Watch;
use crate::ensemble::sobol::FEWEST_ROWS;
use crate::numeric::units::{Dimension, parse_quantity};
use crate::report::grid::Tone;
use crate::report::influence_summary::influence_summary;
use crate::report::{influence_files, influence_text};
use crate::study::influence::{HALVED, InfluenceAsk, ROWS, band_samples, find_influence};
use clap::Args;
use std::time::Instant;

#[derive(Debug, Args)]
pub(super) struct InfluenceArgs {
    #[command(flatten)]
    scenario: ScenarioArgs,
    /// Aim to look at, as in 51km (default: the recommended one)
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    periapsis: Option<String>,
    /// Rows of the design; each is flown once for every uncertain quantity and twice more
    #[arg(long, value_name = "N", default_value_t = ROWS,
          value_parser = clap::value_parser!(u64).range(FEWEST_ROWS..=10_000_000))]
    rows: u64,
    /// How many of the most influential quantities to halve
    #[arg(long, value_name = "N", default_value_t = HALVED)]
    halve: usize,
    /// Samples at each aim of the bands compared (default: `ask.samples`, but 20000 at most)
    #[arg(long, value_name = "N", value_parser = super::runs::samples)]
    samples: Option<u64>,
    /// Seed of the draws, over the scenario's `ask.seed`
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    #[command(flatten)]
    out: OutArgs,
}

pub(super) fn run(args: &InfluenceArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let aim_m = match &args.periapsis {
        Some(text) => Some(
            parse_quantity(text, Dimension::Length)
                .map_err(|error| CliError::Usage(format!("--periapsis: {error}")))?,
        ),
        None => None,
    };
    let case = args.scenario.case(&[("ask.seed", args.seed)])?;
    let asked = InfluenceAsk {
        aim_m,
        rows: args.rows,
        band_samples: args.samples,
        halved: args.halve,
    };
    let sources = case.problem.sources().len() as u64;
    // A band takes about as many passes as every sample at six aims; a broken limit is looked for in eight
    // samples a row.
    let samples = band_samples(&case.scenario.ask, args.samples);
    let bands = samples.saturating_mul(6 * (args.halve as u64 + 1));
    let expected = args.rows.saturating_mul(sources + 10).saturating_add(bands);
    let place = Place::of(&case, &args.out.out, "influence")?;
    run_study(&place, screen, || {
        let started = Instant::now();
        let watch = Watch::start(screen, expected);
        let found = find_influence(&case, &asked, watch.progress())
            .map_err(|error| CliError::influence(&error, args.scenario.file.clone()))?;
        drop(watch);
        let terminal = Screen::terminal();
        let (case, base) = (&case, &args.out.out);
        Ok(Answer {
            summary: influence_summary(case, &found, started.elapsed().as_secs_f64()),
            text: vec![
                terminal.answer(&influence_text::answer(case, &found), Tone::Plain),
                String::new(),
                influence_text::table(&terminal, case, &found),
            ],
            keep: Box::new(move |summary| {
                let folder = influence_files::write(case, &found, summary, (base, &again(args)))?;
                Ok(Kept::files(&folder))
            }),
            end: Ok(()),
        })
    })
}

/// The arguments that give the same again.
fn again(args: &InfluenceArgs) -> String {
    let mut arguments = format!("--rows {} --halve {}", args.rows, args.halve);
    if let Some(aim) = &args.periapsis {
        arguments = format!("{arguments} --periapsis '{aim}'");
    }
    if let Some(samples) = args.samples {
        arguments = format!("{arguments} --samples {samples}");
    }
    arguments
}
