//! Counts of values in bins that are fixed beforehand: exact, and the same in whatever order they are merged.

/// Most bins of one histogram.
pub const MOST_BINS: u32 = 4096;

/// Bins of one width from `low` to `high`; what lies outside is counted below or above them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bins {
    low: f64,
    high: f64,
    count: u32,
}

/// A value with the number of its sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Numbered {
    /// The value.
    pub value: f64,
    /// The sample it belongs to; of equal values the lowest.
    pub sample: u64,
}

/// Counts of values, and the lowest and the highest of them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Histogram {
    /// Values in each bin.
    pub counts: Vec<u64>,
    /// Values below the bins.
    pub below: u64,
    /// Values above the bins.
    pub above: u64,
    /// The lowest value.
    pub lowest: Option<Numbered>,
    /// The highest value.
    pub highest: Option<Numbered>,
}

/// A quantile as bins know it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bracketed {
    /// The value, taken to lie evenly in its bin.
    pub value: f64,
    /// The sample's own quantile is no lower than this.
    pub at_least: f64,
    /// Nor higher than this.
    pub at_most: f64,
}

impl Bins {
    /// Bins between two finite bounds, `low` below `high`; `None` for others, or for no bins or too many.
    #[must_use]
    pub fn new(low: f64, high: f64, count: u32) -> Option<Self> {
        let fit = low.is_finite() && high.is_finite() && (high - low).is_finite();
        (fit && low < high && (1..=MOST_BINS).contains(&count)).then_some(Self { low, high, count })
    }

    /// Bins about values of a few samples, with room for those of many more. A long tail is cut: its far part
    /// is counted above or below. Without values the bins are of no use, from 0 to 1.
    #[must_use]
    pub fn about(mut values: Vec<f64>, count: u32) -> Self {
        /// How far beyond the middle 98 % the bins reach at most, in widths of it.
        const REACH: f64 = 2.0;
        /// How far beyond the outermost values they reach, in widths of all.
        const ROOM: f64 = 0.25;
        let count = count.clamp(1, MOST_BINS);
        values.retain(|value| value.is_finite());
        values.sort_by(f64::total_cmp);
        let none = Self {
            low: 0.0,
            high: 1.0,
            count,
        };
        let (Some(&first), Some(&last)) = (values.first(), values.last()) else {
            return none;
        };
        let cut = values.len() / 100;
        let (near_first, near_last) = (values[cut], values[values.len() - 1 - cut]);
        let (middle, whole) = (near_last - near_first, last - first);
        let low = (first - ROOM * whole).max(near_first - REACH * middle);
        let high = (last + ROOM * whole).min(near_last + REACH * middle);
        let least = 0.5_f64.max(1e-3 * first.abs());
        Self::new(low, high, count)
            .or_else(|| Self::new(first - least, first + least, count))
            .unwrap_or(none)
    }

    /// The lower bound of the lowest bin.
    #[must_use]
    pub fn low(&self) -> f64 {
        self.low
    }

    /// The upper bound of the highest bin.
    #[must_use]
    pub fn high(&self) -> f64 {
        self.high
    }

    /// How many bins there are.
    #[must_use]
    pub fn count(&self) -> u32 {
        self.count
    }

    /// The edge below bin `index`; that of the last plus one is the upper bound.
    #[must_use]
    pub fn edge(&self, index: usize) -> f64 {
        if index >= self.count as usize {
            return self.high;
        }
        #[expect(clippy::cast_precision_loss, reason = "at most some thousands")]
        let share = index as f64 / f64::from(self.count);
        share.mul_add(self.high - self.low, self.low)
    }
}

impl Histogram {
    /// Nothing counted yet.
    #[must_use]
    pub fn new(bins: &Bins) -> Self {
        Self {
            counts: vec![0; bins.count as usize],
            ..Self::default()
        }
    }

    /// Counts a value of a sample; one that is not finite is left out.
    pub fn count(&mut self, bins: &Bins, value: f64, sample: u64) {
        if !value.is_finite() {
            return;
        }
        let place = (value - bins.low) * (f64::from(bins.count) / (bins.high - bins.low));
        if place < 0.0 {
            self.below += 1;
        } else if place >= f64::from(bins.count) {
            self.above += 1;
        } else {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "between 0 and the number of bins"
            )]
            let index = place as usize;
            self.counts[index] += 1;
        }
        let one = Some(Numbered { value, sample });
        self.lowest = lower(self.lowest, one);
        self.highest = higher(self.highest, one);
    }

    /// Adds the counts of other samples in the same bins.
    pub fn merge(&mut self, other: &Self) {
        for (mine, theirs) in self.counts.iter_mut().zip(&other.counts) {
            *mine += theirs;
        }
        self.below += other.below;
        self.above += other.above;
        self.lowest = lower(self.lowest, other.lowest);
        self.highest = higher(self.highest, other.highest);
    }

    /// How many values were counted.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.counts.iter().sum::<u64>() + self.below + self.above
    }

    /// The value at or below which a share of the values lies: that of rank ⌈share · n⌉. `None` without values.
    #[must_use]
    pub fn quantile(&self, bins: &Bins, share: f64) -> Option<Bracketed> {
        let total = self.total();
        let (lowest, highest) = (self.lowest?.value, self.highest?.value);
        #[expect(
            clippy::cast_precision_loss,
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "counts stay below 2^53"
        )]
        let rank = ((share * total as f64).ceil() as u64).clamp(1, total);
        let mut before = 0;
        let ends = |index: usize| (bins.edge(index), bins.edge(index + 1));
        let below = std::iter::once((self.below, (lowest, bins.low)));
        let within = self.counts.iter().enumerate();
        let within = within.map(|(index, &count)| (count, ends(index)));
        let above = std::iter::once((self.above, (bins.high, highest)));
        for (count, (from, to)) in below.chain(within).chain(above) {
            if rank <= before + count {
                let (from, to) = (from.max(lowest), to.min(highest));
                #[expect(clippy::cast_precision_loss, reason = "counts stay below 2^53")]
                let inside = ((rank - before) as f64 - 0.5) / count as f64;
                return Some(Bracketed {
                    value: inside.mul_add(to - from, from),
                    at_least: from,
                    at_most: to,
                });
            }
            before += count;
        }
        None
    }
}

