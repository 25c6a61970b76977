//! What comes before an entry, and what the footprint holds: a pass and a burn against integrated coasts, the drift of
//! a waiting orbit, and flights at random against the outline.

use crate::{case_of, changed_example, examples};
use periband::ensemble::Progress;
use periband::ensemble::legs::{TwoLegs, fly_legs};
use periband::numeric::Vec3;
use periband::pass::Ending;
use periband::pass::coast::{Until, coast};
use periband::pass::dynamics::{position, velocity};
use periband::pass::orbit::Orbit;
use periband::study::Case;
use periband::study::landing::find_landing;
use periband::study::landing::footprint::{Fineness, footprints};
use periband::study::landing::ground::below;
use std::f64::consts::PI;

/// A ship with lift that is captured at Mars by a first pass and lands after it; its delivery errors move together.
fn after_a_pass() -> Case {
    let text = "title: A pass, then the entry\nworld: mars\n\
         ship: {mass: 60 t, reference_area: 180 m2, drag_coefficient: 1.3, lift_to_drag: 0.4, bank: 70 deg, \
         nose_radius: 3 m, engine: {specific_impulse: 340 s}}\n\
         arrival: {hyperbola: {excess_speed: 3.4 km/s, inclination: 40 deg, argument_of_periapsis: 35 deg, \
         aim_periapsis: {from: 40 km, to: 60 km, step: 5 km}}}\n\
         landing: {place: {latitude: 12 deg, longitude: 30 deg}, node_longitude: 80 deg, aim_periapsis: 0 km, \
         after_pass: {aim_periapsis: 37 km}, gate: {speed: 700 m/s, within: 30 km}}\n\
         uncertainty: {delivery: {b_plane: {t: 3 km, r: 2 km, correlation: 0.2}}, air: {density: exact}}\n\
         limits: {peak_deceleration: 6 g}\n\
         ask: {samples: 8}\n";
    case_of(text)
}

/// A vector turned about the axis of the body.
fn turned(v: Vec3<f64>, angle: f64) -> Vec3<f64> {
    let (sine, cosine) = angle.sin_cos();
    Vec3::new(v.x * cosine - v.y * sine, v.x * sine + v.y * cosine, v.z)
}

/// The entry after a pass begins where and when the coast ends that is integrated with the zonal harmonics: up from the
/// end of the pass, the burn at the apoapsis, and down to the interface; its conic there has the periapsis aimed for. By
/// the conic at the end of the pass alone half a round up takes as long to some J2 of it (first order), which tells a
/// wrong branch. The errors of the delivery, known to move together, are gone once the orbit is measured.
#[test]
fn an_entry_after_a_pass_begins_where_the_coast_ends() {
    let case = after_a_pass();
    let result = find_landing(&case, &Progress::default()).expect("an answer");
    let earlier = result.earlier.as_ref().expect("a pass before");
    assert_eq!(earlier.result.ending, Ending::Captured);
    let planet = case.problem.planet();
    let end = &earlier.result.end_state;
    let up = coast(planet, position(end), velocity(end), Until::Apoapsis).expect("bound");
    let speed = up.velocity.norm();
    let slowed = up.velocity.scale((speed - earlier.speed_m_s) / speed);
    let down = coast(planet, up.position, slowed, Until::Air).expect("comes down");
    assert!(down.meets_air);
    let later_s = earlier.result.duration_s + up.duration_s + down.duration_s;
    assert!(
        (earlier.later_s - later_s).abs() < 1e-3,
        "{} {later_s}",
        earlier.later_s
    );
    // The node of the pass is the first axis; that of the entry lies by the shift farther over the ground, which turned.
    let node = earlier.node_shift_rad + planet.rotation_rad_s * earlier.later_s;
    let told = turned(result.start.position, node);
    let off = (told - down.position).norm();
    assert!(off < 1.0, "{off} m");
    let off = (turned(result.start.velocity, node) - down.velocity).norm();
    assert!(off < 1e-3, "{off} m/s");
    // The periapsis of the conic there, on the ellipsoid below it (its altitude by the geodetic formula).
    let (r, v) = (down.position, down.velocity);
    let orbit = Orbit::from_state(planet.gm_m3_s2, r, v);
    let toward = (v.cross(r.cross(v)).scale(1.0 / planet.gm_m3_s2) - r.unit()).unit();
    let periapsis = planet.altitude_at(toward.scale(orbit.periapsis_radius_m));
    assert!(periapsis.abs() < 10.0, "{periapsis} m");
    let a = -planet.gm_m3_s2 / earlier.result.orbit.twice_energy;
    let half_round = PI * (a.powi(3) / planet.gm_m3_s2).sqrt();
    assert!(
        (up.duration_s / half_round - 1.0).abs() < 0.05,
        "{} {half_round}",
        up.duration_s
    );
}

