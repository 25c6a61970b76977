//! Reads the log of a flown pass: comma-separated text, one row a moment. Which columns there may be is
//! in `log_columns`; whether the numbers can be those of the pass is left to the study.

use std::path::Path;

use super::log_columns::{Channel, Column, columns_of};
use super::message::{InputError, Place, Position};
use super::plain_file;

/// Largest log that is read, bytes.
const LARGEST_LOG: u64 = 64 * 1024 * 1024;
/// Fewest rows that a pass can be fitted to.
const FEWEST_ROWS: usize = 12;

/// One row of a log, SI.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogRow {
    /// Line in the file, from 1.
    pub line: usize,
    /// Time by the log's own clock, s.
    pub time_s: f64,
    /// What was measured, at the places of [`Channel::ALL`]; `None` where the field is empty.
    pub values: [Option<f64>; Channel::COUNT],
}

/// A log as read: nothing in it has been judged yet.
#[derive(Debug, Clone, PartialEq)]
pub struct FlightLog {
    /// Name of the file, for messages.
    pub name: String,
    /// The log as it was read.
    pub text: String,
    /// The columns that are used.
    pub columns: Vec<Column>,
    /// Names of the columns that are not.
    pub unused: Vec<String>,
    /// The rows in the order of the file.
    pub rows: Vec<LogRow>,
    /// Lines by their number, for messages: those of the rows alone.
    lines: Vec<(usize, String)>,
}

impl FlightLog {
    /// Reads a log file of at most 64 MiB.
    ///
    /// # Errors
    /// [`InputError`] with line and column of the mistake.
    pub fn read(path: &Path) -> Result<Self, InputError> {
        let name = plain_file::shown(path);
        let whole = |message: &str, help: &str| {
            let place = Place {
                source: name.clone(),
                position: None,
            };
            InputError::new(message).with_place(place).with_help(help)
        };
        let bytes = plain_file::read(path, LARGEST_LOG)
            .map_err(|why| plain_file::unreadable(path, &why))?
            .ok_or_else(|| {
                whole(
                    "the log is larger than 64 MiB",
                    "a pass needs no more than a few rows a second",
                )
            })?;
        match String::from_utf8(bytes) {
            Ok(text) => Self::from_text(&name, &text),
            Err(_) => Err(whole(
                "the log is not UTF-8 text",
                "save it as comma-separated text in UTF-8",
            )),
        }
    }

    /// Reads a log that is already in memory; `name` stands for its path in messages.
    ///
    /// Lines that are empty or begin with `#` are passed over. The first other line names the columns.
    /// A field that is empty, `nan`, `na` or `null` is missing.
    ///
    /// # Errors
    /// [`InputError`] with line and column of the mistake.
    pub fn from_text(name: &str, text: &str) -> Result<Self, InputError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut lines = text
            .lines()
            .enumerate()
            .map(|(index, text)| Line {
                source: name,
                number: index + 1,
                text,
            })
            .filter(|line| !line.text.trim().is_empty() && !line.text.trim().starts_with('#'));
        let Some(head) = lines.next() else {
            let place = Place {
                source: name.to_owned(),
                position: None,
            };
            return Err(InputError::new("the log is empty")
                .with_place(place)
                .with_help("its first line names the columns, as in `time_s,altitude_km,relative_speed_m_s`"));
        };
        let (columns, unused) = columns_of(&head)?;
        let fields = head.fields().count();
        let mut log = Self {
            name: name.to_owned(),
            text: text.to_owned(),
            columns,
            unused,
            rows: Vec::new(),
            lines: Vec::new(),
        };
        for line in lines {
            log.rows.push(read_row(&line, &log.columns, fields)?);
            log.lines.push((line.number, line.text.to_owned()));
        }
        if log.rows.len() < FEWEST_ROWS {
            return Err(InputError::new(format!(
                "the log has {} rows: a pass cannot be fitted to fewer than {FEWEST_ROWS}",
                log.rows.len()
            ))
            .with_place(head.place(1, head.text.chars().count().max(1)))
            .with_help("each line below this one is a moment of the pass"));
        }
        Ok(log)
    }

    /// The column that a channel is read from, when the log has it.
    #[must_use]
    pub fn column(&self, channel: Channel) -> Option<&Column> {
        self.columns
            .iter()
            .find(|column| column.channel == Some(channel))
    }

    /// An error about a line of the log: about a channel of it, or about its time.
    #[must_use]
    pub fn error_at(
        &self,
        line: usize,
        channel: Option<Channel>,
        message: impl Into<String>,
    ) -> InputError {
        let found = self.lines.iter().find(|(number, _)| *number == line);
        let text = found.map_or("", |(_, text)| text);
        let line = Line {
            source: &self.name,
            number: line,
            text,
        };
        let column = self
            .columns
            .iter()
            .find(|column| column.channel == channel)
            .map_or(0, |column| column.index);
        let error = InputError::new(message).with_place(line.place_of_field(column));
        match self.columns.iter().find(|c| c.channel == channel) {
            Some(column) => error.with_key(column.name.clone()),
            None => error,
        }
    }
}

