//! Campaigns against time and against the number of the pass: quantiles over those whose passes were kept.

use super::campaign::CampaignOutcome;
use crate::ensemble::campaign::{CampaignEnding, PassRow};
use crate::ensemble::quantile::Sorted;

/// Points along time.
const POINTS: u32 = 160;
/// The quantiles that are drawn.
const PROBABILITIES: [f64; 5] = [0.05, 0.25, 0.5, 0.75, 0.95];

/// Quantiles of one quantity along an axis.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Spread {
    /// Places along the axis.
    pub x: Vec<f64>,
    /// One row for each of 5, 25, 50, 75 and 95 %.
    pub rows: [Vec<f64>; 5],
}

impl Spread {
    fn push(&mut self, x: f64, values: Vec<f64>) {
        let Ok(sorted) = Sorted::new(values) else {
            return;
        };
        self.x.push(x);
        for (row, probability) in self.rows.iter_mut().zip(PROBABILITIES) {
            row.push(sorted.quantile(probability));
        }
    }
}

impl CampaignOutcome {
    /// A quantity of the passes against the days since the start, over the campaigns on their way at each
    /// time; a campaign that has reached its target stays where its last pass left it.
    #[must_use]
    pub fn over_days(&self, of: impl Fn(&PassRow) -> f64) -> Spread {
        let arrived = |number: u64| {
            let result = self.campaigns.iter().find(|c| c.campaign == number);
            result.is_some_and(|c| c.ending == CampaignEnding::Reached)
        };
        let curve = |rows: &[PassRow]| -> Vec<(f64, f64)> {
            let points = rows.iter().map(|row| (row.time_s / 86_400.0, of(row)));
            points.filter(|point| point.1.is_finite()).collect()
        };
        let curves: Vec<(Vec<(f64, f64)>, bool)> = self
            .rows
            .iter()
            .map(|(number, rows)| (curve(rows), arrived(*number)))
            .collect();
        let end = curves
            .iter()
            .filter_map(|(curve, _)| curve.last().map(|point| point.0))
            .fold(0.0, f64::max);
        let mut spread = Spread::default();
        for i in 0..=POINTS {
            let day = end * f64::from(i) / f64::from(POINTS);
            let at = |(curve, reached): &(Vec<(f64, f64)>, bool)| value_at(curve, day, *reached);
            spread.push(day, curves.iter().filter_map(at).collect());
        }
        spread
    }

    /// A sum over the passes up to each, against the number of the pass; campaigns that are over keep theirs.
    #[must_use]
    pub fn summed_over_passes(&self, of: impl Fn(&PassRow) -> f64) -> Spread {
        let sums: Vec<Vec<f64>> = self
            .rows
            .iter()
            .map(|(_, rows)| {
                let mut sum = 0.0;
                let add = |row: &PassRow| {
                    sum += of(row);
                    sum
                };
                rows.iter().map(add).collect()
            })
            .collect();
        let longest = sums.iter().map(Vec::len).max().unwrap_or(0);
        let mut spread = Spread::default();
        let mut number = 1.0;
        for pass in 0..longest {
            let values = sums
                .iter()
                .filter_map(|sums| sums.get(pass).or(sums.last()).copied());
            spread.push(number, values.collect());
            number += 1.0;
        }
        spread
    }
}

/// Linear between the passes; `None` before the first, and after the last of one that did not arrive.
fn value_at(curve: &[(f64, f64)], day: f64, reached: bool) -> Option<f64> {
    let after = curve.partition_point(|&(t, _)| t < day);
    let first = curve.first()?;
    match (
        after.checked_sub(1).and_then(|i| curve.get(i)),
        curve.get(after),
    ) {
        (Some(&(t0, v0)), Some(&(t1, v1))) if t1 > t0 => {
            Some(v0 + (v1 - v0) * (day - t0) / (t1 - t0))
        }
        (Some(&(_, last)), None) => reached.then_some(last),
        (None, Some(_)) => Some(first.1),
        (_, Some(&(_, value))) => Some(value),
        (None, None) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_lie_on_the_line_between_passes_and_stay_after_the_last_of_one_that_arrived() {
        let curve = [(1.0, 10.0), (3.0, 20.0)];
        assert_eq!(value_at(&curve, 0.0, true), Some(10.0));
        assert_eq!(value_at(&curve, 2.5, true), Some(17.5));
        assert_eq!(value_at(&curve, 9.0, true), Some(20.0));
        assert_eq!(value_at(&curve, 9.0, false), None);
        assert_eq!(value_at(&[], 1.0, true), None);
    }
}
