//! How numbers are written for people: the unit a quantity is shown in, its digits, and percentages
//! that never round a risk away. Screen, tables, page and figures all write numbers through here.

use crate::numeric::quantity::Unit;
pub use crate::numeric::written::grouped;

/// A kind of quantity, with the unit it is shown in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// Altitude, radius or distance: SI m, shown in km.
    Altitude,
    /// A short length, such as a relief or a delivery error: SI m, shown in m.
    Length,
    /// Speed: SI m/s, shown in km/s.
    Speed,
    /// A change of speed: SI m/s, shown in m/s.
    SpeedChange,
    /// Sensed deceleration: SI m/s², shown in g.
    Deceleration,
    /// Rate of change of sensed deceleration: SI m/s³, shown in g/s.
    Onset,
    /// Heat flux: SI W/m², shown in W/cm².
    HeatFlux,
    /// Heat load: SI J/m², shown in J/cm².
    HeatLoad,
    /// Dynamic pressure: SI Pa, shown in kPa.
    DynamicPressure,
    /// A stretch of time: SI s, shown in s.
    Duration,
    /// Angle: SI rad, shown in deg.
    Angle,
    /// Mass: SI kg, shown in kg.
    Mass,
    /// Density: SI kg/m³, shown in kg/m³.
    Density,
    /// A probability or share from 0 to 1, shown in per cent.
    Share,
}

impl Quantity {
    /// The unit it is shown in.
    fn scale(self) -> Unit {
        match self {
            Self::Altitude => Unit::KM,
            Self::Length => Unit::M,
            Self::Speed => Unit::KM_S,
            Self::SpeedChange => Unit::M_S,
            Self::Deceleration => Unit::G,
            Self::Onset => Unit::G_S,
            Self::HeatFlux => Unit::W_CM2,
            Self::HeatLoad => Unit::J_CM2,
            Self::DynamicPressure => Unit::KPA,
            Self::Duration => Unit::S,
            Self::Angle => Unit::DEG,
            Self::Mass => Unit::KG,
            Self::Density => Unit::KG_M3,
            Self::Share => Unit::PERCENT,
        }
    }

    /// How many shown units make one SI unit.
    #[must_use]
    pub fn factor(self) -> f64 {
        self.scale().per_si()
    }

    /// The unit the quantity is shown in.
    #[must_use]
    pub fn unit(self) -> &'static str {
        self.scale().shown
    }

    /// The value in the shown unit, from SI.
    #[must_use]
    pub fn shown(self, si: f64) -> f64 {
        si * self.factor()
    }

    /// The value with its unit, from SI: `3.214 km`, `2.41 g`, `99.83 %`; an en dash if it is not finite.
    ///
    /// ```
    /// use periband::report::number::Quantity;
    /// assert_eq!(Quantity::Altitude.write(3214.2), "3.214 km");
    /// assert_eq!(Quantity::Deceleration.write(23.63), "2.41 g");
    /// ```
    #[must_use]
    pub fn write(self, si: f64) -> String {
        if self == Self::Share {
            return percent(si);
        }
        match self.digits(si) {
            Some(digits) => format!("{} {}", grouped(&digits), self.unit()),
            None => MISSING.into(),
        }
    }

    /// The value's digits in the shown unit, without the unit (for table columns that name it in their head).
    #[must_use]
    pub fn write_bare(self, si: f64) -> String {
        if self == Self::Share {
            return percent(si).trim_end_matches(" %").into();
        }
        let digits = self.digits(si);
        digits.map_or_else(|| MISSING.into(), |digits| grouped(&digits))
    }

    fn digits(self, si: f64) -> Option<String> {
        let value = self.shown(si);
        if !value.is_finite() {
            return None;
        }
        Some(match self {
            Self::Length | Self::Mass => plain(format!("{value:.0}")),
            // In kilometres that is a metre, which counts.
            Self::Altitude | Self::Speed | Self::Angle => plain(format!("{value:.3}")),
            Self::SpeedChange | Self::Duration => plain(format!("{value:.1}")),
            Self::Deceleration | Self::Onset => plain(format!("{value:.2}")),
            Self::Density => format!("{value:.3e}"),
            Self::HeatFlux | Self::HeatLoad | Self::DynamicPressure | Self::Share => {
                ungrouped(value, 3)
            }
        })
    }
}

/// What stands where there is no value.
pub const MISSING: &str = "–";

/// A number with so many significant digits, without an exponent between 1e-4 and 1e9, in groups of three
/// ([`grouped`]).
#[must_use]
pub fn significant(value: f64, digits: usize) -> String {
    grouped(&ungrouped(value, digits))
}

/// A number rounded to so many significant digits.
#[must_use]
pub fn rounded(value: f64, digits: usize) -> f64 {
    ungrouped(value, digits).parse().unwrap_or(value)
}

fn ungrouped(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return MISSING.into();
    }
    if value == 0.0 {
        return "0".into();
    }
    let digits = digits.clamp(1, 17);
    let size = value.abs();
    if !(1e-4..1e9).contains(&size) {
        return format!("{value:.*e}", digits - 1);
    }
    let decimals = decimals(size, digits);
    format!("{value:.decimals$}")
}

