//! Round numbers for axes: where ticks stand and how their values are written.

use crate::report::number::grouped;
use crate::report::whole;

/// A tick: its value and its text (empty for a tick without one).
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tick {
    pub(super) at: f64,
    pub(super) text: String,
}

/// The round step (1, 2, 2.5 or 5 times a power of ten) that gives at most `most` ticks over a span.
fn step(span: f64, most: usize) -> f64 {
    let least = span / whole::real(most.max(1));
    let power = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 2.5, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * power)
        .find(|step| *step >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

/// Ticks at round values inside a range, at most about `most` of them.
pub(super) fn linear(low: f64, high: f64, most: usize) -> Vec<Tick> {
    let step = step(high - low, most);
    let (first, last) = ((low / step - 1e-6).ceil(), (high / step + 1e-6).floor());
    if !(step.is_finite() && step > 0.0 && (0.0..=100.0).contains(&(last - first))) {
        return Vec::new();
    }
    let largest = low.abs().max(high.abs());
    (0..=whole::count(last - first, 100))
        .map(|i| {
            let at = (first + whole::real(i)) * step;
            Tick {
                at,
                text: write(at, step, largest),
            }
        })
        .collect()
}

/// The range grown to whole steps, so that the axis ends on ticks.
pub(super) fn rounded_range(low: f64, high: f64, most: usize) -> (f64, f64) {
    let step = step(high - low, most);
    if !(step.is_finite() && step > 0.0) {
        return (low, high);
    }
    (
        (low / step + 1e-6).floor() * step,
        (high / step - 1e-6).ceil() * step,
    )
}

/// Writes a tick's value with the decimals its step needs.
fn write(value: f64, step: f64, largest: f64) -> String {
    let value = if value.abs() < step * 1e-6 {
        0.0
    } else {
        value
    };
    if value == 0.0 {
        return "0".into();
    }
    if !(1e-3..1e6).contains(&largest) {
        let power = whole::signed(largest.log10().floor());
        let unit = 10_f64.powi(power);
        let mantissa = write(value / unit, step / unit, 1.0);
        return format!("{mantissa}×{}", power_of_ten(power));
    }
    let decimals = (0..8)
        .find(|d| {
            let scaled = step * 10_f64.powf(whole::real(*d));
            (scaled - scaled.round()).abs() < 1e-6 * scaled
        })
        .unwrap_or(8);
    typographic(&format!("{value:.decimals$}"))
}

/// Ticks of a logarithmic axis: powers of ten, or 1, 2 and 5 where fewer than two decades show.
pub(super) fn logarithmic(low: f64, high: f64, most: usize) -> Vec<Tick> {
    let (from, to) = (low.log10(), high.log10());
    if !(from.is_finite() && to.is_finite()) || to - from > 700.0 {
        return Vec::new();
    }
    let (first, last) = (
        whole::signed((from - 1e-9).ceil()),
        whole::signed((to + 1e-9).floor()),
    );
    if last - first < 1 {
        return (first - 1..=last)
            .flat_map(|power| [1.0, 2.0, 5.0].map(|factor| factor * 10_f64.powi(power)))
            .filter(|at| (low * (1.0 - 1e-9)..=high * (1.0 + 1e-9)).contains(at))
            .map(|at| Tick {
                at,
                text: write(at, at, at),
            })
            .collect();
    }
    let every = (last - first) / i32::try_from(most.max(1)).unwrap_or(i32::MAX) + 1;
    (first..=last)
        .map(|power| Tick {
            at: 10_f64.powi(power),
            text: if power.rem_euclid(every) == 0 {
                power_text(power, first >= -2 && last <= 4)
            } else {
                String::new()
            },
        })
        .collect()
}

/// A power of ten in full where the whole axis can be, else as a power.
fn power_text(power: i32, in_full: bool) -> String {
    if !in_full {
        return power_of_ten(power);
    }
    let decimals = usize::try_from(-power).unwrap_or(0);
    typographic(&format!("{:.*}", decimals, 10_f64.powi(power)))
}

fn power_of_ten(power: i32) -> String {
    let raised: String = power
        .to_string()
        .chars()
        .map(|c| match c {
            '-' => '\u{207b}',
            '1' => '¹',
            '2' => '²',
            '3' => '³',
            digit => char::from_u32(0x2070 + (u32::from(digit) - u32::from('0'))).unwrap_or(digit),
        })
        .collect();
    format!("10{raised}")
}

/// The true minus sign, and thin spaces between groups of three digits from 10 000 on.
pub(super) fn typographic(number: &str) -> String {
    let (sign, digits) = match number.strip_prefix('-') {
        Some(rest) => ("\u{2212}", rest),
        None => ("", number),
    };
    format!("{sign}{}", grouped(digits))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(ticks: &[Tick]) -> Vec<&str> {
        ticks.iter().map(|tick| tick.text.as_str()).collect()
    }

    #[test]
    fn linear_ticks_are_round_and_signed() {
        assert_eq!(
            texts(&linear(0.0, 3.3, 7)),
            ["0", "0.5", "1.0", "1.5", "2.0", "2.5", "3.0"]
        );
        assert_eq!(
            texts(&linear(-20.0, 21.0, 5)),
            ["\u{2212}20", "\u{2212}10", "0", "10", "20"]
        );
        assert_eq!(
            texts(&linear(0.0, 25_000.0, 3)),
            ["0", "10\u{202f}000", "20\u{202f}000"]
        );
        assert_eq!(
            texts(&linear(0.0, 3.0e7, 4)),
            ["0", "1×10⁷", "2×10⁷", "3×10⁷"]
        );
    }

    #[test]
    fn ranges_that_make_no_sense_give_no_ticks() {
        assert!(linear(1.0, 1.0, 5).is_empty());
        assert!(linear(f64::NAN, 1.0, 5).is_empty());
        assert!(linear(1.0, 1.0 + 1e-16, 5).len() < 3);
        assert!(logarithmic(0.0, 1.0, 5).is_empty());
    }

    #[test]
    fn logarithmic_ticks_are_powers_or_one_two_five() {
        assert_eq!(
            texts(&logarithmic(1e-3, 10.0, 8)),
            ["10⁻³", "10⁻²", "10⁻¹", "10⁰", "10¹"]
        );
        assert_eq!(
            texts(&logarithmic(0.01, 10.0, 8)),
            ["0.01", "0.1", "1", "10"]
        );
        assert_eq!(texts(&logarithmic(1.5, 6.0, 8)), ["2", "5"]);
        let far = logarithmic(1e-12, 1.0, 5);
        assert!(far.iter().filter(|tick| !tick.text.is_empty()).count() <= 6);
    }

    #[test]
    fn a_range_grows_to_whole_steps() {
        assert_eq!(rounded_range(0.3, 9.1, 5), (0.0, 10.0));
        assert_eq!(rounded_range(2.0, 4.0, 4), (2.0, 4.0));
    }
}
