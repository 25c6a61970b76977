//! Which known name a mistyped one was meant to be.

/// The known name that a mistyped one looks like most, if any does.
#[must_use]
pub fn closest<'n>(typed: &str, known: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    let distance = |name: &str| strsim::damerau_levenshtein(&typed.to_lowercase(), name);
    known
        .into_iter()
        .map(|name| (distance(name), name))
        .filter(|(distance, name)| *distance <= 1 + name.chars().count() / 4)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, name)| name)
}

/// Whether two names are one to a reader: the same but for capitals and spaces.
#[must_use]
pub fn alike(one: &str, other: &str) -> bool {
    let plain = |name: &str| {
        let words: Vec<&str> = name.split_whitespace().collect();
        words.join(" ").to_lowercase()
    };
    plain(one) == plain(other)
}

/// Whether a name is so much like a key that it must be a slip for it.
pub(super) fn looks_like(typed: &str, key: &str) -> bool {
    let distance = strsim::damerau_levenshtein(typed, key);
    distance <= 2 && 3 * distance <= key.chars().count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_recognised_and_strangers_are_not() {
        let known = [
            "mass",
            "passengers",
            "drag_coefficient",
            "lift_to_drag",
            "periapsis_altitude",
        ];
        let meant = |typed: &str| closest(typed, known);
        assert_eq!(meant("mas"), Some("mass"));
        assert_eq!(meant("Mass"), Some("mass"));
        assert_eq!(meant("pasengres"), Some("passengers"));
        assert_eq!(meant("drag-coefficient"), Some("drag_coefficient"));
        assert_eq!(meant("thrust"), None);
        assert_eq!(meant(""), None);
        assert!(
            looks_like("mas", "mass")
                && !looks_like("to", "from")
                && !looks_like("apoapsis_altitude", "periapsis_altitude")
        );
    }
}
