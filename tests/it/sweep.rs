//! Sweeps: the same luck at every point, what is kept and gone on from, and what is refused.

use crate::cli::{Folder, example, periband, text};
use crate::examples;
use periband::ensemble::Progress;
use periband::report::sweep_store::SweepStore;
use periband::scenario::document::Document;
use periband::scenario::variation::Variation;
use periband::study::sweep::{
    Answer, Keeper, Sweep, SweepError, SweepResult, SweptStudy, Unfinished, run_sweep,
};
use std::collections::HashMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

fn document() -> Document {
    let mut document = Document::read(&examples().join("mars-arrival.yaml")).expect("an example");
    document.set("ask.samples", "1400").expect("set");
    document
}

fn variations(texts: &[&str]) -> Vec<Variation> {
    texts
        .iter()
        .map(|v| Variation::parse(v).expect("values"))
        .collect()
}

/// Keeps answers in memory, and cancels the run after some of them.
#[derive(Default)]
struct Memory {
    kept: HashMap<String, Answer>,
    stop_after: Option<usize>,
    asked: usize,
}

struct Stopping<'a>(&'a mut Memory, &'a Progress);

impl Keeper for Stopping<'_> {
    type Error = std::convert::Infallible;

    fn find(&mut self, depends_on: &str) -> Option<Answer> {
        self.0.asked += 1;
        self.0.kept.get(depends_on).cloned()
    }

    fn keep(&mut self, depends_on: &str, answer: &Answer) -> Result<(), Self::Error> {
        self.0.kept.insert(depends_on.to_owned(), answer.clone());
        if Some(self.0.kept.len()) == self.0.stop_after {
            self.1.cancel();
        }
        Ok(())
    }
}

fn go(sweep: &Sweep<'_>, memory: &mut Memory) -> Result<SweepResult, (usize, usize)> {
    let progress = Progress::default();
    let points = sweep.points().expect("points");
    let mut keeper = Stopping(memory, &progress);
    run_sweep(sweep, &points, (&mut keeper, &progress)).map_err(|unfinished| match unfinished {
        Unfinished::Stopped { done, of } => (done, of),
        Unfinished::Keeping(never) => match never {},
    })
}

#[test]
fn a_sweep_of_two_by_ten_that_is_stopped_goes_on_and_ends_the_same() {
    let document = document();
    let variations = variations(&[
        "ship.lift_to_drag=0,0.2",
        "arrival.hyperbola.aim_periapsis=46km..55km:10",
    ]);
    let sweep = Sweep {
        document: &document,
        variations: &variations,
        study: SweptStudy::find("pass").expect("a study"),
    };
    let whole = go(&sweep, &mut Memory::default()).expect("not stopped");
    assert_eq!((whole.run, whole.kept, whole.rows.len()), (20, 0, 20));
    let mut memory = Memory {
        stop_after: Some(7),
        ..Memory::default()
    };
    assert_eq!(go(&sweep, &mut memory), Err((7, 20)));
    assert_eq!(memory.kept.len(), 7, "what was done is kept");
    memory.stop_after = None;
    let rest = go(&sweep, &mut memory).expect("not stopped");
    assert_eq!((rest.run, rest.kept), (13, 7), "nothing is repeated");
    assert_eq!(rest.rows, whole.rows);
    let again = go(&sweep, &mut memory).expect("not stopped");
    assert_eq!((again.run, again.kept), (0, 20));
    assert_eq!(again.rows, whole.rows);
}

#[test]
fn answers_are_kept_by_what_they_depend_on() {
    let document = document();
    let (few, other) = (
        variations(&["arrival.hyperbola.aim_periapsis=50km,51km"]),
        variations(&["arrival.hyperbola.aim_periapsis=51000m,52000m"]),
    );
    let study = SweptStudy::find("pass").expect("a study");
    let sweep = |variations, document| Sweep {
        document,
        variations,
        study,
    };
    let mut memory = Memory::default();
    let run = |result: SweepResult| (result.run, result.kept);
    let first = go(&sweep(&few, &document), &mut memory).expect("not stopped");
    assert_eq!(run(first), (2, 0));
    // Another way to write a value is another scenario as far as the text goes.
    let second = go(&sweep(&other, &document), &mut memory).expect("not stopped");
    assert_eq!(run(second), (2, 0));
    let mut heavier = document.clone();
    heavier.set("ship.mass", "70 t").expect("set");
    let third = go(&sweep(&few, &heavier), &mut memory).expect("not stopped");
    assert_eq!(run(third), (2, 0), "a heavier ship is another question");
    // Set over the file or written in it, in whatever order: the same scenario.
    let mut same = Document::from_text("other.yaml", &document.as_run()).expect("a text");
    same.set("ask.seed", "7").expect("set");
    let fourth = go(&sweep(&few, &same), &mut memory).expect("not stopped");
    assert_eq!(run(fourth), (0, 2));
}

