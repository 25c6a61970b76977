//! What people, structure and skin may be given, and what the pass must achieve.

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
    /// The pass must end on the ground (or at the lowest altitude of the air table) without leaving the air again.
    pub comes_down: bool,
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
