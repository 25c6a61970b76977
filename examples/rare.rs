//! Holds the search for rare accidents against counted passes at one aim of a scenario.
//!
//! `cargo run --release --example rare -- examples/mars-arrival.yaml 51.2 10000000`: the scenario, the aim in km, and
//! how many passes are counted. One line a limit, one for any of them; ends with code 1 where two 99.7 %
//! intervals do not meet.

#![allow(clippy::print_stdout, clippy::print_stderr)] // its answer is for the terminal

use periband::ensemble::interval::Interval;
use periband::ensemble::luck::Block;
use periband::ensemble::{Fleet, Progress};
use periband::report::limit_words::broken_words;
use periband::report::number::{count, significant};
use periband::study::Case;
use periband::study::rare::{THOROUGH, accidents};
use std::path::Path;
use std::process::ExitCode;

/// Of every interval: three standard deviations.
const CONFIDENCE: f64 = 0.9973;

fn main() -> ExitCode {
    match compare() {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(message) => {
            eprintln!("{message}");
            ExitCode::from(2)
        }
    }
}

fn compare() -> Result<bool, Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [file, aim_km, passes] = &words[..] else {
        return Err("give a scenario, an aim in km and a number of passes".into());
    };
    let case = Case::load(Path::new(file), &[])?;
    let (aim_m, passes): (f64, u64) = (1e3 * aim_km.parse::<f64>()?, passes.parse()?);
    let mut ask = case.scenario.ask;
    ask.confidence = CONFIDENCE;
    // As deep as a search goes.
    ask.probability = 1.0 - 1e-6;
    let progress = Progress::default();
    let fleet = Fleet::new(&case.problem, &progress);
    let found = accidents(&fleet, &ask, (aim_m, THOROUGH), Block::First)?;
    let counted = fleet.tally(&[aim_m], 0..passes)?.swap_remove(0);
    let names = found
        .limits
        .iter()
        .map(|limit| broken_words(&case, limit.kind));
    let names = names.chain(["any limit".to_owned()]);
    let searched = found
        .limits
        .iter()
        .map(|limit| limit.broken)
        .chain([found.any]);
    let counts = counted.broken.iter().chain([&counted.broken_any]);
    println!(
        "At {aim_km} km, {} passes searched, {} counted, intervals of {CONFIDENCE}:",
        count(found.passes),
        count(passes)
    );
    let mut agree = true;
    for ((name, searched), &broken) in names.zip(searched).zip(counts) {
        let held = Interval::clopper_pearson(broken, passes, CONFIDENCE)?;
        let meet = searched.lower <= held.upper && held.lower <= searched.upper;
        agree &= meet;
        println!(
            "{name}: searched {}, counted {} ({}){}",
            interval(&searched),
            interval(&held),
            count(broken),
            if meet { "" } else { "  DISAGREE" }
        );
    }
    Ok(agree)
}

fn interval(interval: &Interval) -> String {
    let [lower, middle, upper] =
        [interval.lower, interval.estimate, interval.upper].map(|p| significant(p, 3));
    format!("{middle} [{lower}, {upper}]")
}