/// Decimals that show so many significant digits of a positive number.
fn decimals(size: f64, digits: usize) -> usize {
    // Rounding can reach the next power of ten, so the exponent is read after rounding.
    let rounded = format!("{size:.*e}", digits - 1);
    let power = rounded.split_once('e').map_or("0", |(_, power)| power);
    let power: i32 = power.parse().unwrap_or(0);
    let places = i32::try_from(digits).unwrap_or(i32::MAX) - 1 - power;
    usize::try_from(places).unwrap_or(0)
}

/// A number with at most so many significant digits and no zeros at the end of its decimals: `3.5`, `104.12`.
#[must_use]
pub fn trimmed(value: f64, digits: usize) -> String {
    let text = significant(value, digits);
    if text.contains('.') && !text.contains('e') {
        return text.trim_end_matches('0').trim_end_matches('.').into();
    }
    text
}

/// A share from 0 to 1 in per cent, with three digits of its distance from the nearer of 0 and 1.
///
/// So `0.9983` is `99.83 %`, `0.99996` is `99.996 %` and `4e-5` is `0.004 %`: only one and zero
/// themselves are written `100 %` and `0 %`. An en dash stands for what is not a number.
#[must_use]
pub fn percent(share: f64) -> String {
    if share.is_nan() {
        return MISSING.into();
    }
    let share = share.clamp(0.0, 1.0);
    let tail = 100.0 * share.min(1.0 - share);
    if tail <= 0.0 {
        return format!("{:.0} %", 100.0 * share);
    }
    let decimals = decimals(tail, 3).min(10);
    let text = format!("{:.decimals$}", 100.0 * share);
    let text = if decimals > 0 {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    match text {
        // Closer to a bound than doubles can show.
        "100" => "> 99.9999999999 %".into(),
        "0" => "< 0.0000000001 %".into(),
        _ => format!("{text} %"),
    }
}

/// A whole number in groups ([`grouped`]): `4000`, `1 000 000`.
#[must_use]
pub fn count(number: u64) -> String {
    grouped(&number.to_string())
}

/// Drops the sign of a zero that rounding made.
fn plain(text: String) -> String {
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.into(),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentages_keep_the_digits_that_matter() {
        let cases = [
            (0.9983, "99.83 %"),
            (0.998_65, "99.865 %"),
            (0.999_96, "99.996 %"),
            (0.99, "99 %"),
            (0.5, "50 %"),
            (0.123_4, "12.3 %"),
            (0.00004, "0.004 %"),
            (1e-7, "0.00001 %"),
            (1.0, "100 %"),
            (0.0, "0 %"),
            (1.0 / 3.0, "33.3 %"),
            (0.899, "89.9 %"),
            (f64::NAN, "–"),
            (1.0 - f64::EPSILON, "> 99.9999999999 %"),
            (1e-30, "< 0.0000000001 %"),
        ];
        for (share, text) in cases {
            assert_eq!(percent(share), text, "{share}");
        }
    }

    #[test]
    fn quantities_are_written_in_their_shown_unit() {
        assert_eq!(Quantity::Altitude.write(101_234.4), "101.234 km");
        assert_eq!(Quantity::Deceleration.write(3.5 * 9.806_65), "3.50 g");
        assert_eq!(Quantity::HeatFlux.write(904_000.0), "90.4 W/cm²");
        assert_eq!(Quantity::HeatLoad.write(12.34e7), "12\u{202f}340 J/cm²");
        assert_eq!(Quantity::Angle.write(-0.1), "-5.730 deg");
        assert_eq!(Quantity::Speed.write(-0.01), "0.000 km/s");
        assert_eq!(Quantity::Density.write(1.5e-9), "1.500e-9 kg/m³");
        assert_eq!(Quantity::Share.write_bare(0.9983), "99.83");
        assert_eq!(Quantity::Duration.write(f64::INFINITY), "–");
    }

    #[test]
    fn significant_digits_survive_rounding_up() {
        assert_eq!(significant(99.96, 3), "100");
        assert_eq!(significant(0.012_345, 3), "0.0123");
        assert_eq!(significant(123_456.0, 3), "123\u{202f}456");
        assert_eq!(significant(-12_345.67, 7), "-12\u{202f}345.67");
        assert_eq!(rounded(123_456.0, 2), 123_456.0);
        assert_eq!(rounded(0.012_345, 3), 0.0123);
        assert_eq!(significant(1.5e-9, 2), "1.5e-9");
        assert_eq!(trimmed(3.5, 4), "3.5");
        assert_eq!(trimmed(2600.0, 4), "2600");
    }

    #[test]
    fn counts_are_grouped() {
        assert_eq!(count(4000), "4000");
        assert_eq!(grouped("1.5e-9"), "1.5e-9");
        assert_eq!(grouped("–"), "–");
        assert_eq!(count(1_000_000), "1\u{202f}000\u{202f}000");
    }
}
