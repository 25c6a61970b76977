//! A search for a band that was stopped goes on where it was, and ends as if it never had been.

use crate::cli::{Folder, example, periband, text};
use periband::ensemble::Progress;
use periband::report::band_store::BandStore;
use periband::study::Case;
use periband::study::band::{BandError, find_band_kept};
use periband::study::held::find_held;
use periband::study::kept::{Flight, Keeper, Record};
use serde_json::Value;
use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, SystemTime};

/// Keeps in a store, and stops the run once so many flights are kept anew.
struct Stopping<'a> {
    store: BandStore,
    progress: &'a Progress,
    left: Cell<u32>,
    kept: &'a RefCell<BTreeSet<String>>,
}

impl Keeper for Stopping<'_> {
    fn find(&self, flight: &Flight) -> Option<Record> {
        self.store.find(flight)
    }

    fn keep(&self, flight: &Flight, record: &Record) {
        self.store.keep(flight, record);
        let anew = self.kept.borrow_mut().insert(format!("{flight:?}"));
        assert!(anew, "{flight:?} was flown twice");
        self.left.set(self.left.get().saturating_sub(1));
        if self.left.get() == 0 {
            self.progress.cancel();
        }
    }
}

/// What a search gave, or that it was stopped, and the passes that it flew.
type Searched = (Option<String>, u64);

/// An example, and values set over it.
type Changed<'a> = (&'a str, &'a [(&'a str, &'a str)]);

/// A way to look for a band of a case.
type Search = fn(&Case, &Progress, Option<&dyn Keeper>) -> Option<String>;

fn whole<T: std::fmt::Debug>(found: Result<T, BandError>) -> Option<String> {
    match found {
        Ok(found) => Some(format!("{found:?}")),
        Err(BandError::Stopped { .. }) => None,
        Err(error) => panic!("{error}"),
    }
}

/// Stops a search after every few flights and goes on each time; what each round gave.
fn rounds(base: &Path, case: &Case, (search, each): (Search, u32)) -> Vec<Searched> {
    let kept = RefCell::new(BTreeSet::new());
    let mut rounds: Vec<Searched> = Vec::new();
    while rounds.last().is_none_or(|(found, _)| found.is_none()) {
        assert!(rounds.len() < 500, "it gets nowhere");
        let progress = Progress::default();
        let keeper = Stopping {
            store: BandStore::open(case, base).expect("a store"),
            progress: &progress,
            left: Cell::new(each),
            kept: &kept,
        };
        let found = search(case, &progress, Some(&keeper));
        rounds.push((found, progress.flown()));
    }
    rounds
}

/// The example with values set over it.
fn set(name: &str, values: &[(&str, &str)]) -> Case {
    let values: Vec<(String, String)> = values
        .iter()
        .map(|(key, value)| ((*key).to_owned(), (*value).to_owned()))
        .collect();
    Case::load(&crate::examples().join(name), &values).expect("a case")
}

