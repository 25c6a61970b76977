//! YAML text to a plain tree of values, and back to the place of a node in the text.
//! The only file that names the YAML library; what the values mean is left to others.

use std::cell::Cell;

use serde::de::{Deserialize, DeserializeSeed, IgnoredAny};
use serde_yaml::Deserializer;

use super::tree::{Node, Reading};
use super::value::{Step, Value};
use super::walk::{End, Walk};

/// What is wrong with a text as YAML.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Fault {
    pub(super) message: String,
    pub(super) help: Option<&'static str>,
    /// Byte offset of the place.
    pub(super) index: Option<usize>,
}

/// Reads one YAML document.
pub(super) fn parse(text: &str) -> Result<Value, Fault> {
    let reading = Reading::default();
    let mut documents = Deserializer::from_str(text);
    let Some(first) = documents.next() else {
        return Ok(Value::Null);
    };
    let value = Node(&reading)
        .deserialize(first)
        .map_err(|error| fault(&reading, &error, text))?;
    if let Some(second) = documents.next() {
        return Err(second_fault(second, text));
    }
    Ok(value)
}

/// What is wrong when something follows the document: another one, or what cannot stand there.
fn second_fault(second: Deserializer<'_>, text: &str) -> Fault {
    let index = second_document(text);
    if let (None, Err(error)) = (index, IgnoredAny::deserialize(second)) {
        return fault(&Reading::default(), &error, text);
    }
    Fault {
        message: "the file holds more than one YAML document".to_owned(),
        help: Some("keep one document; remove the line `---` or `...` and what follows it"),
        index,
    }
}

/// Byte offset of the first line that ends a document, after the document has begun.
fn second_document(text: &str) -> Option<usize> {
    let mut begun = false;
    let mut index = 0;
    for line in text.split_inclusive('\n') {
        let content = line.trim_end();
        if begun && (content == "..." || content == "---" || content.starts_with("--- ")) {
            return Some(index);
        }
        begun |= !content.is_empty() && !content.starts_with('#') && !content.starts_with('%');
        index += line.len();
    }
    None
}

/// The reader's complaint, or the library's in plainer words, with its place.
fn fault(reading: &Reading, error: &serde_yaml::Error, text: &str) -> Fault {
    let index = error
        .location()
        .map(|location| char_start(text, location.index()));
    if let Some((message, help)) = reading.complaint.take() {
        return Fault {
            message,
            help,
            index,
        };
    }
    let says = error.to_string();
    let problem = says.split(", while ").next().unwrap_or(&says);
    let problem = problem.split(" at line ").next().unwrap_or(problem);
    let problem = problem.split(" at position ").next().unwrap_or(problem);
    let begun = beginning(&says, text);
    let plain = |message: &str, help, index| Fault {
        message: message.to_owned(),
        help,
        index,
    };
    match problem {
        "recursion limit exceeded" => {
            plain("lists and sections are nested too deeply", None, index)
        }
        "repetition limit exceeded" => plain(
            "aliases (`*name`) multiply into too many values",
            Some("write the values out"),
            index,
        ),
        "found character that cannot start any token"
            if index.is_some_and(|at| text[at..].starts_with('\t')) =>
        {
            plain(
                "a tab cannot be used to indent",
                Some("indent with spaces"),
                index,
            )
        }
        "found unexpected end of stream" if says.contains("a quoted scalar") => plain(
            "a quote is not closed",
            Some("close the quote on the same line"),
            begun,
        ),
        "did not find expected ',' or '}'" => {
            plain("a `{` is not closed, or a comma is missing", None, begun)
        }
        "did not find expected ',' or ']'" => {
            plain("a `[` is not closed, or a comma is missing", None, begun)
        }
        _ => Fault {
            message: format!("this is not YAML: {problem}"),
            help: syntax_help(problem),
            index,
        },
    }
}

