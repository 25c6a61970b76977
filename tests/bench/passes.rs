//! `cargo bench`: passes a second and core in the lanes against loops over the library integrator on
//! the same physics and the same samples, and how time and memory grow with the number of passes.
//!
//! Every figure of a table is taken in one run, so that ratios hold on a shared machine; times are
//! those of the thread's own use of the processor where the system tells them.

#![allow(clippy::print_stdout, clippy::cast_precision_loss)]

#[path = "clock.rs"]
mod clock;
#[path = "loops.rs"]
mod loops;

use clock::thread_time;
use loops::{Library, Motion, library, state_of};
use periband::Case;
use periband::ensemble::problem::SampleNumber;
use periband::ensemble::{Fleet, Progress};
use periband::pass::batch::{Batch, Settings};
use periband::pass::dynamics::{State, velocity};
use periband::pass::{EntryState, Sample};
use std::path::Path;
use std::time::Instant;

const AIM_M: f64 = 51.2e3;
/// Error of the exit speed that each way of flying has to reach for 99.9 % of the samples, m/s.
const WANTED: f64 = 1e-3;
/// Samples for the truth and the errors.
const JUDGED: usize = 2000;
/// Samples for the speed of the lanes.
const TIMED: usize = 60_000;

fn main() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let example = root.join("examples/mars-arrival.yaml");
    let everything = root.join("tests/bench/everything.yaml");
    let load = |path: &Path| Case::load(path, &[]).expect("a bundled scenario is valid");
    for (name, path) in [
        ("Mars example", &example),
        ("everything at once", &everything),
    ] {
        let case = load(path);
        println!(
            "{name}, aim {:.1} km, all of the air's dispersion, one core\n",
            aim_m(&case) / 1e3
        );
        compare(&case);
    }
    println!(
        "{:<36} {:>14} {:>8}",
        "everything at once, less a part", "passes/s/core", "share"
    );
    parts(&everything);
    grow(&load(&example));
}

/// The aim that is flown: the scenario's, if it has one only.
fn aim_m(case: &Case) -> f64 {
    let aim = case.problem.aim();
    if aim.is_single() { aim.from_m } else { AIM_M }
}

/// What each part of the full physics costs, one switched off at a time, at the default tolerance; and what it costs
/// to hold each flight against a curve of level and duration at all its levels, which is not there otherwise.
fn parts(path: &Path) {
    let mut all = 0.0;
    for (what, set) in [
        ("nothing left out", None),
        (
            "small-scale field",
            Some(("uncertainty.air.small_scale", "exact")),
        ),
        ("error of the wind", Some(("uncertainty.air.wind", "exact"))),
        (
            "error of the scale height",
            Some(("uncertainty.air.scale_height", "exact")),
        ),
        (
            "any dispersion of the air",
            Some(("uncertainty.air", "exact")),
        ),
        (
            "coefficients that change",
            Some(("ship.configuration", "constant")),
        ),
        ("radiation", Some(("ship.heating.radiative", "no"))),
        (
            "free-molecular heating",
            Some(("ship.heating.free_molecular", "no")),
        ),
        (
            "with a curve for people, one more",
            Some(("limits.people", "{curve: nasa-std-3001-emergency}")),
        ),
    ] {
        let sets: Vec<(String, String)> = set
            .iter()
            .map(|(key, value)| ((*key).to_owned(), (*value).to_owned()))
            .collect();
        let case = Case::load(path, &sets).expect("a valid scenario");
        let tolerance = case.problem.settings().tolerance;
        let (_, _, seconds, _) = lanes(&case, tolerance, TIMED);
        let rate = 1.0 / per(seconds, TIMED);
        if set.is_none() {
            all = rate;
        }
        println!("{what:<36} {rate:>14.0} {:>8.2}", rate / all);
    }
    println!();
}

fn launch(case: &Case, number: usize) -> (EntryState, Sample<f64>) {
    let numbers = case.problem.numbers(number as u64);
    case.problem
        .launch(aim_m(case), &numbers, SampleNumber::Of(number as u64))
        .expect("an approach")
}

/// What one way of flying gives: exit speeds and durations of the judged samples.
fn lanes(case: &Case, tolerance: f64, count: usize) -> (Vec<f64>, Vec<f64>, f64, f64) {
    let settings = Settings {
        tolerance,
        ..case.problem.settings().clone()
    };
    let (mut speeds, mut durations) = (vec![0.0; count], vec![0.0; count]);
    let mut next = 0;
    let clock = Instant::now();
    let start = thread_time(clock);
    let cost = Batch::new(case.problem.models(), &settings).fly(
        || {
            (next < count).then(|| {
                let (start, sample) = launch(case, next);
                next += 1;
                (next - 1, start, sample)
            })
        },
        |number, pass| {
            speeds[number] = pass.end_inertial_speed_m_s;
            durations[number] = pass.duration_s;
        },
    );
    let seconds = thread_time(clock) - start;
    (
        speeds,
        durations,
        seconds,
        per(cost.flight_steps as f64, count),
    )
}

/// Inertial speed of a state, m/s.
fn speed(y: &State<f64>) -> f64 {
    velocity(y).norm()
}

