//! What goes wrong outside the program: full disks, folders that cannot be written or vanish, readers that go away,
//! files that are none. Each ends with a message and a code, and nothing already computed is lost.

use super::cli::{Folder, example, periband, text};
use periband::scenario::STARTER;
use periband::scenario::document::Document;
use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// Runs a shell line in a folder; `$P` is the program.
fn shell(folder: &Path, line: &str) -> Output {
    Command::new("bash")
        .args(["-c", line])
        .current_dir(folder)
        .env("P", env!("CARGO_BIN_EXE_periband"))
        .env("S", example())
        .output()
        .expect("a shell")
}

fn code(output: &Output) -> Option<i32> {
    output.status.code()
}

/// A message in one line, however it was broken.
fn flat(bytes: &[u8]) -> String {
    text(bytes).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether something of a run is left half-written.
fn has_partial(folder: &Path) -> bool {
    let Ok(entries) = fs::read_dir(folder) else {
        return false;
    };
    entries.flatten().any(|entry| {
        let name = entry.file_name().to_string_lossy().into_owned();
        name.ends_with(".partial") || has_partial(&entry.path())
    })
}

#[test]
fn a_reader_that_goes_away_is_no_error_and_the_files_are_there() {
    let folder = Folder::new("pipe");
    let line = "set -o pipefail; \"$P\" band \"$S\" --samples 1500 --json | head -n 1";
    let run = shell(&folder.0, line);
    assert_eq!(code(&run), Some(0), "{}", text(&run.stderr));
    assert_eq!(text(&run.stdout), "{\n");
    assert_eq!(text(&run.stderr), "");
    let kept = fs::read(folder.0.join("out/mars-arrival/band/summary.json")).expect("a summary");
    let _: serde_json::Value = serde_json::from_slice(&kept).expect("whole JSON");
}

#[cfg(target_os = "linux")]
#[test]
fn an_output_to_a_full_disk_is_told_and_the_files_are_there() {
    let folder = Folder::new("full-output");
    let run = shell(
        &folder.0,
        "\"$P\" band \"$S\" --samples 1500 --json > /dev/full",
    );
    assert_eq!(code(&run), Some(4));
    let said = flat(&run.stderr);
    assert!(
        said.contains("cannot print the result") && said.contains("no room is left"),
        "{said}"
    );
    assert!(
        folder
            .0
            .join("out/mars-arrival/band/summary.json")
            .is_file()
    );
}

/// A disk that takes no file above 100 kB: the rows do not fit, the counts do.
#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_fills_up_is_told_with_the_answer_and_no_half_file_is_left() {
    let folder = Folder::new("full-disk");
    let run = shell(
        &folder.0,
        "trap '' XFSZ; ulimit -f 100; \"$P\" band \"$S\" --samples 4000",
    );
    assert_eq!(code(&run), Some(4), "{}", text(&run.stdout));
    let said = flat(&run.stderr);
    assert!(said.contains("the disk or the quota is full"), "{said}");
    assert!(said.contains("mars-arrival/band/"), "{said}");
    // The answer is not lost with the files.
    assert!(
        text(&run.stdout).contains("Safe band"),
        "{}",
        text(&run.stdout)
    );
    assert!(!has_partial(&folder.0), "a half file is left");
    let kept = folder.0.join("out/mars-arrival/band/summary.json");
    let kept = fs::read(kept).expect("what was found is kept where it fits");
    let kept: serde_json::Value = serde_json::from_slice(&kept).expect("whole JSON");
    assert!(kept["aims"].as_array().is_some_and(|aims| aims.len() > 10));
    let pass = shell(
        &folder.0,
        "trap '' XFSZ; ulimit -f 8; \"$P\" pass \"$S\" --periapsis 50km",
    );
    assert_eq!(code(&pass), Some(4), "{}", text(&pass.stdout));
    assert!(
        text(&pass.stdout).contains("the ship is captured"),
        "{}",
        text(&pass.stdout)
    );
    assert!(!has_partial(&folder.0), "a half file is left");
}

