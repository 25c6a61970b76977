//! The decimal number at the start of a text. What follows it is left to `units`.

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
