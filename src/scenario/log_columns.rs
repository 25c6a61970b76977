//! The columns of a flight log by their names, which carry the unit: `altitude_km`, `relative_speed_m_s`.

use super::flight_log::Line;
use super::likeness::closest;
use super::message::InputError;
use super::visible::visible;

/// What a log measures beside its time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[repr(usize)]
pub enum Channel {
    /// Altitude above the reference ellipsoid, m.
    Altitude,
    /// Distance from the centre of the body, m.
    Radius,
    /// Speed against the air, m/s.
    RelativeSpeed,
    /// Inertial speed, m/s.
    InertialSpeed,
    /// Sensed (aerodynamic) deceleration, m/s².
    Deceleration,
}

impl Channel {
    /// Every channel in the order of its place in a row.
    pub const ALL: [Self; 5] = [
        Self::Altitude,
        Self::Radius,
        Self::RelativeSpeed,
        Self::InertialSpeed,
        Self::Deceleration,
    ];
    /// How many channels there are.
    pub const COUNT: usize = Self::ALL.len();

    /// What it is, in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Altitude => "altitude",
            Self::Radius => "radius",
            Self::RelativeSpeed => "speed against the air",
            Self::InertialSpeed => "inertial speed",
            Self::Deceleration => "deceleration",
        }
    }

    /// The SI unit in which its values are kept.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Altitude | Self::Radius => "m",
            Self::RelativeSpeed | Self::InertialSpeed => "m/s",
            Self::Deceleration => "m/s²",
        }
    }
}

/// A column that is used.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Its name as written.
    pub name: String,
    /// Its place in a line, from 0.
    pub index: usize,
    /// What it measures; `None` for the time.
    pub channel: Option<Channel>,
    /// Value in SI of one of its units.
    pub to_si: f64,
}

/// Standard acceleration of free fall, m/s² (exact by definition).
const STANDARD_GRAVITY: f64 = 9.806_65;

/// Names that are known: what is measured, and the value of the unit in SI.
const KNOWN: [(&str, Option<Channel>, f64); 11] = [
    ("time_s", None, 1.0),
    ("altitude_km", Some(Channel::Altitude), 1e3),
    ("altitude_m", Some(Channel::Altitude), 1.0),
    ("radius_km", Some(Channel::Radius), 1e3),
    ("radius_m", Some(Channel::Radius), 1.0),
    ("relative_speed_km_s", Some(Channel::RelativeSpeed), 1e3),
    ("relative_speed_m_s", Some(Channel::RelativeSpeed), 1.0),
    ("inertial_speed_km_s", Some(Channel::InertialSpeed), 1e3),
    ("inertial_speed_m_s", Some(Channel::InertialSpeed), 1.0),
    (
        "deceleration_g",
        Some(Channel::Deceleration),
        STANDARD_GRAVITY,
    ),
    ("deceleration_m_s2", Some(Channel::Deceleration), 1.0),
];

/// Endings that are units, though none that is read here.
const OTHER_UNITS: [&str; 16] = [
    "ft", "kft", "mi", "nmi", "cm", "mm", "km_h", "kmh", "mph", "kn", "ft_s", "ms", "min", "h",
    "ms2", "mg",
];

/// The columns that are used and the names of those that are not.
pub(super) fn columns_of(head: &Line<'_>) -> Result<(Vec<Column>, Vec<String>), InputError> {
    let mut columns: Vec<Column> = Vec::new();
    let mut unused = Vec::new();
    if !head.text().contains(',') && head.text().contains([';', '\t']) {
        return Err(InputError::new("the columns are not separated by commas")
            .with_place(head.place(1, head.text().chars().count()))
            .with_help("save the log as comma-separated text with decimal points"));
    }
    for (index, name) in head.fields().enumerate() {
        let lower = name.to_ascii_lowercase();
        if let Some((_, channel, to_si)) = KNOWN.iter().find(|(known, ..)| *known == lower) {
            if let Some(first) = columns.iter().find(|column| column.channel == *channel) {
                let message = format!("`{name}` measures the same as `{}`", first.name);
                return Err(InputError::new(message)
                    .with_place(head.place_of_field(index))
                    .with_help("keep one of the two columns"));
            }
            columns.push(Column {
                name: name.to_owned(),
                index,
                channel: *channel,
                to_si: *to_si,
            });
        } else if let Some(help) = unit_advice(&lower) {
            return Err(InputError::new(format!(
                "the unit of the column `{name}` is not known here"
            ))
            .with_place(head.place_of_field(index))
            .with_help(help));
        } else {
            unused.push(visible(name));
        }
    }
    need(head, &columns, &unused)?;
    // Of two columns that say the same, one is fitted: two would count the same measurement twice.
    for (kept, left) in [
        (Channel::Altitude, Channel::Radius),
        (Channel::RelativeSpeed, Channel::InertialSpeed),
    ] {
        if columns.iter().any(|column| column.channel == Some(kept))
            && let Some(at) = columns
                .iter()
                .position(|column| column.channel == Some(left))
        {
            unused.push(columns.remove(at).name);
        }
    }
    Ok((columns, unused))
}

/// Advice for a name that is a measured quantity without a unit, or with one that is not read.
fn unit_advice(name: &str) -> Option<String> {
    let stems = [
        ("time", "time_s"),
        ("altitude", "altitude_km or altitude_m"),
        ("radius", "radius_km or radius_m"),
        (
            "relative_speed",
            "relative_speed_m_s or relative_speed_km_s",
        ),
        (
            "inertial_speed",
            "inertial_speed_m_s or inertial_speed_km_s",
        ),
        (
            "speed",
            "relative_speed_m_s (against the air) or inertial_speed_m_s, or either in _km_s: they differ by the turning of the body",
        ),
        ("deceleration", "deceleration_g or deceleration_m_s2"),
    ];
    let (stem, names) = stems.iter().find(|(stem, _)| {
        name.strip_prefix(stem)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('_'))
    })?;
    let unit = name[stem.len()..].trim_start_matches('_');
    let bare_speed = *stem == "speed" && ["m_s", "km_s"].contains(&unit);
    (unit.is_empty() || bare_speed || OTHER_UNITS.contains(&unit))
        .then(|| format!("call it {names}"))
}

/// Refuses a log without time, height or speed.
fn need(head: &Line<'_>, columns: &[Column], unused: &[String]) -> Result<(), InputError> {
    let has = |channels: &[Option<Channel>]| {
        columns
            .iter()
            .any(|column| channels.contains(&column.channel))
    };
    let height = [Some(Channel::Altitude), Some(Channel::Radius)];
    let speed = [Some(Channel::RelativeSpeed), Some(Channel::InertialSpeed)];
    for (there, what, example) in [
        (has(&[None]), "time", "time_s"),
        (has(&height), "altitude or radius", "altitude_km"),
        (has(&speed), "speed", "relative_speed_m_s"),
    ] {
        if !there {
            let known = KNOWN.iter().map(|(name, ..)| *name);
            let meant = unused.iter().find_map(|name| {
                closest(&name.to_ascii_lowercase(), known.clone()).map(|known| (name, known))
            });
            let help = match meant {
                Some((name, known)) => format!("did you mean `{known}` by `{name}`?"),
                None => format!(
                    "name it `{example}`; known here: {}",
                    known.collect::<Vec<_>>().join(", ")
                ),
            };
            return Err(
                InputError::new(format!("the log has no column for the {what}"))
                    .with_place(head.place(1, head.text().chars().count().max(1)))
                    .with_help(help),
            );
        }
    }
    Ok(())
}
