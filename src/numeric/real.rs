//! `Real`: what a number must be able to do for the equations of motion.
//!
//! Two types implement it: `f64` for single passes under a library integrator, and
//! [`Lanes`](super::Lanes) for eight passes at once. Every formula is written once over it.

use super::elementary;
use std::fmt::Debug;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A real number, or several in step.
pub trait Real:
    Copy
    + Debug
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
{
    /// The same value in every lane.
    fn splat(value: f64) -> Self;
    /// `self · a + b`, rounded once.
    #[must_use]
    fn mul_add(self, a: Self, b: Self) -> Self;
    /// Square root; negative numbers give NaN.
    #[must_use]
    fn sqrt(self) -> Self;
    /// Absolute value.
    #[must_use]
    fn abs(self) -> Self;
    /// The smaller of the two; a NaN in `self` gives `other`.
    #[must_use]
    fn min(self, other: Self) -> Self;
    /// The larger of the two; a NaN in `self` gives `other`.
    #[must_use]
    fn max(self, other: Self) -> Self;
    /// See [`elementary::exp`].
    #[must_use]
    fn exp(self) -> Self;
    /// See [`elementary::ln`].
    #[must_use]
    fn ln(self) -> Self;
    /// `yes` where `self < other`, else `no` (also where either is NaN).
    #[must_use]
    fn select_less(self, other: Self, yes: Self, no: Self) -> Self;
    /// Splits a position on a grid of `rows.len()` cells into the row of its cell and the place in it.
    ///
    /// The place is in `[0, 1]` inside the grid; before the first and behind the last cell the end
    /// cells go on, with places below 0 and above 1. `rows` must not be empty.
    fn grid_row<const K: usize>(self, rows: &[[f64; K]]) -> ([Self; K], Self);
}

/// The cell of a position, clamped to the grid, without a branch or a float-to-integer conversion.
#[inline(always)]
pub(crate) fn cell_of(position: f64, cells: usize) -> (usize, f64) {
    /// 2^52: adding it to a non-negative number below it leaves the nearest integer in the low bits.
    const TWO_52: f64 = 4_503_599_627_370_496.0;
    /// Mask of the fraction bits of a double.
    const FRACTION: u64 = 0x000f_ffff_ffff_ffff;
    // `as` is exact here: a grid has far fewer than 2^52 cells.
    #[allow(clippy::cast_precision_loss)]
    let last = (cells - 1) as f64;
    let clamped = elementary::max(elementary::min(position - 0.5, last), 0.0);
    let shifted = clamped + TWO_52;
    #[allow(clippy::cast_possible_truncation)]
    let index = (shifted.to_bits() & FRACTION) as usize;
    (index, position - (shifted - TWO_52))
}

impl Real for f64 {
    #[inline(always)]
    fn splat(value: f64) -> Self {
        value
    }
    #[inline(always)]
    fn mul_add(self, a: Self, b: Self) -> Self {
        f64::mul_add(self, a, b)
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }
    #[inline(always)]
    fn abs(self) -> Self {
        f64::abs(self)
    }
    #[inline(always)]
    fn min(self, other: Self) -> Self {
        elementary::min(self, other)
    }
    #[inline(always)]
    fn max(self, other: Self) -> Self {
        elementary::max(self, other)
    }
    #[inline(always)]
    fn exp(self) -> Self {
        elementary::exp(self)
    }
    #[inline(always)]
    fn ln(self) -> Self {
        elementary::ln(self)
    }
    #[inline(always)]
    fn select_less(self, other: Self, yes: Self, no: Self) -> Self {
        if self < other { yes } else { no }
    }
    #[inline(always)]
    fn grid_row<const K: usize>(self, rows: &[[f64; K]]) -> ([Self; K], Self) {
        let (index, place) = cell_of(self, rows.len());
        (rows[index.min(rows.len() - 1)], place)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_position_finds_its_cell_and_the_ends_go_on() {
        let rows = [[0.0], [10.0], [20.0]];
        assert_eq!(0.25.grid_row(&rows), ([0.0], 0.25));
        assert_eq!(1.75.grid_row(&rows), ([10.0], 0.75));
        assert_eq!((-2.0).grid_row(&rows), ([0.0], -2.0));
        assert_eq!(7.0.grid_row(&rows), ([20.0], 5.0));
        // A position on a knot belongs to one of its two cells, at the matching end.
        let ([row], place) = 1.0.grid_row(&rows);
        assert_eq!(row / 10.0 + place, 1.0);
        // NaN stays NaN and does not panic.
        assert!(f64::NAN.grid_row(&rows).1.is_nan());
    }
}
