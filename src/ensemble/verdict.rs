//! What a limit, or all of them together, came to: one of four verdicts, and the order in which they apply.

use super::interval::Interval;

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

    /// Of a probability that is known to an interval, held against the one asked for.
    #[must_use]
    pub fn of_probability(held: &Interval, asked: f64) -> Self {
        if held.lower >= asked {
            Self::Held
        } else if held.upper < asked {
            Self::Broken
        } else {
            Self::NotShown
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
    use super::Interval;
    use super::Verdict::{self, Broken, Held, NotCovered, NotShown};

    #[test]
    fn an_interval_about_what_is_asked_shows_nothing() {
        let verdict = |lower, upper| {
            let interval = Interval {
                estimate: 0.5 * (lower + upper),
                lower,
                upper,
            };
            Verdict::of_probability(&interval, 0.99)
        };
        assert_eq!(verdict(0.99, 0.999), Held);
        assert_eq!(verdict(0.98, 0.999), NotShown);
        assert_eq!(verdict(0.98, 0.989), Broken);
        // What is no number shows nothing either.
        assert_eq!(verdict(f64::NAN, f64::NAN), NotShown);
    }

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
