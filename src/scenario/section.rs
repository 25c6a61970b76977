//! A section of a file: asked key by key, it remembers which keys were asked for and at the end
//! refuses those that nobody asked for. Reading one value is left to `node`.

use std::cell::RefCell;
use std::ops::RangeInclusive;

use super::bound::Bound;
use super::likeness::{closest, looks_like};
use super::message::InputError;
pub use super::node::Node;
use super::value::{Step, Value};
use crate::numeric::units::Dimension;

/// A section of a file.
#[derive(Debug)]
pub struct Section<'d> {
    node: Node<'d>,
    entries: &'d [(String, Value)],
    asked: RefCell<Vec<String>>,
}

impl<'d> Section<'d> {
    pub(super) fn new(node: Node<'d>, entries: &'d [(String, Value)]) -> Self {
        Self {
            node,
            entries,
            asked: RefCell::default(),
        }
    }

    /// The section as a value.
    #[must_use]
    pub fn node(&self) -> &Node<'d> {
        &self.node
    }

    /// Whether the section has this key.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.entries.iter().any(|(name, _)| name == key)
    }

    /// The value of a key that may be left out.
    #[must_use]
    pub fn optional(&self, key: &str) -> Option<Node<'d>> {
        let mut asked = self.asked.borrow_mut();
        if !asked.iter().any(|name| name == key) {
            asked.push(key.to_owned());
        }
        let (_, value) = self.entries.iter().find(|(name, _)| name == key)?;
        Some(self.node.child(Step::Key(key.to_owned()), value))
    }

    /// Counts a key as known, whether it is there or not.
    pub(super) fn allow(&self, key: &str) {
        let _ = self.optional(key);
    }

    /// The value of a key that must be there.
    ///
    /// # Errors
    /// When it is not; `expected` says in the advice what was expected.
    pub fn required(&self, key: &str, expected: &str) -> Result<Node<'d>, InputError> {
        self.optional(key)
            .ok_or_else(|| self.missing(key, expected))
    }

    /// Every entry with its key, for sections whose keys are free; all count as asked for.
    #[must_use]
    pub fn entries(&self) -> Vec<(&'d str, Node<'d>)> {
        self.entries
            .iter()
            .filter_map(|(key, _)| Some((key.as_str(), self.optional(key)?)))
            .collect()
    }

    /// A quantity in SI units.
    ///
    /// # Errors
    /// When it is missing, not of this dimension, or out of bounds.
    pub fn quantity(
        &self,
        key: &str,
        dimension: Dimension,
        bound: Bound,
    ) -> Result<f64, InputError> {
        let expected = match (dimension.accepts_bare(), dimension) {
            (true, _) => dimension.words().to_owned(),
            (false, _) => format!("{dimension} in {}", dimension.accepted()),
        };
        self.required(key, &expected)?.quantity(dimension, bound)
    }

    /// A quantity that may be left out.
    ///
    /// # Errors
    /// When it is there and not of this dimension or out of bounds.
    pub fn optional_quantity(
        &self,
        key: &str,
        dimension: Dimension,
        bound: Bound,
    ) -> Result<Option<f64>, InputError> {
        self.optional(key)
            .map(|node| node.quantity(dimension, bound))
            .transpose()
    }

    /// A text.
    ///
    /// # Errors
    /// When it is missing, empty, or no text.
    pub fn text(&self, key: &str) -> Result<&'d str, InputError> {
        self.required(key, "text")?.text()
    }

    /// A text that may be left out.
    ///
    /// # Errors
    /// When it is there and empty or no text.
    pub fn optional_text(&self, key: &str) -> Result<Option<&'d str>, InputError> {
        self.optional(key).map(|node| node.text()).transpose()
    }

    /// A whole number.
    ///
    /// # Errors
    /// When it is missing, no whole number, or out of range.
    pub fn integer(&self, key: &str, range: RangeInclusive<u64>) -> Result<u64, InputError> {
        self.required(key, "a whole number")?.integer(range)
    }

    /// A whole number that may be left out.
    ///
    /// # Errors
    /// When it is there and no whole number or out of range.
    pub fn optional_integer(
        &self,
        key: &str,
        range: RangeInclusive<u64>,
    ) -> Result<Option<u64>, InputError> {
        self.optional(key)
            .map(|node| node.integer(range))
            .transpose()
    }

    /// A flag that may be left out, which means no.
    ///
    /// # Errors
    /// When it is there and neither yes nor no.
    pub fn flag(&self, key: &str) -> Result<bool, InputError> {
        self.optional(key).map_or(Ok(false), |node| node.flag())
    }

    /// A section.
    ///
    /// # Errors
    /// When it is missing or no section.
    pub fn section(&self, key: &str) -> Result<Self, InputError> {
        self.required(key, "a section")?.section()
    }

    /// A section that may be left out; one without a single key counts as left out.
    ///
    /// # Errors
    /// When it is there and no section.
    pub fn optional_section(&self, key: &str) -> Result<Option<Self>, InputError> {
        match self.optional(key) {
            Some(node) if *node.value() != Value::Null => node.section().map(Some),
            _ => Ok(None),
        }
    }

    /// The entries of a list.
    ///
    /// # Errors
    /// When it is missing or no list.
    pub fn list(&self, key: &str) -> Result<Vec<Node<'d>>, InputError> {
        self.required(key, "a list")?.list()
    }

    /// The entries of a list that may be left out; left out it has none.
    ///
    /// # Errors
    /// When it is there and no list.
    pub fn optional_list(&self, key: &str) -> Result<Vec<Node<'d>>, InputError> {
        self.optional(key)
            .map_or(Ok(Vec::new()), |node| node.list())
    }

    /// The entries of a list of sections that may be left out.
    ///
    /// # Errors
    /// When it is there and no list, or an entry is no section.
    pub fn optional_sections(&self, key: &str) -> Result<Vec<Self>, InputError> {
        self.optional_list(key)?.iter().map(Node::section).collect()
    }

    /// An error about the section as a whole, placed at its key.
    #[must_use]
    pub fn error(&self, message: impl Into<String>) -> InputError {
        self.node.error_at_key(message)
    }

    /// An error about the value of a key, placed at the value; about the section if there is none.
    #[must_use]
    pub fn error_at(&self, key: &str, message: impl Into<String>) -> InputError {
        match self.optional(key) {
            Some(node) => node.error(message),
            None => self.error(message),
        }
    }

    /// Ends the reading.
    ///
    /// # Errors
    /// When there is a key that was never asked for.
    pub fn finish(self) -> Result<(), InputError> {
        let asked = self.asked.borrow();
        match self.entries.iter().find(|(key, _)| !asked.contains(key)) {
            Some((key, value)) => Err(self.unknown(key, value, None)),
            None => Ok(()),
        }
    }

    /// A key that is missing, or mistyped if one that nobody asked for looks like it.
    fn missing(&self, key: &str, expected: &str) -> InputError {
        let asked = self.asked.borrow();
        let mistyped = self
            .entries
            .iter()
            .find(|(name, _)| !asked.contains(name) && looks_like(name, key));
        if let Some((name, value)) = mistyped {
            return self.unknown(name, value, Some(key));
        }
        let place = if self.node.dotted().is_empty() {
            "the file".to_owned()
        } else {
            format!("`{}`", self.node.dotted())
        };
        self.error(format!("`{key}` is missing in {place}"))
            .with_help(format!("add `{key}: ...`, {expected}"))
    }

    fn unknown(&self, key: &str, value: &'d Value, meant: Option<&str>) -> InputError {
        let asked = self.asked.borrow();
        let meant = meant.or_else(|| closest(key, asked.iter().map(String::as_str)));
        let help = match meant {
            Some(meant) => format!("did you mean `{meant}`?"),
            None if asked.is_empty() => "nothing may stand here".to_owned(),
            None => format!("known here: {}", asked.join(", ")),
        };
        let node = self.node.child(Step::Key(key.to_owned()), value);
        node.error_at_key(format!("unknown key `{key}`"))
            .with_help(help)
            .of_unknown_key()
    }
}

