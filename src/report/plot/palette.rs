//! The colours and dash patterns of every figure: one place, so that a limit looks the same wherever it is drawn.
//! Colours are those of Okabe and Ito (2008), told apart by readers with colour-vision deficiency;
//! the dash pattern tells them apart in print.

use crate::scenario::limits::{Dashes, LimitKind, Role};

/// A colour as red, green and blue, 0 to 255 each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Colour(pub u8, pub u8, pub u8);

/// Text and the most important curve.
pub const INK: Colour = Colour(0x1F, 0x23, 0x28);
/// Less important text.
pub const MUTED: Colour = Colour(0x5B, 0x64, 0x70);
/// Axis lines and tick marks.
pub const AXIS: Colour = Colour(0x8A, 0x92, 0x9C);
/// Grid lines.
pub const GRID: Colour = Colour(0xE4, 0xE7, 0xEB);
/// Background.
pub const PAPER: Colour = Colour(0xFF, 0xFF, 0xFF);
/// Blue of the Okabe-Ito set.
pub const BLUE: Colour = Colour(0x00, 0x72, 0xB2);
/// Orange of the Okabe-Ito set.
pub const ORANGE: Colour = Colour(0xE6, 0x9F, 0x00);
/// Bluish green of the Okabe-Ito set.
pub const GREEN: Colour = Colour(0x00, 0x9E, 0x73);
/// Vermillion of the Okabe-Ito set.
pub const VERMILLION: Colour = Colour(0xD5, 0x5E, 0x00);
/// Sky blue of the Okabe-Ito set.
pub const SKY: Colour = Colour(0x56, 0xB4, 0xE9);
/// Reddish purple of the Okabe-Ito set.
pub const PURPLE: Colour = Colour(0xCC, 0x79, 0xA7);

/// Lengths of drawn and skipped stretches of a line, in turn, in picture points; empty for an unbroken line.
pub type Dash = &'static [f64];
/// An unbroken line.
pub const SOLID: Dash = &[];
/// Even dashes.
pub const DASHED: Dash = &[7.0, 4.0];
/// Dots.
pub const DOTTED: Dash = &[2.0, 3.0];
/// A dash and a dot in turn.
pub const DASH_DOT: Dash = &[9.0, 3.0, 2.0, 3.0];
/// Long dashes.
pub const LONG_DASHED: Dash = &[14.0, 4.0];

/// How a curve is drawn: its colour and its dash pattern.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Colour of the line.
    pub colour: Colour,
    /// Dash pattern of the line.
    pub dash: Dash,
}

impl Mark {
    /// A mark of this colour and dash pattern.
    #[must_use]
    pub const fn new(colour: Colour, dash: Dash) -> Self {
        Self { colour, dash }
    }
}

/// The mark of "any limit broken".
pub const ANY_LIMIT: Mark = Mark::new(INK, SOLID);
/// The mark of a limit's value on an axis, where the limit has no key of its own.
pub const LIMIT_LINE: Mark = Mark::new(MUTED, LONG_DASHED);

/// The mark of a limit, from its key in files ([`LimitKind::numbered_key`]) and the table of limits.
///
/// What people feel is warm, heat is blue, the outcome of the pass green. Of several of a kind the colour stays and the
/// dashes differ. `any` stands for all together; an unknown key is drawn grey.
#[must_use]
pub fn limit(key: &str) -> Mark {
    let name = key.trim_end_matches(|c: char| c.is_ascii_digit() || "_[].:# ".contains(c));
    let mut specs = LimitKind::ALL.iter().map(|kind| kind.spec());
    match specs.find(|spec| spec.key == name) {
        Some(spec) => Mark::new(colour(spec.line.role), numbered(key, spec.line.dashes)),
        None if name == "any" => ANY_LIMIT,
        None => Mark::new(AXIS, LONG_DASHED),
    }
}

fn colour(role: Role) -> Colour {
    match role {
        Role::Felt => VERMILLION,
        Role::FeltByPeople => ORANGE,
        Role::FeltFor => PURPLE,
        Role::Load => BLUE,
        Role::Heat => SKY,
        Role::Outcome => GREEN,
        Role::Place => MUTED,
    }
}

/// The dashes of the number that a key ends in, the first without one.
fn numbered(key: &str, dashes: &[Dashes]) -> Dash {
    let digits: String = key.chars().filter(char::is_ascii_digit).collect();
    let place = digits.parse::<usize>().unwrap_or(1).max(1) - 1;
    match dashes[place % dashes.len()] {
        Dashes::Solid => SOLID,
        Dashes::Dashed => DASHED,
        Dashes::Dotted => DOTTED,
        Dashes::DashDot => DASH_DOT,
        Dashes::Long => LONG_DASHED,
    }
}

/// The mark of the `index`th of several series that stand for no limit.
#[must_use]
pub fn series(index: usize) -> Mark {
    const MARKS: [Mark; 6] = [
        Mark::new(BLUE, SOLID),
        Mark::new(VERMILLION, DASHED),
        Mark::new(GREEN, DASH_DOT),
        Mark::new(ORANGE, LONG_DASHED),
        Mark::new(PURPLE, SOLID),
        Mark::new(SKY, DASHED),
    ];
    MARKS[index % MARKS.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_limits_look_the_same() {
        for (i, a) in LimitKind::ALL.iter().map(|kind| kind.key()).enumerate() {
            for b in LimitKind::ALL[i + 1..].iter().map(|kind| kind.key()) {
                assert_ne!(limit(a), limit(b), "{a} and {b}");
            }
            assert_ne!(limit(a), limit("no such limit"), "{a} is known");
        }
    }

    #[test]
    fn levels_of_one_limit_share_a_colour_and_differ_in_dash() {
        let (first, second) = (limit("stay_above_1"), limit("stay_above_2"));
        assert_eq!(first, limit("stay_above"));
        assert_eq!(first.colour, second.colour);
        assert_ne!(first.dash, second.dash);
        assert_ne!(limit("spot_1").dash, limit("spot_2").dash);
    }
}
