//! The studies that can be run at each point of a sweep. One more is one more entry of [`STUDIES`]:
//! a name, the numbers it gives, and a function from a case to those numbers.

use super::{band, campaign, capture, pass};
use crate::ensemble::Progress;
use crate::study::Case;
use crate::study::verdicts::Covered;

/// Every study that can be swept.
pub static STUDIES: &[SweptStudy] = &[band::STUDY, pass::STUDY, capture::STUDY, campaign::STUDY];

/// A study as a sweep sees it.
#[derive(Debug)]
pub struct SweptStudy {
    /// The name by which it is asked for: that of its command.
    pub name: &'static str,
    /// What it asks, in a few words.
    pub about: &'static str,
    /// What it gives, in the order of [`Answer::cells`].
    pub measures: &'static [Measure],
    /// Keys of the measures in the table on the screen; a few short ones fit.
    pub shown: &'static [&'static str],
    /// Keys of the measures that are drawn together against one number: the same quantity throughout.
    pub lines: &'static [&'static str],
    /// Title of the upright axis over them, with the unit.
    pub lines_title: &'static str,
    /// Keys of two of them, the lower one first, between which the figure is shaded.
    pub between: Option<(&'static str, &'static str)>,
    /// Key of the measure that is drawn over two numbers, and that the answer in words is about.
    pub map: &'static str,
    /// Whether it flies `ask.samples` samples and keeps what each of them did.
    pub keeps_samples: bool,
    /// Key of a measure that points alone have at which something was found, and what is said where none has it.
    pub found: Option<(&'static str, &'static str)>,
    /// About how many passes it flies.
    pub passes: fn(&Case) -> u64,
    /// Runs it.
    pub run: fn(&Case, &Progress) -> Result<Answer, NoAnswer>,
}

/// One thing that a study gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Measure {
    /// Name of its column, with the unit.
    pub key: &'static str,
    /// Name for people, without the unit.
    pub name: &'static str,
    /// Its unit; empty for a pure number, `%` for a share that is kept from 0 to 1.
    pub unit: &'static str,
    /// Whether it is a text and no number.
    pub is_text: bool,
}

impl Measure {
    /// A number.
    #[must_use]
    pub const fn number(key: &'static str, name: &'static str, unit: &'static str) -> Self {
        Self {
            key,
            name,
            unit,
            is_text: false,
        }
    }

    /// A text.
    #[must_use]
    pub const fn text(key: &'static str, name: &'static str) -> Self {
        Self {
            key,
            name,
            unit: "",
            is_text: true,
        }
    }
}

/// One value of an answer.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// A number.
    Number(f64),
    /// A text.
    Text(String),
    /// There is none here.
    Missing,
}

impl Cell {
    /// The number; `None` for anything else.
    #[must_use]
    pub fn number(&self) -> Option<f64> {
        match self {
            Self::Number(number) => Some(*number),
            Self::Text(_) | Self::Missing => None,
        }
    }
}

impl From<Option<f64>> for Cell {
    fn from(number: Option<f64>) -> Self {
        number
            .filter(|number| number.is_finite())
            .map_or(Self::Missing, Self::Number)
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

/// What a study says at a point.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// One for each measure, in order.
    pub cells: Vec<Cell>,
    /// What has to be said beside the numbers, such as that there is no band and why; may be empty.
    pub remark: String,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoAnswer {
    /// The run was cancelled.
    Stopped,
    /// The study cannot be run here, in words.
    Refused(String),
}

impl SweptStudy {
    /// The study of this name.
    #[must_use]
    pub fn find(name: &str) -> Option<&'static Self> {
        STUDIES.iter().find(|study| study.name == name)
    }

    /// Place of a measure among those of the study.
    #[must_use]
    pub fn place(&self, key: &str) -> Option<usize> {
        self.measures.iter().position(|measure| measure.key == key)
    }
}

/// A remark, and the limits that what was flown does not cover: they hold only as far as their models go.
pub(super) fn covered_too(remark: String, covered: &Covered, case: &Case) -> String {
    let open = covered.open(&case.problem);
    if open.is_empty() {
        return remark;
    }
    let words = format!(
        "not covered, and held only as far as modelled: {}",
        open.join(", ")
    );
    if remark.is_empty() {
        words
    } else {
        format!("{remark}; {words}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_study_shows_and_draws_what_it_gives() {
        for study in STUDIES {
            let keys = study.shown.iter().chain(study.lines).chain([&study.map]);
            for key in keys {
                let place = study.place(key);
                assert!(place.is_some(), "{} gives no {key}", study.name);
            }
            let units: Vec<&str> = study
                .lines
                .iter()
                .filter_map(|key| study.place(key))
                .map(|place| study.measures[place].unit)
                .collect();
            assert!(units.windows(2).all(|pair| pair[0] == pair[1]), "{units:?}");
            let drawn = study.lines.iter().chain([&study.map]);
            assert!(
                drawn
                    .filter_map(|key| study.place(key))
                    .all(|place| !study.measures[place].is_text)
            );
            assert!(
                study
                    .found
                    .is_none_or(|(key, _)| study.place(key).is_some())
            );
            assert!(std::ptr::eq(SweptStudy::find(study.name).unwrap(), study));
        }
    }
}