fn lower(a: Option<Numbered>, b: Option<Numbered>) -> Option<Numbered> {
    [a, b].into_iter().flatten().min_by(|a, b| {
        a.value
            .total_cmp(&b.value)
            .then_with(|| a.sample.cmp(&b.sample))
    })
}

fn higher(a: Option<Numbered>, b: Option<Numbered>) -> Option<Numbered> {
    [a, b].into_iter().flatten().max_by(|a, b| {
        a.value
            .total_cmp(&b.value)
            .then_with(|| b.sample.cmp(&a.sample))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The same ten values as in the test of merging, in any order.
    fn counted(bins: &Bins, values: &[(u64, f64)]) -> Histogram {
        let mut histogram = Histogram::new(bins);
        for &(sample, value) in values {
            histogram.count(bins, value, sample);
        }
        histogram
    }

    #[test]
    fn every_value_is_in_the_bin_whose_edges_hold_it() {
        let bins = Bins::new(-1.0, 3.0, 7).unwrap();
        for step in 0..400 {
            let value = f64::from(step).mul_add(0.0123, -1.7);
            let histogram = counted(&bins, &[(0, value)]);
            let at = histogram.counts.iter().position(|&count| count == 1);
            match at {
                Some(at) => assert!(
                    bins.edge(at) <= value && value < bins.edge(at + 1),
                    "{value}"
                ),
                None if value < -1.0 => assert_eq!(histogram.below, 1),
                None => assert!(value >= 3.0 && histogram.above == 1, "{value}"),
            }
        }
        assert_eq!(counted(&bins, &[(0, f64::NAN)]).total(), 0);
    }

    #[test]
    fn merging_in_any_order_is_counting_at_once() {
        let bins = Bins::new(0.0, 10.0, 5).unwrap();
        let values: Vec<(u64, f64)> = (0..60)
            .map(|i| (i, f64::from(u32::try_from(i * 37 % 23).unwrap()) - 4.0))
            .collect();
        let whole = counted(&bins, &values);
        let parts: Vec<Histogram> = values.chunks(7).map(|part| counted(&bins, part)).collect();
        for order in [[0, 3, 1, 8, 2, 4, 7, 5, 6], [8, 7, 6, 5, 4, 3, 2, 1, 0]] {
            let mut merged = Histogram::new(&bins);
            for place in order {
                merged.merge(&parts[place]);
            }
            assert_eq!(merged, whole);
        }
        // Of equal extremes the lowest sample.
        assert_eq!(
            whole.lowest,
            Some(Numbered {
                value: -4.0,
                sample: 0
            })
        );
    }

    #[test]
    fn quantiles_hold_those_of_the_values_between_their_bounds() {
        // Order statistics of the values themselves (computed by sorting them).
        let bins = Bins::new(10.0, 60.0, 40).unwrap();
        let mut values: Vec<(u64, f64)> = (0..997_u32)
            .map(|i| (u64::from(i), f64::from(i * i % 991) * 0.09))
            .collect();
        let histogram = counted(&bins, &values);
        values.sort_by(|a, b| a.1.total_cmp(&b.1));
        let ranked = [
            (0.0, 1),
            (0.00135, 2),
            (0.05, 50),
            (0.5, 499),
            (0.95, 948),
            (0.99865, 996),
            (1.0, 997),
        ];
        for (share, rank) in ranked {
            let exact: f64 = values[rank - 1].1;
            let found = histogram.quantile(&bins, share).unwrap();
            assert!(
                found.at_least <= exact && exact <= found.at_most,
                "{share}: {found:?}, {exact}"
            );
            assert!(found.at_least <= found.value && found.value <= found.at_most);
        }
    }

    #[test]
    fn bins_about_a_long_tail_do_not_follow_it() {
        let mut values: Vec<f64> = (0..1000).map(|i| f64::from(i) / 1000.0).collect();
        values.push(1e9);
        let bins = Bins::about(values, 100);
        assert!(bins.high() < 5.0 && bins.low() < 0.0, "{bins:?}");
        assert!(Bins::about(vec![2.0; 9], 10).high() > 2.0);
        assert_eq!(Bins::new(1.0, 1.0, 4), None);
        assert_eq!(Bins::new(0.0, f64::INFINITY, 4), None);
    }
}
