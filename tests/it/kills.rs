//! Runs that are killed, stopped or started twice: the same command gives the undisturbed result to the byte, and
//! nothing of the dead ones is left.

use crate::cli::{Folder, example, text};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

/// Kills of each command.
const KILLS: u64 = 50;

/// The arguments of every command that leaves files, each over in a second or so.
pub(crate) fn commands() -> BTreeMap<&'static str, Vec<String>> {
    let examples = crate::examples();
    let file = |name: &str| examples.join(name).display().to_string();
    let (mars, few) = (example(), "ask.probability=0.9");
    let log = file("mars-flight-log.csv");
    let wide = "arrival.hyperbola.aim_periapsis={from: 50 km, to: 52 km, step: 1 km}";
    let lists: [(&str, Vec<&str>); 12] = [
        ("pass", vec![&mars, "--periapsis", "51km"]),
        (
            "band",
            vec![&mars, "--samples", "100", "--set", few, "--set", wide],
        ),
        ("capture", vec![&mars, "--samples", "60", "--set", few]),
        (
            "influence",
            vec![&mars, "--periapsis", "51km", "--rows", "64", "--halve", "0"],
        ),
        ("corridor", vec![&mars]),
        ("campaign", vec!["CAMPAIGN", "--campaigns", "2"]),
        ("land", vec!["LAND", "--samples", "40"]),
        (
            "learn",
            vec![
                &mars,
                "--flight",
                &log,
                "--periapsis",
                "51.2km",
                "--until-next",
                "9h",
            ],
        ),
        (
            "sweep",
            vec![
                &mars,
                "pass",
                "--vary",
                "ship.mass=50t..70t:5",
                "--set",
                "arrival.hyperbola.aim_periapsis=51 km",
            ],
        ),
        (
            "run",
            vec![
                &mars,
                "--samples",
                "400",
                "--aims",
                "51km",
                "--shards",
                "20",
                "--set",
                few,
            ],
        ),
        (
            "plan",
            vec![
                &mars,
                "--samples",
                "400",
                "--aims",
                "51km",
                "--shards",
                "4",
                "--set",
                few,
            ],
        ),
        ("worlds", vec!["mars", "--figure"]),
    ];
    let (campaign, land) = (file("mars-campaign.yaml"), file("ballistic-landing.yaml"));
    let named = |word: &str| match word {
        "CAMPAIGN" => campaign.clone(),
        "LAND" => land.clone(),
        other => other.to_owned(),
    };
    let whole = |(name, list): (&'static str, Vec<&str>)| {
        let words = std::iter::once(name).chain(list);
        (name, words.map(named).collect())
    };
    lists.into_iter().map(whole).collect()
}

/// The arguments of one of them.
pub(crate) fn command(name: &str) -> Vec<String> {
    commands().remove(name).expect("a command")
}

pub(crate) fn start(folder: &Path, arguments: &[String]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_periband"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("COLUMNS")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts")
}

pub(crate) fn done(folder: &Path, arguments: &[String]) -> Output {
    let run = start(folder, arguments).wait_with_output().expect("an end");
    let said = text(&run.stderr);
    assert!(run.status.success(), "{arguments:?}: {said}");
    run
}

/// Every file below a folder by its path in it, hidden ones too.
pub(crate) fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    fn look(base: &Path, folder: &Path, found: &mut BTreeMap<PathBuf, Vec<u8>>) {
        for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                look(base, &path, found);
            } else if path.is_file() {
                let name = path.strip_prefix(base).expect("below").to_owned();
                found.insert(name, fs::read(&path).expect("a file"));
            }
        }
    }
    let mut found = BTreeMap::new();
    look(folder, folder, &mut found);
    found
}

/// What of a result is the same for every run: all but how long it took, when it was and what was there before.
pub(crate) fn lasting(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = files(folder);
    for (name, bytes) in &mut found {
        let file = name.file_name().unwrap_or_default();
        let entries: &[&str] = match file.to_str() {
            Some("summary.json") => &["wall_time_s", "run", "kept"],
            // The summary has another hash and length for another wall time.
            Some("manifest.json") => &["clock"],
            _ => continue,
        };
        let mut value: Value = serde_json::from_slice(bytes).expect("JSON");
        for file in value["files"].as_array_mut().into_iter().flatten() {
            if file["name"] == "summary.json" {
                (file["bytes"], file["sha256"]) = (Value::Null, Value::Null);
            }
        }
        for entry in entries {
            if let Some(entry) = value.get_mut(entry) {
                *entry = Value::Null;
            }
        }
        *bytes = value.to_string().into_bytes();
    }
    found
}

/// That two folders hold the same results.
fn assert_same(found: &Path, wanted: &Path, about: &str) {
    let (found, wanted) = (lasting(found), lasting(wanted));
    let names = |files: &BTreeMap<PathBuf, Vec<u8>>| files.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(&found), names(&wanted), "{about}");
    for (name, bytes) in &found {
        assert!(
            wanted[name] == *bytes,
            "{about}: {} differs",
            name.display()
        );
    }
    assert!(!found.is_empty(), "{about}: nothing was compared");
}

/// A share from 0 to 1 that follows no rhythm (a multiplicative sequence of the golden section).
fn irregular(number: u64) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a hundred or so")]
    let turned = number as f64 * 0.618_033_988_749_895;
    turned.fract()
}

