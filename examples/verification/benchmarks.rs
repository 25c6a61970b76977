//! Rows of trajectories that an independent program computed, and of the standard atmosphere flown.

use crate::verification::flying::{G0, entry, flight, peak, planet_of, ship, to_200_m_s};
use crate::verification::row::{Group, Known, Row, Tolerance};
use periband::numeric::root::bracketed_root;
use periband::pass::Ending;
use periband::world::shape::Ellipsoid;
use periband::world::{ExponentialWorld, Planet, World};

const INDEPENDENT: Group = Group {
    name: "Planar trajectories of an independent program",
    source: "eighth-order integration at a relative tolerance of 1e-12, exponential air, no rotation",
    known: Known::Computed,
};
const FLOWN_STANDARD: Group = Group {
    name: "The same over the 1976 standard atmosphere",
    source: "eighth-order integration by an independent program; sphere of 6371 km, 120 km",
    known: Known::Computed,
};

struct Case {
    id: &'static str,
    entry: (f64, f64, f64),
    ship: (f64, f64),
    /// Quantity, unit, value, relative tolerance.
    expected: &'static [(&'static str, &'static str, f64, f64)],
}

const CASES: [Case; 5] = [
    Case {
        id: "E1",
        entry: (7800.0, -2.0, 120e3),
        ship: (100.0, 0.0),
        expected: &[
            ("peak drag", "g", 9.060_141, 1e-6),
            ("at height", "m", 49_504.3, 1e-4),
            ("at speed", "m/s", 3815.823, 1e-4),
            ("peak heat flux", "W/cm2", 71.584_59, 1e-6),
            ("heat load", "J/cm2", 7758.897, 1e-6),
            ("end", "s", 347.879_7, 1e-4),
            ("range", "km", 1866.201, 1e-4),
        ],
    },
    Case {
        id: "E2",
        entry: (7800.0, -20.0, 120e3),
        ship: (1000.0, 0.0),
        expected: &[
            ("peak drag", "g", 56.609_880, 1e-6),
            ("at height", "m", 23_117.0, 1e-4),
            ("at speed", "m/s", 4780.666, 1e-4),
            ("peak heat flux", "W/cm2", 660.474_94, 1e-6),
            ("heat load", "J/cm2", 8812.376, 1e-6),
            ("end", "s", 83.6581, 1e-4),
        ],
    },
    Case {
        id: "E4",
        entry: (11_000.0, -6.5, 120e3),
        ship: (350.0, 0.3),
        expected: &[
            ("peak drag", "g", 7.033_959, 1e-6),
            ("at height", "m", 55_649.2, 1e-4),
            ("at speed", "m/s", 9659.313, 1e-4),
            ("peak heat flux", "W/cm2", 373.975_34, 1e-6),
            ("heat load", "J/cm2", 24_266.719, 1e-6),
            ("end", "s", 236.4739, 1e-4),
            ("exit speed", "m/s", 7_787.059_98, 1e-6),
            ("exit angle", "deg", 3.436_065_33, 1e-6),
            ("lowest height", "m", 55_445.94, 1e-6),
        ],
    },
    Case {
        id: "E6",
        entry: (12_800.0, -8.2, 125e3),
        ship: (60.0, 0.0),
        expected: &[
            ("peak drag", "g", 39.539_337, 1e-6),
            ("at height", "m", 53_162.5, 1e-4),
            ("at speed", "m/s", 7971.046, 1e-4),
            ("peak heat flux", "W/cm2", 369.163_45, 1e-6),
            ("heat load", "J/cm2", 10_426.709, 1e-6),
            ("end", "s", 154.5352, 1e-4),
        ],
    },
    // The peaks of this one are printed to five and six figures.
    Case {
        id: "M4",
        entry: (4776.616, -5.0, 125e3),
        ship: (20.0, 0.0),
        expected: &[
            ("peak drag", "g", 0.045_816, 1.1e-5),
            ("peak heat flux", "W/cm2", 1.677_51, 3e-6),
            ("end", "s", 277.7327, 1e-4),
            ("exit speed", "m/s", 4_713.825_302, 1e-6),
            ("exit angle", "deg", 4.934_714_46, 1e-6),
            ("lowest height", "m", 96_309.477, 1e-6),
            ("work of drag", "m/s", 62.555_27, 1e-6),
        ],
    },
];

pub(crate) fn rows() -> Vec<Row> {
    let mut rows: Vec<Row> = CASES.iter().flat_map(case_rows).collect();
    rows.extend(over_the_standard());
    rows.extend(sanity());
    rows
}

fn world_of(case: &Case) -> ExponentialWorld {
    let world = ExponentialWorld {
        entry_interface_m: case.entry.2,
        ..ExponentialWorld::default()
    };
    if case.id.starts_with('M') {
        ExponentialWorld {
            gm_m3_s2: 4.282_837_5e13,
            equatorial_radius_m: 3_396_190.0,
            surface_density_kg_m3: 0.02,
            scale_height_m: 9500.0,
            ..world
        }
    } else {
        world
    }
}

