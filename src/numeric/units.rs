//! Quantities as people write them, `52 km` or `3.5 g`: reading them into SI and writing them back.
//! Which key of which file carries which dimension is left to the readers of those files.

use thiserror::Error;

pub use super::dimension::Dimension;
use super::dimension::Unit;
use super::written::{number_length, readable};

/// Why a text is not a quantity of the dimension that was wanted.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum QuantityError {
    /// The text does not begin with a number.
    #[error("expected {}, got `{text}`", .dimension.words())]
    NotANumber {
        /// What was written.
        text: String,
        /// What was wanted.
        dimension: Dimension,
    },
    /// The number is too large for a 64-bit float.
    #[error("`{text}` is not a finite number")]
    NotFinite {
        /// What was written.
        text: String,
    },
    /// A bare number where a unit is needed.
    #[error("`{text}` has no unit")]
    MissingUnit {
        /// What was written.
        text: String,
        /// What was wanted.
        dimension: Dimension,
    },
    /// The unit is not one of those accepted.
    #[error("{unit_says} in `{text}`")]
    WrongUnit {
        /// What was written.
        text: String,
        /// What is wrong with the unit.
        unit_says: String,
        /// What was wanted.
        dimension: Dimension,
    },
}

impl QuantityError {
    /// One sentence of advice, with the accepted units.
    #[must_use]
    pub fn help(&self) -> String {
        match self {
            Self::NotANumber { text, dimension } => {
                let example = dimension.example();
                if text.contains(|c: char| c.is_ascii_digit()) {
                    format!(
                        "write one number and one unit, with a decimal point and no separators: `{example}`"
                    )
                } else {
                    format!(
                        "write a number{}, for example `{example}`",
                        unit_clause(*dimension)
                    )
                }
            }
            Self::NotFinite { .. } => "every number must be finite".to_owned(),
            Self::MissingUnit { text, dimension } => {
                let first = dimension.units().first().map_or("", |unit| unit.name);
                format!(
                    "add the unit, for example `{text} {first}`; {} takes {}",
                    dimension.words(),
                    dimension.accepted()
                )
            }
            Self::WrongUnit { dimension, .. } => {
                format!("{} takes {}", dimension.words(), dimension.accepted())
            }
        }
    }
}

fn unit_clause(dimension: Dimension) -> String {
    if dimension.units().is_empty() {
        String::new()
    } else {
        format!(" with its unit ({})", dimension.accepted())
    }
}

/// Reads `text`, for example `52 km`, as a quantity of `dimension` in SI units.
///
/// Units may be written with `²`, `^2` or `2`, with or without a space before them.
///
/// # Errors
/// [`QuantityError`] when there is no number, no unit where one is needed, a unit of
/// another dimension, or a number that is not finite.
pub fn parse_quantity(text: &str, dimension: Dimension) -> Result<f64, QuantityError> {
    let text = text.trim().replace('\u{2212}', "-");
    let (number, rest) = text.split_at(number_length(&text));
    let Ok(value) = number.parse::<f64>() else {
        return Err(QuantityError::NotANumber { text, dimension });
    };
    let name = plain_spelling(rest);
    if name.starts_with(|c: char| c.is_ascii_digit() || c == ',' || c == '_' || c == '.') {
        return Err(QuantityError::NotANumber { text, dimension });
    }
    let si = if name.is_empty() {
        if !dimension.accepts_bare() {
            return Err(QuantityError::MissingUnit { text, dimension });
        }
        value
    } else if let Some(unit) = dimension.find(&name) {
        value * unit.times / unit.per
    } else {
        let unit_says = describe_wrong_unit(&name);
        return Err(QuantityError::WrongUnit {
            text,
            unit_says,
            dimension,
        });
    };
    if si.is_finite() {
        Ok(si)
    } else {
        Err(QuantityError::NotFinite { text })
    }
}

