//! What is said of the air of the day and what is flown: the same spread, about a profile that is the median,
//! each with its own grade.

use crate::case_of;
use crate::cli::{Folder, periband, text};
use periband::ensemble::problem::SampleNumber;
use periband::study::Case;
use periband::world::planet::AirSample;
use periband::world::{World, bundled_names};
use serde_json::{Value, json};
use std::fs;

const SAMPLES: u32 = 4000;

/// A ship that arrives fast enough at any world, with nothing of its own uncertain but what `air` says.
fn arrival(world: &str, air: &str) -> String {
    let aim = World::bundled(world).expect(world).body().entry_interface_m / 2e3;
    format!(
        "title: t\nworld: {world}\n\
         ship: {{mass: 20 t, reference_area: 60 m2, drag_coefficient: 1.4, nose_radius: 2 m}}\n\
         arrival: {{hyperbola: {{excess_speed: 4 km/s, inclination: 30 deg, aim_periapsis: {aim} km}}}}\n\
         uncertainty: {air}\nlimits: {{peak_deceleration: 5 g, captured_below: {{apoapsis_altitude: 90000 km}}}}\n"
    )
}

/// Logarithms of the density of each sample over that of the profile, at an altitude, as the lanes fly it.
fn log_ratios(case: &Case, altitude_m: f64) -> Vec<f64> {
    let (problem, planet) = (&case.problem, case.problem.planet());
    let ratio = |sample: u64| {
        let (start, flown) = problem
            .launch(
                problem.aim().from_m,
                &problem.numbers(sample),
                SampleNumber::Of(sample),
            )
            .expect("an approach");
        let r = start.position;
        let at = |air: &AirSample<f64>| planet.air(altitude_m, r, air).ln_density;
        at(&flown.air) - at(&AirSample::EXACT)
    };
    (0..u64::from(SAMPLES)).map(ratio).collect()
}

fn mean_and_std_dev(values: &[f64]) -> (f64, f64) {
    let n = f64::from(SAMPLES);
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>();
    (mean, (square / (n - 1.0)).sqrt())
}

/// At every bundled world and height: the median of the flown air is the profile, its spread the one that the
/// world states as a whole, its mean higher by half the variance. Four standard errors of 4000 samples; what
/// the scale height adds is not quite linear, which is 1 % of the spread at the most.
#[test]
fn the_flown_air_has_the_stated_spread_about_its_median() {
    let root = f64::from(SAMPLES).sqrt();
    for world in bundled_names() {
        let case = case_of(&arrival(world, "{}"));
        let (air, top) = (case.world.air(), case.world.body().entry_interface_m);
        for share in [0.02, 0.25, 0.5, 0.75, 0.98] {
            let altitude_m = share * top;
            let sigma = case.world.dispersion().log_sigma(air, altitude_m);
            let mut ratios = log_ratios(&case, altitude_m);
            let (_, std_dev) = mean_and_std_dev(&ratios);
            let off = std_dev / sigma - 1.0;
            assert!(
                off.abs() < 4.0 / (2.0_f64.sqrt() * root) + 0.01,
                "{world} at {altitude_m} m: {std_dev} flown, {sigma} stated"
            );
            let grown: Vec<f64> = ratios.iter().map(|ratio| ratio.exp()).collect();
            ratios.sort_by(f64::total_cmp);
            let median = ratios[ratios.len() / 2];
            // The error of a median is 1.2533 times that of a mean.
            assert!(
                median.abs() < 4.0 * 1.2533 * sigma / root,
                "{world} at {altitude_m} m: median {median}"
            );
            if sigma < 0.5 {
                let (mean, spread) = mean_and_std_dev(&grown);
                let expected = (0.5 * sigma * sigma).exp();
                assert!(
                    (mean - expected).abs() < 4.0 * spread / root + 0.01 * sigma,
                    "{world} at {altitude_m} m: mean {mean}, expected {expected}"
                );
            }
        }
    }
}

