//! Brings the text of a file in, within bounds: size, encoding and nesting are checked here,
//! and offsets become lines and columns. What the text says is left to others.

use std::path::{Path, PathBuf};

use super::message::{InputError, Place, Position};
use super::nesting::{self, DEEPEST};
use super::plain_file;
use super::token::width_at;
use super::walk::End;
use super::yaml::Fault;

/// Largest file that is read, bytes.
pub(super) const LARGEST_FILE: u64 = 1024 * 1024;

/// A text with its name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Source {
    pub(super) name: String,
    pub(super) path: Option<PathBuf>,
    pub(super) text: String,
}

impl Source {
    /// Reads a file.
    pub(super) fn read(path: &Path) -> Result<Self, InputError> {
        let name = plain_file::shown(path);
        let bytes = plain_file::read(path, LARGEST_FILE)
            .map_err(|why| plain_file::unreadable(path, &why))?
            .ok_or_else(|| too_large(&name))?;
        let text = String::from_utf8(bytes)
            .map_err(|error| not_utf8(&name, error.as_bytes(), error.utf8_error().valid_up_to()))?;
        let mut source = Self::from_text(&name, &text)?;
        // Beside what is piped in lies nothing: names in it begin at the working folder.
        source.path = (!plain_file::is_stream(path)).then(|| path.to_owned());
        Ok(source)
    }

    /// Takes a text that is already in memory.
    pub(super) fn from_text(name: &str, text: &str) -> Result<Self, InputError> {
        if text.len() as u64 > LARGEST_FILE {
            return Err(too_large(name));
        }
        let text = text.strip_prefix('\u{feff}').unwrap_or(text).to_owned();
        let source = Self {
            name: name.to_owned(),
            path: None,
            text,
        };
        if let Some((index, c)) = source.text.char_indices().find(|(_, c)| is_refused(*c)) {
            return Err(InputError::new(format!(
                "the file holds a control character (U+{:04X})",
                u32::from(c)
            ))
            .with_place(source.place(index, 1))
            .with_help("remove it: only text, tabs and line breaks are read"));
        }
        if let Some(index) = nesting::too_deep(&source.text) {
            return Err(InputError::new(format!(
                "lists and sections are nested more than {DEEPEST} deep"
            ))
            .with_place(source.place(index, 1))
            .with_help(
                "nothing here needs more than a few levels: look for a bracket that is not closed",
            ));
        }
        Ok(source)
    }

    /// The place of `width` characters at a byte offset.
    pub(super) fn place(&self, index: usize, width: usize) -> Place {
        place_in(&self.name, self.text.as_bytes(), index, width)
    }

    /// The error about a fault in the text, placed at it.
    pub(super) fn fault(&self, fault: Fault) -> InputError {
        let place = match fault.index {
            Some(index) => self.place(index, width_at(&self.text[index..], None, End::Value)),
            None => self.whole(),
        };
        InputError::from(fault).with_place(place)
    }

    /// The source as a whole.
    pub(super) fn whole(&self) -> Place {
        Place {
            source: self.name.clone(),
            position: None,
        }
    }
}

impl From<Fault> for InputError {
    fn from(fault: Fault) -> Self {
        let error = Self::new(fault.message);
        match fault.help {
            Some(help) => error.with_help(help),
            None => error,
        }
    }
}

/// Characters that YAML does not take.
fn is_refused(c: char) -> bool {
    (c.is_control() && !matches!(c, '\t' | '\n' | '\r' | '\u{85}'))
        || matches!(c, '\u{fffe}' | '\u{ffff}')
}

fn too_large(name: &str) -> InputError {
    InputError::new(format!(
        "the file is larger than {} MiB",
        LARGEST_FILE / 1024 / 1024
    ))
    .with_place(Place {
        source: name.to_owned(),
        position: None,
    })
    .with_help("scenario and world files are small texts: is this the right file?")
}

fn not_utf8(name: &str, bytes: &[u8], index: usize) -> InputError {
    InputError::new(format!(
        "the file is not UTF-8 text: byte 0x{:02x}",
        bytes.get(index).copied().unwrap_or(0)
    ))
    .with_place(place_in(name, bytes, index, 1))
    .with_help("save the file as UTF-8")
}

/// The place of a byte offset; the column counts characters.
fn place_in(name: &str, bytes: &[u8], index: usize, width: usize) -> Place {
    let index = index.min(bytes.len());
    let start = bytes[..index]
        .iter()
        .rposition(|byte| *byte == b'\n')
        .map_or(0, |at| at + 1);
    let end = bytes[index..]
        .iter()
        .position(|byte| *byte == b'\n')
        .map_or(bytes.len(), |at| index + at);
    let line = bytes[..start].split(|byte| *byte == b'\n').count();
    let column = 1 + String::from_utf8_lossy(&bytes[start..index])
        .chars()
        .count();
    let text = String::from_utf8_lossy(&bytes[start..end])
        .trim_end_matches('\r')
        .to_owned();
    Place {
        source: name.to_owned(),
        position: Some(Position {
            line,
            column,
            width,
            text,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters() {
        let source = Source::from_text("x.yaml", "a: 1\r\n\u{e9}\u{e9}: b\r\n").unwrap();
        let index = source.text.find(": b").unwrap();
        let position = source.place(index, 2).position.unwrap();
        assert_eq!(
            (position.line, position.column, position.text.as_str()),
            (2, 3, "\u{e9}\u{e9}: b")
        );
        assert_eq!(source.place(usize::MAX, 1).position.unwrap().line, 3);
    }

    #[test]
    fn a_byte_order_mark_is_not_part_of_the_text() {
        assert_eq!(Source::from_text("x", "\u{feff}a: 1").unwrap().text, "a: 1");
    }

    #[test]
    fn a_text_above_the_bound_is_refused() {
        let text = "x".repeat(1024 * 1024 + 1);
        let error = Source::from_text("x.yaml", &text).unwrap_err();
        assert_eq!(error.message(), "the file is larger than 1 MiB");
    }

    #[test]
    fn the_first_bad_byte_is_placed() {
        let error = not_utf8("x.yaml", b"a: 1\nb: \xe9t\xe9\n", 8);
        let position = error
            .place()
            .and_then(|place| place.position.clone())
            .unwrap();
        assert_eq!((position.line, position.column), (2, 4));
        assert_eq!(error.message(), "the file is not UTF-8 text: byte 0xe9");
    }
}
