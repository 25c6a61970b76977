//! Held, broken, not covered, not shown: a table of flights with the verdict expected of each.

use super::{case_of, examples};
use periband::craft::radiative::TauberSutton;
use periband::ensemble::problem::SampleNumber;
use periband::ensemble::{Fleet, Progress};
use periband::report::{band_text, coverage_words, pass_text, summary};
use periband::study::Case;
use periband::study::band::find_band;
use periband::study::outcome::describe_aim;
use periband::study::single::{SinglePass, fly_single};
use periband::world::{RadiativeGas, World, bundled_names};
use serde_json::Value;

const TABLE: &str = include_str!("../reference/verdicts.txt");
const OWN: &str = include_str!("../../atmospheres/tavrelle.yaml");

/// One flight of the table.
#[derive(Default)]
struct Row {
    name: String,
    lines: Vec<(String, String)>,
}

impl Row {
    fn of(&self, key: &str) -> Option<&str> {
        let mut lines = self.lines.iter();
        lines
            .find(|(known, _)| known == key)
            .map(|(_, text)| text.as_str())
    }

    fn all<'a>(&'a self, key: &'a str) -> impl Iterator<Item = &'a str> {
        let lines = self.lines.iter().filter(move |(known, _)| known == key);
        lines.map(|(_, text)| text.as_str())
    }
}

fn rows() -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for line in TABLE
        .lines()
        .filter(|line| !line.starts_with('#') && !line.is_empty())
    {
        if let Some(name) = line.strip_prefix("=== ") {
            rows.push(Row {
                name: name.to_owned(),
                lines: Vec::new(),
            });
            continue;
        }
        let (key, text) = line.split_once(": ").expect("key and value");
        let row = rows.last_mut().expect("a name first");
        row.lines.push((key.to_owned(), text.to_owned()));
    }
    rows
}

