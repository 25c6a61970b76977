//! The whole time above a level, `limits.total_above`: the lanes, the reference integrator and every study against the
//! sum of all stays in a history of a millisecond.

use crate::case_of;
use crate::cli::{Folder, periband, text};
use crate::curves::{history, peaks, stays};
use periband::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use periband::ensemble::problem::SampleNumber;
use periband::ensemble::{Fleet, LimitKind, Progress};
use periband::numeric::quantity::Quantity;
use periband::pass::reference::{FlyOptions, fly};
use periband::study::{Case, find_band};
use rayon::prelude::*;
use serde_json::Value;
use std::fs;

/// Ballistic entries, with one peak.
const ONE_PEAK: &str = "title: Steep ballistic return\nworld: earth\n\
    ship: {name: P, mass: 3 t, reference_area: 5 m2, drag_coefficient: 1.3, nose_radius: 2.3 m}\n\
    arrival: {entry: {speed: 11 km/s, inclination: 41 deg, aim_periapsis: {from: -60 km, to: 60 km, step: 5 km}}}\n\
    uncertainty:\n  delivery: {flight_path_angle: {normal: {std_dev: 0.1 deg}}}\n  ship.drag_coefficient: {normal: {std_dev: 5 %}}\n\
    limits: {stay_above: [{level: 6 g, at_most: 30 s}], total_above: [LEVELS], comes_down: yes}\n\
    ask: {probability: 0.9, samples: 500, seed: 3}\n";

/// Lifting entries that skip inside the air, most with two peaks and more.
fn several_peaks() -> String {
    ONE_PEAK
        .replace(
            "drag_coefficient: 1.3,",
            "drag_coefficient: 1.3, lift_to_drag: 0.4, bank: 20 deg,",
        )
        .replace("speed: 11 km/s", "speed: 8.4 km/s")
        .replace("level: 6 g", "level: 0.9 g")
}

/// What the flights of a comparison were like; 25 of the 500 have several peaks.
#[derive(Debug, Default)]
struct Found {
    flights: usize,
    several_peaks: usize,
    /// The whole time is longer than the longest stay.
    longer: usize,
    broken: usize,
    verdicts: usize,
}

/// Every sample at every aim: what the lanes and the reference integrator measure is the sum of all stays, to 20 ms, and
/// a limit is broken exactly where that sum is above what it allows.
fn agrees(case: &Case, levels_g: &[f64], samples: u64) -> Found {
    let entries = case.problem.limits().entries();
    let place_of = |kind| {
        let mut all = entries.iter();
        all.position(|limit| limit.kind == kind).expect("a limit")
    };
    let range = case.problem.aim();
    let aims: Vec<f64> = (0..25)
        .map(|i| range.from_m + f64::from(i) * range.step_m)
        .filter(|aim| *aim <= range.to_m)
        .collect();
    let mut flown = Vec::new();
    let progress = Progress::default();
    Fleet::new(&case.problem, &progress)
        .fly(&aims, 0..samples, |one| flown.push(*one))
        .expect("not stopped");
    let lowest = levels_g.iter().copied().fold(f64::INFINITY, f64::min) * G0;
    let found = flown.par_iter().map(|one| {
        let (aim_m, sample) = (aims[one.aim], SampleNumber::Of(one.sample));
        let fine = history(case, aim_m, sample, lowest);
        let levels: Vec<f64> = levels_g.iter().map(|g| g * G0).collect();
        let searched = stays(&fine, &levels);
        let numbers = case.problem.numbers_of(sample);
        let launched = case.problem.launch(aim_m, &numbers, sample);
        let (start, ready) = launched.expect("an approach");
        let settings = (case.problem.settings(), FlyOptions::default());
        let reference = fly(case.problem.models(), &ready, &start, settings).expect("flies");
        let shown: Vec<(f64, f64)> = fine.iter().map(|&(t, a)| (t, a / G0)).collect();
        let mut found = Found {
            flights: 1,
            several_peaks: usize::from(peaks(&shown, 0.5) > 1),
            ..Found::default()
        };
        for (index, &(longest_s, sum_s)) in searched.iter().enumerate() {
            let place = place_of(LimitKind::TotalAbove(index));
            for (who, pass) in [("lanes", &one.result), ("reference", &reference.result)] {
                let total_s = pass.value(Quantity::TotalAbove, index).expect("measured");
                assert!(
                    (total_s - sum_s).abs() < 0.02,
                    "{who}, aim {aim_m}, {sample:?}, {} g: {total_s} for {sum_s} s",
                    levels_g[index]
                );
            }
            found.longer += usize::from(sum_s > longest_s + 0.5);
            if (sum_s - entries[place].allowed).abs() > 0.02 {
                let broken = one.broken >> place & 1 == 1;
                assert_eq!(broken, sum_s > entries[place].allowed);
                found.broken += usize::from(broken);
                found.verdicts += 1;
            }
        }
        found
    });
    found.reduce(Found::default, |sum, one| Found {
        flights: sum.flights + one.flights,
        several_peaks: sum.several_peaks + one.several_peaks,
        longer: sum.longer + one.longer,
        broken: sum.broken + one.broken,
        verdicts: sum.verdicts + one.verdicts,
    })
}