fn case_rows(case: &Case) -> Vec<Row> {
    let planet = planet_of(world_of(case));
    let (v, degrees, h) = case.entry;
    let sample = ship(case.ship.0, case.ship.1);
    let start = entry(&planet, v, degrees, h);
    let pass = flight(&planet, &sample, &start, (&to_200_m_s(&planet), 0.05));
    let (top, result) = (peak(&pass), &pass.result);
    let end = pass.history[pass.history.len() - 1];
    let last = end.state;
    let row = |&(what, unit, expected, share): &(&str, &'static str, f64, f64)| {
        let computed = match what {
            "peak drag" => result.peak_deceleration_m_s2 / sample.vehicle.sensed_over_drag() / G0,
            "at height" => top.altitude,
            "at speed" => top.speed,
            "peak heat flux" => result.peak_heat_flux_w_m2 / 1e4,
            "heat load" => result.heat_load_j_m2 / 1e4,
            "end" => result.duration_s,
            "range" => last[1].atan2(last[0]) * planet.equatorial_radius_m / 1e3,
            "exit speed" => result.end_inertial_speed_m_s,
            "exit angle" => (end.felt.altitude_rate / end.felt.speed)
                .asin()
                .to_degrees(),
            "lowest height" => result.lowest_altitude_m,
            "work of drag" => result.speed_lost_m_s,
            _ => f64::NAN,
        };
        let check = format!("{}: {what}", case.id);
        INDEPENDENT.row(
            check,
            unit,
            (expected, computed),
            Tolerance::Relative(share),
        )
    };
    case.expected.iter().map(row).collect()
}

/// The Earth's bundled air about a sphere (radius in m) that does not turn.
fn standard_sphere(radius_m: f64) -> Planet {
    let earth = World::bundled("earth").expect("the Earth is bundled");
    Planet {
        gm_m3_s2: 3.986_004_418e14,
        equatorial_radius_m: radius_m,
        ellipsoid: Ellipsoid::new(radius_m, radius_m),
        zonal: [0.0; 3],
        rotation_rad_s: 0.0,
        interface_m: 120e3,
        wind: None,
        ..Planet::new(&earth)
    }
}

fn over_the_standard() -> Vec<Row> {
    let planet = standard_sphere(6.371e6);
    let cases = [
        (
            "7800 m/s, -2 deg, 100 kg/m2",
            (7800.0, -2.0),
            (100.0, 0.0),
            8.130,
        ),
        (
            "7800 m/s, -20 deg, 1000 kg/m2",
            (7800.0, -20.0),
            (1000.0, 0.0),
            62.470,
        ),
        (
            "11000 m/s, -7 deg, 350 kg/m2",
            (11_000.0, -7.0),
            (350.0, 0.0),
            20.991,
        ),
        (
            "11000 m/s, -6.5 deg, 350 kg/m2, L/D 0.3",
            (11_000.0, -6.5),
            (350.0, 0.3),
            6.996,
        ),
        (
            "12800 m/s, -8.2 deg, 60 kg/m2",
            (12_800.0, -8.2),
            (60.0, 0.0),
            37.940,
        ),
    ];
    let row = |(what, (v, degrees), (b, lift), expected): (&str, (f64, f64), (f64, f64), f64)| {
        let start = entry(&planet, v, degrees, 120e3);
        let settings = to_200_m_s(&planet);
        let pass = flight(&planet, &ship(b, lift), &start, (&settings, 0.1));
        let found = (expected, pass.result.peak_deceleration_m_s2 / G0);
        FLOWN_STANDARD.row(what, "g", found, Tolerance::Relative(1e-3))
    };
    cases.into_iter().map(row).collect()
}

const SANITY: Group = Group {
    name: "Entries like the flown ones, without rotation",
    source: "independent program; standard atmosphere or exponential air",
    known: Known::Computed,
};

fn sanity() -> Vec<Row> {
    let mut rows = Vec::new();
    // From 6503.14 km from the centre. The other program's sphere is not stated: that of its other runs is
    // taken; a kilometre of radius is 1.1 % of the peak, hence 2 %.
    let mut planet = standard_sphere(6.371e6);
    planet.interface_m = 132_150.0;
    for (v, expected) in [(12_900.0, 34.18), (12_800.0, 33.91), (12_500.0, 33.13)] {
        let start = entry(&planet, v, -8.2, 132_140.0);
        let pass = flight(
            &planet,
            &ship(60.0, 0.0),
            &start,
            (&to_200_m_s(&planet), 0.1),
        );
        let found = (expected, pass.result.peak_deceleration_m_s2 / G0);
        let check = format!("{v} m/s, -8.2 deg, 60 kg/m2");
        rows.push(SANITY.row(check, "g", found, Tolerance::Relative(0.02)));
    }
    let planet = planet_of(ExponentialWorld {
        entry_interface_m: 121_920.0,
        ..ExponentialWorld::default()
    });
    let fly = |degrees: f64, lift: f64| {
        let start = entry(&planet, 11_032.05, degrees, 121_920.0);
        flight(
            &planet,
            &ship(355.0, lift),
            &start,
            (&to_200_m_s(&planet), 2.0),
        )
        .result
    };
    let over = |degrees: f64| fly(degrees, 0.3).peak_deceleration_m_s2 / G0 - 6.56;
    let at = bracketed_root(over, -7.5, -5.5, 1e-7).unwrap_or(f64::NAN);
    let close = Tolerance::Absolute(2e-3);
    let check = "11032.05 m/s, lift up 0.3: angle of 6.56 g";
    rows.push(SANITY.row(check, "deg", (-6.449, at), close));
    for (what, lift, expected) in [("lift down 0.3", -0.3, -5.024), ("ballistic", 0.0, -5.484)] {
        let (mut down, mut leaves) = (-7.0, -4.0);
        while leaves - down > 1e-6 {
            let middle = 0.5 * (down + leaves);
            if fly(middle, lift).ending == Ending::Landed {
                down = middle;
            } else {
                leaves = middle;
            }
        }
        let check = format!("11032.05 m/s, {what}: overshoot");
        rows.push(SANITY.row(check, "deg", (expected, down), close));
    }
    rows
}
