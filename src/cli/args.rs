//! What can be written on the command line.

use super::runs::{FolderArgs, MissingArgs, PlanArgs, ReplayArgs, RunArgs, ShardArgs};
use super::{compare::CompareArgs, influence::InfluenceArgs, land::LandArgs, sweep::SweepArgs};
use crate::report::caution::CAUTION;
use clap::{ArgAction, Args, Parser, Subcommand};
use std::path::PathBuf;

/// Finds the safe periapsis band of a pass through an atmosphere, with passengers' comfort as a limit.
#[derive(Debug, Parser)]
#[command(
    name = "periband",
    bin_name = "periband",
    version,
    about,
    after_help = CAUTION,
    subcommand_required = true
)]
pub(super) struct Cli {
    #[command(flatten)]
    pub(super) common: Common,
    #[command(subcommand)]
    pub(super) command: Command,
}

/// Options of every command; they stand below those of the command itself.
#[derive(Debug, Args)]
pub(super) struct Common {
    /// Print nothing but errors
    #[arg(long, short, global = true, display_order = 900)]
    pub(super) quiet: bool,
    /// Print the summary as JSON, and nothing else
    #[arg(long, global = true, display_order = 901)]
    pub(super) json: bool,
    /// Tell the course of the run on standard error; -vv tells every step
    #[arg(
        long,
        short,
        global = true,
        display_order = 902,
        action = ArgAction::Count,
        conflicts_with = "quiet"
    )]
    pub(super) verbose: u8,
    /// Colour: auto (on a terminal, unless `NO_COLOR` is set), always or never
    #[arg(
        long,
        alias = "colour",
        global = true,
        display_order = 903,
        value_name = "WHEN",
        value_enum,
        default_value_t = Colour::Auto,
        hide_default_value = true,
        hide_possible_values = true
    )]
    pub(super) color: Colour,
    /// Threads to fly with (default: all cores)
    #[arg(
        long,
        global = true,
        display_order = 904,
        value_name = "N",
        value_parser = clap::value_parser!(u16).range(1..=1024)
    )]
    pub(super) threads: Option<u16>,
}

/// When to use colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Colour {
    Auto,
    Always,
    Never,
}

/// A scenario and what may be set over it.
#[derive(Debug, Args)]
pub(super) struct ScenarioArgs {
    /// Scenario file (YAML); - reads it from standard input
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
    #[command(after_help = BAND_EXAMPLES)]
    Band(BandArgs),
    /// Compare ways to be captured: engine, air, both, moons, other arrivals
    Capture(CaptureArgs),
    /// Find between which aims the ship can be flown at all, and what its lift adds
    #[command(after_help = CORRIDOR_EXAMPLES)]
    Corridor(CorridorArgs),
    /// Fly one pass in full: history, orbit afterwards, what it costs to mend
    #[command(after_help = PASS_EXAMPLES)]
    Pass(PassArgs),
    /// Run a study at many points, one or two numbers of the scenario varied
    #[command(after_help = SWEEP_EXAMPLES)]
    Sweep(SweepArgs),
    /// Find which uncertain quantity matters, and what knowing it better is worth
    #[command(after_help = INFLUENCE_EXAMPLES)]
    Influence(InfluenceArgs),
    /// Put finished runs side by side: bands, verdicts, spreads, and by how much they differ
    #[command(after_help = COMPARE_EXAMPLES)]
    Compare(CompareArgs),
    /// Fly whole campaigns of aerobraking: passes, days, propellant, worst pass, what goes wrong
    Campaign(CampaignArgs),
    /// Learn from the log of a flown pass: ballistic coefficient, lift, density, scale height
    #[command(after_help = LEARN_EXAMPLES)]
    Learn(LearnArgs),
    /// Fly very many samples, keeping counts alone; goes on where it was when it is started again
    #[command(after_help = RUN_EXAMPLES)]
    Run(RunArgs),
    /// Plan a run in shards, for one machine or many
    #[command(after_help = PLAN_EXAMPLES)]
    Plan(PlanArgs),
    /// Fly one shard of a planned run and keep its part
    Shard(ShardArgs),
    /// List the shards of a run that have no valid part
    Missing(MissingArgs),
    /// Put the parts of a run together: summary, figures, digest
    Merge(FolderArgs),
    /// Fly one sample of a run in full
    Replay(ReplayArgs),
    /// Find what the ship reaches on the ground, how it has to approach, and how near it comes to a place
    #[command(after_help = LAND_EXAMPLES)]
    Land(LandArgs),
    /// Check a scenario and say in plain words what was understood
    #[command(after_help = CHECK_EXAMPLES)]
    Check(ScenarioArgs),
    /// Write a commented scenario to start from
    New(NewArgs),
    /// List the bundled worlds, or show one
    #[command(after_help = WORLDS_EXAMPLES)]
    Worlds(WorldsArgs),
    /// Print what completes commands and options in your shell
    #[command(after_help = COMPLETIONS_EXAMPLES)]
    Completions(CompletionsArgs),
    /// Print the manual page, or write one for each command to a folder
    Man(ManArgs),
}

