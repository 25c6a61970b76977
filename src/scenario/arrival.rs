//! How the ship comes to the air: one conic, known by its energy and aimed by its vacuum periapsis.

use std::f64::consts::{FRAC_PI_2, PI};

use super::bound::Bound;
use super::epoch::{CLOCK_HELP, Epoch, is_clock};
use super::message::InputError;
use super::section::{Node, Section};
use super::value::Value;
use crate::numeric::units::{Dimension, format_quantity};

/// The approach conic and the range of aims, as checked from the `arrival` section.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrival {
    /// What fixes the energy of the approach conic.
    pub energy: ArrivalEnergy,
    /// Inclination of the approach plane to the equator, rad, 0 to π.
    pub inclination_rad: f64,
    /// Argument of periapsis, rad: 0 puts the periapsis on the equator, northbound.
    pub argument_of_periapsis_rad: f64,
    /// What is aimed for.
    pub aim: Aim,
    /// Where and when the conic stands among the stars: moves nothing, and is there for messages.
    pub placing: Placing,
}

/// How an arrival is placed among the stars and in time; `None` where the scenario does not say.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Placing {
    /// Right ascension of the ascending node in the body's equator, rad (key `arrival.ascending_node`).
    pub ascending_node_rad: f64,
    /// Passage of the vacuum periapsis (key `arrival.epoch`).
    pub epoch: Option<Epoch>,
    /// The clock of the epoch (key `arrival.time_system`).
    pub time_system: Option<String>,
    /// The frame in which an ephemeris is written (key `arrival.reference_frame`).
    pub reference_frame: Option<String>,
    /// International designator of the ship (key `arrival.object_id`).
    pub object_id: Option<String>,
}

/// What is aimed for: a range of vacuum periapsis altitudes, or one nominal flight-path angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    /// `aim_periapsis`: vacuum periapsis altitudes.
    Periapsis(AimRange),
    /// `flight_path_angle` of an `arrival.entry`: inertial angle at the entry interface, rad,
    /// from -π/2 to below 0.
    FlightPathAngle(f64),
}

/// What fixes the energy of the approach conic (exactly one arrival per scenario).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ArrivalEnergy {
    /// `arrival.hyperbola`: hyperbolic excess speed, m/s, 0 or more (0 is a parabola).
    ExcessSpeed(f64),
    /// `arrival.entry`: inertial speed at the entry interface, m/s, above 0.
    InertialEntrySpeed(f64),
    /// `arrival.orbit`: apoapsis altitude above the equatorial radius, m.
    ApoapsisAltitude(f64),
}

/// Vacuum periapsis altitudes above the ellipsoid: a single aim has `from_m == to_m`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AimRange {
    /// Lowest aim, m.
    pub from_m: f64,
    /// Highest aim, m; above `from_m` for a study over aims.
    pub to_m: f64,
    /// Spacing of the first grid, m, above 0.
    pub step_m: f64,
}

/// Ranges that catch slips of unit; generous on both sides.
pub(crate) const APOAPSIS_ALTITUDE_M: Bound = Bound::between(1e3, 1e11);
pub(crate) const EXCESS_SPEED_M_S: Bound = Bound::between(0.0, 1e6);
pub(super) const ENTRY_SPEED_M_S: Bound = Bound::between(10.0, 1e6);
pub(super) const INCLINATION_RAD: Bound = Bound::between(0.0, PI);
const ARGUMENT_OF_PERIAPSIS_RAD: Bound = Bound::between(-2.0 * PI, 2.0 * PI);
/// Vacuum periapsis altitudes that are taken, m.
pub(crate) const AIM_M: Bound = Bound::between(-2e7, 2e7);
/// Most aims on the first grid.
const MOST_AIMS: f64 = 1000.0;

/// The section `arrival`, with advice of its own if nothing is in it.
pub(super) fn section<'d>(root: &Section<'d>) -> Result<Section<'d>, InputError> {
    let node = root.required("arrival", "a section with `hyperbola`, `entry` or `orbit`")?;
    if *node.value() == Value::Null {
        return Err(node
            .error_at_key("`arrival` says nothing")
            .with_help("write exactly one of `hyperbola`, `entry` and `orbit`"));
    }
    node.section()
}

