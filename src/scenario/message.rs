//! The message about a mistake in a file: what, where, which key, and what to do about it.
//! Finding the mistake and its place is left to the readers of the file.

use std::fmt;

use thiserror::Error;

use super::visible::visible;

/// Columns of a source line that are shown at most.
const SHOWN_COLUMNS: usize = 100;
/// Columns kept to the left of the place in a line longer than that.
const SHOWN_BEFORE: usize = 40;

/// Columns of a line of advice behind its label.
const HELP_COLUMNS: usize = 92;

/// What kind of trouble an [`InputError`] reports; decides the exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InputKind {
    /// The file cannot be read at all.
    Unreadable,
    /// The file can be read, and what it says is wrong.
    Invalid,
    /// As `Invalid`: there is no such key.
    UnknownKey,
}

/// A mistake in a scenario or world file, or in a value given on the command line.
///
/// `Display` gives the message, the place with the source line and carets under what is
/// wrong, the dotted key and advice, as far as each is known: plain text without colour
/// and without a leading `error:`, over several lines, without a final line break.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{0}")]
pub struct InputError(Box<Report>);

#[derive(Debug, Clone, PartialEq, Eq)]
struct Report {
    kind: InputKind,
    message: String,
    place: Option<Place>,
    key: Option<String>,
    help: Option<String>,
}

/// Where in a source something stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// Name of the source: a file's path, or `--set key=value`.
    pub source: String,
    /// Position in the source, when it is a file and the position is known.
    pub position: Option<Position>,
}

/// A stretch of one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Position {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// Length in characters, 1 or more.
    pub width: usize,
    /// The whole line without its line break.
    pub text: String,
}

impl InputError {
    /// An error with its message alone.
    #[must_use]
    pub fn new(message: impl Into<String>) -> Self {
        let message = message.into();
        Self(Box::new(Report {
            kind: InputKind::Invalid,
            message,
            place: None,
            key: None,
            help: None,
        }))
    }

    /// An error about a file that cannot be read.
    #[must_use]
    pub fn unreadable(message: impl Into<String>) -> Self {
        let mut error = Self::new(message);
        error.0.kind = InputKind::Unreadable;
        error
    }

    /// The same error, said to be about a key that there is not.
    #[must_use]
    pub(super) fn of_unknown_key(mut self) -> Self {
        self.0.kind = InputKind::UnknownKey;
        self
    }

    /// Adds advice; later advice replaces earlier.
    #[must_use]
    pub fn with_help(mut self, help: impl Into<String>) -> Self {
        self.0.help = Some(help.into());
        self
    }

    /// Adds the place.
    #[must_use]
    pub fn with_place(mut self, place: Place) -> Self {
        self.0.place = Some(place);
        self
    }

    /// Adds the dotted key.
    #[must_use]
    pub fn with_key(mut self, key: impl Into<String>) -> Self {
        self.0.key = Some(key.into());
        self
    }

    /// What kind of trouble it is.
    #[must_use]
    pub fn kind(&self) -> InputKind {
        self.0.kind
    }

    /// The message alone, one line.
    #[must_use]
    pub fn message(&self) -> &str {
        &self.0.message
    }

    /// The place, when known.
    #[must_use]
    pub fn place(&self) -> Option<&Place> {
        self.0.place.as_ref()
    }

    /// The dotted key, when the error is about one.
    #[must_use]
    pub fn key(&self) -> Option<&str> {
        self.0.key.as_deref()
    }

    /// The advice, when there is some.
    #[must_use]
    pub fn help(&self) -> Option<&str> {
        self.0.help.as_deref()
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&visible(&self.message))?;
        if let Some(place) = &self.place {
            write!(f, "\n{place}")?;
        }
        if let Some(key) = &self.key {
            write!(f, "\n  key:  {}", visible(key))?;
        }
        if let Some(help) = &self.help {
            write!(f, "\n  help: {}", folded(&visible(help)))?;
        }
        Ok(())
    }
}

