//! Breaks a good file: bytes, characters, numbers, units, lines, sections, pieces of another file.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::Rng;

/// What numbers are put in place of others.
const NUMBERS: [&str; 24] = [
    "0",
    "-0",
    "1",
    "-1",
    "1e308",
    "-1e308",
    "1e-308",
    "5e-324",
    "1e999",
    "-1e999",
    "nan",
    ".nan",
    "inf",
    ".inf",
    "-.inf",
    "9223372036854775807",
    "18446744073709551616",
    "0x7fffffffffffffff",
    "1_000",
    "1e",
    "+1",
    "00",
    "1.0.0",
    "3.402823669209385e38",
];

/// What is put anywhere.
const PIECES: [&str; 40] = [
    "{",
    "}",
    "[",
    "]",
    ":",
    ": ",
    "- ",
    "- - - ",
    "? ",
    "|",
    ">",
    "&a ",
    "*a",
    "<<: ",
    "!!binary ",
    "!t ",
    "%",
    "#",
    "\"",
    "'",
    "\\",
    "\t",
    "\r",
    "\n",
    "\n\n",
    "---\n",
    "...\n",
    "~",
    "null",
    "true",
    "\u{0}",
    "\u{feff}",
    "\u{202e}",
    "é",
    "km",
    "%",
    "../",
    "/dev/zero",
    "world: ./x.yaml\n",
    "e",
];

/// Units that are put in place of others.
const UNITS: [&str; 16] = [
    "km", "m", "m/s", "km/s", "deg", "rad", "g", "kg", "t", "W/cm2", "kPa", "s", "d", "%", "K",
    "1/0",
];

/// Luck in small numbers.
pub(crate) struct Dice<'r>(pub(crate) &'r mut ChaCha8Rng);

impl Dice<'_> {
    /// A number below `end`, 0 if that is 0.
    pub(crate) fn below(&mut self, end: usize) -> usize {
        let wide = u128::from(self.0.next_u64()) * end as u128;
        usize::try_from(wide >> 64).unwrap_or(0)
    }

    fn of<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> &'a T {
        all[self.below(all.len())]
    }
}

/// Breaks `text` in a few places; `other` is another good file.
pub(crate) fn mutate(text: &[u8], other: &[u8], dice: &mut Dice<'_>) -> Vec<u8> {
    let mut bytes = text.to_vec();
    // Half of them in one place alone: those go deepest.
    for _ in 0..=dice.below(2) * dice.below(5) {
        once(&mut bytes, other, dice);
    }
    bytes
}

fn once(bytes: &mut Vec<u8>, other: &[u8], dice: &mut Dice<'_>) {
    let at = dice.below(bytes.len() + 1);
    match dice.below(15) {
        0 => {
            if let Some(byte) = bytes.get_mut(at) {
                *byte ^= 1 << dice.below(8);
            }
        }
        1 => bytes.truncate(at),
        2 => {
            let end = (at + dice.below(40)).min(bytes.len());
            bytes.drain(at..end);
        }
        3 => insert(bytes, at, dice.of(&PIECES).as_bytes()),
        4..=6 => replace_number(bytes, at, dice),
        7 => replace_unit(bytes, at, dice),
        8 => line_out(bytes, at),
        9 => {
            let line = line_at(bytes, at).to_vec();
            let to = dice.below(bytes.len() + 1);
            let start = line_start(bytes, to);
            insert(bytes, start, &line);
        }
        10 => {
            // Another indentation.
            let start = line_start(bytes, at);
            if dice.below(2) == 0 {
                insert(bytes, start, &b"        "[..=dice.below(8)]);
            } else {
                let blanks = bytes[start..].iter().take_while(|b| **b == b' ').count();
                bytes.drain(start..start + dice.below(blanks + 1));
            }
        }
        11 => {
            let from = dice.below(other.len());
            let size = dice.below(300).min(other.len() - from);
            insert(bytes, at, &other[from..from + size]);
        }
        12 => {
            let line = line_at(other, dice.below(other.len())).to_vec();
            let start = line_start(bytes, at);
            insert(bytes, start, &line);
        }
        13 => {
            // One piece many times: depth, length, number of entries.
            let piece = dice.of(&PIECES).repeat(1 + dice.below(2000));
            insert(bytes, at, piece.as_bytes());
        }
        _ => {
            // The same line many times.
            let line = line_at(bytes, at).repeat(1 + dice.below(100));
            let start = line_start(bytes, at);
            insert(bytes, start, &line);
        }
    }
    // Size has a test of its own; here it would only cost time.
    bytes.truncate(1 << 16);
}

fn insert(bytes: &mut Vec<u8>, at: usize, piece: &[u8]) {
    bytes.splice(at..at, piece.iter().copied());
}

fn line_start(bytes: &[u8], at: usize) -> usize {
    let before = bytes[..at.min(bytes.len())]
        .iter()
        .rposition(|b| *b == b'\n');
    before.map_or(0, |found| found + 1)
}

/// The line about a place, with its end.
fn line_at(bytes: &[u8], at: usize) -> &[u8] {
    let start = line_start(bytes, at);
    let end = bytes[start..].iter().position(|b| *b == b'\n');
    &bytes[start..end.map_or(bytes.len(), |found| start + found + 1)]
}

fn line_out(bytes: &mut Vec<u8>, at: usize) {
    let start = line_start(bytes, at);
    let size = line_at(bytes, at).len();
    bytes.drain(start..start + size);
}

/// The first stretch of such bytes from a place on.
fn stretch(bytes: &[u8], at: usize, is: impl Fn(u8) -> bool) -> Option<(usize, usize)> {
    let start = at + bytes.get(at..)?.iter().position(|b| is(*b))?;
    let size = bytes[start..].iter().position(|b| !is(*b));
    Some((start, size.map_or(bytes.len(), |size| start + size)))
}

fn replace_number(bytes: &mut Vec<u8>, at: usize, dice: &mut Dice<'_>) {
    let Some((start, end)) = stretch(bytes, at, |b| b.is_ascii_digit() || b == b'.') else {
        return;
    };
    let own = String::from_utf8_lossy(&bytes[start..end]).into_owned();
    let number = match dice.below(4) {
        0 => dice.of(&NUMBERS).to_owned(),
        1 => format!("-{own}"),
        2 => format!("{own}e{}", dice.below(40)),
        _ => format!("{own}e-{}", dice.below(40)),
    };
    bytes.splice(start..end, number.bytes());
}

fn replace_unit(bytes: &mut Vec<u8>, at: usize, dice: &mut Dice<'_>) {
    let Some((digit, end)) = stretch(bytes, at, |b| b.is_ascii_digit()) else {
        return;
    };
    let Some((start, end)) = stretch(bytes, end.max(digit), |b| {
        b.is_ascii_alphabetic() || b == b'/'
    }) else {
        return;
    };
    bytes.splice(start..end, dice.of(&UNITS).bytes());
}