/// Tavrelle with another word on radiation, written to a file.
fn own_world(how: &str) -> String {
    let stated =
        "radiation:\n  source: made up, as air does\n  known: invented\n  onset_speed: 9 km/s\n";
    assert_eq!(OWN.matches(stated).count(), 1);
    let other = match how {
        "none" => stated.replace("9 km/s", "none"),
        _ => String::new(),
    };
    let folder = std::env::temp_dir().join(format!("periband-verdicts-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let path = folder.join(format!("{how}.yaml"));
    std::fs::write(&path, OWN.replace(stated, &other)).expect("a world");
    path.display().to_string()
}

/// Two coefficients against Mach number, up to this one.
fn table(highest: &str) -> String {
    format!(
        "trim_angle: 0 deg, nose_radius: 1 m, aerodynamics: {{table: \"mach,drag_coefficient\\n2,1.6\\n5,1.5\\n{highest},1.4\\n\"}}"
    )
}

/// The scenario of a row; a limit of so much `of the peak` is that times `peak` (in the unit of the flux, or g).
fn scenario(row: &Row, peaks: Option<(f64, f64)>) -> String {
    let mut limits = row.of("limits").expect("limits").to_owned();
    for (key, unit, peak) in [
        ("heat_flux", "W/cm2", peaks.map(|p| p.0)),
        ("peak_deceleration", "g", peaks.map(|p| p.1)),
    ] {
        let marker = format!("{key}: ");
        let Some(start) = limits.find(&marker).map(|at| at + marker.len()) else {
            continue;
        };
        let Some(end) = limits[start..].find(" of the peak") else {
            continue;
        };
        if limits[start..start + end].contains([',', ' ']) {
            continue;
        }
        let times: f64 = limits[start..start + end].parse().expect("a number");
        // Without a peak as yet: so high that it does not matter.
        let value = peak.map_or(1e4, |peak| times * peak);
        limits.replace_range(
            start..start + end + " of the peak".len(),
            &format!("{value} {unit}"),
        );
    }
    let ship = match row.of("table") {
        Some(highest) => table(highest),
        None => format!(
            "drag_coefficient: 1.43, {}",
            row.of("ship").expect("a ship")
        ),
    };
    let world = match row.of("world").expect("a world").strip_prefix("own ") {
        Some(how) => own_world(how),
        None => row.of("world").expect("a world").to_owned(),
    };
    let aim = match (row.of("pass"), row.of("band")) {
        (Some(aim), _) => aim.to_owned(),
        (None, Some(range)) => format!("{{{range}}}"),
        (None, None) => panic!("{}: neither pass nor band", row.name),
    };
    format!(
        "title: t\nworld: {world:?}\nship: {{mass: 1000 kg, reference_area: 10.3 m2, {ship}}}\n\
         arrival:\n  entry: {{speed: {}, inclination: 41 deg, aim_periapsis: {aim}}}\n\
         uncertainty: {{air: exact, {}}}\nlimits: {limits}\n\
         ask: {{probability: 0.9, samples: {}, seed: 1}}\n",
        row.of("speed").expect("a speed"),
        row.of("draw")
            .unwrap_or("ship.mass: {normal: {std_dev: 0.1 %}}"),
        row.of("samples").unwrap_or("200"),
    )
}

fn nominal(case: &Case) -> SinglePass {
    let range = case.problem.aim();
    let at = (0.5 * (range.from_m + range.to_m), SampleNumber::Nominal);
    fly_single(&case.problem, &case.scenario.ship, at, None).expect("a flight")
}

/// The summary and the words of a row's study.
fn answered(row: &Row) -> (Value, String) {
    let first = nominal(&case_of(&scenario(row, None)));
    let result = &first.flown.result;
    let peaks = (
        result.peak_heat_flux_w_m2 / 1e4,
        result.peak_deceleration_m_s2 / periband::craft::engine::STANDARD_GRAVITY_M_S2,
    );
    let case = case_of(&scenario(row, Some(peaks)));
    if row.of("pass").is_some() {
        let single = nominal(&case);
        let words = pass_text::broken(&case, &single);
        return (pass_text::summary(&case, &single, None), words);
    }
    let progress = Progress::default();
    let found = find_band(&case.scenario, &case.problem, &progress).expect("a band");
    let fleet = Fleet::new(&case.problem, &progress);
    let aim = (found.recommended.aim_m, found.told_by.clone());
    let outcome = describe_aim(&fleet, aim, 0.95, |_| {}).expect("flown");
    let verdicts = band_text::verdicts(&case, &found, &outcome);
    let words = band_text::answer(&case, &found, verdicts.as_ref());
    let value = summary::band_summary(&case, &found, (&outcome, None), 0.0);
    (value, words)
}

#[test]
fn every_flight_of_the_table_has_the_verdict_expected_of_it() {
    let rows = rows();
    assert!(rows.len() >= 12);
    let mut wrong = Vec::new();
    let mut met = std::collections::BTreeSet::new();
    for row in &rows {
        let (summary, words) = answered(row);
        let expected = row.of("verdict").expect("a verdict");
        met.insert(expected.to_owned());
        let mut check = |holds: bool, what: &str| {
            if !holds {
                wrong.push(format!(
                    "{}: {what}\n  {words}\n  {}",
                    row.name, summary["limits"]
                ));
            }
        };
        check(summary["verdict"] == expected, &format!("not {expected}"));
        let limits = summary["limits"].as_array().expect("limits");
        for line in row.all("limit") {
            let (key, verdict) = line.split_once(' ').expect("a limit and its verdict");
            let limit = limits.iter().find(|limit| limit["limit"] == key);
            check(limit.is_some_and(|limit| limit["verdict"] == verdict), line);
        }
        if let Some(because) = row.of("because") {
            let told = limits
                .iter()
                .any(|limit| limit.to_string().contains(because));
            check(told, because);
        }
        // No answer says that all limits hold over one that does not.
        let all = words.to_lowercase().contains("all limits hold");
        check(
            !all || expected == "held" || expected == "not_shown",
            "said to hold",
        );
        check(
            words.contains("Not shown: ") == (expected == "not_shown"),
            "not said to be open",
        );
        check(
            words.contains("Not covered: ") == (expected == "not_covered"),
            "not told",
        );
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let all = ["broken", "held", "not_covered", "not_shown"];
    assert!(met.iter().map(String::as_str).eq(all), "{met:?}");
}

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
