//! `Lanes`: eight numbers in step, as a plain array with plain loops.
//!
//! The loops turn into wide instructions when the function they are inlined into is compiled for
//! them (see `pass::stepper`). Closures and `array::from_fn` would undo that: they are compiled
//! without the wider instructions, so none are used here.

use super::elementary;
use super::real::{Real, cell_of};
use std::ops::{Add, Div, Mul, Neg, Sub};

/// How many numbers a [`Lanes`] holds.
pub const WIDTH: usize = 8;

/// Eight numbers in step.
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(C, align(64))]
pub struct Lanes(pub [f64; WIDTH]);

impl Lanes {
    /// Zero in every lane.
    pub const ZERO: Self = Self([0.0; WIDTH]);
}

macro_rules! lane_operator {
    ($trait:ident, $method:ident, $op:tt) => {
        impl $trait for Lanes {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                let mut out = [0.0; WIDTH];
                for i in 0..WIDTH {
                    out[i] = self.0[i] $op other.0[i];
                }
                Self(out)
            }
        }
    };
}

lane_operator!(Add, add, +);
lane_operator!(Sub, sub, -);
lane_operator!(Mul, mul, *);
lane_operator!(Div, div, /);

impl Neg for Lanes {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        let mut out = [0.0; WIDTH];
        for i in 0..WIDTH {
            out[i] = -self.0[i];
        }
        Self(out)
    }
}

impl Real for Lanes {
    #[inline(always)]
    fn splat(value: f64) -> Self {
        Self([value; WIDTH])
    }
    #[inline(always)]
    fn mul_add(self, a: Self, b: Self) -> Self {
        let mut out = [0.0; WIDTH];
        for i in 0..WIDTH {
            out[i] = self.0[i].mul_add(a.0[i], b.0[i]);
        }
        Self(out)
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        let mut out = [0.0; WIDTH];
        for i in 0..WIDTH {
            out[i] = self.0[i].sqrt();
        }
        Self(out)
    }
    #[inline(always)]
    fn abs(self) -> Self {
        let mut out = [0.0; WIDTH];
        for i in 0..WIDTH {
            out[i] = self.0[i].abs();
        }
        Self(out)
    }
    #[inline(always)]
    fn min(self, other: Self) -> Self {
        let mut out = [0.0; WIDTH];
        for i in 0..WIDTH {
            out[i] = elementary::min(self.0[i], other.0[i]);
        }
        Self(out)
    }
    #[inline(always)]
    fn max(self, other: Self) -> Self {
        let mut out = [0.0; WIDTH];
        for i in 0..WIDTH {
            out[i] = elementary::max(self.0[i], other.0[i]);
        }
        Self(out)
    }
    #[inline(always)]
    fn exp(self) -> Self {
        let mut out = [0.0; WIDTH];
        for i in 0..WIDTH {
            out[i] = elementary::exp(self.0[i]);
        }
        Self(out)
    }
    #[inline(always)]
    fn ln(self) -> Self {
        let mut out = [0.0; WIDTH];
        for i in 0..WIDTH {
            out[i] = elementary::ln(self.0[i]);
        }
        Self(out)
    }
    #[inline(always)]
    fn select_less(self, other: Self, yes: Self, no: Self) -> Self {
        let mut out = [0.0; WIDTH];
        for i in 0..WIDTH {
            out[i] = if self.0[i] < other.0[i] {
                yes.0[i]
            } else {
                no.0[i]
            };
        }
        Self(out)
    }
    #[inline(always)]
    fn grid_row<const K: usize>(self, rows: &[[f64; K]]) -> ([Self; K], Self) {
        let last = rows.len() - 1;
        let mut row = [Self::ZERO; K];
        let mut place = [0.0; WIDTH];
        for i in 0..WIDTH {
            let (index, at) = cell_of(self.0[i], rows.len());
            place[i] = at;
            let cell = &rows[index.min(last)];
            for k in 0..K {
                row[k].0[i] = cell[k];
            }
        }
        (row, Self(place))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_lane_gives_the_bits_of_the_single_number() {
        let x = [-3.5, -0.25, 1e-9, 0.5, 1.0, 2.75, 40.0, 300.0];
        let y = [2.0, -1.0, 0.25, 3.0, -7.5, 1.0, 0.1, 11.0];
        let (a, b) = (Lanes(x), Lanes(y));
        let rows = [[1.0, 2.0], [3.0, 4.0], [5.0, 6.0]];
        let (row, place) = a.grid_row(&rows);
        for i in 0..WIDTH {
            assert_eq!((a + b).0[i], x[i] + y[i]);
            assert_eq!((a * b).0[i], x[i] * y[i]);
            assert_eq!((a / b).0[i], x[i] / y[i]);
            assert_eq!((-a).0[i], -x[i]);
            assert_eq!(a.mul_add(b, a).0[i], f64::mul_add(x[i], y[i], x[i]));
            assert_eq!(a.exp().0[i], elementary::exp(x[i]));
            assert_eq!(a.abs().ln().0[i], elementary::ln(x[i].abs()));
            assert_eq!(a.select_less(b, a, b).0[i], x[i].min(y[i]));
            let (single, at) = x[i].grid_row(&rows);
            assert_eq!(([row[0].0[i], row[1].0[i]], place.0[i]), (single, at));
        }
    }
}
