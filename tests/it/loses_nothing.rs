//! No command loses its answer or a file of the user's: full disks, folders that vanish, readers that go away, names that
//! are taken, pipes and devices, and what is kept of a run.

use crate::cli::{Folder, example, periband, text};
use crate::kills::{command, commands, done, files, lasting, start};
use periband::scenario::STARTER;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

/// Runs a shell line in a folder with the arguments of a command as `"$@"`; `$P` is the program.
fn shell(folder: &Path, line: &str, arguments: &[String]) -> Output {
    Command::new("bash")
        .args(["-c", line, "bash"])
        .args(arguments)
        .current_dir(folder)
        .env("P", env!("CARGO_BIN_EXE_periband"))
        .env_remove("COLUMNS")
        .output()
        .expect("a shell")
}

fn flat(bytes: &[u8]) -> String {
    text(bytes).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The summary on standard output, without what differs between equal runs.
fn summary(output: &Output, about: &str) -> Value {
    let mut value: Value = serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|error| panic!("{about}: {error}: {}", text(&output.stderr)));
    for entry in ["wall_time_s", "run", "kept"] {
        if let Some(entry) = value.get_mut(entry) {
            *entry = Value::Null;
        }
    }
    value
}

fn with_json(arguments: &[String]) -> Vec<String> {
    [arguments, &["--json".to_owned()]].concat()
}

fn nothing_is_half_written(folder: &Path, about: &str) {
    for name in files(folder).keys() {
        let name = name.display().to_string();
        assert!(
            !name.ends_with(".partial") && !name.ends_with(".in-use"),
            "{about}: {name} is left"
        );
    }
}

/// A disk on which no file gets a byte, as one that is full: the answer is whole, the error says which file.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_loses_no_answer_of_any_command() {
    let folder = Folder::new("no-room");
    for (name, arguments) in commands() {
        let (whole, full) = (
            folder.0.join("whole").join(name),
            folder.0.join("full").join(name),
        );
        for path in [&whole, &full] {
            fs::create_dir_all(path).expect("a folder");
        }
        let arguments = with_json(&arguments);
        let wanted = summary(&done(&whole, &arguments), name);
        let run = shell(
            &full,
            "trap '' XFSZ; ulimit -f 0; \"$P\" \"$@\"",
            &arguments,
        );
        let said = flat(&run.stderr);
        assert_eq!(run.status.code(), Some(4), "{name}: {said}");
        assert!(
            said.contains("the disk or the quota is full"),
            "{name}: {said}"
        );
        assert_eq!(summary(&run, name), wanted, "{name}");
        nothing_is_half_written(&full, name);
    }
}

/// The folder of a run is removed again and again while it runs.
#[test]
fn a_removed_folder_loses_no_answer_of_any_command() {
    let folder = Folder::new("removed");
    for (name, arguments) in commands() {
        let path = folder.0.join(name);
        fs::create_dir_all(&path).expect("a folder");
        let arguments = with_json(&arguments);
        let wanted = summary(&done(&path, &arguments), name);
        fs::remove_dir_all(path.join("out")).expect("removed");
        let mut child = start(&path, &arguments);
        // A full pipe would hold it up.
        let mut out = child.stdout.take().expect("an output");
        let reader = std::thread::spawn(move || {
            let mut bytes = Vec::new();
            std::io::Read::read_to_end(&mut out, &mut bytes).map(|_| bytes)
        });
        let mut removed = 0;
        while child.try_wait().expect("a child").is_none() {
            removed += u32::from(fs::remove_dir_all(path.join("out")).is_ok());
            std::thread::sleep(Duration::from_millis(30));
        }
        let mut ended = child.wait_with_output().expect("an end");
        ended.stdout = reader.join().expect("a reader").expect("read");
        assert!(removed > 0, "{name}: nothing was there to remove");
        let code = ended.status.code();
        assert!(
            matches!(code, Some(0 | 4)),
            "{name}: {code:?} {}",
            text(&ended.stderr)
        );
        assert_eq!(summary(&ended, name), wanted, "{name}");
    }
}

