//! How a pass ended and what it gave: values, not errors.

use super::after::next_apsis;
use super::approach::EntryState;
use super::dynamics::{State, position, velocity};
use super::exposure::Exposure;
use super::orbit::Orbit;
use super::stays::TimesAbove;
use crate::numeric::Vec3;
use crate::numeric::quantity::Quantity;
use crate::world::planet::{AirSample, Planet};

/// The end of a pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Ending {
    /// Left the air on a closed orbit.
    Captured,
    /// Left the air (or never met it) on a parabola or hyperbola.
    Escaped,
    /// Reached the surface, or the lowest altitude of the air table, or the speed to stop at.
    Landed,
    /// Still in the air when the time to fly was over.
    OutOfTime,
    /// The integration failed: no step could be taken. Not an ending of the flight.
    #[default]
    Failed,
    /// The numbers fit no approach: there is no such arrival, and nothing was flown.
    NoApproach,
}

impl Ending {
    /// Every ending, in the order in which they are counted and shown.
    pub const ALL: [Self; 6] = [
        Self::Captured,
        Self::Escaped,
        Self::Landed,
        Self::OutOfTime,
        Self::Failed,
        Self::NoApproach,
    ];

    /// Whether it is how a flight ended. What failed, or has no approach, tells of no limit whether it holds: it
    /// broke none and held none.
    #[must_use]
    pub fn is_flown(self) -> bool {
        !matches!(self, Self::Failed | Self::NoApproach)
    }

    /// The word for it in files and on the screen.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Captured => "captured",
            Self::Escaped => "escaped",
            Self::Landed => "landed",
            Self::OutOfTime => "out_of_time",
            Self::Failed => "failed",
            Self::NoApproach => "no_approach",
        }
    }
}

/// What one pass gave. Peaks are those of the whole flight, found between steps.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PassResult {
    /// How it ended.
    pub ending: Ending,
    /// Time from the start of the pass to its end, s.
    pub duration_s: f64,
    /// Highest sensed deceleration, m/s².
    pub peak_deceleration_m_s2: f64,
    /// Highest rate at which sensed deceleration rose, m/s³; 0 when it never rose.
    pub onset_m_s3: f64,
    /// Highest stagnation heat flux, W/m².
    pub peak_heat_flux_w_m2: f64,
    /// The same with the nose before and after a drop, W/m²; `None` for a ship that kept its nose.
    pub peak_heat_flux_by_nose_w_m2: Option<[f64; 2]>,
    /// Stagnation heat load, J/m².
    pub heat_load_j_m2: f64,
    /// Highest dynamic pressure, Pa.
    pub peak_dynamic_pressure_pa: f64,
    /// Lowest altitude, m.
    pub lowest_altitude_m: f64,
    /// Times above the levels of [`Settings::levels`](super::settings::Settings).
    pub times_above: TimesAbove,
    /// Where it was hardest on the curves of level against duration; `None` without curves, or where it felt nothing.
    pub exposure: Option<Exposure>,
    /// Work of drag as a speed, m/s.
    pub speed_lost_m_s: f64,
    /// Speed against the air at the end, m/s.
    pub end_relative_speed_m_s: f64,
    /// Inertial speed at the end, m/s.
    pub end_inertial_speed_m_s: f64,
    /// The orbit at the end. After the air it is that of the real motion under the zonal field: on a closed orbit the
    /// conic that osculates at the next apoapsis, on an open one with the energy that is left at infinity.
    pub orbit: Orbit,
    /// Altitude of the next apoapsis above the equatorial radius, m; `None` without a closed orbit.
    pub apoapsis_altitude_m: Option<f64>,
    /// Altitude of the orbit's periapsis above the equatorial radius, m.
    pub periapsis_altitude_m: f64,
    /// The state at the end.
    pub end_state: State<f64>,
}

impl PassResult {
    /// What the pass has of a quantity, SI units; of several alike the one at this place. `None` where it has none, was
    /// not asked to measure it, or it follows from the ship too.
    #[must_use]
    pub fn value(&self, quantity: Quantity, place: usize) -> Option<f64> {
        match quantity {
            Quantity::PeakDeceleration => Some(self.peak_deceleration_m_s2),
            Quantity::Onset => Some(self.onset_m_s3),
            Quantity::PeakHeatFlux => Some(self.peak_heat_flux_w_m2),
            Quantity::HeatLoad => Some(self.heat_load_j_m2),
            Quantity::PeakDynamicPressure => Some(self.peak_dynamic_pressure_pa),
            Quantity::LowestAltitude => Some(self.lowest_altitude_m),
            Quantity::SpeedLost => Some(self.speed_lost_m_s),
            Quantity::ApoapsisAltitude => self.apoapsis_altitude_m,
            Quantity::PeopleShare => match self.exposure {
                Some(exposure) => Some(exposure.ratio),
                // Where nothing was felt no curve was neared; else it was not measured.
                None => (self.peak_deceleration_m_s2 <= 0.0).then_some(0.0),
            },
            Quantity::SpotHeatFlux => None,
            above_a_level => self.times_above.get(above_a_level, place),
        }
    }
}

/// How a flight goes on that is outside the air and does not come down again.
#[must_use]
pub(super) fn left_air(planet: &Planet, r: Vec3<f64>, v: Vec3<f64>) -> Ending {
    if planet.twice_energy(r, v) < 0.0 {
        Ending::Captured
    } else {
        Ending::Escaped
    }
}

/// The result of a flight that never met the air.
pub(super) fn untouched(planet: &Planet, start: &EntryState) -> PassResult {
    let (r, v) = (start.position, start.velocity);
    let y = [r.x, r.y, r.z, v.x, v.y, v.z, 0.0, 0.0];
    let altitude = planet.altitude_at(r);
    PassResult {
        lowest_altitude_m: altitude,
        end_relative_speed_m_s: planet
            .air_relative(r, v, altitude, &AirSample::EXACT)
            .norm(),
        ..bare_result(planet, &y, left_air(planet, r, v))
    }
}

/// What follows from the last state alone; everything else is 0.
///
/// A closed orbit whose apoapsis cannot be found makes the flight a failed one.
pub(super) fn bare_result(planet: &Planet, y: &State<f64>, ending: Ending) -> PassResult {
    let gm = planet.gm_m3_s2;
    let (r, v) = (position(y), velocity(y));
    let after = match ending {
        Ending::Captured => next_apsis(planet, r, v).map(|far| far.orbit(gm)),
        Ending::Escaped => Some(Orbit::of_energy(gm, planet.twice_energy(r, v), r.cross(v))),
        Ending::Landed | Ending::OutOfTime | Ending::NoApproach | Ending::Failed => {
            Some(Orbit::from_state(gm, r, v))
        }
    };
    let orbit = after.unwrap_or_else(|| Orbit::from_state(gm, r, v));
    PassResult {
        ending: if after.is_some() {
            ending
        } else {
            Ending::Failed
        },
        end_inertial_speed_m_s: v.norm(),
        orbit,
        apoapsis_altitude_m: orbit
            .apoapsis_radius_m(gm)
            .map(|radius| radius - planet.equatorial_radius_m),
        periapsis_altitude_m: orbit.periapsis_radius_m - planet.equatorial_radius_m,
        end_state: *y,
        ..PassResult::default()
    }
}
