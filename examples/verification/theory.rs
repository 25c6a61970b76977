//! Rows of the classical theory of entry: Allen and Eggers, the skip, the glide.

use crate::verification::flying::{G0, entry, flight, peak, peak_of, planet_of, ship, to_200_m_s};
use crate::verification::row::{Group, Known, Row, Tolerance};
use periband::pass::batch::Settings;
use periband::pass::reference::FlownPass;
use periband::world::{ExponentialWorld, Planet};

pub(crate) fn rows() -> Vec<Row> {
    [allen_eggers_flown(), allen_eggers_error(), skip_and_glide()].concat()
}

const STRAIGHT: Group = Group {
    name: "Allen and Eggers, flown without gravity on a straight path",
    source: "Allen & Eggers, NACA Rep. 1381 (1958), equations published",
    known: Known::Computed,
};

/// The closed form of Allen and Eggers: peak deceleration (m/s²), its altitude (m), and the speed there (m/s).
pub(crate) fn closed_form((v, degrees): (f64, f64), b: f64, (rho0, scale): (f64, f64)) -> [f64; 3] {
    let sine = degrees.to_radians().sin();
    let e = std::f64::consts::E;
    [
        v * v * sine / (2.0 * e * scale),
        scale * (rho0 * scale / (b * sine)).ln(),
        v * (-0.5f64).exp(),
    ]
}

/// A sphere so large that a flight is straight, and next to no gravity: what the closed form assumes.
fn straight_world(scale_height_m: f64) -> (Planet, Settings) {
    let planet = planet_of(ExponentialWorld {
        gm_m3_s2: 1.0,
        equatorial_radius_m: 2e12,
        entry_interface_m: 300e3,
        scale_height_m,
        ..ExponentialWorld::default()
    });
    let settings = Settings {
        length_scale_m: 6.4e6,
        speed_scale_m_s: 7000.0,
        longest_s: 1000.0,
        stop_speed_m_s: 200.0,
        ..Settings::new(&planet)
    };
    (planet, settings)
}

fn allen_eggers_flown() -> Vec<Row> {
    let mut rows = Vec::new();
    // Speed (m/s), angle (deg), scale height (m), deceleration in g, speed at the peak (m/s).
    for (v, degrees, scale, g, at) in [
        (7800.0, 20.0, 7162.6, 54.4910, 4730.939),
        (11_000.0, 30.0, 7000.0, 162.1109, 6671.837),
        (12_800.0, 8.2, 7162.6, 61.1944, 7763.592),
        (7200.0, 30.0, 7162.6, 67.8765, 4367.021),
        (9144.0, 90.0, 6705.6, 233.878, 5546.116),
    ] {
        let (planet, settings) = straight_world(scale);
        let start = entry(&planet, v, -degrees, 299e3);
        let pass = flight(&planet, &ship(300.0, 0.0), &start, (&settings, 0.1));
        let top = peak(&pass);
        let case = format!("{v} m/s, {degrees} deg");
        // The curvature that is left turns the path by a few millionths.
        let tight = Tolerance::Relative(1e-5);
        let found = (g, top.value / G0);
        rows.push(STRAIGHT.row(format!("{case}: peak"), "g", found, tight));
        let speed = (at, top.speed);
        let loose = Tolerance::Relative(1e-4);
        rows.push(STRAIGHT.row(format!("{case}: speed there"), "m/s", speed, loose));
    }
    // The height of the peak. At 45 deg and 1000 kg/m² it lies low, at 18 km.
    for (b, degrees, height) in [
        (60.0, 8.2, 49_656.40),
        (1000.0, 45.0, 18_038.20),
        (100.0, 30.0, 37_013.07),
    ] {
        let (planet, settings) = straight_world(7162.6);
        let start = entry(&planet, 7800.0, -degrees, 299e3);
        let pass = flight(&planet, &ship(b, 0.0), &start, (&settings, 0.1));
        let check = format!("{b} kg/m2, {degrees} deg: height of the peak");
        let found = (height, peak(&pass).altitude);
        rows.push(STRAIGHT.row(check, "m", found, Tolerance::Relative(1e-4)));
        if b == 100.0 {
            // Heating peaks at V_E exp(-1/6), H ln 3 higher (from memory, and computed: 7868.9 m).
            let hot = peak_of(&pass, |felt| felt.heat_flux);
            let case = format!("{b} kg/m2, {degrees} deg");
            let close = Tolerance::Relative(1e-4);
            let found = (7800.0 * (-1.0f64 / 6.0).exp(), hot.speed);
            rows.push(STRAIGHT.row(format!("{case}: speed, hottest"), "m/s", found, close));
            let found = (height + 7868.9, hot.altitude);
            rows.push(STRAIGHT.row(format!("{case}: height, hottest"), "m", found, close));
        }
    }
    rows
}

