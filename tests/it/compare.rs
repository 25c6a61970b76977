//! Finished runs side by side: their differences, the intervals of these, and what is refused.

use crate::cli::{Folder, periband, text};
use periband::ensemble::distribution::normal_probability;
use periband::ensemble::interval::Interval;
use periband::ensemble::quantile::Estimate;
use periband::numeric::counts::real;
use periband::report::answer::Answer;
use periband::report::compare::Comparison;
use periband::report::folder::sha256;
use periband::report::text::Terminal;
use periband::scenario::document::Document;
use periband::study::compare::{
    Draws, Flown, Pairs, Told, apart, compare, differing, independent, paired,
};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

#[test]
fn intervals_of_differences_are_the_published_ones() {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/proportion_differences.csv");
    let table = fs::read_to_string(path).expect("the table");
    let rows = table.lines().filter(|line| !line.starts_with('#')).skip(1);
    let mut seen = 0;
    for row in rows {
        let cells: Vec<&str> = row.split(',').collect();
        let counts: Vec<u64> = cells[1..5]
            .iter()
            .map(|cell| cell.parse().expect("a count"))
            .collect();
        let [a, b, c, d] = counts[..] else {
            panic!("{row}")
        };
        // The tables take the second from the first.
        let found = if cells[0] == "paired" {
            let pairs = Pairs {
                both: a,
                first: c,
                second: b,
                neither: d,
            };
            paired(&pairs, 0.95)
        } else {
            independent((c, d), (a, b), 0.95)
        };
        let found = found.expect("an interval");
        let ends = [found.lower.expect("an end"), found.upper.expect("an end")];
        for (place, end) in ends.into_iter().enumerate() {
            let computed: f64 = cells[5 + place].parse().expect("a number");
            assert!((end - computed).abs() < 1e-10, "{row}: {end}");
            if let Ok(published) = cells[7 + place].parse::<f64>() {
                let decimals = cells[7 + place]
                    .split_once('.')
                    .map_or(0, |(_, all)| all.len());
                let digits = i32::try_from(decimals).expect("few digits");
                let allowed = 0.5 * 10_f64.powi(-digits) + 1e-9;
                assert!((end - published).abs() <= allowed, "{row}: {end}");
                seen += 1;
            }
        }
    }
    assert!(seen >= 20, "{seen} published ends");
}

/// The exact coverage of the paired interval: all outcomes of 30 pairs, summed; none covers less often than it says. The
/// same sums were made by a program of its own in another language.
#[test]
#[expect(clippy::cast_precision_loss, reason = "counts up to 30")]
fn the_paired_interval_covers_as_often_as_it_says() {
    const N: u64 = 30;
    let ln_factorial = |n: u64| (1..=n).map(|i| (i as f64).ln()).sum::<f64>();
    for (shares, known) in [
        ([0.80_f64, 0.08, 0.04, 0.08], 0.985_108_161_4),
        ([0.55, 0.15, 0.10, 0.20], 0.962_631_110_4),
        ([0.25, 0.25, 0.25, 0.25], 0.952_439_155_9),
        ([0.86, 0.10, 0.02, 0.02], 0.988_431_824_6),
        ([0.40, 0.05, 0.25, 0.30], 0.955_704_366_4),
    ] {
        let truth = shares[2] - shares[1];
        let mut covered = 0.0;
        for both in 0..=N {
            for first in 0..=N - both {
                for second in 0..=N - both - first {
                    let neither = N - both - first - second;
                    let counts = [both, first, second, neither];
                    let terms = counts
                        .iter()
                        .zip(shares)
                        .map(|(&k, p)| k as f64 * p.ln() - ln_factorial(k));
                    let mass = (ln_factorial(N) + terms.sum::<f64>()).exp();
                    let pairs = Pairs {
                        both,
                        first,
                        second,
                        neither,
                    };
                    let found = paired(&pairs, 0.95).expect("an interval");
                    if found.lower <= Some(truth) && Some(truth) <= found.upper {
                        covered += mass;
                    }
                }
            }
        }
        let close: f64 = covered - known;
        assert!(close.abs() < 1e-9, "{shares:?}: {covered}");
    }
}

