//! What the ship has left at the gate for the approach: energy, and room to turn.

use super::arrivals::{Arrival, Arrivals};
use crate::ensemble::Problem;
use crate::ensemble::problem::Numbers;
use crate::numeric::Vec3;
use crate::pass::dynamics::{Fade, coefficients};
use crate::scenario::landing::GateSpec;
use crate::world::planet::AirSample;

/// What a lifting ship has left at the gate of a nominal flight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Left {
    /// Energy as a height, m.
    pub energy_height_m: f64,
    /// Lift over mass, m/s².
    pub lift_m_s2: f64,
    /// Radius of a turn with the lift to the side, m: v²/(L/m).
    pub turn_radius_m: f64,
    /// Heading turned with the lift to the side while drag halves the speed, rad: (L/D) ln 2.
    pub turn_rad: f64,
}

/// The middle of what the flights that met the gate have of something.
fn median(steered: &Arrivals, of: impl Fn(&Arrival) -> f64) -> Option<f64> {
    let reached = steered.flights.iter().filter(|flight| flight.reached);
    let mut values: Vec<f64> = reached.map(of).collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied()
}

/// What is left at the gate of the middle one of the flights that met it; `None` where nothing steers or none did.
pub(super) fn what_is_left(
    problem: &Problem,
    numbers: &Numbers,
    (steered, gate): (Option<&Arrivals>, Option<&GateSpec>),
) -> Option<Left> {
    let (steered, gate) = (steered?, gate?);
    let energy_height_m = median(steered, |flight| flight.energy_height_m)?;
    let altitude = median(steered, |flight| flight.altitude_m)?;
    let vehicle = problem.vehicle(numbers);
    let planet = problem.planet();
    let r = Vec3::new(planet.equatorial_radius_m + altitude, 0.0, 0.0);
    let air = planet.air(altitude, r, &AirSample::EXACT);
    let pressure = 0.5 * libm::exp(air.ln_density) * gate.speed_m_s * gate.speed_m_s;
    let at = (altitude, air.ln_density);
    let level = (gate.speed_m_s, &Fade::none());
    let found = coefficients(problem.models(), &vehicle, at, level);
    let ratio = found.lift_over_drag * vehicle.lift_up.hypot(vehicle.lift_right);
    let lift_m_s2 = pressure * vehicle.drag_area_per_mass * found.drag * ratio.abs();
    Some(Left {
        energy_height_m,
        lift_m_s2,
        turn_radius_m: gate.speed_m_s * gate.speed_m_s / lift_m_s2,
        turn_rad: ratio.abs() * std::f64::consts::LN_2,
    })
}
