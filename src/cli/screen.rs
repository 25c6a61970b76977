//! Printing: nothing fails on a closed pipe, nothing is printed where it was not asked for.

use super::args::Common;
use super::exit::CliError;
use crate::report::text::Terminal;
use std::io::{IsTerminal, Write};

/// What may be printed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Screen {
    quiet: bool,
    json: bool,
}

impl Screen {
    pub(super) fn new(common: &Common) -> Self {
        Self {
            quiet: common.quiet,
            json: common.json,
        }
    }

    /// How text is laid out: 80 columns, or as wide as COLUMNS says up to 120.
    pub(super) fn terminal() -> Terminal {
        let columns = std::env::var("COLUMNS")
            .ok()
            .and_then(|text| text.parse::<usize>().ok());
        Terminal {
            width: columns.unwrap_or(80).clamp(60, 120),
            colour: false,
        }
    }

    /// Text for people; nothing with `--quiet` or `--json`.
    pub(super) fn say(self, text: &str) {
        if !self.quiet && !self.json {
            print(text);
        }
    }

    /// The JSON of a summary, where it was asked for.
    pub(super) fn json(self, value: &serde_json::Value) {
        if self.json {
            print(&format!("{value:#}"));
        }
    }

    /// A remark for people on standard error.
    pub(super) fn remark(self, text: &str) {
        if !self.quiet && !self.json {
            let _ = writeln!(std::io::stderr(), "{text}");
        }
    }

    pub(super) fn error(error: &CliError) {
        let _ = writeln!(std::io::stderr(), "error: {error}");
    }

    /// Whether a progress bar may be drawn.
    pub(super) fn shows_progress(self) -> bool {
        !self.quiet && !self.json && std::io::stderr().is_terminal()
    }
}

/// Prints a text and a line end; a reader that has gone away is no error.
fn print(text: &str) {
    let _ = writeln!(std::io::stdout(), "{text}");
}
