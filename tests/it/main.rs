//! One integration binary: the program against the world outside, and against itself.

mod air_grades;
mod approaches;
mod bad_scenarios;
mod band_chain;
mod band_resume;
mod browser;
mod campaigns;
mod campaigns_cli;
mod capture;
mod cli;
mod closed_form;
mod coefficients;
mod compare;
mod constants;
mod convergence;
mod corridor;
mod curves;
mod dependencies;
mod determinism;
mod draws;
mod exposure;
mod fail_closed;
#[path = "../../examples/flight_log.rs"]
mod flight_log;
mod flights;
#[path = "../../examples/fuzz/mod.rs"]
mod fuzz;
mod fuzzing;
mod gates;
mod hardening;
mod heating_errors;
mod kills;
mod landing;
mod landing_approach;
mod layering;
mod learn;
mod live;
mod live_page;
mod loses_nothing;
mod messages;
mod people;
mod plots;
mod properties;
mod rare;
mod regression;
mod sensitivity;
mod shards;
mod snapshots;
mod spots;
mod statistics;
mod steering;
mod sweep;
mod telling;
mod theory;
mod told;
mod total_above;
mod track;
mod unflown;
mod verdicts;
#[path = "../../examples/verification/mod.rs"]
mod verification;
mod walls;

use periband::scenario::Scenario;
use periband::study::Case;
use std::path::{Path, PathBuf};

/// The folder of the bundled examples.
fn examples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples")
}

/// A bundled example by its file name.
fn example(name: &str) -> Case {
    Case::load(&examples().join(name), &[]).expect("a bundled example is valid")
}

/// A bundled example with some of its keys set to other values.
fn changed_example(name: &str, sets: &[(&str, &str)]) -> Case {
    let sets: Vec<(String, String)> = sets
        .iter()
        .map(|(key, value)| ((*key).to_owned(), (*value).to_owned()))
        .collect();
    Case::load(&examples().join(name), &sets).expect("a valid scenario")
}

/// A case of a scenario text whose world is a bundled name.
fn case_of(text: &str) -> Case {
    let scenario = Scenario::from_text("test.yaml", text).expect("a valid scenario");
    Case::from_scenario(scenario).expect("a case that can be flown")
}

/// A case of a scenario text whose world file lies under `tests/it/worlds`.
fn case_of_file(world: &str, text: &str) -> Case {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/it/worlds/{world}.yaml"));
    let text = text.replace(&format!("./{world}.yaml"), &path.display().to_string());
    case_of(&text)
}