fn told(flown: Vec<Flown>) -> Told {
    Told {
        seed: 1,
        samples: 0..flown.len() as u64,
        held: flown.iter().filter(|one| one.held).count() as u64,
        own: None,
        flown,
        quantiles: [None; 3],
    }
}

/// The second run is the first with 2.5 more on every value and every tenth sample broken: pairs tell the shift exactly,
/// and independent samples of the same counts do not.
#[test]
#[expect(clippy::cast_precision_loss, reason = "values below 1000")]
fn a_known_shift_is_found_sample_by_sample() {
    let sample = |i: u64| Flown {
        sample: i,
        held: true,
        values: [Some(((i * 7919) % 1000) as f64), None, Some(1.0)],
    };
    let first = told((0..400).map(sample).collect());
    let second = told(
        (0..400)
            .map(|i| Flown {
                held: i % 10 != 0,
                values: sample(i).values.map(|value| value.map(|v| v + 2.5)),
                ..sample(i)
            })
            .collect(),
    );
    let found = compare((&first, &second), true, 0.95).expect("a difference");
    assert_eq!(found.draws, Draws::Same);
    assert_eq!(
        found.pairs,
        Some(Pairs {
            both: 360,
            first: 40,
            second: 0,
            neither: 0
        })
    );
    assert!((found.held.value + 0.1).abs() < 1e-15);
    let (middle, high) = found.spreads[0].expect("values");
    for end in [
        Some(middle.value),
        middle.lower,
        middle.upper,
        Some(high.value),
        high.lower,
        high.upper,
    ] {
        assert!((end.expect("an end") - 2.5).abs() < 1e-9);
    }
    assert_eq!(found.spreads[1], None, "no sample has a value");
    // Another seed shares nothing.
    let other = Told {
        seed: 2,
        ..second.clone()
    };
    let apart = compare((&first, &other), true, 0.95).expect("a difference");
    assert_eq!((apart.draws, apart.pairs), (Draws::Independent, None));
    let by_counts = independent((400, 400), (360, 400), 0.95).expect("an interval");
    assert_eq!(apart.held, by_counts);
    // Half the samples: those that both have are told.
    let half = Told {
        samples: 0..200,
        flown: second.flown[..200].to_vec(),
        ..second
    };
    let part = compare((&first, &half), true, 0.95).expect("a difference");
    assert_eq!(part.draws, Draws::Partly);
    assert_eq!(
        part.pairs,
        Some(Pairs {
            both: 180,
            first: 20,
            second: 0,
            neither: 0
        })
    );
}

#[test]
fn what_is_certain_differs_for_certain_and_a_missing_end_stays_missing() {
    let certain = |held: bool| Told {
        held: u64::from(held),
        own: Some(Interval::certain(held)),
        samples: 0..1,
        ..told(Vec::new())
    };
    let found = compare((&certain(false), &certain(true)), true, 0.95).expect("a difference");
    assert_eq!(
        (found.held.value, found.held.lower, found.held.upper),
        (1.0, Some(1.0), Some(1.0))
    );
    let open = Estimate {
        value: 2.0,
        lower: None,
        upper: Some(3.0),
    };
    let known = Estimate {
        value: 1.0,
        lower: Some(0.0),
        upper: Some(1.5),
    };
    assert_eq!(apart(&known, &open).lower, None);
    let upper = apart(&known, &open).upper.expect("an end");
    assert!((upper - (1.0 + 2_f64.sqrt())).abs() < 1e-12);
}

