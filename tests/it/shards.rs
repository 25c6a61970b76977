//! Runs in shards: one answer however they are cut, parts that are not sound, kills, and going on.

use crate::cli::{Folder, example, periband, text};
use periband::ensemble::{Fleet, Progress};
use periband::report::folder::sha256;
use periband::study::Case;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, SystemTime};

const QUESTION: [&str; 6] = [
    "--samples",
    "1500",
    "--aims",
    "50.8km..51.4km:3",
    "--set",
    "ask.probability=0.99",
];

/// The arguments of a command about the Mars example and the question, with more behind them.
fn asked<'a>(command: &'a str, example: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    [&[command, example], &QUESTION[..], more].concat()
}

fn done(folder: &Path, arguments: &[&str]) -> String {
    let run = periband(folder, arguments);
    assert!(run.status.success(), "{arguments:?}: {}", text(&run.stderr));
    text(&run.stdout)
}

fn json(folder: &Path, arguments: &[&str]) -> Value {
    let said = done(folder, &[arguments, &["--json"]].concat());
    serde_json::from_str(&said).expect("JSON")
}

/// Runs the question and gives its summary; its folder is called `name` afterwards.
fn ran(folder: &Path, name: &str, question: &[&str]) -> Value {
    let summary = json(folder, &[question, &["--out", "base"]].concat());
    let stem = fs::read_dir(folder.join("base")).expect("a folder").next();
    let stem = stem.expect("one").expect("an entry").path();
    let run = fs::read_dir(stem).expect("a folder").next();
    let run = run.expect("one").expect("an entry").path();
    fs::rename(run, folder.join(name)).expect("renamed");
    fs::remove_dir_all(folder.join("base")).expect("removed");
    summary
}

/// Plans the question under out/, where `run` looks for it, and gives the folder.
fn planned(folder: &Path, question: &[&str]) -> String {
    let plan = json(folder, question);
    plan["run"].as_str().expect("a folder").to_owned()
}

/// Numbers below `most` in an order that no rule of the program knows (a linear congruence of full period).
fn shuffled(most: u64) -> Vec<u64> {
    let mut next = 5;
    let mut order = Vec::new();
    while order.len() < usize::try_from(most).expect("few") {
        next = (next * 13 + 7) % 64;
        if next < most {
            order.push(next);
        }
    }
    order
}

#[test]
fn one_digest_and_one_summary_however_the_run_is_cut_and_flown() {
    let folder = Folder::new("digest");
    let example = example();
    let single = ran(&folder.0, "single", &asked("run", &example, &[]));
    let planned = asked("plan", &example, &["--shards", "64", "--out", "cut"]);
    done(&folder.0, &planned);
    let order = shuffled(64);
    let mut seen = order.clone();
    seen.sort_unstable();
    assert_eq!(seen, (0..64).collect::<Vec<_>>(), "each shard once");
    for (place, index) in order.iter().enumerate() {
        let (index, threads) = (index.to_string(), (place % 3 + 1).to_string());
        let shard = ["shard", "cut", "--index", &index, "--threads", &threads];
        done(&folder.0, &shard);
    }
    let cut = json(&folder.0, &["merge", "cut"]);
    assert_eq!(single["digest"], cut["digest"]);
    for file in [
        "summary.json",
        "break_probability.svg",
        "peak_deceleration.svg",
    ] {
        let of = |run: &str| fs::read(folder.0.join(run).join(file)).expect("a file");
        assert_eq!(of("single"), of("cut"), "{file}");
    }
    let threads = asked(
        "run",
        &example,
        &["--out", "one", "--threads", "1", "--shards", "5"],
    );
    assert_eq!(json(&folder.0, &threads)["digest"], single["digest"]);
    let mut other = asked("run", &example, &["--out", "seed", "--seed", "8"]);
    assert_ne!(json(&folder.0, &other)["digest"], single["digest"]);
    other[3] = "1501";
    other[9] = "more";
    assert_ne!(json(&folder.0, &other[..10])["digest"], single["digest"]);
}

