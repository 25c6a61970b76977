//! How far a token reaches in the text, so that the carets of a message cover it.

use super::value::Value;
use super::walk::End;

/// How many characters the token at the start of `text` takes on its line.
pub(super) fn width_at(text: &str, value: Option<&Value>, end: End) -> usize {
    let line = text.split('\n').next().unwrap_or(text).trim_end();
    let token = match (line.chars().next(), value, end) {
        (Some(c), _, _) if c.is_whitespace() => Some(c.len_utf8()),
        (Some(quote @ ('"' | '\'')), _, _) => line[1..].find(quote).map(|at| at + 2),
        (_, Some(Value::Text(plain)), End::Value) if line.starts_with(plain.as_str()) => {
            Some(plain.len())
        }
        (Some('[' | '{'), _, End::Value) => Some(closing_bracket(line)),
        (_, Some(Value::Map(_)), End::Value) | (_, _, End::Key) => line.find(':'),
        _ => line.find([',', ']', '}', ' ', ':']),
    };
    line[..token.unwrap_or(line.len()).min(line.len())]
        .trim_end()
        .chars()
        .count()
        .max(1)
}

/// Length of a bracketed value, up to its end or that of the line.
fn closing_bracket(line: &str) -> usize {
    let mut open = 0_usize;
    for (at, c) in line.char_indices() {
        match c {
            '[' | '{' => open += 1,
            ']' | '}' => {
                open -= 1;
                if open == 0 {
                    return at + 1;
                }
            }
            _ => {}
        }
    }
    line.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_ends_where_yaml_ends_it() {
        let text = |text: &str| Some(Value::Text(text.to_owned()));
        let width =
            |line: &str, value: Option<Value>, end: End| width_at(line, value.as_ref(), end);
        assert_eq!(width("62 t # tare\nb: c", text("62 t"), End::Value), 4);
        assert_eq!(width("'62 t', b: c}", text("62 t"), End::Value), 6);
        assert_eq!(width("mass: 62 t", text("62 t"), End::Key), 4);
        assert_eq!(width("3.5]", Some(Value::Number(3.5)), End::Value), 3);
        assert_eq!(
            width("[a, [b]], c]", Some(Value::List(Vec::new())), End::Value),
            8
        );
        assert_eq!(
            width("[a, [b,\n c]]", Some(Value::List(Vec::new())), End::Value),
            7
        );
        assert_eq!(width("\u{e9}t\u{e9}: 1", None, End::Key), 3);
        assert_eq!(width("", None, End::Value), 1);
        assert_eq!(width("\u{a0}x", None, End::Value), 1);
    }
}
