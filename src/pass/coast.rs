//! Flight outside the air: gravity alone, with every zonal harmonic of the world, from one place of an
//! orbit to the next that matters.
//!
//! The node and the periapsis drift here because the equations make them, not by a formula; the mean
//! rates of first order are held against it in the tests.

use super::stepper::{A3, A4, A5, A6, A21, B, E};
use crate::numeric::Vec3;
use crate::world::Planet;
use crate::world::shape::Place;

/// Where a coasting flight is told to stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Until {
    /// The next apoapsis: the radius stops growing.
    Apoapsis,
    /// The entry interface on the way in, or the periapsis when the flight stays above it.
    Air,
    /// The next lowest altitude above the ellipsoid, whatever lies in the way.
    Lowest,
}

/// A flight outside the air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coast {
    /// Position at its end, m.
    pub position: Vec3<f64>,
    /// Inertial velocity at its end, m/s.
    pub velocity: Vec3<f64>,
    /// Time it took, s.
    pub duration_s: f64,
    /// Whether it ends at the entry interface; else at an apsis.
    pub meets_air: bool,
}

/// Error of a step over the equatorial radius and the circular speed there.
const TOLERANCE: f64 = 1e-9;
/// Most steps before a flight counts as lost: some hundred make a round.
const MOST_STEPS: u32 = 20_000;

/// Position and velocity.
type Motion = [f64; 6];

/// Coasts from a position (m) and velocity (m/s); `None` when the flight never comes to its end, as on an
/// open orbit.
// The dispatch that the macro writes needs one unsafe call of a function whose instructions were just detected.
#[allow(unsafe_code)]
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
#[must_use]
pub fn coast(
    planet: &Planet,
    position: Vec3<f64>,
    velocity: Vec3<f64>,
    until: Until,
) -> Option<Coast> {
    let mut y = [
        position.x, position.y, position.z, velocity.x, velocity.y, velocity.z,
    ];
    let mut k = rates(planet, &y);
    let mut time = 0.0;
    let radius = position.norm();
    let mut step = 0.02 * (radius * radius * radius / planet.gm_m3_s2).sqrt();
    for _ in 0..MOST_STEPS {
        let (next, next_k, error) = attempt(planet, (&y, &k), step);
        if !(error < 1e30) {
            step *= 0.2;
            continue;
        }
        if error <= 1.0 {
            if let Some(which) = ended(planet, (&y, &next), until) {
                return Some(close_in(planet, (&y, &k, time), step, which));
            }
            (y, k) = (next, next_k);
            time += step;
        }
        // error^(-3/16) of the squared error: nearly the fifth root, made of square roots.
        let sixteenth = error.max(1e-14).sqrt().sqrt().sqrt().sqrt();
        let growth = (0.9 / (sixteenth * sixteenth.sqrt())).clamp(0.2, 5.0);
        step *= if error <= 1.0 {
            growth
        } else {
            growth.min(1.0)
        };
    }
    None
}

/// The same world with its entry interface out of the way: a flight down comes to its periapsis.
#[must_use]
pub fn without_interface(planet: &Planet) -> Planet {
    Planet {
        interface_m: -planet.equatorial_radius_m,
        ..planet.clone()
    }
}

/// What ended inside a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Event {
    Apsis,
    Interface,
    Lowest,
}

#[inline(always)]
fn rates(planet: &Planet, y: &Motion) -> Motion {
    let a = planet.gravity(&Place::new(Vec3::new(y[0], y[1], y[2])));
    [y[3], y[4], y[5], a.x, a.y, a.z]
}

/// r·v: the radius times its rate.
#[inline(always)]
fn climb(y: &Motion) -> f64 {
    y[0].mul_add(y[3], y[1].mul_add(y[4], y[2] * y[5]))
}

#[inline(always)]
fn altitude(planet: &Planet, y: &Motion) -> f64 {
    planet.altitude_at(Vec3::new(y[0], y[1], y[2]))
}