const ERROR: Group = Group {
    name: "Error of that closed form against full integration",
    source: "Putnam & Braun, J. Guid. Control Dyn. 38(3), 2015, 414-430; to 5 points, atmosphere not stated",
    known: Known::Published,
};

/// Errors (per cent) of the closed form in peak, speed and height against our full integration.
pub(crate) fn closed_form_errors(v: f64, degrees: f64, b: f64, scale: f64) -> [f64; 3] {
    let planet = planet_of(ExponentialWorld {
        entry_interface_m: 125e3,
        scale_height_m: scale,
        ..ExponentialWorld::default()
    });
    let start = entry(&planet, v, -degrees, 125e3);
    let settings = to_200_m_s(&planet);
    let top = peak(&flight(&planet, &ship(b, 0.0), &start, (&settings, 0.02)));
    let [a, h, speed] = closed_form((v, degrees), b, (1.225, scale));
    let error = |closed: f64, full: f64| 100.0 * (closed / full - 1.0);
    [
        error(a, top.value),
        error(speed, top.speed),
        error(h, top.altitude),
    ]
}

fn allen_eggers_error() -> Vec<Row> {
    let mut rows = Vec::new();
    let points = |value| Tolerance::Absolute(value);
    // The published figures; scale height 8500 m (shallow) and 7162.6 m (steep).
    let computed = ERROR.known(Known::Computed);
    for (what, (v, degrees, b, scale), published, independent) in [
        (
            "-8.2 deg, H 8500 m",
            (12_800.0, 8.2, 60.0, 8500.0),
            Some([34.9, -2.1, -4.6]),
            [37.0, -2.4, -4.9],
        ),
        (
            "-8.2 deg, H 7162.6 m",
            (12_800.0, 8.2, 60.0, 7162.6),
            None,
            [54.8, -2.6, -6.6],
        ),
        (
            "-30 deg, H 7162.6 m",
            (7200.0, 30.0, 10_000.0, 7162.6),
            Some([-5.1, -1.8, 3.6]),
            [-5.7, -1.8, 4.0],
        ),
    ] {
        let ours = closed_form_errors(v, degrees, b, scale);
        for (i, quantity) in ["peak", "speed", "height"].into_iter().enumerate() {
            let check = format!("{what}: {quantity}");
            if let Some(values) = published {
                rows.push(ERROR.row(check.clone(), "%", (values[i], ours[i]), points(5.0)));
            }
            let check = format!("{check}, other program");
            rows.push(computed.row(check, "%", (independent[i], ours[i]), points(0.1)));
        }
    }
    rows
}

const SKIP: Group = Group {
    name: "Skip without gravity",
    source: "Eggers, Allen & Neice, NACA Rep. 1382 (1957): exp(-2 gamma/(L/D)), from memory and computed",
    known: Known::FromMemory,
};
const GLIDE: Group = Group {
    name: "Equilibrium glide range",
    source: "Eggers, Allen & Neice, NACA Rep. 1382 (1957), formula from memory, value computed",
    known: Known::Computed,
};

fn skip_and_glide() -> Vec<Row> {
    let planet = planet_of(ExponentialWorld {
        gm_m3_s2: 1.0,
        equatorial_radius_m: 2e12,
        entry_interface_m: 60e3,
        ..ExponentialWorld::default()
    });
    let settings = Settings {
        length_scale_m: 6.4e6,
        speed_scale_m_s: 7000.0,
        longest_s: 1000.0,
        ..Settings::new(&planet)
    };
    let start = entry(&planet, 7000.0, -5.0, 60e3);
    let pass = flight(&planet, &ship(300.0, 0.5), &start, (&settings, 1.0));
    let left = pass.result.end_inertial_speed_m_s;
    let last = pass.history[pass.history.len() - 1];
    let angle = (last.felt.altitude_rate / left).asin().to_degrees();
    let mut rows = vec![
        SKIP.row(
            "7000 m/s, -5 deg, L/D 0.5: exit speed",
            "m/s",
            (4_937.426_77, left),
            Tolerance::Relative(1e-6),
        ),
        SKIP.row(
            "the same: exit angle",
            "deg",
            (5.0, angle),
            Tolerance::Relative(1e-6),
        ),
    ];
    for (lift, v, range) in [
        (1.0, 7500.0, 7305.3214),
        (2.0, 7500.0, 14_610.642_8),
        (0.3, 7800.0, 3431.8183),
    ] {
        let check = format!("L/D {lift}, {v} m/s");
        let found = (range, glide_range_km(v, lift));
        rows.push(GLIDE.row(check, "km", found, Tolerance::Relative(0.10)));
    }
    for (lift, formula, with_height) in [(1.0, 7094.9, 7193.1), (2.0, 14_189.7, 14_386.1)] {
        let flown = glide_range_to_km((7500.0, 2000.0), lift);
        let check = |what: &str| format!("L/D {lift}, 7500 to 2000 m/s{what}");
        let within = Tolerance::Relative(0.10);
        rows.push(GLIDE.row(check(""), "km", (formula, flown), within));
        let within = Tolerance::Relative(0.01);
        let found = (with_height, flown);
        rows.push(GLIDE.row(check(", height put in"), "km", found, within).noted(
            "the formula takes the path as level; gravity along it adds L/D 2H times the integral of \
             du/(u (1 - u^2)^2), the height given up in equilibrium over the share of weight that lift carries",
        ));
    }
    let (expected, drag) = glide_drag_g(5000.0, 1.0);
    let check = "L/D 1: deceleration at 5000 m/s";
    rows.push(GLIDE.row(check, "g", (expected, drag), Tolerance::Relative(0.10)));
    rows
}

