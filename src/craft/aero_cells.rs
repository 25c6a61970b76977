//! An axis of a grid of coefficients, cut at the table's own entries.

use crate::numeric::Real;

/// Most equal places that an axis is divided into, to find the cell of a number by.
pub(super) const MOST_PLACES: f64 = 65_536.0;

/// The cells between the entries of an axis. Equal places lie over them, each so short that no two
/// entries fall into one: the place of a number names two cells, and one comparison which of them it is.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cells {
    first: f64,
    last: f64,
    places_per_unit: f64,
    count: f64,
    /// Of each place: the cell at its lower end, that cell's two ends, one over its width, and one over the
    /// width of the next.
    places: Vec<[f64; 5]>,
}

/// How many places an axis of rising entries needs: one and a little more than the closest two ask for.
pub(super) fn places_needed(entries: &[f64]) -> f64 {
    let span = entries[entries.len() - 1] - entries[0];
    let gaps = entries.windows(2).map(|pair| pair[1] - pair[0]);
    (span / gaps.fold(f64::INFINITY, f64::min) * (1.0 + 1e-6)).floor() + 1.0
}

impl Cells {
    /// The cells between rising entries, of which [`places_needed`] is at most [`MOST_PLACES`].
    pub(super) fn between(entries: &[f64]) -> Self {
        /// Of a place: how far beyond its ends it may be asked for, by rounding.
        const SLACK: f64 = 1e-7;
        let (first, last) = (entries[0], entries[entries.len() - 1]);
        let needed = places_needed(entries).min(MOST_PLACES);
        let span = last - first;
        let places_per_unit = if span > 0.0 { needed / span } else { 0.0 };
        let per_width = |cell: usize| match entries.get(cell..cell + 2) {
            Some(&[low, high]) => 1.0 / (high - low),
            _ => 0.0,
        };
        let most = entries.len().saturating_sub(2);
        let mut places = Vec::new();
        let mut place = 0.0;
        while place < needed {
            let from = (place - SLACK).mul_add(span / needed, first);
            let above = entries.partition_point(|entry| *entry <= from);
            let cell = above.saturating_sub(1).min(most);
            let high = entries.get(cell + 1).filter(|_| cell < most);
            places.push([
                index(cell),
                entries[cell],
                *high.unwrap_or(&f64::INFINITY),
                per_width(cell),
                per_width(cell + 1),
            ]);
            place += 1.0;
        }
        Self {
            first,
            last,
            places_per_unit,
            count: index(most + 1),
            places,
        }
    }

    /// The cell of `x`, the place in it from 0 to 1, and one over its width; beyond the ends the end and 0.
    #[inline(always)]
    pub(super) fn locate<R: Real>(&self, x: R) -> (R, R, R) {
        let (first, last) = (R::splat(self.first), R::splat(self.last));
        let held = x.max(first).min(last);
        let position = (held - first) * R::splat(self.places_per_unit);
        let ([cell, low, high, per_unit, next_per_unit], _) = position.grid_row(&self.places);
        let zero = R::splat(0.0);
        let per_unit = held.select_less(high, per_unit, next_per_unit);
        let t = (held - held.select_less(high, low, high)) * per_unit;
        let cell = held.select_less(high, cell, cell + R::splat(1.0));
        let rate = first.select_less(x, per_unit, zero);
        (cell, t, x.select_less(last, rate, zero))
    }

    /// The ends of the axis.
    pub(super) fn range(&self) -> (f64, f64) {
        (self.first, self.last)
    }

    /// How many cells there are.
    #[inline(always)]
    pub(super) fn count(&self) -> f64 {
        self.count
    }
}

/// A small count as a number.
#[expect(clippy::cast_precision_loss, reason = "at most 100,000 entries")]
fn index(i: usize) -> f64 {
    i as f64
}
