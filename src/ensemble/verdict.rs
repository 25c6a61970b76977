//! What a limit, or all of them together, came to: one of four verdicts, and the order in which they apply.

/// What may be said of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Verdict {
    /// Shown to hold with the probability asked for.
    Held,
    /// Too few samples (or too many that failed) to tell.
    NotShown,
    /// A model that matters here is outside its source, by more than the margin.
    NotCovered,
    /// Does not hold with the probability asked for.
    Broken,
}

impl Verdict {
    /// The stable word in files.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Held => "held",
            Self::NotShown => "not_shown",
            Self::NotCovered => "not_covered",
            Self::Broken => "broken",
        }
    }

    /// The words on screen and page.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Held => "held",
            Self::NotShown => "not shown",
            Self::NotCovered => "not covered",
            Self::Broken => "broken",
        }
    }

    /// The verdict of several together, the first that applies in the order broken, not covered, not shown, held.
    /// Nothing asked is held.
    #[must_use]
    pub fn of_all(verdicts: impl IntoIterator<Item = Self>) -> Self {
        verdicts.into_iter().max().unwrap_or(Self::Held)
    }
}

#[cfg(test)]
mod tests {
    use super::Verdict::{self, Broken, Held, NotCovered, NotShown};

    #[test]
    fn the_first_that_applies_is_told() {
        for (parts, whole) in [
            (&[][..], Held),
            (&[Held, Held][..], Held),
            (&[Held, NotShown][..], NotShown),
            (&[NotShown, NotCovered, Held][..], NotCovered),
            (&[NotCovered, Broken, NotShown][..], Broken),
        ] {
            assert_eq!(Verdict::of_all(parts.iter().copied()), whole);
        }
    }
}
