//! Walks down a path through whatever a deserializer offers and stops with an error at its end,
//! so that a deserializer that adds places to errors tells where the node stands.

use std::cell::Cell;
use std::fmt;

use serde::de::{DeserializeSeed, Error as _, IgnoredAny, MapAccess, SeqAccess, Visitor};

use super::value::Step;

/// Which end of an entry of a map is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum End {
    Key,
    Value,
}

/// Always ends with an error; it is the one wanted if `found` is set.
#[derive(Clone, Copy)]
pub(super) struct Walk<'p> {
    pub(super) path: &'p [Step],
    pub(super) end: End,
    pub(super) found: &'p Cell<bool>,
}

impl<'de> DeserializeSeed<'de> for Walk<'_> {
    type Value = ();

    fn deserialize<D: serde::Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        if self.path.is_empty() {
            self.found.set(true);
            return deserializer.deserialize_any(Refuse);
        }
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Walk<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list or a map")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<(), A::Error> {
        if let Some((Step::Item(index), rest)) = self.path.split_first() {
            for _ in 0..*index {
                items.next_element::<IgnoredAny>()?;
            }
            items.next_element_seed(Walk { path: rest, ..self })?;
        }
        Err(A::Error::custom("lost"))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<(), A::Error> {
        if let Some((Step::Key(wanted), rest)) = self.path.split_first() {
            let stop_at = if rest.is_empty() && self.end == End::Key {
                Some(self.found)
            } else {
                None
            };
            while let Some(matches) = entries.next_key_seed(WantedKey { wanted, stop_at })? {
                if matches {
                    entries.next_value_seed(Walk { path: rest, ..self })?;
                } else {
                    entries.next_value::<IgnoredAny>()?;
                }
            }
        }
        Err(A::Error::custom("lost"))
    }
}

/// Takes nothing: every value is an error at its place.
struct Refuse;

impl Visitor<'_> for Refuse {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("nothing")
    }
}

/// Tells whether a key is the one wanted, or stops at it.
struct WantedKey<'p> {
    wanted: &'p str,
    stop_at: Option<&'p Cell<bool>>,
}

impl<'de> DeserializeSeed<'de> for WantedKey<'_> {
    type Value = bool;

    fn deserialize<D: serde::Deserializer<'de>>(self, deserializer: D) -> Result<bool, D::Error> {
        deserializer.deserialize_str(self)
    }
}

impl Visitor<'_> for WantedKey<'_> {
    type Value = bool;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a key")
    }

    fn visit_str<E: serde::de::Error>(self, key: &str) -> Result<bool, E> {
        let matches = key == self.wanted;
        if let (true, Some(found)) = (matches, self.stop_at) {
            found.set(true);
            return Err(E::custom("stopped"));
        }
        Ok(matches)
    }
}
