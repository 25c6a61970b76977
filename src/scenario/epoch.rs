//! A moment as CCSDS messages write it: `2031-05-04T12:00:00.000` or `2031-124T12:00:00`, without a time
//! zone; which clock it is by (TDB, UTC) is said beside it. Leap seconds are not known here.

use std::fmt;

/// A moment of a clock that counts days of 86,400 s.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Epoch {
    /// Days since 2000-01-01.
    day: i64,
    /// Seconds into the day, 0 to below 86,401.
    second: f64,
}

const DAY_S: f64 = 86_400.0;

/// The clocks of CCSDS 502.0-B that do not count from an event of the mission or turn with the Earth.
const CLOCKS: [&str; 8] = ["GPS", "TAI", "TCB", "TCG", "TDB", "TT", "UT1", "UTC"];

/// What to write where a clock is not known.
pub const CLOCK_HELP: &str = "known: GPS, TAI, TCB, TCG, TDB, TT, UT1 and UTC; none that counts from an event of the mission";

/// Whether a time system is known here.
#[must_use]
pub fn is_clock(name: &str) -> bool {
    CLOCKS.contains(&name.to_ascii_uppercase().as_str())
}

impl Epoch {
    /// 2000-01-01T12:00:00, which stands where a scenario gives no moment.
    pub const J2000: Self = Self {
        day: 0,
        second: 0.5 * DAY_S,
    };

    /// Reads a calendar date or a year with its day, with a time; a `Z` at the end is passed over.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        let text = text.strip_suffix(['Z', 'z']).unwrap_or(text);
        let (date, time) = text.split_once(['T', 't'])?;
        let digits = |part: &str, count: usize| {
            let good = part.len() == count && part.bytes().all(|b| b.is_ascii_digit());
            if good { part.parse::<i64>().ok() } else { None }
        };
        let day = match date.split('-').collect::<Vec<_>>().as_slice() {
            [year, month, day] => {
                let (year, month, day) = (digits(year, 4)?, digits(month, 2)?, digits(day, 2)?);
                let length = month_lengths(year)
                    .get(usize::try_from(month - 1).ok()?)
                    .copied()?;
                if !(1..=length).contains(&day) {
                    return None;
                }
                let before: i64 = month_lengths(year)
                    .iter()
                    .take(usize::try_from(month - 1).ok()?)
                    .sum();
                first_of(year) + before + day - 1
            }
            [year, day] => {
                let (year, day) = (digits(year, 4)?, digits(day, 3)?);
                let length: i64 = month_lengths(year).iter().sum();
                if !(1..=length).contains(&day) {
                    return None;
                }
                first_of(year) + day - 1
            }
            _ => return None,
        };
        let [hour, minute, second] = time.split(':').collect::<Vec<_>>()[..] else {
            return None;
        };
        let (hour, minute) = (digits(hour, 2)?, digits(minute, 2)?);
        let plain = second.bytes().all(|b| b.is_ascii_digit() || b == b'.');
        let second: f64 = second.parse().ok().filter(|_| plain)?;
        if hour > 23 || minute > 59 || !(0.0..61.0).contains(&second) {
            return None;
        }
        #[expect(clippy::cast_precision_loss, reason = "below 86,400")]
        let whole = (3600 * hour + 60 * minute) as f64;
        Some(Self {
            day,
            second: whole + second,
        })
    }

    /// The moment some seconds later; of more than a million years nothing is left.
    #[must_use]
    pub fn later(self, seconds: f64) -> Self {
        let second = self.second + seconds;
        let days = (second / DAY_S).floor().clamp(-4e8, 4e8);
        #[expect(clippy::cast_possible_truncation, reason = "bounded")]
        Self {
            day: self.day + days as i64,
            second: (second - days * DAY_S).clamp(0.0, DAY_S),
        }
    }

    /// Seconds from another moment to this one.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "days stay far below 2^53")]
    pub fn since(self, other: Self) -> f64 {
        (self.day - other.day) as f64 * DAY_S + (self.second - other.second)
    }
}

impl fmt::Display for Epoch {
    /// To a microsecond.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        #[expect(clippy::cast_possible_truncation, reason = "below 86,401e6")]
        let micros = (self.second * 1e6).round() as i64;
        let (day, micros) = (
            self.day + micros.div_euclid(86_400_000_000),
            micros.rem_euclid(86_400_000_000),
        );
        let mut year = 2000 + day.div_euclid(if day < 0 { 365 } else { 366 });
        while first_of(year + 1) <= day {
            year += 1;
        }
        let mut left = day - first_of(year);
        let mut month = 1;
        for length in month_lengths(year) {
            if left < length {
                break;
            }
            left -= length;
            month += 1;
        }
        let seconds = micros / 1_000_000;
        write!(
            f,
            "{year:04}-{month:02}-{:02}T{:02}:{:02}:{:02}.{:06}",
            left + 1,
            seconds / 3600,
            seconds / 60 % 60,
            seconds % 60,
            micros % 1_000_000
        )
    }
}

/// Days from 2000-01-01 to the first of January of a year of the Gregorian calendar.
fn first_of(year: i64) -> i64 {
    let before = year - 1;
    let leaps = |y: i64| y.div_euclid(4) - y.div_euclid(100) + y.div_euclid(400);
    365 * (year - 2000) + leaps(before) - leaps(1999)
}

fn month_lengths(year: i64) -> [i64; 12] {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let february = if leap { 29 } else { 28 };
    [31, february, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_are_read_added_to_and_written() {
        for (text, written) in [
            ("2031-05-04T12:00:00", "2031-05-04T12:00:00.000000"),
            ("2031-124T12:00:00.25Z", "2031-05-04T12:00:00.250000"),
            ("2000-366T23:59:59.9999999", "2001-01-01T00:00:00.000000"),
            ("1999-12-31T00:00:01.5", "1999-12-31T00:00:01.500000"),
            ("2400-02-29T06:07:08", "2400-02-29T06:07:08.000000"),
        ] {
            assert_eq!(Epoch::parse(text).unwrap().to_string(), written, "{text}");
        }
        let epoch = Epoch::parse("2031-12-31T23:59:00").unwrap();
        assert_eq!(epoch.later(61.5).to_string(), "2032-01-01T00:00:01.500000");
        assert_eq!(
            epoch.later(-86_400.0 * 365.0).to_string(),
            "2030-12-31T23:59:00.000000"
        );
        assert!((epoch.later(1234.5).since(epoch) - 1234.5).abs() < 1e-9);
        // From the calendar: 2000-01-01 to 2031-05-04 are 31 years with 8 leap days, and 123 days.
        let days = Epoch::parse("2031-05-04T12:00:00")
            .unwrap()
            .since(Epoch::J2000)
            / 86_400.0;
        assert!((days - (31.0 * 365.0 + 8.0 + 123.0)).abs() < 1e-12);
    }

    #[test]
    fn what_is_no_moment_is_refused() {
        for text in [
            "",
            "2031-05-04",
            "2031-05-04 12:00:00",
            "2031-02-29T00:00:00",
            "2031-366T00:00:00",
            "31-05-04T00:00:00",
            "2031-05-04T24:00:00",
            "2031-05-04T12:60:00",
            "2031-05-04T12:00:61",
            "2031-05-04T12:00:-1",
            "2031-05-04T12:00",
            "2031-00-04T12:00:00",
            "2031-05-04T12:00:inf",
        ] {
            assert_eq!(Epoch::parse(text), None, "{text}");
        }
    }
}
