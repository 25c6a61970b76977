//! Rows of conics at the entry interface and of orbits that drag contracts.

use crate::verification::flying::{flight, planet_of, ship};
use crate::verification::row::{Group, Known, Row, Tolerance};
use periband::numeric::Vec3;
use periband::pass::EntryState;
use periband::pass::approach::{Approach, Energy};
use periband::pass::batch::Settings;
use periband::pass::orbit::{Orbit, speed_between_apsides};
use periband::world::ExponentialWorld;

const TWO_BODY: Group = Group {
    name: "Speed and angle at the entry interface",
    source: "two-body relations, computed to ten figures",
    known: Known::Computed,
};
const SINGLE: Group = Group {
    name: "Speed lost in one thin pass, full integration",
    source: "closed form and quadrature of drag along the conic (after King-Hele)",
    known: Known::Computed,
};
const ROUND: Group = Group {
    name: "Contraction of an orbit in one round, full integration",
    source: "King-Hele, Theory of Satellite Orbits in an Atmosphere (1964); quadrature over the anomaly",
    known: Known::Computed,
};

pub(crate) fn rows() -> Vec<Row> {
    [two_body(), single_passes(), rounds()].concat()
}

fn two_body() -> Vec<Row> {
    let mut rows = Vec::new();
    for (excess, periapsis, radius, interface, gm, speed, degrees) in [
        (
            2.65,
            40.0,
            3396.19,
            125.0,
            42_828.375,
            5.598_980_274,
            -9.875_783_680,
        ),
        (
            3.0,
            100.0,
            6051.8,
            150.0,
            324_858.592,
            10.665_958_898,
            -5.350_384_776,
        ),
        (
            0.0,
            50.0,
            6378.137,
            121.92,
            398_600.441_8,
            11.074_529_980,
            -6.037_998_974,
        ),
    ] {
        let planet = planet_of(ExponentialWorld {
            gm_m3_s2: gm * 1e9,
            equatorial_radius_m: radius * 1e3,
            entry_interface_m: interface * 1e3,
            ..ExponentialWorld::default()
        });
        let approach = Approach {
            energy: Energy::ExcessSpeed(excess * 1e3),
            periapsis_altitude_m: periapsis * 1e3,
            inclination_rad: 0.4,
            argument_of_periapsis_rad: 1.0,
            b_plane_miss_m: (0.0, 0.0),
            speed_off_m_s: 0.0,
            angle_error_rad: 0.0,
            speed_error_m_s: 0.0,
        };
        let state = approach
            .entry_state(&planet)
            .expect("the approaches of the checks meet the interface");
        let case = format!("excess {excess} km/s, periapsis {periapsis} km");
        let tight = Tolerance::Relative(1e-9);
        let found = (speed, state.inertial_speed_m_s() / 1e3);
        rows.push(TWO_BODY.row(format!("{case}: speed"), "km/s", found, tight));
        let angle = state.inertial_flight_path_angle_rad().to_degrees();
        rows.push(TWO_BODY.row(format!("{case}: angle"), "deg", (degrees, angle), tight));
    }
    rows
}