#[test]
fn scenarios_differ_by_what_they_say_and_not_by_how() {
    let tree = |text: &str| {
        Document::from_text("x.yaml", text)
            .expect("a text")
            .tree()
            .clone()
    };
    let a =
        tree("title: x # a comment\nship: {mass: 60t, bank: 0 deg, drag: 1.50}\nlist: [1 km, 2]\n");
    let b = tree(
        "ship:\n  mass: 60000 kg\n  drag: 1.5\n  bank: 0 deg\nlist:\n- 1000 m\n- 2\ntitle: \"x\"\n",
    );
    assert_eq!(differing(&[&a, &b]), []);
    let c = tree("title: x\nship: {mass: 60 kg, bank: 0 deg, nose: 3 m}\nlist: [1 km, 3, 4]\n");
    let keys: Vec<(String, Vec<Option<String>>)> = differing(&[&a, &c]);
    let said = |key: &str| {
        keys.iter()
            .find(|one| one.0 == key)
            .map(|one| one.1.clone())
    };
    assert_eq!(keys.len(), 5, "{keys:?}");
    assert_eq!(
        said("ship.mass"),
        Some(vec![Some("60t".into()), Some("60 kg".into())])
    );
    assert_eq!(said("ship.drag"), Some(vec![Some("1.5".into()), None]));
    assert_eq!(said("ship.nose"), Some(vec![None, Some("3 m".into())]));
    assert_eq!(said("list.2"), Some(vec![None, Some("4".into())]));
}

/// A pass with two sharp edges and one uncertain delivery: 10 g below, must come down above.
fn scenario(folder: &Path, name: &str, (limit, sigma, ask): (&str, &str, &str)) -> String {
    let world = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/worlds/chapman.yaml");
    let text = format!(
        "title: {name} of the lander Ummerin\nworld: {}\n\
         ship: {{mass: 300 kg, reference_area: 1 m2, drag_coefficient: 1, nose_radius: 1 m}}\n\
         arrival: {{hyperbola: {{excess_speed: 0 km/s, inclination: 0 deg, \
         aim_periapsis: {{from: 40 km, to: 75 km, step: 5 km}}}}}}\n\
         uncertainty: {{air: {{density: exact}}, delivery: {{periapsis_altitude: {{normal: {{std_dev: {sigma}}}}}}}}}\n\
         limits: {{peak_deceleration: {limit}, comes_down: yes}}\nask: {{probability: 0.9, {ask}}}\n",
        world.display()
    );
    fs::write(folder.join(format!("{name}.yaml")), text).expect("a scenario");
    format!("{name}.yaml")
}

/// Flies a scenario and gives the folder of its run.
fn flown(folder: &Path, name: &str, asked: (&str, &str, &str), options: &[&str]) -> PathBuf {
    let file = scenario(folder, name, asked);
    let mut arguments = vec!["band", file.as_str(), "--quiet"];
    arguments.extend(options);
    let run = periband(folder, &arguments);
    assert!(run.status.success(), "{}", text(&run.stderr));
    folder.join("out").join(name).join("band")
}

fn answer(folders: &[PathBuf]) -> Answer {
    Comparison::of(folders)
        .expect("runs that can be compared")
        .answer()
}

const ASK: &str = "samples: 1500, seed: 3";

