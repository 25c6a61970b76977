//! Reads an Orbit Parameter Message in key-value notation (CCSDS 502.0-B): one state of one object. Turning
//! it into an arrival is left to the study.

use std::path::Path;

use super::epoch::Epoch;
use super::likeness::closest;
use super::message::{InputError, Place};
use super::source::Source;
use crate::numeric::units::format_number;

/// An orbit parameter message, in SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct Opm {
    /// Name of the object.
    pub object_name: String,
    /// Its international designator, or what stands for one.
    pub object_id: String,
    /// The body it flies about.
    pub center_name: String,
    /// The frame of its state.
    pub reference_frame: String,
    /// The clock of its epoch.
    pub time_system: String,
    /// The moment of its state.
    pub epoch: Epoch,
    /// Its state.
    pub state: OpmState,
    /// Gravitational parameter that the message was made with, m³/s², if it says.
    pub gm_m3_s2: Option<f64>,
    /// Blocks of the message that are not used, in words.
    pub unused: Vec<&'static str>,
    source: Source,
    /// Where each keyword stands: name, byte offset and length of its value.
    places: Vec<(String, usize, usize)>,
}

/// The state of a message.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OpmState {
    /// Position, m, and velocity, m/s.
    Cartesian([f64; 3], [f64; 3]),
    /// Osculating elements.
    Keplerian {
        /// Semi-major axis, m, negative for a hyperbola.
        semi_major_axis_m: f64,
        /// Eccentricity, 0 or more.
        eccentricity: f64,
        /// Inclination, rad.
        inclination_rad: f64,
        /// Right ascension of the ascending node, rad.
        node_rad: f64,
        /// Argument of pericentre, rad.
        argument_rad: f64,
        /// True anomaly, rad.
        true_anomaly_rad: f64,
    },
}

/// One line `KEYWORD = value [unit]`.
struct Entry<'t> {
    key: &'t str,
    value: &'t str,
    unit: Option<&'t str>,
    at: usize,
}

const STATE: [&str; 6] = ["X", "Y", "Z", "X_DOT", "Y_DOT", "Z_DOT"];
const ELEMENTS: [&str; 5] = [
    "SEMI_MAJOR_AXIS",
    "ECCENTRICITY",
    "INCLINATION",
    "RA_OF_ASC_NODE",
    "ARG_OF_PERICENTER",
];

/// Versions of the message that are read.
const VERSIONS: [&str; 2] = ["2.0", "3.0"];
/// Largest mean anomaly of a hyperbola that is taken, deg: years from the periapsis of any planet's.
const FARTHEST_MEAN_DEG: f64 = 1e6;

impl Opm {
    /// Reads a message of at most 1 MiB.
    ///
    /// # Errors
    /// [`InputError`] with line and column of the mistake.
    pub fn read(path: &Path) -> Result<Self, InputError> {
        Self::parse(Source::read(path)?)
    }

    /// Reads a message that is already in memory; `name` stands for its path.
    ///
    /// # Errors
    /// As for [`Opm::read`].
    pub fn from_text(name: &str, text: &str) -> Result<Self, InputError> {
        Self::parse(Source::from_text(name, text)?)
    }

    /// An error about the value of a keyword, placed at it.
    #[must_use]
    pub fn error_at(&self, key: &str, message: impl Into<String>) -> InputError {
        let place = self.places.iter().find(|(known, ..)| known == key);
        let place = place.map_or_else(
            || self.source.whole(),
            |(_, at, width)| self.source.place(*at, (*width).max(1)),
        );
        InputError::new(message).with_place(place).with_key(key)
    }

