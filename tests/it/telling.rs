//! What is told of the aim to take comes from draws that had no part in choosing it.

#![allow(clippy::print_stdout)] // figures that --nocapture shows
#![allow(clippy::cast_precision_loss, reason = "counts of seeds")]

use crate::case_of_file;
use periband::ensemble::distribution::normal_probability;
use periband::ensemble::luck::Block;
use periband::ensemble::{Fleet, Progress, Tally, Verdict};
use periband::report::band_text;
use periband::report::grid::Tone;
use periband::scenario::ask::Ask;
use periband::study::aims::{Aims, Judge};
use periband::study::shards::{Summary, judge};
use periband::study::{BandResult, Case, find_band};

/// Ends of the aims that hold without errors, m: dips too low below, is not captured as wanted above.
struct Edges {
    low_m: f64,
    high_m: f64,
}

/// A case of two sharp edges: an exponential atmosphere, a lowest altitude and a highest apoapsis.
fn case(aims: &str, uncertainty: &str, ask: &str) -> Case {
    case_of_file(
        "chapman",
        &format!(
            "title: telling\nworld: ./chapman.yaml\n\
             ship: {{mass: 300 kg, reference_area: 1 m2, drag_coefficient: 1, nose_radius: 1 m}}\n\
             arrival: {{hyperbola: {{excess_speed: 3 km/s, inclination: 0 deg, aim_periapsis: {aims}}}}}\n\
             uncertainty: {{air: {{density: exact}}{uncertainty}}}\n\
             limits: {{lowest_altitude: 62.5 km, captured_below: {{apoapsis_altitude: 30000 km}}}}\n\
             ask: {{{ask}}}\n"
        ),
    )
}

fn found(case: &Case) -> BandResult {
    find_band(&case.scenario, &case.problem, &Progress::default()).expect("a band study")
}

impl Edges {
    /// By flights without errors, to a metre.
    fn flown() -> Self {
        let exact = case("{from: 40 km, to: 75 km, step: 2.5 km}", "", "samples: 1");
        let result = found(&exact);
        assert_eq!(result.verdict, Verdict::Held);
        assert_eq!(result.told_by, 0..1, "one sample tells all");
        let band = result.band.expect("a band");
        Self {
            low_m: band.low.aim_m,
            high_m: band.high.aim_m,
        }
    }

    fn middle_m(&self) -> f64 {
        0.5 * (self.low_m + self.high_m)
    }

    /// Aims from so many standard deviations below the middle to as many above it, and a normal delivery error of
    /// which so many fit between the middle and an edge.
    fn case(&self, to_edge: f64, (reach, step): (f64, f64), ask: &str) -> (Case, f64) {
        let sigma_m = 0.5 * (self.high_m - self.low_m) / to_edge;
        let (from, to) = (
            self.middle_m() - reach * sigma_m,
            self.middle_m() + reach * sigma_m,
        );
        let aims = format!("{{from: {from} m, to: {to} m, step: {} m}}", step * sigma_m);
        let delivery =
            format!(", delivery: {{periapsis_altitude: {{normal: {{std_dev: {sigma_m} m}}}}}}");
        (case(&aims, &delivery, ask), sigma_m)
    }

    /// The chance that all limits hold at an aim: the error leaves it between the edges.
    fn held(&self, aim_m: f64, sigma_m: f64) -> f64 {
        let below = |edge_m: f64| normal_probability((edge_m - aim_m) / sigma_m);
        below(self.high_m) - below(self.low_m)
    }
}

/// Mean and standard error of the mean.
fn mean(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (square / n).sqrt())
}

