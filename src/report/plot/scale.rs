//! How a value becomes a place along an axis: linear, logarithmic, or by probability with a row for zero.

use super::ticks::{self, Tick};
use crate::report::{number, whole};

/// Values beyond this size are taken for missing.
const LARGEST: f64 = 1e200;
/// Share of a probability axis that the row for zero takes.
const ZERO_ROW: f64 = 0.09;
/// Share of a probability axis left free above one.
const HEAD: f64 = 0.02;

/// An axis without its place in a picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Scale {
    /// From `low` to `high`, which differ.
    Linear { low: f64, high: f64 },
    /// From `low` to `high`, both positive, by their logarithms.
    Log { low: f64, high: f64 },
    /// Probabilities from 10 to the power `floor` up to one by their logarithms, and below them a row for zero.
    Probability { floor: i32 },
}

/// Smallest and largest of the values that can be drawn.
pub(super) fn extent(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    values
        .into_iter()
        .filter(|v| v.abs() < LARGEST)
        .fold(None, |seen, v| match seen {
            None => Some((v, v)),
            Some((low, high)) => Some((low.min(v), high.max(v))),
        })
}

impl Scale {
    /// A linear axis that just holds the values; room is made about a single value.
    pub(super) fn tight(values: impl IntoIterator<Item = f64>) -> Self {
        let (low, high) = extent(values).unwrap_or((0.0, 1.0));
        let least = 1e-9 * low.abs().max(high.abs());
        if high - low > least {
            return Self::Linear { low, high };
        }
        let room = if low == 0.0 { 1.0 } else { 0.05 * low.abs() };
        Self::Linear {
            low: low - room,
            high: high + room,
        }
    }

    /// A linear axis that holds the values with a little room and ends on round numbers.
    pub(super) fn roomy(values: impl IntoIterator<Item = f64>, ticks: usize) -> Self {
        let Self::Linear { low, high } = Self::tight(values) else {
            return Self::Linear {
                low: 0.0,
                high: 1.0,
            };
        };
        let room = 0.03 * (high - low);
        let low_end = if low >= 0.0 && low < 0.35 * high {
            0.0
        } else {
            low - room
        };
        let high_end = if high <= 0.0 && high > 0.35 * low {
            0.0
        } else {
            high + room
        };
        let (low, high) = ticks::rounded_range(low_end, high_end, ticks);
        Self::Linear { low, high }
    }

    /// The axis with this share of its length added at both ends.
    pub(super) fn with_margins(self, share: f64) -> Self {
        match self {
            Self::Linear { low, high } => {
                let room = share * (high - low);
                Self::Linear {
                    low: low - room,
                    high: high + room,
                }
            }
            Self::Log { low, high } => {
                let room = (share * (high.ln() - low.ln())).exp();
                Self::Log {
                    low: low / room,
                    high: high * room,
                }
            }
            Self::Probability { .. } => self,
        }
    }

    /// A logarithmic axis that holds the positive ones of the values.
    pub(super) fn log(values: impl IntoIterator<Item = f64>) -> Self {
        let positive = values.into_iter().filter(|v| *v > 1e-200);
        let (low, high) = extent(positive).unwrap_or((0.1, 1.0));
        if high.ln() - low.ln() > 0.01 {
            return Self::Log { low, high };
        }
        Self::Log {
            low: low / 2.0,
            high: high * 2.0,
        }
    }

    /// A probability axis deep enough for the smallest positive one of the values, within 1e-2 to 1e-7.
    pub(super) fn probability(values: impl IntoIterator<Item = f64>) -> Self {
        let smallest = values
            .into_iter()
            .filter(|p| *p > 0.0)
            .fold(1e-2_f64, f64::min);
        Self::Probability {
            floor: whole::signed((smallest.log10() + 1e-9).floor().clamp(-7.0, -2.0)),
        }
    }

