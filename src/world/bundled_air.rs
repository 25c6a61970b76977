//! Checks of the bundled worlds' air against the rows it was made from, and against the laws of air at rest.

use super::gas::GAS_CONSTANT_J_KMOL_K;
use super::model::World;
use super::profile::{Above, Profile, TableRow};

/// Rows of one data set of a reference file, lowest first; sources and marks at the head of each file.
fn rows(file: &str, sets: &[&str]) -> Vec<TableRow> {
    let text = match file {
        "venus" => include_str!("../../tests/reference/venus.csv"),
        "mars" => include_str!("../../tests/reference/mars.csv"),
        "titan" => include_str!("../../tests/reference/titan.csv"),
        "jupiter" => include_str!("../../tests/reference/jupiter.csv"),
        "saturn" => include_str!("../../tests/reference/saturn.csv"),
        "uranus" => include_str!("../../tests/reference/uranus.csv"),
        "neptune" => include_str!("../../tests/reference/neptune.csv"),
        other => panic!("no reference file for {other}"),
    };
    let fields = text.lines().map(|line| line.split(',').collect::<Vec<_>>());
    let of_set = fields.filter(|fields| fields.len() == 5 && sets.contains(&fields[4]));
    let number = |text: &str| text.parse::<f64>().unwrap();
    let mut rows: Vec<_> = of_set
        .map(|row| TableRow {
            altitude_m: number(row[0]) * 1e3,
            temperature_k: Some(number(row[1])),
            pressure_pa: Some(number(row[2])),
            density_kg_m3: number(row[3]),
        })
        .collect();
    rows.sort_by(|a, b| a.altitude_m.total_cmp(&b.altitude_m));
    rows
}

/// World, sets of the reference file that it flies, and how many rows they have.
const FLOWN: [(&str, &[&str], usize); 6] = [
    ("venus", &["VIRA"], 27),
    ("titan", &["JB2007"], 27),
    ("jupiter", &["GP_ASI"], 36),
    ("saturn", &["ANCHOR", "DERIVED"], 15),
    ("uranus", &["ANCHOR", "DERIVED"], 16),
    ("neptune", &["ANCHOR", "DERIVED"], 18),
];

#[test]
fn every_row_is_flown_as_it_stands() {
    // Far inside the tolerances of the files (1 to 30 %): the world is made of these rows.
    for (name, sets, count) in FLOWN {
        let (world, rows) = (World::bundled(name).unwrap(), rows(name, sets));
        assert_eq!(rows.len(), count, "{name}");
        for row in &rows {
            let flown = world.air().lookup(row.altitude_m);
            let density = flown.ln_density - row.density_kg_m3.ln();
            let kelvin = flown.temperature_k.unwrap() - row.temperature_k.unwrap();
            assert!(
                density.abs() < 1e-3 && kelvin.abs() < 0.5,
                "{name}: {density} and {kelvin} K at {} m",
                row.altitude_m
            );
        }
        assert!(
            (world.air().floor_m() - rows[0].altitude_m).abs() < 1e-6,
            "{name}"
        );
    }
}

#[test]
fn density_falls_at_every_altitude() {
    // The smooth curve through the rows may leave their range: nowhere so far that air gets denser upward.
    for name in super::bundled_names() {
        let world = World::bundled(name).unwrap();
        let air = world.air();
        let mut altitude_m = air.floor_m();
        while altitude_m < air.top_m() {
            let scale_height_m = -1.0 / air.lookup(altitude_m).ln_density_per_m;
            assert!(
                (2e3..300e3).contains(&scale_height_m),
                "{name}: {scale_height_m} m at {altitude_m} m"
            );
            altitude_m += 0.37 * air.step_m();
        }
    }
}

#[test]
fn a_second_set_of_the_same_air_agrees() {
    // Sets that are not flown, with their tolerances added to that of the profile: Venus, 3 % of the profile; Titan, 1 % of
    // the probe and 2 % of the profile to 100 km. Above that the file gives none; the two differ by up to 3.5 %.
    let sets = [
        ("venus", "PV_PROBE", (0.0, 67.0), 0.03),
        ("titan", "HASI", (0.0, 100.0), 0.03),
        ("titan", "HASI", (101.0, 147.0), 0.035),
    ];
    for (name, set, (from_km, to_km), tolerance) in sets {
        let world = World::bundled(name).unwrap();
        let within = |row: &TableRow| (from_km..=to_km).contains(&(row.altitude_m / 1e3));
        let rows: Vec<_> = rows(name, &[set]).into_iter().filter(within).collect();
        assert!(rows.len() > 4, "{name}");
        for row in rows {
            let flown = world.air().lookup(row.altitude_m).ln_density;
            let error = flown - row.density_kg_m3.ln();
            assert!(
                error.abs() < tolerance,
                "{name}: {error} at {} m",
                row.altitude_m
            );
        }
    }
}