#[inline(always)]
fn ended(planet: &Planet, (from, to): (&Motion, &Motion), until: Until) -> Option<Event> {
    match until {
        Until::Apoapsis => (climb(from) > 0.0 && climb(to) <= 0.0).then_some(Event::Apsis),
        Until::Air => {
            let above = altitude(planet, from) > planet.interface_m;
            if above && altitude(planet, to) <= planet.interface_m {
                Some(Event::Interface)
            } else {
                (climb(from) < 0.0 && climb(to) >= 0.0).then_some(Event::Apsis)
            }
        }
        Until::Lowest => {
            let rate = |y: &Motion| miss(planet, y, Event::Lowest).0;
            (rate(from) < 0.0 && rate(to) >= 0.0).then_some(Event::Lowest)
        }
    }
}

/// What is zero at the event, and its rate.
#[inline(always)]
fn miss(planet: &Planet, y: &Motion, event: Event) -> (f64, f64) {
    let (r, v) = (Vec3::new(y[0], y[1], y[2]), Vec3::new(y[3], y[4], y[5]));
    let place = Place::new(r);
    match event {
        Event::Apsis => (climb(y), v.dot(v) + r.dot(planet.gravity(&place))),
        Event::Interface => {
            let height = planet.ellipsoid.altitude(&place);
            let rate = planet.ellipsoid.altitude_rate(&place, v, height);
            (height - planet.interface_m, rate)
        }
        Event::Lowest => {
            let height = planet.ellipsoid.altitude(&place);
            let rate = planet.ellipsoid.altitude_rate(&place, v, height);
            // Its own rate as over a sphere: near enough for a step that is kept inside the bracket.
            let bend = v.dot(v) + r.dot(planet.gravity(&place));
            (rate, bend * place.inverse_radius)
        }
    }
}

/// Ends a flight at the event inside the step of length `step` from `y`: the event is bracketed, and each
/// trial is a step of its own from the start, so that the state there is as good as any.
#[inline(always)]
fn close_in(
    planet: &Planet,
    (y, k, time): (&Motion, &Motion, f64),
    step: f64,
    event: Event,
) -> Coast {
    let (mut low, mut high) = (0.0, step);
    let (start, _) = miss(planet, y, event);
    let mut at = 0.5 * step;
    let mut state = *y;
    for _ in 0..60 {
        state = attempt(planet, (y, k), at).0;
        let (value, rate) = miss(planet, &state, event);
        if (value > 0.0) == (start > 0.0) {
            low = at;
        } else {
            high = at;
        }
        let newton = at - value / rate;
        let next = if newton > low && newton < high {
            newton
        } else {
            0.5 * (low + high)
        };
        let moved = (next - at).abs();
        if moved <= 1e-9 * step {
            break;
        }
        at = next;
    }
    Coast {
        position: Vec3::new(state[0], state[1], state[2]),
        velocity: Vec3::new(state[3], state[4], state[5]),
        duration_s: time + at,
        meets_air: event == Event::Interface,
    }
}

/// `y + h Σ weights·stages`.
#[inline(always)]
fn combine<const N: usize>(y: &Motion, h: f64, stages: [&Motion; N], weights: [f64; N]) -> Motion {
    let mut out = *y;
    for c in 0..6 {
        let mut sum = stages[0][c] * weights[0];
        for s in 1..N {
            sum = stages[s][c].mul_add(weights[s], sum);
        }
        out[c] = sum.mul_add(h, y[c]);
    }
    out
}