    fn parse(source: Source) -> Result<Self, InputError> {
        let text = source.text.clone();
        let reader = Reader {
            source: &source,
            entries: entries(&source, &text)?,
        };
        reader.begins_as_it_should()?;
        let epoch_text = reader.text("EPOCH")?;
        let epoch = Epoch::parse(epoch_text.value).ok_or_else(|| {
            reader
                .error(epoch_text, "`EPOCH` is no moment")
                .with_help("write 2031-05-04T12:00:00.000 or 2031-124T12:00:00.000")
        })?;
        let gm_m3_s2 = match reader.find("GM") {
            Some(entry) => {
                let value = reader.number(entry, &["km**3/s**2", "km3/s2"])?;
                if value <= 0.0 {
                    return Err(reader.error(entry, "`GM` must be above 0"));
                }
                Some(1e9 * value)
            }
            None => None,
        };
        let state = reader.state()?;
        let starts = |prefix: &str| reader.entries.iter().any(|e| e.key.starts_with(prefix));
        let mut unused = Vec::new();
        for (there, words) in [
            (
                starts("CX_") || starts("CY_") || starts("CZ_"),
                "covariance",
            ),
            (
                ["MASS", "DRAG_AREA", "DRAG_COEFF"]
                    .iter()
                    .any(|key| reader.find(key).is_some()),
                "spacecraft parameters",
            ),
            (starts("USER_DEFINED_"), "user-defined parameters"),
            (
                matches!(state, OpmState::Cartesian(..))
                    && reader.find("SEMI_MAJOR_AXIS").is_some(),
                "Keplerian elements beside the state vector",
            ),
        ] {
            if there {
                unused.push(words);
            }
        }
        let word = |key| Ok::<String, InputError>(reader.text(key)?.value.to_owned());
        let (object_name, object_id) = (word("OBJECT_NAME")?, word("OBJECT_ID")?);
        let (center_name, reference_frame) = (word("CENTER_NAME")?, word("REF_FRAME")?);
        let time_system = word("TIME_SYSTEM")?;
        let places = reader
            .entries
            .iter()
            .map(|e| (e.key.to_owned(), e.at, e.value.chars().count()))
            .collect();
        Ok(Self {
            object_name,
            object_id,
            center_name,
            reference_frame,
            time_system,
            epoch,
            state,
            gm_m3_s2,
            unused,
            source,
            places,
        })
    }
}

/// The lines that say something; comments and empty lines are passed over.
fn entries<'t>(source: &Source, text: &'t str) -> Result<Vec<Entry<'t>>, InputError> {
    let mut entries: Vec<Entry<'t>> = Vec::new();
    let mut from = 0;
    for line in text.split('\n') {
        let start = from;
        from += line.len() + 1;
        let trimmed = line.trim();
        if trimmed.is_empty() || trimmed == "COMMENT" || trimmed.starts_with("COMMENT ") {
            continue;
        }
        let Some((key, rest)) = line.split_once('=') else {
            let at = start + (line.len() - line.trim_start().len());
            return Err(InputError::new("the line is no `KEYWORD = value`")
                .with_place(source.place(at, trimmed.chars().count()))
                .with_help("an OPM is read in key-value notation (KVN), not as XML"));
        };
        let at = start + key.len() + 1 + (rest.len() - rest.trim_start().len());
        let rest = rest.trim();
        let (value, unit) = match rest.strip_suffix(']').and_then(|r| r.rsplit_once('[')) {
            Some((value, unit)) => (value.trim(), Some(unit.trim())),
            None => (rest, None),
        };
        let key = key.trim();
        let many = key.starts_with("MAN_") || key.starts_with("USER_DEFINED_");
        if !many && entries.iter().any(|entry| entry.key == key) {
            return Err(InputError::new(format!("`{key}` is given twice"))
                .with_place(source.place(at, value.chars().count().max(1)))
                .with_help("a message holds one state: keep one of the two"));
        }
        entries.push(Entry {
            key,
            value,
            unit,
            at,
        });
    }
    Ok(entries)
}

struct Reader<'s, 't> {
    source: &'s Source,
    entries: Vec<Entry<'t>>,
}