/// With a normal delivery error alone the probability of holding at an aim follows from the edges without errors: the
/// difference of two runs at a common aim is known, and so is that of their bands.
#[test]
fn two_runs_whose_difference_is_known() {
    let folder = Folder::new("compare-known");
    let run = |name, sigma, options: &[&str]| flown(&folder.0, name, ("10 g", sigma, ASK), options);
    let exact = flown(
        &folder.0,
        "exact",
        ("10 g", "0.001 m", "samples: 50, seed: 3"),
        &[],
    );
    let narrow = run("narrow", "1 km", &["--rows", "all"]);
    let wide = run("wide", "3 km", &["--rows", "all"]);
    let edges = json(&exact)["safe_periapsis_band_km"].clone();
    let edge = |key: &str| edges[key].as_f64().expect("an edge");
    let held = |aim: f64, sigma: f64| {
        normal_probability((aim - edge("low")) / sigma)
            - normal_probability((aim - edge("high")) / sigma)
    };
    let found = answer(&[narrow.clone(), wide.clone()]).summary;
    let first = &found["differences"][0];
    for (at, aim) in [
        ("/at_recommended", None),
        (
            "/at_common_aim/differences",
            first["at_common_aim"]["periapsis_km"].as_f64(),
        ),
    ] {
        let told = first.pointer(at).expect("a difference");
        assert_eq!(
            (&told["draws"], &told["paired"]),
            (&Value::from("same"), &Value::from(true))
        );
        let points = |end: &str| {
            told["values"]["probability_held_points"][end]
                .as_f64()
                .expect("an end")
        };
        let aims = [0, 1].map(|i| {
            aim.unwrap_or_else(|| {
                found["runs"][i]["recommended_periapsis_km"]
                    .as_f64()
                    .expect("an aim")
            })
        });
        let truth = 100.0 * (held(aims[1], 3.0) - held(aims[0], 1.0));
        assert!(
            points("lower") <= truth && truth <= points("upper"),
            "{at}: {truth} of {told}"
        );
        assert!(points("upper") - points("lower") < 8.0, "{told}");
    }
    // The band loses 1.2816 sigma at each edge (the normal quantile of 0.9), 2 km of sigma more: 5.126 km.
    let width = |end: &str| first["band_width_km"][end].as_f64().expect("an end");
    assert!(
        width("lower") <= -5.126 && -5.126 <= width("upper"),
        "{first}"
    );
    let keys: Vec<&str> = found["scenarios_differ_in"]
        .as_array()
        .expect("keys")
        .iter()
        .filter_map(|one| one["key"].as_str())
        .collect();
    assert_eq!(
        keys,
        [
            "title",
            "uncertainty.delivery.periapsis_altitude.normal.std_dev"
        ]
    );
    // A run against itself under another name differs in nothing.
    let copy = folder.0.join("copy");
    copied(&narrow, &copy);
    let same = answer(&[narrow, copy]);
    assert_eq!(
        same.summary["differences"][0]["at_recommended"]["values"]["probability_held_points"]["value"],
        0.0
    );
    assert_eq!(
        same.summary["differences"][0]["at_recommended"]["values"]["peak_deceleration_g_p95"]["upper"],
        0.0
    );
    assert!(
        same.lead.ends_with("Their scenarios say the same."),
        "{}",
        same.lead
    );
}

/// A run at two aims inside the band shows a band between them: it may be as wide as any, and is not called narrower.
#[test]
fn a_band_that_ends_with_the_range_of_aims_is_not_called_narrower() {
    let folder = Folder::new("compare-open");
    let whole = flown(
        &folder.0,
        "whole",
        ("10 g", "1 km", "samples: 300, seed: 3"),
        &[],
    );
    let middle = json(&whole)["recommended_periapsis_km"]
        .as_f64()
        .expect("an aim");
    let aims = format!("{}km,{}km", middle - 0.5, middle + 0.5);
    let arguments = [
        "run",
        "whole.yaml",
        "--samples",
        "300",
        "--aims",
        &aims,
        "--quiet",
    ];
    let run = periband(&folder.0, &arguments);
    assert!(run.status.success(), "{}", text(&run.stderr));
    let beside = fs::read_dir(folder.0.join("out/whole")).expect("a folder");
    let mut beside = beside.map(|entry| entry.expect("an entry").path());
    let part = beside
        .find(|path| *path != whole)
        .expect("the run's own folder");
    assert_eq!(
        json(&part)["safe_periapsis_band_km"]["high_limit"],
        "range_of_aims"
    );
    let found = answer(&[whole, part]);
    let width = &found.summary["differences"][0]["band_width_km"];
    assert!(
        width["upper"].is_null() && width["lower"].is_f64(),
        "{width}"
    );
    let at_aim = &found.summary["differences"][0]["at_recommended"];
    assert_eq!(
        (&at_aim["draws"], &at_aim["pairs"]),
        (&Value::from("independent"), &Value::Null)
    );
    assert!(
        found
            .lead
            .starts_with("It is not shown which of A and B has the wider"),
        "{}",
        found.lead
    );
}

