//! Measures as whole numbers and back, in one place: what is rounded, and what happens out of range.

pub(super) use crate::numeric::counts::real;

/// The whole part of a number, at least 0 and at most `most`; 0 for what is not a number.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates, which is meant"
)]
pub(super) fn count(value: f64, most: usize) -> usize {
    (value as usize).min(most)
}

/// The whole part of a number, with its sign; the nearest `i32` out of range.
#[expect(
    clippy::cast_possible_truncation,
    reason = "the cast saturates, which is meant"
)]
pub(super) fn signed(value: f64) -> i32 {
    value as i32
}