#[test]
fn a_search_stopped_again_and_again_flies_no_aim_twice_and_finds_the_same_to_the_bit() {
    let band: Search = |case, progress, keeper| {
        whole(find_band_kept(
            &case.scenario,
            &case.problem,
            (progress, keeper),
        ))
    };
    let held: Search = |case, progress, keeper| whole(find_held(case, (progress, keeper)));
    let few = ("ask.samples", "300");
    let rare = [
        few,
        ("ask.probability", "0.99999"),
        ("limits", "{peak_deceleration: 1.2 g}"),
        (
            "uncertainty",
            "{air: exact, delivery: {periapsis_altitude: {normal: {std_dev: 0.5 km}}}}",
        ),
        (
            "arrival.hyperbola.aim_periapsis",
            "{from: 50.5 km, to: 51.5 km, step: 500 m}",
        ),
    ];
    let half = ("ask.probability", "0.5");
    let stay = ("limits.stay_above", "[]");
    let empty = [few, half, stay, ("limits.peak_deceleration", "0.6 g")];
    let steered = [("ask.samples", "20"), half];
    let (plain, steers) = ("mars-arrival.yaml", "mars-steered.yaml");
    let cases: [(&str, Changed, (Search, u32)); 5] = [
        ("band", (plain, &[few, half]), (band, 7)),
        ("empty", (plain, &empty), (band, 9)),
        ("rare", (plain, &rare), (band, 3)),
        ("steered", (steers, &steered), (band, 3)),
        ("held", (steers, &steered), (held, 3)),
    ];
    for (name, (example, values), (search, each)) in cases {
        let case = set(example, values);
        let folder = Folder::new(&format!("resume-{name}"));
        let progress = Progress::default();
        let undisturbed = search(&case, &progress, None).expect("not stopped");
        let rounds = rounds(&folder.0, &case, (search, each));
        assert!(rounds.len() > 3, "{name}: {} rounds", rounds.len());
        let last = rounds.last().expect("one");
        // The passes counted in it are those of the whole, though the last round flew few of them.
        assert_eq!(last.0.as_ref(), Some(&undisturbed), "{name}");
        assert!(last.1 < progress.flown() / 2, "{name}: {}", last.1);
        // All rounds together fly no more than one that is not stopped, but for searches cut short.
        let all: u64 = rounds.iter().map(|(_, flown)| flown).sum();
        assert!(name == "rare" || all <= progress.flown(), "{name}: {all}");
        // A finished search goes on to nothing.
        let again = Progress::default();
        let store = BandStore::open(&case, &folder.0).expect("a store");
        assert_eq!(search(&case, &again, Some(&store)), Some(undisturbed));
        let flown_for_the_answer = if name == "held" { 20 } else { 0 };
        assert_eq!(again.flown(), flown_for_the_answer, "{name}");
        let parts = |kind: &str| parts(&folder.0).keys().any(|part| part.starts_with(kind));
        assert_eq!(
            (parts("needed-"), parts("accidents-")),
            (name == "empty", name == "rare")
        );
    }
}

/// The parts under a folder under their final names, with when they were written.
fn parts(out: &Path) -> BTreeMap<String, SystemTime> {
    let listed = |folder: &Path| -> Vec<PathBuf> {
        let entries = fs::read_dir(folder).into_iter().flatten().flatten();
        entries.map(|entry| entry.path()).collect()
    };
    let mut found = BTreeMap::new();
    for file in listed(out)
        .iter()
        .flat_map(|run| listed(&run.join("band/parts")))
        .flat_map(|question| listed(&question))
    {
        let name = file
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let facts = file.metadata().and_then(|facts| facts.modified());
        if let Ok(written) = facts
            && !name.starts_with('.')
        {
            found.insert(name, written);
        }
    }
    found
}

/// The command about the Mars example; where its files go stands last.
fn command<'a>(example: &'a str, more: &[&'a str], out: &'a str) -> Vec<&'a str> {
    const ASKED: [&str; 8] = [
        "--samples",
        "3000",
        "--set",
        "ask.probability=0.99",
        "--rows",
        "all",
        "--threads",
        "1",
    ];
    [&["band", example], &ASKED[..], more, &["--out", out]].concat()
}

/// Starts the program and waits until so many more parts are there.
fn amid(folder: &Path, arguments: &[&str], (out, more): (&Path, usize)) -> Child {
    let before = parts(out).len();
    let mut child = Command::new(env!("CARGO_BIN_EXE_periband"))
        .args(arguments)
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    while parts(out).len() < before + more {
        assert!(child.try_wait().expect("a state").is_none(), "it runs on");
        std::thread::sleep(Duration::from_millis(1));
    }
    child
}

/// Kills the program amid its run, so many milliseconds after so many more parts are there.
fn killed(folder: &Path, arguments: &[&str], (out, more, later): (&Path, usize, u64)) {
    let mut child = amid(folder, arguments, (out, more));
    std::thread::sleep(Duration::from_millis(later));
    child.kill().expect("killed");
    child.wait().expect("ended");
}

