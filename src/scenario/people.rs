//! What the people aboard may be given along an axis of their seats (`limits.people`).

use super::bound::Bound;
use super::limits::DECELERATION_M_S2;
use super::message::InputError;
use super::section::{Node, Section};
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
    /// The user's own points for further axes, by their symbols.
    pub other_axes: Vec<(String, Vec<(f64, f64)>)>,
    /// Levels that may be given over those of the curves, above 0; 1 unless written.
    pub level_factor: f64,
    /// How several peaks of one flight count together.
    pub several_peaks: SeveralPeaks,
}

/// How several peaks of one flight count against a curve of level against duration.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SeveralPeaks {
    /// Each stay above a level by itself: the longest counts. The published curves are for one exposure without a
    /// break, so this is the default.
    #[default]
    LongestSingleStay,
    /// All time above a level in one pass added up, as if people did not recover in between.
    TimeAddedUp,
}

impl SeveralPeaks {
    /// The word in a scenario.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::LongestSingleStay => "longest_single_stay",
            Self::TimeAddedUp => "time_added_up",
        }
    }
}

/// A curve by its name, or the scenario's own.
#[derive(Debug, Clone, PartialEq)]
pub enum PeopleCurve {
    /// A published curve by its name, which holds along +Gx (chest to back), or a level of comfort.
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
            (None, false) => PeopleCurve::Own(decode_points(&points)?),
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
        let other_axes = match people.optional_section("other_axes")? {
            None => Vec::new(),
            Some(axes) => axes
                .entries()
                .into_iter()
                .map(|(symbol, node)| decode_axis(symbol, &node))
                .collect::<Result<_, InputError>>()?,
        };
        let level_factor = people
            .optional_quantity("level_factor", Dimension::Ratio, LEVEL_FACTOR)?
            .unwrap_or(1.0);
        let several_peaks = match people.optional_text("several_peaks")? {
            None | Some("longest_single_stay") => SeveralPeaks::LongestSingleStay,
            Some("time_added_up") => SeveralPeaks::TimeAddedUp,
            Some(other) => {
                return Err(people
                    .error_at(
                        "several_peaks",
                        format!("several peaks do not count as `{other}`"),
                    )
                    .with_help("write `longest_single_stay` or `time_added_up`"));
            }
        };
        people.finish()?;
        Ok(Self {
            curve,
            seat,
            recline_rad,
            other_axes,
            level_factor,
            several_peaks,
        })
    }
}

/// From a hundredth of a curve's levels to ten times them.
pub(crate) const LEVEL_FACTOR: Bound = Bound::between(0.01, 10.0);

/// The symbols of the axes of a seat, as physiology writes them.
pub const AXES: [&str; 6] = ["+Gx", "-Gx", "+Gy", "-Gy", "+Gz", "-Gz"];

fn decode_axis(symbol: &str, node: &Node<'_>) -> Result<(String, Vec<(f64, f64)>), InputError> {
    if !AXES.contains(&symbol) {
        return Err(node
            .error_at_key(format!("a seat has no axis `{symbol}`"))
            .with_help(format!("write one of {}", AXES.join(", "))));
    }
    let points = decode_points(&node.list()?)?;
    if points.is_empty() {
        return Err(node
            .error(format!("the curve for {symbol} has no points"))
            .with_help("as in `[[1 s, 1 g], [60 s, 0.5 g]]`"));
    }
    Ok((symbol.to_owned(), points))
}

fn decode_points(nodes: &[Node<'_>]) -> Result<Vec<(f64, f64)>, InputError> {
    let point = |node: &Node<'_>| {
        let cells = node.list()?;
        let [duration, level] = cells.as_slice() else {
            return Err(node
                .error("a point holds a duration and a level")
                .with_help("as in `[10 s, 3 g]`"));
        };
        Ok((
            duration.quantity(Dimension::Time, Bound::between(1e-3, 1e7))?,
            level.quantity(Dimension::Acceleration, DECELERATION_M_S2)?,
        ))
    };
    nodes.iter().map(point).collect()
}
