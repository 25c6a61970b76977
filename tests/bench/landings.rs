//! `cargo bench --bench landings`: how long 1,000 landings take that steer to a gate, and the ratio to a plain loop
//! that steers ship by ship: the same decisions, each prediction and each stretch flown by the reference integrator.
//!
//! Ratios are those of processor time on one core, where the system tells it.

#![allow(clippy::print_stdout, clippy::cast_precision_loss)]

#[path = "clock.rs"]
mod clock;

use clock::thread_time;
use periband::Case;
use periband::ensemble::problem::SampleNumber;
use periband::ensemble::{Fleet, Problem, Progress};
use periband::pass::batch::Settings;
use periband::pass::piloted::Squadron;
use periband::pass::reference::{FlyOptions, Moment, felt_at, fly, fly_legs};
use periband::pass::{Ending, EntryState, PassResult, Sample};
use periband::steering::seat::Seat;
use periband::steering::{Crew, Gate, Guide, Steerer, Target};
use periband::study::landing::find_landing;
use periband::study::landing::ground::below;
use std::path::Path;
use std::time::Instant;

/// Samples for the speed of the lanes, and of the plain loop.
const TIMED: usize = 400;
const LOOPED: usize = 6;

type Launches = [(EntryState, Sample<f64>)];

fn main() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/mars-landing.yaml");
    let load = |sets: &[(&str, String)]| {
        let sets: Vec<(String, String)> = sets
            .iter()
            .map(|(key, value)| ((*key).to_owned(), value.clone()))
            .collect();
        Case::load(&path, &sets).expect("a bundled example is valid")
    };
    let found = find_landing(
        &load(&[("ask.samples", "8".to_owned())]),
        &Progress::default(),
    )
    .expect("an answer");
    // The approach as the study lays it.
    let argument = format!("{} deg", found.placing.argument_rad.to_degrees());
    let case = load(&[("arrival.orbit.argument_of_periapsis", argument)]);
    let landing = case.scenario.landing.as_ref().expect("a landing");
    let spec = landing.gate.expect("a gate");
    let mut problem = case.problem.clone();
    problem.settings_mut().stop_speed_m_s = spec.speed_m_s;
    let place = found
        .place
        .direction(problem.planet(), found.placing.node_rad);
    let problem = problem.steered_to(Target::Gate(Gate {
        place,
        speed_m_s: spec.speed_m_s,
        range_to_go_m: spec.distance_to_go_m,
        aside_within_m: spec.aside_within_m(),
    }));
    println!(
        "steered landings of the Mars example, aim {:.1} km, cycle 2 s\n",
        found.aim_m / 1e3
    );
    let guide = problem.guide().expect("the example is steered");
    let (launches, crews) = ready(&problem, found.aim_m);
    let (ends, each) = lanes(&problem, guide, (&launches, &crews));
    plain(&problem, guide, (&launches, &crews), (&ends, each));
    thousand(&problem, found.aim_m);
}

fn ready(problem: &Problem, aim_m: f64) -> (Vec<(EntryState, Sample<f64>)>, Vec<Crew>) {
    let one = |number: usize| {
        let number = SampleNumber::Of(number as u64);
        let numbers = problem.numbers_of(number);
        let launch = problem.launch(aim_m, &numbers, number);
        let (start, sample) = launch.expect("an approach");
        ((start, sample), problem.crew(&numbers, &sample))
    };
    (0..TIMED).map(one).unzip()
}

/// Flies all launches in lanes; how each ended and the time for each landing, s.
fn lanes(
    problem: &Problem,
    guide: &Guide,
    (launches, crews): (&Launches, &[Crew]),
) -> (Vec<PassResult>, f64) {
    let count = launches.len() as f64;
    let mut steerer = Steerer::new(guide, crews);
    let mut next = launches.iter().enumerate();
    let mut ends = vec![PassResult::default(); launches.len()];
    let clock = Instant::now();
    let start = thread_time(clock);
    Squadron::new(problem.models(), problem.settings(), steerer.sets()).fly(
        &mut steerer,
        || {
            next.next()
                .map(|(number, (start, sample))| (number, *start, *sample))
        },
        |number, result| ends[number] = result,
    );
    let seconds = thread_time(clock) - start;
    let work = steerer.work();
    println!("eight lanes, one core");
    println!("{:>10.1} landings/s", count / seconds);
    println!("{:>10.1} ms a landing", 1e3 * seconds / count);
    println!(
        "{:>10.1} predictions a landing",
        work.predictions as f64 / count
    );
    (ends, seconds / count)
}