/// Passes that a run with `-v` flew, and those that were kept from before.
fn passes(run: &Output) -> (u64, u64) {
    let said = text(&run.stderr);
    assert!(run.status.success(), "{said}");
    let line = said.lines().find(|line| line.contains(" passes flown, "));
    let line = line.expect("a line of the log").split_whitespace();
    let numbers: Vec<u64> = line.filter_map(|word| word.parse().ok()).collect();
    let [flown, kept] = numbers[..] else {
        panic!("{numbers:?}")
    };
    (flown, kept)
}

/// Every file of a run but the manifest, and the summary without the time that it took.
fn files(out: &Path) -> BTreeMap<String, Vec<u8>> {
    let folder = out.join("mars-arrival/band");
    let entries = fs::read_dir(&folder).expect("a folder");
    let mut files = BTreeMap::new();
    for entry in entries {
        let name = entry
            .expect("an entry")
            .file_name()
            .to_string_lossy()
            .into_owned();
        let Ok(mut bytes) = fs::read(folder.join(&name)) else {
            // A folder that another question has parts in.
            assert_eq!(name, "parts");
            continue;
        };
        if name == "summary.json" {
            let mut summary: Value = serde_json::from_slice(&bytes).expect("JSON");
            summary["wall_time_s"] = Value::Null;
            bytes = summary.to_string().into_bytes();
        }
        if name != "manifest.json" {
            files.insert(name, bytes);
        }
    }
    assert!(files.contains_key("samples.parquet") && files.len() > 10);
    files
}

/// That two runs left the same files to the byte.
fn assert_same(one: &Path, other: &Path) {
    let (one, other) = (files(one), files(other));
    assert_eq!(
        one.keys().collect::<Vec<_>>(),
        other.keys().collect::<Vec<_>>()
    );
    for (name, bytes) in &one {
        assert!(bytes == &other[name], "{name} differs");
    }
}

#[test]
fn killed_runs_go_on_and_leave_the_files_of_an_undisturbed_one() {
    let folder = Folder::new("band-kills");
    let (example, out) = (example(), folder.0.join("out"));
    let run = command(&example, &["-v"], "out");
    let whole = periband(&folder.0, &command(&example, &["-v"], "whole"));
    let (whole, none) = passes(&whole);
    assert_eq!(none, 0);
    let mut before = parts(&out);
    // Some parts later each time, and a few milliseconds that follow no rhythm of the run.
    for kill in 0..6_u64 {
        let more = 1 + usize::try_from(kill % 4).expect("few");
        killed(&folder.0, &run, (&out, more, kill * 7919 % 23));
        let after = parts(&out);
        for (name, written) in &before {
            assert_eq!(after.get(name), Some(written), "{name} was written again");
        }
        before = after;
    }
    // One killed while it wrote its rows leaves this.
    let left = out.join("mars-arrival/band/.samples.parquet.7-0-7.partial");
    fs::write(&left, "half of the rows").expect("written");
    // By a program that did not say on which machine: it is given up after a day.
    let days = SystemTime::now() - Duration::from_secs(2 * 86_400);
    let file = fs::File::options()
        .append(true)
        .open(&left)
        .expect("a file");
    file.set_modified(days).expect("a time");
    drop(file);
    let last = periband(&folder.0, &run);
    let (flown, kept) = passes(&last);
    assert_eq!(kept, before.len() as u64 * 3000, "every part is used");
    assert_eq!(flown + kept, whole);
    let said = text(&last.stderr);
    assert!(
        said.contains(&format!("Going on: {} aims are kept in ", before.len())),
        "{said}"
    );
    assert_same(&out, &folder.0.join("whole"));
    // A finished run is flown anew when asked again.
    assert!(!out.join("mars-arrival/band/parts").exists());
    assert_eq!(passes(&periband(&folder.0, &run)), (whole, 0));
}

