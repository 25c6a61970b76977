//! Stretches of aims on which something holds: their union and intersection, with who set each end.

use super::demand::Bank;

/// An end of a stretch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// Outermost aim at which all holds, m.
    pub aim_m: f64,
    /// Which demand, flown at which bank, is broken just beyond; `None` where the range searched ends.
    pub owner: Option<(usize, Bank)>,
}

/// A stretch of aims, from its low (steep) to its high (shallow) end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// The steep end.
    pub low: Edge,
    /// The shallow end.
    pub high: Edge,
}

impl Stretch {
    /// Length, m.
    #[must_use]
    pub fn width_m(&self) -> f64 {
        self.high.aim_m - self.low.aim_m
    }
}

/// What holds in at least one of the lists; each list is in order and without overlaps.
#[must_use]
pub fn union(lists: &[&[Stretch]]) -> Vec<Stretch> {
    let mut all: Vec<Stretch> = lists.iter().copied().flatten().copied().collect();
    all.sort_by(|a, b| a.low.aim_m.total_cmp(&b.low.aim_m));
    let mut joined: Vec<Stretch> = Vec::new();
    for stretch in all {
        match joined.last_mut() {
            Some(last) if stretch.low.aim_m <= last.high.aim_m => {
                if stretch.high.aim_m > last.high.aim_m {
                    last.high = stretch.high;
                }
            }
            _ => joined.push(stretch),
        }
    }
    joined
}

/// What holds in every list; `within` where there is no list, nothing where there is none of either.
#[must_use]
pub fn intersection(within: Option<Stretch>, lists: &[Vec<Stretch>]) -> Vec<Stretch> {
    let mut kept = Vec::from_iter(within);
    for list in lists {
        let mut next = Vec::new();
        for one in &kept {
            for other in list {
                let low = if other.low.aim_m > one.low.aim_m {
                    other.low
                } else {
                    one.low
                };
                let high = if other.high.aim_m < one.high.aim_m {
                    other.high
                } else {
                    one.high
                };
                if low.aim_m <= high.aim_m {
                    next.push(Stretch { low, high });
                }
            }
        }
        kept = next;
    }
    kept
}

/// The widest of some stretches.
#[must_use]
pub fn widest(stretches: &[Stretch]) -> Option<Stretch> {
    stretches
        .iter()
        .copied()
        .max_by(|a, b| a.width_m().total_cmp(&b.width_m()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stretch(low: f64, high: f64) -> Stretch {
        let edge = |aim_m, demand| Edge {
            aim_m,
            owner: Some((demand, Bank::Up)),
        };
        Stretch {
            low: edge(low, 0),
            high: edge(high, 1),
        }
    }

    #[test]
    fn unions_join_what_overlaps_and_intersections_keep_the_owner() {
        let (a, b) = (
            [stretch(0.0, 2.0), stretch(5.0, 6.0)],
            [stretch(1.0, 3.0), stretch(8.0, 9.0)],
        );
        let joined = union(&[&a, &b]);
        let ends: Vec<(f64, f64)> = joined.iter().map(|s| (s.low.aim_m, s.high.aim_m)).collect();
        assert_eq!(ends, [(0.0, 3.0), (5.0, 6.0), (8.0, 9.0)]);
        let mut within = stretch(-10.0, 5.5);
        (within.low.owner, within.high.owner) = (None, None);
        let within = Some(within);
        let kept = intersection(within, &[joined, vec![stretch(2.0, 20.0)]]);
        let ends: Vec<(f64, f64)> = kept.iter().map(|s| (s.low.aim_m, s.high.aim_m)).collect();
        assert_eq!(ends, [(2.0, 3.0), (5.0, 5.5)]);
        assert_eq!(kept[0].low.owner, Some((0, Bank::Up)));
        assert_eq!(kept[1].high.owner, None);
        assert_eq!(widest(&kept).map(|s| s.width_m()), Some(1.0));
        assert!(intersection(within, &[Vec::new()]).is_empty());
    }
}
