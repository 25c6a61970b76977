//! How far the width of one band over another may be off because the samples are finite: the samples are
//! drawn anew with replacement, the same ones for both bands.

use super::super::aims::Aims;
use super::super::band::{Band, Edge};
use super::super::opening::most_broken;
use crate::ensemble::Halt;
use crate::ensemble::quantile::Sorted;
use crate::ensemble::sobol::Redraw;
use crate::numeric::counts::{index, real};
use crate::scenario::ask::Ask;

/// Aims looked at about an edge.
const AIMS: u32 = 10;
/// What is looked at beyond the doubt about an edge, m.
const BEYOND_M: f64 = 100.0;
/// Times that the samples are drawn anew.
const RESAMPLINGS: usize = 400;

/// The two edges of a band and what the samples did about them.
pub(super) struct Near {
    low: Side,
    high: Side,
}

/// About one edge, from the inside of the band outwards.
struct Side {
    aims_m: Vec<f64>,
    /// The samples that did not hold every limit, at each aim.
    others: Vec<Vec<usize>>,
}

impl Near {
    /// What the samples did about both edges; flies some aims more.
    pub(super) fn of(aims: &mut Aims<'_>, band: &Band) -> Result<Self, Halt> {
        let width_m = band.width_m();
        let mut side = |edge: &Edge, outwards: f64| {
            let mut wanted = around(edge, outwards, width_m);
            aims.fly(&wanted)?;
            // All that were flown between them too.
            let ends = (wanted[0], wanted[wanted.len() - 1]);
            let (low, high) = (ends.0.min(ends.1), ends.0.max(ends.1));
            let points = aims.points().iter().map(|point| point.aim_m);
            wanted = points.filter(|aim| (low..=high).contains(aim)).collect();
            if outwards < 0.0 {
                wanted.reverse();
            }
            let at = |&aim_m: &f64| not_held_at(aims, aim_m);
            Ok::<Side, Halt>(Side {
                others: wanted.iter().map(at).collect(),
                aims_m: wanted,
            })
        };
        Ok(Self {
            low: side(&band.low, -1.0)?,
            high: side(&band.high, 1.0)?,
        })
    }

    /// The width (m) when each sample counts as often as `times` says and `most` may not hold; `None` where
    /// no aim was flown about an edge.
    fn width(&self, times: &[u32], most: u64) -> Option<f64> {
        let (low, high) = (self.low.edge(times, most)?, self.high.edge(times, most)?);
        Some((high - low).max(0.0))
    }
}

fn not_held_at(aims: &Aims<'_>, aim_m: f64) -> Vec<usize> {
    let others = aims.not_held_at(aim_m);
    let others = others.expect("the aims of an influence are recorded, and this one is flown");
    others.into_iter().map(index).collect()
}

/// Aims about an edge, from the inside outwards; an edge where the range of aims ends stays where it is.
fn around(edge: &Edge, outwards: f64, width_m: f64) -> Vec<f64> {
    if edge.ends_the_range() {
        return vec![edge.aim_m];
    }
    let reach = edge.uncertainty_m + BEYOND_M;
    let (inside, outside) = (reach.min(width_m), reach);
    (0..AIMS)
        .map(|i| {
            let share = f64::from(i) / f64::from(AIMS - 1);
            outwards * (share * (inside + outside) - inside) + edge.aim_m
        })
        .collect()
}

impl Side {
    /// Where more than `most` samples do not hold for the first time on the way out, by a straight line
    /// between the aims; the last aim where that is nowhere, `None` where there is no aim.
    fn edge(&self, times: &[u32], most: u64) -> Option<f64> {
        let count = |others: &[usize]| -> u64 {
            let each = others.iter().map(|&sample| times.get(sample).copied());
            each.map(|times| u64::from(times.unwrap_or(0))).sum()
        };
        let mut before: Option<(f64, u64)> = None;
        for (&aim_m, others) in self.aims_m.iter().zip(&self.others) {
            let count = count(others);
            if count > most && self.aims_m.len() > 1 {
                let Some((inner_m, fewer)) = before else {
                    return Some(aim_m);
                };
                let share = (real(most - fewer) + 0.5) / real(count - fewer);
                return Some(inner_m + share * (aim_m - inner_m));
            }
            before = Some((aim_m, count));
        }
        before.map(|(aim_m, _)| aim_m)
    }
}

/// How far (m) below and above what was found the second band's lead over the first in width may be, with
/// the confidence asked for; `None` where that cannot be told.
pub(super) fn differences(first: &Near, second: &Near, ask: &Ask) -> Option<(f64, f64)> {
    let samples = index(ask.samples);
    let most = most_broken(ask);
    let once = vec![1; samples];
    let wider = |times: &[u32]| Some(second.width(times, most)? - first.width(times, most)?);
    let found = wider(&once)?;
    let mut drawing = Redraw::new(ask.seed, samples);
    let again = (0..RESAMPLINGS).map(|_| Some(wider(drawing.next())? - found));
    let side = 0.5 * (1.0 - ask.confidence);
    let sorted = Sorted::new(again.collect::<Option<_>>()?).ok()?;
    Some((sorted.quantile(side), sorted.quantile(1.0 - side)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_edge_lies_where_the_count_passes_what_is_allowed() {
        let side = Side {
            aims_m: vec![50e3, 49e3, 48e3],
            others: vec![vec![], vec![3], vec![1, 2, 3, 4]],
        };
        let once = [1; 6];
        // From 1 broken at 49 km to 4 at 48 km, 2.5 are reached half-way.
        let edge = |times: &[u32], most| side.edge(times, most).unwrap();
        assert!((edge(&once, 2) - 48.5e3).abs() < 1e-9);
        assert!((edge(&once, 9) - 48e3).abs() < 1e-9, "allowed throughout");
        // Sample 3 counts twice and sample 1 not at all: 2 at 49 km, 4 at 48 km.
        let times = [1, 0, 1, 2, 1, 1];
        assert!((edge(&times, 1) - (50e3 - 0.75e3)).abs() < 1e-9);
    }
}
