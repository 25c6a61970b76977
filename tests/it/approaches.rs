//! Where a flight begins and the orbit it leaves: over every bundled world, all inclinations and arguments of
//! periapsis, steep and shallow.

use crate::case_of;
use periband::ensemble::ProblemError;
use periband::ensemble::problem::{Numbers, Problem, SampleNumber};
use periband::numeric::Vec3;
use periband::pass::after::next_apsis;
use periband::pass::coast::{Until, coast};
use periband::pass::dynamics::{position, velocity};
use periband::pass::elements::Elements;
use periband::pass::orbit::Orbit;
use periband::pass::{Ending, EntryState};
use periband::scenario::Scenario;
use periband::scenario::uncertainty::Number;
use periband::world::shape::Place;
use periband::world::{Planet, World, bundled_names};

const SHIP: &str = "ship: {mass: 2 t, reference_area: 8 m2, drag_coefficient: 1.5, nose_radius: 1 m, heating: {radiative: no}}\n";

/// Numbers in [0, 1), spread evenly and the same in every run.
struct Spread(f64);

impl Spread {
    fn next(&mut self) -> f64 {
        self.0 = (self.0 + 0.618_033_988_749_894_9).fract();
        self.0
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.next().mul_add(high - low, low)
    }
}

fn world(name: &str) -> Planet {
    Planet::new(&World::bundled(name).expect("bundled"))
}

/// Speed of escape at the equator, m/s.
fn escape(planet: &Planet) -> f64 {
    2.0_f64.sqrt() * planet.circular_speed_m_s()
}

/// An aim low enough for any inclination and argument; the tests set their own.
fn problem(world: &str, arrival: &str) -> Problem {
    case_of(&format!(
        "title: x\nworld: {world}\n{SHIP}arrival: {{{arrival}}}\n"
    ))
    .problem
}

fn placed(problem: &Problem, inclination_deg: f64, argument_deg: f64) -> Numbers {
    let mut numbers = *problem.nominal();
    numbers[Number::Inclination as usize] = inclination_deg.to_radians();
    numbers[Number::ArgumentOfPeriapsis as usize] = argument_deg.to_radians();
    numbers
}

fn start(problem: &Problem, aim_m: f64, numbers: &Numbers) -> Option<EntryState> {
    problem
        .launch(aim_m, numbers, SampleNumber::Nominal)
        .map(|(start, _)| start)
}

/// Distance of the ellipsoid below the periapsis of these numbers, m.
fn surface(planet: &Planet, numbers: &Numbers) -> f64 {
    let of = |number: Number| numbers[number as usize].sin();
    let sine = of(Number::Inclination) * of(Number::ArgumentOfPeriapsis);
    planet.ellipsoid.surface_radius(sine * sine)
}

/// Holds what every start promises: it is the first crossing of the interface on the way in along the conic that
/// osculates there, or the lowest place of one that stays above; and the conic is the one aimed for.
fn holds_its_promise(planet: &Planet, found: &EntryState, numbers: &Numbers, aim_m: f64) {
    let (r, v) = (found.position, found.velocity);
    let told = format!("aim {aim_m}: {found:?}");
    let elements = Elements::from_state(planet.gm_m3_s2, r, v).expect("a conic");
    let altitude = planet.altitude_at(r);
    let rate = planet.ellipsoid.altitude_rate(&Place::new(r), v, altitude);
    // Of a conic through the centre all but the numbers of its place is lost.
    let steep = elements.periapsis_radius_m < 1.0;
    let r_p = surface(planet, numbers) + aim_m;
    let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * b.abs() + 1e-4;
    assert!(
        steep || near(elements.periapsis_radius_m, r_p),
        "{told} {elements:?} {r_p}"
    );
    let inclination = numbers[Number::Inclination as usize];
    assert!(
        (elements.inclination_rad - inclination).abs() < 1e-7,
        "{told} {elements:?}"
    );
    let e = elements.eccentricity(planet.gm_m3_s2);
    let argument = numbers[Number::ArgumentOfPeriapsis as usize];
    if e > 1e-3 && inclination.sin() > 1e-6 && !steep {
        let off = (elements.argument_rad - argument).sin().abs();
        assert!(off < 1e-6, "{told} {elements:?}");
    }
    if !found.meets_air {
        assert!(altitude > planet.interface_m - 1e-3, "{told}");
        // The lowest place is level over the ellipsoid; its rate is known to first order in the height.
        assert!(rate.abs() < 2e-3 * v.norm(), "{told} {rate}");
        return;
    }
    assert!(
        (altitude - planet.interface_m).abs() < 1e-3,
        "{told}: {altitude}"
    );
    assert!(rate < 1e-3 * v.norm(), "{told} {rate}");
    // From far outside to here no other place of the conic lies in the air.
    let from = if e < 1.0 {
        -std::f64::consts::PI
    } else {
        -(-1.0 / e).acos() + 1e-6
    };
    let mut to = elements.true_anomaly_rad;
    if to < from {
        to += std::f64::consts::TAU;
    }
    for look in 1..400 {
        let there = Elements {
            true_anomaly_rad: f64::from(look).mul_add((to - from) / 400.0, from),
            ..elements
        };
        let (place, _) = there.state(planet.gm_m3_s2);
        let altitude = planet.altitude_at(place);
        assert!(
            altitude > planet.interface_m - 1e-3,
            "{told} is not the first: {altitude}"
        );
    }
}