/// One round, from just after apoapsis to just before it, of an orbit with radii `r_p` and `r_a` in air of
/// density `density` at periapsis: changes of semi-major axis (m) and eccentricity, and speed lost (m/s).
fn one_round(
    (gm, radius): (f64, f64),
    (r_p, r_a): (f64, f64),
    (density, scale_height_m): (f64, f64),
    inverse_ballistic: f64,
) -> [f64; 3] {
    let interface = (r_a - radius).min(r_p - radius + 60.0 * scale_height_m) - 1000.0;
    // The air is given at periapsis; below a low ground nothing is flown.
    let planet = planet_of(ExponentialWorld {
        gm_m3_s2: gm,
        equatorial_radius_m: radius,
        entry_interface_m: interface,
        surface_density_kg_m3: density * ((r_p - radius) / scale_height_m).exp(),
        scale_height_m,
        ..ExponentialWorld::default()
    });
    let settings = Settings {
        longest_s: 1e6,
        ..Settings::new(&planet)
    };
    let r = radius + interface - 1.0;
    let v = speed_between_apsides(gm, r, r_p, r_a);
    let along = r_p * speed_between_apsides(gm, r_p, r_p, r_a) / r;
    let down = (v * v - along * along).max(0.0).sqrt();
    let start = EntryState {
        position: Vec3::new(r, 0.0, 0.0),
        velocity: Vec3::new(-down, along, 0.0),
        meets_air: true,
    };
    let sample = ship(1.0 / inverse_ballistic, 0.0);
    let pass = flight(&planet, &sample, &start, (&settings, 0.5));
    let before = Orbit::from_state(gm, start.position, start.velocity);
    let after = pass.result.orbit;
    let axis = |orbit: &Orbit| -gm / orbit.twice_energy;
    [
        axis(&after) - axis(&before),
        after.eccentricity - before.eccentricity,
        pass.result.speed_lost_m_s,
    ]
}

fn single_passes() -> Vec<Row> {
    let mut rows = Vec::new();
    let cases = [
        (
            "Mars 105 x 45048 km",
            (4.282_837_5e13, 3_396_190.0),
            (105e3, 45_048e3),
            (3e-8, 7000.0, 20.0),
            [2.064_112, 2.064_043],
        ),
        (
            "Venus 135 x 63000 km",
            (3.248_585_92e14, 6_051_800.0),
            (135e3, 63_000e3),
            (1e-8, 4500.0, 30.0),
            [1.014_314, 1.014_299],
        ),
    ];
    for (what, body, (low, high), (density, scale, b), [closed, quadrature]) in cases {
        let radii = (body.1 + low, body.1 + high);
        let lost = one_round(body, radii, (density, scale), 1.0 / b)[2];
        let closed = (closed, lost);
        let check = format!("{what}: closed form");
        rows.push(SINGLE.row(check, "m/s", closed, Tolerance::Relative(1e-3)));
        // A tenth of the air, so that the orbit stays what it was.
        let thin = one_round(body, radii, (0.1 * density, scale), 1.0 / b)[2] * 10.0;
        let planet = what.split(' ').next().unwrap_or(what);
        let check = format!("{planet}: quadrature, a tenth of the air");
        rows.push(SINGLE.row(check, "m/s", (quadrature, thin), Tolerance::Relative(3e-4)));
    }
    rows
}

fn rounds() -> Vec<Row> {
    let earth = (3.986_004_418e14, 6_378_137.0);
    let radii = (earth.1 + 200e3, earth.1 + 1000e3);
    let air = |factor: f64| (2.541e-10 * factor, 37_105.0);
    let full = one_round(earth, radii, air(1.0), 0.022);
    let tenth = one_round(earth, radii, air(0.1), 0.022);
    let mars = (4.282_837_5e13, 3_396_190.0);
    let low = (3_494_190.0, 18_689_500.0);
    let thin = one_round(mars, low, (3e-10, 7000.0), 24.2 / 460.0);
    let close = Tolerance::Relative(3e-4);
    vec![
        ROUND.row(
            "Earth 200 x 1000 km: axis, other program",
            "m",
            (-234.369, full[0]),
            close,
        ),
        ROUND.row(
            "the same, a tenth of the air",
            "m",
            (-23.4324, tenth[0]),
            close,
        ),
        ROUND.row(
            "the same: quadrature",
            "m",
            (-23.431_907_916, tenth[0]),
            close,
        ),
        ROUND.row(
            "the same: eccentricity",
            "",
            (-3.023_403_594_7e-6, tenth[1]),
            close,
        ),
        ROUND.row(
            "Mars 98 x 15293 km, a hundredth: axis",
            "m",
            (-575.328_687, thin[0]),
            close,
        ),
        ROUND.row(
            "the same: eccentricity",
            "",
            (-1.633_564_556_4e-5, thin[1]),
            close,
        ),
    ]
}