/// One step of the pair in `stepper`, under gravity alone: the end, its rates, and the squared error over the
/// tolerance.
#[inline(always)]
fn attempt(planet: &Planet, (y, k1): (&Motion, &Motion), h: f64) -> (Motion, Motion, f64) {
    let k2 = rates(planet, &combine(y, h, [k1], [A21]));
    let k3 = rates(planet, &combine(y, h, [k1, &k2], A3));
    let k4 = rates(planet, &combine(y, h, [k1, &k2, &k3], A4));
    let k5 = rates(planet, &combine(y, h, [k1, &k2, &k3, &k4], A5));
    let k6 = rates(planet, &combine(y, h, [k1, &k2, &k3, &k4, &k5], A6));
    let end = combine(y, h, [k1, &k3, &k4, &k5, &k6], B);
    let k7 = rates(planet, &end);
    let zero = [0.0; 6];
    let error = combine(&zero, h, [k1, &k3, &k4, &k5, &k6, &k7], E);
    let length = TOLERANCE * planet.equatorial_radius_m;
    let speed_squared = planet.gm_m3_s2 / planet.equatorial_radius_m * TOLERANCE * TOLERANCE;
    let far = error[0].mul_add(error[0], error[1].mul_add(error[1], error[2] * error[2]));
    let fast = error[3].mul_add(error[3], error[4].mul_add(error[4], error[5] * error[5]));
    (end, k7, (far / (length * length)).max(fast / speed_squared))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::world::World;
    use std::f64::consts::TAU;

    fn mars() -> Planet {
        Planet::new(&World::bundled("mars").expect("bundled"))
    }

    /// State at the apoapsis of an orbit with these apsis radii and angles.
    fn at_apoapsis(
        planet: &Planet,
        (r_p, r_a): (f64, f64),
        (inclination, argument): (f64, f64),
    ) -> (Vec3<f64>, Vec3<f64>) {
        let (si, ci) = inclination.sin_cos();
        let (sw, cw) = argument.sin_cos();
        let toward = Vec3::new(cw, sw * ci, sw * si);
        let along = Vec3::new(-sw, cw * ci, cw * si);
        let speed = (2.0 * planet.gm_m3_s2 * (1.0 / r_a - 1.0 / (r_p + r_a))).sqrt();
        (toward.scale(-r_a), along.scale(-speed))
    }

    /// A round about a point mass: period 2π√(a³/μ), and back where it began (closed form).
    #[test]
    fn a_round_about_a_sphere_takes_a_kepler_period_and_closes() {
        let mut planet = mars();
        planet.zonal = [0.0; 3];
        planet.ellipsoid = crate::world::shape::Ellipsoid::new(
            planet.equatorial_radius_m,
            planet.equatorial_radius_m,
        );
        let (r_p, r_a) = (planet.equatorial_radius_m + 300e3, 3.3e7);
        let (r, v) = at_apoapsis(&planet, (r_p, r_a), (0.8, 0.3));
        let down = coast(&planet, r, v, Until::Air).expect("bound");
        assert!(!down.meets_air && (down.position.norm() - r_p).abs() < 0.05);
        let up = coast(&planet, down.position, down.velocity, Until::Apoapsis).expect("bound");
        let a = 0.5 * (r_p + r_a);
        let period = TAU * (a * a * a / planet.gm_m3_s2).sqrt();
        assert!(((down.duration_s + up.duration_s) / period - 1.0).abs() < 1e-8);
        assert!(
            (up.position - r).norm() < 20.0,
            "{}",
            (up.position - r).norm()
        );
    }

    /// Total energy (with the zonal potential) and the spin-axis part of the angular momentum are kept to
    /// 1e-8 a round.
    #[test]
    fn energy_and_axial_momentum_are_kept_over_a_hundred_rounds() {
        let planet = mars();
        let (r, v) = at_apoapsis(&planet, (3.7e6, 9e6), (1.3, 1.0));
        let energy = |r: Vec3<f64>, v: Vec3<f64>| {
            let (d, s) = (r.norm(), r.z / r.norm());
            let q = planet.zonal_radius_m / d;
            let p2 = 0.5 * (3.0 * s * s - 1.0);
            assert_eq!(planet.zonal[1], 0.0);
            0.5 * v.dot(v) - planet.gm_m3_s2 / d * (1.0 - planet.zonal[0] * q * q * p2)
        };
        let (mut now, mut speed) = (r, v);
        for _ in 0..100 {
            for until in [Until::Air, Until::Apoapsis] {
                let next = coast(&planet, now, speed, until).expect("bound");
                (now, speed) = (next.position, next.velocity);
            }
        }
        let energy_error = energy(now, speed) / energy(r, v) - 1.0;
        let momentum_error = now.cross(speed).z / r.cross(v).z - 1.0;
        assert!(
            energy_error.abs() < 1e-6 && momentum_error.abs() < 1e-6,
            "{energy_error} {momentum_error}"
        );
    }

    /// Secular rates of first order: dΩ/dt = -1.5 n J2 (R/p)² cos i and
    /// dω/dt = 0.75 n J2 (R/p)² (5 cos² i - 1), as in Vallado, Fundamentals of Astrodynamics and
    /// Applications (closed form, from memory). They neglect J2², a thousandth here: 0.5 % is allowed.
    #[test]
    fn node_and_periapsis_drift_at_the_secular_rates_of_first_order() {
        let planet = mars();
        for (inclination, argument) in [(1.63_f64, 1.1_f64), (0.5, 0.2), (1.1, 4.0)] {
            let (r_p, r_a) = (3.8e6, 1.2e7);
            let (r, v) = at_apoapsis(&planet, (r_p, r_a), (inclination, argument));
            let rounds = 60;
            let mut time = 0.0;
            // Angles from the mean of the apoapses, where the short-period part repeats.
            let angles = |r: Vec3<f64>, v: Vec3<f64>| {
                let h = r.cross(v);
                let node = h.x.atan2(-h.y);
                let line = Vec3::new(node.cos(), node.sin(), 0.0);
                let across = h.unit().cross(line);
                (node, (-r.dot(across)).atan2(-r.dot(line)))
            };
            let (node, periapsis) = angles(r, v);
            let (mut now, mut speed) = (r, v);
            for _ in 0..rounds {
                for until in [Until::Air, Until::Apoapsis] {
                    let next = coast(&planet, now, speed, until).expect("bound");
                    (now, speed) = (next.position, next.velocity);
                    time += next.duration_s;
                }
            }
            let (node_after, periapsis_after) = angles(now, speed);
            let turn = |from: f64, to: f64| {
                let d = (to - from).rem_euclid(TAU);
                if d > 0.5 * TAU { d - TAU } else { d }
            };
            let (a, e) = (0.5 * (r_p + r_a), (r_a - r_p) / (r_a + r_p));
            let n = (planet.gm_m3_s2 / (a * a * a)).sqrt();
            let p = a * (1.0 - e * e);
            let rate = n * planet.zonal[0] * (planet.zonal_radius_m / p).powi(2);
            let c = inclination.cos();
            let node_rate = -1.5 * rate * c;
            let periapsis_rate = 0.75 * rate * (5.0 * c * c - 1.0);
            let (got_node, got_periapsis) = (
                turn(node, node_after) / time,
                turn(periapsis, periapsis_after) / time,
            );
            assert!(
                (got_node / node_rate - 1.0).abs() < 5e-3,
                "{got_node} {node_rate}"
            );
            assert!(
                (got_periapsis - periapsis_rate).abs() < 5e-3 * rate,
                "{got_periapsis} {periapsis_rate}"
            );
        }
    }

    #[test]
    fn a_flight_down_stops_at_the_interface_and_an_open_orbit_never_turns() {
        let planet = mars();
        let (r, v) = at_apoapsis(&planet, (3.45e6, 1.2e7), (1.0, 0.4));
        let down = coast(&planet, r, v, Until::Air).expect("bound");
        assert!(down.meets_air);
        assert!((planet.altitude_at(down.position) - planet.interface_m).abs() < 0.01);
        assert!(down.position.dot(down.velocity) < 0.0);
        let out = v.scale(10.0);
        assert!(coast(&planet, r, out, Until::Apoapsis).is_none());
    }
}
