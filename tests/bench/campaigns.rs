//! `cargo bench --bench campaigns`: whole campaigns of aerobraking, some 300 passes each, on all cores and on one.

#![allow(clippy::print_stdout, clippy::cast_precision_loss)]

use periband::Progress;
use periband::scenario::Scenario;
use periband::study::Case;
use periband::study::campaign::fly_case;
use std::time::Instant;

/// A small craft on its way from a loose ellipse about Mars to a low orbit.
const SCENARIO: &str = "\
title: benchmark
world: mars
ship: {mass: 460 kg, reference_area: 11 m2, drag_coefficient: 2.0, nose_radius: 1 m}
arrival: {orbit: {apoapsis_altitude: 27000 km, inclination: 93 deg, argument_of_periapsis: 110 deg, aim_periapsis: 110 km}}
campaign:
  target: {apoapsis_altitude: 500 km, periapsis_altitude: 400 km}
  control: {heat_flux: {low: 0.12 W/cm2, high: 0.26 W/cm2}}
  heating: free_molecular
  first_periapsis: 130 km
  minimum_lifetime: {time: 24 h, until_apoapsis: 300 km}
  trims: {smallest: 0.05 m/s, largest: 5 m/s, size_error: 2 %, pointing_error: 1 deg}
";

/// Processor time of this process, s, where the system tells it.
fn processor_time() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/stat").ok()?;
    let fields: Vec<&str> = text.rsplit(')').next()?.split_whitespace().collect();
    let ticks = |at: usize| fields.get(at)?.parse::<f64>().ok();
    // User and system time, in hundredths of a second.
    Some((ticks(11)? + ticks(12)?) / 100.0)
}

fn main() {
    let scenario = Scenario::from_text("benchmark.yaml", SCENARIO).expect("a valid scenario");
    let case = Case::from_scenario(scenario).expect("a bundled world");
    let short = std::env::var("PERIBAND_BENCH_SHORT").is_ok();
    let count = if short { 100 } else { 1000 };
    println!(
        "{:>8} {:>10} {:>10} {:>8} {:>10} {:>14} {:>18}",
        "threads", "campaigns", "passes", "each", "seconds", "core seconds", "passes/s and core"
    );
    for threads in [rayon::current_num_threads(), 1] {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("threads");
        let progress = Progress::default();
        let (started, before) = (Instant::now(), processor_time());
        let outcome = pool
            .install(|| fly_case(&case, (count, 0), &progress))
            .expect("campaigns");
        let seconds = started.elapsed().as_secs_f64();
        let used = processor_time()
            .zip(before)
            .map(|(after, before)| after - before);
        let core_seconds = used.unwrap_or(seconds * threads as f64);
        let passes = progress.flown();
        println!(
            "{threads:>8} {:>10} {passes:>10} {:>8.0} {seconds:>10.2} {core_seconds:>14.2} {:>18.0}",
            outcome.campaigns.len(),
            passes as f64 / outcome.campaigns.len() as f64,
            passes as f64 / core_seconds
        );
    }
}