/// Excess speed of a start, carried back for so long that the field has no more say: by Runge and Kutta's fourth order
/// under the gravity that is flown, in steps of a 250th of the time that the distance takes.
fn carried_back(planet: &Planet, found: &EntryState) -> f64 {
    let gravity = |r: Vec3<f64>| planet.gravity(&Place::new(r));
    let (mut r, mut v) = (found.position, found.velocity.scale(-1.0));
    while r.norm() < 3000.0 * planet.equatorial_radius_m {
        let h = 0.004 * r.norm() / v.norm();
        let (r1, v1) = (v, gravity(r));
        let (r2, v2) = (v1.scale_add(0.5 * h, v), gravity(r1.scale_add(0.5 * h, r)));
        let (r3, v3) = (v2.scale_add(0.5 * h, v), gravity(r2.scale_add(0.5 * h, r)));
        let (r4, v4) = (v3.scale_add(h, v), gravity(r3.scale_add(h, r)));
        r = (r1 + (r2 + r3).scale(2.0) + r4).scale_add(h / 6.0, r);
        v = (v1 + (v2 + v3).scale(2.0) + v4).scale_add(h / 6.0, v);
    }
    (v.dot(v) - 2.0 * planet.gm_m3_s2 / r.norm()).sqrt()
}

#[test]
fn every_start_is_on_the_interface_with_the_elements_and_the_energy_asked_for() {
    for name in bundled_names() {
        let planet = world(name);
        let (v_esc, radius) = (escape(&planet), planet.equatorial_radius_m);
        let hyperbola = problem(
            name,
            "hyperbola: {excess_speed: 1 km/s, inclination: 0 deg, aim_periapsis: 0 km}",
        );
        let speed = v_esc * 1.1;
        let entry = problem(
            name,
            &format!("entry: {{speed: {speed} m/s, inclination: 0 deg, aim_periapsis: 0 km}}"),
        );
        let far = 5.0 * radius;
        let orbit = problem(
            name,
            &format!(
                "orbit: {{apoapsis_altitude: {far} m, inclination: 0 deg, aim_periapsis: 0 km}}"
            ),
        );
        let mut spread = Spread(0.3);
        let (mut met, mut missed) = (0, 0);
        for step in 0..260 {
            let inclination = 180.0 * f64::from(step % 13) / 12.0;
            let argument = spread.between(0.0, 360.0);
            // Most aims as they are flown; some at the centre, some about and above the interface.
            let share = match step % 5 {
                0 => spread.between(1e-7, 0.9) - 1.0,
                1 => planet.interface_m / radius * spread.between(0.8, 1.5),
                _ => planet.interface_m / radius * spread.between(-1.0, 1.0),
            };
            let numbers = placed(&hyperbola, inclination, argument);
            let aim_m = share * surface(&planet, &numbers);
            let mut flown = numbers;
            let v_inf = v_esc * spread.between(0.0, 1.5);
            flown[Number::ArrivalEnergy as usize] = v_inf;
            let found = start(&hyperbola, aim_m, &flown).expect("a hyperbola");
            holds_its_promise(&planet, &found, &flown, aim_m);
            let energy = planet.twice_energy(found.position, found.velocity);
            assert!(
                (energy.max(0.0).sqrt() - v_inf).abs() < 1e-3 || v_inf < 1.0,
                "{name} {v_inf} {energy}"
            );
            if step % 40 == 0 && v_inf > 0.05 * v_esc {
                let back = carried_back(&planet, &found);
                assert!(
                    (back - v_inf).abs() < 1e-3,
                    "{name}: {back} for {v_inf} m/s"
                );
            }
            *if found.meets_air {
                &mut met
            } else {
                &mut missed
            } += 1;

            let mut flown = numbers;
            let speed = v_esc * spread.between(0.75, 1.6);
            flown[Number::ArrivalEnergy as usize] = speed;
            if let Some(found) = start(&entry, aim_m, &flown) {
                holds_its_promise(&planet, &found, &flown, aim_m);
                assert!((found.inertial_speed_m_s() - speed).abs() < 1e-6 * speed.max(1.0));
            }

            let mut flown = numbers;
            let apoapsis = planet.interface_m + radius * (spread.next() * 12.0 - 5.0).exp();
            flown[Number::ArrivalEnergy as usize] = apoapsis;
            if let Some(found) = start(&orbit, aim_m, &flown) {
                holds_its_promise(&planet, &found, &flown, aim_m);
                let back = coast(
                    &planet,
                    found.position,
                    found.velocity.scale(-1.0),
                    Until::Apoapsis,
                );
                let back = back.expect("a closed orbit").position.norm() - radius;
                // A step of the motion step by step errs by 1e-9 of the radius; far out that is more by the ratio of
                // the radii, and by 1/e where the orbit is nearly round.
                let elements =
                    Elements::from_state(planet.gm_m3_s2, found.position, found.velocity);
                let e = elements.expect("a conic").eccentricity(planet.gm_m3_s2);
                let ratio = (apoapsis + radius) / radius;
                let within = 1e-6 * apoapsis + 3e-9 * radius * (ratio * ratio + 1.0 / e);
                assert!(
                    (back - apoapsis).abs() < within,
                    "{name} {apoapsis}: {back} at {aim_m}, {e}"
                );
            }
        }
        assert!(met > 150 && missed > 10, "{name}: {met} {missed}");
    }
}

