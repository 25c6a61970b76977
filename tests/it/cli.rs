//! The program as a user meets it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A folder of its own for one test, removed at the end.
pub(crate) struct Folder(pub(crate) PathBuf);

impl Folder {
    pub(crate) fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("periband-{name}-{}", std::process::id()));
        fs::create_dir_all(&path).expect("a temporary folder");
        Self(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

pub(crate) fn periband(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_periband"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("COLUMNS")
        .output()
        .expect("the program starts")
}

pub(crate) fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

pub(crate) fn example() -> String {
    crate::examples()
        .join("mars-arrival.yaml")
        .display()
        .to_string()
}

#[test]
fn a_new_scenario_is_valid_and_gives_a_band() {
    let folder = Folder::new("new");
    let made = periband(&folder.0, &["new", "mine.yaml"]);
    assert!(made.status.success(), "{}", text(&made.stderr));
    let again = periband(&folder.0, &["new", "mine.yaml"]);
    assert_eq!(again.status.code(), Some(4), "a file is never overwritten");
    let checked = periband(&folder.0, &["check", "mine.yaml"]);
    assert!(text(&checked.stdout).contains("The scenario is valid."));
    let band = periband(&folder.0, &["band", "mine.yaml"]);
    assert!(band.status.success(), "{}", text(&band.stderr));
    let said = text(&band.stdout);
    assert!(said.starts_with("Aim for "), "{said}");
    assert!(text(&band.stderr).is_empty(), "no progress bar in a pipe");
    for line in said.lines() {
        assert!(line.chars().count() <= 80, "wider than 80 columns: {line}");
    }
    for file in [
        "summary.json",
        "samples.parquet",
        "report.html",
        "scenario.yaml",
        "manifest.json",
        "break_probability.svg",
        "break_probability.png",
        "peak_deceleration.svg",
        "deceleration_over_time.png",
    ] {
        let path = folder.0.join("out/mine/band").join(file);
        assert!(path.is_file(), "{file} is missing");
    }
    let manifest = fs::read(folder.0.join("out/mine/band/manifest.json")).expect("a manifest");
    let manifest: serde_json::Value = serde_json::from_slice(&manifest).expect("JSON");
    let integration = &manifest["integration"];
    assert_eq!(integration["held"], true, "{integration}");
    assert!(integration["probe_exit_speed_m_s"].as_f64() <= Some(1e-3));
    assert!(integration["probe_passes"].as_u64() >= Some(128));
    let page = fs::read_to_string(folder.0.join("out/mine/band/report.html")).expect("a page");
    assert!(page.contains("not a basis for flight"));
}

#[test]
fn json_is_the_summary_and_nothing_else() {
    let folder = Folder::new("json");
    let run = periband(
        &folder.0,
        &["band", &example(), "--samples", "1500", "--json"],
    );
    let printed: serde_json::Value = serde_json::from_slice(&run.stdout).expect("only JSON");
    let kept = fs::read(folder.0.join("out/mars-arrival/band/summary.json")).expect("a summary");
    let kept: serde_json::Value = serde_json::from_slice(&kept).expect("JSON");
    assert_eq!(printed, kept);
    for key in [
        "study",
        "scenario",
        "seed",
        "samples",
        "required_probability",
        "confidence",
        "safe_periapsis_band_km",
        "recommended_periapsis_km",
        "probability_at_recommended",
        "at_recommended",
        "outcomes",
        "failed_samples",
        "passes_flown",
        "wall_time_s",
    ] {
        assert!(printed.get(key).is_some(), "{key} is missing");
    }
    let peak = &printed["at_recommended"]["peak_deceleration_g"];
    for key in ["mean", "std_dev", "p00_135", "p05", "p50", "p95", "p99_865"] {
        assert!(peak[key]["value"].is_f64(), "{key} is missing");
    }
}

#[test]
fn the_same_run_gives_the_same_files_with_one_and_two_threads() {
    let folder = Folder::new("threads");
    let run = |threads: &str, out: &str| {
        let done = periband(
            &folder.0,
            &[
                "band",
                &example(),
                "--samples",
                "1500",
                "--threads",
                threads,
                "--out",
                out,
            ],
        );
        assert!(done.status.success());
        folder.0.join(out).join("mars-arrival/band")
    };
    let (one, two) = (run("1", "one"), run("2", "two"));
    let samples = |path: &Path| fs::read(path.join("samples.parquet")).expect("rows");
    assert!(samples(&one) == samples(&two), "samples.parquet differs");
    let summary = |path: &Path| {
        let text = fs::read(path.join("summary.json")).expect("a summary");
        let mut value: serde_json::Value = serde_json::from_slice(&text).expect("JSON");
        value
            .as_object_mut()
            .expect("an object")
            .remove("wall_time_s");
        value
    };
    assert_eq!(summary(&one), summary(&two));
}

#[test]
fn a_pass_is_flown_in_full_and_any_sample_replayed() {
    let folder = Folder::new("pass");
    let run = periband(
        &folder.0,
        &["pass", &example(), "--periapsis", "51.2km", "--sample", "7"],
    );
    assert!(run.status.success(), "{}", text(&run.stderr));
    assert!(text(&run.stdout).contains("captured"));
    for file in [
        "history.parquet",
        "history.csv",
        "history.svg",
        "history.png",
        "summary.json",
    ] {
        assert!(
            folder.0.join("out/mars-arrival/pass").join(file).is_file(),
            "{file} is missing"
        );
    }
    let unsaid = periband(&folder.0, &["pass", &example()]);
    assert_eq!(unsaid.status.code(), Some(2));
    assert!(text(&unsaid.stderr).contains("--periapsis"));
}

#[test]
fn exit_codes_tell_what_went_wrong() {
    let folder = Folder::new("exit");
    let code = |arguments: &[&str]| periband(&folder.0, arguments).status.code();
    assert_eq!(code(&["bnad", "x.yaml"]), Some(2), "a mistyped command");
    assert_eq!(code(&["band", "nowhere.yaml"]), Some(4), "a missing file");
    assert_eq!(
        code(&["check", &example(), "--set", "ship.mas=60t"]),
        Some(2),
        "an unknown key"
    );
    assert_eq!(
        code(&["check", &example(), "--set", "world=marz"]),
        Some(2),
        "an unknown world"
    );
    assert_eq!(
        code(&["band", &example(), "--samples", "10"]),
        Some(2),
        "too few samples"
    );
    fs::write(folder.0.join("file"), "").expect("written");
    let out = ["band", &example(), "--samples", "1500", "--out", "file"];
    assert_eq!(code(&out), Some(4), "a file where a folder should be");
}

#[test]
fn mistyped_words_get_a_suggestion() {
    let folder = Folder::new("typo");
    let said = |arguments: &[&str]| text(&periband(&folder.0, arguments).stderr);
    assert!(said(&["bnad", "x.yaml"]).contains("'band'"));
    assert!(said(&["check", &example(), "--set", "world=marz"]).contains("mars"));
    assert!(said(&["check", &example(), "--set", "ship.mas=60t"]).contains("mass"));
}

#[test]
fn help_carries_the_caution() {
    let folder = Folder::new("help");
    let help = text(&periband(&folder.0, &["--help"]).stdout);
    let help = help.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(help.contains("not a basis for flight"));
    assert!(help.contains("flight surgeons"));
}

#[test]
fn a_band_that_is_empty_says_why() {
    let folder = Folder::new("empty");
    let run = periband(
        &folder.0,
        &[
            "band",
            &example(),
            "--samples",
            "1500",
            "--set",
            "limits.peak_deceleration=0.7 g",
            "--set",
            "limits.stay_above=[{level: 0.5 g, at_most: 60 s}]",
            "--set",
            "limits.captured_below.apoapsis_altitude=9000 km",
        ],
    );
    let said = text(&run.stdout);
    assert!(
        run.status.success(),
        "an empty band is an answer: {}",
        text(&run.stderr)
    );
    assert!(said.starts_with("No safe band"), "{said}");
    assert!(said.contains("collide"), "{said}");
}