/// Range (km) of the glide of [`glide`].
fn glide_range_km(v: f64, lift: f64) -> f64 {
    let states: Vec<_> = glide(v, lift).history.iter().map(|m| m.state).collect();
    GLIDE_RADIUS_M * swept(&states) / 1e3
}

/// Range (km) of the same glide from one speed until it has fallen to another, m/s.
fn glide_range_to_km((from, to): (f64, f64), lift: f64) -> f64 {
    let pass = glide(from, lift);
    let after = pass.history.partition_point(|m| m.felt.speed > to);
    let (a, b) = (&pass.history[after - 1], &pass.history[after]);
    let share = (a.felt.speed - to) / (a.felt.speed - b.felt.speed);
    let states: Vec<_> = pass.history[..=after].iter().map(|m| m.state).collect();
    let (all, before) = (swept(&states), swept(&states[..after]));
    GLIDE_RADIUS_M * (before + share * (all - before)) / 1e3
}

/// Drag when a glide from 7500 m/s has come down to a speed, by the theory, (1 - u²)/(L/D), and as flown; g.
fn glide_drag_g(v: f64, lift: f64) -> (f64, f64) {
    let pass = glide(7500.0, lift);
    let slow = pass.history.iter().find(|m| m.felt.speed < v);
    let flown = slow.map_or(f64::NAN, |m| {
        m.felt.deceleration / (1.0 + lift * lift).sqrt()
    });
    let gm = ExponentialWorld::default().gm_m3_s2;
    let gravity = gm / (GLIDE_RADIUS_M * GLIDE_RADIUS_M);
    let u2 = v * v * GLIDE_RADIUS_M / gm;
    ((1.0 - u2) / lift, flown / gravity)
}

const GLIDE_RADIUS_M: f64 = 6.371e6;

/// A glide from the equilibrium altitude and angle down to 200 m/s. The theory knows one radius, that of
/// the flight: the ground lies so far below 6371 km that lift and weight balance there.
fn glide(v: f64, lift: f64) -> FlownPass {
    const R: f64 = GLIDE_RADIUS_M;
    let world = ExponentialWorld::default();
    let (gm, scale, b) = (world.gm_m3_s2, world.scale_height_m, 300.0);
    let u2 = v * v * R / gm;
    let density = 2.0 * b * gm / (R * R) * (1.0 - u2) / (lift * v * v);
    let h = scale * (1.225 / density).ln();
    let planet = planet_of(ExponentialWorld {
        equatorial_radius_m: R - h,
        ..world
    });
    // The angle that keeps the balance as the speed falls.
    let angle = -(2.0 * scale / (R * lift * u2)).atan();
    let start = entry(&planet, v, angle.to_degrees(), h);
    let settings = Settings {
        stop_speed_m_s: 200.0,
        longest_s: 20_000.0,
        ..Settings::new(&planet)
    };
    flight(&planet, &ship(b, lift), &start, (&settings, 2.0))
}

/// Angle swept about the centre along a history, rad.
fn swept(states: &[[f64; 8]]) -> f64 {
    let bearing = |y: &[f64; 8]| y[1].atan2(y[0]);
    let between = |pair: &[[f64; 8]]| {
        let turn = bearing(&pair[1]) - bearing(&pair[0]);
        turn.rem_euclid(std::f64::consts::TAU)
    };
    states.windows(2).map(between).sum()
}
