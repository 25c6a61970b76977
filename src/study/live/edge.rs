//! The aim below which a sample stays in the air, by halving between two aims that differ in it.
//! What a pass gives jumps there: on one side it leaves the air, on the other it comes down.

use super::{Flown, stays};
use crate::ensemble::{Fleet, LimitKind, Stopped};
use crate::pass::Ending;

/// Halvings of the distance between two aims.
const HALVINGS: u32 = 6;

/// Below the range of aims, and above it, m.
const NEVER_M: f64 = -1e12;
const ALWAYS_M: f64 = 1e12;

/// For each sample the aim below which it stays in the air, m.
pub(super) fn stays_below(
    fleet: &Fleet<'_>,
    flown: &Flown,
    (aims_m, numbers): (&[f64], &[u64]),
    kind: LimitKind,
) -> Result<Vec<f64>, Stopped> {
    let rows = flown.endings.chunks(flown.aims);
    let mut brackets: Vec<(f64, f64)> =
        rows.map(|endings| bracket(endings, aims_m, kind)).collect();
    for _ in 0..HALVINGS {
        // Samples between the same two aims are flown together.
        let mut open: Vec<usize> = (0..brackets.len())
            .filter(|&i| brackets[i].0 > NEVER_M && brackets[i].1 < ALWAYS_M)
            .collect();
        open.sort_by(|&a, &b| brackets[a].0.total_cmp(&brackets[b].0).then(a.cmp(&b)));
        let before = brackets.clone();
        for group in open.chunk_by(|&a, &b| before[a] == before[b]) {
            let (low, high) = before[group[0]];
            let middle = 0.5 * (low + high);
            let listed: Vec<u64> = group.iter().map(|&i| numbers[i]).collect();
            let mut endings = Vec::with_capacity(group.len());
            fleet.fly_listed(&[middle], &listed, |sample| {
                endings.push(sample.result.ending);
            })?;
            for (&i, ending) in group.iter().zip(endings) {
                brackets[i] = if stays(kind, ending) {
                    (middle, high)
                } else {
                    (low, middle)
                };
            }
        }
    }
    let middle = |(low, high): (f64, f64)| {
        if low <= NEVER_M {
            NEVER_M
        } else if high >= ALWAYS_M {
            ALWAYS_M
        } else {
            0.5 * (low + high)
        }
    };
    Ok(brackets.into_iter().map(middle).collect())
}

/// The highest aim at which a sample stays and the next one, at which it does not.
fn bracket(endings: &[Ending], aims_m: &[f64], kind: LimitKind) -> (f64, f64) {
    match endings.iter().rposition(|&ending| stays(kind, ending)) {
        None => (NEVER_M, aims_m.first().copied().unwrap_or(ALWAYS_M)),
        Some(last) => match aims_m.get(last + 1) {
            Some(&beyond) => (aims_m[last], beyond),
            None => (aims_m[last], ALWAYS_M),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_change_is_bracketed_by_the_aims_on_either_side() {
        use Ending::{Captured as C, Escaped as E, Landed as L, OutOfTime as O};
        let aims = [1.0, 2.0, 3.0, 4.0];
        let leaves = LimitKind::LeavesAir;
        assert_eq!(bracket(&[L, O, C, E], &aims, leaves), (2.0, 3.0));
        assert_eq!(
            bracket(&[L, O, C, E], &aims, LimitKind::ComesDown),
            (1.0, 2.0)
        );
        assert_eq!(bracket(&[C, C, C, E], &aims, leaves), (NEVER_M, 1.0));
        assert_eq!(bracket(&[L, L, L, L], &aims, leaves), (4.0, ALWAYS_M));
    }
}
