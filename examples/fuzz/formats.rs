//! The kinds of files the program reads, each with good ones to start from and the reader that is tried.
//! A new kind of file is one more entry of [`formats`].

use super::shards;
use periband::craft::aero_csv::read_aero_table;
use periband::ensemble::{Fleet, Problem, Progress};
use periband::scenario::document::Document;
use periband::scenario::flight_log::FlightLog;
use periband::scenario::opm::Opm;
use periband::scenario::{STARTER, Scenario};
use periband::study::Case;
use periband::world::World;
use std::path::{Path, PathBuf};

/// What became of an input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// It was read.
    Taken,
    /// It was refused with a message.
    Refused,
}

/// One kind of file.
pub(crate) struct Format {
    /// Its name.
    pub(crate) name: &'static str,
    /// Good files.
    pub(crate) seeds: Vec<Vec<u8>>,
    /// Share of all inputs, relative to the others.
    pub(crate) weight: u64,
    /// Reads an input, and does with it what a run would do first. Must not panic.
    pub(crate) read: fn(&[u8]) -> Outcome,
}

/// Every kind.
pub(crate) fn formats() -> Vec<Format> {
    vec![
        Format {
            name: "scenario",
            seeds: scenarios(),
            weight: 3,
            read: scenario,
        },
        Format {
            name: "flown scenario",
            seeds: scenarios(),
            weight: 1,
            read: flown_scenario,
        },
        Format {
            name: "world",
            seeds: worlds(),
            weight: 2,
            read: world,
        },
        Format {
            name: "coefficient table",
            seeds: tables(),
            weight: 5,
            read: table,
        },
        Format {
            name: "flight log",
            seeds: files(&root().join("examples"), "csv"),
            weight: 2,
            read: |input| read_text(input, |text| FlightLog::from_text("input.csv", text)),
        },
        Format {
            name: "orbit message",
            seeds: files(&root().join("examples"), "opm"),
            weight: 4,
            read: |input| read_text(input, |text| Opm::from_text("input.opm", text)),
        },
        Format {
            name: "plan of a run",
            seeds: vec![shards::run().plan.clone().into_bytes()],
            weight: 3,
            read: shards::plan,
        },
        Format {
            name: "part of a run",
            seeds: vec![shards::run().part.clone().into_bytes()],
            weight: 3,
            read: shards::part,
        },
        Format {
            name: "value set on the command line",
            seeds: settings(),
            weight: 3,
            read: setting,
        },
    ]
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// The files of a folder with this ending, in the order of their names.
fn files(folder: &Path, ending: &str) -> Vec<Vec<u8>> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.path()).collect();
    paths.retain(|path| path.extension().is_some_and(|found| found == ending));
    paths.sort();
    paths
        .iter()
        .filter_map(|path| std::fs::read(path).ok())
        .collect()
}

fn scenarios() -> Vec<Vec<u8>> {
    // Files beside them are named from their own folder.
    let folder = root().join("examples").display().to_string();
    let all = files(&root().join("examples"), "yaml").into_iter();
    let placed = all.map(|bytes| {
        let text = String::from_utf8_lossy(&bytes).into_owned();
        text.replace("./", &format!("{folder}/")).into_bytes()
    });
    let mut all: Vec<Vec<u8>> = placed.collect();
    all.push(STARTER.as_bytes().to_vec());
    all.push(include_bytes!("../../tests/it/bad_scenarios/base.yaml").to_vec());
    all
}

fn worlds() -> Vec<Vec<u8>> {
    let mut all = files(&root().join("atmospheres"), "yaml");
    all.extend(files(&root().join("examples/worlds"), "yaml"));
    all
}

fn tables() -> Vec<Vec<u8>> {
    let full = "# a table\nangle_of_attack_deg,mach,knudsen,drag_coefficient,lift_coefficient\n\
        0,2,0.001,1.5,0\n0,20,0.001,1.6,0\n0,2,10,2.1,0\n0,20,10,2.2,0\n\
        10,2,0.001,1.4,-0.2\n10,20,0.001,1.5,-0.3\n10,2,10,2.0,-0.1\n10,20,10,2.1,-0.1\n";
    let bare = "mach,drag_coefficient\n1,1.2\n5,1.5\n20,1.6\n";
    let body = "angle_of_attack_deg,axial_coefficient,normal_coefficient\n-5,1.5,-0.1\n0,1.6,0\n5,1.5,0.1\n";
    [full, bare, body]
        .map(|text| text.as_bytes().to_vec())
        .to_vec()
}

fn settings() -> Vec<Vec<u8>> {
    [
        "ship.mass=60t",
        "limits.stay_above.0.level=1.1 g",
        "arrival.hyperbola.aim_periapsis={from: 40 km, to: 60 km, step: 1 km}",
        "uncertainty.ship.mass={normal: {std_dev: 0.3 %}}",
        "limits.captured_below.apoapsis_altitude=100000 km",
        "ask.probability=0.999",
        "world=venus",
    ]
    .map(|text| text.as_bytes().to_vec())
    .to_vec()
}

#[allow(clippy::needless_pass_by_value)] // what was read is dropped here
fn outcome<T, E>(result: Result<T, E>) -> Outcome {
    match result {
        Ok(_) => Outcome::Taken,
        Err(_) => Outcome::Refused,
    }
}

/// As the program does before it flies: the text, the sections, the world, the problem.
fn scenario(input: &[u8]) -> Outcome {
    let Some(case) = case(input) else {
        return Outcome::Refused;
    };
    outcome(Problem::new(&case.scenario, &case.world))
}

fn case(input: &[u8]) -> Option<Case> {
    let text = std::str::from_utf8(input).ok()?;
    let scenario = Scenario::from_text("input.yaml", text).ok()?;
    Case::from_scenario(scenario).ok()
}

/// As well as a scenario is read: a few of its passes are flown.
fn flown_scenario(input: &[u8]) -> Outcome {
    let Some(case) = case(input) else {
        return Outcome::Refused;
    };
    let progress = Progress::default();
    let range = case.problem.aim();
    let fleet = Fleet::new(&case.problem, &progress);
    outcome(fleet.tally(&[range.from_m, range.to_m], 0..2))
}

/// Of an input that is text at all.
fn read_text<T, E>(input: &[u8], read: impl Fn(&str) -> Result<T, E>) -> Outcome {
    std::str::from_utf8(input).map_or(Outcome::Refused, |text| outcome(read(text)))
}

fn world(input: &[u8]) -> Outcome {
    read_text(input, |text| World::from_text("input.yaml", text))
}

fn table(input: &[u8]) -> Outcome {
    read_text(input, read_aero_table)
}

fn setting(input: &[u8]) -> Outcome {
    let Ok(text) = std::str::from_utf8(input) else {
        return Outcome::Refused;
    };
    let (key, value) = text.split_once('=').unwrap_or((text, ""));
    let Ok(mut document) = Document::from_text("input.yaml", STARTER) else {
        return Outcome::Refused;
    };
    if document.set(key, value).is_err() {
        return Outcome::Refused;
    }
    let Ok(scenario) = Scenario::from_document(&document) else {
        return Outcome::Refused;
    };
    // What was run has to be readable again, as the same scenario.
    let again = Scenario::from_text("input.yaml", &document.as_run());
    // But for what was set over it.
    let words = |scenario: &Scenario| -> Vec<String> {
        let lines = scenario.describe().into_iter();
        lines.take_while(|line| !line.starts_with("Set")).collect()
    };
    let same = again.is_ok_and(|again| words(&again) == words(&scenario));
    assert!(same, "the scenario as run is another");
    Outcome::Taken
}