/// While a ship waits in an ellipse its periapsis moves: by rounds times 2π · 3/4 J2 (R/p)² (5 cos² i - 1), the rate
/// of first order times the period (every textbook; from memory), with J2 and radius of the world.
#[test]
fn the_periapsis_of_a_waiting_orbit_moves_on() {
    let mut text = std::fs::read_to_string(examples().join("mars-landing.yaml")).expect("is there");
    for (from, to) in [
        ("samples: 1000", "samples: 8"),
        ("apoapsis_altitude: 420 km", "apoapsis_altitude: 2000 km"),
        (
            "argument_of_periapsis: 0 deg",
            "argument_of_periapsis: 20 deg",
        ),
        ("argument_of_periapsis: free", "aim_periapsis: 10 km"),
        ("node_longitude: 115 deg", "node_longitude: 0 deg"),
    ] {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    let case = case_of(&text);
    let result = find_landing(&case, &Progress::default()).expect("an answer");
    let brought = result.brought.as_ref().expect("a ship in orbit");
    assert!(brought.rounds > 0);
    let planet = case.problem.planet();
    let (r_p, r_a) = (
        planet.equatorial_radius_m + 420e3,
        planet.equatorial_radius_m + 2000e3,
    );
    let p = 2.0 * r_p * r_a / (r_p + r_a);
    let cosine = 38.0_f64.to_radians().cos();
    let a_round = 1.5
        * PI
        * planet.zonal[0]
        * (planet.zonal_radius_m / p).powi(2)
        * (5.0 * cosine * cosine - 1.0);
    let moved = result.placing.argument_rad - 20.0_f64.to_radians();
    let expected = f64::from(brought.rounds) * a_round;
    assert!((moved / expected - 1.0).abs() < 1e-9, "{moved} {expected}");
}

/// The digits of a number in a base, mirrored at the point (Halton 1960): places spread evenly over 0 to 1.
fn spread(mut number: u32, base: u32) -> f64 {
    let (mut share, mut sum) = (1.0, 0.0);
    while number > 0 {
        share /= f64::from(base);
        sum += share * f64::from(number % base);
        number /= base;
    }
    sum
}

/// Flights with two banks spread over all pairs, to the same side and to both, with the change at any speed: those
/// that hold the limits come down inside the outline, all but a hundredth by more than its resolution.
#[test]
fn the_footprint_holds_flights_with_two_banks() {
    const FLIGHTS: u32 = 600;
    let case = changed_example("mars-landing.yaml", &[]);
    let mut problem = case.problem.unsteered();
    problem.settings_mut().stop_speed_m_s = 700.0;
    let (aim_m, numbers) = (0.0, *problem.nominal());
    let progress = Progress::default();
    let how = (Fineness::Fine, 0.0);
    let found = footprints(&problem, (&[aim_m], &numbers), how, &progress).expect("not cancelled");
    let footprint = found.into_iter().flatten().next().expect("a footprint");
    let flights: Vec<TwoLegs> = (1..=FLIGHTS)
        .map(|number| TwoLegs {
            aim_m,
            numbers,
            banks_rad: [2, 3].map(|base| PI * (2.0 * spread(number, base) - 1.0)),
            change_at_m_s: 700.0 + 2900.0 * spread(number, 5),
        })
        .collect();
    let flown = fly_legs(&problem, &flights, &progress).expect("not cancelled");
    let depths: Vec<f64> = flown
        .iter()
        .flatten()
        .filter(|result| {
            result.ending == Ending::Landed && problem.limits().broken(result, &numbers) == 0
        })
        .map(|result| {
            let end = below(problem.planet(), &result.end_state, result.duration_s);
            let place = footprint.track.place(end);
            footprint.held.depth(place).expect("a region").0
        })
        .collect();
    assert!(depths.len() > 200, "{}", depths.len());
    let mut outside: Vec<f64> = depths
        .iter()
        .copied()
        .filter(|depth| *depth < -2e3)
        .collect();
    outside.sort_by(f64::total_cmp);
    assert!(
        outside.len() * 100 <= depths.len(),
        "{} of {}: {outside:?}",
        outside.len(),
        depths.len()
    );
}