/// Byte offset of the place where, by the library's message, the thing begins that is broken:
/// it is told as `while ... at line 9 column 11`, or not at all if it is the start of the text.
fn beginning(says: &str, text: &str) -> Option<usize> {
    let Some((_, place)) = says
        .split_once(", while ")
        .and_then(|(_, context)| context.split_once(" at line "))
    else {
        return Some(0);
    };
    let (line, column) = place.split_once(" column ")?;
    let (line, column): (usize, usize) = (line.parse().ok()?, column.parse().ok()?);
    let start: usize = text
        .split_inclusive('\n')
        .take(line.checked_sub(1)?)
        .map(str::len)
        .sum();
    let (inside, _) = text[start..].char_indices().nth(column.checked_sub(1)?)?;
    Some(start + inside)
}

fn syntax_help(problem: &str) -> Option<&'static str> {
    if problem.starts_with("mapping values are not allowed") {
        Some(
            "a second `:` on this line, a `:` without a space after it, or lines that are indented differently",
        )
    } else if problem.starts_with("did not find expected key") {
        Some("the keys of a section must be indented alike, each followed by `:`")
    } else if problem.starts_with("did not find expected <document start>") {
        Some("a file is lines of `key: value`; put text with marks like `,` or `\"` in quotes")
    } else if problem.starts_with("could not find expected ':'") {
        Some("each key is followed by `:` and a space")
    } else if problem.contains("unknown anchor") {
        Some(
            "an alias `*name` needs an anchor `&name` before it; put text that begins with `*` in quotes",
        )
    } else {
        None
    }
}

/// The start of the character at a byte offset, within the text.
fn char_start(text: &str, index: usize) -> usize {
    (0..=index.min(text.len()))
        .rev()
        .find(|at| text.is_char_boundary(*at))
        .unwrap_or(0)
}

