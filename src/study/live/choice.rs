//! Which samples stand for all: every one of the hardest, and of the others fewer the milder they are,
//! each with a weight.

use crate::numeric::counts::{few, real};

/// A sample that is kept, and how many samples it stands for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kept {
    /// Its number.
    pub sample: u64,
    /// How many samples it stands for, 1 or more.
    pub weight: f64,
}

/// The extremeness of each sample: the smallest share of samples that are at least as severe, over the limits
/// and aims looked at.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Extremeness(Vec<f32>);

impl Extremeness {
    /// Takes in the severities at one aim, one list a limit, each as long as there are samples.
    pub(super) fn fold(&mut self, severities: &[Vec<f32>]) {
        let count = severities.first().map_or(0, Vec::len);
        self.0.resize(count, 1.0);
        let mut order: Vec<u32> = (0..few(count)).collect();
        for column in severities {
            let severity = |sample: u32| column[sample as usize];
            order.sort_by(|&a, &b| severity(b).total_cmp(&severity(a)).then(a.cmp(&b)));
            for (rank, &sample) in order.iter().enumerate() {
                let share = single(real(rank + 1) / real(count));
                let least = &mut self.0[sample as usize];
                *least = least.min(share);
            }
        }
    }
}

/// Chooses about `most` of the samples, in the order of their numbers.
///
/// A sample is kept with a probability in proportion to one over its extremeness, at most 1, and stands for one
/// over that probability (Horvitz and Thompson, J. Am. Stat. Assoc. 47 (1952) 663): so a small chance is known
/// as well as a large one, and the smallest exactly. Which are kept is drawn systematically along the order
/// of extremeness, and is the same every time.
pub(super) fn choose(extremeness: &Extremeness, most: usize) -> Vec<Kept> {
    let extremeness: Vec<f64> = extremeness.0.iter().map(|&e| f64::from(e)).collect();
    let count = extremeness.len();
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by(|&a, &b| extremeness[a].total_cmp(&extremeness[b]).then(a.cmp(&b)));
    let sure = sure_share(&extremeness, most);
    let mut kept = Vec::new();
    let mut sum = 0.0_f64;
    for &sample in &order {
        let chance = (sure / extremeness[sample]).min(1.0);
        let before = (sum + 0.5).floor();
        sum += chance;
        if (sum + 0.5).floor() > before {
            kept.push(Kept {
                sample: sample as u64,
                weight: 1.0 / chance,
            });
        }
    }
    // All together stand for all: what rounding of the draw left over is shared by those that stand for more.
    let (alone, more): (f64, f64) = kept.iter().fold((0.0, 0.0), |(alone, more), kept| {
        if kept.weight > 1.0 {
            (alone, more + kept.weight)
        } else {
            (alone + kept.weight, more)
        }
    });
    if more > 0.0 {
        let factor = (real(count) - alone) / more;
        for kept in kept.iter_mut().filter(|kept| kept.weight > 1.0) {
            kept.weight *= factor;
        }
    }
    kept.sort_by_key(|kept| kept.sample);
    kept
}

/// The extremeness up to which all are kept, so that about `most` are.
fn sure_share(extremeness: &[f64], most: usize) -> f64 {
    if most >= extremeness.len() {
        return 1.0;
    }
    let expected = |sure: f64| -> f64 {
        extremeness
            .iter()
            .map(|extreme| (sure / extreme).min(1.0))
            .sum()
    };
    let (mut few, mut many) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = 0.5 * (few + many);
        if expected(middle) > real(most) {
            many = middle;
        } else {
            few = middle;
        }
    }
    few
}

#[expect(clippy::cast_possible_truncation, reason = "a share to seven digits")]
fn single(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A list of severities without order in the sample number: the golden-section sequence.
    fn scattered(count: u32, seed: f64) -> Vec<f32> {
        (0..count)
            .map(|i| {
                #[expect(clippy::cast_possible_truncation)]
                let part = (f64::from(i) * 0.618_033_988_749_895 + seed).fract() as f32;
                part
            })
            .collect()
    }

    fn folded(columns: &[Vec<f32>]) -> Extremeness {
        let mut extremeness = Extremeness::default();
        extremeness.fold(columns);
        extremeness
    }

    #[test]
    fn the_hardest_are_all_kept_and_the_rest_stand_for_all() {
        let columns = [scattered(20_000, 0.1), scattered(20_000, 0.37)];
        let kept = choose(&folded(&columns), 3000);
        assert!((2950..=3050).contains(&kept.len()), "{}", kept.len());
        let sum: f64 = kept.iter().map(|kept| kept.weight).sum();
        assert!((sum - 20_000.0).abs() < 1e-6, "{sum}");
        for column in &columns {
            for share in [0.001, 0.01, 0.1, 0.5] {
                let from = 1.0 - share;
                let hard = |sample: u64| f64::from(column[usize::try_from(sample).unwrap()]) > from;
                let counted: f64 = kept
                    .iter()
                    .filter(|kept| hard(kept.sample))
                    .map(|kept| kept.weight)
                    .sum();
                let all = (0..20_000).filter(|&sample| hard(sample)).count();
                let off = (counted / real(all) - 1.0).abs();
                let allowed = if share <= 0.01 { 1e-12 } else { 0.05 };
                assert!(off <= allowed, "{share}: {counted} of {all}");
            }
        }
    }

    #[test]
    fn few_samples_are_all_kept() {
        let kept = choose(&folded(&[scattered(100, 0.0)]), 500);
        assert_eq!(kept.len(), 100);
        assert!(kept.iter().all(|kept| kept.weight == 1.0));
        assert!(choose(&Extremeness::default(), 10).is_empty());
    }
}