impl<'t> Reader<'_, 't> {
    fn find(&self, key: &str) -> Option<&Entry<'t>> {
        self.entries.iter().find(|entry| entry.key == key)
    }

    fn place(&self, entry: &Entry<'_>) -> Place {
        self.source
            .place(entry.at, entry.value.chars().count().max(1))
    }

    fn error(&self, entry: &Entry<'_>, message: impl Into<String>) -> InputError {
        InputError::new(message)
            .with_place(self.place(entry))
            .with_key(entry.key)
    }

    fn begins_as_it_should(&self) -> Result<(), InputError> {
        let first = self.entries.first();
        if first.is_none_or(|entry| entry.key != "CCSDS_OPM_VERS") {
            return Err(InputError::new("the file is no orbit parameter message")
                .with_place(first.map_or_else(|| self.source.whole(), |entry| self.place(entry)))
                .with_help(
                    "its first line is `CCSDS_OPM_VERS = 2.0` (or 3.0), in key-value notation",
                ));
        }
        if let Some(entry) = first
            && !VERSIONS.contains(&entry.value)
        {
            let message = format!("version {} of the message is not known here", entry.value);
            return Err(self.error(entry, message).with_help(format!(
                "versions {} of CCSDS 502.0-B are read",
                VERSIONS.join(" and ")
            )));
        }
        match self
            .entries
            .iter()
            .find(|entry| entry.key.starts_with("MAN_"))
        {
            Some(entry) => Err(self
                .error(
                    entry,
                    "the message has manoeuvres, which are not flown here",
                )
                .with_help("give the state after the last manoeuvre, without the MAN_ lines")),
            None => Ok(()),
        }
    }

    fn text(&self, key: &str) -> Result<&Entry<'t>, InputError> {
        match self.find(key) {
            Some(entry) if entry.value.is_empty() => {
                Err(self.error(entry, format!("`{key}` is empty")))
            }
            Some(entry) => Ok(entry),
            None => {
                let error = InputError::new(format!("`{key}` is missing in the message"))
                    .with_place(self.source.whole());
                Err(
                    match closest(key, self.entries.iter().map(|entry| entry.key)) {
                        Some(near) => error.with_help(format!("is it `{near}`?")),
                        None => error.with_help("the standard (CCSDS 502.0-B) requires it"),
                    },
                )
            }
        }
    }

    /// A finite number, whose unit is one of these if it is said.
    fn number(&self, entry: &Entry<'t>, units: &[&str]) -> Result<f64, InputError> {
        if let Some(unit) = entry.unit
            && !units.iter().any(|known| known.eq_ignore_ascii_case(unit))
        {
            let known = units.first().copied().unwrap_or("no unit");
            return Err(self
                .error(entry, format!("`{}` cannot be in `{unit}`", entry.key))
                .with_help(format!("the standard has it in {known}")));
        }
        let value = entry
            .value
            .parse::<f64>()
            .ok()
            .filter(|value| value.is_finite());
        value.ok_or_else(|| self.error(entry, format!("`{}` is not a number", entry.key)))
    }

    fn required(&self, key: &str, units: &[&str]) -> Result<f64, InputError> {
        self.number(self.text(key)?, units)
    }

    fn state(&self) -> Result<OpmState, InputError> {
        let any = |keys: &[&str]| keys.iter().any(|key| self.find(key).is_some());
        if any(&STATE) || !any(&ELEMENTS) {
            let position = |key| Ok::<f64, InputError>(1e3 * self.required(key, &["km"])?);
            let velocity = |key| Ok::<f64, InputError>(1e3 * self.required(key, &["km/s"])?);
            let r = [position("X")?, position("Y")?, position("Z")?];
            let v = [velocity("X_DOT")?, velocity("Y_DOT")?, velocity("Z_DOT")?];
            return Ok(OpmState::Cartesian(r, v));
        }
        let semi_major_axis_m = 1e3 * self.required("SEMI_MAJOR_AXIS", &["km"])?;
        let entry = self.text("ECCENTRICITY")?;
        let eccentricity = self.number(entry, &[])?;
        if !(eccentricity >= 0.0) {
            return Err(self
                .error(entry, "`ECCENTRICITY` must be 0 or more")
                .with_help("below 1 for a closed orbit, above 1 for a hyperbola"));
        }
        let closed = eccentricity < 1.0;
        let sound = if closed {
            semi_major_axis_m > 0.0
        } else {
            semi_major_axis_m < 0.0
        };
        if eccentricity == 1.0 || !sound {
            return Err(self
                .error(entry, "semi-major axis and eccentricity belong to no conic")
                .with_help("below 1 the semi-major axis is positive, above 1 negative"));
        }
        Ok(OpmState::Keplerian {
            semi_major_axis_m,
            eccentricity,
            inclination_rad: self.angle("INCLINATION", (0.0, 180.0))?,
            node_rad: self.angle("RA_OF_ASC_NODE", (-360.0, 360.0))?,
            argument_rad: self.angle("ARG_OF_PERICENTER", (-360.0, 360.0))?,
            true_anomaly_rad: self.true_anomaly(eccentricity)?,
        })
    }

    /// A required angle (rad) between these bounds, deg.
    fn angle(&self, key: &str, (least, most): (f64, f64)) -> Result<f64, InputError> {
        let degrees = self.required(key, &["deg"])?;
        if degrees >= least && degrees <= most {
            return Ok(degrees.to_radians());
        }
        let (least, most) = (format_number(least), format_number(most));
        let message = format!("`{key}` must be between {least} and {most} deg");
        Err(self.error(self.text(key)?, message))
    }

    /// The true anomaly, rad, as written or from the mean one.
    fn true_anomaly(&self, eccentricity: f64) -> Result<f64, InputError> {
        match (self.find("TRUE_ANOMALY"), self.find("MEAN_ANOMALY")) {
            (Some(_), Some(second)) => Err(self
                .error(second, "a second anomaly stands beside `TRUE_ANOMALY`")
                .with_help("a message holds one of the two: keep one")),
            (None, Some(_)) if eccentricity < 1.0 => {
                let mean = self.angle("MEAN_ANOMALY", (-360.0, 360.0))?;
                Ok(true_from_mean(mean, eccentricity))
            }
            (None, Some(_)) => {
                let bounds = (-FARTHEST_MEAN_DEG, FARTHEST_MEAN_DEG);
                let mean = self.angle("MEAN_ANOMALY", bounds)?;
                Ok(true_from_mean(mean, eccentricity))
            }
            _ => {
                let anomaly = self.angle("TRUE_ANOMALY", (-360.0, 360.0))?;
                if 1.0 + eccentricity * anomaly.cos() > 0.0 {
                    return Ok(anomaly);
                }
                let asymptote = (-1.0 / eccentricity).acos().to_degrees();
                let message = format!(
                    "a hyperbola of eccentricity {} has no place at this true anomaly: it lies past the asymptote",
                    format_number(eccentricity)
                );
                Err(self
                    .error(self.text("TRUE_ANOMALY")?, message)
                    .with_help(format!(
                        "between -{asymptote:.3} and {asymptote:.3} deg, negative on the way in"
                    )))
            }
        }
    }
}