/// An output that is closed, or whose reader went away: the files are all there.
#[cfg(unix)]
#[test]
fn a_closed_output_loses_no_file_of_any_command() {
    let folder = Folder::new("closed");
    for (name, arguments) in commands() {
        let whole = folder.0.join("whole").join(name);
        fs::create_dir_all(&whole).expect("a folder");
        done(&whole, &arguments);
        for (how, line) in [
            ("closed", "\"$P\" \"$@\" >&-"),
            ("both", "\"$P\" \"$@\" >&- 2>&-"),
            ("gone", "set -o pipefail; \"$P\" \"$@\" | true"),
        ] {
            let path = folder.0.join(how).join(name);
            fs::create_dir_all(&path).expect("a folder");
            let run = shell(&path, line, &arguments);
            assert_eq!(
                run.status.code(),
                Some(0),
                "{name} {how}: {}",
                text(&run.stderr)
            );
            assert!(lasting(&path) == lasting(&whole), "{name} {how}");
        }
    }
}

#[test]
fn limits_that_cannot_be_met_are_an_answer_of_land() {
    let folder = Folder::new("no-aim");
    let mut arguments = command("land");
    let hard = ["--set", "limits.peak_deceleration=0.05 g"].map(str::to_owned);
    arguments.extend(hard);
    let run = done(&folder.0, &arguments);
    let said = flat(&run.stdout);
    assert!(
        said.contains("comes down") && said.contains("with every limit held"),
        "{said}"
    );
    let found = summary(&done(&folder.0, &with_json(&arguments)), "land");
    assert_eq!(found["aim_periapsis_km"], Value::Null);
    assert_eq!(found["study"], "land");
    let kept = folder.0.join("out/ballistic-landing/land");
    for name in [
        "summary.json",
        "report.html",
        "manifest.json",
        "scenario.yaml",
    ] {
        assert!(kept.join(name).is_file(), "{name}");
    }
}

/// A scenario of one's own in a folder.
fn own_scenario(folder: &Path) -> String {
    fs::write(folder.join("mine.yaml"), STARTER).expect("written");
    STARTER.to_owned()
}

#[test]
fn pass_oem_replaces_nothing_but_a_message_of_its_own() {
    let folder = Folder::new("oem-names");
    let mine = own_scenario(&folder.0);
    let pass = |oem: &str| {
        let arguments = ["pass", "mine.yaml", "--periapsis", "51km", "--oem", oem];
        periband(&folder.0, &arguments)
    };
    fs::write(folder.0.join("notes.txt"), "mine").expect("written");
    let foreign =
        "CCSDS_OEM_VERS = 2.0\nCREATION_DATE = 2031-05-04T12:00:00\nORIGINATOR = SOMEONE\n";
    fs::write(folder.0.join("foreign.oem"), foreign).expect("written");
    for (name, content) in [
        ("mine.yaml", mine.as_str()),
        ("notes.txt", "mine"),
        ("foreign.oem", foreign),
    ] {
        let run = pass(name);
        assert_eq!(run.status.code(), Some(4), "{name}");
        let said = flat(&run.stderr);
        assert!(
            said.contains("stays as it is; choose another name"),
            "{said}"
        );
        assert_eq!(
            fs::read_to_string(folder.0.join(name)).expect("it is there"),
            content
        );
    }
    assert_eq!(
        text(&pass("mine.yaml").stdout),
        "",
        "it is known before anything is flown"
    );
    // Its own is replaced, as often as wanted.
    for _ in 0..2 {
        assert!(pass("pass.oem").status.success());
    }
    let none = pass("no-folder/pass.oem");
    assert_eq!(none.status.code(), Some(4));
    assert!(flat(&none.stderr).contains("its folder does not exist"));
}