#[cfg(test)]
mod tests {
    use super::super::document::Document;
    use super::*;

    fn document(text: &str) -> Document {
        Document::from_text("ship.yaml", text).unwrap()
    }

    #[test]
    fn values_are_read_by_kind() {
        let document = document(
            "mass: 62 t\ncount: 7\nyes_or_no: yes\nlist: [1 s, 2 s]\nfree: {a: b}\nshare: 3 %\nempty:\n",
        );
        let root = document.root().unwrap();
        assert_eq!(
            root.quantity("mass", Dimension::Mass, Bound::above(0.0)),
            Ok(62_000.0)
        );
        assert_eq!(root.integer("count", 0..=9), Ok(7));
        assert_eq!(root.flag("yes_or_no"), Ok(true));
        assert_eq!(root.flag("absent"), Ok(false));
        assert_eq!(
            root.quantity("share", Dimension::Ratio, Bound::ANY),
            Ok(0.03)
        );
        let times: Result<Vec<f64>, _> = root
            .list("list")
            .unwrap()
            .iter()
            .map(|item| item.quantity(Dimension::Time, Bound::ANY))
            .collect();
        assert_eq!(times, Ok(vec![1.0, 2.0]));
        let free = root.section("free").unwrap();
        assert_eq!(
            free.entries()
                .iter()
                .map(|(key, _)| *key)
                .collect::<Vec<_>>(),
            ["a"]
        );
        assert!(root.optional_section("empty").unwrap().is_none());
        free.finish().unwrap();
        root.finish().unwrap();
    }

