//! Checks of the bundled worlds' bodies, moons, dispersions and presets against reference values and against one another.

use super::model::{Known, Quality, World};

/// Rows of a reference file that begin with no `#`, split at commas; the head line first.
fn rows(text: &str) -> Vec<Vec<&str>> {
    let lines = text.lines().filter(|line| !line.starts_with('#'));
    lines.map(|line| line.split(',').collect()).collect()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

fn bundled() -> Vec<World> {
    let names = super::bundled_names();
    names.map(|name| World::bundled(name).unwrap()).collect()
}

#[test]
fn bodies_have_the_gases_of_the_table() {
    // From memory of the sources at the head of the table; with its tolerances. The other constants are held in
    // `tests/it/constants.rs`.
    let table = rows(include_str!("../../tests/reference/bodies.csv"));
    assert_eq!(table.len(), 9);
    for row in &table[1..] {
        let world = World::bundled(row[0]).unwrap();
        let (body, gas) = (world.body(), world.gas().unwrap());
        let pairs = [
            (body.j_reference_radius_m, number(row[1]) * 1e3, 1e-5),
            (gas.molar_mass_kg_kmol(), number(row[2]), 5e-3),
            (gas.gamma(), number(row[3]), 1e-2),
        ];
        for (found, expected, tolerance) in pairs {
            assert!(
                (found / expected - 1.0).abs() < tolerance,
                "{}: {found} instead of {expected}",
                row[0]
            );
        }
        let source = world.sources().iter().find(|source| source.what == "body");
        assert_eq!(source.unwrap().known, Known::FromMemory, "{}", row[0]);
    }
}

#[test]
fn heating_constants_follow_from_the_gases() {
    // Computed by the mixture rule of NASA TR R-376 from constants of the gases from memory; tolerance 5 %.
    let expected = [
        ("venus", 1.8967e-4),
        ("titan", 1.7377e-4),
        ("jupiter", 6.850e-5),
        ("saturn", 6.773e-5),
        ("uranus", 6.918e-5),
        ("neptune", 7.116e-5),
    ];
    for (name, constant) in expected {
        let found = World::bundled(name).unwrap().heating_constant();
        assert!((found / constant - 1.0).abs() < 0.05, "{name}: {found}");
    }
}

#[test]
fn titan_is_as_cold_and_dense_at_the_ground_as_was_measured() {
    // Published, Huygens (Fulchignoni et al. 2005): 93.65 +- 0.25 K, 1467 +- 1 hPa. The flown profile is another one, a
    // model of 2007 that is 0.76 K colder and, by its weight, 2 % lower in pressure: it fails the measured bounds.
    let titan = World::bundled("titan").unwrap();
    let (air, body) = (titan.air(), titan.body());
    let ground = air.lookup(titan.ground_m());
    assert!((ground.temperature_k.unwrap() - 93.65).abs() < 0.8);
    let slice = |i: u32| {
        let altitude_m = f64::from(i) * 100.0 + 50.0;
        let gravity = body.gm_m3_s2 / (body.equatorial_radius_m + altitude_m).powi(2);
        air.lookup(altitude_m).ln_density.exp() * gravity * 100.0
    };
    let pressure: f64 = (0..9000).map(slice).sum();
    assert!((pressure / 1467e2 - 1.0).abs() < 0.025, "{pressure} Pa");
}

#[test]
fn air_at_the_interface_is_thin_but_there() {
    // Drag of a ship of 300 kg/m2 at escape speed, m/s2.
    for world in bundled() {
        let (body, air) = (world.body(), world.air());
        let density = air.lookup(body.entry_interface_m).ln_density.exp();
        let speed_squared = 2.0 * body.circular_speed_m_s(body.entry_interface_m).powi(2);
        let drag = density * speed_squared / (2.0 * 300.0);
        assert!((1e-6..0.03).contains(&drag), "{}: {drag}", body.name);
    }
}

#[test]
fn every_world_has_every_part_of_the_dispersion() {
    for world in bundled() {
        let (name, parts, air) = (&world.body().name, world.dispersion(), world.air());
        let pivot_m = parts.scale_height.unwrap().pivot_m;
        let interface_m = world.body().entry_interface_m;
        assert!(pivot_m > air.floor_m() && pivot_m < interface_m, "{name}");
        let field = parts.small_scale.as_ref().unwrap();
        assert!(field.vertical_m < field.along_track_m, "{name}");
        assert!(parts.wind_sigma_m_s.unwrap() > 0.0, "{name}");
        // Shapes stay those of air: three sigma of the bias never make density rise with altitude.
        let mut altitude_m = air.floor_m();
        while altitude_m < air.top_m() {
            let point = air.lookup(altitude_m);
            let slope = 3.0f64.mul_add(point.log_sigma_per_m, point.ln_density_per_m);
            assert!(slope < 0.0, "{name} at {altitude_m} m");
            altitude_m += 500.0;
        }
    }
}

#[test]
fn coarse_worlds_say_so_and_are_uncertain_above_their_rows() {
    for (name, last_row_m) in [
        ("saturn", 313.32e3),
        ("uranus", 197.24e3),
        ("neptune", 171.92e3),
    ] {
        let world = World::bundled(name).unwrap();
        assert_eq!(world.quality(), Quality::Coarse);
        let sigma = |altitude_m| world.air().lookup(altitude_m).log_sigma;
        assert!((sigma(last_row_m) - 0.2).abs() < 0.005, "{name}");
        // Two scale heights higher, about where a ship brakes, and at the interface.
        let scale_height_m = -1.0 / world.air().lookup(900e3).ln_density_per_m;
        assert!(sigma(last_row_m + 2.0 * scale_height_m) > 0.23, "{name}");
        assert!(sigma(world.body().entry_interface_m) > 0.9, "{name}");
    }
}

#[test]
fn moons_go_round_in_their_known_times() {
    // Sidereal periods, d, from memory; they test the mean distances against the giants' gravity. The flattening of Saturn
    // alone shortens the inner periods by up to 0.4 %.
    let periods = [
        ("earth", &[("Moon", 27.322)][..]),
        (
            "jupiter",
            &[
                ("Io", 1.769),
                ("Europa", 3.551),
                ("Ganymede", 7.155),
                ("Callisto", 16.689),
            ],
        ),
        (
            "saturn",
            &[
                ("Mimas", 0.942),
                ("Enceladus", 1.370),
                ("Tethys", 1.888),
                ("Dione", 2.737),
                ("Rhea", 4.518),
                ("Titan", 15.945),
                ("Iapetus", 79.322),
            ],
        ),
        (
            "uranus",
            &[
                ("Miranda", 1.413),
                ("Ariel", 2.520),
                ("Umbriel", 4.144),
                ("Titania", 8.706),
                ("Oberon", 13.463),
            ],
        ),
        ("neptune", &[("Triton", 5.877)]),
    ];
    for (name, expected) in periods {
        let world = World::bundled(name).unwrap();
        let names: Vec<_> = world
            .moons()
            .iter()
            .map(|moon| moon.name.as_str())
            .collect();
        assert_eq!(
            names,
            expected.iter().map(|(moon, _)| *moon).collect::<Vec<_>>()
        );
        for (moon, (_, days)) in world.moons().iter().zip(expected) {
            let gm = world.body().gm_m3_s2 + moon.gm_m3_s2;
            let period_s = std::f64::consts::TAU * (moon.orbit_radius_m.powi(3) / gm).sqrt();
            assert!(
                (period_s / 86_400.0 / days - 1.0).abs() < 5e-3,
                "{}: {} d",
                moon.name,
                period_s / 86_400.0
            );
        }
    }
}

#[test]
fn moons_are_made_of_ice_and_rock_and_are_not_torn_apart() {
    // Newton's constant, m3/(kg s2) (CODATA 2018, from memory).
    let newton = 6.6743e-11;
    for world in bundled() {
        for moon in world.moons() {
            let volume = 4.0 / 3.0 * std::f64::consts::PI * moon.radius_m.powi(3);
            let density = moon.gm_m3_s2 / newton / volume;
            assert!(
                (900.0..4000.0).contains(&density),
                "{}: {density} kg/m3",
                moon.name
            );
            // Roche's limit of a fluid moon, 2.44 R (density of the body/density of the moon)^(1/3).
            let limit = 2.44 * moon.radius_m * (world.body().gm_m3_s2 / moon.gm_m3_s2).cbrt();
            assert!(moon.orbit_radius_m > limit, "{}", moon.name);
        }
    }
}

#[test]
fn invented_bodies_obey_the_theory_of_figures() {
    let newton = 6.6743e-11;
    // World, mean density in kg/m3, tolerance of the flattening f = (3 J2 + q)/2, q = w2 a3/GM: of first order, so of the size of f.
    for (name, density, tolerance) in [
        ("tavrelle", 5600.0, 0.02),
        ("harkundra", 6700.0, 0.02),
        ("pelluvane", 2500.0, 0.02),
        ("ozmerrun", 960.0, 0.05),
    ] {
        let world = World::bundled(name).unwrap();
        let body = world.body();
        let a = body.equatorial_radius_m;
        let q = body.rotation_rad_s * body.rotation_rad_s * a.powi(3) / body.gm_m3_s2;
        let flattening = 0.5 * (3.0 * body.j2 + q);
        assert!(
            (body.flattening() / flattening - 1.0).abs() < tolerance,
            "{name}: {flattening}"
        );
        let volume = 4.0 / 3.0 * std::f64::consts::PI * body.mean_radius_m().powi(3);
        let found = body.gm_m3_s2 / newton / volume;
        assert!((found / density - 1.0).abs() < 0.02, "{name}: {found}");
    }
}

#[test]
fn the_ocean_moon_is_the_same_in_both_files() {
    let (giant, ocean) = (
        World::bundled("ozmerrun").unwrap(),
        World::bundled("pelluvane").unwrap(),
    );
    let moon = giant.moons().last().unwrap();
    let body = ocean.body();
    assert_eq!(moon.name, body.name);
    assert!((moon.gm_m3_s2 / body.gm_m3_s2 - 1.0).abs() < 1e-12);
    assert!((moon.radius_m / body.mean_radius_m() - 1.0).abs() < 1e-4);
    assert!(moon.lowest_flyby_altitude_m > body.entry_interface_m);
    let turn = (giant.body().gm_m3_s2 / moon.orbit_radius_m.powi(3)).sqrt();
    assert!((body.rotation_rad_s / turn - 1.0).abs() < 1e-4, "{turn}");
}

#[test]
fn the_sun_makes_the_air_of_the_model_above_100_km() {
    // Computed with NRLMSIS; see the head of the file. Three decimals of the log in the world file.
    let table = rows(include_str!("../../tests/reference/solar_activity.csv"));
    let earth = World::bundled("earth").unwrap();
    for (column, preset) in table[0].iter().enumerate().skip(1) {
        let world = earth.with_preset(preset).unwrap();
        for row in &table[2..] {
            let flown = world.air().lookup(number(row[0]) * 1e3).ln_density;
            let error = flown - number(row[column]).ln();
            assert!(error.abs() < 2e-3, "{preset}: {error} at {} km", row[0]);
        }
        for altitude_m in [0.0, 60e3, 99.9e3] {
            let (with, without) = (
                world.air().lookup(altitude_m),
                earth.air().lookup(altitude_m),
            );
            assert!((with.ln_density - without.ln_density).abs() < 1e-14);
        }
    }
    assert_eq!(table[0].len() - 1, earth.preset_names().count());
}

#[test]
fn dust_lifts_the_air_of_mars_the_more_the_higher() {
    let mars = World::bundled("mars").unwrap();
    for (preset, sign) in [("dust-storm", 1.0), ("dust-clear", -1.0)] {
        let dusty = mars.with_preset(preset).unwrap();
        let added = |altitude_m| {
            let ln_density = |world: &World| world.air().lookup(altitude_m).ln_density;
            sign * (ln_density(&dusty) - ln_density(&mars))
        };
        let all: Vec<f64> = (0..=20).map(|i| added(f64::from(i) * 10e3)).collect();
        assert!(all[0].abs() < 1e-12, "{preset}: {} at the ground", all[0]);
        assert!(
            all.windows(2).all(|pair| pair[1] >= pair[0] - 1e-12),
            "{preset}"
        );
        // Modest: less than a factor of two.
        assert!((0.2..0.6).contains(&all[20]), "{preset}: {}", all[20]);
    }
}
