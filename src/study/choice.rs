//! Which of some flown aims to take: the one with the least risk, smoothed over the aims about it.
//!
//! All aims have the same samples, so that risks next to each other go up and down together; still, of many aims
//! the one that did best was lucky too. Three things keep its luck from carrying the choice away. The risk of
//! an aim is the mean over the aims about it, with weights that fall to nothing (as 1 - d²/h²) at a quarter of the
//! stretch whose risks cannot be told from the least; an aim weighs as much as the room it has to its
//! neighbours, so that a crowd of them does not count more than a few. Aims that differ by less than one can
//! know are alike, and of those side by side the middle is taken. And what is told of the aim
//! comes from other draws ([`crate::ensemble::luck::Block`]).

/// The risk at an aim, in samples or as a probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Risk {
    /// The aim, m.
    pub(super) aim_m: f64,
    /// How much is at risk there, 0 or more.
    pub(super) risk: f64,
}

/// How risks are told apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Grain {
    /// They are exact.
    Exact,
    /// Of counts: half a sample is nothing, and the square root of a count is chance.
    Counts,
    /// Of probabilities: so small a difference is nothing, and half of one is chance.
    Chances(f64),
}

impl Grain {
    fn alike(self) -> f64 {
        match self {
            Self::Exact => 0.0,
            Self::Counts => 0.5,
            Self::Chances(alike) => alike,
        }
    }

    /// The most that a risk may be to belong to the same valley as the least one.
    fn reach(self, least: f64) -> f64 {
        match self {
            Self::Exact => least,
            // Four standard deviations of a count, of some more where there are none.
            Self::Counts => least + 4.0 * (least + 4.0).sqrt(),
            Self::Chances(alike) => 2.0 * least + 4.0 * alike,
        }
    }
}

/// Aims side by side that are as good as the best.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Top {
    /// The lowest of them, m.
    pub(super) low_m: f64,
    /// The highest of them, m.
    pub(super) high_m: f64,
    /// The one nearest to their middle, m.
    pub(super) aim_m: f64,
    /// Its smoothed risk.
    pub(super) risk: f64,
}

/// The best of the aims within `from_m` to `to_m`, of all flown in rising order; `None` where none is within.
pub(super) fn best(all: &[Risk], (from_m, to_m): (f64, f64), grain: Grain) -> Option<Top> {
    let within = |at: &&Risk| (from_m..=to_m).contains(&at.aim_m);
    let risks = || all.iter().filter(within).map(|at| at.risk);
    let least = risks().min_by(f64::total_cmp)?;
    let lowest = all.iter().filter(within).position(|at| at.risk == least)?;
    let some: Vec<&Risk> = all.iter().filter(within).collect();
    let far = |at: &&&Risk| at.risk > grain.reach(least);
    let below = some[..lowest].iter().rev().take_while(|at| !far(at)).last();
    let above = some[lowest..].iter().take_while(|at| !far(at)).last();
    let end = |end: Option<&&Risk>| end.map_or(some[lowest].aim_m, |at| at.aim_m);
    let reach_m = match grain {
        Grain::Exact => 0.0,
        Grain::Counts | Grain::Chances(_) => 0.25 * (end(above) - end(below)),
    };
    let smoothed: Vec<Risk> = some
        .iter()
        .map(|at| Risk {
            aim_m: at.aim_m,
            risk: smoothed(all, at, reach_m),
        })
        .collect();
    let least = smoothed.iter().map(|at| at.risk).min_by(f64::total_cmp)?;
    let good = |at: &Risk| at.risk <= least + grain.alike();
    let runs = smoothed.chunk_by(|a, b| good(a) == good(b));
    let longest = runs
        .filter(|run| good(&run[0]))
        .max_by(|a, b| length(a).total_cmp(&length(b)))?;
    let (low_m, high_m) = (longest[0].aim_m, longest[longest.len() - 1].aim_m);
    let away = |at: &Risk| (at.aim_m - 0.5 * (low_m + high_m)).abs();
    let middle = longest.iter().min_by(|a, b| away(a).total_cmp(&away(b)))?;
    Some(Top {
        low_m,
        high_m,
        aim_m: middle.aim_m,
        risk: middle.risk,
    })
}

