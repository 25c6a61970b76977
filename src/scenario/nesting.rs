//! Measures how deep lists and maps are nested before the YAML parser sees the text,
//! because that parser's time grows with the square of the depth. Whether the text is
//! YAML at all is left to the parser.

/// Deepest nesting that is accepted, in steps of indentation and open brackets.
pub(super) const DEEPEST: usize = 32;

/// Byte offset where the text is nested deeper than [`DEEPEST`], if it is anywhere.
pub(super) fn too_deep(text: &str) -> Option<usize> {
    let mut scan = Scan::default();
    let mut start = 0;
    for line in text.split_inclusive(is_break) {
        if let Some(column) = scan.line(line.trim_end_matches(is_break).as_bytes()) {
            return Some(start + column);
        }
        start += line.len();
    }
    None
}

/// Whether YAML ends a line at this character.
fn is_break(c: char) -> bool {
    matches!(c, '\n' | '\r' | '\u{85}' | '\u{2028}' | '\u{2029}')
}

/// What is open at the start of a line.
#[derive(Default)]
struct Scan {
    /// Columns at which the open block nodes begin, rising.
    columns: Vec<usize>,
    /// Open brackets and braces.
    open: usize,
    /// The mark that closes the open quoted text.
    quote: Option<u8>,
    /// Whether unquoted text goes on, in which a quote or a bracket means nothing special.
    plain: bool,
    /// Lines indented beyond this column go on with the text of the line above.
    text_beyond: Option<usize>,
}

impl Scan {
    /// Goes over one line; the column at which it is too deep, if it is.
    fn line(&mut self, line: &[u8]) -> Option<usize> {
        let mut at = 0;
        if is_marker(line, "---") || is_marker(line, "...") {
            *self = Self::default();
            at = 3;
        } else if self.open == 0 && self.quote.is_none() {
            at = line.iter().take_while(|byte| **byte == b' ').count();
            if line[at..].trim_ascii().is_empty()
                || self.text_beyond.is_some_and(|column| at > column)
            {
                return None;
            }
            self.text_beyond = None;
            self.plain = false;
            if line[at] == b'#' {
                return None;
            }
            self.columns.retain(|column| *column < at);
            self.columns.push(at);
            while is_compact_entry(&line[at..]) {
                at += 1 + line[at + 1..]
                    .iter()
                    .take_while(|byte| is_blank(**byte))
                    .count();
                self.columns.push(at);
                if self.too_deep() {
                    return Some(at);
                }
            }
        }
        self.rest(line, at)
    }

    /// Goes over a line from column `at`.
    fn rest(&mut self, line: &[u8], mut at: usize) -> Option<usize> {
        let mut text_began = at;
        while at < line.len() {
            let (byte, next) = (line[at], line.get(at + 1).copied().unwrap_or(b'\n'));
            if let Some(quote) = self.quote {
                match byte {
                    b'\\' if quote == b'"' => at += 1,
                    b'\'' if quote == byte && next == byte => at += 1,
                    _ if byte == quote => self.quote = None,
                    _ => {}
                }
            } else if byte == b'#' && (at == 0 || is_blank(line[at - 1])) {
                self.plain = false;
                return None;
            } else if is_blank(byte) {
            } else if self.open > 0 && matches!(byte, b'[' | b'{' | b']' | b'}' | b',') {
                self.plain = false;
                self.open = match byte {
                    b'[' | b'{' => self.open + 1,
                    b',' => self.open,
                    _ => self.open - 1,
                };
            } else if self.plain {
                let ends = is_blank(next) || (self.open > 0 && b",?[]{}".contains(&next));
                self.plain = byte != b':' || !ends;
            } else {
                match byte {
                    b'"' | b'\'' => self.quote = Some(byte),
                    b'[' | b'{' => self.open += 1,
                    b'?' | b':' if self.open > 0 || is_blank(next) => {}
                    b'-' if is_blank(next) => {}
                    b'|' | b'>' if self.open == 0 => {
                        self.text_beyond = self.column_before(at);
                        return None;
                    }
                    b'&' | b'!' => at += length_of_property(&line[at..]) - 1,
                    _ => {
                        self.plain = true;
                        text_began = at;
                    }
                }
            }
            if self.too_deep() {
                return Some(at);
            }
            at += 1;
        }
        if self.plain && self.open == 0 {
            self.text_beyond = self.column_before(text_began);
        }
        None
    }

    /// Column of the block node that holds what begins at column `at`.
    fn column_before(&self, at: usize) -> Option<usize> {
        self.columns
            .iter()
            .rev()
            .find(|column| **column < at)
            .copied()
    }

    fn too_deep(&self) -> bool {
        self.columns.len() + self.open > DEEPEST
    }
}

fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | b'\r' | b'\n')
}

/// Whether a line begins with the mark of the start or the end of a document.
fn is_marker(line: &[u8], mark: &str) -> bool {
    line.starts_with(mark.as_bytes()) && line.get(mark.len()).is_none_or(|next| is_blank(*next))
}

/// Whether a line goes on with `- `, `? ` or `: `, which open a node on the same line.
fn is_compact_entry(rest: &[u8]) -> bool {
    matches!(rest.first(), Some(b'-' | b'?' | b':'))
        && rest.get(1).is_some_and(|next| matches!(next, b' ' | b'\t'))
}