/// The aims that meet the air and the angles they come at, m and rad, by a scan of the product's own starts.
fn scan(problem: &Problem, numbers: &Numbers) -> Vec<Option<f64>> {
    let planet = problem.planet();
    let surface = surface(planet, numbers);
    let most = planet.equatorial_radius_m + planet.interface_m;
    (0..2500)
        .map(|look| {
            let share = (f64::from(look) + 0.5) / 2500.0;
            let found = start(problem, share * share * most - surface, numbers)?;
            found
                .meets_air
                .then(|| found.inertial_flight_path_angle_rad())
        })
        .collect()
}

#[test]
fn every_angle_is_flown_as_asked_or_refused_with_the_range_that_exists() {
    for name in bundled_names() {
        let planet = world(name);
        let v_esc = escape(&planet);
        let fast = format!(
            "entry: {{speed: {} m/s, inclination: 0 deg, aim_periapsis: 0 km}}",
            1.1 * v_esc
        );
        let by_aim = problem(name, &fast);
        let mut spread = Spread(0.7);
        let (mut flown, mut refused) = (0, 0);
        for step in 0..78 {
            let inclination = 180.0 * f64::from(step % 13) / 12.0;
            let argument = spread.between(0.0, 360.0);
            let speed = v_esc * spread.between(0.72, 1.7);
            let degrees = match step % 4 {
                0 => -90.0,
                1 => -spread.between(0.01, 3.0),
                2 => -spread.between(1.0, 30.0),
                _ => -spread.between(30.0, 89.99),
            };
            let text = format!(
                "title: x\nworld: {name}\n{SHIP}arrival: {{entry: {{speed: {speed} m/s, inclination: {inclination} deg, \
                 argument_of_periapsis: {argument} deg, flight_path_angle: {degrees} deg}}}}\n"
            );
            let scenario = Scenario::from_text("x.yaml", &text).expect("a scenario");
            let mut numbers = placed(&by_aim, inclination, argument);
            numbers[Number::ArrivalEnergy as usize] = speed;
            let case = format!("{name} {inclination} {argument} {speed} {degrees}");
            match Problem::new(&scenario, &World::bundled(name).expect("bundled")) {
                Ok(problem) => {
                    let aim_m = problem.aim().from_m;
                    let found = start(&problem, aim_m, problem.nominal()).expect("a start");
                    assert!(found.meets_air, "{case}");
                    let angle = found.inertial_flight_path_angle_rad();
                    assert!(
                        (angle - degrees.to_radians()).abs() <= 1e-9,
                        "{case}: {angle}"
                    );
                    holds_its_promise(&planet, &found, problem.nominal(), aim_m);
                    flown += 1;
                }
                Err(ProblemError::NoAngle {
                    range_deg, gap_deg, ..
                }) => {
                    let seen = scan(&by_aim, &numbers);
                    let angles: Vec<f64> = seen.iter().flatten().map(|a| a.to_degrees()).collect();
                    let Some([steepest, shallowest]) = range_deg else {
                        assert!(angles.is_empty(), "{case}: {angles:?}");
                        continue;
                    };
                    let low = angles.iter().copied().fold(f64::INFINITY, f64::min);
                    let high = angles.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                    // The scan looks less close to the centre and to a grazing path: its steps of a thousandth of the
                    // radius there are some degrees, √(2/1000) rad.
                    assert!(
                        steepest <= low && low - steepest < 0.5,
                        "{case}: {steepest} {low}"
                    );
                    assert!(
                        shallowest >= high && shallowest - high < 2.6,
                        "{case}: {shallowest} {high}"
                    );
                    match gap_deg {
                        None => assert!(!(steepest..=shallowest).contains(&degrees), "{case}"),
                        Some([below, above]) => {
                            assert!(
                                below < degrees && degrees < above,
                                "{case}: {below} {above}"
                            );
                            let inside = angles.iter().find(|a| **a > below && **a < above);
                            assert!(inside.is_none(), "{case}: {inside:?} in {below} {above}");
                        }
                    }
                    refused += 1;
                }
                Err(other) => panic!("{case}: {other}"),
            }
        }
        assert!(
            flown > 25 && refused > 10,
            "{name}: {flown} flown, {refused} refused"
        );
    }
}