const BAND_EXAMPLES: &str = "\
Examples:
  periband band my-arrival.yaml
  periband band my-arrival.yaml --samples 100000 --set ask.probability=0.999
  periband band my-arrival.yaml --rows all --out results

Stopped by Ctrl-C, a kill or a power loss, the same command goes on where it was.";
const COMPARE_EXAMPLES: &str = "\
Examples:
  periband band my-arrival.yaml --out light --set ship.mass=50t
  periband band my-arrival.yaml --out heavy --set ship.mass=60t
  periband compare light/my-arrival/band heavy/my-arrival/band";
const CORRIDOR_EXAMPLES: &str = "\
Examples:
  periband corridor my-arrival.yaml
  periband corridor my-arrival.yaml --set ship.lift_to_drag=0.4";
const PASS_EXAMPLES: &str = "\
Examples:
  periband pass my-arrival.yaml --periapsis 51km
  periband pass my-arrival.yaml --periapsis 51km --sample 7
  periband pass my-arrival.yaml --periapsis 51km --target-apoapsis 5000km";
const SWEEP_EXAMPLES: &str = "\
Examples:
  periband sweep my-arrival.yaml --vary ship.lift_to_drag=0..0.3:4 band
  periband sweep my-arrival.yaml --vary ship.mass=50t,60t,70t \\
    --vary limits.peak_deceleration=1.2g..2g:5 band
  periband sweep my-arrival.yaml --vary arrival.hyperbola.aim_periapsis=45km..55km:11 \\
    --show heat_load_j_cm2 pass";
const INFLUENCE_EXAMPLES: &str = "\
Examples:
  periband influence my-arrival.yaml
  periband influence my-arrival.yaml --halve 9
  periband influence my-arrival.yaml --periapsis 50.5km --halve 0";
const LEARN_EXAMPLES: &str = "\
Examples:
  periband learn my-arrival.yaml --flight log.csv --periapsis 51km \\
    --until-next 9h
  periband learn my-arrival.yaml --flight log.csv --periapsis 51km \\
    --until-next 9h --write next-pass.yaml
  periband band next-pass.yaml

Columns of the log: time_s; altitude_km, altitude_m, radius_km or radius_m;
relative_speed_m_s, relative_speed_km_s, inertial_speed_m_s or
inertial_speed_km_s; and, if it was measured, deceleration_g or
deceleration_m_s2.";
const RUN_EXAMPLES: &str = "\
Examples:
  periband run my-arrival.yaml --samples 1e7
  periband run my-arrival.yaml --samples 1e8 --aims 50.8km,51km,51.2km";
const PLAN_EXAMPLES: &str = "\
Examples:
  periband plan my-arrival.yaml --samples 1e9 --shards 2000 --out big
  periband shard big --index 17
  periband missing big
  periband merge big";
const LAND_EXAMPLES: &str = "\
Examples:
  periband land my-landing.yaml
  periband land my-landing.yaml --samples 200 --set steering=off
  periband land my-landing.yaml --set 'landing.place.longitude=21 deg'";
const CHECK_EXAMPLES: &str = "\
Examples:
  periband check my-arrival.yaml
  periband check my-arrival.yaml --set ship.mass=60t";
const WORLDS_EXAMPLES: &str = "\
Examples:
  periband worlds
  periband worlds titan --figure
  periband worlds ./my-world.yaml";
const COMPLETIONS_EXAMPLES: &str = "\
Examples:
  periband completions bash > ~/.local/share/bash-completion/completions/periband
  periband completions zsh > ~/.zfunc/_periband
  periband completions fish > ~/.config/fish/completions/periband.fish";

#[derive(Debug, Args)]
pub(super) struct CompletionsArgs {
    /// The shell
    #[arg(value_name = "SHELL")]
    pub(super) shell: clap_complete::Shell,
}