/// Text in lines of at most [`HELP_COLUMNS`], the further ones indented below the first.
fn folded(text: &str) -> String {
    let mut lines = String::new();
    let mut columns = 0;
    for word in text.split_whitespace() {
        let width = word.chars().count();
        if columns > 0 && columns + 1 + width > HELP_COLUMNS {
            lines.push_str("\n        ");
            columns = 0;
        } else if columns > 0 {
            lines.push(' ');
            columns += 1;
        }
        lines.push_str(word);
        columns += width;
    }
    lines
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(position) = &self.position else {
            return write!(f, "  --> {}", visible(&self.source));
        };
        write!(
            f,
            "  --> {}:{}:{}",
            visible(&self.source),
            position.line,
            position.column
        )?;
        let number = position.line.to_string();
        let (text, before, width) = position.window();
        write!(f, "\n{number} | {text}")?;
        write!(
            f,
            "\n{:pad$} | {:before$}{}",
            "",
            "",
            "^".repeat(width),
            pad = number.len()
        )
    }
}

impl Position {
    /// The part of the line that is shown, the columns before the carets and the number of carets.
    fn window(&self) -> (String, usize, usize) {
        let all: Vec<char> = self
            .text
            .chars()
            .map(|c| if c.is_control() { ' ' } else { c })
            .collect();
        let at = self.column.saturating_sub(1).min(all.len());
        let start = if all.len() > SHOWN_COLUMNS {
            at.saturating_sub(SHOWN_BEFORE)
        } else {
            0
        };
        let end = all.len().min(start + SHOWN_COLUMNS);
        let mut text = String::new();
        let mut before = at - start;
        if start > 0 {
            text.push_str("... ");
            before += 4;
        }
        text.extend(&all[start..end]);
        if end < all.len() {
            text.push_str(" ...");
        }
        (
            text.trim_end().to_owned(),
            before,
            self.width.clamp(1, (end - at).max(1)),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn position(text: &str, column: usize, width: usize) -> Place {
        let position = Position {
            line: 14,
            column,
            width,
            text: text.to_owned(),
        };
        Place {
            source: "my-arrival.yaml".to_owned(),
            position: Some(position),
        }
    }

    #[test]
    fn a_full_error_has_the_documented_form() {
        let error =
            InputError::new("entry flight-path angle must be between -90 and 0 deg, got 5.2 deg")
                .with_place(position("  flight_path_angle: 5.2 deg", 22, 7))
                .with_key("arrival.entry.flight_path_angle")
                .with_help("angles below the horizon are negative; did you mean -5.2 deg?");
        let expected = "\
entry flight-path angle must be between -90 and 0 deg, got 5.2 deg
  --> my-arrival.yaml:14:22
14 |   flight_path_angle: 5.2 deg
   |                      ^^^^^^^
  key:  arrival.entry.flight_path_angle
  help: angles below the horizon are negative; did you mean -5.2 deg?";
        assert_eq!(error.to_string(), expected);
    }

    #[test]
    fn what_is_not_known_is_left_out() {
        assert_eq!(InputError::new("no").to_string(), "no");
        let place = Place {
            source: "--set a=1".to_owned(),
            position: None,
        };
        assert_eq!(
            InputError::new("no").with_place(place).to_string(),
            "no\n  --> --set a=1"
        );
    }

    #[test]
    fn a_long_line_is_shown_around_the_place() {
        let text = "x".repeat(100_000);
        let shown = position(&text, 50_000, 90_000).to_string();
        assert!(
            shown.lines().all(|line| line.chars().count() < 120),
            "{shown}"
        );
        assert!(shown.contains("... x"));
    }

    #[test]
    fn a_place_past_the_end_of_its_line_is_shown_after_it() {
        let shown = position("a: 1", 99, 3).to_string();
        assert!(shown.ends_with("14 | a: 1\n   |     ^"), "{shown}");
    }

    #[test]
    fn tabs_and_control_characters_do_not_move_the_carets() {
        let shown = position("\ta: \u{7}b", 5, 1).to_string();
        assert!(shown.ends_with("14 |  a:  b\n   |     ^"), "{shown}");
    }
}
