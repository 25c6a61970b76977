//! From the rows of a log to readings that can be fitted: repeated rows, clocks that jump, gaps, the noise
//! from row to row, and numbers that can only be in other units. What is handled is remarked with its line.

use crate::numeric::counts::median;
use crate::numeric::units::format_number;
use crate::scenario::flight_log::{FlightLog, LogRow};
use crate::scenario::log_columns::Channel;
use crate::scenario::message::InputError;
use crate::world::Planet;

/// Most readings that are fitted, all channels together; of a channel with more than its even share every second,
/// third and so on is taken. The time of a fit grows with their number.
const MOST_READINGS: usize = 20_000;
/// Longest time that the rows of a pass may span, gaps left out, s: nothing longer is a pass, and each flight of the
/// fit would have to last as long.
const LONGEST_S: f64 = 40_000.0;
/// Most places at which a clock may jump.
const MOST_PIECES: usize = 12;
/// Rows above this many times the altitude of the entry interface are left out: they are no part of the pass.
const HIGHEST: f64 = 1.3;
/// A smallest noise for each channel, SI: below it the model of the flight is not good enough.
const LEAST_NOISE: [f64; Channel::COUNT] = [1.0, 1.0, 0.02, 0.02, 1e-3];

/// One measured number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Line of the log.
    pub line: usize,
    /// What was measured.
    pub channel: Channel,
    /// Time by the log's clock, s.
    pub time_s: f64,
    /// Value, SI.
    pub value: f64,
    /// Stretch of the log between two places at which its clock may have jumped.
    pub piece: usize,
}

/// Where the clock may have jumped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Break {
    /// Line of the row after it.
    pub line: usize,
    /// Time between the rows by the clock, s.
    pub gap_s: f64,
    /// The usual step of the log, s.
    pub usual_s: f64,
}

impl Break {
    /// Whether rows are missing here, rather than crowded or out of order.
    #[must_use]
    pub fn is_gap(&self) -> bool {
        self.gap_s > 1.5 * self.usual_s
    }
}

/// What is fitted.
#[derive(Debug, Clone)]
pub struct Readings {
    /// The measured numbers in the order of the log.
    pub list: Vec<Reading>,
    /// One-sigma noise of each channel, SI.
    pub noise: [f64; Channel::COUNT],
    /// Places at which the clock may have jumped, one fewer than there are pieces.
    pub breaks: Vec<Break>,
    /// What was found and handled.
    pub remarks: Vec<String>,
}

impl Readings {
    /// Makes a log ready; `noise` replaces what is estimated from it, where given.
    ///
    /// # Errors
    /// [`InputError`] for numbers that can only be in other units, and for a clock that jumps throughout.
    pub fn new(
        log: &FlightLog,
        planet: &Planet,
        noise: &[Option<f64>; Channel::COUNT],
    ) -> Result<Self, InputError> {
        plausible(log, planet)?;
        let mut remarks = Vec::new();
        let rows = unrepeated(log, &mut remarks);
        let rows = of_the_pass(&rows, planet, &mut remarks);
        if rows.len() < 12 {
            return Err(log
                .error_at(
                    log.rows[0].line,
                    None,
                    "fewer than 12 rows of the log lie near the air",
                )
                .with_help(
                    "the log must hold the pass itself, from about the entry interface on",
                ));
        }
        let breaks = breaks(&rows);
        let back: Vec<usize> = breaks
            .iter()
            .filter(|b| b.gap_s < 0.0)
            .map(|b| b.line)
            .collect();
        if back.len() >= MOST_PIECES {
            let message = format!("the time goes back at {} places, first here", back.len());
            return Err(log
                .error_at(back[0], None, message)
                .with_help("sort the rows by time, and join logs of one clock only"));
        }
        not_too_long(log, &rows, &breaks)?;
        let every = strides(&rows, &mut remarks);
        let (mut list, mut seen) = (Vec::new(), [0_usize; Channel::COUNT]);
        let mut piece = 0;
        for row in &rows {
            while breaks.get(piece).is_some_and(|b| b.line <= row.line) {
                piece += 1;
            }
            for channel in Channel::ALL {
                let Some(value) = row.values[channel as usize] else {
                    continue;
                };
                let place = &mut seen[channel as usize];
                if place.is_multiple_of(every[channel as usize]) {
                    list.push(Reading {
                        line: row.line,
                        channel,
                        time_s: row.time_s,
                        value,
                        piece,
                    });
                }
                *place += 1;
            }
        }
        let mut readings = Self {
            list,
            noise: LEAST_NOISE,
            breaks,
            remarks,
        };
        for channel in Channel::ALL {
            let estimate = readings.noise_from_row_to_row(channel);
            readings.noise[channel as usize] = noise[channel as usize]
                .unwrap_or_else(|| estimate.max(LEAST_NOISE[channel as usize]));
        }
        Ok(readings)
    }

