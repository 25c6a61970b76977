//! What people, structure and skin may be given, and what the pass must achieve.

use super::arrival::APOAPSIS_ALTITUDE_M;
use super::bound::Bound;
use super::message::InputError;
use super::people::People;
use super::section::Section;
use crate::numeric::units::Dimension;

/// The `limits` section, checked, in SI units. A limit that is not written does not bind.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Limits {
    /// Highest sensed deceleration, m/s².
    pub peak_deceleration_m_s2: Option<f64>,
    /// Highest rate at which sensed deceleration may rise, m/s³.
    pub onset_m_s3: Option<f64>,
    /// Levels of sensed deceleration with the longest continuous stay above each; at most [`Limits::MAX_LEVELS`].
    pub stay_above: Vec<StayAbove>,
    /// Highest stagnation heat flux, W/m².
    pub heat_flux_w_m2: Option<f64>,
    /// Highest stagnation heat load, J/m².
    pub heat_load_j_m2: Option<f64>,
    /// Highest dynamic pressure, Pa.
    pub dynamic_pressure_pa: Option<f64>,
    /// Lowest altitude the pass may reach, m.
    pub lowest_altitude_m: Option<f64>,
    /// The pass must end captured with the apoapsis altitude below this, m.
    pub captured_below_m: Option<f64>,
    /// A captured pass must leave the apoapsis altitude above this, m; only beside `captured_below_m`.
    pub captured_above_m: Option<f64>,
    /// The pass must end on the ground (or at the lowest altitude of the air table) without leaving the air again.
    pub comes_down: bool,
    /// What people may be given along an axis of their seats, by level and duration.
    pub people: Option<People>,
}

impl Limits {
    /// The most `stay_above` levels a scenario may carry.
    pub const MAX_LEVELS: usize = 4;
}

/// A level of sensed deceleration that may be exceeded for at most so long without a break.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StayAbove {
    /// Level, m/s².
    pub level_m_s2: f64,
    /// Longest continuous stay above the level, s.
    pub at_most_s: f64,
}

/// Ranges that catch slips of unit; generous on both sides.
pub(crate) const DECELERATION_M_S2: Bound = Bound::between(1e-3, 1e5);
pub(crate) const ONSET_M_S3: Bound = Bound::between(1e-5, 1e5);
pub(crate) const HEAT_FLUX_W_M2: Bound = Bound::between(1.0, 1e10);
pub(crate) const HEAT_LOAD_J_M2: Bound = Bound::between(1.0, 1e12);
pub(crate) const DYNAMIC_PRESSURE_PA: Bound = Bound::between(1e-4, 1e9);
/// Longest stay above a level, s.
pub(crate) const STAY_S: Bound = Bound::between(0.0, 1e7);
/// Lowest altitude, m.
pub(crate) const LOWEST_ALTITUDE_M: Bound = Bound::between(-1e5, 1e7);

impl Limits {
    pub(super) fn decode(limits: &Section<'_>) -> Result<Self, InputError> {
        let decoded = Self {
            peak_deceleration_m_s2: limits.optional_quantity(
                "peak_deceleration",
                Dimension::Acceleration,
                DECELERATION_M_S2,
            )?,
            onset_m_s3: limits.optional_quantity(
                "onset",
                Dimension::AccelerationRate,
                ONSET_M_S3,
            )?,
            stay_above: decode_stay_above(limits)?,
            heat_flux_w_m2: limits.optional_quantity(
                "heat_flux",
                Dimension::HeatFlux,
                HEAT_FLUX_W_M2,
            )?,
            heat_load_j_m2: limits.optional_quantity(
                "heat_load",
                Dimension::HeatLoad,
                HEAT_LOAD_J_M2,
            )?,
            dynamic_pressure_pa: limits.optional_quantity(
                "dynamic_pressure",
                Dimension::Pressure,
                DYNAMIC_PRESSURE_PA,
            )?,
            lowest_altitude_m: limits.optional_quantity(
                "lowest_altitude",
                Dimension::Length,
                LOWEST_ALTITUDE_M,
            )?,
            captured_below_m: limits
                .optional_section("captured_below")?
                .map(decode_captured)
                .transpose()?,
            captured_above_m: limits
                .optional_section("captured_above")?
                .map(decode_captured)
                .transpose()?,
            comes_down: limits.flag("comes_down")?,
            people: limits
                .optional_section("people")?
                .map(People::decode)
                .transpose()?,
        };
        decoded.check_together(limits)?;
        Ok(decoded)
    }

    fn check_together(&self, limits: &Section<'_>) -> Result<(), InputError> {
        if let Some(above) = self.captured_above_m
            && self.captured_below_m.is_none_or(|below| above >= below)
        {
            return Err(limits
                .error_at("captured_above", "`captured_above` is not below a `captured_below`")
                .with_help(
                    "the two bracket the orbit wanted: `captured_below: {apoapsis_altitude: 60000 km}` beside \
                     `captured_above: {apoapsis_altitude: 20000 km}`",
                ));
        }
        if self.comes_down && self.captured_below_m.is_some() {
            return Err(limits
                .error_at("comes_down", "`comes_down` contradicts `captured_below`")
                .with_help("a pass that ends on the ground is not captured into an orbit: keep one of the two"));
        }
        if self.comes_down && self.lowest_altitude_m.is_some() {
            return Err(limits
                .error_at("comes_down", "`comes_down` contradicts `lowest_altitude`")
                .with_help(
                    "a pass that ends on the ground goes below every altitude: keep one of the two",
                ));
        }
        Ok(())
    }

    /// Whether no limit at all is set.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

fn decode_captured(captured: Section<'_>) -> Result<f64, InputError> {
    let altitude =
        captured.quantity("apoapsis_altitude", Dimension::Length, APOAPSIS_ALTITUDE_M)?;
    captured.finish()?;
    Ok(altitude)
}

fn decode_stay_above(limits: &Section<'_>) -> Result<Vec<StayAbove>, InputError> {
    let mut levels: Vec<StayAbove> = Vec::new();
    let peak = limits.optional_quantity(
        "peak_deceleration",
        Dimension::Acceleration,
        DECELERATION_M_S2,
    )?;
    for stay in limits.optional_sections("stay_above")? {
        let level = StayAbove {
            level_m_s2: stay.quantity("level", Dimension::Acceleration, DECELERATION_M_S2)?,
            at_most_s: stay.quantity("at_most", Dimension::Time, STAY_S)?,
        };
        if levels.len() == Limits::MAX_LEVELS {
            return Err(stay.error(format!(
                "`stay_above` takes at most {} levels",
                Limits::MAX_LEVELS
            )));
        }
        if peak.is_some_and(|peak| level.level_m_s2 >= peak) {
            return Err(stay
                .error_at("level", "the level is not below `limits.peak_deceleration`")
                .with_help("such a level never binds: lower it, or leave it out"));
        }
        if levels
            .iter()
            .any(|other| same(other.level_m_s2, level.level_m_s2))
        {
            return Err(stay.error_at("level", "this level is already in the list"));
        }
        stay.finish()?;
        levels.push(level);
    }
    Ok(levels)
}

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * a.abs()
}