/// Holds an apoapsis altitude and the conic there against the motion step by step. Of far apoapsides the steps lose
/// energy (1e-9 a step); that of the state at the exit is kept.
fn is_the_next_apoapsis(
    planet: &Planet,
    (r, v): (Vec3<f64>, Vec3<f64>),
    (told_m, orbit): (f64, &Orbit),
) {
    let up = coast(planet, r, v, Until::Apoapsis).expect("an apoapsis");
    let (far, radius) = (up.position.norm(), planet.equatorial_radius_m);
    let within = 1e-6 + 3e-9 * far / radius;
    let off = told_m / (far - radius) - 1.0;
    assert!(
        off.abs() < within,
        "{off}: {told_m} by steps {} of {r:?} {v:?}",
        far - radius
    );
    // The conic told is the one that osculates there.
    let there = Orbit::from_state(planet.gm_m3_s2, up.position, up.velocity);
    let off = there.periapsis_radius_m / orbit.periapsis_radius_m - 1.0;
    assert!(off.abs() < 1e-6, "{off} of {r:?} {v:?}");
    assert!(
        (there.inclination_rad - orbit.inclination_rad).abs() < 1e-6,
        "{r:?} {v:?}"
    );
}

/// States that leave the interface about every world, from nearly circular to nearly open orbits.
#[test]
fn the_next_apoapsis_is_that_of_the_motion_under_the_zonal_field() {
    for name in bundled_names() {
        let planet = world(name);
        let mut spread = Spread(0.5);
        let circular = planet.circular_speed_m_s();
        let mut compared = 0;
        for _ in 0..400 {
            let (latitude, longitude) = (
                spread.between(-1.5, 1.5),
                spread.between(0.0, std::f64::consts::TAU),
            );
            let out = Vec3::new(
                latitude.cos() * longitude.cos(),
                latitude.cos() * longitude.sin(),
                latitude.sin(),
            );
            let east = Vec3::new(-longitude.sin(), longitude.cos(), 0.0);
            let north = out.cross(east);
            let (heading, climb) = (
                spread.between(0.0, std::f64::consts::TAU),
                spread.between(0.0, 0.3),
            );
            let level = east.scale(heading.cos()) + north.scale(heading.sin());
            // Of the circular speed there: the square from 1.02 to 2, more of them near either end.
            let share = 0.5 - 0.5 * (std::f64::consts::PI * spread.next()).cos();
            let speed = circular * (1.02 + 0.98 * share).sqrt();
            let r = out.scale(
                planet
                    .ellipsoid
                    .radius_and_slope(planet.interface_m, latitude.sin().powi(2))
                    .0,
            );
            let v = level.scale(speed * climb.cos()) + out.scale(speed * climb.sin());
            if planet.twice_energy(r, v) < -1e-4 * circular * circular {
                let far = next_apsis(&planet, r, v).expect("an apoapsis");
                let orbit = far.orbit(planet.gm_m3_s2);
                let told = far.radius_m - planet.equatorial_radius_m;
                is_the_next_apoapsis(&planet, (r, v), (told, &orbit));
                compared += 1;
            }
        }
        assert!(compared > 150, "{name}: {compared}");
    }
}