/// As a user without rights where the test runs as root, for whom no folder is read-only.
#[cfg(unix)]
#[test]
fn a_read_only_folder_is_known_before_anything_is_flown() {
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::process::CommandExt;
    let folder = Folder::new("read-only");
    let locked = folder.0.join("locked");
    fs::create_dir(&locked).expect("a folder");
    let set = |path: &Path, mode| {
        fs::set_permissions(path, fs::Permissions::from_mode(mode)).expect("permissions");
    };
    set(&locked, 0o555);
    set(&folder.0, 0o755);
    // Copies, since the folder of the sources need not be open to others.
    let program = folder.0.join("periband");
    fs::copy(env!("CARGO_BIN_EXE_periband"), &program).expect("a copy");
    set(&program, 0o755);
    fs::write(folder.0.join("mine.yaml"), STARTER).expect("written");
    let root = fs::write(locked.join("probe"), "").is_ok();
    if root {
        fs::remove_file(locked.join("probe")).expect("removed");
    }
    let mut command = Command::new(&program);
    if root {
        command.uid(65534);
    }
    let run = command
        .args(["band", "mine.yaml", "--out", "locked"])
        .current_dir(&folder.0)
        .output()
        .expect("the program starts");
    assert_eq!(code(&run), Some(4), "{}", text(&run.stdout));
    let said = flat(&run.stderr);
    assert!(
        said.contains("no permission, or the disk is read-only"),
        "{said}"
    );
    assert!(said.contains("locked"), "{said}");
    assert_eq!(text(&run.stdout), "");
    set(&locked, 0o755);
}

#[cfg(target_os = "linux")]
#[test]
fn a_place_that_takes_no_folder_is_said_to_be_one() {
    let folder = Folder::new("proc");
    let run = periband(&folder.0, &["band", &example(), "--out", "/proc/periband"]);
    assert_eq!(code(&run), Some(4));
    let said = flat(&run.stderr);
    assert!(said.contains("cannot be made"), "{said}");
    assert!(said.contains("takes no new folder in"), "{said}");
    assert!(!said.contains("does not exist"), "{said}");
}

/// The folder of a run is removed again and again while it runs: what is written after that is there, and if
/// nothing could be, the answer is.
#[test]
fn a_folder_that_vanishes_loses_no_answer() {
    let folder = Folder::new("vanishing");
    let mut child = Command::new(env!("CARGO_BIN_EXE_periband"))
        .args(["band", &example(), "--samples", "4000"])
        .current_dir(&folder.0)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut removed = 0;
    while child.try_wait().expect("a child").is_none() {
        removed += u32::from(fs::remove_dir_all(folder.0.join("out")).is_ok());
        std::thread::sleep(std::time::Duration::from_millis(40));
    }
    let run = child.wait_with_output().expect("an output");
    assert!(removed > 0, "nothing was there to remove");
    let (said, error) = (text(&run.stdout), flat(&run.stderr));
    assert!(said.contains("Safe band"), "{said}{error}");
    match code(&run) {
        Some(0) => {}
        Some(4) => assert!(error.contains("error: out/"), "{error}"),
        other => panic!("{other:?}: {error}"),
    }
}

#[test]
fn files_that_vanish_or_are_none_are_refused() {
    let folder = Folder::new("no-files");
    let with = |world: &str| {
        fs::write(
            folder.0.join("mine.yaml"),
            STARTER.replace("world: mars", &format!("world: {world}")),
        )
        .expect("written");
        let run = periband(&folder.0, &["band", "mine.yaml"]);
        assert!(
            matches!(code(&run), Some(2 | 4)),
            "{world}: {:?}",
            code(&run)
        );
        let said = flat(&run.stderr);
        assert!(said.starts_with("error: "), "{said}");
        said
    };
    assert!(with("./gone.yaml").contains("there is no such file"));
    assert!(with("./").contains("folder"));
    fs::write(folder.0.join("large.yaml"), vec![b'#'; 3 << 20]).expect("written");
    assert!(with("./large.yaml").contains("larger than 1 MiB"));
    let nested = "[".repeat(100_000);
    fs::write(folder.0.join("deep.yaml"), nested).expect("written");
    assert!(with("./deep.yaml").contains("deep"));
    #[cfg(unix)]
    {
        assert!(with("/dev/zero").contains("no file"));
        // A pipe that nobody writes to would be waited for for ever.
        let made = shell(&folder.0, "mkfifo pipe.yaml");
        assert!(made.status.success());
        assert!(with("./pipe.yaml").contains("no file"));
    }
}