fn json(folder: &Path) -> Value {
    serde_json::from_slice(&fs::read(folder.join("summary.json")).expect("a summary"))
        .expect("JSON")
}

fn copied(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(from).expect("a folder") {
        let path = entry.expect("an entry").path();
        fs::copy(&path, to.join(path.file_name().expect("a name"))).expect("a copy");
    }
}

#[test]
fn runs_without_shared_draws_or_rows_are_told_as_independent_and_say_so() {
    let folder = Folder::new("compare-apart");
    let run = |name, ask, options: &[&str]| flown(&folder.0, name, ("10 g", "1 km", ask), options);
    let a = run("a", ASK, &[]);
    let other_seed = run("b", "samples: 1500, seed: 4", &[]);
    let no_rows = run("c", ASK, &["--rows", "none"]);
    let fewer = run("d", "samples: 700, seed: 3", &[]);
    let found = answer(&[a.clone(), other_seed, no_rows, fewer]);
    let of = |i: usize| &found.summary["differences"][i]["at_recommended"];
    let told = |i: usize| {
        (
            of(i)["draws"].as_str().expect("a word"),
            of(i)["paired"] == true,
        )
    };
    assert_eq!(told(0), ("independent", false));
    assert_eq!(told(1), ("same", false));
    assert_eq!(told(2), ("partly_the_same", true));
    assert!(
        found.lead.contains("independent samples")
            && found.lead.contains("partly the same, paired"),
        "{}",
        found.lead
    );
    let shown = found.text(Terminal::default());
    for words in [
        "rows of a run were not kept",
        "another seed",
        "700 sample numbers that both have",
    ] {
        assert!(shown.replace('\n', " ").contains(words), "{words}: {shown}");
    }
    // Its interval is that of the counts.
    let summary = json(&a);
    let counts = |summary: &Value| {
        let share = summary["probability_at_recommended"]["estimate"]
            .as_f64()
            .expect("a share");
        let events = (0..=1500).find(|&k| (real(k) - share * 1500.0).abs() < 0.5);
        (events.expect("a count"), 1500)
    };
    let by_counts = independent(
        counts(&summary),
        counts(&json(&folder.0.join("out/b/band"))),
        0.95,
    )
    .expect("an interval");
    let lower = of(0)["values"]["probability_held_points"]["lower"]
        .as_f64()
        .expect("an end");
    assert!((lower - 100.0 * by_counts.lower.expect("an end")).abs() < 1e-12);
}

