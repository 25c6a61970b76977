//! What people, structure and skin may be given, and what the pass must achieve: the `limits` section as the table of
//! limits reads it.

mod spec;
mod table;

pub use spec::{Dashes, Form, LimitSpec, Line, Role, Words, Written, filled};
pub use table::LimitKind;

use super::bound::Bound;
use super::message::InputError;
use super::people::People;
use super::section::Section;
use crate::numeric::quantity::{Quantity, Unit};
use crate::numeric::units::Dimension;

/// One limit with its allowed value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// What is limited.
    pub kind: LimitKind,
    /// Allowed value in SI units, for `People` a ratio (for `LeavesAir` and `ComesDown` 0: they have none).
    pub allowed: f64,
    /// Of a time above a level of sensed deceleration that level, m/s².
    pub level_m_s2: Option<f64>,
}

/// The `limits` section, checked, in SI units. A limit that is not written does not bind.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Limits {
    entries: Vec<Limit>,
    /// What people may be given along an axis of their seats, by level and duration.
    pub people: Option<People>,
}

/// Ranges that catch slips of unit; generous on both sides.
pub(crate) const DECELERATION_M_S2: Bound = Bound::between(1e-3, 1e5);
pub(crate) const ONSET_M_S3: Bound = Bound::between(1e-5, 1e5);
pub(crate) const HEAT_FLUX_W_M2: Bound = Bound::between(1.0, 1e10);
pub(crate) const HEAT_LOAD_J_M2: Bound = Bound::between(1.0, 1e12);
pub(crate) const DYNAMIC_PRESSURE_PA: Bound = Bound::between(1e-4, 1e9);
/// Longest time above a level, s.
pub(crate) const STAY_S: Bound = Bound::between(0.0, 1e7);
/// Lowest altitude, m.
pub(crate) const LOWEST_ALTITUDE_M: Bound = Bound::between(-1e5, 1e7);

impl LimitKind {
    /// The stable key in files: that of the scenario where there is one.
    #[must_use]
    pub fn key(self) -> &'static str {
        self.spec().key
    }

    /// The key with the place, from 1, where there may be several of its kind: `stay_above_2`.
    #[must_use]
    pub fn numbered_key(self) -> String {
        match self.place() {
            Some(place) => format!("{}_{}", self.key(), place + 1),
            None => self.key().to_owned(),
        }
    }

    /// The unit its values are shown in.
    #[must_use]
    pub fn unit(self) -> &'static Unit {
        self.spec().of.map_or(&Unit::NONE, Quantity::unit)
    }

    /// Whether it is about where one pass leaves the ship: of a campaign, which has a target of its own, it is not
    /// asked.
    #[must_use]
    pub fn is_of_the_way_out(self) -> bool {
        let form = self.spec().form;
        form.is_of_the_orbit() || form.is_of_staying()
    }
}

impl LimitSpec {
    /// In which units a scenario may write its allowed value.
    #[must_use]
    pub fn dimension(&self) -> Dimension {
        let of = self.of.map(Quantity::facts);
        of.map_or(Dimension::Dimensionless, |facts| facts.dimension)
    }
}

impl Limits {
    /// The most levels that each list of levels may have.
    pub const MAX_LEVELS: usize = 4;

    /// The limits in the order of the table, without those of spots and people.
    #[must_use]
    pub fn entries(&self) -> &[Limit] {
        &self.entries
    }

    /// Adds a limit at the end, in place of the same one.
    pub fn push(&mut self, limit: Limit) {
        self.entries.retain(|other| other.kind != limit.kind);
        self.entries.push(limit);
    }

    /// The allowed value on a quantity that is limited on one side only, SI; the first of several. The apoapsis is
    /// limited on both: ask for the limit itself.
    #[must_use]
    pub fn on(&self, quantity: Quantity) -> Option<f64> {
        let found = self
            .entries
            .iter()
            .find(|limit| limit.kind.spec().of == Some(quantity));
        found.map(|limit| limit.allowed)
    }

    /// The allowed value of a limit, SI.
    #[must_use]
    pub fn allowed(&self, kind: LimitKind) -> Option<f64> {
        let found = self.entries.iter().find(|limit| limit.kind == kind);
        found.map(|limit| limit.allowed)
    }

