//! Reads a table of coefficients from text with one point a line. What the numbers must be is
//! checked by `aero_table`.

use super::aero_error::AeroTableError;
use super::aero_table::{AeroNumbers, AeroTable};
use super::newtonian::Coefficients;
use crate::numeric::units::format_number;

/// Most points a table may have.
const MOST_POINTS: usize = 100_000;
const COLUMNS: [&str; 7] = [
    "angle_of_attack_deg",
    "mach",
    "knudsen",
    "drag_coefficient",
    "lift_coefficient",
    "axial_coefficient",
    "normal_coefficient",
];

/// What is wrong with a table of coefficients; lines count from 1.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AeroCsvError {
    /// No line with the names of the columns.
    #[error("the table has no line with the names of its columns")]
    NoHeader,
    /// No line with a point.
    #[error("the table has no points")]
    NoPoints,
    /// A column that is not known.
    #[error(
        "line {line}: unknown column `{name}` (known are angle_of_attack_deg, mach, knudsen, and either drag_coefficient, lift_coefficient or axial_coefficient, normal_coefficient)"
    )]
    UnknownColumn {
        /// Line of the header.
        line: usize,
        /// The name as written.
        name: String,
    },
    /// A column that stands twice.
    #[error("line {line}: column `{name}` stands twice")]
    RepeatedColumn {
        /// Line of the header.
        line: usize,
        /// The name.
        name: String,
    },
    /// Neither drag nor axial and normal coefficients, or both.
    #[error(
        "line {line}: the table needs either `drag_coefficient` (and `lift_coefficient`, if there is lift) or `axial_coefficient` and `normal_coefficient`"
    )]
    Coefficients {
        /// Line of the header.
        line: usize,
    },
    /// A line with too few or too many fields.
    #[error("line {line}: expected {expected} fields, got {found}")]
    Fields {
        /// The line.
        line: usize,
        /// The number of columns.
        expected: usize,
        /// The number of fields.
        found: usize,
    },
    /// A field that is not a finite number.
    #[error("line {line}: `{text}` in column `{column}` is not a number")]
    NotANumber {
        /// The line.
        line: usize,
        /// The column.
        column: &'static str,
        /// The field as written.
        text: String,
    },
    /// A number outside what it may be.
    #[error("line {line}: {what} is {}: it must be {rule}", format_number(*value))]
    OutOfRange {
        /// The line.
        line: usize,
        /// The column, or what follows from two of them.
        what: &'static str,
        /// The number.
        value: f64,
        /// What it must be, in words.
        rule: &'static str,
    },
    /// A point that stands twice.
    #[error("line {line}: this point of the table already stands on line {first}")]
    RepeatedPoint {
        /// The line of the repetition.
        line: usize,
        /// The line of the first.
        first: usize,
    },
    /// The points do not fill a grid.
    #[error(
        "the table is not a full grid: {angles} angles, {machs} Mach and {knudsens} Knudsen numbers need {expected} points, got {found}"
    )]
    NotAGrid {
        /// Different angles of attack.
        angles: usize,
        /// Different Mach numbers.
        machs: usize,
        /// Different Knudsen numbers.
        knudsens: usize,
        /// Their product.
        expected: usize,
        /// Points in the table.
        found: usize,
    },
    /// More points than a table may have.
    #[error("the table has more than {MOST_POINTS} points")]
    TooLong,
    /// Numbers that are not those of a table.
    #[error(transparent)]
    Table(#[from] AeroTableError),
}

/// What the numbers of a point may be, by column; the columns of coefficients as the constant ones of a scenario.
const BOUNDS: [(f64, f64, &str, &str); 7] = [
    (
        -180.0,
        180.0,
        "column `angle_of_attack_deg`",
        "between -180 and 180",
    ),
    (0.0, 1e5, "column `mach`", "between 0 and 1e5"),
    (1e-12, 1e12, "column `knudsen`", "between 1e-12 and 1e12"),
    (
        0.01,
        10.0,
        "column `drag_coefficient`",
        "between 0.01 and 10",
    ),
    (
        -100.0,
        100.0,
        "column `lift_coefficient`",
        "between -100 and 100",
    ),
    (
        -100.0,
        100.0,
        "column `axial_coefficient`",
        "between -100 and 100",
    ),
    (
        -100.0,
        100.0,
        "column `normal_coefficient`",
        "between -100 and 100",
    ),
];
const DRAG_OF_BODY_AXES: (f64, f64, &str, &str) = (
    0.01,
    10.0,
    "the drag coefficient by `axial_coefficient` and `normal_coefficient`",
    "between 0.01 and 10",
);
const LIFT_TO_DRAG: (f64, f64, &str, &str) =
    (-10.0, 10.0, "the lift-to-drag ratio", "between -10 and 10");

/// `value`, where it lies within bounds.
fn within(
    (low, high, what, rule): (f64, f64, &'static str, &'static str),
    (line, value): (usize, f64),
) -> Result<f64, AeroCsvError> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(AeroCsvError::OutOfRange {
            line,
            what,
            value,
            rule,
        })
    }
}

