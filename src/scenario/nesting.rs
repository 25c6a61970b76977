//! Measures how deep lists and maps are nested before the YAML parser sees the text,
//! because that parser's time grows with the square of the depth. Whether the text is
//! YAML at all is left to the parser.

/// Deepest nesting that is accepted, in steps of indentation and open brackets.
pub(super) const DEEPEST: usize = 32;

/// Byte offset where the text is nested deeper than [`DEEPEST`], if it is anywhere.
pub(super) fn too_deep(text: &str) -> Option<usize> {
    let mut scan = Scan::default();
    let mut start = 0;
    for line in text.as_bytes().split_inclusive(|byte| *byte == b'\n') {
        if let Some(column) = scan.line(line) {
            return Some(start + column);
        }
        start += line.len();
    }
    None
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
    /// Column of the node whose `|` or `>` text is going on.
    literal: Option<usize>,
}

impl Scan {
    /// Goes over one line; the column at which it is too deep, if it is.
    fn line(&mut self, line: &[u8]) -> Option<usize> {
        let mut at = 0;
        if self.open == 0 && self.quote.is_none() {
            at = line.iter().take_while(|byte| **byte == b' ').count();
            if line[at..].trim_ascii().is_empty() || self.literal.is_some_and(|column| at > column)
            {
                return None;
            }
            self.literal = None;
            if line[at] == b'#' {
                return None;
            }
            self.columns.retain(|column| *column < at);
            self.columns.push(at);
            while is_compact_entry(&line[at..]) {
                at += 1 + line[at + 1..]
                    .iter()
                    .take_while(|byte| **byte == b' ')
                    .count();
                self.columns.push(at);
                if self.too_deep() {
                    return Some(at);
                }
            }
        }
        self.rest(line, at)
    }

    /// Goes over a line from column `at`, where a token begins.
    fn rest(&mut self, line: &[u8], mut at: usize) -> Option<usize> {
        let mut plain = false;
        while at < line.len() {
            let byte = line[at];
            if let Some(quote) = self.quote {
                match byte {
                    b'\\' if quote == b'"' => at += 1,
                    b'\'' if quote == byte && line.get(at + 1) == Some(&byte) => at += 1,
                    _ if byte == quote => self.quote = None,
                    _ => {}
                }
            } else {
                match byte {
                    b'#' if at == 0 || line[at - 1].is_ascii_whitespace() => return None,
                    b'"' | b'\'' if !plain => self.quote = Some(byte),
                    b'[' | b'{' if !plain || self.open > 0 => {
                        self.open += 1;
                        plain = false;
                    }
                    b']' | b'}' if self.open > 0 => {
                        self.open -= 1;
                        plain = false;
                    }
                    b',' if self.open > 0 => plain = false,
                    b':' if line
                        .get(at + 1)
                        .is_none_or(|next| next.is_ascii_whitespace() || self.open > 0) =>
                    {
                        plain = false;
                    }
                    b'|' | b'>' if !plain && self.open == 0 => {
                        self.literal = self
                            .columns
                            .iter()
                            .rev()
                            .find(|column| **column < at)
                            .copied();
                        return None;
                    }
                    b'&' | b'!' if !plain => {
                        at += line[at..]
                            .iter()
                            .take_while(|byte| !byte.is_ascii_whitespace())
                            .count()
                            - 1;
                    }
                    _ if byte.is_ascii_whitespace() => {}
                    _ => plain = true,
                }
            }
            if self.too_deep() {
                return Some(at);
            }
            at += 1;
        }
        None
    }

    fn too_deep(&self) -> bool {
        self.columns.len() + self.open > DEEPEST
    }
}

/// Whether a line goes on with `- ` or `? `, which open a node on the same line.
fn is_compact_entry(rest: &[u8]) -> bool {
    matches!(rest.first(), Some(b'-' | b'?')) && rest.get(1) == Some(&b' ')
}

#[cfg(test)]
mod tests {
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
}