/// True anomaly from mean anomaly by Kepler's equation and Newton's method with bisection about it.
fn true_from_mean(mean: f64, e: f64) -> f64 {
    if e < 1.0 {
        let mean = mean.sin().atan2(mean.cos());
        let anomaly = solve(mean, (-4.2, 4.2), &|x: f64| {
            (x - e * x.sin(), 1.0 - e * x.cos())
        });
        let root = ((1.0 + e) / (1.0 - e)).sqrt();
        return 2.0 * (root * (0.5 * anomaly).tan()).atan();
    }
    let anomaly = solve(mean, (-40.0, 40.0), &|x: f64| {
        (e * x.sinh() - x, e * x.cosh() - 1.0)
    });
    let root = ((e + 1.0) / (e - 1.0)).sqrt();
    2.0 * (root * (0.5 * anomaly).tanh()).atan()
}

fn solve(target: f64, (mut low, mut high): (f64, f64), f: &dyn Fn(f64) -> (f64, f64)) -> f64 {
    let mut x = 0.5 * (low + high);
    for _ in 0..200 {
        let (value, slope) = f(x);
        if value < target {
            low = x;
        } else {
            high = x;
        }
        let newton = x - (value - target) / slope;
        let next = if newton > low && newton < high {
            newton
        } else {
            0.5 * (low + high)
        };
        if (next - x).abs() <= 1e-15 * x.abs().max(1.0) {
            return next;
        }
        x = next;
    }
    x
}