/// One line of the log.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line<'t> {
    source: &'t str,
    number: usize,
    text: &'t str,
}

impl<'t> Line<'t> {
    /// The fields without spaces and quotes about them.
    pub(super) fn fields(&self) -> impl Iterator<Item = &'t str> + use<'t> {
        self.text
            .split(',')
            .map(|field| field.trim().trim_matches('"').trim())
    }

    pub(super) fn text(&self) -> &'t str {
        self.text
    }

    /// A stretch of the line; columns count characters from 1.
    pub(super) fn place(&self, column: usize, width: usize) -> Place {
        Place {
            source: self.source.to_owned(),
            position: Some(Position {
                line: self.number,
                column,
                width,
                text: self.text.to_owned(),
            }),
        }
    }

    /// The field of this index.
    pub(super) fn place_of_field(&self, index: usize) -> Place {
        let mut column = 1;
        for (i, field) in self.text.split(',').enumerate() {
            let written = field.trim();
            if i == index {
                let before = field.chars().take_while(|c| c.is_whitespace()).count();
                return self.place(column + before, written.chars().count().max(1));
            }
            column += field.chars().count() + 1;
        }
        self.place(1, self.text.chars().count().max(1))
    }
}

fn read_row(line: &Line<'_>, columns: &[Column], expected: usize) -> Result<LogRow, InputError> {
    let fields: Vec<&str> = line.fields().collect();
    if fields.len() != expected {
        let error = InputError::new(format!(
            "the line has {} fields where the columns are {expected}",
            fields.len()
        ));
        return Err(error
            .with_place(line.place(1, line.text.chars().count().max(1)))
            .with_help(
                "decimals take a point, not a comma; a field that is missing is left empty",
            ));
    }
    let mut row = LogRow {
        line: line.number,
        time_s: f64::NAN,
        values: [None; Channel::COUNT],
    };
    for column in columns {
        let field = fields[column.index];
        let missing =
            ["", "nan", "na", "null", "none", "-"].contains(&field.to_ascii_lowercase().as_str());
        let value = match field.parse::<f64>() {
            Ok(value) if value.is_finite() => Some(value * column.to_si),
            _ if missing => None,
            _ => {
                return Err(InputError::new(format!(
                    "`{field}` in the column `{}` is not a number",
                    column.name
                ))
                .with_place(line.place_of_field(column.index))
                .with_help("leave the field empty where nothing was measured"));
            }
        };
        match (column.channel, value) {
            (Some(channel), value) => row.values[channel as usize] = value,
            (None, Some(time_s)) => row.time_s = time_s,
            (None, None) => {
                return Err(InputError::new("the row has no time")
                    .with_place(line.place_of_field(column.index))
                    .with_help("remove the row: without a time it says nothing"));
            }
        }
    }
    Ok(row)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn log(head: &str, rows: &str) -> Result<FlightLog, InputError> {
        FlightLog::from_text("flight.csv", &format!("{head}\n{}", rows.repeat(12)))
    }

    #[test]
    fn columns_come_in_any_order_and_unit() {
        let log = log(
            "# made up\n\"Mach\", deceleration_g ,inertial_speed_km_s,radius_km,time_s",
            "7,0.5,4.25,3450,12.5\n8,,nan,NA,13\n",
        )
        .unwrap();
        let [first, second] = [log.rows[0], log.rows[1]];
        assert_eq!((first.line, first.time_s), (3, 12.5));
        assert_eq!(first.values[Channel::InertialSpeed as usize], Some(4250.0));
        assert_eq!(first.values[Channel::Radius as usize], Some(3.45e6));
        let half_g = first.values[Channel::Deceleration as usize].unwrap();
        assert!((half_g - 4.903_325).abs() < 1e-12);
        assert_eq!(second.values, [None; Channel::COUNT]);
        assert_eq!(log.unused, ["Mach"]);
    }

    #[test]
    fn a_place_points_at_the_field() {
        let log = log("time_s,altitude_km,relative_speed_m_s", "1,  52.5,4000\n").unwrap();
        let error = log.error_at(5, Some(Channel::Altitude), "no");
        let expected =
            "no\n  --> flight.csv:5:5\n5 | 1,  52.5,4000\n  |     ^^^^\n  key:  altitude_km";
        assert_eq!(error.to_string(), expected);
    }
}
