//! Makes the log of a pass that nobody flew: a sample of a scenario's ensemble, its small-scale air
//! included, read by instruments with noise. `cargo run --release --example flight_log` writes the one
//! under `examples/`; the tests make theirs the same way.

use periband::ensemble::distribution::Chance;
use periband::ensemble::problem::{Numbers, SampleNumber};
use periband::study::Case;
use periband::study::learn::track::Track;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use std::fmt::Write as _;
use std::path::Path;

/// How the instruments read.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Instruments {
    /// Seed of their noise.
    pub seed: u64,
    /// Time between readings, s.
    pub every_s: f64,
    /// One-sigma noise of the altitude, m.
    pub altitude_m: f64,
    /// One-sigma noise of the speed against the air, m/s.
    pub speed_m_s: f64,
    /// One-sigma noise of the deceleration, m/s²; `None` for a log without it.
    pub deceleration_m_s2: Option<f64>,
}

/// What the recorder does beside its noise, in the rows' own numbering from 0.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Mishaps {
    /// One row in so many has an altitude 4 km off.
    pub outliers_every: Option<usize>,
    /// Rows from the first to before the second are lost.
    pub lost: Option<(usize, usize)>,
    /// From this row on the clock shows so many seconds more.
    pub jump: Option<(usize, f64)>,
}

/// The log of a pass aimed at `aim_m` with these numbers and the small-scale field of sample `field`.
pub(crate) fn made_log(
    case: &Case,
    (aim_m, numbers, field): (f64, &Numbers, SampleNumber),
    instruments: &Instruments,
    mishaps: &Mishaps,
) -> String {
    let problem = &case.problem;
    let span = (-40.0, problem.settings().longest_s);
    let track = Track::fly(problem, (aim_m, numbers), field, span).expect("a flight");
    let mut generator = ChaCha8Rng::seed_from_u64(instruments.seed);
    let mut noise = || Chance::from_bits(generator.next_u64()).normal_score();
    let mut text = "time_s,altitude_km,relative_speed_m_s".to_owned();
    if instruments.deceleration_m_s2.is_some() {
        text.push_str(",deceleration_m_s2");
    }
    text.push('\n');
    let interface = problem.planet().interface_m;
    for (row, step) in (1_usize..).zip(0_u32..) {
        // The recorder starts before the entry interface and goes on a little after it.
        let time_s = -30.0 + instruments.every_s * f64::from(step);
        let Some([altitude, _, speed, _, deceleration]) = track.at(time_s) else {
            break;
        };
        if time_s > 60.0 && altitude > 1.05 * interface {
            break;
        }
        let mut altitude = altitude + instruments.altitude_m * noise();
        let speed = speed + instruments.speed_m_s * noise();
        let felt = instruments
            .deceleration_m_s2
            .map(|sigma| deceleration + sigma * noise());
        if mishaps
            .outliers_every
            .is_some_and(|every| row % every == every / 2)
        {
            altitude += 4e3;
        }
        if mishaps
            .lost
            .is_some_and(|(from, to)| (from..to).contains(&row))
        {
            continue;
        }
        let late = mishaps
            .jump
            .filter(|(from, _)| row >= *from)
            .map_or(0.0, |(_, by)| by);
        // Its clock counts from something else than the interface.
        let time = time_s + 130.0 + late;
        // Writing to a string cannot fail.
        let _ = write!(text, "{time:.2},{:.4},{speed:.2}", altitude / 1e3);
        if let Some(felt) = felt {
            let _ = write!(text, ",{felt:.4}");
        }
        text.push('\n');
    }
    text
}

/// Writes the example.
#[allow(dead_code, reason = "the tests use the rest")]
fn main() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let case = Case::load(&folder.join("mars-arrival.yaml"), &[]).expect("the example scenario");
    let (aim_m, sample) = (51.2e3, 88_021);
    let instruments = Instruments {
        seed: 20,
        every_s: 1.0,
        altitude_m: 40.0,
        speed_m_s: 0.6,
        deceleration_m_s2: Some(0.02),
    };
    let mishaps = Mishaps {
        outliers_every: Some(90),
        lost: Some((240, 262)),
        jump: None,
    };
    let numbers = case.problem.numbers(sample);
    let log = made_log(
        &case,
        (aim_m, &numbers, SampleNumber::Of(sample)),
        &instruments,
        &mishaps,
    );
    let head = "\
# The log of a pass that nobody flew. periband made it from a hidden truth: one sample of
# mars-arrival.yaml aimed at 51.2 km, with noise, a few wrong altitudes and some lost rows.
# Made by: cargo run --release --example flight_log
";
    std::fs::write(folder.join("mars-flight-log.csv"), head.to_owned() + &log).expect("a file");
}