/// The unit in its plain spelling: `m²`, `m^2` and `m 2` are not three units.
fn plain_spelling(unit: &str) -> String {
    let mut plain = String::with_capacity(unit.len());
    for c in unit.trim().chars() {
        match c {
            '²' => plain.push('2'),
            '³' => plain.push('3'),
            '°' => plain.push_str("deg"),
            '·' | '*' => plain.push(' '),
            '^' => {}
            _ => plain.push(c),
        }
    }
    let plain = plain.split_whitespace().collect::<Vec<_>>().join(" ");
    match plain.as_str() {
        "J/kg/K" => "J/(kg K)".to_owned(),
        "kJ/kg/K" => "kJ/(kg K)".to_owned(),
        "W/m/K" => "W/(m K)".to_owned(),
        "tonne" | "tonnes" => "t".to_owned(),
        "day" | "days" => "d".to_owned(),
        _ => plain,
    }
}

fn describe_wrong_unit(name: &str) -> String {
    if let Some(of) = Dimension::ALL
        .iter()
        .find(|dimension| dimension.find(name).is_some())
    {
        let words = of.words();
        let noun = words.split_once(' ').map_or(words, |(_article, noun)| noun);
        return format!("`{name}` is a unit of {noun}");
    }
    let lower = name.to_lowercase();
    let close = Dimension::ALL
        .iter()
        .flat_map(|dimension| dimension.units())
        .find(|unit| unit.name.to_lowercase() == lower);
    match close {
        Some(unit) => format!("unknown unit `{name}` (`{}` is one)", unit.name),
        None => format!("unknown unit `{name}`"),
    }
}

/// Writes an SI value with up to six digits in the unit a reader expects, for example `52 km`.
///
/// The text can be read back with [`parse_quantity`].
#[must_use]
pub fn format_quantity(si: f64, dimension: Dimension) -> String {
    let Some(unit) = reading_unit(si.abs(), dimension) else {
        return format_number(si);
    };
    format!(
        "{} {}",
        format_number(si * unit.per / unit.times),
        unit.name
    )
}

/// As [`format_quantity`], for people rather than for a file: `100 000 km`, `60 W/cm²`.
#[must_use]
pub fn show_quantity(si: f64, dimension: Dimension) -> String {
    readable(&format_quantity(si, dimension))
}

/// The unit in which a value of this size reads best.
fn reading_unit(size: f64, dimension: Dimension) -> Option<&'static Unit> {
    let name = match dimension {
        Dimension::Length if size != 0.0 && size < 1e3 => "m",
        Dimension::Speed if size < 1e3 => "m/s",
        Dimension::AngularRate if size < 1e-3 => "rad/s",
        Dimension::Mass if size < 1e3 => "kg",
        Dimension::Area if size >= 1e5 => "km2",
        Dimension::HeatLoad if size >= 1e7 => "kJ/cm2",
        Dimension::Pressure if size < 1e3 => "Pa",
        Dimension::Time if size >= 2.0 * 86_400.0 => "d",
        Dimension::Time if size >= 7200.0 => "h",
        Dimension::Time if size >= 600.0 => "min",
        Dimension::Force if size < 1e3 => "N",
        _ => return dimension.units().first(),
    };
    dimension.find(name)
}