/// Byte offset of the node at `path`, or of its key.
///
/// The library keeps no places, so the text is read again down to the node, where the
/// walk stops with an error: the library adds the place of the node to it.
pub(super) fn locate(text: &str, path: &[Step], end: End) -> Option<usize> {
    let found = Cell::new(false);
    let document = Deserializer::from_str(text).next()?;
    let error = Walk {
        path,
        end,
        found: &found,
    }
    .deserialize(document)
    .err()?;
    if !found.get() {
        return None;
    }
    error
        .location()
        .map(|location| char_start(text, location.index()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(name: &str) -> Step {
        Step::Key(name.to_owned())
    }

    const TEXT: &str = "\
# mass of the \u{e9}toile
title: \u{e9} \u{2192} x
ship:
  mass: 62 t
  engine: { thrust: 80 kN, 'isp': \"340 s\" }
limits:
  stay_above:
    - level: 2 g
      at_most: 90 s
    - {level: 3 g, at_most: 5 s}
  nothing:
last: [1, [2, 3.5], true]
";

    fn found(path: &[Step], end: End) -> &'static str {
        let index = locate(TEXT, path, end).unwrap();
        TEXT[index..].split(['\n', ',', '}', ']']).next().unwrap()
    }

    #[test]
    fn nodes_are_found_in_block_and_flow_form() {
        assert_eq!(found(&[key("ship"), key("mass")], End::Value), "62 t");
        assert_eq!(found(&[key("ship"), key("mass")], End::Key), "mass: 62 t");
        assert_eq!(
            found(&[key("ship"), key("engine"), key("thrust")], End::Value),
            "80 kN"
        );
        assert_eq!(
            found(&[key("ship"), key("engine"), key("isp")], End::Key),
            "'isp': \"340 s\" "
        );
        assert_eq!(
            found(&[key("ship"), key("engine"), key("isp")], End::Value),
            "\"340 s\" "
        );
        assert_eq!(
            found(&[key("ship"), key("engine")], End::Value),
            "{ thrust: 80 kN"
        );
        assert_eq!(found(&[key("ship")], End::Value), "mass: 62 t");
        assert_eq!(found(&[key("ship")], End::Key), "ship:");
        let stay = [
            key("limits"),
            key("stay_above"),
            Step::Item(1),
            key("at_most"),
        ];
        assert_eq!(found(&stay, End::Value), "5 s");
        assert_eq!(found(&stay[..3], End::Value), "{level: 3 g");
        assert_eq!(
            found(
                &[
                    key("limits"),
                    key("stay_above"),
                    Step::Item(0),
                    key("at_most")
                ],
                End::Key
            ),
            "at_most: 90 s"
        );
        assert_eq!(
            found(&[key("last"), Step::Item(1), Step::Item(1)], End::Value),
            "3.5"
        );
        assert_eq!(found(&[key("last"), Step::Item(2)], End::Value), "true");
    }

    #[test]
    fn what_is_not_there_is_not_found() {
        assert_eq!(locate(TEXT, &[key("shop")], End::Key), None);
        assert_eq!(
            locate(TEXT, &[key("ship"), key("mass"), key("x")], End::Value),
            None
        );
        assert_eq!(
            locate(TEXT, &[key("last"), Step::Item(9)], End::Value),
            None
        );
        assert_eq!(
            locate(TEXT, &[key("ship"), Step::Item(0)], End::Value),
            None
        );
    }

    #[test]
    fn the_tree_keeps_order_and_kinds() {
        let tree = parse(TEXT).unwrap();
        assert_eq!(
            tree.get("title"),
            Some(&Value::Text("\u{e9} \u{2192} x".to_owned()))
        );
        assert_eq!(
            tree.get("limits").and_then(|limits| limits.get("nothing")),
            Some(&Value::Null)
        );
        let inner = Value::List(vec![Value::Integer(2), Value::Number(3.5)]);
        assert_eq!(
            tree.get("last"),
            Some(&Value::List(vec![
                Value::Integer(1),
                inner,
                Value::Bool(true)
            ]))
        );
        assert_eq!(parse(""), Ok(Value::Null));
        assert_eq!(
            parse("a: 18446744073709551615").unwrap().get("a"),
            Some(&Value::Integer(i128::from(u64::MAX)))
        );
    }

    fn fault_of(text: &str) -> (String, &str) {
        let fault = parse(text).unwrap_err();
        (
            fault.message,
            fault.index.map_or("nowhere", |index| &text[index..]),
        )
    }

    #[test]
    fn faults_are_placed() {
        assert_eq!(
            fault_of("a: 1\nb: 2\na: 3"),
            ("`a` is given twice".to_owned(), "a: 3")
        );
        assert_eq!(
            fault_of("s: {x: 1, x: 2}"),
            ("`x` is given twice".to_owned(), "x: 2}")
        );
        assert_eq!(
            fault_of("a: .nan"),
            ("every number must be finite".to_owned(), ".nan")
        );
        assert_eq!(
            fault_of("a: [1, -.inf]"),
            ("every number must be finite".to_owned(), "-.inf]")
        );
        assert_eq!(
            fault_of("a: 1\n2: b"),
            ("a key must be text".to_owned(), "2: b")
        );
        assert_eq!(
            fault_of("? [x]\n: b"),
            ("a key must be text".to_owned(), "[x]\n: b")
        );
        assert_eq!(
            fault_of("a: !ruby x"),
            ("tags (`!name`) are not used here".to_owned(), "!ruby x")
        );
        assert_eq!(
            fault_of("a:\n\tb: 1"),
            ("a tab cannot be used to indent".to_owned(), "\tb: 1")
        );
        let two = "the file holds more than one YAML document".to_owned();
        assert_eq!(fault_of("# c\n---\na: 1\n---\nb: 2"), (two, "---\nb: 2"));
        assert_eq!(fault_of("a: *b").1, "*b");
        assert_eq!(
            fault_of("a: [1, 2"),
            (
                "a `[` is not closed, or a comma is missing".to_owned(),
                "[1, 2"
            )
        );
    }

    #[test]
    fn aliases_that_multiply_are_refused() {
        let mut text = "a0: &a0 [x, x, x, x, x, x, x, x, x]\n".to_owned();
        for level in 1..9 {
            let items = vec![format!("*a{}", level - 1); 9].join(", ");
            text = format!("{text}a{level}: &a{level} [{items}]\n");
        }
        assert_eq!(
            fault_of(&text).0,
            "aliases (`*name`) multiply into too many values"
        );
        let loops = "lists and sections are nested too deeply";
        assert_eq!(fault_of("a: &a [*a]").0, loops);
    }
}