/// The same of flown passes, as their result tells it.
#[test]
fn the_apoapsis_told_is_that_of_the_motion_under_the_zonal_field() {
    for name in bundled_names() {
        let planet = world(name);
        let v_esc = escape(&planet);
        let hyperbola = problem(
            name,
            "hyperbola: {excess_speed: 1 km/s, inclination: 0 deg, aim_periapsis: 0 km}",
        );
        let mut spread = Spread(0.1);
        let mut launches = Vec::new();
        for number in 0..100 {
            let (inclination, argument) = (spread.between(0.0, 180.0), spread.between(0.0, 360.0));
            let mut numbers = placed(&hyperbola, inclination, argument);
            numbers[Number::ArrivalEnergy as usize] = v_esc * spread.between(0.0, 0.6);
            let aim_m = planet.interface_m * spread.between(0.1, 0.9);
            let found = hyperbola.launch(aim_m, &numbers, SampleNumber::Nominal);
            let (start, sample) = found.expect("an approach");
            launches.push(((number, start, sample), numbers));
        }
        let mut compared = 0;
        hyperbola.fly_in_lanes(launches.into_iter(), |number, result| {
            assert!(
                result.ending != Ending::Failed,
                "{name} {number}: {result:?}"
            );
            if result.ending != Ending::Captured {
                assert!(result.ending != Ending::Escaped || result.orbit.twice_energy >= 0.0);
                return;
            }
            let y = &result.end_state;
            let told = result.apoapsis_altitude_m.expect("closed");
            is_the_next_apoapsis(&planet, (position(y), velocity(y)), (told, &result.orbit));
            compared += 1;
        });
        assert!(compared > 5, "{name}: {compared}");
    }
}

/// The start of the nominal flight of a scenario text.
fn nominal_start(text: &str) -> (Problem, EntryState) {
    let problem = case_of(text).problem;
    let found = start(&problem, problem.aim().from_m, problem.nominal()).expect("a start");
    (problem, found)
}