#[test]
fn the_counts_are_those_of_the_ensemble() {
    // The engine's own counts at the same aims: they do not know of shards, files or merging.
    let folder = Folder::new("counts");
    let example = example();
    let merged = json(
        &folder.0,
        &asked("run", &example, &["--out", "r", "--shards", "7"]),
    );
    let case = Case::load(Path::new(&example), &[]).expect("a case");
    let progress = Progress::default();
    let aims = [50_800.0, 51_100.0, 51_400.0];
    let tallies = Fleet::new(&case.problem, &progress)
        .tally(&aims, 0..1500)
        .expect("not stopped");
    for (aim, tally) in tallies.iter().enumerate() {
        for (limit, count) in tally.broken.iter().enumerate() {
            assert_eq!(merged["aims"][aim]["broken"][limit]["samples"], *count);
        }
    }
    assert!(
        tallies.iter().any(|tally| tally.broken_any > 0),
        "some break"
    );
}

#[test]
fn a_worst_sample_replays_to_its_value() {
    let folder = Folder::new("replay");
    let merged = ran(&folder.0, "r", &asked("run", &example(), &[]));
    let worst = &merged["at_recommended"]["peak_deceleration_g"]["highest"];
    let sample = worst["sample"].to_string();
    let aim = format!("{}km", merged["recommended_periapsis_km"]);
    let replay = ["replay", "r", "--sample", &sample, "--aim", &aim];
    let flown = json(&folder.0, &replay);
    let peak = flown["pass"]["peak_deceleration_g"]
        .as_f64()
        .expect("a peak");
    let counted = worst["value"].as_f64().expect("a value");
    // Peaks are found to 0.1 %.
    assert!((peak / counted - 1.0).abs() < 1e-3, "{peak} and {counted}");
    let none = periband(&folder.0, &["replay", "r", "--sample", "1500"]);
    assert_eq!(none.status.code(), Some(2), "there is no such sample");
}

/// A run of four shards, flown.
fn flown(name: &str) -> (Folder, PathBuf) {
    let folder = Folder::new(name);
    let example = example();
    let question = asked("run", &example, &["--shards", "4"]);
    ran(&folder.0, "r", &question);
    let parts = folder.0.join("r/parts");
    (folder, parts)
}

/// What `merge` says and how it ends.
fn merged(folder: &Folder) -> (Option<i32>, String) {
    let run = periband(&folder.0, &["merge", "r"]);
    (run.status.code(), text(&run.stderr))
}

/// A part with its first line changed and sealed again.
fn resealed(path: &Path, change: impl Fn(&str) -> String) {
    let whole = fs::read_to_string(path).expect("a part");
    let line = whole.lines().next().expect("a line");
    let changed = change(line);
    assert_ne!(changed, line, "the change is one");
    let digest = sha256(changed.as_bytes());
    fs::write(path, format!("{changed}\nsha256 {digest}\n")).expect("written");
}

/// A way to spoil a run: what is done, how, and what `merge` is to say.
type Spoil<'a> = (&'static str, Box<dyn Fn() + 'a>, &'static str);

/// Ways to spoil the parts in a folder; `good` are their contents, `foreign` is a part of another plan.
fn spoils<'a>(parts: &'a Path, good: &'a [Vec<u8>], foreign: &'a [u8]) -> Vec<Spoil<'a>> {
    let part = |index: u32| parts.join(format!("part-{index:05}.json"));
    let write = |path: PathBuf, bytes: Vec<u8>| -> Box<dyn Fn() + 'a> {
        Box::new(move || fs::write(&path, &bytes).expect("written"))
    };
    let flipped = |at: usize| {
        let mut bytes = good[1].clone();
        bytes[at] ^= 4;
        bytes
    };
    let changed = |from: &'static str, to: &'static str| -> Box<dyn Fn() + 'a> {
        let path = part(1);
        Box::new(move || resealed(&path, |line| line.replacen(from, to, 1)))
    };
    let (last, first) = (good[1].len() - 1, part(0));
    let remove = Box::new(move || fs::remove_file(&first).expect("removed"));
    let short = |bytes: usize| good[3][..bytes].to_vec();
    let own = concat!("periband ", env!("CARGO_PKG_VERSION"));
    let (cut, damaged) = ("part-00003.json: cut short", "part-00001.json: damaged");
    vec![
        ("deleted", remove, "part-00000.json: missing"),
        ("cut short", write(part(3), short(good[3].len() / 2)), cut),
        (
            "cut by one byte",
            write(part(3), short(good[3].len() - 1)),
            cut,
        ),
        ("empty", write(part(3), Vec::new()), cut),
        (
            "a byte of the counts flipped",
            write(part(1), flipped(last / 2)),
            damaged,
        ),
        (
            "a byte of the digest flipped",
            write(part(1), flipped(last - 9)),
            damaged,
        ),
        (
            "from another plan",
            write(part(2), foreign.to_vec()),
            "part-00002.json: from another plan",
        ),
        (
            "doubled in place of another",
            write(part(2), good[1].clone()),
            "part-00002.json: doubled: it holds shard 1",
        ),
        (
            "doubled under a name of its own",
            write(parts.join("part-00001 (2).json"), good[1].clone()),
            "part-00001 (2).json: doubled: it holds shard 1",
        ),
        (
            "a file of something else",
            write(parts.join("notes.txt"), b"x".to_vec()),
            "notes.txt: does not belong to this run",
        ),
        (
            "of an older program",
            changed(own, "periband 0.0.9"),
            "part-00001.json: made by periband 0.0.9",
        ),
        (
            "of other samples",
            changed("\"first\":375", "\"first\":374"),
            "part-00001.json: overlaps others or leaves a gap",
        ),
        (
            "with counts that contradict each other",
            changed("\"endings\":[", "\"endings\":[1"),
            "part-00001.json: malformed",
        ),
    ]
}