/// Writes a number with up to six significant digits and no trailing zeros.
#[must_use]
pub fn format_number(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let rounded: f64 = format!("{value:.5e}").parse().unwrap_or(value);
    let size = rounded.abs();
    if (1e-4..1e9).contains(&size) {
        format!("{rounded}")
    } else {
        format!("{rounded:e}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str, dimension: Dimension) -> f64 {
        parse_quantity(text, dimension).unwrap()
    }

    #[test]
    fn units_are_read_into_si() {
        // Factors computed by hand from the definitions of the units.
        assert_eq!(parse_quantity("52 km", Dimension::Length), Ok(52_000.0));
        assert_eq!(
            parse_quantity("3.5 g", Dimension::Acceleration),
            Ok(3.5 * 9.806_65)
        );
        assert_eq!(
            parse_quantity("90 W/cm2", Dimension::HeatFlux),
            Ok(900_000.0)
        );
        assert_eq!(parse_quantity("9 kJ/cm2", Dimension::HeatLoad), Ok(9.0e7));
        assert_eq!(parse_quantity("0.3 %", Dimension::Ratio), Ok(0.003));
        assert_eq!(parse_quantity("0.003", Dimension::Ratio), Ok(0.003));
        assert_eq!(
            parse_quantity("180 deg", Dimension::Angle),
            Ok(std::f64::consts::PI)
        );
        assert_eq!(
            parse_quantity("42828.375 km3/s2", Dimension::GravitationalParameter),
            Ok(4.282_837_5e13)
        );
        assert_eq!(parse_quantity("1.5 h", Dimension::Time), Ok(5400.0));
        assert_eq!(
            parse_quantity("43.34 g/mol", Dimension::MolarMass),
            Ok(43.34 / 1000.0)
        );
    }

    #[test]
    fn spellings_of_one_unit_agree() {
        for text in [
            "310 m2",
            "310m2",
            "310 m²",
            "310 m^2",
            "+310.0 m2",
            "3.1e2 m2",
        ] {
            assert_eq!(parse_quantity(text, Dimension::Area), Ok(310.0), "{text}");
        }
        assert_eq!(
            parse_quantity("\u{2212}6.5°", Dimension::Angle),
            Ok(read("-6.5 deg", Dimension::Angle))
        );
        assert_eq!(
            parse_quantity("189 J/kg/K", Dimension::SpecificHeat),
            Ok(read("189 J/(kg·K)", Dimension::SpecificHeat))
        );
    }

    #[test]
    fn a_bare_number_is_told_the_units() {
        let error = parse_quantity("52", Dimension::Length).unwrap_err();
        assert_eq!(error.to_string(), "`52` has no unit");
        assert_eq!(
            error.help(),
            "add the unit, for example `52 km`; a length takes km, m, cm or mm"
        );
    }

    #[test]
    fn a_unit_of_another_dimension_is_named() {
        let error = parse_quantity("3 km", Dimension::Time).unwrap_err();
        assert_eq!(error.to_string(), "`km` is a unit of length in `3 km`");
        assert_eq!(error.help(), "a time takes s, min, h, d or ms");
        let error = parse_quantity("3 Km", Dimension::Length).unwrap_err();
        assert_eq!(
            error.to_string(),
            "unknown unit `Km` (`km` is one) in `3 Km`"
        );
    }

    #[test]
    fn what_is_no_number_is_refused() {
        for text in [
            "",
            "km",
            "nan km",
            "inf",
            "1,5 km",
            "40 000 km",
            "1_000 m",
            "--3 m",
            "1.2.3 m",
            "e5 m",
            ".",
            "-",
        ] {
            let error = parse_quantity(text, Dimension::Length).unwrap_err();
            assert!(
                matches!(error, QuantityError::NotANumber { .. }),
                "{text}: {error:?}"
            );
        }
        assert!(matches!(
            parse_quantity("1e400 m", Dimension::Length),
            Err(QuantityError::NotFinite { .. })
        ));
        assert!(matches!(
            parse_quantity("1e306 km", Dimension::Length),
            Err(QuantityError::NotFinite { .. })
        ));
    }

    #[test]
    fn what_is_written_can_be_read_back() {
        for dimension in Dimension::ALL {
            for si in [
                0.0, 1.0, -7.25, 6.02e-4, 0.019_57, 845.0, 62_000.0, 4.0e7, 1.23e13,
            ] {
                let text = format_quantity(si, dimension);
                let back = read(&text, dimension);
                assert!(
                    (back - si).abs() <= 1e-5 * si.abs(),
                    "{dimension}: {text} gives {back}, not {si}"
                );
            }
        }
    }

    #[test]
    fn quantities_read_well() {
        assert_eq!(format_quantity(62_000.0, Dimension::Mass), "62 t");
        assert_eq!(
            format_quantity(3.0 * 9.806_65, Dimension::Acceleration),
            "3 g"
        );
        assert_eq!(format_quantity(9.0e7, Dimension::HeatLoad), "9 kJ/cm2");
        assert_eq!(
            format_quantity(32f64.to_radians(), Dimension::Angle),
            "32 deg"
        );
        assert_eq!(format_quantity(4.0e7, Dimension::Length), "40000 km");
        assert_eq!(format_quantity(0.003, Dimension::Ratio), "0.3 %");
        assert_eq!(format_quantity(250.0, Dimension::Length), "250 m");
    }
}
