//! One value of a file, read as a quantity, a whole number, a text, a flag, a list or a section,
//! with an error at its place when it is not that. Which keys there are is left to `section`.

use std::fmt;
use std::ops::RangeInclusive;
use std::path::PathBuf;

use super::bound::Bound;
use super::document::Document;
use super::message::InputError;
use super::section::Section;
use super::value::{Step, Value};
use super::walk::End;
use crate::numeric::units::{Dimension, format_quantity, parse_quantity};

/// A value of a file with its path.
#[derive(Debug, Clone)]
pub struct Node<'d> {
    document: &'d Document,
    path: Vec<Step>,
    value: &'d Value,
}

impl<'d> Node<'d> {
    pub(super) fn new(document: &'d Document, path: Vec<Step>, value: &'d Value) -> Self {
        Self {
            document,
            path,
            value,
        }
    }

    pub(super) fn child(&self, step: Step, value: &'d Value) -> Self {
        let mut path = self.path.clone();
        path.push(step);
        Self {
            document: self.document,
            path,
            value,
        }
    }

    /// The value as it stands in the tree.
    #[must_use]
    pub fn value(&self) -> &'d Value {
        self.value
    }

    /// The last step of the path: the key, or the number of an entry; empty at the top.
    #[must_use]
    pub fn name(&self) -> String {
        self.path.last().map(Step::to_string).unwrap_or_default()
    }

    /// The dotted path; empty at the top.
    #[must_use]
    pub fn dotted(&self) -> String {
        self.path
            .iter()
            .map(Step::to_string)
            .collect::<Vec<_>>()
            .join(".")
    }

    /// An error about this value, placed at it.
    #[must_use]
    pub fn error(&self, message: impl Into<String>) -> InputError {
        self.error_placed(message, End::Value)
    }

    /// An error about the key of this value, placed at the key.
    #[must_use]
    pub fn error_at_key(&self, message: impl Into<String>) -> InputError {
        self.error_placed(message, End::Key)
    }

    fn error_placed(&self, message: impl Into<String>, end: End) -> InputError {
        let error = InputError::new(message).with_place(self.document.place(&self.path, end));
        if self.path.is_empty() {
            error
        } else {
            error.with_key(self.dotted())
        }
    }

    fn expected(&self, what: impl fmt::Display) -> InputError {
        let name = if self.path.is_empty() {
            "the file".to_owned()
        } else {
            format!("`{}`", self.dotted())
        };
        match self.value {
            Value::Null => self.error(format!("{name} has no value: expected {what}")),
            other => self.error(format!("{name} must be {what}, got {}", other.words())),
        }
    }

    /// A path written in the document: a relative one starts at the folder of its file, if it has one.
    #[must_use]
    pub fn path_from_file(&self, written: &str) -> PathBuf {
        self.document.path_from_file(written)
    }

    /// The value as text.
    ///
    /// # Errors
    /// When it is anything else, or empty.
    pub fn text(&self) -> Result<&'d str, InputError> {
        match self.value {
            Value::Text(text) if text.trim().is_empty() => {
                Err(self.error(format!("`{}` is empty", self.dotted())))
            }
            Value::Text(text) => Ok(text),
            Value::Bool(_) | Value::Integer(_) | Value::Number(_) => Err(self
                .expected("text")
                .with_help("put it in quotes to have it taken as text")),
            _ => Err(self.expected("text")),
        }
    }

    /// The value as a quantity in SI units inside a bound (also in SI units).
    ///
    /// # Errors
    /// When it is no number, has no unit or the wrong one, is not finite, or is out of bounds.
    pub fn quantity(&self, dimension: Dimension, bound: Bound) -> Result<f64, InputError> {
        let written = match self.value {
            Value::Text(text) => text.clone(),
            Value::Integer(whole) => whole.to_string(),
            Value::Number(number) => number.to_string(),
            _ if dimension.accepts_bare() => return Err(self.expected(dimension)),
            _ => return Err(self.expected(format!("{dimension} in {}", dimension.accepted()))),
        };
        let si = parse_quantity(&written, dimension).map_err(|error| {
            self.error(format!("`{}`: {error}", self.dotted()))
                .with_help(error.help())
        })?;
        if bound.holds(si) {
            return Ok(si);
        }
        let allowed = bound.in_words(dimension);
        let mut got = written.trim().to_owned();
        if dimension == Dimension::Ratio && !got.ends_with('%') {
            got = format!("{got}, which is {}", format_quantity(si, dimension));
        }
        Err(self.error(format!("`{}` must be {allowed}, got {got}", self.dotted())))
    }

    /// The value as a whole number inside a range.
    ///
    /// # Errors
    /// When it is anything else, or out of range.
    pub fn integer(&self, range: RangeInclusive<u64>) -> Result<u64, InputError> {
        let allowed = format!("a whole number from {} to {}", range.start(), range.end());
        let got = match self.value {
            Value::Integer(whole) => match u64::try_from(*whole) {
                Ok(whole) if range.contains(&whole) => return Ok(whole),
                _ => whole.to_string(),
            },
            Value::Number(number) => match whole(*number) {
                Some(whole) if range.contains(&whole) => return Ok(whole),
                _ => number.to_string(),
            },
            Value::Text(text) => format!("`{text}`"),
            _ => return Err(self.expected(allowed)),
        };
        Err(self.error(format!("`{}` must be {allowed}, got {got}", self.dotted())))
    }

    /// The value as a flag: `yes` or `no`, `true` or `false`.
    ///
    /// # Errors
    /// When it is anything else.
    pub fn flag(&self) -> Result<bool, InputError> {
        match self.value {
            Value::Bool(flag) => Ok(*flag),
            Value::Text(text) if text == "yes" => Ok(true),
            Value::Text(text) if text == "no" => Ok(false),
            Value::Text(text) => Err(self.error(format!(
                "`{}` must be yes or no, got `{text}`",
                self.dotted()
            ))),
            _ => Err(self.expected("yes or no")),
        }
    }

    /// The entries of a list.
    ///
    /// # Errors
    /// When it is no list.
    pub fn list(&self) -> Result<Vec<Self>, InputError> {
        match self.value {
            Value::List(items) => Ok(items
                .iter()
                .enumerate()
                .map(|(index, item)| self.child(Step::Item(index), item))
                .collect()),
            _ => Err(self
                .expected("a list")
                .with_help("a list is written `[a, b]`, or as lines that begin with `- `")),
        }
    }

    /// The value as a section, whose keys can be asked for.
    ///
    /// # Errors
    /// When it is no section.
    pub fn section(&self) -> Result<Section<'d>, InputError> {
        match self.value {
            Value::Map(entries) => Ok(Section::new(self.clone(), entries)),
            _ => Err(self
                .expected("a section")
                .with_help("a section is written as lines `key: value`, or as `{key: value}`")),
        }
    }
}

/// A number without a fraction as a whole number, as long as it is exact.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked to be whole, positive and small"
)]
fn whole(number: f64) -> Option<u64> {
    let exact = number.fract() == 0.0 && (0.0..=9.0e15).contains(&number);
    exact.then_some(number as u64)
}
