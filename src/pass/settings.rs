//! How passes are flown: tolerance, ends, levels to watch.

use super::exposure::Curves;
use super::orbit::surface_period_s;
use super::stays::Level;
use crate::world::Planet;

/// Which compiled copy of the step to run. Both give the same bits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Instructions {
    /// The widest set this machine has.
    #[default]
    Widest,
    /// The set every machine of this architecture has; slow, for checks.
    Plainest,
}

/// How to fly.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Error of a step over the scales below. Default [`Settings::TOLERANCE`] up to a circular speed of
    /// 3.6 km/s, and less above.
    pub tolerance: f64,
    /// Length that counts as 1, m. Default: the equatorial radius.
    pub length_scale_m: f64,
    /// Speed that counts as 1, m/s. Default: the circular speed at the equatorial radius.
    pub speed_scale_m_s: f64,
    /// Longest time to fly, s. Default: two rounds of a circular orbit at the surface.
    pub longest_s: f64,
    /// Speed against the air at which a flight counts as landed, m/s; 0 flies to the surface.
    pub stop_speed_m_s: f64,
    /// Whether the end of a flight is found inside its last step; else the flight ends with the step that goes beyond
    /// it, for quick looks at the orbit afterwards. Default: yes.
    pub exact_ends: bool,
    /// Levels of sensed deceleration above which the time is wanted.
    pub levels: Vec<Level>,
    /// Curves of level against duration that the flight is held against at all levels.
    pub curves: Curves,
    /// Which compiled copy of the step to run.
    pub instructions: Instructions,
}

impl Settings {
    /// The default relative tolerance of small worlds: the loosest at which 99.9 % of the samples of the
    /// bundled examples leave the air within 1 mm/s of a run at 1e-13.
    pub const TOLERANCE: f64 = 1e-9;

    /// Default settings about a planet.
    #[must_use]
    pub fn new(planet: &Planet) -> Self {
        Self {
            tolerance: default_tolerance(planet),
            length_scale_m: planet.equatorial_radius_m,
            speed_scale_m_s: planet.circular_speed_m_s(),
            longest_s: 2.0 * surface_period_s(planet),
            stop_speed_m_s: 0.0,
            exact_ends: true,
            levels: Vec::new(),
            curves: Curves::default(),
            instructions: Instructions::Widest,
        }
    }
}

/// A millimetre per second is a smaller share of the speeds about a larger world, and its air (the corners of
/// the Earth's standard, the long way through that of a giant) makes more of an error: the fourth power, down
/// to a fiftieth, holds it on every bundled example.
fn default_tolerance(planet: &Planet) -> f64 {
    const SMALL_M_S: f64 = 3600.0;
    let share = (SMALL_M_S / planet.circular_speed_m_s()).min(1.0);
    Settings::TOLERANCE * share.powi(4).max(0.02)
}
