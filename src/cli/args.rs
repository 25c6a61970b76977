//! What can be written on the command line.

use super::influence::InfluenceArgs;
use super::sweep::SweepArgs;
use crate::report::caution::CAUTION;
use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;

/// Finds the safe periapsis band of a pass through an atmosphere, with passengers' comfort as a limit.
#[derive(Debug, Parser)]
#[command(
    name = "periband",
    bin_name = "periband",
    version,
    about,
    after_help = AFTER_HELP.to_owned() + CAUTION,
    max_term_width = 100
)]
pub(super) struct Cli {
    #[command(flatten)]
    pub(super) common: Common,
    #[command(subcommand)]
    pub(super) command: Command,
}

const AFTER_HELP: &str = "\
Start here:
  periband new my-arrival.yaml          a commented scenario that runs as it stands
  periband check my-arrival.yaml        what was understood, in plain words
  periband band my-arrival.yaml         which periapsis to aim for, and what limits it
  periband pass my-arrival.yaml --periapsis 51km
                                        one flight in full

";

/// Options of every command.
#[derive(Debug, Args)]
pub(super) struct Common {
    /// Print nothing but errors
    #[arg(long, short, global = true)]
    pub(super) quiet: bool,
    /// Print the summary as JSON, and nothing else
    #[arg(long, global = true)]
    pub(super) json: bool,
    /// Threads to fly with (default: all cores)
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(super) threads: Option<u16>,
}

/// A scenario and what may be set over it.
#[derive(Debug, Args)]
pub(super) struct ScenarioArgs {
    /// Scenario file (YAML)
    #[arg(value_name = "FILE")]
    pub(super) file: PathBuf,
    /// Set a value over the file, as in `--set ship.mass=60t`; may be given again
    #[arg(long = "set", value_name = "KEY=VALUE")]
    pub(super) set: Vec<String>,
}

/// Where results go.
#[derive(Debug, Args)]
pub(super) struct OutArgs {
    /// Folder under which results are written
    #[arg(long, value_name = "DIR", default_value = "out")]
    pub(super) out: PathBuf,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Find the safe periapsis band and the aim to take
    Band(BandArgs),
    /// Fly one pass in full: history, orbit afterwards, what it costs to mend
    Pass(PassArgs),
    /// Run a study at many points, one or two numbers of the scenario varied
    Sweep(SweepArgs),
    /// Find which uncertain quantity matters, and what knowing it better is worth
    Influence(InfluenceArgs),
    /// Check a scenario and say in plain words what was understood
    Check(ScenarioArgs),
    /// Write a commented scenario to start from
    New(NewArgs),
    /// List the bundled worlds, or show one
    Worlds(WorldsArgs),
}

#[derive(Debug, Args)]
pub(super) struct BandArgs {
    #[command(flatten)]
    pub(super) scenario: ScenarioArgs,
    /// Samples at each aim, over the scenario's `ask.samples`
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    pub(super) samples: Option<u64>,
    /// Seed of the draws, over the scenario's `ask.seed`
    #[arg(long, value_name = "N")]
    pub(super) seed: Option<u64>,
    /// Which flown samples go to samples.parquet
    #[arg(long, value_enum, default_value_t = Rows::Recommended)]
    pub(super) rows: Rows,
    #[command(flatten)]
    pub(super) out: OutArgs,
}

/// Which flown samples are written as rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Rows {
    /// Those of the recommended aim
    Recommended,
    /// Those of every aim flown
    All,
    /// None
    None,
}

#[derive(Debug, Args)]
pub(super) struct PassArgs {
    #[command(flatten)]
    pub(super) scenario: ScenarioArgs,
    /// Vacuum periapsis altitude to aim for, as in 51km (needed when the scenario gives a range)
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(super) periapsis: Option<String>,
    /// Fly this sample of the ensemble instead of the nominal numbers
    #[arg(long, value_name = "N")]
    pub(super) sample: Option<u64>,
    /// Apoapsis altitude of the orbit wanted afterwards, for the trim burn (default: the one flown, or
    /// that of `captured_below` where it is lower)
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(super) target_apoapsis: Option<String>,
    #[command(flatten)]
    pub(super) out: OutArgs,
}

#[derive(Debug, Args)]
pub(super) struct NewArgs {
    /// File to write; never overwrites
    #[arg(value_name = "FILE", default_value = "arrival.yaml")]
    pub(super) file: PathBuf,
}

#[derive(Debug, Args)]
pub(super) struct WorldsArgs {
    /// World to show in full: a bundled name or the path of a world file
    #[arg(value_name = "WORLD")]
    pub(super) world: Option<String>,
    /// Draw the density of the world (or of every bundled one) with its spread, under the results folder
    #[arg(long)]
    pub(super) figure: bool,
    #[command(flatten)]
    pub(super) out: OutArgs,
}

impl ScenarioArgs {
    /// The `--set` pairs; the message says what was expected where one has no `=`.
    pub(super) fn overrides(&self) -> Result<Vec<(String, String)>, String> {
        let split = |text: &String| {
            text.split_once('=')
                .map(|(key, value)| (key.trim().to_owned(), value.trim().to_owned()))
                .ok_or_else(|| {
                    format!("--set expects KEY=VALUE, as in --set ship.mass=60t, got `{text}`")
                })
        };
        self.set.iter().map(split).collect()
    }
}