    /// How far along the axis a value stands, from 0 to 1 inside the range; `None` if it cannot be drawn.
    pub(super) fn share(&self, value: f64) -> Option<f64> {
        if value.is_nan() || value.abs() >= LARGEST {
            return None;
        }
        let share = match *self {
            Self::Linear { low, high } => (value - low) / (high - low),
            Self::Log { low, high } => (value.ln() - low.ln()) / (high.ln() - low.ln()),
            Self::Probability { .. } if value <= 0.0 => ZERO_ROW / 2.0,
            Self::Probability { floor } => {
                let depth = 1.0 - value.min(1.0).log10() / f64::from(floor);
                ZERO_ROW + (1.0 - HEAD - ZERO_ROW) * depth.max(0.0)
            }
        };
        share.is_finite().then_some(share)
    }

    /// Where the row for zero ends, if the axis has one.
    pub(super) fn zero_row(&self) -> Option<f64> {
        matches!(self, Self::Probability { .. }).then_some(ZERO_ROW)
    }

    /// The axis' ticks, at most about `most` with text.
    pub(super) fn ticks(&self, most: usize) -> Vec<Tick> {
        match *self {
            Self::Linear { low, high } => ticks::linear(low, high, most),
            Self::Log { low, high } => ticks::logarithmic(low, high, most),
            Self::Probability { floor } => std::iter::once(0.0)
                .chain((floor..=0).map(|power| 10_f64.powi(power)))
                .map(|at| Tick {
                    at,
                    text: number::percent(at),
                })
                .collect(),
        }
    }

    /// Values of the small ticks between the ticks: 2 to 9 times each power of ten, on axes by logarithm.
    pub(super) fn small_ticks(&self) -> Vec<f64> {
        let (first, last, low, high) = match *self {
            Self::Linear { .. } => return Vec::new(),
            Self::Log { low, high } => (low.log10().floor(), high.log10().floor(), low, high),
            Self::Probability { floor } => (f64::from(floor), -1.0, 0.0, 1.0),
        };
        if last - first > 8.0 {
            return Vec::new();
        }
        (whole::signed(first)..=whole::signed(last))
            .flat_map(|power| (2..10).map(move |m| f64::from(m) * 10_f64.powi(power)))
            .filter(|at| (low..=high).contains(at))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odd_data_still_give_an_axis() {
        assert_eq!(
            Scale::tight([]),
            Scale::Linear {
                low: 0.0,
                high: 1.0
            }
        );
        assert_eq!(
            Scale::tight([f64::NAN, 0.0]),
            Scale::Linear {
                low: -1.0,
                high: 1.0
            }
        );
        assert_eq!(
            Scale::tight([100.0, 100.0]),
            Scale::Linear {
                low: 95.0,
                high: 105.0
            }
        );
        assert_eq!(
            Scale::log([0.0, -3.0, f64::INFINITY]),
            Scale::Log {
                low: 0.1,
                high: 1.0
            }
        );
    }

    #[test]
    fn probabilities_stand_by_their_logarithm_and_zero_below_them() {
        let scale = Scale::probability([0.5, 2e-4, 0.0]);
        assert_eq!(scale, Scale::Probability { floor: -4 });
        let at = |p: f64| scale.share(p).expect("a place");
        assert!((at(1.0) - (1.0 - HEAD)).abs() < 1e-12);
        assert!((at(1e-4) - ZERO_ROW).abs() < 1e-12);
        assert!((at(0.1) - at(0.01) - (at(1.0) - at(0.1))).abs() < 1e-12);
        assert!(at(0.0) < at(1e-4));
        assert_eq!(scale.share(f64::NAN), None);
        let texts: Vec<String> = scale.ticks(9).into_iter().map(|tick| tick.text).collect();
        assert_eq!(texts, ["0 %", "0.01 %", "0.1 %", "1 %", "10 %", "100 %"]);
    }

    #[test]
    fn a_roomy_axis_starts_at_zero_only_when_that_is_near() {
        assert_eq!(
            Scale::roomy([0.2, 9.0], 5),
            Scale::Linear {
                low: 0.0,
                high: 10.0
            }
        );
        let Scale::Linear { low, .. } = Scale::roomy([80.0, 120.0], 5) else {
            panic!("a linear axis");
        };
        assert!(low > 50.0);
    }
}