    #[test]
    fn an_unknown_key_is_shown_with_the_one_meant() {
        let document = document("ship:\n  mass: 62 t\n  passangers: 4\n");
        let ship = document.root().unwrap().section("ship").unwrap();
        ship.quantity("mass", Dimension::Mass, Bound::ANY).unwrap();
        ship.optional_integer("passengers", 0..=9).unwrap();
        let expected = "\
unknown key `passangers`
  --> ship.yaml:3:3
3 |   passangers: 4
  |   ^^^^^^^^^^
  key:  ship.passangers
  help: did you mean `passengers`?";
        assert_eq!(ship.finish().unwrap_err().to_string(), expected);
    }

    #[test]
    fn a_mistyped_required_key_is_not_called_missing() {
        let document = document("ship: {mas: 62 t}\n");
        let ship = document.root().unwrap().section("ship").unwrap();
        let error = ship
            .quantity("mass", Dimension::Mass, Bound::ANY)
            .unwrap_err();
        assert_eq!(error.message(), "unknown key `mas`");
        assert_eq!(error.help(), Some("did you mean `mass`?"));
    }

    #[test]
    fn a_missing_key_is_told_what_was_expected() {
        let document = document("ship:\n  name: x\n");
        let ship = document.root().unwrap().section("ship").unwrap();
        let expected = "\
`mass` is missing in `ship`
  --> ship.yaml:1:1
1 | ship:
  | ^^^^
  key:  ship
  help: add `mass: ...`, a mass in t or kg";
        assert_eq!(
            ship.quantity("mass", Dimension::Mass, Bound::ANY)
                .unwrap_err()
                .to_string(),
            expected
        );
    }

    #[test]
    fn a_value_out_of_bounds_is_shown() {
        let document = document("ship:\n  mass: \"-5 t\" # odd\n");
        let ship = document.root().unwrap().section("ship").unwrap();
        let expected = "\
`ship.mass` must be above 0 kg, got -5 t
  --> ship.yaml:2:9
2 |   mass: \"-5 t\" # odd
  |         ^^^^^^
  key:  ship.mass";
        assert_eq!(
            ship.quantity("mass", Dimension::Mass, Bound::above(0.0))
                .unwrap_err()
                .to_string(),
            expected
        );
    }

    #[test]
    fn errors_in_lists_point_at_the_entry() {
        let document = document("rows:\n  - [1 km, 2]\n");
        let row = document.root().unwrap().list("rows").unwrap()[0]
            .list()
            .unwrap();
        let expected = "\
`rows.0.1`: `2` has no unit
  --> ship.yaml:2:12
2 |   - [1 km, 2]
  |            ^
  key:  rows.0.1
  help: add the unit, for example `2 kg/m3`; a density takes kg/m3, g/m3, g/cm3 or kg/km3";
        assert_eq!(
            row[1]
                .quantity(Dimension::Density, Bound::ANY)
                .unwrap_err()
                .to_string(),
            expected
        );
    }
}
