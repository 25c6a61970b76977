//! A loaded file: its text, its tree, and the values set over it from the command line.
//! Knows where each value came from; what the keys mean is left to the sections' readers.

use std::path::{Path, PathBuf};

use super::emit::emit;
use super::message::{InputError, Place};
use super::nesting::DEEPEST;
use super::paths::{child, put, step_into};
use super::section::{Node, Section};
use super::source::Source;
use super::token::width_at;
use super::value::{Step, Value};
use super::walk::End;
use super::yaml;

/// A scenario or world file as loaded, with the values set over it.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    source: Source,
    root: Value,
    overrides: Vec<Override>,
}

/// A value set over the file.
#[derive(Debug, Clone, PartialEq)]
struct Override {
    steps: Vec<Step>,
    assignment: String,
}

impl Document {
    /// Loads a file of at most 1 MiB of UTF-8 text.
    ///
    /// # Errors
    /// When the file cannot be read, is too large, not UTF-8, nested too deeply or not YAML.
    pub fn read(path: &Path) -> Result<Self, InputError> {
        Self::parse(Source::read(path)?)
    }

    /// Loads a text that is already in memory; `name` stands in messages for the file's path.
    ///
    /// # Errors
    /// As for [`Document::read`].
    pub fn from_text(name: &str, text: &str) -> Result<Self, InputError> {
        Self::parse(Source::from_text(name, text)?)
    }

    fn parse(source: Source) -> Result<Self, InputError> {
        match yaml::parse(&source.text) {
            Ok(root) => Ok(Self {
                source,
                root,
                overrides: Vec::new(),
            }),
            Err(fault) => Err(source.fault(fault)),
        }
    }

    /// Sets the value at a dotted path, as in `ship.mass` or `limits.stay_above.0.level`.
    ///
    /// The value is read as YAML, so `60 t`, `[1, 2]` and `{from: 30 km}` all work. A key that
    /// is not there yet is added: whether it may be there is decided when the file is decoded.
    ///
    /// # Errors
    /// A path that is empty, too long or leads nowhere; a value that is not YAML.
    pub fn set(&mut self, path: &str, value: &str) -> Result<(), InputError> {
        self.set_as(format!("--set {path}={value}"), (path, value))
    }

    /// As [`Document::set`]; `assignment` is what messages say the value comes from.
    ///
    /// # Errors
    /// As for [`Document::set`].
    pub fn set_as(
        &mut self,
        assignment: String,
        (path, value): (&str, &str),
    ) -> Result<(), InputError> {
        let place = Place {
            source: assignment.clone(),
            position: None,
        };
        let refuse = |error: InputError| error.with_place(place.clone()).with_key(path);
        let parts: Vec<&str> = path.split('.').collect();
        if parts.iter().any(|part| part.trim().is_empty()) {
            let empty = InputError::new("a key to set is empty");
            return Err(refuse(
                empty.with_help("write the key as in `section.key=value`"),
            ));
        }
        if parts.len() > DEEPEST {
            return Err(refuse(InputError::new("a key to set has too many parts")));
        }
        let value = Source::from_text(&assignment, value)
            .map_err(|error| refuse(InputError::new(error.message())))
            .and_then(|source| yaml::parse(&source.text).map_err(|fault| refuse(fault.into())))?;
        let mut steps = Vec::new();
        put(&mut self.root, &parts, value, &mut steps).map_err(refuse)?;
        self.overrides.push(Override { steps, assignment });
        Ok(())
    }