#[cfg(unix)]
#[test]
fn an_interrupted_or_terminated_run_says_how_it_goes_on() {
    let folder = Folder::new("band-interrupt");
    let (example, out) = (example(), folder.0.join("out"));
    let run = command(&example, &[], "out");
    for signal in ["-INT", "-TERM"] {
        let child = amid(&folder.0, &run, (&out, 2));
        let sent = Command::new("kill")
            .args([signal, &child.id().to_string()])
            .status();
        assert!(sent.expect("kill starts").success());
        let ended = child.wait_with_output().expect("an end");
        let said = text(&ended.stderr)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        assert_eq!(ended.status.code(), Some(130), "{said}");
        let words = format!(
            "stopped; {} aims are kept in out/mars-arrival/band/parts/",
            parts(&out).len()
        );
        assert!(said.contains(&words), "{said}");
        assert!(
            said.contains("the same command goes on from there"),
            "{said}"
        );
    }
    let partial = fs::read(out.join("mars-arrival/band/partial.json")).expect("what was complete");
    let partial: Value = serde_json::from_slice(&partial).expect("JSON");
    assert_eq!(partial["complete"], false);
}

#[test]
fn parts_that_are_not_sound_are_told_of_and_flown_again() {
    let folder = Folder::new("band-spoilt");
    let (example, out) = (example(), folder.0.join("out"));
    let run = command(&example, &["-v"], "out");
    killed(&folder.0, &run, (&out, 6, 0));
    let there: Vec<String> = parts(&out).into_keys().collect();
    let questions = fs::read_dir(out.join("mars-arrival/band/parts")).expect("a folder");
    let own = questions.flatten().next().expect("a question").path();
    let at = |place: usize| own.join(&there[place]);
    let mut bytes = fs::read(at(0)).expect("a part");
    bytes[100] ^= 4;
    fs::write(at(0), bytes).expect("written");
    let bytes = fs::read(at(1)).expect("a part");
    fs::write(at(1), &bytes[..bytes.len() / 2]).expect("written");
    fs::copy(at(3), at(2)).expect("copied");
    fs::write(own.join("notes.txt"), "mine").expect("written");
    let went_on = periband(&folder.0, &run);
    let said = text(&went_on.stderr);
    for (place, fault) in [
        (0, "damaged: its digest does not fit"),
        (1, "cut short"),
        (2, "does not belong to this run"),
    ] {
        let words = format!("{}: {fault}; its aim is flown again", there[place]);
        let warned = said.lines().filter(|line| line.contains(&words));
        assert_eq!(warned.count(), 1, "{words}: {said}");
    }
    assert_eq!(said.matches("flown again").count(), 3, "{said}");
    assert_eq!(passes(&went_on).1, (there.len() as u64 - 3) * 3000);
    let whole = periband(&folder.0, &command(&example, &["-v"], "whole"));
    assert_eq!(passes(&whole).1, 0);
    assert_same(&out, &folder.0.join("whole"));
}

#[test]
fn another_seed_or_scenario_does_not_use_the_parts_and_leaves_them() {
    let folder = Folder::new("band-others");
    let (example, out) = (example(), folder.0.join("out"));
    let run = command(&example, &["-v"], "out");
    killed(&folder.0, &run, (&out, 5, 0));
    let there = parts(&out);
    for (change, fresh) in [
        (["--seed", "8"], "seed"),
        (["--set", "ship.mass=61t"], "mass"),
    ] {
        let more = [&change[..], &["-v"]].concat();
        let other = periband(&folder.0, &command(&example, &more, "out"));
        assert_eq!(passes(&other).1, 0);
        let said = text(&other.stderr);
        assert_eq!(said.matches("and not used here").count(), 1, "{said}");
        let alone = periband(&folder.0, &command(&example, &more, fresh));
        assert_eq!(passes(&alone), passes(&other));
        assert_same(&out, &folder.0.join(fresh));
        assert_eq!(parts(&out), there, "those of the first are left alone");
    }
    let went_on = periband(&folder.0, &run);
    assert_eq!(passes(&went_on).1, there.len() as u64 * 3000);
}
