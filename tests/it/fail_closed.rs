//! What cannot be told is refused or told as such; it never counts as held.

use periband::ensemble::{LimitSet, Problem, ProblemError};
use periband::scenario::limits::Limit;
use periband::scenario::{STARTER, Scenario};
use periband::world::World;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Thirty-three limits do not fit into the bits by which a pass is judged: the last would have stood for the first. A
/// scenario file has room for fewer levels than that; a scenario made from Rust has not.
#[test]
fn more_limits_than_a_pass_is_judged_by_are_refused() {
    let mut scenario = Scenario::from_text("x.yaml", STARTER).expect("reads");
    let world = World::bundled(&scenario.world).expect("a bundled world");
    let count = |scenario: &Scenario| {
        let problem = Problem::new(scenario, &world)?;
        Ok::<usize, ProblemError>(problem.limits().entries().len())
    };
    let before = count(&scenario).expect("few enough");
    let mut entries = scenario.limits.entries().iter();
    let stay = entries.find(|limit| limit.level_m_s2.is_some());
    let stay = *stay.expect("a level");
    let at = |place| Limit {
        kind: stay.kind.at(place),
        ..stay
    };
    for place in before..LimitSet::MOST {
        scenario.limits.push(at(place));
    }
    assert_eq!(LimitSet::MOST, 32, "bits of a `u32`");
    scenario.limits.push(at(LimitSet::MOST));
    let refused = count(&scenario).expect_err("one too many").to_string();
    assert!(refused.contains("33 limits, 32 at the most"), "{refused}");
}

/// What fails open in a study or an ensemble: a number that stands for a number that could not be had.
const PATTERNS: [(&str, &str); 5] = [
    (
        "unwrap_or(u64::MAX)",
        "the largest number in place of one that could not be had",
    ),
    (
        "unwrap_or(u32::MAX)",
        "the largest number in place of one that could not be had",
    ),
    (
        "unwrap_or(usize::MAX)",
        "the largest number in place of one that could not be had",
    ),
    ("f64::NAN", "NaN in place of none"),
    ("unwrap_or(0.0)", "nothing in place of what is not known"),
];

/// Where one of them stands for a reason: file, pattern, how often, why. Once one is mended its line goes.
const ALLOWED: [(&str, &str, usize, &str); 27] = [
    (
        "ensemble/precision.rs",
        "unwrap_or(0.0)",
        1,
        "where no pass leaves the air no exit speed can be off",
    ),
    (
        "ensemble/angle.rs",
        "f64::NAN",
        1,
        "inside a search for a root, which ends without one there; what it finds is verified",
    ),
    (
        "study/afterwards.rs",
        "f64::NAN",
        1,
        "inside a search for a root, which ends without one there",
    ),
    (
        "ensemble/air.rs",
        "unwrap_or(0.0)",
        1,
        "a world without a wind's spread has none",
    ),
    (
        "ensemble/sources.rs",
        "unwrap_or(0.0)",
        1,
        "a world without a wind's spread has none",
    ),
    (
        "ensemble/margin.rs",
        "unwrap_or(0.0)",
        1,
        "orders passes alone; whether a limit is broken comes from the limit",
    ),
    (
        "ensemble/campaign/burns.rs",
        "f64::NAN",
        2,
        "columns of a campaign, written as null",
    ),
    (
        "ensemble/campaign/record.rs",
        "f64::NAN",
        4,
        "columns of a campaign, written as null",
    ),
    (
        "ensemble/campaign/flight.rs",
        "f64::NAN",
        5,
        "a ship before its start, and a period on the way in, written as null",
    ),
    (
        "ensemble/campaign/start.rs",
        "f64::NAN",
        1,
        "no value at this place, to a root finder",
    ),
    (
        "study/campaign.rs",
        "f64::NAN",
        1,
        "a median of no campaign, shown as a dash",
    ),
    (
        "study/sweep/campaign.rs",
        "f64::NAN",
        1,
        "a median of no campaign, shown as a dash",
    ),
    (
        "study/capture/air.rs",
        "f64::NAN",
        1,
        "propellant of a ship without an engine, told as none",
    ),
    (
        "study/capture/flights.rs",
        "f64::NAN",
        2,
        "propellant of a ship that is lost, and a quantile of nothing; told as none",
    ),
    (
        "study/capture/gentle.rs",
        "f64::NAN",
        1,
        "propellant of a ship that is lost, counted as lost",
    ),
    (
        "study/capture/row.rs",
        "f64::NAN",
        1,
        "a time of no ship, shown as a dash",
    ),
    (
        "study/capture/setting.rs",
        "f64::NAN",
        1,
        "propellant of a ship without an engine, told as none",
    ),
    (
        "study/corridor/mod.rs",
        "f64::NAN",
        1,
        "a speed of no approach, shown as a dash",
    ),
    (
        "study/landing/aims.rs",
        "f64::NAN",
        1,
        "an angle of no approach, shown as a dash",
    ),
    (
        "study/landing/approach.rs",
        "f64::NAN",
        1,
        "no value at this place, to a root finder",
    ),
    (
        "study/landing/choose.rs",
        "f64::NAN",
        2,
        "ends of an empty range, in a message",
    ),
    (
        "study/landing/footprint.rs",
        "f64::NAN",
        2,
        "a place that is nowhere, left out of the outline",
    ),
    (
        "study/landing/outside.rs",
        "f64::NAN",
        1,
        "a value that was not measured, shown as a dash",
    ),
    (
        "study/learn/fit.rs",
        "f64::NAN",
        1,
        "a reading that a flight does not reach",
    ),
    (
        "study/learn/known.rs",
        "f64::NAN",
        1,
        "readings that a flight does not reach",
    ),
    (
        "study/live/mod.rs",
        "f64::NAN",
        3,
        "severities that are continued from their neighbours",
    ),
    (
        "study/learn/readings.rs",
        "unwrap_or(0.0)",
        1,
        "noise of too few rows, of which the larger of two is taken",
    ),
];

/// The lines of a source file that are neither comments nor tests.
fn code(text: &str) -> impl Iterator<Item = &str> {
    let tests = text.find("#[cfg(test)]").unwrap_or(text.len());
    let lines = text[..tests].lines().map(str::trim_start);
    lines.filter(|line| !line.starts_with("//"))
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

/// No study and no ensemble puts a number in the place of one that it does not have, but where a line above says why
/// nothing is told wrong by it.
#[test]
fn nothing_stands_for_what_is_not_known() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    for folder in ["study", "ensemble"] {
        sources(&root.join(folder), &mut files);
    }
    assert!(files.len() > 80, "{} files are read", files.len());
    let mut wrong = String::new();
    for path in files {
        let name = path.strip_prefix(&root).expect("below the root");
        let name = name.to_string_lossy().replace('\\', "/");
        let text = std::fs::read_to_string(&path).expect("readable");
        for (pattern, what) in PATTERNS {
            let found = code(&text)
                .map(|line| line.matches(pattern).count())
                .sum::<usize>();
            let allowed = ALLOWED.iter().find(|one| one.0 == name && one.1 == pattern);
            let most = allowed.map_or(0, |one| one.2);
            if found > most {
                let _ = writeln!(
                    wrong,
                    "{name}: `{pattern}` {found} times, {most} allowed: {what}"
                );
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}
