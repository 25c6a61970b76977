//! Rows of lift: the turn of the plane by a bank, and Chapman's corridor by the corridor study itself.

use crate::verification::flying::{entry, flight, planet_of};
use crate::verification::row::{Group, Known, Row, Tolerance};
use periband::Progress;
use periband::craft::Vehicle;
use periband::craft::vehicle::VehicleNumbers;
use periband::pass::Sample;
use periband::pass::batch::Settings;
use periband::pass::dynamics::{position, velocity};
use periband::pass::orbit::Orbit;
use periband::scenario::Scenario;
use periband::study::Case;
use periband::study::corridor::{angle_at, find_corridor};
use periband::world::ExponentialWorld;
use periband::world::planet::AirSample;
use std::path::Path;

pub(crate) fn rows() -> Vec<Row> {
    [turned(), study()].concat()
}

const TURN: Group = Group {
    name: "Plane turned by a bank of 45 deg: 11 km/s, -6.2 deg, 350 kg/m2, from the equator, sphere at rest",
    source: "speed, angle and heading in spherical coordinates (Vinh, Busemann & Culp 1980), integrated by another \
             program (fourth order, steps of 0.02 s; halving them moves nothing shown)",
    known: Known::Computed,
};

fn turned() -> Vec<Row> {
    let planet = planet_of(ExponentialWorld::default());
    let settings = Settings::new(&planet);
    let mut rows = Vec::new();
    // L/D; exit speed, m/s; exit angle, inclination and latitude, deg.
    for (lift, bank, speed, angle, inclination, latitude) in [
        (
            0.3,
            45.0,
            7_459.156_148_8,
            1.690_749_34,
            4.654_449_14,
            -1.225_940_33,
        ),
        (
            0.3,
            -45.0,
            7_459.156_148_8,
            1.690_749_34,
            4.654_449_14,
            1.225_940_33,
        ),
        (
            0.5,
            45.0,
            8_646.966_155_7,
            4.516_365_28,
            4.820_285_61,
            -0.801_972_80,
        ),
    ] {
        let sample = Sample {
            vehicle: Vehicle::new(&VehicleNumbers {
                mass_kg: 350.0,
                reference_area_m2: 1.0,
                drag_coefficient: 1.0,
                lift_to_drag: lift,
                bank_angle_rad: f64::to_radians(bank),
                nose_radius_m: 1.0,
                heating_constant: 1.7415e-4,
                ..VehicleNumbers::default()
            }),
            air: AirSample::EXACT,
            lifting: true,
        };
        let start = entry(&planet, 11_000.0, -6.2, 120e3);
        let pass = flight(&planet, &sample, &start, (&settings, 1.0));
        let y = &pass.history[pass.history.len() - 1].state;
        let (r, v) = (position(y), velocity(y));
        let orbit = Orbit::from_state(planet.gm_m3_s2, r, v);
        let found = [
            v.norm(),
            (r.dot(v) / (r.norm() * v.norm())).asin().to_degrees(),
            orbit.inclination_rad.to_degrees(),
            (r.z / r.norm()).asin().to_degrees(),
        ];
        let expected = [speed, angle, inclination, latitude];
        let words = [
            "exit speed",
            "exit angle",
            "inclination",
            "latitude at the exit",
        ];
        for (i, what) in words.into_iter().enumerate() {
            let unit = if i == 0 { "m/s" } else { "deg" };
            let check = format!("L/D {lift}, bank {bank} deg: {what}");
            let within = Tolerance::Relative(1e-6);
            rows.push(TURN.row(check, unit, (expected[i], found[i]), within));
        }
    }
    rows
}

const STUDY: Group = Group {
    name: "The same corridor as `periband corridor` finds it",
    source: "Chapman, NASA TR R-55 (1960), as tabulated in Spacecraft Systems Engineering, Table 5.9",
    known: Known::Published,
};

/// The scenario of the classical corridor: a parabola, 10 g, to come down in one pass, L/D 1.
fn chapman_case() -> Case {
    let world = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/worlds/chapman.yaml");
    let text = format!(
        "title: corridor\nworld: {}\n\
         ship: {{mass: 300 kg, reference_area: 1 m2, drag_coefficient: 1, lift_to_drag: 1, nose_radius: 1 m}}\n\
         arrival: {{hyperbola: {{excess_speed: 0 km/s, inclination: 0 deg, aim_periapsis: 60 km}}}}\n\
         uncertainty: {{air: exact}}\n\
         limits: {{peak_deceleration: 10 g, comes_down: yes}}\n\
         corridor: {{excess_speed: {{from: 0 km/s, to: 1 km/s, step: 1 km/s}}, \
         lift_to_drag: {{from: 0, to: 1, step: 1}}}}\n",
        world.display()
    );
    let scenario =
        Scenario::from_text("chapman", &text).expect("the scenario of the check is right");
    Case::from_scenario(scenario).expect("its world is there")
}

fn study() -> Vec<Row> {
    let case = chapman_case();
    let result = find_corridor(&case, &Progress::default()).expect("it has limits");
    let own = result.own().expect("the scenario's own arrival");
    let computed = STUDY.known(Known::Computed);
    let mut rows = Vec::new();
    for (lift, corridor, published, other, angles) in [
        (0, &own.without_lift, 11.0, 11.10, [-5.97947, -5.48732]),
        (1, &own.corridor, 82.0, 82.53, [-7.96588, -4.62737]),
    ] {
        let open = corridor.open().expect("the corridor is open");
        let width = open.width_m() / 1e3;
        let check = |what: &str| format!("L/D {lift}: {what}");
        let within = Tolerance::Relative(0.03);
        rows.push(STUDY.row(check("width"), "km", (published, width), within));
        let within = Tolerance::Relative(2e-3);
        rows.push(computed.row(check("width, other program"), "km", (other, width), within));
        for (what, edge, angle) in [
            ("undershoot", open.low, angles[0]),
            ("overshoot", open.high, angles[1]),
        ] {
            let found = angle_at(&case.problem, edge.aim_m, &own.numbers);
            let found = found.expect("an edge fits an approach").to_degrees();
            let within = Tolerance::Absolute(2e-2);
            rows.push(computed.row(check(what), "deg", (angle, found), within));
        }
    }
    rows
}