/// So that points differ by what is varied alone: the tolerance is the tightest that any of them asks for, and an
/// answer is kept under it.
#[test]
fn every_point_is_flown_at_one_tolerance() {
    let mut document = document();
    let variations = variations(&["arrival.hyperbola.excess_speed=1km/s..9km/s:5"]);
    document
        .set("arrival.hyperbola.aim_periapsis", "52 km")
        .expect("set");
    let sweep = Sweep {
        document: &document,
        variations: &variations,
        study: SweptStudy::find("pass").expect("a study"),
    };
    let mut memory = Memory::default();
    let result = go(&sweep, &mut memory).expect("not stopped");
    let chosen = result.precision.expect("a tolerance").tolerance;
    let points = sweep.points().expect("points");
    let own = points.iter().map(|point| {
        point
            .case(&sweep, None)
            .expect("a case")
            .precision
            .tolerance
    });
    let tightest = own.fold(f64::INFINITY, f64::min);
    assert_eq!(chosen.to_bits(), tightest.to_bits());
    for point in &points {
        let case = point.case(&sweep, result.precision).expect("a case");
        assert_eq!(
            case.problem.settings().tolerance.to_bits(),
            chosen.to_bits()
        );
    }
    assert!(
        memory
            .kept
            .keys()
            .all(|key| key.ends_with(&format!("{chosen:?}")))
    );
}

#[test]
fn every_point_has_the_same_luck() {
    let document = document();
    let variations = variations(&[
        "ship.lift_to_drag=0..0.3:4",
        "limits.peak_deceleration=1.1g,2g",
    ]);
    let sweep = Sweep {
        document: &document,
        variations: &variations,
        study: SweptStudy::find("band").expect("a study"),
    };
    let points = sweep.points().expect("points");
    assert_eq!(points.len(), 8);
    let numbers = |point: &periband::study::sweep::Point, sample| {
        let problem = point.case(&sweep, None).expect("a case").problem;
        let mut bits = problem.numbers(sample).map(f64::to_bits);
        // What is varied is not drawn.
        bits[periband::scenario::uncertainty::Number::LiftToDrag as usize] = 0;
        bits[periband::scenario::uncertainty::Number::LimitPeakDeceleration as usize] = 0;
        bits
    };
    for sample in [0, 1, 77, 1399] {
        let first = numbers(&points[0], sample);
        assert_ne!(first, numbers(&points[0], sample + 1));
        for point in &points[1..] {
            assert_eq!(numbers(point, sample), first);
        }
    }
}

#[test]
fn points_without_an_answer_say_why_and_the_others_stand() {
    let document = document();
    let variations = variations(&["ask.probability=0.9,0.99999,1.5"]);
    let sweep = Sweep {
        document: &document,
        variations: &variations,
        study: SweptStudy::find("band").expect("a study"),
    };
    let result = go(&sweep, &mut Memory::default()).expect("not stopped");
    // What these samples cannot show is searched for.
    assert_eq!((result.run, result.rows.len()), (2, 3));
    assert!(result.rows[0].answer.is_ok() && result.rows[1].answer.is_ok());
    let said = |row: usize| result.rows[row].answer.clone().expect_err("no answer");
    assert!(said(2).contains("`ask.probability` must be"), "{}", said(2));
}

#[test]
fn an_empty_band_is_an_answer_of_width_zero() {
    let mut document = document();
    document.set("limits.stay_above", "[]").expect("set");
    let variations = variations(&["limits.peak_deceleration=0.6g,1.6g"]);
    let sweep = Sweep {
        document: &document,
        variations: &variations,
        study: SweptStudy::find("band").expect("a study"),
    };
    let result = go(&sweep, &mut Memory::default()).expect("not stopped");
    let answer = |row: usize| result.rows[row].answer.as_ref().expect("an answer");
    assert_eq!(answer(0).cells[0].number(), Some(0.0));
    assert!(
        answer(0).remark.starts_with("no safe band"),
        "{}",
        answer(0).remark
    );
    assert!(answer(1).cells[0].number().is_some_and(|width| width > 0.1));
}

