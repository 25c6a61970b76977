//! The caution that stands in every report, on the help page and in the README.

/// What the results are not for. It is part of every page and every summary.
pub const CAUTION: &str = "Preliminary analysis only; not a basis for flight. \
A crewed or over-flight entry is for licensed authorities, qualified engineers and flight surgeons, \
under the rules that apply there.";