/// Length of the anchor or tag at the start of `rest`, 1 or more.
fn length_of_property(rest: &[u8]) -> usize {
    let ends = |byte: &u8| match rest {
        [b'&', ..] => !(byte.is_ascii_alphanumeric() || matches!(byte, b'_' | b'-')),
        [b'!', b'<', ..] => is_blank(*byte) || *byte == b'>',
        _ => is_blank(*byte) || b",[]{}".contains(byte),
    };
    1 + rest[1..].iter().take_while(|byte| !ends(byte)).count()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::value::Value;
    use super::super::yaml::parse;
    use super::*;

    #[test]
    fn deep_nesting_is_found_in_every_form() {
        let lines = |entry: &str| {
            (0..500)
                .map(|level| " ".repeat(level) + entry)
                .collect::<String>()
        };
        let indented = lines(
            "a:
",
        );
        let dashes = lines(
            "-
",
        );
        for text in [
            "[".repeat(10_000),
            "a: {b: ".repeat(10_000),
            "- ".repeat(10_000),
            "? ".repeat(10_000),
            "[\n".repeat(10_000),
            "[ # ]\n".repeat(10_000),
            "- [".repeat(10_000),
            format!("a: &x {}", "[".repeat(100)),
            format!("title: ship's\nb: {}", "[".repeat(100)),
            format!("title: |\n  [ ' \"\nb: {}", "[".repeat(100)),
            format!("- key: |\n    text\n  other: {}", "[".repeat(100)),
            "[\"]\", ".repeat(100),
            "['it''s]', ".repeat(100),
            "[\"\\\"]\", ".repeat(100),
            format!("title: 5\n  'x\nb: {}", "[".repeat(100)),
            format!("- a\n  'x\n- {}", "[".repeat(100)),
            format!("a\n 'x\n---\n{}", "[".repeat(100)),
            format!("--- {}", "[".repeat(100)),
            "[&a,".repeat(100),
            "[a:'b, ".repeat(100),
            "[a\n 'b, ".repeat(100),
            "[? 'a, ' ".repeat(100),
            "-\t[".repeat(100),
            ": ".repeat(10_000),
            format!("# a\r{}", "[".repeat(100)),
            format!("# a\u{85}{}", "[".repeat(100)),
            format!("# a\u{2028}-\u{2029}{}", "[".repeat(100)),
            indented,
            dashes,
        ] {
            let start: String = text.chars().take(40).collect();
            let index = too_deep(&text);
            assert!(
                index.is_some_and(|index| index < 2000),
                "{start}: {index:?}"
            );
        }
    }

    #[test]
    fn the_place_is_the_first_bracket_too_many() {
        assert_eq!(too_deep(&"[".repeat(32)), Some(31));
        assert_eq!(too_deep(&"[".repeat(31)), None);
        let text = format!("a: 1\nb: {}", "[".repeat(40));
        assert_eq!(too_deep(&text), Some(8 + 31));
    }

    #[test]
    fn what_is_not_nested_is_accepted() {
        for text in [
            "rows:\n".to_owned() + &"  - [1, 2, {a: b}]\n".repeat(1000),
            format!("title: \"{}\"\n", "[".repeat(100)),
            format!("title: '{}'\n", "{".repeat(100)),
            format!("title: a{}\n", "[".repeat(100)),
            format!("# {}\na: b # {}\n", "[".repeat(100), "{".repeat(100)),
            format!("a: |\n  {}\n  x\nb: c\n", "[".repeat(100)),
            "a:\n  b: c\n".repeat(1000),
            "- a: b\n  c: d\n".repeat(1000),
        ] {
            let start: String = text.chars().take(40).collect();
            assert_eq!(too_deep(&text), None, "{start}");
        }
    }
    /// Depth of a tree in levels of lists.
    fn lists(value: &Value) -> usize {
        match value {
            Value::List(items) => 1 + items.iter().map(lists).max().unwrap_or(0),
            Value::Map(entries) => entries
                .iter()
                .map(|(_, value)| lists(value))
                .max()
                .unwrap_or(0),
            _ => 0,
        }
    }

    /// The most that the scan has open anywhere in the text.
    fn measured(text: &str) -> usize {
        let mut scan = Scan::default();
        let mut most = 0;
        for line in text.split(is_break).map(str::as_bytes) {
            for end in 1..=line.len() {
                let mut part = Scan {
                    columns: scan.columns.clone(),
                    ..scan
                };
                part.line(&line[..end]);
                most = most.max(part.columns.len() + part.open);
            }
            scan.line(line);
        }
        most
    }

    const PIECES: [&str; 34] = [
        "[", "[", "[", "]", "]", "{a: ", "}", "'", "\"", ", ", ": ", ":", "- ", "? ", "# ", "|",
        ">", "&a ", "!t ", "a", "b ", "x'", "'y", "''", "\\", "\n", "\n ", "\n- ", "\n  - ", "\t",
        "a: ", "---\n", "\r", "\u{2028}",
    ];

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(5000))]

        /// No mixture of quotes, comments and marks hides a bracket from the scan.
        #[test]
        fn no_list_is_hidden(pieces in prop::collection::vec(prop::sample::select(&PIECES[..]), 1..16)) {
            let mut text = pieces.concat();
            for _ in 0..4 {
                if let Ok(tree) = parse(&text) {
                    prop_assert!(lists(&tree) <= measured(&text), "{:?}", text);
                }
                text.push(']');
            }
        }
    }
}