/// One line of the table.
struct Point {
    line: usize,
    /// Angle (deg), Mach and Knudsen number; where the column is missing 0, 0 and 1.
    at: [f64; 3],
    coefficients: [Option<f64>; 4],
}

/// Reads comma-separated text: a line with the names of the columns, then a line for each point of a
/// full grid, in any order. Empty lines and lines that begin with `#` are passed over.
///
/// Columns: any of `angle_of_attack_deg`, `mach`, `knudsen`; and either `drag_coefficient` with
/// `lift_coefficient` (0 where missing) or `axial_coefficient` with `normal_coefficient`.
///
/// # Errors
/// [`AeroCsvError`] with the line of the mistake.
pub fn read_aero_table(text: &str) -> Result<AeroTable, AeroCsvError> {
    let mut lines = text
        .lines()
        .enumerate()
        .map(|(i, line)| (i + 1, line.trim().trim_start_matches('\u{feff}')))
        .filter(|(_, line)| !line.is_empty() && !line.starts_with('#'));
    let (line, header) = lines.next().ok_or(AeroCsvError::NoHeader)?;
    let columns = read_header(line, header)?;
    let mut points = Vec::new();
    for (line, fields) in lines {
        if points.len() == MOST_POINTS {
            return Err(AeroCsvError::TooLong);
        }
        points.push(read_point(line, fields, &columns)?);
    }
    assemble(points)
}

fn read_header(line: usize, header: &str) -> Result<Vec<usize>, AeroCsvError> {
    let mut columns = Vec::new();
    for name in header.split(',').map(str::trim) {
        let name = name.to_owned();
        match COLUMNS.iter().position(|column| *column == name) {
            None => return Err(AeroCsvError::UnknownColumn { line, name }),
            Some(column) if columns.contains(&column) => {
                return Err(AeroCsvError::RepeatedColumn { line, name });
            }
            Some(column) => columns.push(column),
        }
    }
    let has = |column: usize| columns.contains(&column);
    let stream = has(3) && !has(5) && !has(6);
    let body = has(5) && has(6) && !has(3) && !has(4);
    if stream || body {
        Ok(columns)
    } else {
        Err(AeroCsvError::Coefficients { line })
    }
}

fn read_point(line: usize, fields: &str, columns: &[usize]) -> Result<Point, AeroCsvError> {
    let fields: Vec<&str> = fields.split(',').map(str::trim).collect();
    if fields.len() != columns.len() {
        return Err(AeroCsvError::Fields {
            line,
            expected: columns.len(),
            found: fields.len(),
        });
    }
    let mut point = Point {
        line,
        at: [0.0, 0.0, 1.0],
        coefficients: [None; 4],
    };
    for (field, &column) in fields.into_iter().zip(columns) {
        let number = field
            .parse::<f64>()
            .ok()
            .filter(|number| number.is_finite());
        let value = number.ok_or_else(|| AeroCsvError::NotANumber {
            line,
            column: COLUMNS[column],
            text: field.to_owned(),
        })?;
        let value = within(BOUNDS[column], (line, value))?;
        match column.checked_sub(3) {
            None => point.at[column] = value,
            Some(coefficient) => point.coefficients[coefficient] = Some(value),
        }
    }
    let (drag, lift) = point.drag_and_lift();
    within(DRAG_OF_BODY_AXES, (line, drag))?;
    within(LIFT_TO_DRAG, (line, lift / drag))?;
    Ok(point)
}

impl Point {
    fn drag_and_lift(&self) -> (f64, f64) {
        match self.coefficients {
            [_, _, Some(axial), Some(normal)] => {
                let c = Coefficients::from_body_axes(axial, normal, self.at[0].to_radians());
                (c.drag, c.lift)
            }
            [drag, lift, ..] => (drag.unwrap_or(f64::NAN), lift.unwrap_or(0.0)),
        }
    }
}

fn assemble(mut points: Vec<Point>) -> Result<AeroTable, AeroCsvError> {
    if points.is_empty() {
        return Err(AeroCsvError::NoPoints);
    }
    let order = |a: &[f64; 3], b: &[f64; 3]| {
        let [x, y, z] = [0, 1, 2].map(|axis| a[axis].total_cmp(&b[axis]));
        x.then(y).then(z)
    };
    // Without negative zero, so that equal numbers have equal bits.
    for point in &mut points {
        point.at = point.at.map(|x| x + 0.0);
    }
    points.sort_by(|a, b| order(&a.at, &b.at).then(a.line.cmp(&b.line)));
    if let Some(pair) = points
        .windows(2)
        .find(|pair| order(&pair[0].at, &pair[1].at).is_eq())
    {
        return Err(AeroCsvError::RepeatedPoint {
            line: pair[1].line,
            first: pair[0].line,
        });
    }
    let axis = |axis: usize| {
        let mut entries: Vec<f64> = points.iter().map(|point| point.at[axis]).collect();
        entries.sort_by(f64::total_cmp);
        entries.dedup();
        entries
    };
    let [angles, machs, knudsens] = [axis(0), axis(1), axis(2)];
    let expected = angles.len() * machs.len() * knudsens.len();
    if expected != points.len() {
        return Err(AeroCsvError::NotAGrid {
            angles: angles.len(),
            machs: machs.len(),
            knudsens: knudsens.len(),
            expected,
            found: points.len(),
        });
    }
    let (drag, lift) = points.iter().map(Point::drag_and_lift).unzip();
    Ok(AeroTable::new(AeroNumbers {
        angles_rad: angles.into_iter().map(f64::to_radians).collect(),
        machs,
        knudsens,
        drag,
        lift,
    })?)
}

