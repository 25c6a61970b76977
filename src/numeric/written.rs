//! The decimal number at the start of a text, and numbers and units as people read them. Which units there are is left
//! to `units`.

/// The number at the start of a text and the rest, trimmed, without asking what unit that is; `None` where
/// the text does not begin with a finite number.
///
/// ```
/// use periband::numeric::written::split_number;
/// assert_eq!(split_number("42 km"), Some((42.0, "km")));
/// assert_eq!(split_number("km"), None);
/// ```
#[must_use]
pub fn split_number(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    let (number, rest) = text.split_at(number_length(text));
    let number: f64 = number.parse().ok()?;
    number.is_finite().then(|| (number, rest.trim()))
}

/// Length in bytes of the decimal number at the start of `text`; 0 if there is none.
pub(super) fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits = |from: usize| {
        bytes[from..]
            .iter()
            .take_while(|b| b.is_ascii_digit())
            .count()
    };
    let sign = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let mut end = sign + digits(sign);
    let mut any = end > sign;
    if bytes.get(end) == Some(&b'.') {
        let fraction = digits(end + 1);
        any |= fraction > 0;
        end += 1 + fraction;
    }
    if !any {
        return 0;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exponent = digits(end + 1 + sign);
        if exponent > 0 {
            end += 1 + sign + exponent;
        }
    }
    end
}

/// A written number with narrow spaces between groups of three digits before the point, from five digits on:
/// `3214.5`, `12 340`. What is no plain number stays as it is.
#[must_use]
pub fn grouped(number: &str) -> String {
    let whole = number.find('.').unwrap_or(number.len());
    let sign = usize::from(number.starts_with('-'));
    let (digits, rest) = (&number[sign.min(whole)..whole], &number[whole..]);
    if digits.len() < 5 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return number.to_owned();
    }
    let mut text = number[..sign].to_owned();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push('\u{202f}');
        }
        text.push(digit);
    }
    text + rest
}

/// A unit as people read it: `W/cm²` for `W/cm2`, `km³/s²` for `km3/s2`.
#[must_use]
pub fn raised(unit: &str) -> String {
    let mut text = String::with_capacity(unit.len() + 2);
    let mut after_letter = false;
    for c in unit.chars() {
        text.push(match c {
            '2' if after_letter => '²',
            '3' if after_letter => '³',
            c => c,
        });
        after_letter = c.is_ascii_alphabetic();
    }
    text
}

/// A quantity written as `100000 km` or `60 W/cm2` as people read it, with groups and raised exponents.
///
/// ```
/// use periband::numeric::written::readable;
/// assert_eq!(readable("100000 km"), "100\u{202f}000 km");
/// assert_eq!(readable("60 W/cm2"), "60 W/cm²");
/// ```
#[must_use]
pub fn readable(quantity: &str) -> String {
    match quantity.split_once(' ') {
        Some((number, unit)) => format!("{} {}", grouped(number), raised(unit)),
        None => grouped(quantity),
    }
}