fn quantile_999(mut errors: Vec<f64>) -> f64 {
    errors.sort_by(f64::total_cmp);
    errors[errors.len() - 1 - errors.len() / 1000]
}

fn errors(ours: &[f64], truth: &[f64]) -> f64 {
    quantile_999(ours.iter().zip(truth).map(|(a, b)| (a - b).abs()).collect())
}

fn per(total: f64, count: usize) -> f64 {
    total / count as f64
}

/// The loosest of a row of tolerances whose error is within [`WANTED`], with that error.
fn loosest(error_at: impl Fn(f64) -> f64) -> Option<(f64, f64)> {
    (0..60)
        .map(|i| 1e-4 * 10_f64.powf(-f64::from(i) / 6.0))
        .map(|tolerance| (tolerance, error_at(tolerance)))
        .find(|(_, error)| *error <= WANTED)
}

fn compare(case: &Case) {
    let models = case.problem.models();
    let (truth, durations, _, _) = lanes(case, 1e-13, JUDGED);
    let lane_error = |tolerance| errors(&lanes(case, tolerance, JUDGED).0, &truth);
    let (tolerance, error) = loosest(lane_error).expect("the lanes reach the error");
    let (_, _, seconds, steps) = lanes(case, tolerance, TIMED);
    let lane_rate = 1.0 / per(seconds, TIMED);
    println!(
        "{:<26} {:>9} {:>16} {:>14} {:>6}",
        "each at the loosest", "tolerance", "error p99.9 m/s", "passes/s/core", "ratio"
    );
    println!(
        "{:<26} {tolerance:>9.0e} {error:>16.1e} {lane_rate:>14.0}",
        "lanes"
    );
    let mut best = [0.0_f64; 2];
    for which in [Library::Dop853, Library::Dopri5] {
        // The error of a fixed length of flight, against the same integrator at a tight tolerance.
        let fly_to_end = |tolerance: f64| -> Vec<f64> {
            (0..JUDGED)
                .map(|number| {
                    let (start, sample) = launch(case, number);
                    let motion = Motion {
                        models,
                        sample: &sample,
                        stops: None,
                        fused: true,
                    };
                    let length = (durations[number], 1.0);
                    speed(&library(
                        which,
                        motion,
                        &state_of(&start),
                        length,
                        tolerance,
                    ))
                })
                .collect()
        };
        let exact = fly_to_end(1e-13);
        let Some((tolerance, error)) = loosest(|t| errors(&fly_to_end(t), &exact)) else {
            println!("{:<26} does not reach the error", name(which));
            continue;
        };
        for (fused, best) in [true, false].into_iter().zip(&mut best) {
            let clock = Instant::now();
            let start_time = thread_time(clock);
            let longest = case.problem.settings().longest_s;
            for number in 0..JUDGED {
                let (start, sample) = launch(case, number);
                let motion = Motion {
                    models,
                    sample: &sample,
                    stops: Some(0.0),
                    fused,
                };
                let length = (longest, 1.0);
                std::hint::black_box(library(which, motion, &state_of(&start), length, tolerance));
            }
            let rate = 1.0 / per(thread_time(clock) - start_time, JUDGED);
            *best = best.max(rate);
            let built = if fused {
                "fused multiply-adds"
            } else {
                "stock build"
            };
            println!(
                "{:<26} {tolerance:>9.0e} {error:>16.1e} {rate:>14.0} {:>6.1}",
                format!("{}, {built}", name(which)),
                lane_rate / rate
            );
        }
    }
    println!("\n{steps:.1} steps a pass. Lanes against the better loop:");
    println!(
        "  {:.1} times, the loop's equations as a stock build compiles them",
        lane_rate / best[1]
    );
    println!(
        "  {:.1} times, the loop's equations compiled for fused multiply-adds too\n",
        lane_rate / best[0]
    );
}

fn name(which: Library) -> &'static str {
    match which {
        Library::Dop853 => "Dop853",
        Library::Dopri5 => "Dopri5",
    }
}

/// Peak memory since it was last reset, MiB, where the system tells it.
fn peak_memory() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = text.lines().find(|line| line.starts_with("VmHWM"))?;
    let kib: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1024.0)
}

fn grow(case: &Case) {
    println!(
        "{:>10} {:>10} {:>14} {:>16}",
        "passes", "seconds", "passes/s", "peak memory MiB"
    );
    let full = std::env::var_os("PERIBAND_BENCH_SHORT").is_none();
    for count in [10_000_u64, 100_000, 1_000_000, 10_000_000] {
        if count > 1_000_000 && !full {
            continue;
        }
        // Not every system lets the peak be reset; it then shows the largest run so far.
        let _ = std::fs::write("/proc/self/clear_refs", "5");
        let progress = Progress::default();
        let clock = Instant::now();
        let tallies = Fleet::new(&case.problem, &progress)
            .tally(&[AIM_M], 0..count)
            .expect("not cancelled");
        let seconds = clock.elapsed().as_secs_f64();
        assert_eq!(tallies[0].samples, count);
        let memory = peak_memory().map_or_else(|| "-".to_owned(), |mib| format!("{mib:.0}"));
        println!(
            "{count:>10} {seconds:>10.2} {:>14.0} {memory:>16}",
            count as f64 / seconds
        );
    }
    println!("\n(all cores, summaries streamed)");
}
