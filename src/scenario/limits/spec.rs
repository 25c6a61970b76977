//! What there is to say of a limit. Its rows are in `table`; what a form means for a flown pass is said by those who
//! judge passes.

use crate::numeric::quantity::Quantity;
use crate::scenario::bound::Bound;
use crate::scenario::uncertainty::Number;

/// Everything that is said of one limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LimitSpec {
    /// The stable key in files: that of the scenario where there is one.
    pub key: &'static str,
    /// The quantity that is limited; `None` where a limit is on how the pass ends.
    pub of: Option<Quantity>,
    /// On which side it is held, and how its severity runs.
    pub form: Form,
    /// The values a scenario may allow, SI.
    pub bound: Bound,
    /// Where the scenario has it.
    pub written: Written,
    /// The number by which its allowed value may be uncertain.
    pub number: Option<Number>,
    /// Whether the models of heating count for it.
    pub of_heat: bool,
    /// Whether what counts for it happens where the peaks are made, so that the rest of the flight does not.
    pub made_at_the_peak: bool,
    /// The quantity of every pass that goes with it, by which its influences are told; `None`: the speed at the end.
    pub goes_with: Option<Quantity>,
    /// Its words.
    pub words: Words,
    /// How its curves are drawn.
    pub line: Line,
}

/// On which side a limit is held and how its severity runs. A limit takes one of these and is judged, searched and
/// moved by it; only a limit that no form fits needs a new one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Form {
    /// A value at most so large. Severity goes with its logarithm.
    Most,
    /// A time above a level at most so long. Severity is the time, and where the level is not reached what is lacking.
    MostTime,
    /// An altitude not below one. Severity goes with what is lacking.
    Least,
    /// Captured, with the apoapsis at most so high. Severity runs on through escape.
    CapturedMost,
    /// Where captured, the apoapsis not below an altitude.
    CapturedLeast,
    /// Leaves the air again. It has no allowed value.
    LeavesAir,
    /// Comes down without leaving the air. It has no allowed value.
    ComesDown,
}

impl Form {
    /// Whether less is worse.
    #[must_use]
    pub fn is_least(self) -> bool {
        matches!(self, Self::Least | Self::CapturedLeast)
    }

    /// Whether it is about the orbit after the pass, of which a pass that stays in the air has none: it breaks no such
    /// limit.
    #[must_use]
    pub fn is_of_the_orbit(self) -> bool {
        matches!(self, Self::CapturedMost | Self::CapturedLeast)
    }

    /// Whether it is about if a pass leaves the air, with no value that could be moved.
    #[must_use]
    pub fn is_of_staying(self) -> bool {
        matches!(self, Self::LeavesAir | Self::ComesDown)
    }
}

/// Where a scenario has a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Written {
    /// A value under its key in `limits`.
    Value,
    /// A list under its key in `limits`, each entry with a `level` of deceleration and its `at_most`.
    Levels,
    /// A section under its key in `limits` with an `apoapsis_altitude`.
    Apoapsis,
    /// The section `limits.people`.
    People,
    /// A flag under its key in `limits`.
    Flag,
    /// Nowhere itself: it binds where `captured_below` is there.
    WithCapture,
    /// In a spot of the ship.
    Spot,
}

/// The words of a limit. In a pattern `{name}` stands for the short name, `{value}` for a value with its unit,
/// `{level}` for a level of deceleration, `{spot}` for a spot's name, `{axes}` for the axes of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Words {
    /// Short name: "peak deceleration".
    pub name: &'static str,
    /// Short name of breaking it, for curves of how often that happens.
    pub breaking: &'static str,
    /// What breaking it means, for the edge of a band.
    pub broken: &'static str,
    /// The same on a page whose limits move.
    pub moved: &'static str,
    /// What its control on a page is called.
    pub control: &'static str,
    /// What raising it would open a band with, before the value.
    pub opening: &'static str,
    /// A value of it.
    pub value: &'static str,
    /// What a scenario asks by it.
    pub asks: &'static str,
}

impl Words {
    /// Those of a value that may be at most so large; name and what it asks are to be filled in.
    pub(super) const MOST: Self = Self {
        name: "",
        breaking: "{name}",
        broken: "{name} above {value}",
        moved: "{name} above {value}",
        control: "{name}, at most",
        opening: "{name} of",
        value: "{value}",
        asks: "",
    };
    /// Those of a time above a level.
    pub(super) const MOST_TIME: Self = Self {
        broken: "{name} longer than {value}",
        moved: "{name} longer than {value}",
        ..Self::MOST
    };
}

/// A pattern of [`Words`] with what stands for its parts. What is filled in is not looked at again.
#[must_use]
pub fn filled(pattern: &str, part: impl Fn(&str) -> Option<String>) -> String {
    let mut text = String::new();
    let mut rest = pattern;
    while let Some((before, after)) = rest.split_once('{') {
        text.push_str(before);
        let meant = after.split_once('}');
        if let Some((words, then)) = meant.and_then(|(key, then)| Some((part(key)?, then))) {
            text.push_str(&words);
            rest = then;
        } else {
            text.push('{');
            rest = after;
        }
    }
    text.push_str(rest);
    text
}

/// How the curves of a limit are drawn: the role that chooses the colour, and the dashes, of several alike in turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Line {
    /// What it stands for.
    pub role: Role,
    /// Dashes of the first, the second and so on.
    pub dashes: &'static [Dashes],
}

/// What a line stands for; decides its colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// The deceleration people feel.
    Felt,
    /// How it changes, or what people may be given of it.
    FeltByPeople,
    /// For how long it is felt.
    FeltFor,
    /// What stream and heat do at their highest.
    Load,
    /// Heat summed up, or at a place.
    Heat,
    /// How the pass ends.
    Outcome,
    /// Where the ship is.
    Place,
}

/// A pattern of dashes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Dashes {
    /// An unbroken line.
    Solid,
    /// Even dashes.
    Dashed,
    /// Dots.
    Dotted,
    /// A dash and a dot in turn.
    DashDot,
    /// Long dashes.
    Long,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_filled_in_is_not_looked_at_again() {
        let part = |key: &str| match key {
            "name" => Some("a {value}".to_owned()),
            "value" => Some("3 g".to_owned()),
            _ => None,
        };
        assert_eq!(filled("{name} above {value}", part), "a {value} above 3 g");
        assert_eq!(filled("{other} {value", part), "{other} {value");
    }
}