#[test]
fn a_comparison_fits_every_terminal_and_leaves_its_files() {
    let folder = Folder::new("compare-files");
    let run = |name, limit| {
        flown(
            &folder.0,
            name,
            (limit, "1 km", "samples: 300, seed: 3"),
            &[],
        )
    };
    let runs = [
        run("ten", "10 g"),
        run("twelve", "12 g"),
        run("fourteen", "14 g"),
    ];
    let found = answer(&runs);
    for width in [50, 80, 120] {
        let terminal = Terminal {
            width,
            colour: false,
        };
        for line in found.text(terminal).lines() {
            let wide = line.chars().count();
            // A path is one word, and broken where it has to be.
            assert!(wide <= width, "{wide} columns of {width}: {line}");
        }
    }
    assert!(
        found.lead.contains("B has the wider safe band"),
        "{}",
        found.lead
    );
    assert!(
        found
            .lead
            .contains("limits.peak_deceleration (10 g, 12 g, 14 g)"),
        "{}",
        found.lead
    );
    let said = periband(&folder.0, &["compare", "out/ten/band", "out/twelve/band"]);
    assert!(said.status.success(), "{}", text(&said.stderr));
    let out = text(&said.stdout);
    assert!(out.starts_with("B has the wider safe band"), "{out}");
    assert!(
        out.contains("The limits differ") && out.contains("Files: out/compare/ten-vs-twelve"),
        "{out}"
    );
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    let left = folder.0.join("out/compare/ten-vs-twelve");
    for name in [
        "summary.json",
        "report.html",
        "manifest.json",
        "probability.svg",
        "probability.png",
        "peak_deceleration.png",
        "heat_load.svg",
    ] {
        assert!(left.join(name).is_file(), "{name}");
    }
    let page = fs::read_to_string(left.join("report.html")).expect("a page");
    assert!(
        page.contains("not a basis for flight") && page.contains("Newcombe"),
        "caution and methods"
    );
    let printed = periband(
        &folder.0,
        &["compare", "out/ten/band", "out/twelve/band", "--json"],
    );
    let printed: Value = serde_json::from_slice(&printed.stdout).expect("JSON alone");
    assert_eq!(printed, json(&left));
    let verdicts = |summary: &Value| summary["verdict"].clone();
    for (place, run) in runs[..2].iter().enumerate() {
        assert_eq!(
            verdicts(&printed["runs"][place]),
            verdicts(&json(run)),
            "never another than the run's own"
        );
    }
    assert!(
        periband(
            &folder.0,
            &["compare", "out/ten/band", "out/twelve/band", "--quiet"]
        )
        .stdout
        .is_empty()
    );
}

#[test]
fn what_cannot_be_compared_is_refused_with_what_it_is() {
    let folder = Folder::new("compare-refused");
    let good = flown(
        &folder.0,
        "good",
        ("10 g", "1 km", "samples: 50, seed: 3"),
        &[],
    );
    let other = flown(
        &folder.0,
        "other",
        ("11 g", "1 km", "samples: 50, seed: 3"),
        &[],
    );
    let file = scenario(&folder.0, "one", ("10 g", "1 km", "samples: 50"));
    assert!(
        periband(
            &folder.0,
            &["pass", &file, "--periapsis", "60km", "--quiet"]
        )
        .status
        .success()
    );
    let said = |path: &Path| {
        let run = periband(
            &folder.0,
            &[
                "compare",
                &path.display().to_string(),
                &other.display().to_string(),
            ],
        );
        let words = text(&run.stderr);
        assert!(words.contains("help: ") && run.stdout.is_empty(), "{words}");
        (
            run.status.code(),
            words.split_whitespace().collect::<Vec<_>>().join(" "),
        )
    };
    let refused = |path: &Path, words: &str| {
        let (code, told) = said(path);
        assert!(
            code == Some(2) && told.contains(words),
            "{words}: {code:?} {told}"
        );
    };
    refused(&other, "is given twice");
    refused(&other.join("../band/."), "is given twice");
    refused(&folder.0.join("nowhere"), "does not exist");
    refused(&folder.0.join("one.yaml"), "is no folder");
    refused(&folder.0.join("out/one/pass"), "is a run of `pass`");
    refused(&folder.0.join("out/good"), "did you mean");
    let with = |name: &str, change: &dyn Fn(&Path)| {
        let path = folder.0.join(name);
        copied(&good, &path);
        change(&path);
        path
    };
    let stopped = with("stopped", &|path| {
        fs::rename(path.join("summary.json"), path.join("partial.json")).expect("renamed");
    });
    refused(&stopped, "was stopped");
    let unlisted = with("unlisted", &|path| {
        fs::remove_file(path.join("manifest.json")).expect("removed");
    });
    refused(&unlisted, "is not finished: it has no manifest.json");
    for name in [
        "summary.json",
        "samples.parquet",
        "scenario.yaml",
        "manifest.json",
    ] {
        let cut = with(&format!("cut-{name}"), &|path| {
            let bytes = fs::read(path.join(name)).expect("bytes");
            fs::write(path.join(name), &bytes[..bytes.len() / 2]).expect("written");
        });
        let (code, told) = said(&cut);
        assert!(
            code == Some(4) && told.contains(name) && told.contains("run the study again"),
            "{told}"
        );
    }
    let foreign = with("foreign", &|path| {
        fs::copy(other.join("samples.parquet"), path.join("samples.parquet")).expect("copied");
    });
    let (code, told) = said(&foreign);
    assert!(
        code == Some(4) && told.contains("samples.parquet is not as its manifest lists it"),
        "{told}"
    );
}