/// Steers ship by ship with the reference integrator.
fn plain(
    problem: &Problem,
    guide: &Guide,
    (launches, crews): (&Launches, &[Crew]),
    (ends, each): (&[PassResult], f64),
) {
    println!("\nplain loop over the reference integrator, one core");
    let clock = Instant::now();
    let start = thread_time(clock);
    let planet = problem.planet();
    let mut worst = 0.0_f64;
    for number in 0..LOOPED {
        let (entry, sample) = &launches[number];
        let (end, time_s) = plain_landing(problem, guide, (entry, sample, &crews[number]));
        let own = &ends[number];
        let there = below(planet, &end.end_state, time_s);
        let apart = there - below(planet, &own.end_state, own.duration_s);
        worst = worst.max(planet.equatorial_radius_m * apart.norm());
    }
    let seconds = (thread_time(clock) - start) / LOOPED as f64;
    println!(
        "{:>10.1} ms a landing: the lanes are faster by {:.0} (the ends of {LOOPED} lie within {:.2} km)",
        1e3 * seconds,
        seconds / each,
        worst / 1e3
    );
}

/// One landing of the plain loop: how it ended, and when, s.
fn plain_landing(
    problem: &Problem,
    guide: &Guide,
    (entry, sample, crew): (&EntryState, &Sample<f64>, &Crew),
) -> (PassResult, f64) {
    let models = problem.models();
    let mut seat = Seat::new(guide, *crew);
    let (mut start, mut ship, mut time_s) = (*entry, *sample, 0.0);
    let options = |settings: &Settings| FlyOptions {
        tolerance: settings.tolerance,
        longest_step_s: 50.0,
    };
    loop {
        let (r, v) = (start.position, start.velocity);
        let state = [r.x, r.y, r.z, v.x, v.y, v.z, 0.0, 0.0];
        let felt = felt_at(models, &ship, &state);
        let moment = Moment {
            time_s,
            state,
            felt,
        };
        if !seat.under_way() {
            seat.look(guide, &moment);
            while let Some(question) = seat.question(guide) {
                let how = (guide.settings(), options(guide.settings()));
                let from = question.seen.start();
                let predicted = fly_legs(guide.models(), &question.legs(), &from, how);
                let predicted = predicted.expect("integrates");
                seat.answer(guide, &predicted.result);
            }
            seat.set_out(guide);
        }
        let (order, _) = seat
            .next_order(guide, &moment)
            .expect("a cycle has stretches");
        ship.vehicle = order.vehicle;
        let settings = Settings {
            longest_s: order.until_s - time_s,
            ..problem.settings().clone()
        };
        let how = (&settings, options(&settings));
        let flown = fly(models, &ship, &start, how).expect("integrates").result;
        time_s += flown.duration_s;
        if flown.ending != Ending::OutOfTime {
            return (flown, time_s);
        }
        let y = flown.end_state;
        start.position = periband::numeric::Vec3::new(y[0], y[1], y[2]);
        start.velocity = periband::numeric::Vec3::new(y[3], y[4], y[5]);
    }
}

/// The wall-clock time of 1,000 steered landings on every core.
fn thousand(problem: &Problem, aim_m: f64) {
    let progress = Progress::default();
    let clock = Instant::now();
    let tallies = Fleet::new(problem, &progress)
        .tally(&[aim_m], 0..1000)
        .expect("not cancelled");
    assert_eq!(tallies[0].samples, 1000);
    println!(
        "\n1000 steered landings on every core: {:.1} s",
        clock.elapsed().as_secs_f64()
    );
}
