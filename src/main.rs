//! The command-line program: see `periband::cli`.

use std::process::ExitCode;

fn main() -> ExitCode {
    periband::cli::run(std::env::args_os())
}
