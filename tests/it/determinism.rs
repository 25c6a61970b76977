//! The same scenario and seed give the same bits, whatever runs beside them.

use crate::example;
use periband::ensemble::engine::FlownSample;
use periband::ensemble::problem::SampleNumber;
use periband::ensemble::{Fleet, Progress};
use periband::pass::batch::{Batch, Instructions};
use periband::study::{Case, find_band};

pub(crate) fn with_threads<T: Send>(threads: usize, work: impl FnOnce() -> T + Send) -> T {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads");
    pool.install(work)
}

fn flown(case: &Case, count: u64) -> Vec<FlownSample> {
    let progress = Progress::default();
    let mut out = Vec::new();
    Fleet::new(&case.problem, &progress)
        .fly(&[50e3, 51e3], 0..count, |sample| out.push(*sample))
        .expect("not cancelled");
    out
}

fn assert_same(a: &[FlownSample], b: &[FlownSample]) {
    assert_eq!(a.len(), b.len());
    for (a, b) in a.iter().zip(b) {
        // Debug text shows every digit of every number.
        assert_eq!(format!("{a:?}"), format!("{b:?}"));
    }
}

#[test]
fn one_and_two_threads_find_the_same_band() {
    let mut case = example("mars-arrival.yaml");
    case.scenario.ask.samples = 1500;
    let run = |threads| {
        with_threads(threads, || {
            find_band(&case.scenario, &case.problem, &Progress::default())
        })
        .expect("a band is looked for")
    };
    let (one, two) = (run(1), run(2));
    assert_eq!(one.points, two.points);
    assert_eq!(one.band, two.band);
    assert_eq!(one.recommended, two.recommended);
}

#[test]
fn one_and_two_threads_fly_the_same_samples_in_the_same_order() {
    let case = example("mars-arrival.yaml");
    let one = with_threads(1, || flown(&case, 2000));
    let two = with_threads(2, || flown(&case, 2000));
    assert_same(&one, &two);
}

#[test]
fn the_widest_and_the_plainest_instructions_give_the_same_bits() {
    let mut case = example("mars-arrival.yaml");
    let widest = flown(&case, 300);
    case.problem.settings_mut().instructions = Instructions::Plainest;
    assert_same(&widest, &flown(&case, 300));
}

#[test]
fn a_sample_is_the_same_alone_and_among_others() {
    let case = example("mars-arrival.yaml");
    let together = flown(&case, 64);
    for sample in [0, 7, 40, 63] {
        let (start, ready) = case
            .problem
            .launch(
                51e3,
                &case.problem.numbers(sample),
                SampleNumber::Of(sample),
            )
            .expect("launch");
        let mut once = Some((0, start, ready));
        let mut alone = None;
        Batch::new(case.problem.models(), case.problem.settings())
            .fly(|| once.take(), |_, result| alone = Some(result));
        let among = together
            .iter()
            .find(|f| f.aim == 1 && f.sample == sample)
            .expect("flown");
        assert_eq!(
            format!("{:?}", alone.expect("flown")),
            format!("{:?}", among.result)
        );
    }
}
