//! Writes a tree of values as YAML text that reads back as the same tree.

use std::fmt::Write as _;

use super::value::Value;

/// The tree as block YAML.
pub(super) fn emit(root: &Value) -> String {
    let mut text = String::new();
    match root {
        Value::Map(entries) if !entries.is_empty() => map(&mut text, entries, 0),
        other => {
            flow(&mut text, other);
            text.push('\n');
        }
    }
    text
}

/// Sections as indented lines, what is inside lists in one line.
fn map(text: &mut String, entries: &[(String, Value)], indent: usize) {
    for (key, value) in entries {
        text.push_str(&" ".repeat(indent));
        scalar(text, key);
        text.push(':');
        match value {
            Value::Map(inner) if !inner.is_empty() => {
                text.push('\n');
                map(text, inner, indent + 2);
            }
            _ => {
                text.push(' ');
                flow(text, value);
                text.push('\n');
            }
        }
    }
}

fn flow(text: &mut String, value: &Value) {
    match value {
        Value::Null => text.push('~'),
        Value::Bool(flag) => text.push_str(if *flag { "true" } else { "false" }),
        Value::Integer(whole) => text.push_str(&whole.to_string()),
        Value::Number(number) => {
            // Writing to a String cannot fail.
            let _ = write!(text, "{number:?}");
        }
        Value::Text(plain) => scalar(text, plain),
        Value::List(items) => {
            text.push('[');
            for (index, item) in items.iter().enumerate() {
                text.push_str(if index > 0 { ", " } else { "" });
                flow(text, item);
            }
            text.push(']');
        }
        Value::Map(entries) => {
            text.push('{');
            for (index, (key, item)) in entries.iter().enumerate() {
                text.push_str(if index > 0 { ", " } else { "" });
                scalar(text, key);
                text.push_str(": ");
                flow(text, item);
            }
            text.push('}');
        }
    }
}

/// Text as it stands if nothing in it could be taken for something else, or in quotes.
fn scalar(text: &mut String, plain: &str) {
    let letters = plain.starts_with(|c: char| c.is_ascii_alphabetic())
        || plain.ends_with(|c: char| c.is_ascii_alphabetic() || c == '%');
    let tame = plain
        .chars()
        .all(|c| c.is_ascii_alphanumeric() || " ._/%+-".contains(c));
    let trimmed = plain.trim() == plain && plain.starts_with(|c: char| c.is_ascii_alphanumeric());
    let word = ["true", "false", "null", "yes", "no", "on", "off"]
        .contains(&plain.to_lowercase().as_str());
    let number = plain.parse::<f64>().is_ok()
        || plain.starts_with("0x")
        || plain.starts_with("0o")
        || plain.starts_with("0b");
    if letters && tame && trimmed && !word && !number {
        text.push_str(plain);
        return;
    }
    text.push('"');
    for c in plain.chars() {
        match c {
            '"' => text.push_str("\\\""),
            '\\' => text.push_str("\\\\"),
            '\n' => text.push_str("\\n"),
            '\t' => text.push_str("\\t"),
            c if c.is_control() || !is_printable(c) => {
                let _ = write!(text, "\\U{:08X}", u32::from(c));
            }
            c => text.push(c),
        }
    }
    text.push('"');
}

/// Whether YAML lets the character stand as it is.
fn is_printable(c: char) -> bool {
    !matches!(
        c,
        '\u{2028}' | '\u{2029}' | '\u{feff}' | '\u{fffe}' | '\u{ffff}'
    )
}

#[cfg(test)]
mod tests {
    use super::super::yaml::parse;
    use super::*;

    #[test]
    fn what_is_written_reads_back() {
        let text = "a: 62 t\nship.mass: {normal: {std_dev: 0.3 %}}\nlist: [1, -2.5, [], {}, {x: 1 km, y: [a]}]\n\
            odd: [\"true\", 'yes', \"12\", \"1e5\", '', ' x', \"a: b\", '# c', \"- d\", \"\\n\\t\\u2028\\\"\", 'é\\', \"~\", '0x10', \"nan\", inf, '.5']\n\
            nothing: ~\nflag: true\nlarge: 18446744073709551615\ntiny: 1e-300\nempty: {}\n'key: odd': -3.0\n";
        let tree = parse(text).unwrap();
        let written = emit(&tree);
        assert_eq!(parse(&written), Ok(tree), "{written}");
        assert!(
            written.starts_with("a: 62 t\nship.mass:\n  normal:\n    std_dev: 0.3 %\n"),
            "{written}"
        );
    }
}
