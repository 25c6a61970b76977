//! What the people aboard may be given along an axis of their seats (`limits.people`).

use super::bound::Bound;
use super::limits::DECELERATION_M_S2;
use super::message::InputError;
use super::section::Section;
use crate::numeric::units::Dimension;

/// A limit curve of level against duration, and how the people sit.
#[derive(Debug, Clone, PartialEq)]
pub struct People {
    /// The curve.
    pub curve: PeopleCurve,
    /// How the seat stands to the stream.
    pub seat: SeatChoice,
    /// How far it is leaned back, rad.
    pub recline_rad: f64,
}

/// A curve by its name, or the scenario's own.
#[derive(Debug, Clone, PartialEq)]
pub enum PeopleCurve {
    /// A published curve by its name; they are along +Gx, chest to back.
    Named(String),
    /// The user's own points: duration, s, and level, m/s², along the axis in which the seat feels the braking.
    Own(Vec<(f64, f64)>),
}

/// How the seat stands to the stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeatChoice {
    /// On the back against the stream: braking is felt from chest to back, +Gx.
    BackToStream,
    /// Facing the stream: braking is felt from back to chest, -Gx.
    FacingStream,
    /// Feet to the stream: braking is felt from head to feet, +Gz.
    FeetToStream,
}

impl People {
    /// Reads the section.
    pub(super) fn decode(people: Section<'_>) -> Result<Self, InputError> {
        let named = people.optional_text("curve")?.map(str::to_owned);
        let points = people.optional_list("points")?;
        let curve = match (named, points.is_empty()) {
            (Some(name), true) => PeopleCurve::Named(name),
            (None, false) => {
                let mut own = Vec::new();
                for node in &points {
                    let cells = node.list()?;
                    let [duration, level] = cells.as_slice() else {
                        return Err(node
                            .error("a point holds a duration and a level")
                            .with_help("as in `[10 s, 3 g]`"));
                    };
                    own.push((
                        duration.quantity(Dimension::Time, Bound::between(1e-3, 1e7))?,
                        level.quantity(Dimension::Acceleration, DECELERATION_M_S2)?,
                    ));
                }
                PeopleCurve::Own(own)
            }
            _ => {
                return Err(people
                    .error("`people` has either a `curve` by its name or `points` of its own")
                    .with_help("as in `curve: nasa-std-3001-deconditioned` or `points: [[1 s, 3 g], [60 s, 1.5 g]]`"));
            }
        };
        let seat = match people.optional_text("seat")? {
            None | Some("back_to_stream") => SeatChoice::BackToStream,
            Some("facing_stream") => SeatChoice::FacingStream,
            Some("feet_to_stream") => SeatChoice::FeetToStream,
            Some(other) => {
                return Err(people
                    .error_at("seat", format!("no seat stands `{other}`"))
                    .with_help("write `back_to_stream`, `facing_stream` or `feet_to_stream`"));
            }
        };
        let recline_rad = people
            .optional_quantity("recline", Dimension::Angle, Bound::between(-1.6, 1.6))?
            .unwrap_or(0.0);
        people.finish()?;
        Ok(Self {
            curve,
            seat,
            recline_rad,
        })
    }
}
