//! Every constant of the bundled bodies, their poles and their moons against the published rows of
//! `tests/reference/constants.csv`.

use periband::numeric::Vec3;
use periband::world::World;
use periband::world::pole::Turn;
use std::collections::BTreeSet;

const ROWS: &str = include_str!("../reference/constants.csv");

/// The world of this name, if one is bundled.
fn world(name: &str) -> Option<World> {
    World::bundled(&name.to_lowercase()).ok()
}

/// Every bundled world.
fn worlds() -> Vec<World> {
    periband::world::bundled_names().filter_map(world).collect()
}

/// What the program flies for a row, in the row's unit: of the body, and of the moon of this name.
fn flown(worlds: &[World], quantity: &str, name: &str) -> Vec<f64> {
    let mut found = Vec::new();
    if let Some(world) = worlds.iter().find(|world| world.body().name == name) {
        let body = world.body();
        let axis = || {
            let turn = Turn::to_equator_of(&name.to_lowercase()).expect("a pole");
            turn.from_body(Vec3::new(0.0, 0.0, 1.0))
        };
        found.push(match quantity {
            "GM" => body.gm_m3_s2 / 1e9,
            "equatorial radius" => body.equatorial_radius_m / 1e3,
            "polar radius" => body.polar_radius_m / 1e3,
            "mean radius" => body.mean_radius_m() / 1e3,
            "rotation" => body.rotation_rad_s.to_degrees() * 86_400.0,
            "J2" => body.j2,
            "J3" => body.j3,
            "J4" => body.j4,
            "pole declination" => axis().z.asin().to_degrees(),
            "pole right ascension" => axis().y.atan2(axis().x).to_degrees().rem_euclid(360.0),
            other => panic!("no such quantity: {other}"),
        });
    }
    for system in worlds {
        for moon in system.moons().iter().filter(|moon| moon.name == name) {
            match quantity {
                "GM" => found.push(moon.gm_m3_s2 / 1e9),
                "mean radius" => found.push(moon.radius_m / 1e3),
                _ => {}
            }
        }
    }
    found
}

#[test]
fn bodies_poles_and_moons_have_the_published_constants() {
    let (worlds, mut seen) = (worlds(), BTreeSet::new());
    let lines = ROWS.lines().filter(|line| !line.starts_with('#')).skip(1);
    for line in lines {
        let fields: Vec<&str> = line.splitn(6, ',').collect();
        let [quantity, name, value, plus_minus, ..] = fields[..] else {
            panic!("a short row: {line}");
        };
        let value: f64 = value.parse().expect("a number");
        // A value is written to ten digits, a rotation (given in deg/day) to eight.
        let digits = if quantity == "rotation" { 5e-8 } else { 2e-9 };
        let allowed = plus_minus.parse().unwrap_or(digits * value.abs());
        let found = flown(&worlds, quantity, name);
        assert!(!found.is_empty(), "nothing has the row {line}");
        for found in found {
            assert!(
                (found - value).abs() <= allowed,
                "{quantity} of {name}: {found} is flown, {value} is published"
            );
        }
        seen.insert((quantity.to_owned(), name.to_owned()));
    }
    for name in [
        "Venus", "Earth", "Mars", "Jupiter", "Saturn", "Titan", "Uranus", "Neptune",
    ] {
        for quantity in [
            "GM",
            "J2",
            "rotation",
            "pole declination",
            "pole right ascension",
        ] {
            assert!(
                seen.contains(&(quantity.to_owned(), name.to_owned())),
                "no row holds the {quantity} of {name}"
            );
        }
        for moon in world(name).expect("a bundled world").moons() {
            assert!(
                seen.contains(&("GM".to_owned(), moon.name.clone())),
                "no row holds the GM of {}",
                moon.name
            );
        }
    }
}

/// The rotation of Neptune, the GM of Oberon, Miranda and Titania and the J2 of Venus were 0.9 to 5 % off.
#[test]
fn the_five_constants_that_were_off_are_the_published_ones() {
    let worlds = worlds();
    for (quantity, name, was) in [
        ("rotation", "Neptune", 536.313),
        ("GM", "Oberon", 205.3),
        ("GM", "Miranda", 4.3),
        ("GM", "Titania", 226.9),
        ("J2", "Venus", 4.404e-6),
    ] {
        for found in flown(&worlds, quantity, name) {
            assert!(
                (found / was - 1.0).abs() > 5e-3,
                "{quantity} of {name}: {found}"
            );
        }
    }
}
