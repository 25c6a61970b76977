//! What a shell and a manual reader want of the program: completions and man pages.

use super::args::{Cli, CompletionsArgs, ManArgs};
use super::exit::CliError;
use super::screen::Screen;
use crate::report::{ReportError, named_file};
use clap::CommandFactory;
use std::io::Write as _;

/// `periband completions SHELL`.
pub(super) fn completions(args: &CompletionsArgs) -> Result<(), CliError> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "periband", &mut script);
    written(&script)
}

/// `periband man [DIR]`.
pub(super) fn man(args: &ManArgs, screen: Screen) -> Result<(), CliError> {
    let Some(folder) = &args.folder else {
        let mut page = Vec::new();
        clap_mangen::Man::new(Cli::command())
            .render(&mut page)
            .map_err(|source| CliError::Write {
                path: "standard output".into(),
                source,
            })?;
        return written(&page);
    };
    let failed = |source| CliError::Write {
        path: folder.clone(),
        source,
    };
    std::fs::create_dir_all(folder).map_err(failed)?;
    for entry in std::fs::read_dir(folder).map_err(failed)?.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if name.starts_with("periband") && name.ends_with(".1") {
            // Another file of that name stays.
            named_file::check(&entry.path(), |start| start.contains(".TH periband"))
                .map_err(ReportError::from)?;
        }
    }
    clap_mangen::generate_to(Cli::command(), folder).map_err(failed)?;
    screen.say(&format!(
        "Wrote the manual to {0}; read it with: man -l {0}/periband.1",
        folder.display()
    ));
    Ok(())
}

/// Writes to standard output; a reader that has gone away is no error.
fn written(bytes: &[u8]) -> Result<(), CliError> {
    let mut out = std::io::stdout();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => Err(CliError::Write {
            path: "standard output".into(),
            source: error,
        }),
        _ => Ok(()),
    }
}