    /// One-sigma noise of a channel by third differences, which a smooth flight leaves small: those of white
    /// noise have 1 + 9 + 9 + 1 = 20 times its variance.
    fn noise_from_row_to_row(&self, channel: Channel) -> f64 {
        let of: Vec<&Reading> = self.list.iter().filter(|r| r.channel == channel).collect();
        let mut differences = Vec::new();
        for four in of.windows(4) {
            let steps: Vec<f64> = four.windows(2).map(|p| p[1].time_s - p[0].time_s).collect();
            let even = steps.iter().all(|s| (s / steps[0] - 1.0).abs() < 0.1);
            if even && four[0].piece == four[3].piece {
                let [a, b, c, d] = [four[0], four[1], four[2], four[3]].map(|r| r.value);
                differences.push((d - 3.0 * c + 3.0 * b - a).abs());
            }
        }
        1.4826 * median(&mut differences).unwrap_or(0.0) / 20f64.sqrt()
    }

    /// The least noise that is believed of a channel, SI.
    #[must_use]
    pub fn least_noise(channel: Channel) -> f64 {
        LEAST_NOISE[channel as usize]
    }
}

/// The rows without those that repeat the one before.
fn unrepeated(log: &FlightLog, remarks: &mut Vec<String>) -> Vec<LogRow> {
    let mut rows: Vec<LogRow> = Vec::with_capacity(log.rows.len());
    let mut lines = Vec::new();
    for row in &log.rows {
        let repeats = |last: &LogRow| last.time_s == row.time_s && last.values == row.values;
        if rows.last().is_some_and(repeats) {
            lines.push(row.line);
        } else {
            rows.push(*row);
        }
    }
    if !lines.is_empty() {
        remarks.push(format!(
            "{} repeat the row before and are left out",
            named("row", &lines)
        ));
    }
    rows
}

/// Of how many readings of each channel one is fitted.
fn strides(rows: &[LogRow], remarks: &mut Vec<String>) -> [usize; Channel::COUNT] {
    let count = |channel: Channel| {
        let read = |row: &&LogRow| row.values[channel as usize].is_some();
        rows.iter().filter(read).count()
    };
    let counts = Channel::ALL.map(count);
    let channels = counts.iter().filter(|count| **count > 0).count().max(1);
    let every = counts.map(|count| count.div_ceil(MOST_READINGS / channels).max(1));
    for channel in Channel::ALL {
        let (count, every) = (counts[channel as usize], every[channel as usize]);
        if every > 1 {
            remarks.push(format!(
                "{count} readings of the {}: one in {every} is fitted",
                channel.words()
            ));
        }
    }
    every
}

/// Refuses rows that go on for longer than any pass.
fn not_too_long(log: &FlightLog, rows: &[LogRow], breaks: &[Break]) -> Result<(), InputError> {
    let mut lasting = 0.0;
    let mut next = breaks.iter().peekable();
    for pair in rows.windows(2) {
        if next.next_if(|b| b.line == pair[1].line).is_none() {
            lasting += (pair[1].time_s - pair[0].time_s).max(0.0);
        }
        if lasting > LONGEST_S {
            let message = format!(
                "the rows near the air last longer than {:.0} hours, longer than any pass",
                LONGEST_S / 3600.0
            );
            return Err(log
                .error_at(pair[1].line, None, message)
                .with_help("cut the log to the pass, from about the entry interface to where the ship leaves the air"));
        }
    }
    Ok(())
}

/// The rows in and near the air.
fn of_the_pass(rows: &[LogRow], planet: &Planet, remarks: &mut Vec<String>) -> Vec<LogRow> {
    let low = |row: &LogRow| {
        let altitude = row.values[Channel::Altitude as usize];
        let radius = row.values[Channel::Radius as usize];
        let over_equator = radius.map(|r| r - planet.equatorial_radius_m);
        altitude
            .or(over_equator)
            .is_none_or(|h| h < HIGHEST * planet.interface_m)
    };
    let kept: Vec<LogRow> = rows.iter().filter(|row| low(row)).copied().collect();
    if kept.len() < rows.len() {
        remarks.push(format!(
            "{} rows lie far above the entry interface and are not used",
            rows.len() - kept.len()
        ));
    }
    kept
}

