//! Reads what a sweep varies: `ship.lift_to_drag=0..0.5:6`, `ship.mass=50t,60t,70t`.
//! Whether there is such a number in the scenario is decided when it is set.

use super::document::Document;
use super::message::{InputError, Place};
use crate::numeric::written::split_number;

/// Most values of one number.
pub const MOST_VALUES: usize = 1000;

/// A number of a scenario and the values it takes.
#[derive(Debug, Clone, PartialEq)]
pub struct Variation {
    /// Its dotted key.
    pub key: String,
    /// The unit as written; empty for a bare number.
    pub unit: String,
    /// The values, in that unit.
    pub values: Vec<f64>,
    /// As written, for messages.
    written: String,
}

impl Variation {
    /// Reads `key=from..to:count` or `key=a,b,c`; a unit may be written once, behind the last number.
    ///
    /// # Errors
    /// When the text is neither, a number or a unit is wrong, or there are too few or too many values.
    pub fn parse(text: &str) -> Result<Self, InputError> {
        let refuse = |message: String| {
            InputError::new(message)
                .with_place(Place {
                    source: format!("--vary {text}"),
                    position: None,
                })
                .with_help("write a range, `ship.lift_to_drag=0..0.5:6`, or a list, `ship.mass=50t,60t,70t`")
        };
        let Some((key, values)) = text.split_once('=') else {
            return Err(refuse("the values to take are missing".to_owned()));
        };
        let (key, values) = (key.trim(), values.trim());
        if key.is_empty() || key.split('.').any(|part| part.trim().is_empty()) {
            return Err(refuse("the key to vary is empty".to_owned()));
        }
        let read = match values.split_once("..") {
            Some((from, rest)) => range(from, rest),
            None => list(values),
        };
        let (values, unit) = read.map_err(refuse)?;
        Ok(Self {
            key: key.to_owned(),
            unit,
            values,
            written: text.trim().to_owned(),
        })
    }

    /// The value at a place as it is set: `42 km`.
    #[must_use]
    pub fn value_text(&self, place: usize) -> String {
        let value = self.values.get(place).copied().unwrap_or(f64::NAN);
        format!("{value} {}", self.unit).trim_end().to_owned()
    }

    /// Sets the value at a place over a document.
    ///
    /// # Errors
    /// When the key leads nowhere.
    pub fn set(&self, place: usize, document: &mut Document) -> Result<(), InputError> {
        let value = self.value_text(place);
        let assignment = format!("--vary {} at {value}", self.written);
        document.set_as(assignment, (&self.key, &value))
    }
}

/// The values and the unit of `from..to:count`.
fn range(from: &str, rest: &str) -> Result<(Vec<f64>, String), String> {
    let Some((to, count)) = rest.rsplit_once(':') else {
        return Err("how many values the range has is missing".to_owned());
    };
    let (ends, unit) = list(&format!("{from},{to}"))?;
    let (from, to) = (ends[0], ends[1]);
    let count: usize = count
        .trim()
        .parse()
        .ok()
        .filter(|count| (2..=MOST_VALUES).contains(count))
        .ok_or_else(|| {
            format!(
                "a range has from 2 to {MOST_VALUES} values, got `{}`",
                count.trim()
            )
        })?;
    #[expect(clippy::cast_precision_loss, reason = "at most a thousand")]
    let share = |place: usize| place as f64 / (count - 1) as f64;
    let at = |place: usize| match place {
        0 => from,
        _ if place + 1 == count => to,
        _ => tidy((to - from).mul_add(share(place), from)),
    };
    Ok(((0..count).map(at).collect(), unit))
}

/// A number without the digits that rounding made: to twelve significant ones.
fn tidy(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap_or(value)
}

/// The values and the unit of `a,b,c`.
fn list(text: &str) -> Result<(Vec<f64>, String), String> {
    let mut values = Vec::new();
    let mut unit = String::new();
    for item in text.split(',') {
        let Some((value, own)) = split_number(item) else {
            return Err(format!("expected a number, got `{}`", item.trim()));
        };
        if !own.is_empty() && !unit.is_empty() && unit != own {
            return Err(format!(
                "`{unit}` and `{own}` are two units: write all values in the same one"
            ));
        }
        if !own.is_empty() {
            own.clone_into(&mut unit);
        }
        if values.contains(&value) {
            return Err(format!("{value} is given twice"));
        }
        values.push(value);
    }
    if values.len() > MOST_VALUES {
        return Err(format!(
            "{} values are given, {MOST_VALUES} are the most",
            values.len()
        ));
    }
    Ok((values, unit))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(text: &str) -> Variation {
        Variation::parse(text).unwrap()
    }

    #[test]
    fn ranges_and_lists_are_read_with_their_units() {
        let range = parsed("arrival.hyperbola.aim_periapsis=42..60km:7");
        assert_eq!(range.values, [42.0, 45.0, 48.0, 51.0, 54.0, 57.0, 60.0]);
        assert_eq!(range.value_text(1), "45 km");
        let falling = parsed("ship.lift_to_drag = 0.5 .. -0.1 : 4");
        assert_eq!(falling.values, [0.5, 0.3, 0.1, -0.1]);
        assert_eq!(falling.value_text(2), "0.1");
        let list = parsed("ship.mass=50t, 60 t,70");
        assert_eq!((list.values.len(), list.unit.as_str()), (3, "t"));
        assert_eq!(list.value_text(2), "70 t");
        assert_eq!(
            parsed("limits.heat_flux=60 W/cm2").value_text(0),
            "60 W/cm2"
        );
    }

    #[test]
    fn what_cannot_be_read_is_said() {
        let said = |text: &str| Variation::parse(text).unwrap_err().message().to_owned();
        for (text, message) in [
            ("ship.mass", "the values to take are missing"),
            ("=1,2", "the key to vary is empty"),
            ("ship..mass=1,2", "the key to vary is empty"),
            (
                "ship.mass=50t..70t",
                "how many values the range has is missing",
            ),
            (
                "ship.mass=50t..70t:1",
                "a range has from 2 to 1000 values, got `1`",
            ),
            (
                "ship.mass=50t..70t:many",
                "a range has from 2 to 1000 values, got `many`",
            ),
            (
                "ship.mass=50t..70kg:3",
                "`t` and `kg` are two units: write all values in the same one",
            ),
            ("ship.mass=50t..50t:3", "50 is given twice"),
            ("ship.mass=heavy,light", "expected a number, got `heavy`"),
            ("ship.mass=", "expected a number, got ``"),
            ("ship.mass=1e999,2", "expected a number, got `1e999`"),
        ] {
            assert_eq!(said(text), message, "{text}");
        }
        let error = Variation::parse("ship.mass").unwrap_err().to_string();
        assert!(
            error.contains("--> --vary ship.mass") && error.contains("help:"),
            "{error}"
        );
    }

    #[test]
    fn no_value_shows_the_digits_of_rounding() {
        let tenths = parsed("ship.lift_to_drag=0..1:11");
        assert_eq!(tenths.value_text(3), "0.3");
        assert_eq!(tenths.value_text(7), "0.7");
    }
}
