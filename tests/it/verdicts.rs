//! Held, broken, not covered, not shown.

use super::{case_of, examples};
use periband::craft::radiative::TauberSutton;
use periband::ensemble::problem::SampleNumber;
use periband::report::{coverage_words, pass_text};
use periband::study::Case;
use periband::study::single::fly_single;
use periband::world::{RadiativeGas, World, bundled_names};

/// Titan in 6.5 km/s, as it was found.
#[test]
fn titan_yaml_is_not_covered_for_its_heat() {
    let text = "title: Titan aerocapture\nworld: titan\n\
        ship: {name: T, mass: 1000 kg, reference_area: 10.3 m2, drag_coefficient: 1.43, lift_to_drag: 0.25, \
        bank: 90 deg, nose_radius: 0.9 m}\n\
        arrival:\n  entry: {speed: 6.5 km/s, inclination: 41 deg, aim_periapsis: {from: 150 km, to: 450 km, step: 20 km}}\n\
        limits:\n  peak_deceleration: 8 g\n  heat_flux: 40 W/cm2\n  captured_below: {apoapsis_altitude: 50000 km}\n\
        ask: {probability: 0.9, samples: 500, seed: 1}\n";
    let case = case_of(text);
    let at = (307e3, SampleNumber::Nominal);
    let single = fly_single(&case.problem, &case.scenario.ship, at, None).expect("a flight");
    let words = pass_text::broken(&case, &single);
    assert!(!words.contains("All limits hold"), "{words}");
    let covered = pass_text::summary(&case, &single, None)["limits"][1].clone();
    assert_eq!(covered["limit"], "heat_flux");
    let verdict = covered["verdict"].as_str().expect("a verdict");
    assert!(["broken", "not_covered"].contains(&verdict), "{covered}");
    assert!(covered["not_covered_because"].is_string(), "{covered}");
    assert_eq!(covered["held"], false);
}

#[test]
fn radiation_asked_of_a_gas_without_a_correlation_is_refused() {
    let text = "title: t\nworld: titan\n\
        ship: {mass: 1000 kg, reference_area: 10.3 m2, drag_coefficient: 1.43, nose_radius: 0.9 m, \
        heating: {radiative: yes}}\n\
        arrival:\n  entry: {speed: 6.5 km/s, inclination: 41 deg, aim_periapsis: 307 km}\n";
    let folder = std::env::temp_dir().join(format!("periband-radiative-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let path = folder.join("t.yaml");
    std::fs::write(&path, text).expect("a scenario");
    let refused = Case::load(&path, &[])
        .expect_err("no correlation")
        .to_string();
    for told in [
        "no correlation of radiative heating covers the gas of Titan",
        "key:  ship.heating.radiative",
        "radiation_bound",
    ] {
        assert!(refused.contains(told), "{refused}");
    }
    std::fs::write(&path, text.replace("titan", "mars").replace("307", "45")).expect("a scenario");
    assert!(Case::load(&path, &[]).is_ok());
    std::fs::remove_dir_all(&folder).expect("the folder goes");
}

#[test]
fn a_world_radiates_from_the_first_speed_of_its_correlation_on() {
    for name in bundled_names() {
        let world = World::bundled(name).expect("bundled");
        let onset = world.radiation().and_then(|radiation| radiation.onset_m_s);
        let first = match world.radiative() {
            Some(RadiativeGas::Air) => TauberSutton::earth().slowest_m_s(),
            Some(RadiativeGas::Mars) => TauberSutton::mars().slowest_m_s(),
            None => continue,
        };
        assert_eq!(onset, Some(first), "{name}");
    }
}

/// The examples stay judged: of none is a limit not covered, and of those at Mars heat is judged within its bound.
#[test]
fn the_examples_stay_judged() {
    let (mut seen, mut bounded) = (0, 0);
    for entry in std::fs::read_dir(examples()).expect("the examples") {
        let path = entry.expect("an entry").path();
        if path.extension().is_none_or(|end| end != "yaml") {
            continue;
        }
        let case = Case::load(&path, &[]).expect("a valid example");
        let told = coverage_words::range_json(&case);
        for limit in told.as_array().expect("limits") {
            assert_eq!(limit["covered"], true, "{}: {limit}", path.display());
            seen += 1;
            bounded += u32::from(limit["covered_by"].is_object());
        }
    }
    assert!(
        seen > 40 && bounded > 8,
        "{seen} limits, {bounded} within a bound"
    );
}
