//! Text of files as it may be shown: characters that would act on a terminal are written out.

/// The text with every control character but line breaks and tabs, and every character that turns the direction
/// of writing, written as `\u{1b}`: on a terminal they could move the cursor or hide what stands beside them.
///
/// ```
/// use periband::scenario::visible::visible;
/// assert_eq!(visible("a\u{1b}[31mb"), "a\\u{1b}[31mb");
/// assert_eq!(visible("Ærø, 2 lines\n"), "Ærø, 2 lines\n");
/// ```
#[must_use]
pub fn visible(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        if acts(c) {
            shown.extend(c.escape_unicode());
        } else {
            shown.push(c);
        }
    }
    shown
}

/// Whether a character acts on a terminal instead of being shown.
fn acts(c: char) -> bool {
    let turns =
        matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    turns || (c.is_control() && !matches!(c, '\n' | '\t'))
}

/// What the system says of a file, in words and without its number.
#[must_use]
pub fn plain_reason(error: &std::io::Error) -> String {
    use std::io::ErrorKind as Kind;
    match error.kind() {
        Kind::NotFound => "there is no such file".to_owned(),
        Kind::PermissionDenied => "permission denied".to_owned(),
        Kind::IsADirectory => "it is a folder".to_owned(),
        Kind::ReadOnlyFilesystem => "the disk is read-only".to_owned(),
        Kind::StorageFull | Kind::QuotaExceeded | Kind::WriteZero => {
            "no room is left: the disk, the device or the quota is full".to_owned()
        }
        _ => {
            let said = error.to_string();
            match said.rsplit_once(" (os error ") {
                Some((words, _)) => words.to_owned(),
                None => said,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_acts_on_a_terminal_is_written_out() {
        assert_eq!(
            visible("\u{7}\r\u{9b}2J\u{202e}"),
            "\\u{7}\\u{d}\\u{9b}2J\\u{202e}"
        );
        assert_eq!(visible("a\tb"), "a\tb");
    }

    #[test]
    fn reasons_have_no_numbers_of_the_system() {
        for number in 1..=40 {
            let error = std::io::Error::from_raw_os_error(number);
            let words = plain_reason(&error);
            assert!(!words.contains("os error") && !words.is_empty(), "{words}");
        }
    }
}
