//! Builds the tree of values from whatever a deserializer offers, and says what it does not take:
//! numbers that are not finite, keys given twice, tags. Which deserializer is left to `yaml`.

use std::cell::{Cell, RefCell};
use std::collections::HashSet;
use std::fmt;

use serde::de::{DeserializeSeed, EnumAccess, MapAccess, SeqAccess, Visitor};

use super::value::Value;
use super::visible::visible;

/// More nodes than any text of the accepted size can hold without aliases that multiply.
const MOST_NODES: usize = 600_000;

/// What the visitors share: a budget, and the complaint of the one that stopped.
#[derive(Default)]
pub(super) struct Reading {
    nodes: Cell<usize>,
    /// What is wrong, and advice.
    pub(super) complaint: RefCell<Option<(String, Option<&'static str>)>>,
}

impl Reading {
    fn stop<E: serde::de::Error>(
        &self,
        message: impl Into<String>,
        help: Option<&'static str>,
    ) -> E {
        self.complain(message, help);
        E::custom("stopped")
    }

    fn complain(&self, message: impl Into<String>, help: Option<&'static str>) {
        self.complaint.replace(Some((message.into(), help)));
    }

    fn count<E: serde::de::Error>(&self) -> Result<(), E> {
        self.nodes.set(self.nodes.get() + 1);
        if self.nodes.get() > MOST_NODES {
            return Err(self.stop(
                "aliases (`*name`) multiply into too many values",
                Some("write the values out"),
            ));
        }
        Ok(())
    }
}

/// Builds the tree.
#[derive(Clone, Copy)]
pub(super) struct Node<'r>(pub(super) &'r Reading);

impl<'de> DeserializeSeed<'de> for Node<'_> {
    type Value = Value;

    fn deserialize<D: serde::Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Node<'_> {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a value")
    }

    fn visit_unit<E: serde::de::Error>(self) -> Result<Value, E> {
        self.0.count()?;
        Ok(Value::Null)
    }

    fn visit_none<E: serde::de::Error>(self) -> Result<Value, E> {
        self.visit_unit()
    }

    fn visit_bool<E: serde::de::Error>(self, value: bool) -> Result<Value, E> {
        self.0.count()?;
        Ok(Value::Bool(value))
    }

    fn visit_i64<E: serde::de::Error>(self, value: i64) -> Result<Value, E> {
        self.visit_i128(i128::from(value))
    }

    fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Value, E> {
        self.visit_i128(i128::from(value))
    }

    fn visit_i128<E: serde::de::Error>(self, value: i128) -> Result<Value, E> {
        self.0.count()?;
        Ok(Value::Integer(value))
    }

    fn visit_u128<E: serde::de::Error>(self, value: u128) -> Result<Value, E> {
        match i128::try_from(value) {
            Ok(value) => self.visit_i128(value),
            Err(_) => Err(self.0.stop("the number is too large", None)),
        }
    }

    fn visit_f64<E: serde::de::Error>(self, value: f64) -> Result<Value, E> {
        self.0.count()?;
        if value.is_finite() {
            Ok(Value::Number(value))
        } else {
            Err(self.0.stop("every number must be finite", None))
        }
    }

    fn visit_str<E: serde::de::Error>(self, value: &str) -> Result<Value, E> {
        self.0.count()?;
        Ok(Value::Text(visible(value)))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        self.0.count()?;
        let mut list = Vec::new();
        while let Some(item) = items.next_element_seed(self)? {
            list.push(item);
        }
        Ok(Value::List(list))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        self.0.count()?;
        let mut map: Vec<(String, Value)> = Vec::new();
        let mut known = HashSet::new();
        while let Some(key) = entries.next_key_seed(NewKey {
            reading: self.0,
            known: &known,
        })? {
            known.insert(key.clone());
            map.push((key, entries.next_value_seed(self)?));
        }
        Ok(Value::Map(map))
    }

    fn visit_enum<A: EnumAccess<'de>>(self, _tagged: A) -> Result<Value, A::Error> {
        Err(self.0.stop(
            "tags (`!name`) are not used here",
            Some("put text that begins with `!` in quotes"),
        ))
    }
}

/// A key that its map does not have yet.
struct NewKey<'r> {
    reading: &'r Reading,
    known: &'r HashSet<String>,
}

impl<'de> DeserializeSeed<'de> for NewKey<'_> {
    type Value = String;

    fn deserialize<D: serde::Deserializer<'de>>(self, deserializer: D) -> Result<String, D::Error> {
        // Every kind of key that the visitor does not take is refused with this complaint.
        self.reading
            .complain("a key must be text", Some("put the key in quotes"));
        deserializer.deserialize_any(self)
    }
}

impl Visitor<'_> for NewKey<'_> {
    type Value = String;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a key")
    }

    fn visit_str<E: serde::de::Error>(self, key: &str) -> Result<String, E> {
        let shown = visible(key);
        let key = shown.as_str();
        if self.known.contains(key) {
            return Err(self.reading.stop(
                format!("`{key}` is given twice"),
                Some("keep one of the two"),
            ));
        }
        if key == "<<" {
            return Err(self.reading.stop(
                "merge keys (`<<`) are not used here",
                Some("write the keys out"),
            ));
        }
        self.reading.complaint.take();
        Ok(key.to_owned())
    }
}