#[test]
fn merge_names_every_part_that_is_not_sound_and_exits_with_3() {
    let (folder, parts) = flown("invalid");
    let part = |index: u32| parts.join(format!("part-{index:05}.json"));
    let good: Vec<Vec<u8>> = (0..4).map(|i| fs::read(part(i)).expect("a part")).collect();
    let digest = json(&folder.0, &["merge", "r"])["digest"].clone();
    let example = example();
    let other = ["--shards", "4", "--seed", "9"];
    ran(&folder.0, "other", &asked("run", &example, &other));
    let foreign = fs::read(folder.0.join("other/parts/part-00002.json")).expect("a part");
    for (what, spoil, says) in spoils(&parts, &good, &foreign) {
        spoil();
        let (code, said) = merged(&folder);
        assert_eq!(code, Some(3), "{what}: {said}");
        assert!(said.contains(says), "{what}: {said}");
        assert_eq!(
            said.matches(".json: ").count() + said.matches(".txt: ").count(),
            1,
            "{said}"
        );
        // Flying the shards again mends all but what is too many, and nothing that is sound.
        for name in ["part-00001 (2).json", "notes.txt"] {
            let _ = fs::remove_file(parts.join(name));
        }
        for index in ["0", "1", "2", "3"] {
            done(&folder.0, &["shard", "r", "--index", index]);
        }
        for (index, good) in (0..).zip(&good) {
            assert_eq!(&fs::read(part(index)).expect("a part"), good, "{what}");
        }
    }
    assert_eq!(json(&folder.0, &["merge", "r"])["digest"], digest);
    // Several at once are all named.
    fs::remove_file(part(0)).expect("removed");
    fs::write(part(2), &good[1]).expect("written");
    let (code, said) = merged(&folder);
    assert_eq!(code, Some(3));
    assert!(
        said.contains("part-00000.json") && said.contains("part-00002.json"),
        "{said}"
    );
}