#[cfg(test)]
mod tests {
    use super::super::aero_table::AeroPoint;
    use super::*;

    #[test]
    fn lines_in_any_order_become_a_grid() {
        let text = "# a capsule\nmach, angle_of_attack_deg,drag_coefficient,lift_coefficient\n\n\
                    10,20,1.2,0.4\n10, 0,1.5,0\n5,0,1.4,0\n5,20,1.1,3.5e-1\n";
        let table = read_aero_table(text).unwrap();
        let value = table.at(&AeroPoint {
            angle_of_attack_rad: 10_f64.to_radians(),
            mach: 5.0,
            knudsen: 1e-9,
        });
        assert!((value.drag - 1.25).abs() < 1e-14 && (value.lift - 0.175).abs() < 1e-14);
        assert!(value.validity.holds());
    }

    #[test]
    fn body_axes_are_turned_into_the_stream() {
        let table = read_aero_table(
            "angle_of_attack_deg,axial_coefficient,normal_coefficient\n30,1.0,0.2\n",
        )
        .unwrap();
        let value = table.at(&AeroPoint {
            angle_of_attack_rad: 0.0,
            mach: 1.0,
            knudsen: 1.0,
        });
        let (sine, cosine) = (0.5, 0.75_f64.sqrt());
        assert!((value.drag - (cosine + 0.2 * sine)).abs() < 1e-14);
        assert!((value.lift - (0.2 * cosine - sine)).abs() < 1e-14);
    }

    #[test]
    fn mistakes_are_shown_with_their_line() {
        for (text, message) in [
            (
                "# nothing\n",
                "the table has no line with the names of its columns",
            ),
            (
                "mach,cd\n",
                "line 1: unknown column `cd` (known are angle_of_attack_deg, mach, knudsen, and either drag_coefficient, lift_coefficient or axial_coefficient, normal_coefficient)",
            ),
            (
                "mach,mach,drag_coefficient\n",
                "line 1: column `mach` stands twice",
            ),
            (
                "mach,axial_coefficient\n1,1\n",
                "line 1: the table needs either `drag_coefficient` (and `lift_coefficient`, if there is lift) or `axial_coefficient` and `normal_coefficient`",
            ),
            (
                "mach,drag_coefficient\n1\n",
                "line 2: expected 2 fields, got 1",
            ),
            (
                "mach,drag_coefficient\n1,1.2\n2,abc\n",
                "line 3: `abc` in column `drag_coefficient` is not a number",
            ),
            (
                "mach,drag_coefficient\n2,inf\n",
                "line 2: `inf` in column `drag_coefficient` is not a number",
            ),
            (
                "mach,drag_coefficient\n0,1\n#\n-0,1.2\n",
                "line 4: this point of the table already stands on line 2",
            ),
            (
                "mach,knudsen,drag_coefficient\n1,1,1\n2,1,1\n2,3,1\n",
                "the table is not a full grid: 1 angles, 2 Mach and 2 Knudsen numbers need 4 points, got 3",
            ),
            (
                "mach,drag_coefficient\n1,1\n2,-1\n",
                "line 3: column `drag_coefficient` is -1: it must be between 0.01 and 10",
            ),
            (
                "mach,drag_coefficient\n1,1\n2,1e308\n",
                "line 3: column `drag_coefficient` is 1e308: it must be between 0.01 and 10",
            ),
            (
                "mach,drag_coefficient\n1,1\n1e308,1\n",
                "line 3: column `mach` is 1e308: it must be between 0 and 1e5",
            ),
            (
                "knudsen,drag_coefficient\n0,1\n",
                "line 2: column `knudsen` is 0: it must be between 1e-12 and 1e12",
            ),
            (
                "drag_coefficient,lift_coefficient\n0.1,1.2\n",
                "line 2: the lift-to-drag ratio is 12: it must be between -10 and 10",
            ),
            (
                "angle_of_attack_deg,axial_coefficient,normal_coefficient\n30,-1.0,0.2\n",
                "line 2: the drag coefficient by `axial_coefficient` and `normal_coefficient` is -0.766025: it must be between 0.01 and 10",
            ),
            (
                "mach,drag_coefficient\n0,1\n1,1\n1.001,1\n1000,1\n",
                "the Mach number entries 1 and 1.001 of the table lie closer than a 65536th of its range from 0 to 1000: leave one of them out, or the far end (beyond the table the value of its end is held)",
            ),
            ("mach,drag_coefficient\n", "the table has no points"),
        ] {
            assert_eq!(read_aero_table(text).unwrap_err().to_string(), message);
        }
    }
}