/// Kills a command fifty times at moments from its start to its end, then lets it end; `before` is done in a folder
/// before it.
fn fifty_kills(name: &str, arguments: &[String], before: &dyn Fn(&Path)) {
    let folder = Folder::new(&format!("fifty-{name}"));
    let (disturbed, whole) = (folder.0.join("disturbed"), folder.0.join("whole"));
    for path in [&disturbed, &whole] {
        fs::create_dir_all(path).expect("a folder");
        before(path);
    }
    let started = Instant::now();
    done(&whole, arguments);
    let takes = started.elapsed();
    let (mut kills, mut tries) = (0, 0);
    while kills < KILLS {
        tries += 1;
        assert!(tries < 10 * KILLS, "{name}: it is over too soon");
        let mut child = start(&disturbed, arguments);
        std::thread::sleep(takes.mul_f64(irregular(tries)));
        if child.try_wait().expect("a state").is_none() {
            child.kill().expect("killed");
            kills += 1;
        }
        child.wait().expect("ended");
    }
    done(&disturbed, arguments);
    assert_same(&disturbed, &whole, name);
}

macro_rules! killed {
    ($($test:ident $name:literal),*) => {$(
        #[test]
        fn $test() {
            fifty_kills($name, &command($name), &|_| {});
        }
    )*};
}

killed! {
    fifty_kills_of_band "band",
    fifty_kills_of_capture "capture",
    fifty_kills_of_influence "influence",
    fifty_kills_of_campaign "campaign",
    fifty_kills_of_land "land",
    fifty_kills_of_learn "learn",
    fifty_kills_of_sweep "sweep",
    fifty_kills_of_run "run"
}

/// A plan of few shards in the folder `r`, for `shard` and `merge`.
fn plan_in(folder: &Path) {
    let mut plan = command("plan");
    plan.extend(["--out".to_owned(), "r".to_owned()]);
    done(folder, &plan);
}

fn words(list: &[&str]) -> Vec<String> {
    list.iter().map(|&word| word.to_owned()).collect()
}

#[test]
fn fifty_kills_of_shard() {
    fifty_kills("shard", &words(&["shard", "r", "--index", "2"]), &plan_in);
}

#[test]
fn fifty_kills_of_merge() {
    fifty_kills("merge", &words(&["merge", "r"]), &|folder| {
        plan_in(folder);
        for index in ["0", "1", "2", "3"] {
            done(folder, &words(&["shard", "r", "--index", index]));
        }
    });
}

/// Twenty pairs in all: both complete, or one is refused and told who holds the folder; the result is the undisturbed one.
#[test]
fn two_runs_at_once_in_one_folder() {
    let folder = Folder::new("pairs");
    let mut pairs = 0;
    let mut refused = 0;
    for (name, arguments) in commands() {
        let (once, twice) = (
            folder.0.join("once").join(name),
            folder.0.join("twice").join(name),
        );
        for path in [&once, &twice] {
            fs::create_dir_all(path).expect("a folder");
        }
        done(&once, &arguments);
        for _ in 0..2 {
            let pair = [start(&twice, &arguments), start(&twice, &arguments)];
            let numbers = [pair[0].id(), pair[1].id()];
            let ended = pair.map(|child| child.wait_with_output().expect("an end"));
            let codes = [ended[0].status.code(), ended[1].status.code()];
            let said = [text(&ended[0].stderr), text(&ended[1].stderr)];
            assert!(codes.contains(&Some(0)), "{name}: {codes:?} {said:?}");
            for (mine, other) in [(0, 1), (1, 0)] {
                if codes[mine] == Some(0) {
                    continue;
                }
                assert_eq!(codes[mine], Some(4), "{name}: {said:?}");
                let flat = said[mine].split_whitespace().collect::<Vec<_>>().join(" ");
                let holder = format!("is in use: process {} on ", numbers[other]);
                assert!(
                    flat.contains(&holder) && flat.contains("--out"),
                    "{name}: {flat}"
                );
                refused += 1;
            }
            pairs += 1;
            assert_same(&twice, &once, name);
        }
    }
    assert!(pairs >= 20 && refused >= 5, "{refused} of {pairs}");
}

/// Every command, stopped amid flying, drawing and writing: over within two seconds, with nothing half-written.
#[cfg(unix)]
#[test]
fn a_request_to_end_is_met_within_two_seconds_drawing_included() {
    let folder = Folder::new("terminated");
    for (name, arguments) in commands() {
        let path = folder.0.join(name);
        fs::create_dir_all(&path).expect("a folder");
        let started = Instant::now();
        done(&path, &arguments);
        let takes = started.elapsed();
        for (signal, share) in [("-TERM", 0.35), ("-INT", 0.75), ("-TERM", 0.95)] {
            let child = start(&path, &arguments);
            // Before it listens, a process has its default end.
            std::thread::sleep(takes.mul_f64(share).max(Duration::from_millis(150)));
            let sent = Instant::now();
            let kill = Command::new("kill")
                .args([signal, &child.id().to_string()])
                .output();
            kill.expect("kill starts");
            let ended = child.wait_with_output().expect("an end");
            let took = sent.elapsed();
            assert!(
                took < Duration::from_secs(2),
                "{name} took {took:?} after {signal}"
            );
            let code = ended.status.code();
            assert!(
                matches!(code, Some(0 | 130)),
                "{name}: {code:?} {}",
                text(&ended.stderr)
            );
            for left in files(&path).keys() {
                let left = left.display().to_string();
                assert!(
                    !left.ends_with(".partial") && !left.ends_with(".in-use"),
                    "{left}"
                );
            }
        }
    }
}