#[test]
fn local_scale_heights_are_those_of_the_data() {
    // Computed independently from the same data (published); km.
    let stretches = [
        ("venus", (40.0, 50.0), (9.75, 9.85)),
        ("venus", (60.0, 70.0), (5.75, 5.85)),
        ("venus", (80.0, 90.0), (4.25, 4.35)),
        ("venus", (100.0, 110.0), (3.5, 4.65)),
        ("venus", (110.0, 130.0), (3.45, 4.6)),
        ("venus", (130.0, 150.0), (3.5, 4.65)),
        ("mars", (80.0, 100.161), (5.6, 6.1)),
        ("mars", (100.161, 119.926), (6.85, 6.95)),
        ("mars", (119.926, 139.952), (6.52, 6.62)),
        ("titan", (200.0, 350.0), (45.0, 51.0)),
        ("titan", (500.0, 900.0), (54.0, 59.0)),
    ];
    for (name, (low, high), (least, most)) in stretches {
        let world = World::bundled(name).unwrap();
        let ln_density = |km: f64| world.air().lookup(km * 1e3).ln_density;
        let scale_height = (high - low) / (ln_density(low) - ln_density(high));
        assert!(
            (least..=most).contains(&scale_height),
            "{name}: {scale_height} km from {low} to {high} km"
        );
    }
    // The Pathfinder set alone (the world flies the global mean up to 80 km): 6.83 km from 60 to 80 km, 5.83 from 80 to 100 km.
    let entry = rows("mars", &["MPF"]);
    let profile = Profile::table(&entry, Above::default()).unwrap();
    for (low, high, expected) in [(60.068, 79.944, 6.83), (79.944, 100.161, 5.83)] {
        let ln_density = |km: f64| profile.at(km * 1e3).ln_density;
        let scale_height = (high - low) / (ln_density(low) - ln_density(high));
        assert!((scale_height - expected).abs() < 0.01, "{scale_height} km");
    }
}

/// Gravity under which a world's air is at rest, m/s², at an altitude, m.
fn gravity(world: &World, altitude_m: f64) -> f64 {
    let body = world.body();
    match body.name.as_str() {
        // The constant value with which the derived rows of the three were computed.
        "Saturn" => 9.0,
        "Uranus" => 8.69,
        "Neptune" => 11.1,
        // At the probe's latitude of 6.5 degrees: with J2 and the lift of the spin.
        "Jupiter" => {
            let sine_squared = 0.012_815;
            let surface = body.equatorial_radius_m * (1.0 - body.flattening() * sine_squared);
            let radius = surface + altitude_m;
            let ratio = body.equatorial_radius_m / radius;
            let oblate = 1.5 * body.j2 * ratio * ratio * (3.0 * sine_squared - 1.0);
            let lift = body.rotation_rad_s * body.rotation_rad_s * radius * (1.0 - sine_squared);
            body.gm_m3_s2 / (radius * radius) * (1.0 - oblate) - lift
        }
        "Earth" => 9.806_65 * (6_356_766.0 / (6_356_766.0 + altitude_m)).powi(2),
        _ => body.gm_m3_s2 / (body.mean_radius_m() + altitude_m).powi(2),
    }
}

/// Weight of the flown air between two altitudes, Pa.
fn weight(world: &World, (low_m, high_m): (f64, f64)) -> f64 {
    let steps = ((high_m - low_m) / 100.0).ceil().max(20.0);
    let height = (high_m - low_m) / steps;
    let mut sum = 0.0;
    let mut altitude_m = low_m + 0.5 * height;
    while altitude_m < high_m {
        let density = world.air().lookup(altitude_m).ln_density.exp();
        sum += density * gravity(world, altitude_m) * height;
        altitude_m += height;
    }
    sum
}

