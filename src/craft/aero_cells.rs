//! An axis of a grid of coefficients, divided into equal cells.

use crate::numeric::Real;

/// Most cells that an axis is divided into.
const MOST_CELLS: u32 = 256;

/// Equal cells of an axis. The empty rows are there for [`Real::grid_row`] to find the cell by.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cells {
    first: f64,
    per_unit: f64,
    count: f64,
    rows: Vec<[f64; 0]>,
}

impl Cells {
    /// The fewest equal cells between the ends of rising knots that have a cell's end at every knot, or
    /// the most that are allowed.
    pub(super) fn over(knots: &[f64]) -> Self {
        let (first, span) = (knots[0], knots[knots.len() - 1] - knots[0]);
        let fits = |count: u32| {
            knots.iter().all(|knot| {
                let place = (knot - first) / span * f64::from(count);
                (place - place.round()).abs() < 1e-9 * f64::from(count)
            })
        };
        let count = match span {
            span if span > 0.0 => (1..MOST_CELLS)
                .find(|count| fits(*count))
                .unwrap_or(MOST_CELLS),
            _ => 1,
        };
        Self {
            first,
            per_unit: if span > 0.0 {
                f64::from(count) / span
            } else {
                0.0
            },
            count: f64::from(count),
            rows: (0..count).map(|_| []).collect(),
        }
    }

    /// The cell of `x`, the place in it, and the places per unit; 0 beyond the ends.
    #[inline(always)]
    pub(super) fn locate<R: Real>(&self, x: R) -> (R, R, R) {
        let position = (x - R::splat(self.first)) * R::splat(self.per_unit);
        let (zero, count) = (R::splat(0.0), R::splat(self.count));
        let held = position.max(zero).min(count);
        let ([], place) = held.grid_row(&self.rows);
        let inside = zero.select_less(position, R::splat(self.per_unit), zero);
        let per_unit = position.select_less(count, inside, zero);
        (held - place, place, per_unit)
    }

    /// Where the cell's ends are.
    pub(super) fn ends(&self) -> Vec<f64> {
        let step = if self.per_unit > 0.0 {
            1.0 / self.per_unit
        } else {
            0.0
        };
        (0..=self.rows.len())
            .map(|i| step.mul_add(index(i), self.first))
            .collect()
    }

    /// Width of a cell; a billion where there is one only.
    pub(super) fn step(&self) -> f64 {
        1.0 / self.per_unit.max(1e-9)
    }

    /// How many there are.
    #[inline(always)]
    pub(super) fn count(&self) -> f64 {
        self.count
    }
}

/// A small count as a number.
#[expect(clippy::cast_precision_loss, reason = "at most 256")]
fn index(i: usize) -> f64 {
    i as f64
}