/// Over 200 seeds of a case whose probability at every aim is a normal integral, the told probability is right in the
/// mean (two standard errors) and its 95 % interval covers the true one in at least 93 %. Told by the draws
/// that chose the aim, as it once was, the same fails: of many aims the best one was lucky.
#[test]
fn the_told_probability_is_right_in_the_mean_over_200_seeds() {
    const SEEDS: u32 = 200;
    let edges = Edges::flown();
    let (mut told, mut once, mut covered) = (Vec::new(), Vec::new(), 0);
    for seed in 0..SEEDS {
        let ask = format!("probability: 0.9, samples: 1000, seed: {seed}");
        let (case, sigma_m) = edges.case(2.576, (0.6, 0.3), &ask);
        let result = found(&case);
        let best = &result.recommended;
        let truth = edges.held(best.aim_m, sigma_m);
        let risk = 1.0 - truth;
        assert!((0.003..0.03).contains(&risk), "risk {risk}");
        assert_eq!(result.verdict, Verdict::Held);
        told.push(best.held.estimate - truth);
        covered += u32::from(best.held.lower <= truth && truth <= best.held.upper);
        // The old rule: the aim with the most samples held, told by those samples.
        let most = |a: &&_, b: &&_| Tally::held(a).cmp(&Tally::held(b));
        let tallies = result.points.iter().map(|point| &point.tally);
        let lucky = tallies.max_by(most).expect("aims");
        let aim_m = result
            .points
            .iter()
            .find(|p| &p.tally == lucky)
            .expect("it")
            .aim_m;
        let estimate = lucky.held() as f64 / lucky.samples as f64;
        once.push(estimate - edges.held(aim_m, sigma_m));
    }
    let ((now, error), (before, error_before)) = (mean(&told), mean(&once));
    println!(
        "told - true: {:+.4} % ± {:.4}, covered {covered} of {SEEDS}; old rule {:+.4} % ± {:.4}",
        100.0 * now,
        100.0 * error,
        100.0 * before,
        100.0 * error_before
    );
    assert!(now.abs() <= 2.0 * error, "{now} in {error}");
    assert!(f64::from(covered) >= 0.93 * f64::from(SEEDS), "{covered}");
    assert!(
        before.abs() > 2.0 * error_before,
        "the old rule passes too: {before} in {error_before}"
    );
}

/// Where the aim to take, by fresh samples, does not reach the probability, the answer leads with that; it is never
/// simply aimed for.
#[test]
fn an_aim_that_fresh_samples_do_not_show_is_not_simply_aimed_for() {
    let edges = Edges::flown();
    let mut seen = Vec::new();
    for seed in 0..20 {
        // Of 2.5 % that break a limit about half of the seeds show the 95 % asked for with 300 samples.
        let ask = format!("probability: 0.95, samples: 300, seed: {seed}");
        let (case, _) = edges.case(2.24, (0.6, 0.3), &ask);
        let result = found(&case);
        if result.band.is_err() {
            continue;
        }
        let answer = band_text::answer(&case, &result, None);
        let held = result.recommended.held;
        let expected = if held.lower >= 0.95 {
            Verdict::Held
        } else if held.upper < 0.95 {
            Verdict::Broken
        } else {
            Verdict::NotShown
        };
        assert_eq!(result.verdict, expected);
        match result.verdict {
            Verdict::Held => assert!(answer.starts_with("Aim for "), "{answer}"),
            Verdict::NotShown => {
                let words =
                    "is not shown to hold at 95 % by samples that had no part in choosing it";
                assert!(answer.contains(words), "{answer}");
                assert!(!answer.contains("Aim for "), "{answer}");
            }
            other => assert!(!answer.contains("Aim for "), "{other:?}: {answer}"),
        }
        let good = band_text::tone(&result, None) == Tone::Good;
        assert_eq!(good, result.verdict == Verdict::Held);
        seen.push(result.verdict);
    }
    println!("{seen:?}");
    for verdict in [Verdict::Held, Verdict::NotShown] {
        assert!(seen.contains(&verdict), "{verdict:?} is never met");
    }
}

/// Counts of 1000 samples at aims a kilometre apart, at each of which so many break the first limit.
fn counts(case: &Case, broken: &[u64]) -> Vec<(f64, Tally)> {
    let limits = case.problem.limits().entries().len();
    let at = |(place, &broken): (u32, &u64)| {
        let mut tally = Tally::new(limits);
        for sample in 0..1000 {
            let bits = u32::from(sample < broken);
            tally.count(periband::pass::Ending::Captured, bits);
        }
        (50e3 + 1e3 * f64::from(place), tally)
    };
    (0..).zip(broken).map(at).collect()
}