#[test]
fn air_between_two_rows_weighs_what_pressure_falls_by() {
    // World, altitudes of the lower row in km, allowed error. The aim is 3 %. Where it is more, the data fail:
    // Venus above 100 km has rows two scale heights apart while its molar mass falls from 43 to 27. Jupiter's rows are thinned
    // from a finer set: the temperature bends between those named here, and a straight line in log density does no better
    // (5.8, 6.3, -4.5, 7.9 and 6.3 %). The three weak giants were computed by straight lines, with a constant gravity.
    let allowed = [
        ("venus", (0.0, 49.0), 0.025),
        ("venus", (49.0, 99.0), 0.03),
        ("venus", (99.0, 150.0), 0.056),
        ("titan", (0.0, 900.0), 0.021),
        ("jupiter", (18.0, 19.0), 0.076),
        ("jupiter", (74.0, 100.0), 0.037),
        ("jupiter", (251.0, 402.0), 0.082),
        ("jupiter", (-131.0, 1028.0), 0.013),
        ("saturn", (-15.0, 313.0), 0.02),
        ("uranus", (-31.0, 197.0), 0.02),
        ("neptune", (-58.0, 172.0), 0.02),
    ];
    for (name, sets, _) in FLOWN {
        let (world, rows) = (World::bundled(name).unwrap(), rows(name, sets));
        for pair in rows.windows(2) {
            let (low_m, high_m) = (pair[0].altitude_m, pair[1].altitude_m);
            let falls = pair[0].pressure_pa.unwrap() - pair[1].pressure_pa.unwrap();
            let error = weight(&world, (low_m, high_m)) / falls - 1.0;
            let limit = allowed
                .iter()
                .find(|(of, (from, to), _)| *of == name && (*from..*to).contains(&(low_m / 1e3)));
            assert!(
                error.abs() < limit.unwrap().2,
                "{name}: {error} from {low_m} m"
            );
        }
    }
}

/// Molar mass for which the flown density and temperature carry the weight of the air above, kg/kmol.
fn molar_mass(world: &World, altitude_m: f64) -> f64 {
    let air = world.air();
    let (top, here) = (air.lookup(air.top_m()), air.lookup(altitude_m));
    // Above the top density falls with one scale height.
    let scale_height_m = -1.0 / air.lookup(air.top_m() + air.step_m()).ln_density_per_m;
    let above_top = top.ln_density.exp() * gravity(world, air.top_m()) * scale_height_m;
    let pressure = above_top + weight(world, (altitude_m, air.top_m()));
    here.ln_density.exp() * GAS_CONSTANT_J_KMOL_K * here.temperature_k.unwrap() / pressure
}

#[test]
fn air_has_the_molar_mass_that_carries_it() {
    // World, altitudes in km, molar masses of the check data (computed from published rows), widened where the data fail:
    // Venus 43.0-43.8 from its rows' own pressures, of three figures; Mars 43.4-43.6, only below the join of its two sets near 80 km,
    // across which pressure is not in balance, and of three figures; Titan 27.3-28.6; Jupiter 2.31 below 200 km, to 2.5 % where
    // temperature bends between its rows, then less as hydrogen gains, to 2.00 at 1000 km; the weak giants as stated in
    // their files, under a constant gravity. Earth and the layers of the invented worlds are exact.
    let ranges = [
        ("earth", (0.0, 75.0), (28.96, 28.97)),
        ("venus", (0.0, 90.0), (42.9, 43.8)),
        ("mars", (0.0, 45.0), (43.4, 43.7)),
        ("titan", (0.0, 900.0), (27.3, 28.6)),
        ("jupiter", (-130.0, 200.0), (2.25, 2.37)),
        ("jupiter", (500.0, 1000.0), (2.0, 2.1)),
        ("saturn", (-14.0, 313.0), (2.225, 2.255)),
        ("uranus", (-30.0, 197.0), (2.26, 2.32)),
        ("neptune", (-57.0, 172.0), (2.355, 2.405)),
        ("tavrelle", (0.0, 150.0), (29.06, 29.1)),
        ("harkundra", (0.0, 90.0), (29.80, 29.83)),
        ("pelluvane", (0.0, 750.0), (28.48, 28.52)),
        ("ozmerrun", (-89.0, 600.0), (2.329, 2.331)),
    ];
    for (name, (from_km, to_km), (least, most)) in ranges {
        let height_m: f64 = (to_km - from_km) * 1e3;
        let world = World::bundled(name).unwrap();
        for i in 0..=20 {
            let altitude_m = height_m.mul_add(f64::from(i) / 20.0, from_km * 1e3);
            let found = molar_mass(&world, altitude_m);
            assert!(
                (least..=most).contains(&found),
                "{name}: {found} at {altitude_m} m"
            );
        }
    }
}
