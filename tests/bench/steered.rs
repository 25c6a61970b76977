//! `cargo bench --bench steered`: steered passes a second and core in the lanes, what their decisions cost, and
//! the ratio to a plain loop that steers ship by ship with the library integrator, at the same tolerances.
//!
//! Times are those of the thread's own use of the processor where the system tells them.

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
use periband::numeric::Vec3;
use periband::pass::dynamics::{position, velocity};
use periband::pass::orbit::Orbit;
use periband::pass::piloted::Squadron;
use periband::pass::reference::{Moment, felt_at};
use periband::pass::{EntryState, PassResult, Sample};
use periband::steering::seat::Seat;
use periband::steering::{Crew, Guide, Steerer};
use std::path::Path;
use std::time::Instant;

const AIM_M: f64 = 49.5e3;
/// Samples for the speed of the lanes, and of the plain loop.
const TIMED: usize = 2000;
const LOOPED: usize = 24;

type Launches = [(EntryState, Sample<f64>)];

fn main() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/mars-steered.yaml");
    let case = Case::load(&path, &[]).expect("a bundled example is valid");
    let guide = case.problem.guide().expect("the example is steered");
    let (launches, crews) = ready(&case, TIMED);
    println!(
        "steered Mars example, aim {:.1} km, cycle 2 s\n",
        AIM_M / 1e3
    );
    let (apoapses, each) = lanes(&case, guide, (&launches, &crews));
    plain(&case, guide, (&launches, &crews), (&apoapses, each));
    thousand(&case);
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

/// Flies all launches in lanes; the apoapsis altitudes and the time for each pass, s.
fn lanes(case: &Case, guide: &Guide, (launches, crews): (&Launches, &[Crew])) -> (Vec<f64>, f64) {
    let count = launches.len() as f64;
    let mut steerer = Steerer::new(guide, crews);
    let mut next = launches.iter().enumerate();
    let mut apoapses = vec![f64::NAN; launches.len()];
    let clock = Instant::now();
    let start = thread_time(clock);
    let cost = Squadron::new(
        case.problem.models(),
        case.problem.settings(),
        steerer.sets(),
    )
    .fly(
        &mut steerer,
        || {
            next.next()
                .map(|(number, (start, sample))| (number, *start, *sample))
        },
        |number, result| apoapses[number] = result.apoapsis_altitude_m.unwrap_or(f64::NAN),
    );
    let seconds = thread_time(clock) - start;
    let work = steerer.work();
    let row = |value: f64, words: &str| println!("{value:>10.1} {words}");
    println!("eight lanes, one core");
    row(count / seconds, "passes/s");
    row(1e3 * seconds / count, "ms a pass");
    row(work.predictions as f64 / count, "predictions a pass");
    row(
        work.predictions as f64 / work.rounds as f64,
        "predictions in a round",
    );
    row(
        8.0 * work.lane_steps as f64 / work.predictions as f64,
        "steps of a lane for a prediction, idle ones included",
    );
    row(
        cost.lane_steps as f64 / count,
        "steps of eight lanes for the flights themselves, a pass",
    );
    (apoapses, seconds / count)
}

/// Steers ship by ship: the same decisions, each prediction and each stretch by the library integrator.
fn plain(
    case: &Case,
    guide: &Guide,
    (launches, crews): (&Launches, &[Crew]),
    (apoapses, each): (&[f64], f64),
) {
    println!("\nplain loop over ode_solvers, one core");
    for (which, fused) in [
        (Library::Dopri5, true),
        (Library::Dopri5, false),
        (Library::Dop853, false),
    ] {
        let clock = Instant::now();
        let start = thread_time(clock);
        let mut worst = 0.0_f64;
        for number in 0..LOOPED {
            let (entry, sample) = &launches[number];
            let flown = plain_pass(case, guide, (entry, sample, &crews[number]), (which, fused));
            worst = worst.max((flown - apoapses[number]).abs());
        }
        let seconds = (thread_time(clock) - start) / LOOPED as f64;
        let built = if fused {
            "fused multiply-adds"
        } else {
            "stock build"
        };
        println!(
            "{:>10.1} ms a pass, {}, {built}: the lanes are faster by {:.1} (apoapses agree within {:.0} km)",
            1e3 * seconds,
            if which == Library::Dop853 {
                "Dop853"
            } else {
                "Dopri5"
            },
            seconds / each,
            worst / 1e3
        );
    }
}

/// One pass of the plain loop; its apoapsis altitude, m.
fn plain_pass(
    case: &Case,
    guide: &Guide,
    (entry, sample, crew): (&EntryState, &Sample<f64>, &Crew),
    (which, fused): (Library, bool),
) -> f64 {
    let (models, planet) = (case.problem.models(), case.problem.planet());
    let mut seat = Seat::new(guide, *crew);
    let mut state = state_of(entry);
    let (mut time_s, mut ship) = (0.0, *sample);
    loop {
        let moment = Moment {
            time_s,
            state,
            felt: felt_at(models, &ship, &state),
        };
        if moment.felt.altitude > planet.interface_m && moment.felt.altitude_rate > 0.0 {
            let orbit = Orbit::from_state(planet.gm_m3_s2, position(&state), velocity(&state));
            let radius = orbit.apoapsis_radius_m(planet.gm_m3_s2);
            return radius.map_or(f64::NAN, |r| r - planet.equatorial_radius_m);
        }
        if !seat.under_way() {
            seat.look(guide, &moment);
            while let Some(question) = seat.question(guide) {
                // Through a pass one bank is held to the end.
                let asked = question.legs().swap_remove(0).sample;
                let motion = Motion {
                    models: guide.models(),
                    sample: &asked,
                    stops: Some(guide.settings().stop_speed_m_s),
                    fused,
                };
                let from = state_of(&question.seen.start());
                let length = (guide.settings().longest_s, 10.0);
                let end = library(which, motion, &from, length, guide.settings().tolerance);
                let (r, v): (Vec3<f64>, Vec3<f64>) = (position(&end), velocity(&end));
                let predicted = PassResult {
                    orbit: Orbit::from_state(planet.gm_m3_s2, r, v),
                    ..PassResult::default()
                };
                seat.answer(guide, &predicted);
            }
            seat.set_out(guide);
        }
        let (order, _) = seat
            .next_order(guide, &moment)
            .expect("a cycle has stretches");
        ship.vehicle = order.vehicle;
        let motion = Motion {
            models,
            sample: &ship,
            stops: None,
            fused,
        };
        let length = order.until_s - time_s;
        let tolerance = case.problem.settings().tolerance;
        state = library(which, motion, &state, (length, length), tolerance);
        time_s = order.until_s;
    }
}

/// The wall-clock time of 1,000 steered passes on every core.
fn thousand(case: &Case) {
    let progress = Progress::default();
    let clock = Instant::now();
    let tallies = Fleet::new(&case.problem, &progress)
        .tally(&[AIM_M], 0..1000)
        .expect("not cancelled");
    assert_eq!(tallies[0].samples, 1000);
    println!(
        "\n1000 steered passes on every core: {:.1} s",
        clock.elapsed().as_secs_f64()
    );
}