impl Arrival {
    pub(super) fn decode(arrival: &Section<'_>) -> Result<Self, InputError> {
        let placing = Placing::decode(arrival)?;
        let kinds = ["hyperbola", "entry", "orbit"];
        let written: Vec<Node<'_>> = kinds
            .iter()
            .filter_map(|kind| arrival.optional(kind))
            .collect();
        let kinds_in_words = "exactly one of `hyperbola`, `entry` and `orbit`";
        let node = match written.as_slice() {
            [one] => one,
            [] => {
                let mut decoy = arrival.entries();
                decoy.retain(|(key, _)| !PLACING.contains(key));
                let error = match decoy.first() {
                    Some((key, node)) => {
                        node.error_at_key(format!("`{key}` is no kind of arrival"))
                    }
                    None => arrival.error("`arrival` says nothing"),
                };
                return Err(error.with_help(format!("write {kinds_in_words}")));
            }
            [first, second, ..] => {
                let message = format!(
                    "a second arrival: `{}` stands beside `{}`",
                    second.name(),
                    first.name()
                );
                return Err(second
                    .error_at_key(message)
                    .with_help(format!("keep {kinds_in_words}")));
            }
        };
        let section = node.section()?;
        let energy = ArrivalEnergy::decode(&section, &node.name())?;
        let decoded = Self {
            energy,
            inclination_rad: section.quantity("inclination", Dimension::Angle, INCLINATION_RAD)?,
            argument_of_periapsis_rad: section
                .optional_quantity(
                    "argument_of_periapsis",
                    Dimension::Angle,
                    ARGUMENT_OF_PERIAPSIS_RAD,
                )?
                .unwrap_or(0.0),
            aim: decode_aim(&section, energy)?,
            placing,
        };
        section.finish()?;
        Ok(decoded)
    }

    /// Key of the section that describes this arrival: `hyperbola`, `entry` or `orbit`.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self.energy {
            ArrivalEnergy::ExcessSpeed(_) => "hyperbola",
            ArrivalEnergy::InertialEntrySpeed(_) => "entry",
            ArrivalEnergy::ApoapsisAltitude(_) => "orbit",
        }
    }

    /// The range of aims, when a periapsis altitude is aimed for.
    #[must_use]
    pub fn aim_range(&self) -> Option<AimRange> {
        match self.aim {
            Aim::Periapsis(range) => Some(range),
            Aim::FlightPathAngle(_) => None,
        }
    }
}

const PLACING: [&str; 5] = [
    "ascending_node",
    "epoch",
    "time_system",
    "reference_frame",
    "object_id",
];

impl Placing {
    fn decode(arrival: &Section<'_>) -> Result<Self, InputError> {
        let text = |key: &str| Ok::<_, InputError>(arrival.optional_text(key)?.map(str::to_owned));
        let epoch = arrival.optional("epoch").map(|node| {
            Epoch::parse(node.text()?).ok_or_else(|| {
                node.error("`arrival.epoch` is no moment")
                    .with_help("write 2031-05-04T12:00:00, and the clock as `time_system: TDB`")
            })
        });
        if let Some(node) = arrival.optional("time_system")
            && !is_clock(node.text()?)
        {
            return Err(node
                .error("`arrival.time_system` is not known here")
                .with_help(CLOCK_HELP));
        }
        let node = arrival.optional_quantity(
            "ascending_node",
            Dimension::Angle,
            ARGUMENT_OF_PERIAPSIS_RAD,
        )?;
        Ok(Self {
            ascending_node_rad: node.unwrap_or(0.0),
            epoch: epoch.transpose()?,
            time_system: text("time_system")?,
            reference_frame: text("reference_frame")?,
            object_id: text("object_id")?,
        })
    }
}

impl AimRange {
    /// Whether there is only one aim.
    #[must_use]
    pub fn is_single(&self) -> bool {
        self.from_m >= self.to_m
    }
}

