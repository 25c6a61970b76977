//! When the bank changes sides on the way to a place.
//!
//! Three flights are predicted with the bank that was just decided: to the other side at the time planned so far, never,
//! and at once. How far each passes the place aside says when a change brings the ship to it.

/// How far a predicted flight passes the place aside, and how long it lasts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passing {
    /// Distance of the place from the straight line on from the end of the flight, m, positive to its right.
    pub offset_m: f64,
    /// Time to the end, s.
    pub lasts_s: f64,
}

/// How far the flight after a change is to pass the place on the other side, as a share of what staying would miss
/// (assumed: 0, 0.3 and 0.5 were compared over places of the Mars example).
const OVERSHOOT: f64 = 0.5;

/// What to do about the side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sides {
    /// Stays on this one.
    Keep,
    /// Changes in so many seconds.
    ChangeIn(f64),
    /// Changes now.
    ChangeNow,
}

/// The search for the time of the change, asked flight by flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SideSearch {
    within_m: f64,
    planned: Option<(f64, f64)>,
    kept: Option<Passing>,
    changed: Option<Passing>,
}

impl SideSearch {
    /// A search for a flight that is to pass the place within `within_m`; `planned` is the change planned so far, in
    /// seconds from now, with the offset of the flight predicted with it, m.
    #[must_use]
    pub fn new(within_m: f64, planned: Option<(f64, f64)>) -> Self {
        Self {
            within_m,
            planned,
            kept: None,
            changed: None,
        }
    }

    /// The flight to predict next, by when it changes sides (never, or at once); `None` when the search is over.
    #[must_use]
    pub fn wants(&self) -> Option<Option<f64>> {
        match (self.kept, self.changed) {
            (None, _) => Some(None),
            // A flight that comes to the place as it is needs no change.
            (Some(kept), None) if !(kept.offset_m.abs() <= self.within_m) => Some(Some(0.0)),
            _ => None,
        }
    }

    /// Takes in the flight that [`SideSearch::wants`] asked for.
    pub fn take(&mut self, passing: Passing) {
        if self.kept.is_none() {
            self.kept = Some(passing);
        } else {
            self.changed = Some(passing);
        }
    }

    /// What to do, given the time to the next decision, s.
    #[must_use]
    pub fn answer(&self, cycle_s: f64) -> Sides {
        let (Some(kept), Some(changed)) = (self.kept, self.changed) else {
            return Sides::Keep;
        };
        let (never, at_once) = (kept.offset_m, changed.offset_m);
        if !(never * at_once < 0.0) {
            // No change brings it to the place: the nearer side. What was not predicted changes nothing.
            return if at_once.abs() < never.abs() {
                Sides::ChangeNow
            } else {
                Sides::Keep
            };
        }
        // A side force that is held moves the end by the square of the time that is left.
        let share_of = |wait_s: f64| (1.0 - wait_s / kept.lasts_s).max(0.0).powi(2);
        let early = OVERSHOOT * never;
        let (mut low, mut high) = ((0.0, never), (1.0, at_once));
        if let Some((wait_s, offset)) = self.planned {
            let share = share_of(wait_s);
            if share > 0.0 && share < 1.0 {
                let end = if (offset + early) * never > 0.0 {
                    &mut low
                } else {
                    &mut high
                };
                *end = (share, offset);
            }
        }
        let (from, to) = (low.1 + early, high.1 + early);
        if !(from * to < 0.0) {
            return Sides::ChangeNow;
        }
        let root = low.0 + (high.0 - low.0) * from / (from - to);
        let wait_s = kept.lasts_s * (1.0 - root.max(0.0).sqrt());
        if wait_s <= cycle_s {
            Sides::ChangeNow
        } else {
            Sides::ChangeIn(wait_s)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The end of a flight of 100 s under a side force of 2 m/s² to the left that changes to the right after `wait_s`,
    /// with the place 4 km to the left of straight ahead: offsets by hand.
    fn passing(wait_s: Option<f64>) -> Passing {
        let moved = |time: f64| 0.5 * 2.0 * time * time;
        let after = wait_s.map_or(0.0, |wait_s| 100.0 - wait_s);
        let to_the_left = moved(100.0) - 2.0 * moved(after);
        Passing {
            offset_m: to_the_left - 4000.0,
            lasts_s: 100.0,
        }
    }

    fn search(planned: Option<(f64, f64)>, within_m: f64, shift_m: f64) -> Sides {
        let mut search = SideSearch::new(within_m, planned);
        while let Some(wait_s) = search.wants() {
            let mut passing = passing(wait_s);
            passing.offset_m += shift_m;
            search.take(passing);
        }
        search.answer(2.0)
    }

    #[test]
    fn the_change_comes_when_the_rest_of_the_flight_brings_it_back() {
        // 10 km - 2 τ² - 4 km with τ the time left is to be half of 6 km on the other side: τ² = 4500.
        let expected = 100.0 - 4500.0_f64.sqrt();
        let Sides::ChangeIn(wait_s) = search(None, 100.0, 0.0) else {
            panic!("a change later");
        };
        assert!((wait_s - expected).abs() < 1e-9, "{wait_s} {expected}");
        let planned = (35.0, passing(Some(35.0)).offset_m);
        let Sides::ChangeIn(again) = search(Some(planned), 100.0, 0.0) else {
            panic!("a change later");
        };
        assert!((again - expected).abs() < 1e-9, "{again} {expected}");
    }

    /// Where even a change at once leaves less than that on the other side, it is made at once.
    #[test]
    fn a_late_change_is_made_at_once() {
        let mut late = SideSearch::new(100.0, None);
        for offset_m in [9000.0, -3000.0] {
            late.take(Passing {
                offset_m,
                lasts_s: 100.0,
            });
        }
        assert_eq!(late.answer(2.0), Sides::ChangeNow);
    }

    #[test]
    fn a_flight_that_comes_to_the_place_changes_nothing() {
        assert_eq!(search(None, 100.0, -6050.0), Sides::Keep);
    }

    #[test]
    fn a_place_beyond_reach_is_flown_to_on_the_nearer_side() {
        // Beyond what either side reaches: to its left, where the present side leads, and to its right.
        assert_eq!(search(None, 100.0, -20_000.0), Sides::Keep);
        assert_eq!(search(None, 100.0, 20_000.0), Sides::ChangeNow);
    }

    #[test]
    fn what_was_not_predicted_changes_nothing() {
        let mut search = SideSearch::new(100.0, None);
        let nothing = Passing {
            offset_m: f64::NAN,
            lasts_s: 0.0,
        };
        while search.wants().is_some() {
            search.take(nothing);
        }
        assert_eq!(search.answer(2.0), Sides::Keep);
    }
}
