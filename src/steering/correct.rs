//! The corrector: which cosine of the bank angle meets the target without breaking a limit.
//!
//! The demand is one number that falls as lift turns up: how far the predicted flight is too deep, or how far
//! it is over a limit, whichever is more. Its root is kept in a bracket and closed in on by secants, from
//! where the last cycle left it.

/// A search for the root of a falling function on an interval, asked step by step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Search {
    /// Where the demand was last seen positive (or the low end), and what it was there.
    low: (f64, Option<f64>),
    /// Where it was last seen negative (or the high end), and what it was there.
    high: (f64, Option<f64>),
    /// The cosine to try next.
    try_next: f64,
    /// The try with the smallest demand so far.
    best: Option<(f64, f64)>,
    slope: f64,
    tries: u32,
    most_tries: u32,
    done: bool,
}

/// Demand at which the search stops.
const CLOSE: f64 = 1e-3;
/// Most predictions in a cycle, and in the first one, which knows no slope; what is left of the demand is for
/// the next cycle.
const MOST_TRIES: u32 = 3;
const FIRST_TRIES: u32 = 8;
/// Slope that is assumed before any is known, and the least steep one that is believed.
const FIRST_SLOPE: f64 = -1.0;
const FLATTEST: f64 = -0.02;

impl Search {
    /// A search between `least` and `most`, from `guess` with the slope that the last search ended with.
    #[must_use]
    pub fn new((least, most): (f64, f64), guess: f64, slope: Option<f64>) -> Self {
        Self {
            low: (least, None),
            high: (most, None),
            try_next: guess.clamp(least, most),
            best: None,
            slope: slope.unwrap_or(FIRST_SLOPE).min(FLATTEST),
            tries: 0,
            most_tries: if slope.is_some() {
                MOST_TRIES
            } else {
                FIRST_TRIES
            },
            done: false,
        }
    }

    /// The cosine to try next; `None` when the search is over.
    #[must_use]
    pub fn wants(&self) -> Option<f64> {
        (!self.done).then_some(self.try_next)
    }

    /// Takes in the demand that was predicted for what [`Search::wants`] gave.
    pub fn take(&mut self, demand: f64) {
        let at = self.try_next;
        self.tries += 1;
        // A prediction that failed says nothing: more lift up is the safe side.
        let demand = if demand.is_finite() { demand } else { 1.0 };
        if let Some((other, before)) = self.best.filter(|(other, _)| *other != at) {
            let slope = (demand - before) / (at - other);
            if slope < FLATTEST {
                self.slope = slope;
            }
        }
        if self
            .best
            .is_none_or(|(_, before)| demand.abs() <= before.abs())
        {
            self.best = Some((at, demand));
        }
        if demand > 0.0 {
            self.low = (at, Some(demand));
        } else {
            self.high = (at, Some(demand));
        }
        let (low, high) = (self.low.0, self.high.0);
        let next = match (self.low.1, self.high.1) {
            (Some(over), Some(under)) => {
                // Between the two: the secant, but never closer to an end than a twentieth.
                let place = over / (over - under);
                (high - low).mul_add(place.clamp(0.05, 0.95), low)
            }
            // One side is not known yet: along the slope, and a little beyond.
            _ => (at - 1.2 * demand / self.slope).clamp(low, high),
        };
        let at_end = next == at;
        self.done = demand.abs() < CLOSE || self.tries >= self.most_tries || at_end;
        self.try_next = next;
    }

    /// The cosine to fly and the slope found, once the search is over.
    #[must_use]
    pub fn answer(&self) -> (f64, f64) {
        let (low, high) = (self.low.0, self.high.0);
        let cosine = match self.best {
            // The last try and the slope say a little more than the try alone.
            Some((at, demand)) if demand.abs() < 10.0 * CLOSE => {
                (at - demand / self.slope).clamp(low, high)
            }
            _ if self.low.1.is_some() && self.high.1.is_some() => self.try_next,
            Some((at, _)) => at,
            None => self.try_next,
        };
        (cosine, self.slope)
    }

    /// The smallest demand that was found.
    #[must_use]
    pub fn demand(&self) -> f64 {
        self.best.map_or(f64::NAN, |(_, demand)| demand)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn solve(demand: impl Fn(f64) -> f64, guess: f64) -> (f64, u32) {
        solve_with(demand, guess, None)
    }

    fn solve_with(demand: impl Fn(f64) -> f64, guess: f64, slope: Option<f64>) -> (f64, u32) {
        let mut search = Search::new((-1.0, 1.0), guess, slope);
        while let Some(at) = search.wants() {
            search.take(demand(at));
        }
        (search.answer().0, search.tries)
    }

    #[test]
    fn a_smooth_root_is_found_in_a_few_tries() {
        for root in [-0.8, -0.3, 0.0, 0.55, 0.9] {
            let demand = |c: f64| (3.0 * (root - c)).exp_m1();
            let (found, tries) = solve(demand, 0.1);
            assert!((found - root).abs() < 0.05, "{root}: {found}");
            assert!(tries <= FIRST_TRIES);
            let (near, few) = solve_with(demand, root + 0.01, Some(-2.5));
            assert!((near - root).abs() < 1e-3 && few <= 3, "{near} {few}");
        }
    }

    #[test]
    fn a_demand_that_no_bank_meets_goes_to_its_end() {
        assert_eq!(solve(|c| 5.0 - c, 0.0).0, 1.0);
        assert_eq!(solve(|c| -5.0 - c, 0.0).0, -1.0);
        assert_eq!(solve(|_| f64::NAN, 0.0).0, 1.0);
    }

    /// Two falling functions: the greater of them has the root of the one that asks for more lift up.
    #[test]
    fn the_stricter_of_target_and_limit_rules() {
        let (found, _) = solve(|c: f64| (0.1 - c).max(2.0 * (0.4 - c)), 0.1);
        assert!((found - 0.4).abs() < 1e-2, "{found}");
    }
}