#[test]
fn learn_write_and_new_replace_no_file() {
    let folder = Folder::new("write-names");
    let mine = own_scenario(&folder.0);
    let mut learn = command("learn");
    learn.extend(["--write".to_owned(), "mine.yaml".to_owned()]);
    let new = ["new", "mine.yaml"].map(str::to_owned);
    let world = ["new", "other.yaml", "--own-world", "mine.yaml"].map(str::to_owned);
    for arguments in [learn.as_slice(), &new, &world] {
        let run = start(&folder.0, arguments)
            .wait_with_output()
            .expect("an end");
        assert_eq!(run.status.code(), Some(4), "{arguments:?}");
        let said = flat(&run.stderr);
        assert!(
            said.contains("stays as it is; choose another name"),
            "{said}"
        );
        assert_eq!(
            fs::read_to_string(folder.0.join("mine.yaml")).expect("there"),
            mine
        );
    }
    assert!(!folder.0.join("other.yaml").exists());
    // Pages of the manual replace pages of the manual alone.
    assert!(periband(&folder.0, &["man", "pages"]).status.success());
    assert!(periband(&folder.0, &["man", "pages"]).status.success());
    let page = folder.0.join("pages/periband-band.1");
    fs::write(&page, "mine").expect("written");
    assert_eq!(
        periband(&folder.0, &["man", "pages"]).status.code(),
        Some(4)
    );
    assert_eq!(fs::read_to_string(&page).expect("there"), "mine");
}

#[test]
fn no_result_goes_where_the_scenario_lies() {
    let folder = Folder::new("own-place");
    // What a run keeps is called scenario.yaml: here that is the user's.
    let place = folder.0.join("scenario/band");
    fs::create_dir_all(&place).expect("a folder");
    fs::write(place.join("scenario.yaml"), STARTER).expect("written");
    let band = [
        "band",
        "scenario/band/scenario.yaml",
        "--out",
        ".",
        "--samples",
        "1500",
    ];
    let plan = [
        "plan",
        "scenario.yaml",
        "--out",
        ".",
        "--samples",
        "1500",
        "--aims",
        "51km",
        "--set",
        "ask.probability=0.99",
    ];
    for (run, path) in [
        (periband(&folder.0, &band), &place),
        (periband(&place, &plan), &place),
    ] {
        assert_eq!(run.status.code(), Some(4), "{}", text(&run.stdout));
        assert!(flat(&run.stderr).contains("name another folder with --out"));
        let there = fs::read_to_string(path.join("scenario.yaml")).expect("it is there");
        assert_eq!(there, STARTER);
    }
    // Nor does a plan go among other files.
    fs::write(folder.0.join("report.html"), "mine").expect("written");
    let among = periband(
        &folder.0,
        &[&["plan", "scenario/band/scenario.yaml"], &plan[2..]].concat(),
    );
    assert_eq!(among.status.code(), Some(4));
    assert!(
        flat(&among.stderr).contains("name a new folder with --out"),
        "{}",
        text(&among.stderr)
    );
    assert!(!folder.0.join("plan.json").exists());
}

