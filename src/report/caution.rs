//! The caution that stands in the help, the README and every report.

/// People can be hurt by a wrong entry.
pub const CAUTION: &str = "Preliminary analysis only; not a basis for flight. A crewed or over-flight entry is for \
licensed authorities, qualified engineers and flight surgeons under the rules that apply there.";
