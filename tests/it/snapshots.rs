//! What the program prints at 80 columns, word for word, with colour and without; kept in `snapshots/`.
//!
//! To re-mint after a change that is meant: `PERIBAND_MINT=1 cargo test --release --test it snapshots`, then read
//! what changed (`git diff tests/it/snapshots`) and say why in the commit.

use crate::cli::{Folder, periband, text};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

/// Compares a text with the kept one of this name, or keeps it where it is asked to.
pub(crate) fn check(name: &str, actual: &str) {
    // An escape would act on the terminal that shows the file.
    let actual = actual.replace('\u{1b}', "^[");
    let path = file(name);
    if std::env::var_os("PERIBAND_MINT").is_some() {
        fs::write(&path, &actual).expect("written");
        return;
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    let first = kept
        .lines()
        .zip(actual.lines())
        .position(|(kept, actual)| kept != actual)
        .unwrap_or_else(|| kept.lines().count().min(actual.lines().count()));
    assert!(
        kept == actual,
        "{name} differs from line {}:\nkept:    {}\nprinted: {}\n\nAll that is printed:\n{actual}",
        first + 1,
        kept.lines().nth(first).unwrap_or("(nothing)"),
        actual.lines().nth(first).unwrap_or("(nothing)"),
    );
}

fn file(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/snapshots");
    folder.join(format!("{name}.txt"))
}

/// A folder with the Mars example as `arrival.yaml`.
fn folder(name: &str) -> Folder {
    let folder = Folder::new(&format!("snapshot-{name}"));
    let example = crate::examples().join("mars-arrival.yaml");
    fs::copy(example, folder.0.join("arrival.yaml")).expect("copied");
    folder
}

/// What a run prints, and what it tells on standard error below it.
fn printed(run: &Output) -> String {
    let (out, errors) = (text(&run.stdout), text(&run.stderr));
    if errors.is_empty() {
        out
    } else {
        format!(
            "{out}--- standard error, exit code {}\n{errors}",
            run.status.code().unwrap_or(-1)
        )
    }
}

/// Runs, compares, and holds that nothing is wider than 80 columns or coloured unasked.
fn print(folder: &Folder, name: &str, arguments: &[&str]) {
    let actual = printed(&periband(&folder.0, arguments));
    if !arguments.contains(&"always") {
        assert!(!actual.contains('\u{1b}'), "{name} is coloured in a pipe");
        for line in actual.lines() {
            assert!(
                line.chars().count() <= 80,
                "{name} is wider than 80 columns: {line}"
            );
        }
    }
    check(name, &actual);
}

#[test]
fn help_pages() {
    let folder = folder("help");
    print(&folder, "help", &["--help"]);
    print(&folder, "help-coloured", &["--help", "--color", "always"]);
    print(&folder, "help-band", &["band", "--help"]);
    print(&folder, "help-pass", &["help", "pass"]);
    print(&folder, "help-learn", &["help", "learn"]);
}

#[test]
fn a_scenario_is_written_and_checked() {
    let folder = folder("check");
    print(&folder, "new", &["new", "mine.yaml"]);
    print(&folder, "new-again", &["new", "mine.yaml"]);
    print(&folder, "check", &["check", "arrival.yaml"]);
    let own = ["new", "far.yaml", "--own-world", "world.yaml"];
    print(&folder, "new-own-world", &own);
    print(&folder, "new-own-world-again", &own);
    print(&folder, "check-own-world", &["check", "far.yaml"]);
}

#[test]
fn what_a_flight_taught() {
    let folder = folder("learn");
    let log = crate::examples().join("mars-flight-log.csv");
    fs::copy(log, folder.0.join("log.csv")).expect("copied");
    let learn = ["learn", "arrival.yaml", "--flight", "log.csv"];
    let learn = [&learn[..], &["--until-next", "9h"]].concat();
    print(&folder, "learn-without-aim", &learn);
    let aimed = [&learn[..], &["--periapsis", "51.2km"]].concat();
    print(&folder, "learn", &aimed);
    let elsewhere = [&learn[..], &["--periapsis", "95km"]].concat();
    print(&folder, "learn-elsewhere", &elsewhere);
}

#[test]
fn worlds() {
    let folder = folder("worlds");
    print(&folder, "worlds", &["worlds"]);
    print(&folder, "worlds-tavrelle", &["worlds", "tavrelle"]);
}

#[test]
fn a_band() {
    let folder = folder("band");
    let band = [
        "band",
        "arrival.yaml",
        "--samples",
        "1500",
        "--set",
        "ask.probability=0.99",
    ];
    print(&folder, "band", &band);
    print(
        &folder,
        "band-coloured",
        &[&band[..], &["--color", "always"]].concat(),
    );
    print(&folder, "band-quiet", &[&band[..], &["--quiet"]].concat());
    let hard = [
        "--set",
        "limits.captured_below.apoapsis_altitude=9000 km",
        "--color",
        "always",
    ];
    print(&folder, "band-empty-coloured", &[&band[..], &hard].concat());
}

#[test]
fn a_pass() {
    let folder = folder("pass");
    let pass = ["pass", "arrival.yaml", "--periapsis", "51.2km"];
    print(&folder, "pass", &pass);
    print(
        &folder,
        "pass-coloured",
        &[&pass[..], &["--color", "always"]].concat(),
    );
}

#[test]
fn a_run_in_shards() {
    let folder = folder("run");
    print(&folder, "help-run", &["run", "--help"]);
    print(&folder, "help-plan", &["plan", "--help"]);
    let plan = [
        "plan",
        "arrival.yaml",
        "--samples",
        "1500",
        "--aims",
        "50.8km..51.4km:3",
        "--shards",
        "3",
        "--slurm",
        "--out",
        "big",
    ];
    print(&folder, "plan", &plan);
    print(&folder, "plan-again", &plan);
    periband(&folder.0, &["shard", "big", "--index", "1"]);
    print(&folder, "missing", &["missing", "big"]);
    print(&folder, "merge-missing", &["merge", "big"]);
    periband(&folder.0, &["shard", "big", "--index", "0"]);
    periband(&folder.0, &["shard", "big", "--index", "2"]);
    print(&folder, "merge", &["merge", "big"]);
}

#[test]
fn a_sweep() {
    let folder = folder("sweep");
    let sweep = [
        "sweep",
        "arrival.yaml",
        "--vary",
        "ship.lift_to_drag=0..0.3:4",
        "--samples",
        "1500",
        "--set",
        "ask.probability=0.99",
        "--set",
        "limits.stay_above=[]",
        "band",
    ];
    print(&folder, "sweep", &sweep);
    print(&folder, "sweep-again", &sweep);
    let map = [
        "sweep",
        "arrival.yaml",
        "--vary",
        "ship.mass=-5t,62t",
        "--vary",
        "arrival.hyperbola.aim_periapsis=48km,52km",
        "pass",
    ];
    print(&folder, "sweep-of-two", &map);
    let typo = ["sweep", "arrival.yaml", "--vary", "ship.mas=1t,2t", "pass"];
    print(&folder, "sweep-mistyped-key", &typo);
    print(&folder, "help-sweep", &["sweep", "--help"]);
}

#[test]
fn a_corridor() {
    let folder = folder("corridor");
    let example = crate::examples().join("lifting-arrival.yaml");
    fs::copy(example, folder.0.join("lifting.yaml")).expect("copied");
    let coarse = ["--set", "corridor.excess_speed.step=1.2 km/s"];
    let open = [&["corridor", "lifting.yaml"], &coarse[..]].concat();
    print(&folder, "corridor", &open);
    let hard = ["--set", "limits.peak_deceleration=0.7 g"];
    print(&folder, "corridor-closed", &[&open[..], &hard].concat());
    print(&folder, "corridor-ballistic", &["corridor", "arrival.yaml"]);
    print(&folder, "help-corridor", &["corridor", "--help"]);
}

#[test]
fn a_landing() {
    let folder = folder("landing");
    for name in ["mars-landing", "ballistic-landing"] {
        let file = format!("{name}.yaml");
        fs::copy(crate::examples().join(&file), folder.0.join(&file)).expect("copied");
    }
    let land = ["land", "mars-landing.yaml", "--samples", "40"];
    print(&folder, "land", &land);
    let outside = ["--set", "landing.place.latitude=70 deg"];
    print(&folder, "land-outside", &[&land[..], &outside].concat());
    let ballistic = ["land", "ballistic-landing.yaml", "--samples", "400"];
    print(&folder, "land-ballistic", &ballistic);
    print(&folder, "land-nowhere", &["land", "arrival.yaml"]);
    print(&folder, "help-land", &["land", "--help"]);
}

#[test]
fn an_influence() {
    let folder = folder("influence");
    let influence = [
        "influence",
        "arrival.yaml",
        "--rows",
        "256",
        "--samples",
        "1500",
        "--halve",
        "2",
        "--set",
        "ask.probability=0.99",
    ];
    print(&folder, "influence", &influence);
    let correlated = [
        "--periapsis",
        "51km",
        "--set",
        "uncertainty.correlations=[{between: [ship.mass, ship.drag_coefficient], coefficient: 0.4}]",
    ];
    print(
        &folder,
        "influence-correlated",
        &[&influence[..], &correlated].concat(),
    );
    print(&folder, "help-influence", &["influence", "--help"]);
}

#[test]
fn mistakes_and_what_was_meant() {
    let folder = folder("mistakes");
    print(&folder, "mistyped-command", &["bnad", "arrival.yaml"]);
    print(
        &folder,
        "mistyped-option",
        &["band", "arrival.yaml", "--sample", "100"],
    );
    print(
        &folder,
        "mistyped-key",
        &["check", "arrival.yaml", "--set", "ship.mas=60t"],
    );
    print(&folder, "mistyped-world", &["worlds", "marz"]);
    print(
        &folder,
        "mistyped-world-of-a-scenario",
        &["check", "arrival.yaml", "--set", "world=marz"],
    );
    print(&folder, "no-command", &[]);
    let coloured = [
        "check",
        "arrival.yaml",
        "--set",
        "limits.heat_flux=60",
        "--color",
        "always",
    ];
    print(&folder, "bare-number-coloured", &coloured);
}

#[test]
fn colour_is_asked_for_or_not_there() {
    let folder = folder("colour");
    // A pipe is no terminal, and NO_COLOR is for terminals: asking for colour is stronger than both.
    let coloured = |arguments: &[&str], no_color: bool| {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_periband"));
        command
            .args(arguments)
            .current_dir(&folder.0)
            .env_remove("NO_COLOR");
        if no_color {
            command.env("NO_COLOR", "1");
        }
        text(&command.output().expect("the program starts").stdout).contains('\u{1b}')
    };
    assert!(!coloured(&["--help"], false));
    assert!(coloured(&["--help", "--color", "always"], false));
    assert!(!coloured(&["--help", "--color", "never"], true));
}

#[test]
fn the_course_of_a_run_is_told_on_standard_error() {
    let folder = folder("log");
    let run = periband(
        &folder.0,
        &["band", "arrival.yaml", "--samples", "4000", "-vv"],
    );
    let told = text(&run.stderr);
    for part in [
        "info ",
        "detail ",
        "world Mars",
        "flown at ",
        "wrote summary.json",
        "looked over the range",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
    assert!(told.lines().all(|line| line.starts_with('[')), "{told}");
    assert!(text(&run.stdout).starts_with("Aim for "));
    let contradiction = periband(&folder.0, &["band", "arrival.yaml", "-v", "--quiet"]);
    assert_eq!(contradiction.status.code(), Some(2));
}

#[test]
fn completions_and_manual_pages_are_printed() {
    let folder = folder("man");
    for (shell, part) in [
        ("bash", "complete -F"),
        ("zsh", "#compdef periband"),
        ("fish", "complete -c periband"),
    ] {
        let run = periband(&folder.0, &["completions", shell]);
        assert!(run.status.success());
        assert!(text(&run.stdout).contains(part), "{shell}");
    }
    let page = text(&periband(&folder.0, &["man"]).stdout);
    assert!(page.contains(".TH periband 1"), "{page}");
    assert!(page.contains("not a basis for flight"), "{page}");
    let run = periband(&folder.0, &["man", "pages"]);
    assert!(run.status.success(), "{}", text(&run.stderr));
    assert!(folder.0.join("pages/periband.1").is_file());
    assert!(folder.0.join("pages/periband-band.1").is_file());
}
