//! What comes before the entry: a pass after which the ship comes down, or the burn that brings it down.

use crate::craft::engine::propellant_kg;
use crate::ensemble::legs::{TwoLegs, fly_legs};
use crate::ensemble::{Problem, ProblemError, Progress, Stopped};
use crate::numeric::Vec3;
use crate::numeric::root::bracketed_root;
use crate::pass::coast::{Coast, Until, coast};
use crate::pass::dynamics::{position, velocity};
use crate::pass::orbit::{Orbit, speed_between_apsides};
use crate::pass::{Ending, EntryState, PassResult};
use crate::scenario::Scenario;
use crate::scenario::arrival::{Aim, AimRange, ArrivalEnergy};
use crate::scenario::uncertainty::Number;
use crate::world::{Planet, World};
use std::f64::consts::TAU;

/// The pass before the entry.
#[derive(Debug, Clone)]
pub struct EarlierPass {
    /// The aim of that pass, m.
    pub aim_m: f64,
    /// What it gave.
    pub result: PassResult,
    /// The limits it broke, one bit each.
    pub broken: u32,
    /// Altitude of the apoapsis after it, m.
    pub apoapsis_m: f64,
    /// Speed change there, m/s; positive against the motion.
    pub speed_m_s: f64,
    /// Propellant of that burn, kg, for a ship with an engine.
    pub propellant_kg: Option<f64>,
    /// By how much the node has moved among the stars and over the ground from the start of the pass to the entry, rad.
    pub node_shift_rad: f64,
    /// Time from the start of the pass to the entry, s.
    pub later_s: f64,
}

