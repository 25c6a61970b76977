//! The outcome of the verification, as it stands on every page: counted by the example `verification`
//! and kept beside this file; a test holds the two together.

use serde::Deserialize;

/// A group of checks of one kind.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Group {
    /// What was checked.
    pub name: String,
    /// How the expected values are known, in words.
    pub known: String,
    /// How many checks there are.
    pub checks: u32,
    /// How many lie within their tolerance.
    pub within: u32,
    /// Those that do not.
    #[serde(default)]
    pub outside: Vec<Miss>,
}

/// A check outside its tolerance.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct Miss {
    /// What was checked.
    pub check: String,
    /// How far off it is.
    pub difference: String,
    /// How far off it might be.
    pub tolerance: String,
    /// Why.
    pub why: String,
}

/// The groups in the order of the verification table.
#[must_use]
pub fn groups() -> Vec<Group> {
    // Its form is held by a test; a file that is compiled in cannot change afterwards.
    serde_json::from_str(TEXT).unwrap_or_default()
}

/// The kept text.
pub const TEXT: &str = include_str!("verified.json");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_kept_outcome_can_be_read() {
        let kept: Vec<Group> = serde_json::from_str(TEXT).expect("well-formed");
        assert_eq!(kept, groups());
        for group in &kept {
            let misses = u32::try_from(group.outside.len()).expect("few");
            assert_eq!(group.within + misses, group.checks, "{}", group.name);
        }
    }
}