/// A way in which a part says what no part can say.
type Impossible = (&'static str, fn(&mut Value));

#[test]
fn parts_whose_counts_cannot_be_are_malformed() {
    const OTHER: u64 = 1_000_000;
    let impossible: [Impossible; 8] = [
        ("broken any, above all single ones", |aim| {
            let broken = aim["broken"].as_array().expect("counts");
            let sum: u64 = broken.iter().filter_map(Value::as_u64).sum();
            aim["broken_any"] = (sum + 1).into();
        }),
        ("broken any, below the largest single one", |aim| {
            aim["broken"][0] = 2.into();
            aim["broken_any"] = 1.into();
        }),
        ("bins out of order", |aim| {
            let bins = aim["quantities"][0]["bins"].as_array_mut();
            bins.expect("bins").swap(0, 1);
        }),
        ("a bin twice", |aim| {
            let bins = &mut aim["quantities"][0]["bins"];
            bins[1][0] = bins[0][0].clone();
        }),
        ("the lowest above the highest", |aim| {
            let counts = &mut aim["quantities"][0];
            let low = counts["lowest"].take();
            counts["lowest"] = counts["highest"].take();
            counts["highest"] = low;
        }),
        ("the highest of another shard", |aim| {
            aim["quantities"][0]["highest"][1] = OTHER.into();
        }),
        ("a worst sample of another shard", |aim| {
            let worst = aim["worst"].as_array_mut().expect("lists");
            let list = worst.iter_mut().find(|list| !list[0].is_null());
            list.expect("a worst")[0][1] = OTHER.into();
        }),
        ("a failed sample that did not fail", |aim| {
            aim["failed"] = vec![375].into();
        }),
    ];
    let (folder, parts) = flown("impossible");
    let path = parts.join("part-00001.json");
    let good = fs::read(&path).expect("a part");
    for (what, change) in impossible {
        resealed(&path, |line| {
            let mut part: Value = serde_json::from_str(line).expect("JSON");
            // At the lowest aim some break their limits.
            change(&mut part["aims"][0]);
            part.to_string()
        });
        let (code, said) = merged(&folder);
        assert_eq!(code, Some(3), "{what}: {said}");
        let words = "part-00001.json: malformed: its counts contradict each other";
        assert!(said.contains(words), "{what}: {said}");
        fs::write(&path, &good).expect("written");
    }
    // Written anew without a change it is sound.
    let part: Value = serde_json::from_slice(&good[..good.len() - 73]).expect("JSON");
    let line = part.to_string();
    let digest = sha256(line.as_bytes());
    fs::write(&path, format!("{line}\nsha256 {digest}\n")).expect("written");
    assert_eq!(merged(&folder).0, Some(0));
}

#[test]
fn plans_that_are_not_sound_are_refused() {
    let (folder, _) = flown("plans");
    let refused = |arguments: &[&str], code: i32, says: &str| {
        let run = periband(&folder.0, arguments);
        let said = text(&run.stderr);
        assert_eq!(run.status.code(), Some(code), "{arguments:?}: {said}");
        assert!(said.contains(says), "{arguments:?}: {said}");
    };
    refused(&["shard", "r", "--index", "4"], 2, "no shard 4");
    refused(&["merge", "nowhere"], 4, "does not exist");
    let mine = example();
    let more = asked("plan", &mine, &["--shards", "5", "--out", "r"]);
    refused(&more, 2, "holds another run");
    let plan = folder.0.join("r/plan.json");
    let good = fs::read_to_string(&plan).expect("a plan");
    let own = concat!("periband ", env!("CARGO_PKG_VERSION"));
    for (from, to, says) in [
        (own, "periband 0.0.9", "it is of periband 0.0.9"),
        ("[375,750]", "[376,750]", "overlap, or leave a gap"),
        (
            "\"scenario.yaml\"",
            "\"../scenario.yaml\"",
            "outside its folder",
        ),
        (
            "\"tolerance\":\"",
            "\"tolerance\":\"7",
            "its tolerance is none that passes are flown at",
        ),
        ("{\"schema\"", "{\"scheme\"", "plan.json"),
    ] {
        let changed = good.replace(from, to);
        assert_ne!(changed, good, "{from}");
        fs::write(&plan, changed).expect("written");
        refused(&["merge", "r"], 3, says);
    }
    // A plan with another aim is another plan: no part is of it.
    fs::write(&plan, good.replace("\"50800.0\"", "\"50800.5\"")).expect("written");
    refused(&["merge", "r"], 3, "part-00003.json: from another plan");
    fs::write(&plan, &good).expect("written");
    let scenario = folder.0.join("r/scenario.yaml");
    let text = fs::read_to_string(&scenario).expect("a scenario");
    fs::write(&scenario, text.replace("62 t", "63 t")).expect("written");
    refused(
        &["shard", "r", "--index", "0"],
        3,
        "not the file that the run was planned with",
    );
}

#[test]
fn what_a_scenario_names_travels_with_the_plan() {
    let folder = Folder::new("travels");
    fs::create_dir_all(folder.0.join("worlds")).expect("a folder");
    let copy = |name: &str| {
        fs::copy(crate::examples().join(name), folder.0.join(name)).expect("copied");
    };
    copy("own-world.yaml");
    copy("worlds/orsuvine.yaml");
    fs::write(
        folder.0.join("drag.csv"),
        "angle_of_attack_deg,drag_coefficient,lift_coefficient\n0,1.3,0\n30,1.2,0\n",
    )
    .expect("written");
    let base = fs::read_to_string(folder.0.join("own-world.yaml")).expect("a scenario");
    let ship = "ship:\n  aerodynamics:\n    table: ./drag.csv\n    free_molecular: {drag_coefficient: 2, lift_coefficient: 0}\n";
    let keep = |line: &&str| {
        let key = line.trim_start().split(':').next().unwrap_or("");
        ![
            "drag_coefficient",
            "lift_to_drag",
            "ship.drag_coefficient",
            "bank",
        ]
        .contains(&key)
    };
    let lines: Vec<&str> = base.lines().filter(keep).collect();
    let scenario = lines.join("\n").replacen("ship:\n", ship, 1) + "\n";
    fs::write(folder.0.join("own-world.yaml"), scenario).expect("written");
    let plan = [
        "plan",
        "own-world.yaml",
        "--samples",
        "2000",
        "--shards",
        "2",
        "--out",
        "r",
    ];
    let few = ["--set", "ask.probability=0.9"];
    done(&folder.0, &[&plan[..], &few].concat());
    // Elsewhere, without the files it was planned with.
    for gone in ["own-world.yaml", "drag.csv", "worlds/orsuvine.yaml"] {
        fs::remove_file(folder.0.join(gone)).expect("removed");
    }
    fs::rename(folder.0.join("r"), folder.0.join("moved")).expect("moved");
    for index in ["0", "1"] {
        done(&folder.0, &["shard", "moved", "--index", index]);
    }
    done(&folder.0, &["merge", "moved"]);
    for name in ["world.yaml", "table-1.csv"] {
        assert!(folder.0.join("moved").join(name).is_file(), "{name}");
    }
}

/// Starts the program and hands it over.
fn started(folder: &Path, arguments: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_periband"))
        .args(arguments)
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts")
}

/// The parts under their final names, with when they were written.
fn parts(folder: &Path) -> BTreeMap<String, SystemTime> {
    let Ok(entries) = fs::read_dir(folder) else {
        return BTreeMap::new();
    };
    entries
        .map(|entry| entry.expect("an entry"))
        .filter(|entry| !entry.file_name().to_string_lossy().starts_with('.'))
        .map(|entry| {
            let written = entry.metadata().expect("facts").modified().expect("a time");
            (entry.file_name().to_string_lossy().into_owned(), written)
        })
        .collect()
}

#[test]
fn fifty_kills_leave_no_invalid_part_and_nothing_is_flown_twice() {
    let folder = Folder::new("kills");
    let example = example();
    let whole = json(&folder.0, &asked("run", &example, &["--out", "whole"]));
    let more = ["--shards", "750"];
    let run = asked("run", &example, &more);
    let r = planned(&folder.0, &asked("plan", &example, &more));
    let dir = folder.0.join(&r).join("parts");
    let (mut kills, mut amid, mut tries) = (0, 0, 0_u32);
    let mut before = parts(&dir);
    while kills < 50 {
        tries += 1;
        assert!(tries < 200, "{kills} kills only: the run is over too soon");
        let mut child = started(&folder.0, &run);
        // Every other kill waits for the first new part, so that it comes while parts are made however long the start
        // of the program takes; then, as the others from the start on, at moments that follow no rhythm of the run.
        if tries % 2 == 0 {
            while parts(&dir).len() == before.len() && child.try_wait().expect("a state").is_none()
            {
                std::thread::sleep(Duration::from_millis(1));
            }
        }
        std::thread::sleep(Duration::from_millis(u64::from(15 + tries * 7919 % 83)));
        if child.try_wait().expect("a state").is_some() {
            // All is flown: from the beginning again.
            fs::remove_dir_all(&dir).expect("removed");
            before = BTreeMap::new();
            continue;
        }
        child.kill().expect("killed");
        child.wait().expect("ended");
        kills += 1;
        let after = parts(&dir);
        amid += usize::from(after.len() > before.len());
        for (name, written) in &before {
            assert_eq!(after.get(name), Some(written), "{name} was written again");
        }
        let missing = json(&folder.0, &["missing", &r]);
        let listed = missing["missing"].as_array().expect("a list");
        for one in listed {
            assert_eq!(one["why"], "missing", "after kill {kills}: {one}");
        }
        assert_eq!(listed.len() + after.len(), 750, "after kill {kills}");
        before = after;
    }
    assert!(
        amid >= 10,
        "only {amid} of the kills came while parts were being made"
    );
    assert_eq!(json(&folder.0, &run)["digest"], whole["digest"]);
    for (name, written) in &before {
        assert_eq!(
            parts(&dir).get(name),
            Some(written),
            "{name} was written again"
        );
    }
    let left = fs::read_dir(&dir).expect("a folder").count();
    assert_eq!(left, 750, "what the killed ones left beside is gone");
}

#[cfg(unix)]
#[test]
fn an_interrupted_run_says_so_and_goes_on_with_the_same_command() {
    let folder = Folder::new("interrupt");
    let example = example();
    let more = ["--shards", "300"];
    let run = asked("run", &example, &more);
    let r = planned(&folder.0, &asked("plan", &example, &more));
    let dir = folder.0.join(r).join("parts");
    let whole = json(&folder.0, &asked("run", &example, &["--out", "whole"]));
    let mut child = started(&folder.0, &run);
    while parts(&dir).is_empty() {
        assert!(child.try_wait().expect("a state").is_none(), "it runs");
        std::thread::sleep(Duration::from_millis(2));
    }
    let interrupt = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(interrupt.expect("kill starts").success());
    assert_eq!(child.wait().expect("ended").code(), Some(130));
    let kept = parts(&dir);
    assert!(!kept.is_empty() && kept.len() < 300, "{} parts", kept.len());
    assert_eq!(json(&folder.0, &run)["digest"], whole["digest"]);
    let after = parts(&dir);
    assert!(
        kept.iter()
            .all(|(name, written)| after.get(name) == Some(written))
    );
}

#[test]
fn missing_shards_are_listed_for_people_and_for_job_arrays() {
    let (folder, parts) = flown("missing");
    assert_eq!(done(&folder.0, &["missing", "r"]), "");
    for index in [0, 1, 3] {
        fs::remove_file(parts.join(format!("part-0000{index}.json"))).expect("removed");
    }
    assert_eq!(done(&folder.0, &["missing", "r"]), "0\n1\n3\n");
    assert_eq!(done(&folder.0, &["missing", "r", "--ranges"]), "0-1,3\n");
}

/// Stands in for the command that submits jobs: runs them at once, and loses the elements it is told to lose.
const SBATCH: &str = r#"#!/bin/sh
array=
while :; do
  case $1 in
    --array=1-*) array=${1#--array=1-} ;;
    --*) ;;
    *) break ;;
  esac
  shift