/// The figures of the whole one sigma that a world file states in words, as (per cent, km).
fn stated(world: &World) -> Vec<(f64, f64)> {
    let mut sources = world.sources().iter();
    let source = sources.find(|source| source.what == "dispersion");
    let words = &source.expect("a dispersion").text;
    let Some((_, after)) = words.split_once("the whole one sigma is ") else {
        return Vec::new();
    };
    let (list, _) = after.split_once(':').expect("a list that ends");
    let list = list.replace(" and ", ", ");
    let pairs = list.split(", ").map(|pair| {
        let (percent, rest) = pair.split_once(" % at ").expect("a pair");
        let km = rest.strip_suffix(" km").expect("an altitude");
        (percent.parse().expect("per cent"), km.parse().expect("km"))
    });
    pairs.collect()
}

/// The words of the Mars and the Earth file and their flown air agree, to the rounding of the words and the
/// sampling error of 4000 samples.
#[test]
fn the_words_of_the_mars_file_are_what_is_flown() {
    for (world, count) in [("mars", 5), ("earth", 5)] {
        let case = case_of(&arrival(world, "{}"));
        let stated = stated(&case.world);
        assert_eq!(stated.len(), count, "{world}");
        for (percent, km) in stated {
            let (_, std_dev) = mean_and_std_dev(&log_ratios(&case, 1e3 * km));
            let error = 4.0 * std_dev / (2.0 * f64::from(SAMPLES)).sqrt();
            let whole = case
                .world
                .dispersion()
                .log_sigma(case.world.air(), 1e3 * km);
            let off = (100.0 * whole - percent).abs();
            assert!(
                off < 0.5,
                "{world} at {km} km: {percent} % in words, {whole} stated"
            );
            let off = (std_dev - percent / 100.0).abs();
            assert!(
                off < error + 0.005,
                "{world} at {km} km: {percent} % in words, {std_dev} flown"
            );
        }
    }
}

/// The profile and each part of the spread have their own grades, in the summary, the manifest and the page of
/// every answer, and in `check`; what the scenario states or leaves out is said to be that.
#[test]
fn the_profile_and_its_spread_are_graded_apart() {
    let folder = Folder::new("air-grades");
    let run = |arguments: &[&str]| {
        let run = periband(&folder.0, arguments);
        assert!(run.status.success(), "{}", text(&run.stderr));
        text(&run.stdout)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
    };
    let read = |path: &str| fs::read_to_string(folder.0.join(path)).expect(path);
    let air = "{air: {scale_height: {std_dev: 2 %}, wind: exact}}";
    let mars = arrival("mars", air).replace(
        "aim_periapsis: 62.5 km",
        "aim_periapsis: {from: 44 km, to: 56 km, step: 4 km}",
    ) + "ask: {probability: 0.9, samples: 400}\n";
    fs::write(folder.0.join("mine.yaml"), mars).expect("a scenario");
    let expected = json!({
        "profile": "published",
        "profile_is": "median",
        "dispersion": {
            "density": "chosen",
            "scale_height": "the scenario's own",
            "small_scale": "chosen",
            "wind": "not flown",
        },
    });
    let words = "the profile published; its spread: density chosen, scale height the scenario's own, small scale chosen, \
                 wind not flown";
    assert!(run(&["check", "mine.yaml"]).contains(words));
    for (study, more) in [
        ("pass", "--periapsis=50km"),
        ("band", ""),
        ("influence", "--rows=500"),
    ] {
        let mut arguments = vec![study, "mine.yaml"];
        arguments.extend((!more.is_empty()).then_some(more));
        if study == "influence" {
            arguments.extend(["--halve", "0", "--periapsis", "50km"]);
        }
        run(&arguments);
        for file in ["summary", "manifest"] {
            let json: Value = serde_json::from_str(&read(&format!("out/mine/{study}/{file}.json")))
                .expect("JSON");
            assert_eq!(json["air"], expected, "{study} {file}");
        }
        let page = read(&format!("out/mine/{study}/report.html"));
        let page = page.replace("&#x27;", "'").replace("&#39;", "'");
        assert!(page.contains(words), "{study}");
        assert!(
            page.contains("half the variance of its logarithm"),
            "{study}"
        );
    }
    let earth = case_of(&arrival("earth", "{air: exact}"));
    let grades = periband::report::air_grades::summary(&earth);
    assert_eq!(grades["profile"], "published");
    assert_eq!(grades["dispersion"]["density"], "not flown");
    let made_up = case_of(&arrival("tavrelle", "{}"));
    let grades = periband::report::air_grades::summary(&made_up);
    assert_eq!(grades["profile"], "invented");
    assert_eq!(grades["dispersion"]["small_scale"], "invented");
}