    pub(super) fn decode(limits: &Section<'_>) -> Result<Self, InputError> {
        let mut decoded = Self::default();
        for kind in LimitKind::ALL {
            let spec = kind.spec();
            let allowed = match spec.written {
                Written::Value => {
                    limits.optional_quantity(spec.key, spec.dimension(), spec.bound)?
                }
                Written::Apoapsis => limits
                    .optional_section(spec.key)?
                    .map(|captured| decode_captured(captured, spec))
                    .transpose()?,
                Written::Flag => limits.flag(spec.key)?.then_some(0.0),
                Written::WithCapture => decoded.allowed(LimitKind::CapturedBelow).map(|_| 0.0),
                Written::Levels => {
                    decoded.decode_levels(limits, kind)?;
                    None
                }
                Written::People => {
                    let people = limits.optional_section(spec.key)?;
                    decoded.people = people.map(People::decode).transpose()?;
                    None
                }
                Written::Spot => None,
            };
            decoded.entries.extend(allowed.map(|allowed| Limit {
                kind,
                allowed,
                level_m_s2: None,
            }));
        }
        decoded.check_together(limits)?;
        Ok(decoded)
    }

    fn decode_levels(&mut self, limits: &Section<'_>, kind: LimitKind) -> Result<(), InputError> {
        let spec = kind.spec();
        let peak = self.on(Quantity::PeakDeceleration);
        let mut levels: Vec<Limit> = Vec::new();
        for stay in limits.optional_sections(spec.key)? {
            let level_m_s2 = stay.quantity("level", Dimension::Acceleration, DECELERATION_M_S2)?;
            let allowed = stay.quantity("at_most", spec.dimension(), spec.bound)?;
            if levels.len() == Self::MAX_LEVELS {
                return Err(stay.error(format!(
                    "`{}` takes at most {} levels",
                    spec.key,
                    Self::MAX_LEVELS
                )));
            }
            if peak.is_some_and(|peak| level_m_s2 >= peak) {
                return Err(stay
                    .error_at("level", "the level is not below `limits.peak_deceleration`")
                    .with_help("such a level never binds: lower it, or leave it out"));
            }
            let same = |other: &Limit| other.level_m_s2.is_some_and(|a| same(a, level_m_s2));
            if levels.iter().any(same) {
                return Err(stay.error_at("level", "this level is already in the list"));
            }
            stay.finish()?;
            levels.push(Limit {
                kind: kind.at(levels.len()),
                allowed,
                level_m_s2: Some(level_m_s2),
            });
        }
        self.entries.extend(levels);
        Ok(())
    }

    /// What no row of the table can say: which limits contradict each other.
    fn check_together(&self, limits: &Section<'_>) -> Result<(), InputError> {
        let below = self.allowed(LimitKind::CapturedBelow);
        if let Some(above) = self.allowed(LimitKind::CapturedAbove)
            && below.is_none_or(|below| above >= below)
        {
            return Err(limits
                .error_at("captured_above", "`captured_above` is not below a `captured_below`")
                .with_help(
                    "the two bracket the orbit wanted: `captured_below: {apoapsis_altitude: 60000 km}` beside \
                     `captured_above: {apoapsis_altitude: 20000 km}`",
                ));
        }
        if self.comes_down() && below.is_some() {
            return Err(limits
                .error_at("comes_down", "`comes_down` contradicts `captured_below`")
                .with_help("a pass that ends on the ground is not captured into an orbit: keep one of the two"));
        }
        if self.comes_down() && self.on(Quantity::LowestAltitude).is_some() {
            return Err(limits
                .error_at("comes_down", "`comes_down` contradicts `lowest_altitude`")
                .with_help(
                    "a pass that ends on the ground goes below every altitude: keep one of the two",
                ));
        }
        Ok(())
    }

    /// Whether the pass must end on the ground (or at the lowest altitude of the air table) without leaving the air.
    #[must_use]
    pub fn comes_down(&self) -> bool {
        self.allowed(LimitKind::ComesDown).is_some()
    }

    /// Whether no limit at all is set.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

fn decode_captured(captured: Section<'_>, spec: &LimitSpec) -> Result<f64, InputError> {
    let altitude = captured.quantity("apoapsis_altitude", spec.dimension(), spec.bound)?;
    captured.finish()?;
    Ok(altitude)
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * a.abs()
}