done
if [ -z "$array" ]; then exec sh "$@"; fi
echo 7
for element in $(seq "$array"); do
  case " $LOSE " in *" all "* | *" $element "*) continue ;; esac
  SLURM_ARRAY_TASK_ID=$element sh "$@" >/dev/null 2>&1
done
"#;

#[cfg(unix)]
#[test]
fn the_job_array_flies_every_shard_and_its_follow_up_gives_up_after_three_rounds() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new("it's array");
    let example = example();
    let whole = asked("run", &example, &["--out", "whole"]);
    let digest = json(&folder.0, &whole)["digest"].clone();
    let sbatch = folder.0.join("sbatch");
    fs::write(&sbatch, SBATCH).expect("written");
    fs::set_permissions(&sbatch, fs::Permissions::from_mode(0o755)).expect("made to run");
    let path = std::env::var("PATH").unwrap_or_default();
    let path = format!("{}:{path}", folder.0.display());
    let follow = |run: &str, lose: &str, most: &str| {
        let plan = ["--shards", "9", "--out", run, "--slurm"];
        done(&folder.0, &asked("plan", &example, &plan));
        let ended = Command::new("sh")
            .arg(folder.0.join(run).join("slurm-follow.sh"))
            .envs([
                ("PATH", path.as_str()),
                ("LOSE", lose),
                ("PERIBAND_ARRAY", most),
            ])
            .output()
            .expect("a shell");
        let (out, errors) = (text(&ended.stdout), text(&ended.stderr));
        (ended.status.code(), out, errors)
    };
    let digest = digest.as_str().expect("a digest");
    // More shards than elements: the third of four has two of nine, is lost, and is made good in the second round.
    let (code, said, errors) = follow("some", "3", "4");
    assert_eq!(code, Some(0), "{said}{errors}");
    assert!(said.contains("round 2: 2 shards"), "{said}");
    assert!(said.contains("round 3: 0 shards"), "{said}");
    assert_eq!(parts(&folder.0.join("some/parts")).len(), 9);
    assert!(said.contains(digest), "{said}");
    let (code, said, errors) = follow("none", "all", "4");
    assert_eq!(code, Some(3), "{said}{errors}");
    assert!(
        said.contains("round 4: 9 shards") && !said.contains("round 5"),
        "{said}"
    );
    assert!(errors.contains("part-00008.json: missing"), "{errors}");
}