#[derive(Debug, Args)]
pub(super) struct ManArgs {
    /// Folder to write a page for each command to
    #[arg(value_name = "DIR")]
    pub(super) folder: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct BandArgs {
    #[command(flatten)]
    pub(super) scenario: ScenarioArgs,
    /// Samples at each aim, over the scenario's `ask.samples`
    #[arg(long, value_name = "N", value_parser = super::runs::samples)]
    pub(super) samples: Option<u64>,
    /// Seed of the draws, over the scenario's `ask.seed`
    #[arg(long, value_name = "N")]
    pub(super) seed: Option<u64>,
    /// Whose flown samples go to samples.parquet: the recommended aim's, those of all aims, or none
    #[arg(long, value_enum, default_value_t = Rows::Recommended)]
    pub(super) rows: Rows,
    /// Beside each row what was drawn for it, a column a drawn number
    #[arg(long)]
    pub(super) draws: bool,
    #[command(flatten)]
    pub(super) out: OutArgs,
}

#[derive(Debug, Args)]
pub(super) struct CaptureArgs {
    #[command(flatten)]
    pub(super) scenario: ScenarioArgs,
    /// Samples of each way, over the scenario's `ask.samples`
    #[arg(long, value_name = "N", value_parser = super::runs::samples)]
    pub(super) samples: Option<u64>,
    /// Seed of the draws, over the scenario's `ask.seed`
    #[arg(long, value_name = "N")]
    pub(super) seed: Option<u64>,
    #[command(flatten)]
    pub(super) out: OutArgs,
}

/// Which flown samples are written as rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Rows {
    Recommended,
    All,
    None,
}

#[derive(Debug, Args)]
pub(super) struct CorridorArgs {
    #[command(flatten)]
    pub(super) scenario: ScenarioArgs,
    #[command(flatten)]
    pub(super) out: OutArgs,
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
    /// Write the pass as a CCSDS Orbit Ephemeris Message (KVN) to this file; replaces no file but such a message of its own
    #[arg(long, value_name = "FILE")]
    pub(super) oem: Option<PathBuf>,
    #[command(flatten)]
    pub(super) out: OutArgs,
}

#[derive(Debug, Args)]
pub(super) struct LearnArgs {
    #[command(flatten)]
    pub(super) scenario: ScenarioArgs,
    /// Log of the flown pass (CSV with units in its column names)
    #[arg(long, value_name = "CSV")]
    pub(super) flight: PathBuf,
    /// Vacuum periapsis altitude that was aimed for, as in 51km (needed when the scenario gives a range)
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(super) periapsis: Option<String>,
    /// Standard deviation of the altitude (or radius) as measured (default: from the log itself)
    #[arg(long, value_name = "LENGTH")]
    pub(super) noise_altitude: Option<String>,
    /// Standard deviation of the speed as measured (default: from the log itself)
    #[arg(long, value_name = "SPEED")]
    pub(super) noise_speed: Option<String>,
    /// Standard deviation of the deceleration as measured (default: from the log itself)
    #[arg(long, value_name = "ACCELERATION")]
    pub(super) noise_deceleration: Option<String>,
    /// Time from the flown pass to the next, as in 9h: what was learned of the air fades with it
    #[arg(long, value_name = "TIME", required_unless_present = "air_memory")]
    pub(super) until_next: Option<String>,
    /// Time in which the air forgets, so that its correlation falls to 1/e
    #[arg(long, value_name = "TIME", default_value = "24 h")]
    pub(super) air_forgets_in: String,
    /// In place of the two: correlation of the air of the next pass with that of this one, from 0 (nothing is known
    /// of it) to 1 (the same air)
    #[arg(long, value_name = "SHARE", value_parser = share, conflicts_with_all = ["until_next", "air_forgets_in"])]
    pub(super) air_memory: Option<f64>,
    /// Write the scenario of the next pass to this file too; never overwrites
    #[arg(long, value_name = "FILE")]
    pub(super) write: Option<PathBuf>,
    #[command(flatten)]
    pub(super) out: OutArgs,
}

/// A number from 0 to 1.
fn share(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (0.0..=1.0).contains(&value) => Ok(value),
        _ => Err("expected a number from 0 to 1".to_owned()),
    }
}

#[derive(Debug, Args)]
pub(super) struct CampaignArgs {
    #[command(flatten)]
    pub(super) scenario: ScenarioArgs,
    /// Campaigns to fly, over the scenario's `campaign.campaigns`
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..))]
    pub(super) campaigns: Option<u64>,
    /// Seed of the draws, over the scenario's `ask.seed`
    #[arg(long, value_name = "N")]
    pub(super) seed: Option<u64>,
    /// Which passes go to passes.parquet
    #[arg(long, value_enum, default_value_t = PassRows::Kept)]
    pub(super) rows: PassRows,
    #[command(flatten)]
    pub(super) out: OutArgs,
}

/// Which passes are written as rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum PassRows {
    /// Those of the first 200 campaigns
    Kept,
    /// Those of every campaign
    All,
    /// None
    None,
}

#[derive(Debug, Args)]
pub(super) struct NewArgs {
    /// File to write; never overwrites
    #[arg(value_name = "FILE", default_value = "arrival.yaml")]
    pub(super) file: PathBuf,
    /// Write a world file to begin your own from as well, and set the scenario at that world
    #[arg(long, value_name = "WORLD.yaml")]
    pub(super) own_world: Option<PathBuf>,
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
