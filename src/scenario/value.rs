//! The tree that a file is read into, before anything is known about its keys.
//! Reading it from text is left to `yaml`, its meaning to the sections.

use std::fmt;

/// A node of the tree. Numbers are finite, keys of a map are distinct.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Nothing, `~` or `null`.
    Null,
    /// `true` or `false`.
    Bool(bool),
    /// A whole number.
    Integer(i128),
    /// A number with a point or an exponent.
    Number(f64),
    /// Everything else that is written in one piece.
    Text(String),
    /// A list.
    List(Vec<Value>),
    /// A map in the order of the text.
    Map(Vec<(String, Value)>),
}

impl Value {
    /// The kind of value in words, as in "got a list".
    #[must_use]
    pub fn words(&self) -> &'static str {
        match self {
            Self::Null => "nothing",
            Self::Bool(_) => "true or false",
            Self::Integer(_) | Self::Number(_) => "a number",
            Self::Text(_) => "text",
            Self::List(_) => "a list",
            Self::Map(_) => "a section",
        }
    }

    /// The value of `key` if this is a map that has it.
    #[must_use]
    pub fn get(&self, key: &str) -> Option<&Self> {
        match self {
            Self::Map(entries) => entries
                .iter()
                .find(|(name, _)| name == key)
                .map(|(_, value)| value),
            _ => None,
        }
    }
}

/// One step of a path from the root to a node.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// Into a map.
    Key(String),
    /// Into a list, from 0.
    Item(usize),
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Key(key) => f.write_str(key),
            Self::Item(index) => write!(f, "{index}"),
        }
    }
}