/// Names in a scenario become names of folders and files: none leads out of the folder of the run.
#[test]
fn no_name_in_a_scenario_leads_out_of_the_run_folder() {
    let folder = Folder::new("escape");
    let inside = folder.0.join("a/b");
    fs::create_dir_all(&inside).expect("folders");
    let hostile = STARTER
        .replace("name: Brisandel", "name: ../../../../escaped-ship")
        .replacen("title: ", "title: ../../escaped-", 1)
        .replace("  # spots:", "  spots:")
        .replace("  #   - name: panel", "    - name: /../../escaped-spot")
        .replace("  #     share: 40 %", "      share: 40 %")
        .replace(
            "  #     highest_temperature: 900 K",
            "      highest_temperature: 900 K",
        );
    assert!(hostile.contains("escaped-ship") && hostile.contains("escaped-spot"));
    fs::write(inside.join("..escape..yaml"), hostile).expect("written");
    for arguments in [
        &[
            "band",
            "..escape..yaml",
            "--samples",
            "1500",
            "--out",
            "out",
        ][..],
        &[
            "pass",
            "..escape..yaml",
            "--periapsis",
            "51km",
            "--out",
            "out",
        ][..],
    ] {
        let run = periband(&inside, arguments);
        assert_eq!(code(&run), Some(0), "{}", text(&run.stderr));
    }
    let names = |path: &Path| -> Vec<String> {
        let entries = fs::read_dir(path).expect("a folder").flatten();
        let mut names: Vec<String> = entries
            .map(|entry| entry.file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    };
    assert_eq!(names(&folder.0), ["a"]);
    assert_eq!(names(&folder.0.join("a")), ["b"]);
    assert_eq!(names(&inside), ["..escape..yaml", "out"]);
    let runs = names(&inside.join("out"));
    assert_eq!(runs.len(), 1, "{runs:?}");
}

/// Every text of a file that the page shows comes out escaped: title, ship, spots, sources.
#[test]
fn hostile_names_are_escaped_on_every_page() {
    const EVIL: &str =
        "</script><script>alert(1)</script><img src=x onerror=alert(2)>'&amp;{{1234567*9}}";
    let folder = Folder::new("escaped");
    let quoted = format!("\"{EVIL}\"");
    let scenario = STARTER
        .replace("name: Brisandel", &format!("name: {quoted}"))
        .replace("  # spots:", "  spots:")
        .replace("  #   - name: panel", &format!("    - name: {quoted}"))
        .replace("  #     share: 40 %", "      share: 40 %")
        .replace(
            "  #     highest_temperature: 900 K",
            "      highest_temperature: 900 K",
        );
    let lines = scenario.lines().map(|line| {
        if line.starts_with("title: ") {
            format!("title: {quoted}")
        } else {
            line.to_owned()
        }
    });
    let scenario = lines.collect::<Vec<_>>().join("\n");
    assert_eq!(scenario.matches(EVIL).count(), 3);
    fs::write(folder.0.join("evil.yaml"), scenario).expect("written");
    for (study, more) in [
        ("band", ["--samples", "1500"]),
        ("pass", ["--periapsis", "51km"]),
    ] {
        let run = periband(&folder.0, &[study, "evil.yaml", more[0], more[1]]);
        assert_eq!(code(&run), Some(0), "{}", text(&run.stderr));
    }
    let out = folder.0.join("out/evil");
    let mut pages = 0;
    for study in fs::read_dir(&out).expect("runs").flatten() {
        let page = study.path().join("report.html");
        let page = fs::read_to_string(page).expect("a page");
        pages += 1;
        for raw in [
            "<script>alert",
            "<img src=x",
            "onerror=alert(2)>",
            "11111103",
        ] {
            assert!(!page.contains(raw), "{raw} in {}", study.path().display());
        }
        assert!(page.contains("&lt;img src=x"), "the name is shown");
        for figure in fs::read_dir(study.path()).expect("files").flatten() {
            let path = figure.path();
            if path.extension().is_some_and(|ending| ending == "svg") {
                let svg = fs::read_to_string(&path).expect("a figure");
                assert!(
                    !svg.contains("<script") && !svg.contains("<img"),
                    "{}",
                    path.display()
                );
            }
        }
    }
    assert_eq!(pages, 2);
}

/// Found by broken inputs: following a key took a time that grew with the cube of its parts.
#[test]
fn a_key_of_very_many_parts_is_refused_at_once() {
    let mut document = Document::from_text("x.yaml", STARTER).expect("a document");
    let refused = document.set(&"a.".repeat(50_000), "1").expect_err("empty");
    assert!(refused.message().contains("empty"), "{refused}");
    let refused = document
        .set(&vec!["a"; 50_000].join("."), "1")
        .expect_err("long");
    assert!(refused.message().contains("too many parts"), "{refused}");
    assert!(document.set("ship.mass", "60 t").is_ok());
}