#[test]
fn what_cannot_be_swept_is_refused_before_anything_is_flown() {
    let document = document();
    let refused = |texts: &[&str]| {
        let variations = variations(texts);
        let sweep = Sweep {
            document: &document,
            variations: &variations,
            study: SweptStudy::find("pass").expect("a study"),
        };
        sweep.points().expect_err("refused")
    };
    let typo = refused(&["ship.lift_to_drg=0,0.2"]).to_string();
    assert!(typo.contains("did you mean `lift_to_drag`?"), "{typo}");
    assert!(
        typo.contains("--> --vary ship.lift_to_drg=0,0.2 at 0"),
        "{typo}"
    );
    let section = refused(&["ship=1,2"]).to_string();
    assert!(section.contains("must be a section"), "{section}");
    let inside = refused(&["ship.mass.wet=1t,2t"]).to_string();
    assert!(inside.contains("cannot be set inside text"), "{inside}");
    assert!(matches!(
        refused(&["ship.mass=60t,70t"; 2]),
        SweepError::Twice(_)
    ));
    assert!(matches!(
        refused(&["ship.mass=60t"; 3]),
        SweepError::Numbers(3)
    ));
    let many = ["ship.mass=60t..70t:200", "ship.nose_radius=3m..4m:200"];
    assert!(matches!(refused(&many), SweepError::TooMany(40_000)));
    let none = refused(&["ship.mass=-1t,-2t"]).to_string();
    assert!(none.contains("`ship.mass` must be"), "{none}");
}

const TWO_BY_TEN: [&str; 4] = [
    "--vary",
    "ship.lift_to_drag=0,0.2",
    "--vary",
    "limits.peak_deceleration=1.1g..2g:10",
];

fn table(folder: &Path, out: &str) -> Vec<u8> {
    fs::read(folder.join(out).join("mars-arrival/sweep/sweep.csv")).expect("a table")
}

/// Interrupted as a user would, by the signal of Ctrl-C, and started again.
#[cfg(unix)]
#[test]
fn an_interrupted_sweep_started_again_repeats_nothing_and_writes_the_same_table() {
    let folder = Folder::new("sweep-stop");
    let example = example();
    let arguments = |out: &'static str| {
        let mut all = vec!["sweep", example.as_str()];
        all.extend(TWO_BY_TEN);
        all.extend(["--samples", "1400", "--threads", "1", "--out", out, "band"]);
        all
    };
    let mut child = Command::new(env!("CARGO_BIN_EXE_periband"))
        .args(arguments("out"))
        .current_dir(&folder.0)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let points = folder.0.join("out/mars-arrival/sweep/points");
    let kept = || {
        let files = fs::read_dir(&points).into_iter().flatten().flatten();
        let whole = |name: &str| !name.starts_with('.');
        files
            .filter(|f| whole(&f.file_name().to_string_lossy()))
            .count()
    };
    while kept() < 3 {
        assert!(
            child.try_wait().expect("a state").is_none(),
            "done too soon"
        );
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    let signal = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(signal.expect("kill").success());
    let stopped = child.wait_with_output().expect("an end");
    assert_eq!(
        stopped.status.code(),
        Some(130),
        "{}",
        text(&stopped.stderr)
    );
    let said = text(&stopped.stderr);
    let done = kept();
    assert!((3..20).contains(&done));
    assert!(
        said.contains(&format!("stopped after {done} of 20 points")),
        "{said}"
    );

    let again = periband(&folder.0, &[&arguments("out")[..], &["--json"]].concat());
    assert!(again.status.success(), "{}", text(&again.stderr));
    let summary: serde_json::Value = serde_json::from_slice(&again.stdout).expect("JSON");
    assert_eq!(summary["kept"], done);
    assert_eq!(summary["run"], 20 - done);
    let fresh = periband(&folder.0, &arguments("fresh"));
    assert!(fresh.status.success(), "{}", text(&fresh.stderr));
    assert!(
        table(&folder.0, "out") == table(&folder.0, "fresh"),
        "the tables differ"
    );
    let parquet = |out: &str| {
        fs::read(folder.0.join(out).join("mars-arrival/sweep/sweep.parquet")).expect("a table")
    };
    assert!(parquet("out") == parquet("fresh"), "the tables differ");
}