#[test]
fn probe_angle_yaml_flies_its_angle_on_every_world() {
    for (world, speed) in [
        ("saturn", 36.0),
        ("mars", 6.0),
        ("jupiter", 60.0),
        ("uranus", 22.0),
        ("neptune", 24.0),
        ("earth", 11.5),
    ] {
        for argument in [0, 7, 24, 30, 33, 36, 48, 90, 135, 270, 330] {
            let text = format!(
                "title: probe of the bracket\nworld: {world}\nship: {{mass: 100 kg, reference_area: 1 m2, drag_coefficient: 1.5, \
                 nose_radius: 0.5 m, heating: {{radiative: no}}}}\narrival:\n  entry: {{speed: {speed} km/s, inclination: 90 deg, \
                 argument_of_periapsis: {argument} deg, flight_path_angle: -8 deg}}\nuncertainty: {{air: exact}}\n\
                 limits: {{comes_down: yes}}\n"
            );
            let (problem, found) = nominal_start(&text);
            let angle = found.inertial_flight_path_angle_rad().to_degrees();
            assert!((angle + 8.0).abs() < 1e-7, "{world} {argument}: {angle}");
            holds_its_promise(
                problem.planet(),
                &found,
                problem.nominal(),
                problem.aim().from_m,
            );
        }
    }
}

#[test]
fn jupiter_angle_yaml_meets_the_interface() {
    let text = "title: jfpa\nworld: jupiter\nship: {mass: 40 t, reference_area: 160 m2, drag_coefficient: 1.4, nose_radius: 4 m, \
        heating: {radiative: no}}\narrival: {entry: {speed: 60 km/s, inclination: 63 deg, argument_of_periapsis: 120 deg, \
        flight_path_angle: -2 deg}}\nlimits: {peak_deceleration: 1000 g}\n";
    let (problem, found) = nominal_start(text);
    assert!((found.inertial_flight_path_angle_rad().to_degrees() + 2.0).abs() < 1e-7);
    // Aims of 0 and 200 km come at -2.77 and -1.74 deg: the answer lies between.
    let aim = problem.aim().from_m;
    assert!((0.0..200e3).contains(&aim), "{aim}");
}

#[test]
fn steep_arguments_yaml_is_taken_at_every_argument() {
    for argument in (0..360).step_by(15) {
        let text = format!(
            "title: Ballistic sample return\nworld: earth\nship: {{mass: 46 kg, reference_area: 0.5189 m2, drag_coefficient: 1.5, \
             nose_radius: 0.2286 m}}\narrival:\n  entry: {{speed: 12.9 km/s, inclination: 41.5 deg, argument_of_periapsis: \
             {argument} deg, flight_path_angle: -8.2 deg}}\nlimits: {{peak_deceleration: 40 g, comes_down: yes}}\n"
        );
        let (_, found) = nominal_start(&text);
        let angle = found.inertial_flight_path_angle_rad().to_degrees();
        assert!((angle + 8.2).abs() < 1e-7, "{argument}: {angle}");
    }
}

/// An angle that nothing comes at is refused with the range, at the arrival.
#[test]
fn an_angle_that_cannot_be_had_is_refused_with_those_that_can() {
    let text = format!(
        "title: x\nworld: saturn\n{SHIP}arrival: {{entry: {{speed: 36 km/s, inclination: 50 deg, argument_of_periapsis: 40 deg, \
         flight_path_angle: -0.01 deg}}}}\n"
    );
    let scenario = Scenario::from_text("x.yaml", &text).expect("a scenario");
    let said = periband::study::Case::from_scenario(scenario)
        .expect_err("refused")
        .to_string();
    assert!(
        said.contains("at -0.0100 deg: -89.99") && said.contains("can be had"),
        "{said}"
    );
    assert!(said.contains("key:  arrival"), "{said}");
}

/// Jupiter at 41 deg and an argument of 135 deg once began 190 km above the interface.
#[test]
fn jupiter_at_41_deg_starts_on_its_interface() {
    let text = format!(
        "title: x\nworld: jupiter\n{SHIP}arrival: {{hyperbola: {{excess_speed: 6 km/s, inclination: 41 deg, \
         argument_of_periapsis: 135 deg, aim_periapsis: 200 km}}}}\n"
    );
    let (problem, found) = nominal_start(&text);
    let altitude = problem.planet().altitude_at(found.position);
    assert!(
        found.meets_air && (altitude - 450e3).abs() < 1e-3,
        "{altitude}"
    );
}

