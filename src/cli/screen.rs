//! Printing: nothing fails on a closed pipe, nothing is printed where it was not asked for.

use super::args::{Colour, Common};
use super::exit::CliError;
use crate::report::grid::Tone;
use crate::report::text::Terminal;
use crate::scenario::visible::plain_reason;
use std::io::{IsTerminal, Write};
use std::sync::OnceLock;

/// What the command line says of colour, once it is read.
static COLOUR: OnceLock<Colour> = OnceLock::new();

/// What may be printed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Screen {
    quiet: bool,
    json: bool,
    verbose: bool,
}

/// Whether colour may be used: as the option says, else on a terminal that can, unless `NO_COLOR` is set to
/// anything (no-color.org).
pub(super) fn colour_allowed(option: Option<Colour>, terminal: bool) -> bool {
    match option.or_else(|| COLOUR.get().copied()) {
        Some(Colour::Always) => true,
        Some(Colour::Never) => false,
        Some(Colour::Auto) | None => {
            let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
            let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
            terminal && !set("NO_COLOR") && !dumb
        }
    }
}

/// Columns of text: 80, or as many as COLUMNS says from 60 to 120.
pub(super) fn width() -> usize {
    let columns = std::env::var("COLUMNS").ok();
    let columns = columns.and_then(|text| text.parse::<usize>().ok());
    columns.unwrap_or(80).clamp(60, 120)
}

impl Screen {
    pub(super) fn new(common: &Common) -> Self {
        let _ = COLOUR.set(common.color);
        Self {
            quiet: common.quiet,
            json: common.json,
            verbose: common.verbose > 0,
        }
    }

    /// How text is laid out.
    pub(super) fn terminal() -> Terminal {
        Terminal {
            width: width(),
            colour: colour_allowed(None, std::io::stdout().is_terminal()),
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
        let terminal = Terminal {
            width: width(),
            colour: colour_allowed(None, std::io::stderr().is_terminal()),
        };
        let word = terminal.toned("error:", Tone::Bad);
        let text = fitted(&cut(&format!("error: {error}")), terminal);
        let rest = text.strip_prefix("error:").unwrap_or(&text);
        let _ = writeln!(std::io::stderr(), "{word}{rest}");
    }

    /// An error where something could not be printed, such as to a full disk; `written` says whether the command
    /// has files that hold the same.
    pub(super) fn unprinted(written: bool) -> Result<(), CliError> {
        UNPRINTED.get().map_or(Ok(()), |error| {
            let reason = plain_reason(error);
            Err(CliError::Unprinted { reason, written })
        })
    }

    /// Whether a progress bar may be drawn.
    pub(super) fn shows_progress(self) -> bool {
        // A log tells of the progress too, and a bar would be torn by its lines.
        !self.quiet && !self.json && !self.verbose && std::io::stderr().is_terminal()
    }
}

/// A message in which no word, such as the name of a file, is longer than anybody reads.
fn cut(message: &str) -> String {
    const MOST: usize = 600;
    const SHOWN: usize = 60;
    let short = |word: &str| {
        word.chars().nth(MOST)?;
        let shown: String = word.chars().take(SHOWN).collect();
        let rest = word.chars().count() - SHOWN;
        Some(format!("{shown}... ({rest} more characters)"))
    };
    let words = message.split_inclusive(char::is_whitespace);
    let cut = |word: &str| {
        let bare = word.trim_end();
        short(bare).map_or_else(|| word.to_owned(), |cut| cut + &word[bare.len()..])
    };
    words.map(cut).collect()
}

/// A message whose first line and whose help are broken to fit; what it shows of a file stays as it is.
fn fitted(message: &str, terminal: Terminal) -> String {
    const HELP: &str = "  help: ";
    let (shown, help) = match message.split_once(&format!("\n{HELP}")) {
        Some((shown, help)) => (shown, Some(help)),
        None => (message, None),
    };
    let (first, rest) = shown.split_once('\n').unwrap_or((shown, ""));
    let mut lines = vec![terminal.paragraph(first, 2).trim_end().to_owned()];
    lines.extend(rest.lines().map(str::to_owned));
    // The help is the last of a message, broken before for files.
    lines.extend(help.map(|help| {
        let words = help.split_whitespace().collect::<Vec<_>>().join(" ");
        HELP.to_owned() + terminal.paragraph(&words, HELP.len()).trim_end()
    }));
    lines.join("\n")
}

/// The first thing that went wrong while printing.
static UNPRINTED: OnceLock<std::io::Error> = OnceLock::new();

/// Prints a text and a line end; a reader that has gone away is no error.
fn print(text: &str) {
    let mut out = std::io::stdout();
    let printed = writeln!(out, "{text}").and_then(|()| out.flush());
    if let Err(error) = printed
        && error.kind() != std::io::ErrorKind::BrokenPipe
    {
        let _ = UNPRINTED.set(error);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_of_20_kb_is_cut_and_all_else_stays() {
        let message = format!("error: cannot read {}\n  help: none", "x".repeat(20_000));
        let text = cut(&message);
        assert!(text.len() < 200, "{text}");
        assert!(
            text.starts_with("error: cannot read xxx") && text.ends_with("help: none"),
            "{text}"
        );
        let short = "error: no\n  --> a.yaml:3:4\n3 |   mass: 4\n  |         ^";
        assert_eq!(cut(short), short);
    }

    #[test]
    fn help_is_broken_and_a_shown_line_is_not() {
        let shown = format!("12 |   world: {}", "x".repeat(90));
        let message = format!(
            "error: short\n{shown}\n  help: {}",
            "many words ".repeat(12)
        );
        let text = fitted(&message, Terminal::default());
        assert!(text.contains(&shown));
        let help = text.lines().skip(2);
        assert!(
            help.clone().count() == 2 && help.clone().all(|line| line.len() <= 80),
            "{text}"
        );
    }
}