/// Where time goes back, or does not go on as it does elsewhere.
fn breaks(rows: &[LogRow]) -> Vec<Break> {
    let steps = |rows: &[LogRow]| -> Vec<f64> {
        rows.windows(2)
            .map(|pair| pair[1].time_s - pair[0].time_s)
            .collect()
    };
    let mut forward: Vec<f64> = steps(rows).into_iter().filter(|step| *step > 0.0).collect();
    let usual = median(&mut forward).unwrap_or(1.0);
    let near = |step: f64| (step / usual - 1.0).abs() < 0.2;
    let regular = forward.iter().filter(|step| near(**step)).count() * 10 >= forward.len() * 8;
    let mut found: Vec<Break> = rows
        .windows(2)
        .filter_map(|pair| {
            let gap_s = pair[1].time_s - pair[0].time_s;
            let odd = if regular {
                !(0.5 * usual..=1.5 * usual).contains(&gap_s)
            } else {
                !(0.0..=5.0 * usual).contains(&gap_s)
            };
            odd.then_some(Break {
                line: pair[1].line,
                gap_s,
                usual_s: usual,
            })
        })
        .collect();
    // Where rows are missing throughout, the longest gaps alone are looked at.
    let size = |b: &Break| {
        if b.gap_s < 0.0 {
            f64::INFINITY
        } else {
            (b.gap_s - usual).abs()
        }
    };
    found.sort_by(|a, b| size(b).total_cmp(&size(a)));
    let back = found.iter().filter(|b| b.gap_s < 0.0).count();
    found.truncate(back.max(MOST_PIECES - 1));
    found.sort_by_key(|b| b.line);
    found
}

/// Refuses numbers that no pass about this body has.
fn plausible(log: &FlightLog, planet: &Planet) -> Result<(), InputError> {
    let radius = planet.equatorial_radius_m;
    let escape = (2.0 * planet.gm_m3_s2 / radius).sqrt();
    for channel in Channel::ALL {
        let Some(column) = log.column(channel) else {
            continue;
        };
        let (low, high) = match channel {
            Channel::Altitude => (planet.floor_m - 20e3, 20.0 * planet.interface_m),
            Channel::Radius => (0.8 * radius, radius + 20.0 * planet.interface_m),
            Channel::RelativeSpeed | Channel::InertialSpeed => (0.0, 10.0 * escape),
            Channel::Deceleration => (-50.0, 2e4),
        };
        let mut values: Vec<f64> = log
            .rows
            .iter()
            .filter_map(|row| row.values[channel as usize])
            .collect();
        let Some(middle) = median(&mut values) else {
            let message = format!("the column `{}` is empty", column.name);
            return Err(log
                .error_at(log.rows[0].line, Some(channel), message)
                .with_help("remove the column if it was not measured"));
        };
        if let Some(help) = other_unit(channel, middle, (low, high), &column.name) {
            let value = format_number(middle / column.to_si);
            let row = log
                .rows
                .iter()
                .find(|row| row.values[channel as usize].is_some())
                .map_or(0, |row| row.line);
            let message = format!(
                "`{}` cannot be in this unit: its middle value is {value}",
                column.name
            );
            return Err(log.error_at(row, Some(channel), message).with_help(help));
        }
    }
    Ok(())
}

/// What the unit may be in truth, where the middle value of a column is out of the range of its channel or
/// so slow that it is no pass.
fn other_unit(
    channel: Channel,
    middle: f64,
    (low, high): (f64, f64),
    name: &str,
) -> Option<String> {
    let slow = match channel {
        Channel::RelativeSpeed | Channel::InertialSpeed => middle < 1e-3 * high,
        // A pass whose middle row lies below a thousandth of the air.
        Channel::Altitude => middle.abs() < 1e-4 * high,
        _ => false,
    };
    if (low..=high).contains(&middle) && !slow {
        return None;
    }
    let (thousand, thousandth) = match name.to_ascii_lowercase().as_str() {
        text if text.ends_with("km") => (None, Some(text.replace("km", "m"))),
        text if text.ends_with("km_s") => (None, Some(text.replace("km_s", "m_s"))),
        text if text.ends_with("_m_s") => (Some(text.replace("_m_s", "_km_s")), None),
        text if text.ends_with("_m") => (Some(text.replace("_m", "_km")), None),
        _ => (None, None),
    };
    let fits = |value: f64| (low.max(1e-3 * high)..=high).contains(&value);
    let meant = match (thousand, thousandth) {
        (Some(name), _) if fits(1e3 * middle) => Some(name),
        (_, Some(name)) if fits(1e-3 * middle) => Some(name),
        _ => None,
    };
    Some(match (meant, channel) {
        (Some(name), _) => format!("it would fit as `{name}`: rename the column"),
        (None, Channel::Altitude) => {
            "an altitude is above the reference ellipsoid; a distance from the centre is `radius_km`".to_owned()
        }
        (None, Channel::Radius) => {
            "a radius is counted from the centre of the body; above its ellipsoid it is `altitude_km`".to_owned()
        }
        (None, _) => "look at the unit that the recorder wrote".to_owned(),
    })
}

/// `row of line 5` or `rows of lines 5, 7 and 9` with at most six of them.
pub(super) fn named(what: &str, lines: &[usize]) -> String {
    const SHOWN: usize = 6;
    let shown: Vec<String> = lines.iter().take(SHOWN).map(ToString::to_string).collect();
    match lines.len() {
        1 => format!("the {what} of line {}", shown[0]),
        count if count > SHOWN => {
            format!("{count} {what}s (lines {} and others)", shown.join(", "))
        }
        count => format!("{count} {what}s (lines {})", shown.join(", ")),
    }
}
