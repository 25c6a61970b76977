//! The whole Monte Carlo chain against what is known without it.

use crate::case_of_file;
use periband::ensemble::distribution::normal_score;
use periband::ensemble::interval::Interval;
use periband::ensemble::{Fleet, Progress};
use periband::study::{Band, Case, find_band};

/// A capture-free problem with two sharp edges: 10 g below, must come down above.
fn case(uncertainty: &str, ask: &str) -> Case {
    case_of_file(
        "chapman",
        &format!(
            "title: chain\nworld: ./chapman.yaml\n\
             ship: {{mass: 300 kg, reference_area: 1 m2, drag_coefficient: 1, nose_radius: 1 m}}\n\
             arrival: {{hyperbola: {{excess_speed: 0 km/s, inclination: 0 deg, \
             aim_periapsis: {{from: 40 km, to: 75 km, step: 1 km}}}}}}\n\
             uncertainty: {{air: {{density: exact}}{uncertainty}}}\n\
             limits: {{peak_deceleration: 10 g, comes_down: yes}}\n\
             ask: {{{ask}}}\n"
        ),
    )
}

fn band(case: &Case) -> Band {
    let result = find_band(&case.scenario, &case.problem, &Progress::default());
    result.expect("a band is looked for").band.expect("a band")
}

const DELIVERY: &str = ", delivery: {periapsis_altitude: {normal: {std_dev: 1 km}}}";

/// With a normal delivery error alone the edges move in by the normal quantile times its standard
/// deviation. The true edge lies between the outermost safe aim and that aim less its uncertainty with
/// the confidence asked for (95 %): of 10 seeds at least 8 hold on each side (a binomial chance of
/// 1.2 % to fall below). Computed from the normal distribution.
#[test]
fn edges_move_in_by_the_normal_quantile() {
    let exact = band(&case("", "samples: 1"));
    let shift = normal_score(0.95) * 1e3;
    let (low, high) = (exact.low.aim_m + shift, exact.high.aim_m - shift);
    let (mut low_held, mut high_held) = (0, 0);
    for seed in 0..10 {
        let ask = format!("probability: 0.95, confidence: 0.95, samples: 2000, seed: {seed}");
        let band = band(&case(DELIVERY, &ask));
        // The edges without errors are known to 1 m.
        let below = band.low.aim_m - band.low.uncertainty_m;
        low_held += u32::from(below - 1.0 <= low && low <= band.low.aim_m + 1.0);
        let above = band.high.aim_m + band.high.uncertainty_m;
        high_held += u32::from(band.high.aim_m - 1.0 <= high && high <= above + 1.0);
        assert!(band.low.uncertainty_m < 300.0 && band.high.uncertainty_m < 300.0);
    }
    assert!(
        low_held >= 8 && high_held >= 8,
        "{low_held} and {high_held} of 10"
    );
}

/// Over 200 seeds the 95 % intervals cover a probability that is known from the edges without errors:
/// in at least 184 (95 % of 200 less two standard deviations). Clopper–Pearson covers more often.
#[test]
#[allow(clippy::print_stdout)] // the mean width is asked for; shown with --nocapture
fn intervals_cover_a_known_probability() {
    let exact = band(&case("", "samples: 1"));
    let aim = exact.low.aim_m + 1500.0;
    // P(error > -1.5 σ) and the far edge is more than 9 σ away.
    let truth = periband::ensemble::distribution::normal_probability(1.5);
    let (mut covered, mut width) = (0, 0.0);
    for seed in 0..200 {
        let ask = format!("probability: 0.9, samples: 400, seed: {seed}");
        let case = case(DELIVERY, &ask);
        let progress = Progress::default();
        let tally = Fleet::new(&case.problem, &progress)
            .tally(&[aim], 0..400)
            .expect("not cancelled")
            .remove(0);
        let interval =
            Interval::clopper_pearson(tally.held(), tally.samples, 0.95).expect("counts");
        covered += u32::from(interval.lower <= truth && truth <= interval.upper);
        width += (interval.upper - interval.lower) / 200.0;
    }
    println!("covered {covered} of 200, mean width {width:.4}");
    assert!(covered >= 184, "{covered} of 200, mean width {width:.4}");
    assert!(width < 0.06, "mean width {width}");
}