impl ArrivalEnergy {
    fn decode(section: &Section<'_>, kind: &str) -> Result<Self, InputError> {
        Ok(match kind {
            "hyperbola" => Self::ExcessSpeed(section.quantity(
                "excess_speed",
                Dimension::Speed,
                EXCESS_SPEED_M_S,
            )?),
            "entry" => Self::InertialEntrySpeed(section.quantity(
                "speed",
                Dimension::Speed,
                ENTRY_SPEED_M_S,
            )?),
            _ => Self::ApoapsisAltitude(section.quantity(
                "apoapsis_altitude",
                Dimension::Length,
                APOAPSIS_ALTITUDE_M,
            )?),
        })
    }
}

fn decode_aim(section: &Section<'_>, energy: ArrivalEnergy) -> Result<Aim, InputError> {
    if !matches!(energy, ArrivalEnergy::InertialEntrySpeed(_)) {
        return Ok(Aim::Periapsis(decode_aim_range(
            &section.required("aim_periapsis", AIM_EXPECTED)?,
        )?));
    }
    match (section.optional("aim_periapsis"), section.optional("flight_path_angle")) {
        (Some(node), None) => Ok(Aim::Periapsis(decode_aim_range(&node)?)),
        (None, Some(node)) => Ok(Aim::FlightPathAngle(decode_angle(&node)?)),
        (Some(_), Some(angle)) => Err(angle
            .error_at_key("`flight_path_angle` stands beside `aim_periapsis`")
            .with_help("either of them fixes the other: keep one of the two")),
        (None, None) => Err(section
            .error("the entry has no aim")
            .with_help("add `aim_periapsis: {from: ..., to: ..., step: ...}`, or `flight_path_angle: ...` for one entry")),
    }
}

const AIM_EXPECTED: &str = "a length, or `{from: ..., to: ..., step: ...}`";

fn decode_angle(node: &Node<'_>) -> Result<f64, InputError> {
    let angle = node.quantity(Dimension::Angle, Bound::ANY)?;
    if Bound::at_least(-FRAC_PI_2).below(0.0).holds(angle) {
        return Ok(angle);
    }
    let got = format_quantity(angle, Dimension::Angle);
    let error = node.error(format!(
        "entry flight-path angle must be at least -90 and below 0 deg, got {got}"
    ));
    if (0.0..=FRAC_PI_2).contains(&angle) && angle > 0.0 {
        let meant = format_quantity(-angle, Dimension::Angle);
        return Err(error.with_help(format!(
            "angles below the horizon are negative; did you mean {meant}?"
        )));
    }
    Err(error.with_help("angles below the horizon are negative"))
}

fn decode_aim_range(node: &Node<'_>) -> Result<AimRange, InputError> {
    if !matches!(node.value(), Value::Map(_)) {
        let altitude = node.quantity(Dimension::Length, AIM_M)?;
        return Ok(AimRange {
            from_m: altitude,
            to_m: altitude,
            step_m: 1e3,
        });
    }
    let section = node.section()?;
    let range = AimRange {
        from_m: section.quantity("from", Dimension::Length, AIM_M)?,
        to_m: section.quantity("to", Dimension::Length, AIM_M)?,
        step_m: section.quantity("step", Dimension::Length, Bound::at_least(1.0))?,
    };
    let width = range.to_m - range.from_m;
    if width <= 0.0 {
        return Err(section
            .error_at("to", "the range of aims is empty: `to` is not above `from`")
            .with_help("swap the two, or write one altitude: `aim_periapsis: 52 km`"));
    }
    if range.step_m > width {
        let width = format_quantity(width, Dimension::Length);
        return Err(section.error_at(
            "step",
            format!("the step is larger than the range of aims, {width}"),
        ));
    }
    if width / range.step_m > MOST_AIMS {
        return Err(section
            .error_at(
                "step",
                format!("the range holds more than {MOST_AIMS} aims"),
            )
            .with_help("take a larger step; the edges of the band are refined below the step"));
    }
    section.finish()?;
    Ok(range)
}
