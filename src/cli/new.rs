//! `periband new`: a commented scenario that runs as it stands.

use super::args::NewArgs;
use super::exit::CliError;
use super::screen::Screen;
use crate::scenario::STARTER;
use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};

pub(super) fn run(args: &NewArgs, screen: Screen) -> Result<(), CliError> {
    let path = &args.file;
    let failed = |source| CliError::Write {
        path: path.clone(),
        source,
    };
    let mut file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)
        .map_err(|error| match error.kind() {
            ErrorKind::AlreadyExists => failed(std::io::Error::other(
                "it is there already and stays as it is; choose another name",
            )),
            _ => failed(error),
        })?;
    file.write_all(STARTER.as_bytes()).map_err(failed)?;
    let shown = path.display();
    screen.say(&format!(
        "Wrote {shown}. It runs as it stands:\n  periband check {shown}\n  periband band {shown}"
    ));
    Ok(())
}