#[test]
fn with_one_peak_it_is_the_sum_over_a_fine_history() {
    let levels =
        "{level: 3 g, at_most: 40 s}, {level: 8 g, at_most: 15 s}, {level: 12 g, at_most: 5 s}";
    let case = case_of(&ONE_PEAK.replace("LEVELS", levels));
    let found = agrees(&case, &[3.0, 8.0, 12.0], 20);
    assert_eq!((found.flights, found.several_peaks), (500, 25));
    assert!(found.longer > 0, "{found:?}");
    assert!(
        found.broken > 100 && found.verdicts - found.broken > 100,
        "{found:?}"
    );
}

/// The edge of the band that the limit sets is where the search through the history puts it, to 10 m; and the longest
/// single stay of the same flight is still measured for `stay_above` as without the new limit.
#[test]
fn the_edge_of_a_band_is_where_the_sum_reaches_what_is_allowed() {
    let exact = several_peaks()
        .replace("delivery: {flight_path_angle: {normal: {std_dev: 0.1 deg}}}\n  ship.drag_coefficient: {normal: {std_dev: 5 %}}", "air: exact")
        .replace("stay_above: [{level: 0.9 g, at_most: 30 s}], ", "");
    let case = case_of(&exact.replace("LEVELS", "{level: 2 g, at_most: 100 s}"));
    let sum_s = |aim_m: f64| {
        let fine = history(&case, aim_m, SampleNumber::Nominal, 2.0 * G0);
        stays(&fine, &[2.0 * G0])[0].1
    };
    let found = find_band(&case.scenario, &case.problem, &Progress::default()).expect("flies");
    let band = found.band.expect("a band");
    let ours = Some(LimitKind::TotalAbove(0));
    let edges = [(&band.low, 10.0), (&band.high, -10.0)];
    let mut set = 0;
    for (edge, inwards_m) in edges {
        if edge.limit == ours {
            set += 1;
            let (inside, outside) = (sum_s(edge.aim_m + inwards_m), sum_s(edge.aim_m - inwards_m));
            assert!(
                inside <= 100.0 && outside > 100.0,
                "{}: {inside} {outside}",
                edge.aim_m
            );
        }
    }
    assert!(set > 0, "{band:?}");
}

/// Through the command line: `check` says it, `pass` judges it, `band` tells of it.
#[test]
fn every_command_knows_it() {
    let folder = Folder::new("total-above");
    let levels = "{level: 0.5 g, at_most: 250 s}, {level: 2 g, at_most: 60 s}";
    let path = folder.0.join("total.yaml");
    let scenario = several_peaks()
        .replace("LEVELS", levels)
        .replace("samples: 500", "samples: 300");
    fs::write(&path, scenario).expect("written");
    let done = |arguments: &[&str]| {
        let run = periband(&folder.0, arguments);
        assert!(run.status.success(), "{arguments:?}: {}", text(&run.stderr));
        text(&run.stdout)
    };
    let told = done(&["check", "total.yaml"]).replace('\n', " ");
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("above 2 g for at most 60 s in all"), "{told}");
    let pass: Value = serde_json::from_str(&done(&[
        "pass",
        "total.yaml",
        "--periapsis",
        "0km",
        "--json",
    ]))
    .expect("JSON");
    let limits = pass["limits"].as_array().expect("limits");
    let ours: Vec<&Value> = limits
        .iter()
        .filter(|one| one["limit"] == "total_above")
        .collect();
    assert_eq!(ours.len(), 2, "{pass}");
    assert_eq!(ours[1]["allowed"], "60 s");
    let band = done(&["band", "total.yaml", "--out", "band"]);
    assert!(band.contains("time above 2 g in all"), "{band}");
}