fn length(run: &[Risk]) -> f64 {
    run[run.len() - 1].aim_m - run[0].aim_m
}

/// The risk about an aim.
fn smoothed(all: &[Risk], at: &Risk, reach_m: f64) -> f64 {
    let (mut sum, mut weights) = (0.0, 0.0);
    for (place, other) in all.iter().enumerate() {
        let away = (other.aim_m - at.aim_m) / reach_m;
        if !(away.abs() < 1.0) {
            continue;
        }
        let before = place.checked_sub(1).map_or(other.aim_m, |p| all[p].aim_m);
        let after = all.get(place + 1).map_or(other.aim_m, |next| next.aim_m);
        let weight = (after - before) * (1.0 - away * away);
        sum += weight * other.risk;
        weights += weight;
    }
    if weights > 0.0 {
        sum / weights
    } else {
        at.risk
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts(counts: &[u32]) -> Vec<Risk> {
        let at = |(place, &count): (u32, &u32)| Risk {
            aim_m: 1e3 * f64::from(place),
            risk: f64::from(count),
        };
        (0..).zip(counts).map(at).collect()
    }

    fn best_of(risks: &[Risk], grain: Grain) -> f64 {
        best(risks, (0.0, 1e6), grain).unwrap().aim_m
    }

    #[test]
    fn one_lucky_or_unlucky_aim_does_not_carry_the_choice_away() {
        // A valley about 8 km; a lucky aim at 3 km, an unlucky one at 8 km.
        let valley = [
            60, 40, 27, 18, 13, 10, 8, 7, 7, 7, 8, 10, 13, 18, 27, 40, 60,
        ];
        let calm = best_of(&counts(&valley), Grain::Counts);
        assert!((calm - 8e3).abs() <= 1e3, "{calm}");
        let mut lucky = valley;
        lucky[3] = 4;
        let at = best_of(&counts(&lucky), Grain::Counts);
        assert!((at - calm).abs() <= 1e3, "{at}");
        let mut unlucky = valley;
        unlucky[8] = 14;
        let at = best_of(&counts(&unlucky), Grain::Counts);
        assert!((at - calm).abs() <= 2e3, "{at}");
    }

    #[test]
    fn of_a_flat_top_the_middle_is_taken() {
        let flat = [9, 3, 0, 0, 0, 0, 0, 0, 0, 3, 9];
        assert_eq!(best_of(&counts(&flat), Grain::Counts), 5e3);
        let exact = [1, 1, 0, 0, 0, 0, 0, 1, 1, 1];
        assert_eq!(best_of(&counts(&exact), Grain::Exact), 4e3);
        // Every aim fails: there is nothing to tell them apart.
        assert_eq!(best_of(&counts(&[1; 5]), Grain::Exact), 2e3);
    }

    #[test]
    fn a_crowd_of_aims_counts_no_more_than_the_room_it_has() {
        let mut crowded = counts(&[9, 6, 4, 3, 3, 4, 6, 9]);
        let alone = best_of(&crowded, Grain::Counts);
        let crowd = (1..10).map(|n| Risk {
            aim_m: 6e3 + 50.0 * f64::from(n),
            risk: 6.0,
        });
        crowded.extend(crowd);
        crowded.sort_by(|a, b| a.aim_m.total_cmp(&b.aim_m));
        assert_eq!(best_of(&crowded, Grain::Counts), alone);
    }

    #[test]
    fn what_lies_outside_is_not_taken_and_nothing_comes_of_nothing() {
        let falling = counts(&[9, 8, 7, 6, 5, 4, 3, 2, 1]);
        let within = best(&falling, (1e3, 3e3), Grain::Counts).unwrap();
        assert!((1e3..=3e3).contains(&within.aim_m));
        assert_eq!(best(&falling, (20e3, 30e3), Grain::Counts), None);
        assert_eq!(best(&[], (0.0, 1.0), Grain::Counts), None);
    }
}