#[test]
fn a_sweep_reads_well_and_leaves_its_files() {
    let folder = Folder::new("sweep-screen");
    let run = periband(
        &folder.0,
        &[
            "sweep",
            &example(),
            "--vary",
            "ship.lift_to_drag=0..0.3:4",
            "--set",
            "arrival.hyperbola.aim_periapsis=50km",
            "pass",
        ],
    );
    assert!(run.status.success(), "{}", text(&run.stderr));
    let said = text(&run.stdout);
    assert!(
        said.starts_with("The peak deceleration goes from "),
        "{said}"
    );
    for line in said.lines() {
        assert!(line.chars().count() <= 80, "wider than 80 columns: {line}");
    }
    for file in [
        "sweep.csv",
        "sweep.parquet",
        "sweep.svg",
        "sweep.png",
        "summary.json",
        "report.html",
        "scenario.yaml",
        "manifest.json",
    ] {
        let path = folder.0.join("out/mars-arrival/sweep").join(file);
        assert!(path.is_file(), "{file} is missing");
    }
    let csv = text(&table(&folder.0, "out"));
    let head = csv.lines().next().expect("a line of names");
    assert!(
        head.starts_with("ship.lift_to_drag,ending,aim_km,peak_deceleration_g,"),
        "{head}"
    );
    assert_eq!(csv.lines().count(), 5);
}

#[test]
fn mistakes_on_the_command_line_of_a_sweep_are_said() {
    let folder = Folder::new("sweep-wrong");
    let run = |more: &[&str]| {
        let example = example();
        let done = periband(
            &folder.0,
            &[&["sweep", example.as_str()][..], more].concat(),
        );
        (done.status.code(), text(&done.stderr))
    };
    let vary = ["--vary", "ship.lift_to_drag=0,0.2"];
    let cases: [(&[&str], &str); 7] = [
        (&["pass"], "--vary"),
        (&[vary[0], vary[1], "bnad"], "'band'"),
        (
            &["--vary", "ship.lift_to_drag=0..0.2", "pass"],
            "how many values",
        ),
        (
            &["--vary", "ship.lift_to_drga=0,0.2", "pass"],
            "did you mean `lift_to_drag`?",
        ),
        (
            &[vary[0], vary[1], "--show", "peak_decelration_g", "pass"],
            "did you mean `peak_deceleration_g`?",
        ),
        (
            &[vary[0], vary[1], "--show", "ending", "pass"],
            "gives no number",
        ),
        (
            &[vary[0], vary[1], "pass"],
            "set one, as in --set arrival.hyperbola.aim_periapsis=51km",
        ),
    ];
    for (more, wanted) in cases {
        let (code, said) = run(more);
        assert_eq!(code, Some(2), "{more:?}: {said}");
        assert!(said.contains(wanted), "{more:?}: {said}");
    }
    assert!(!folder.0.join("out/mars-arrival/sweep/sweep.csv").exists());
}

#[test]
fn kept_answers_on_disk_are_found_again() {
    let folder = Folder::new("sweep-store");
    let study = SweptStudy::find("pass").expect("a study");
    let document = document();
    let variations = variations(&["arrival.hyperbola.aim_periapsis=50km,51km,52km"]);
    let sweep = Sweep {
        document: &document,
        variations: &variations,
        study,
    };
    let points = sweep.points().expect("points");
    let run = |anew| {
        let mut store = SweepStore::new(&folder.0, study, anew);
        let result = run_sweep(&sweep, &points, (&mut store, &Progress::default())).ok();
        result.expect("neither stopped nor unable to keep")
    };
    let first = run(false);
    let second = run(false);
    let third = run(true);
    assert_eq!((first.run, second.run, third.run), (3, 0, 3));
    assert_eq!(format!("{:?}", first.rows), format!("{:?}", second.rows));
    assert_eq!(first.rows, third.rows);
}

#[test]
fn every_command_with_a_scenario_takes_values_over_it() {
    let folder = Folder::new("set-everywhere");
    let help = text(&periband(&folder.0, &["--help"]).stdout);
    let mut seen = 0;
    for line in help.lines().filter(|line| line.starts_with("  ")) {
        let Some(command) = line.split_whitespace().next() else {
            continue;
        };
        let own = text(&periband(&folder.0, &[command, "--help"]).stdout);
        if own.contains("<FILE>") && own.contains("Scenario file") {
            assert!(own.contains("--set <KEY=VALUE>"), "{command} has no --set");
            seen += 1;
        }
    }
    assert!(seen >= 7, "{seen} commands with a scenario found");
}
