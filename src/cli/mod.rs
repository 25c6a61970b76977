//! The command line: arguments in, one short function a command, exit codes out.

mod args;
mod band;
mod campaign;
mod capture;
mod check;
mod compare;
mod corridor;
mod exit;
mod help;
mod influence;
mod land;
mod learn;
mod logging;
mod new;
mod overrides;
mod pass;
mod runs;
mod screen;
mod shell;
mod study_run;
mod sweep;
mod watch;
mod worlds;

use crate::scenario::visible::plain_reason;
use args::{Cli, Colour, Command};
use clap::{FromArgMatches, ValueEnum};
use exit::{CliError, Exit};
use screen::Screen;
use std::ffi::OsString;
use std::io::{ErrorKind, Write as _};
use std::process::ExitCode;

/// Runs the program on its arguments, the program's name first.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    let read = help::command(asked_colour(&arguments))
        .try_get_matches_from(arguments)
        .and_then(|matches| Cli::from_arg_matches(&matches));
    let cli = match read {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version are errors to the parser; a closed pipe is no reason to fail.
            let printed = error.print().and_then(|()| std::io::stdout().flush());
            if error.use_stderr() {
                return Exit::Usage.into();
            }
            return match printed {
                Err(why) if why.kind() != ErrorKind::BrokenPipe => {
                    let reason = plain_reason(&why);
                    Screen::error(&CliError::Unprinted {
                        reason,
                        written: false,
                    });
                    Exit::Files.into()
                }
                _ => Exit::Done.into(),
            };
        }
    };
    let screen = Screen::new(&cli.common);
    logging::start(cli.common.verbose, cli.common.quiet);
    watch::listen();
    let outcome = match &cli.command {
        Command::Band(args) => band::run(args, &cli.common, screen),
        Command::Capture(args) => capture::run(args, &cli.common, screen),
        Command::Compare(args) => compare::run(args, screen),
        Command::Corridor(args) => corridor::run(args, &cli.common, screen),
        Command::Pass(args) => pass::run(args, &cli.common, screen),
        Command::Sweep(args) => sweep::run(args, &cli.common, screen),
        Command::Influence(args) => influence::run(args, &cli.common, screen),
        Command::Run(args) => runs::run(args, &cli.common, screen),
        Command::Plan(args) => runs::plan(args, &cli.common, screen),
        Command::Shard(args) => runs::shard(args, &cli.common, screen),
        Command::Missing(args) => runs::missing(args, screen),
        Command::Merge(args) => runs::merge(args, screen),
        Command::Replay(args) => runs::replay(args, screen),
        Command::Campaign(args) => campaign::run(args, &cli.common, screen),
        Command::Learn(args) => learn::run(args, &cli.common, screen),
        Command::Land(args) => land::run(args, &cli.common, screen),
        Command::Check(args) => check::run(args, &cli.common, screen),
        Command::New(args) => new::run(args, screen),
        Command::Worlds(args) => worlds::run(args, &cli.common, screen),
        Command::Completions(args) => shell::completions(args),
        Command::Man(args) => shell::man(args, screen),
    };
    // These write nothing beside what they print.
    let written = !matches!(
        cli.command,
        Command::Check(_) | Command::Worlds(_) | Command::Missing(_)
    );
    match outcome.and_then(|()| Screen::unprinted(written)) {
        Ok(()) => Exit::Done.into(),
        Err(error) => {
            Screen::error(&error);
            error.exit().into()
        }
    }
}

/// What the arguments ask for in colour, before they are understood: help and mistakes have colour too.
fn asked_colour(arguments: &[OsString]) -> Option<Colour> {
    let words: Vec<&str> = arguments.iter().filter_map(|word| word.to_str()).collect();
    let after = |(i, word): (usize, &&str)| match word.split_once('=') {
        Some(("--color" | "--colour", value)) => Some(value.to_owned()),
        None if matches!(*word, "--color" | "--colour") => {
            words.get(i + 1).map(|value| (*value).to_owned())
        }
        _ => None,
    };
    let value = words.iter().enumerate().find_map(after)?;
    Colour::from_str(&value, false).ok()
}

/// Sets the number of threads for everything that follows.
fn use_threads(threads: Option<usize>) -> Result<(), CliError> {
    if let Some(threads) = threads {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build_global()
            .map_err(|error| CliError::Threads(error.to_string()))?;
    }
    Ok(())
}