/// Why nothing can come down after a pass.
#[derive(Debug, thiserror::Error)]
pub enum EarlierError {
    /// It leaves on no closed orbit.
    #[error(
        "after the pass at {aim_km:.2} km the ship is on no orbit from which it could come down ({word}): \
         aim `landing.after_pass` where it is captured"
    )]
    NoOrbit {
        /// The aim, km.
        aim_km: f64,
        /// How the pass ended.
        word: &'static str,
    },
    /// The entry after it cannot be made ready.
    #[error("the entry after the pass: {0}")]
    Problem(#[from] ProblemError),
    /// The run was cancelled.
    #[error(transparent)]
    Stopped(#[from] Stopped),
}

/// The entry after a pass and a burn at the apoapsis: the scenario's errors are those of the entry, known anew
/// after the orbit was measured; the energy of the arrival is no longer uncertain.
///
/// # Errors
/// [`EarlierError`].
pub fn after_pass(
    (scenario, world, problem): (&Scenario, &World, &Problem),
    (pass_m, aim_m): (f64, f64),
    progress: &Progress,
) -> Result<(Problem, EarlierPass), EarlierError> {
    let planet = problem.planet();
    let bank = problem.nominal()[Number::BankAngle as usize];
    let flight = TwoLegs::held(pass_m, *problem.nominal(), bank);
    let none = |word| EarlierError::NoOrbit {
        aim_km: pass_m / 1e3,
        word,
    };
    let result = fly_legs(problem, &[flight], progress)?
        .pop()
        .flatten()
        .ok_or_else(|| none("no approach fits"))?;
    if result.ending != Ending::Captured {
        return Err(none(result.ending.word()));
    }
    let exit = EntryState {
        position: position(&result.end_state),
        velocity: velocity(&result.end_state),
        meets_air: true,
    };
    let radius = planet.equatorial_radius_m;
    let way = way_down(planet, &exit, aim_m).ok_or_else(|| none("no entry fits"))?;
    let plane = plane(planet.gm_m3_s2, &way.entry);
    let mut after = scenario.clone();
    after.arrival.energy = ArrivalEnergy::ApoapsisAltitude(way.apoapsis_radius_m - radius);
    after.arrival.inclination_rad = plane.inclination_rad;
    after.arrival.argument_of_periapsis_rad = plane.argument_rad;
    after.arrival.aim = Aim::Periapsis(AimRange {
        from_m: aim_m,
        to_m: aim_m,
        step_m: 1.0,
    });
    let known = |number| {
        matches!(
            number,
            Number::ArrivalEnergy | Number::DeliveryBT | Number::DeliveryBR
        )
    };
    let uncertainty = &mut after.uncertainty;
    uncertainty
        .numbers
        .retain(|uncertain| !known(uncertain.number));
    uncertainty
        .correlations
        .retain(|pair| !known(pair.between.0) && !known(pair.between.1));
    let next = Problem::new(&after, world)?.flown_as(problem);
    let later_s = result.duration_s + way.rise_s + way.fall_s;
    let earlier = EarlierPass {
        aim_m: pass_m,
        broken: problem.limits().broken(&result, problem.nominal()),
        apoapsis_m: way.apoapsis_radius_m - radius,
        result,
        speed_m_s: way.speed_m_s,
        propellant_kg: propellant_of(scenario, way.speed_m_s),
        node_shift_rad: plane.node_rad - planet.rotation_rad_s * later_s,
        later_s,
    };
    Ok((next, earlier))
}

/// Altitude of the periapsis of a coast's conic above the surface in its direction, m.
fn periapsis_altitude_m(planet: &Planet, coast: &Coast) -> f64 {
    let (gm, r, v) = (planet.gm_m3_s2, coast.position, coast.velocity);
    let toward = (v.cross(r.cross(v)).scale(1.0 / gm) - r.unit()).unit();
    let surface = planet.ellipsoid.surface_radius(toward.z * toward.z);
    Orbit::from_state(gm, r, v).periapsis_radius_m - surface
}

/// The way from the end of a pass to the next entry.
struct WayDown {
    rise_s: f64,
    /// Radius of the apoapsis where the burn is done, m.
    apoapsis_radius_m: f64,
    /// Speed change there, m/s; positive against the motion.
    speed_m_s: f64,
    fall_s: f64,
    entry: EntryState,
}

/// Coasts to the apoapsis, and from a burn there to the interface, integrated with the zonal harmonics: the burn
/// that makes the periapsis of the conic at the interface the one aimed for, m above the ellipsoid.
fn way_down(planet: &Planet, exit: &EntryState, aim_m: f64) -> Option<WayDown> {
    let gm = planet.gm_m3_s2;
    let up = coast(planet, exit.position, exit.velocity, Until::Apoapsis)?;
    let (r, speed) = (up.position.norm(), up.velocity.norm());
    let fall = |burn_m_s: f64| {
        let velocity = up.velocity.scale(1.0 - burn_m_s / speed);
        coast(planet, up.position, velocity, Until::Air)
    };
    let miss = |burn_m_s: f64| {
        fall(burn_m_s).map_or(f64::NAN, |down| periapsis_altitude_m(planet, &down) - aim_m)
    };
    let periapsis_m = planet.equatorial_radius_m + aim_m;
    let by_conic = speed - speed_between_apsides(gm, r, periapsis_m, r);
    // Harmonics and flattening move the periapsis by some thousandths of the radius: by a small share of this.
    let most = 0.05 * speed;
    let speed_m_s = bracketed_root(miss, by_conic - most, by_conic + most, 1e-6)?;
    let down = fall(speed_m_s).filter(|down| down.meets_air)?;
    Some(WayDown {
        rise_s: up.duration_s,
        apoapsis_radius_m: r,
        speed_m_s,
        fall_s: down.duration_s,
        entry: EntryState {
            position: down.position,
            velocity: down.velocity,
            meets_air: true,
        },
    })
}

/// Mass (kg) and specific impulse (s) of the ship.
#[must_use]
pub fn ship_of(scenario: &Scenario) -> (f64, Option<f64>) {
    let ship = &scenario.ship;
    (
        ship.mass_kg,
        ship.engine.map(|engine| engine.specific_impulse_s),
    )
}

/// Propellant of a burn, kg, for a ship with an engine.
#[must_use]
pub fn propellant_of(scenario: &Scenario, speed_m_s: f64) -> Option<f64> {
    let (mass_kg, impulse) = ship_of(scenario);
    impulse.map(|impulse| propellant_kg(mass_kg, speed_m_s.abs(), impulse))
}

#[allow(clippy::struct_field_names)]
struct Plane {
    inclination_rad: f64,
    argument_rad: f64,
    node_rad: f64,
}

/// How the orbit of a state lies in space.
fn plane(gm: f64, state: &EntryState) -> Plane {
    let (r, v) = (state.position, state.velocity);
    let h = r.cross(v);
    let e = v.cross(h).scale(1.0 / gm) - r.unit();
    let across = h.x.hypot(h.y);
    // In the plane of the equator the node is where longitudes are counted from.
    let node = if across > 1e-9 * h.norm() {
        Vec3::new(-h.y / across, h.x / across, 0.0)
    } else {
        Vec3::new(1.0, 0.0, 0.0)
    };
    let beside = h.unit().cross(node);
    Plane {
        inclination_rad: libm::atan2(across, h.z),
        argument_rad: libm::atan2(e.dot(beside), e.dot(node)).rem_euclid(TAU),
        node_rad: libm::atan2(node.y, node.x),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A state at its periapsis, set up by turning it from the equator by its elements (by hand).
    #[test]
    fn the_plane_of_a_state_is_found_again() {
        let (i, w, node) = (0.7_f64, 1.1_f64, -0.4_f64);
        let turn = |x: f64, y: f64| {
            let (a, b) = (x * w.cos() - y * w.sin(), x * w.sin() + y * w.cos());
            let (c, z) = (b * i.cos(), b * i.sin());
            Vec3::new(
                a * node.cos() - c * node.sin(),
                a * node.sin() + c * node.cos(),
                z,
            )
        };
        let state = EntryState {
            position: turn(7e6, 0.0),
            velocity: turn(0.0, 9e3),
            meets_air: true,
        };
        let plane = plane(3.986e14, &state);
        assert!((plane.inclination_rad - i).abs() < 1e-12);
        assert!((plane.argument_rad - w).abs() < 1e-12);
        assert!((plane.node_rad - node).abs() < 1e-12);
    }
}