/// Runs with a limit on the time, for what may wait for ever.
fn at_once(folder: &Path, arguments: &[String]) -> Output {
    let started = Instant::now();
    let mut child = start(folder, arguments);
    while child.try_wait().expect("a state").is_none() {
        if started.elapsed() > Duration::from_secs(20) {
            child.kill().expect("killed");
            panic!(
                "{:?} waits",
                arguments
                    .iter()
                    .map(|a| a.get(..60).unwrap_or(a))
                    .collect::<Vec<_>>()
            );
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    child.wait_with_output().expect("an end")
}

#[cfg(unix)]
#[test]
fn pipes_devices_and_endless_names_are_refused_at_once_wherever_a_file_is_named() {
    let folder = Folder::new("no-plain-file");
    own_scenario(&folder.0);
    let made = Command::new("mkfifo").arg(folder.0.join("pipe")).status();
    assert!(made.expect("mkfifo starts").success());
    let long = "x".repeat(20_000);
    let aim = "--periapsis";
    for odd in ["pipe", "/dev/zero", "/dev/tty", long.as_str()] {
        let world = format!("world=./{odd}");
        let opm = format!("arrival={{opm: '{odd}'}}");
        let table = format!(
            "ship={{mass: 50 t, reference_area: 100 m2, nose_radius: 4 m, aerodynamics: {{table: '{odd}'}}}}"
        );
        let lists: Vec<Vec<&str>> = vec![
            vec!["check", odd],
            vec!["band", odd],
            vec!["check", "mine.yaml", "--set", &world],
            vec!["check", "mine.yaml", "--set", &opm],
            vec!["check", "mine.yaml", "--set", &table],
            vec![
                "learn",
                "mine.yaml",
                "--flight",
                odd,
                aim,
                "51km",
                "--until-next",
                "9h",
            ],
            vec!["pass", "mine.yaml", aim, "51km", "--oem", odd],
            vec!["pass", "mine.yaml", aim, "51km", "--out", odd],
            vec!["band", "mine.yaml", "--out", odd],
            vec![
                "plan",
                "mine.yaml",
                "--samples",
                "2000",
                "--aims",
                "51km",
                "--out",
                odd,
            ],
            vec!["merge", odd],
            vec!["new", odd],
        ];
        for list in lists {
            let arguments: Vec<String> = list.iter().map(|&word| word.to_owned()).collect();
            let run = at_once(&folder.0, &arguments);
            let about = format!("{} with {}", list[0], &odd[..odd.len().min(12)]);
            let said = text(&run.stderr);
            let shown: String = said.chars().take(400).collect();
            assert!(
                matches!(run.status.code(), Some(2 | 4)),
                "{about}: {:?} {shown}",
                run.status
            );
            assert!(said.starts_with("error: "), "{about}: {shown}");
            assert!(said.len() < 3000, "{about}: {} bytes are said", said.len());
        }
    }
    // Nothing of these names was made.
    let left: Vec<_> = files(&folder.0).into_keys().collect();
    assert!(
        left.iter().all(|name| !name.ends_with("plan.json")),
        "{left:?}"
    );
}

#[cfg(unix)]
#[test]
fn a_scenario_from_a_pipe_is_read_once_and_kept() {
    let folder = Folder::new("piped");
    let mars = example();
    for (name, arguments) in commands() {
        if name == "worlds" || !arguments.contains(&mars) {
            continue;
        }
        let (by_name, piped) = (
            folder.0.join("name").join(name),
            folder.0.join("pipe").join(name),
        );
        for path in [&by_name, &piped] {
            fs::create_dir_all(path).expect("a folder");
        }
        let wanted = summary(&done(&by_name, &with_json(&arguments)), name);
        let place = arguments
            .iter()
            .position(|word| *word == mars)
            .expect("a scenario");
        let mut from = with_json(&arguments);
        for way in ["-", "/dev/stdin"] {
            from[place] = way.to_owned();
            let line = format!("cat '{mars}' | \"$P\" \"$@\"");
            let run = shell(&piped, &line, &from);
            assert!(run.status.success(), "{name} {way}: {}", text(&run.stderr));
            if name != "plan" {
                assert_eq!(summary(&run, name), wanted, "{name} {way}");
            }
        }
        let kept = files(&piped);
        let kept = kept
            .iter()
            .find(|(path, _)| path.ends_with("scenario.yaml"));
        let (_, kept) = kept.expect("the scenario is kept");
        assert!(
            text(kept).contains("Mars") || text(kept).contains("mars"),
            "{name}"
        );
    }
}

/// A scenario that names a world and a table beside it.
fn with_files(folder: &Path) {
    let examples = crate::examples();
    let base = fs::read_to_string(examples.join("own-world.yaml")).expect("a scenario");
    fs::create_dir_all(folder.join("worlds")).expect("a folder");
    fs::copy(
        examples.join("worlds/orsuvine.yaml"),
        folder.join("worlds/orsuvine.yaml"),
    )
    .expect("copied");
    fs::write(
        folder.join("drag.csv"),
        "angle_of_attack_deg,drag_coefficient,lift_coefficient\n0,1.3,0\n30,1.2,0\n",
    )
    .expect("written");
    let ship = "ship:\n  aerodynamics:\n    table: ./drag.csv\n    free_molecular: {drag_coefficient: 2, lift_coefficient: 0}\n";
    let gone = [
        "drag_coefficient",
        "lift_to_drag",
        "ship.drag_coefficient",
        "bank",
    ];
    let keep = |line: &&str| {
        let key = line.trim_start().split(':').next().unwrap_or("");
        !gone.contains(&key)
    };
    let lines: Vec<&str> = base.lines().filter(keep).collect();
    let text = lines.join("\n").replacen("ship:\n", ship, 1) + "\n";
    let text = text.replace("./orsuvine.yaml", "./worlds/orsuvine.yaml");
    fs::write(folder.join("mine.yaml"), text).expect("written");
}

#[test]
fn a_kept_scenario_runs_alone_in_its_folder() {
    let folder = Folder::new("alone");
    with_files(&folder.0);
    let pass = ["pass", "mine.yaml", "--periapsis", "80km", "--json"].map(str::to_owned);
    let wanted = summary(&done(&folder.0, &pass), "pass");
    let away = Folder::new("alone-elsewhere");
    fs::rename(folder.0.join("out/mine/pass"), away.0.join("pass")).expect("moved");
    let kept = away.0.join("pass");
    drop(folder);
    let manifest: Value =
        serde_json::from_slice(&fs::read(kept.join("manifest.json")).expect("a manifest"))
            .expect("JSON");
    let again = manifest["command"].as_str().expect("a command");
    let again = again.strip_prefix("periband ").expect("the program");
    let again: Vec<String> = again.split(' ').map(str::to_owned).collect();
    assert_eq!(summary(&done(&kept, &with_json(&again)), "pass"), wanted);
    // By itself too, whatever is asked of it.
    let check = ["check", "scenario.yaml"].map(str::to_owned);
    done(&kept, &check);
}

/// `merge` and a finishing run leave alone what a living writer has in work, and remove what a dead one left.
#[cfg(target_os = "linux")]
#[test]
fn partial_files_of_living_writers_stay_and_those_of_dead_ones_go() {
    let folder = Folder::new("living");
    let mut plan = command("plan");
    plan.extend(["--out", "r"].map(str::to_owned));
    done(&folder.0, &plan);
    for index in ["0", "1", "2", "3"] {
        done(
            &folder.0,
            &["shard", "r", "--index", index].map(str::to_owned),
        );
    }
    let host = fs::read_to_string("/proc/sys/kernel/hostname").expect("a name");
    let safe = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    let host: String = host.trim().chars().map(safe).take(40).collect();
    let mut ended = Command::new("true")
        .stdin(Stdio::null())
        .spawn()
        .expect("it starts");
    let dead = ended.id();
    ended.wait().expect("it ends");
    let band = command("band");
    done(&folder.0, &band);
    for (place, name, finish) in [
        (
            "r/parts",
            "part-00001.json",
            &["merge", "r"].map(str::to_owned)[..],
        ),
        ("out/mars-arrival/band", "samples.parquet", &band),
    ] {
        let left = |process: u32, host: &str| {
            let path = folder
                .0
                .join(place)
                .join(format!(".{name}.{process}-0-7-{host}.partial"));
            fs::write(&path, "half").expect("written");
            path
        };
        let living = left(std::process::id(), &host);
        let afar = left(dead, "another-machine");
        let (gone, old) = (left(dead, &host), left(dead, "a-machine-long-off"));
        let days = std::time::SystemTime::now() - Duration::from_secs(2 * 86_400);
        let file = fs::File::options().append(true).open(&old).expect("a file");
        file.set_modified(days).expect("a time");
        done(&folder.0, finish);
        assert!(
            living.exists() && afar.exists(),
            "{place}: of living writers"
        );
        assert!(!gone.exists() && !old.exists(), "{place}: of dead ones");
    }
}