/// Lists the files of a folder anew, as if the program had written them.
fn relisted(folder: &Path) {
    let path = folder.join("manifest.json");
    let mut manifest: Value =
        serde_json::from_slice(&fs::read(&path).expect("a manifest")).expect("JSON");
    for file in manifest["files"].as_array_mut().expect("files") {
        let bytes = fs::read(folder.join(file["name"].as_str().expect("a name"))).expect("bytes");
        file["sha256"] = sha256(&bytes).into();
    }
    fs::write(path, manifest.to_string()).expect("written");
}

/// Files that their manifest lists, but that do not agree: other rows, other counts, missing and foreign values.
#[test]
fn files_that_do_not_agree_are_refused_and_nothing_panics() {
    let folder = Folder::new("compare-fuzz");
    let good = flown(
        &folder.0,
        "good",
        ("10 g", "1 km", "samples: 60, seed: 3"),
        &[],
    );
    let other = flown(
        &folder.0,
        "other",
        ("10 g", "4 km", "samples: 61, seed: 4"),
        &[],
    );
    let path = folder.0.join("changed");
    let foreign =
        |path: &Path| fs::copy(other.join("samples.parquet"), path.join("samples.parquet"));
    copied(&good, &path);
    foreign(&path).expect("copied");
    relisted(&path);
    let error = Comparison::of(&[path.clone(), other.clone()])
        .expect_err("foreign rows")
        .to_string();
    assert!(
        error.contains("samples.parquet has other samples"),
        "{error}"
    );
    let summary = fs::read_to_string(good.join("summary.json")).expect("a summary");
    let mut refused = 0;
    for (from, to) in [
        ("\"count\": 60", "\"count\": 0"),
        ("\"count\": 60", "\"count\": 18446744073709551615"),
        ("\"count\": 60", "\"count\": -1"),
        (
            "\"first\": 1000000000000000",
            "\"first\": 18446744073709551615",
        ),
        ("\"seed\": 3", "\"seed\": \"three\""),
        (
            "\"probability_at_recommended\": {",
            "\"probability_at_recommended\": null, \"x\": {",
        ),
        ("\"estimate\": ", "\"estimate\": 1e300, \"x\": "),
        ("\"confidence\": 0.95", "\"confidence\": 1.5"),
        ("\"study\": ", "\"study\": [], \"x\": "),
        ("\"limits\": [", "\"limits\": [null, "),
        (
            "\"recommended_periapsis_km\": ",
            "\"recommended_periapsis_km\": 1e308, \"x\": ",
        ),
        ("{", "["),
    ] {
        copied(&good, &path);
        let changed = summary.replacen(from, to, 1);
        assert_ne!(changed, summary, "{from} is there");
        fs::write(path.join("summary.json"), changed).expect("written");
        relisted(&path);
        for order in [[path.clone(), other.clone()], [other.clone(), path.clone()]] {
            match Comparison::of(&order) {
                Ok(found) => drop(found.answer().text(Terminal::default())),
                Err(error) => {
                    assert!(
                        error.to_string().contains("changed"),
                        "names the file: {error}"
                    );
                    refused += 1;
                }
            }
        }
    }
    assert!(refused >= 18, "{refused} of 24 refused");
}