/// On an inclined giant the lowest place of the path is not the periapsis: an aim above the interface is flown where
/// the path dips below it, how low it comes is told, and one that stays above is refused with the altitude.
#[test]
fn an_aim_above_the_interface_is_flown_where_the_path_dips_into_the_air() {
    let text = |aim: &str| {
        format!(
            "title: x\nworld: saturn\n{SHIP}arrival: {{hyperbola: {{excess_speed: 6 km/s, inclination: 60 deg, \
             argument_of_periapsis: 45 deg, aim_periapsis: {aim}}}}}\nuncertainty: {{air: exact}}\n"
        )
    };
    let case = case_of(&text("500 km"));
    let (problem, interface) = (&case.problem, case.problem.planet().interface_m);
    let highest = problem.highest_aim_m();
    assert!(highest > interface + 10e3, "{highest}");
    let dips = case_of(&text(&format!("{} m", highest - 5e3)));
    let aim = dips.problem.aim().from_m;
    let single = periband::study::single::fly_single(
        &dips.problem,
        &dips.scenario.ship,
        (aim, SampleNumber::Nominal),
        None,
    )
    .expect("meets the air");
    let low = single.vacuum_low_m.expect("above the ground");
    // With hardly any air that high the flight comes down as the vacuum path does.
    let flown = single.flown.result.lowest_altitude_m;
    assert!(
        low < interface && (flown - low).abs() < 50.0,
        "{low} {flown}"
    );
    let said = periband::report::pass_text::answer(&dips, &single);
    assert!(said.contains("(lowest without air "), "{said}");
    assert!(periband::report::remarks::vacuum_remark(&dips).is_some());
    let above =
        Scenario::from_text("x.yaml", &text(&format!("{} m", highest + 5e3))).expect("a scenario");
    let said = periband::study::Case::from_scenario(above)
        .expect_err("stays above")
        .to_string();
    assert!(
        said.contains("never meets the air") && said.contains("comes down to 100"),
        "{said}"
    );
}

/// A captured ship whose next periapsis lies below the ground stays captured and is told so, with the burn that mends
/// it and the time until then; the burn is flown here.
#[test]
fn a_captured_orbit_that_leads_into_the_ground_says_so_with_the_burn_that_mends_it() {
    let case = case_of(
        "title: deep pass\nworld: mars\nship: {mass: 30 t, reference_area: 150 m2, drag_coefficient: 1.4, nose_radius: 4 m, \
         lift_to_drag: 0.5, engine: {specific_impulse: 360 s}}\narrival: {hyperbola: {excess_speed: 4.5 km/s, \
         inclination: 60 deg, argument_of_periapsis: 20 deg, aim_periapsis: 0 km}}\nlimits: {peak_deceleration: 100 g}\n\
         uncertainty: {air: exact}\n",
    );
    let fly = |aim: f64| {
        let nominal = (aim, SampleNumber::Nominal);
        periband::study::single::fly_single(&case.problem, &case.scenario.ship, nominal, None)
            .expect("flown")
    };
    let planet = case.problem.planet();
    for aim in [-60e3, -20e3, 0.0] {
        let single = fly(aim);
        let result = &single.flown.result;
        assert_eq!(result.ending, Ending::Captured);
        let round = single.next_round.expect("a next round");
        assert!(
            round.below_ground && round.lowest_altitude_m < 0.0,
            "{round:?}"
        );
        let up = coast(
            planet,
            position(&result.end_state),
            velocity(&result.end_state),
            Until::Apoapsis,
        );
        let up = up.expect("an apoapsis");
        assert!((up.duration_s - round.to_apoapsis_s).abs() < 1e-3);
        let lift = round.lift_m_s.expect("a burn");
        let faster = up.velocity + up.velocity.unit().scale(lift);
        let down = coast(planet, up.position, faster, Until::Lowest).expect("a passage");
        let low = planet.altitude_at(down.position);
        assert!((low - planet.interface_m).abs() < 50.0, "{low}");
        let said = periband::report::pass_text::answer(&case, &single);
        assert!(
            said.contains("is captured") && said.contains("km below the ground, unless a burn of"),
            "{said}"
        );
    }
    let shallow = fly(20e3);
    assert!(shallow.next_round.is_some_and(|round| !round.below_ground));
    let said = periband::report::pass_text::answer(&case, &shallow);
    assert!(!said.contains("below the ground"), "{said}");
}