/// Of 1000 samples up to 3 may break a limit at 99 %, and 18 rule an aim out. One aim that is unlucky between two that
/// are safe parts no band; one that is ruled out does, and so do two side by side, or three that
/// fall short together.
#[test]
fn one_unlucky_aim_does_not_part_the_band() {
    let (case, _) = Edges {
        low_m: 50e3,
        high_m: 60e3,
    }
    .case(2.5, (1.0, 0.5), "probability: 0.99, samples: 1000");
    let progress = Progress::default();
    let fleet = Fleet::new(&case.problem, &progress);
    let ask: Ask = case.scenario.ask;
    let safe = |broken: &[u64]| -> Vec<bool> {
        let aims = Aims::counted(&fleet, ask, counts(&case, broken)).expect("intervals");
        (0..broken.len())
            .map(|place| aims.passes(place, Judge::Lower))
            .collect()
    };
    assert_eq!(safe(&[0, 3, 4, 30]), [true, true, false, false]);
    assert_eq!(safe(&[0, 1, 8, 0, 2]), [true; 5], "one unlucky aim");
    assert!(!safe(&[0, 0, 25, 0, 0])[2], "one that is ruled out");
    assert!(!safe(&[3, 3, 8, 3, 3])[2], "too many among the three");
    let two = safe(&[0, 0, 6, 6, 0, 0]);
    assert!(!two[2] && !two[3], "two side by side");
    assert_eq!(
        safe(&[5, 0, 0, 5]),
        [false, true, true, false],
        "no aim at an end is one"
    );

    // The band of a whole run, by the same rule.
    let band = |broken: &[u64]| {
        let (aims_m, tallies): (Vec<f64>, Vec<Tally>) = counts(&case, broken).into_iter().unzip();
        let summaries = tallies.into_iter().map(|tally| Summary {
            tally,
            ..Summary::new(0, &[])
        });
        let whole = judge(&case, 1000, (&aims_m, 52e3), summaries.collect()).expect("judged");
        assert_eq!(whole.result.recommended.aim_m, 52e3, "that of the plan");
        assert_eq!(whole.result.told_by, Block::First.samples(1000));
        let verdict = whole.result.verdict;
        let band = whole.result.band.expect("a band");
        ((band.low.aim_m, band.high.aim_m), band.others, verdict)
    };
    assert_eq!(
        band(&[9, 0, 1, 8, 0, 2, 40]),
        ((51e3, 55e3), false, Verdict::Held)
    );
    // Ruled out between: two bands, of which the wider is taken, and the aim of the plan is judged by itself.
    assert_eq!(
        band(&[9, 0, 40, 0, 0, 2, 40]),
        ((53e3, 55e3), true, Verdict::Broken)
    );
    assert_eq!(
        band(&[9, 0, 6, 6, 0, 2, 40]),
        ((54e3, 55e3), false, Verdict::NotShown)
    );
}

/// The samples that tell of an aim are others than those that chose it, at a count that the passes flown include.
#[test]
fn the_telling_samples_are_flown_besides() {
    let edges = Edges::flown();
    let (case, _) = edges.case(2.576, (0.75, 0.15), "probability: 0.9, samples: 200");
    let progress = Progress::default();
    let result = find_band(&case.scenario, &case.problem, &progress).expect("a band study");
    assert_eq!(result.told_by, Block::SECOND..Block::SECOND + 200);
    assert_eq!(result.recommended.tally.samples, 200);
    let searched = 200 * result.points.len() as u64;
    assert_eq!(result.passes_flown, searched + 200);
    assert_eq!(progress.flown(), searched + 200);
    let fleet = Fleet::new(&case.problem, &progress);
    let again = fleet.tally(&[result.recommended.aim_m], result.told_by.clone());
    assert_eq!(again.expect("flown")[0], result.recommended.tally);
}
