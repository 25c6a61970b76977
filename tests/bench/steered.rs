//! `cargo bench --bench steered`: steered passes a second and core in the lanes, what their decisions cost, and
//! the ratio to a plain loop that flies the same decisions by the library integrator.
//!
//! Times are those of the thread's own use of the processor where the system tells them.

#![allow(clippy::print_stdout, clippy::cast_precision_loss)]

use periband::Case;
use periband::ensemble::problem::SampleNumber;
use periband::pass::batch::Batch;
use periband::pass::{EntryState, Sample};
use periband::steering::{Crew, Guide, Steerer};
use std::path::Path;
use std::time::Instant;

const AIM_M: f64 = 49.5e3;
/// Samples for the speed of the lanes.
const TIMED: usize = 2000;

fn main() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/mars-steered.yaml");
    let case = Case::load(&path, &[]).expect("a bundled example is valid");
    let guide = case.problem.guide().expect("the example is steered");
    let (launches, crews) = ready(&case, TIMED);
    println!(
        "steered Mars example, aim {:.1} km, cycle 2 s, one core\n",
        AIM_M / 1e3
    );
    lanes(&case, guide, (&launches, &crews));
}

/// Processor time of this thread, s; the wall clock where the system does not tell.
fn thread_time(since: Instant) -> f64 {
    std::fs::read_to_string("/proc/thread-self/schedstat")
        .ok()
        .and_then(|text| text.split_whitespace().next()?.parse::<f64>().ok())
        .map_or_else(|| since.elapsed().as_secs_f64(), |ns| ns * 1e-9)
}

fn ready(case: &Case, count: usize) -> (Vec<(EntryState, Sample<f64>)>, Vec<Crew>) {
    let one = |number: usize| {
        let sample = number as u64;
        let numbers = case.problem.numbers(sample);
        let launch = case
            .problem
            .launch(AIM_M, &numbers, SampleNumber::Of(sample));
        let (start, sample) = launch.expect("an approach");
        ((start, sample), case.problem.crew(&numbers, &sample))
    };
    (0..count).map(one).unzip()
}

fn lanes(case: &Case, guide: &Guide, (launches, crews): (&[(EntryState, Sample<f64>)], &[Crew])) {
    let count = launches.len() as f64;
    let mut steerer = Steerer::new(guide, crews);
    let mut next = launches.iter().enumerate();
    let clock = Instant::now();
    let start = thread_time(clock);
    let cost = Batch::new(case.problem.models(), case.problem.settings()).fly_piloted(
        &mut steerer,
        || {
            next.next()
                .map(|(number, (start, sample))| (number, *start, *sample))
        },
        |_, _| {},
    );
    let seconds = thread_time(clock) - start;
    let work = steerer.work();
    println!(
        "{:>8.0} steered passes/s/core ({:.2} ms each)",
        count / seconds,
        1e3 * seconds / count
    );
    println!(
        "{:>8.1} predictions a pass",
        work.predictions as f64 / count
    );
    println!(
        "{:>8.1} flights of eight in a round",
        work.predictions as f64 / work.rounds as f64
    );
    println!(
        "{:>8.1} lane steps in a round",
        work.lane_steps as f64 / work.rounds as f64
    );
    println!(
        "{:>8.1} lane steps of the flights themselves, a pass",
        8.0 * cost.lane_steps as f64 / count
    );
}
