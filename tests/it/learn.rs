//! What a log teaches, on passes that the program made from a hidden truth.

use crate::flight_log::{Instruments, Mishaps, made_log};
use periband::ensemble::problem::SampleNumber;
use periband::scenario::flight_log::FlightLog;
use periband::study::Case;
use periband::study::learn::{LearnOptions, Learned, learn};

const INSTRUMENTS: Instruments = Instruments {
    seed: 1,
    every_s: 1.0,
    altitude_m: 40.0,
    speed_m_s: 0.6,
    deceleration_m_s2: Some(0.02),
};

#[test]
fn experiment() {
    let case = crate::example("mars-arrival.yaml");
    for i in 0..5 {
        let sample = 1000 + i;
        let truth = case.problem.numbers(sample);
        let log = made_log(
            &case,
            (51.2e3, &truth, SampleNumber::Of(sample)),
            &INSTRUMENTS,
            &Mishaps::default(),
        );
        let log = FlightLog::from_text("made.csv", &log).unwrap();
        let started = std::time::Instant::now();
        let learned = learn(&case, &log, &LearnOptions::new(51.2e3)).unwrap();
        println!(
            "{:?} steps {} settled {} modes {} rows {}",
            started.elapsed(),
            learned.fitted.steps,
            learned.fitted.settled,
            learned.field_modes,
            learned.readings.list.len()
        );
        println!("noise {:?}", learned.readings.noise);
        for p in &learned.parameters {
            println!(
                "{:?}: before {:?} after {:?} truth {} -> {:.2}",
                p.number,
                p.before,
                p.after,
                truth[p.number as usize],
                (p.after.0 - truth[p.number as usize]) / p.after.1
            );
        }
        for q in &learned.quantities {
            println!("{q:?}");
        }
        for c in &learned.combinations {
            println!("{:.4} {:?}", c.left, c.shares);
        }
        println!("{:?}", learned.clocks);
        println!("{:#?}", learned.remarks);
    }
}