    /// The top of the file.
    ///
    /// # Errors
    /// When the file is empty or its top is no section.
    pub fn root(&self) -> Result<Section<'_>, InputError> {
        if self.root == Value::Null {
            let help = "see `periband new` for a file to start from";
            return Err(InputError::new("the file is empty")
                .with_place(self.source.whole())
                .with_help(help));
        }
        self.root_node().section()
    }

    fn root_node(&self) -> Node<'_> {
        Node::new(self, Vec::new(), &self.root)
    }

    /// Name of the source for messages: the path as given, or the name of a text in memory.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.source.name
    }

    /// Path of the file, unless the text was in memory.
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        self.source.path.as_deref()
    }

    /// A path written in the document: a relative one starts at the folder of its file, if it has one.
    #[must_use]
    pub fn path_from_file(&self, written: &str) -> PathBuf {
        let folder = self.path().and_then(Path::parent);
        folder.unwrap_or(Path::new("")).join(written)
    }

    /// The text as loaded, without the values set over it.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.source.text
    }

    /// The document as run, ready to be loaded again: the text as loaded if nothing was set over
    /// it, else the tree written anew below a comment that lists what was set.
    #[must_use]
    pub fn as_run(&self) -> String {
        if self.overrides.is_empty() {
            return self.source.text.clone();
        }
        let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let mut text = format!("# {} with values set over it:\n", one_line(self.name()));
        for set in self.overrides() {
            text = format!("{text}#   {}\n", one_line(set));
        }
        text + &emit(&self.root)
    }

    /// The tree with the values set over it as text, however it came about: without comments, in one form.
    #[must_use]
    pub fn resolved(&self) -> String {
        emit(&self.root)
    }

    /// Whether there is a value at a dotted path.
    #[must_use]
    pub fn has(&self, path: &str) -> bool {
        let parts: Vec<&str> = path.split('.').collect();
        let mut value = &self.root;
        let mut rest = parts.as_slice();
        while let Some((_, inner, left)) = step_into(value, rest) {
            value = inner;
            rest = left;
        }
        rest.is_empty()
    }

    /// The values set over the file, each as `--set key=value`, in the order given.
    pub fn overrides(&self) -> impl Iterator<Item = &str> {
        self.overrides.iter().map(|set| set.assignment.as_str())
    }

    /// The tree with the values set over it.
    #[must_use]
    pub fn tree(&self) -> &Value {
        &self.root
    }

    /// An error about the value at a dotted path, placed as well as possible.
    #[must_use]
    pub fn error_at(&self, path: &str, message: impl Into<String>) -> InputError {
        let parts: Vec<&str> = path.split('.').collect();
        let mut steps = Vec::new();
        let mut value = &self.root;
        let mut rest = parts.as_slice();
        while let Some((step, inner, left)) = step_into(value, rest) {
            steps.push(step);
            value = inner;
            rest = left;
        }
        InputError::new(message)
            .with_place(self.place(&steps, End::Value))
            .with_key(path)
    }

    /// Where the node at a path stands: in a `--set`, at a place of the file, or somewhere in it.
    pub(super) fn place(&self, path: &[Step], end: End) -> Place {
        if let Some(set) = self
            .overrides
            .iter()
            .rev()
            .find(|set| path.starts_with(&set.steps))
        {
            return Place {
                source: set.assignment.clone(),
                position: None,
            };
        }
        let value = path
            .iter()
            .try_fold(&self.root, |value, step| child(value, step));
        let end = match value {
            Some(Value::Null) | None => End::Key,
            Some(_) => end,
        };
        if path.is_empty() {
            return self.source.whole();
        }
        if let Some(index) = yaml::locate(&self.source.text, path, end) {
            let width = width_at(&self.source.text[index..], value, end);
            return self.source.place(index, width);
        }
        // A section that is not in the file stands in the `--set` that made it.
        match self
            .overrides
            .iter()
            .find(|set| set.steps.starts_with(path))
        {
            Some(set) => Place {
                source: set.assignment.clone(),
                position: None,
            },
            None => self.source.whole(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::bound::Bound;
    use super::*;
    use crate::numeric::units::Dimension;

    const TEXT: &str = "ship:\n  mass: 62 t\nlimits:\n  stay_above: [{level: 2 g, at_most: 90 s}]\nuncertainty:\n  ship.mass: {normal: {std_dev: 1 %}}\n";

    fn document() -> Document {
        Document::from_text("arrival.yaml", TEXT).unwrap()
    }

    fn mass(document: &Document) -> Result<f64, InputError> {
        document
            .root()?
            .section("ship")?
            .quantity("mass", Dimension::Mass, Bound::above(0.0))
    }

    #[test]
    fn a_value_set_replaces_the_one_in_the_file() {
        let mut document = document();
        document.set("ship.mass", "60t").unwrap();
        assert_eq!(mass(&document), Ok(60_000.0));
        assert_eq!(
            document.overrides().collect::<Vec<_>>(),
            ["--set ship.mass=60t"]
        );
        document.set("limits.stay_above.0.level", "3 g").unwrap();
        document
            .set("uncertainty.ship.mass.normal.std_dev", "2 %")
            .unwrap();
        document.set("ask.seed", "7").unwrap();
        let tree = document.tree();
        let text = |text: &str| Value::Text(text.to_owned());
        assert_eq!(
            tree.get("uncertainty")
                .unwrap()
                .get("ship.mass")
                .unwrap()
                .get("normal")
                .unwrap()
                .get("std_dev"),
            Some(&text("2 %"))
        );
        assert_eq!(
            tree.get("ask").unwrap().get("seed"),
            Some(&Value::Integer(7))
        );
    }

    #[test]
    fn errors_in_a_value_set_point_at_it() {
        let mut document = document();
        document.set("ship.mass", "-60t").unwrap();
        let expected = "\
`ship.mass` must be above 0 kg, got -60t
  --> --set ship.mass=-60t
  key:  ship.mass";
        assert_eq!(mass(&document).unwrap_err().to_string(), expected);
        document.set("ship.mss", "1 t").unwrap();
        let error = document
            .root()
            .unwrap()
            .section("ship")
            .unwrap()
            .finish()
            .unwrap_err();
        assert_eq!(error.key(), Some("ship.mass"));
    }

    #[test]
    fn a_key_that_nobody_knows_points_at_the_set() {
        let mut document = document();
        document.set("ship.mas", "60 t").unwrap();
        let ship = document.root().unwrap().section("ship").unwrap();
        ship.quantity("mass", Dimension::Mass, Bound::ANY).unwrap();
        let expected = "\
unknown key `mas`
  --> --set ship.mas=60 t
  key:  ship.mas
  help: did you mean `mass`?";
        assert_eq!(ship.finish().unwrap_err().to_string(), expected);
    }

    #[test]
    fn what_cannot_be_set_is_refused() {
        let mut document = document();
        for (path, value, message) in [
            ("", "1", "a key to set is empty"),
            ("ship..mass", "1", "a key to set is empty"),
            ("ship.mass.x", "1", "`x` cannot be set inside text"),
            (
                "limits.stay_above.1.level",
                "1 g",
                "`1` is no entry of a list",
            ),
            (
                "ship.mass",
                "[1",
                "a `[` is not closed, or a comma is missing",
            ),
            ("ship.mass", ".nan", "every number must be finite"),
        ] {
            assert_eq!(
                document.set(path, value).unwrap_err().message(),
                message,
                "{path}={value}"
            );
        }
        assert_eq!(document, self::document());
    }

    #[test]
    fn an_error_can_be_placed_by_its_dotted_path() {
        let document = document();
        let place = |path: &str| {
            let error = document.error_at(path, "no");
            let position = error
                .place()
                .and_then(|place| place.position.clone())
                .unwrap();
            (position.line, position.column, position.width)
        };
        assert_eq!(place("ship.mass"), (2, 9, 4));
        assert_eq!(place("limits.stay_above.0.level"), (4, 24, 3));
        assert_eq!(place("limits.stay_above"), (4, 15, 29));
        assert_eq!(place("uncertainty.ship.mass.normal.std_dev"), (6, 33, 3));
        assert_eq!(document.error_at("", "no").place().unwrap().position, None);
    }

    #[test]
    fn an_empty_file_and_a_list_are_no_documents() {
        for text in ["", "# only a comment\n", "~"] {
            assert_eq!(
                Document::from_text("x", text)
                    .unwrap()
                    .root()
                    .unwrap_err()
                    .message(),
                "the file is empty"
            );
        }
        let error = Document::from_text("x", "- a\n- b\n")
            .unwrap()
            .root()
            .unwrap_err();
        assert_eq!(error.message(), "the file must be a section, got a list");
    }
}
