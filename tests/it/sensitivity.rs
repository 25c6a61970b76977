//! Sensitivity indices against functions whose indices are known in closed form.

use crate::{case_of_file, example};
use periband::ensemble::Progress;
use periband::ensemble::distribution::{Chance, normal_probability, normal_score};
use periband::ensemble::interval::Interval;
use periband::ensemble::luck::{Luck, Mix, Quantities};
use periband::ensemble::quantile::Estimate;
use periband::ensemble::rare::RareDesign;
use periband::ensemble::sobol::{Design, Indices, Resampling, SobolError};
use periband::study::Case;
use periband::study::influence::{Change, Influence, InfluenceAsk, InfluenceError, find_influence};
use std::f64::consts::PI;

fn reference(name: &str) -> f64 {
    let table = include_str!("../reference/ishigami.csv");
    let rows = table.lines().filter_map(|line| line.split_once(','));
    let mut found = rows.filter(|(key, _)| *key == name).map(|(_, value)| value);
    found.next_back().expect("a row").parse().expect("a number")
}

fn columns(count: usize) -> Vec<Quantities> {
    (0..count).map(|place| Quantities::at(&[place])).collect()
}

/// The unit cube's columns of a mixed sample, from the words that flights draw from.
fn cube(luck: &Luck, mix: Mix) -> [Chance; 3] {
    let mut words = [0; 3];
    luck.words(mix, &mut words);
    words.map(Chance::from_bits)
}

fn ishigami(seed: u64, rows: u64) -> Indices {
    let luck = Luck::new(seed);
    let design = Design::new(rows, columns(3));
    let outputs: Vec<Option<f64>> = (0..design.samples())
        .map(|n| {
            let [a, b, c] = cube(&luck, design.mix(n)).map(|u| PI * (2.0 * u.uniform() - 1.0));
            Some(a.sin() + 7.0 * b.sin().powi(2) + 0.1 * c.powi(4) * a.sin())
        })
        .collect();
    let resampling = Resampling {
        confidence: 0.95,
        seed,
    };
    design.indices(&outputs, &resampling).expect("indices")
}

fn holds(estimate: &Estimate, truth: f64) -> bool {
    let (lower, upper) = (estimate.lower, estimate.upper);
    lower.is_some_and(|lower| lower <= truth) && upper.is_some_and(|upper| truth <= upper)
}

#[test]
fn ishigami_indices_lie_within_their_intervals() {
    let rows = 4096;
    let found = ishigami(1, rows);
    assert_eq!(found.rows, 4096);
    // Of 8192 values: standard errors 3.72/√8192 = 0.041 of the mean; of the variance about
    // √((κ − 1)/8192) = 1.8 % with a kurtosis of 3.5. Three of each.
    assert!((found.mean - reference("mean")).abs() < 0.13);
    assert!((found.variance / reference("variance") - 1.0).abs() < 0.055);
    for (i, (first, total)) in found.first.iter().zip(&found.total).enumerate() {
        for (name, estimate) in [("first", first), ("total", total)] {
            let truth = reference(&format!("{name}_{}", i + 1));
            assert!(holds(estimate, truth), "{name} {i}: {estimate:?}, {truth}");
            // About 3/√rows, the error stated for this estimator.
            assert!((estimate.value - truth).abs() < 0.047, "{name} {i}");
        }
    }
}

/// Over 100 seeds each 95 % interval covers its index in at least 87 (95 less three and a half standard
/// deviations of a binomial count, for six intervals are looked at).
#[test]
fn intervals_of_indices_cover_as_often_as_they_say() {
    let names = [
        "first_1", "first_2", "first_3", "total_1", "total_2", "total_3",
    ];
    let truths = names.map(reference);
    let mut covered = [0; 6];
    for seed in 0..100 {
        let found = ishigami(100 + seed, 1024);
        let all = found.first.iter().chain(&found.total);
        for ((count, estimate), truth) in covered.iter_mut().zip(all).zip(truths) {
            *count += u32::from(holds(estimate, truth));
        }
    }
    for (name, count) in names.iter().zip(covered) {
        assert!(count >= 87, "{name}: {count} of 100, all {covered:?}");
    }
}

/// P(both above t) of two standard normals with this correlation, by Simpson's rule.
fn both_above(t: f64, correlation: f64) -> f64 {
    let (steps, end) = (4000, 12.0);
    let width = (end - t) / f64::from(steps);
    let rest = (1.0 - correlation * correlation).sqrt();
    let at = |i: i32| {
        let x = t + f64::from(i) * width;
        let bell = (-0.5 * x * x).exp() / (2.0 * PI).sqrt();
        bell * normal_probability((correlation * x - t) / rest)
    };
    let inner = (1..steps).map(|i| at(i) * if i % 2 == 1 { 4.0 } else { 2.0 });
    (at(0) + inner.sum::<f64>() + at(steps)) * width / 3.0
}

/// The event is that a weighted sum of normals of variance 1 is above 2.4 (0.8 % of samples). Base and
/// mixed sum are normal with the correlation of what they share, so that the indices follow from the
/// bivariate normal distribution. Over 60 seeds each 95 % interval covers in at least 51 (57 less three
/// and a half standard deviations).
#[test]
fn indices_of_a_rare_event_are_those_of_the_bivariate_normal() {
    let shares = [0.7_f64, 0.2, 0.1];
    let threshold = 2.4;
    let happens = |luck: &Luck, mix: Mix| {
        let z = cube(luck, mix).map(Chance::normal_score);
        z.iter().zip(shares).map(|(z, s)| z * s.sqrt()).sum::<f64>() > threshold
    };
    let p = normal_probability(-threshold);
    let first = shares.map(|s| (both_above(threshold, s) / p - p) / (1.0 - p));
    let total = shares.map(|s| (1.0 - both_above(threshold, 1.0 - s) / p) / (1.0 - p));
    let mut covered = [0; 6];
    for seed in 0..60 {
        let luck = Luck::new(seed);
        let samples = 10_000;
        let events = (0..samples).filter(|&i| happens(&luck, Mix::of(i)));
        let design = RareDesign::new(events.collect(), samples, columns(3)).expect("events");
        let happened: Vec<bool> = (0..design.samples())
            .map(|n| happens(&luck, design.mix(n)))
            .collect();
        let resampling = Resampling {
            confidence: 0.95,
            seed,
        };
        let found = design.indices(&happened, &resampling);
        let all = found.first.iter().chain(&found.total);
        for ((count, estimate), truth) in
            covered.iter_mut().zip(all).zip(first.iter().chain(&total))
        {
            *count += u32::from(holds(estimate, *truth));
            assert!(
                (estimate.value - truth).abs() < 0.25,
                "{estimate:?} {truth}"
            );
        }
    }
    assert!(
        covered.iter().all(|&count| count >= 51),
        "{covered:?} of 60"
    );
}

#[test]
fn what_tells_nothing_has_no_indices() {
    let resampling = Resampling {
        confidence: 0.95,
        seed: 1,
    };
    let design = Design::new(100, columns(2));
    let same = vec![Some(7.0); 400];
    assert_eq!(
        design.indices(&same, &resampling),
        Err(SobolError::Constant)
    );
    let mut gaps = same;
    gaps[..60].fill(None);
    assert_eq!(
        design.indices(&gaps, &resampling),
        Err(SobolError::TooFewRows(40))
    );
    let never = RareDesign::new(vec![3, 5], 1000, columns(2));
    assert!(matches!(
        never,
        Err(SobolError::TooFewEvents { events: 2, .. })
    ));
    let always = RareDesign::new((0..100).collect(), 100, columns(2));
    assert!(matches!(
        always,
        Err(SobolError::NearlyAlways { others: 0, .. })
    ));
}

fn influence(case: &Case, asked: &InfluenceAsk) -> Influence {
    find_influence(case, asked, &Progress::default()).expect("influences")
}

/// A capture-free problem with two sharp edges, in which the delivery alone is uncertain.
fn delivered(seed: u64) -> Case {
    case_of_file(
        "chapman",
        &format!(
            "title: chain\nworld: ./chapman.yaml\n\
             ship: {{mass: 300 kg, reference_area: 1 m2, drag_coefficient: 1, nose_radius: 1 m}}\n\
             arrival: {{hyperbola: {{excess_speed: 0 km/s, inclination: 0 deg, \
             aim_periapsis: {{from: 40 km, to: 75 km, step: 1 km}}}}}}\n\
             uncertainty: {{air: exact, delivery: {{periapsis_altitude: {{normal: {{std_dev: 1 km}}}}}}}}\n\
             limits: {{peak_deceleration: 10 g, comes_down: yes}}\n\
             ask: {{probability: 0.95, confidence: 0.95, samples: 2000, seed: {seed}}}\n"
        ),
    )
}

/// A normal delivery error moves each edge inwards by its quantile at the share of samples that may break a
/// limit (the most for which the Clopper-Pearson interval still shows the probability), times its standard
/// deviation. Halved it gives half of that back on both sides: the quantile times the standard deviation
/// in all. Computed from the normal distribution. Of 10 seeds at least 8 intervals hold it, edges being
/// known to 50 m.
#[test]
fn halving_the_only_error_gives_half_of_its_quantile_back() {
    let enough = |broken: u64| {
        Interval::clopper_pearson(2000 - broken, 2000, 0.95)
            .expect("counts")
            .lower
            >= 0.95
    };
    let most = (0..2000).take_while(|&broken| enough(broken)).count() - 1;
    #[allow(clippy::cast_precision_loss)]
    let share = (most as f64 + 0.5) / 2000.0;
    let truth = -normal_score(share) * 1e3;
    let mut held = 0;
    for seed in 0..10 {
        let found = influence(
            &delivered(seed),
            &InfluenceAsk {
                rows: 64,
                ..InfluenceAsk::default()
            },
        );
        assert_eq!(found.halvings.len(), 1);
        let Change::Wider(by) = found.halvings[0].change else {
            panic!("a band before and after: {:?}", found.halvings[0]);
        };
        let (low, high) = (by.lower.expect("an end"), by.upper.expect("an end"));
        assert!(high - low < 600.0, "{low} to {high}");
        held += u32::from(low - 50.0 <= truth && truth <= high + 50.0);
    }
    assert!(held >= 8, "{held} of 10 hold {truth}");
}

/// One source alone takes the whole variance. With everything from B the mixed sample is B itself: the terms
/// of the first-order index are then b(b − a), of variance 3 for standard normal a and b, so that its
/// standard error is √(3/1024) = 0.054; those of the total one are (a − b)²/2, of variance 2 and standard
/// error 0.044. Four of each, the outputs being nearly linear in the one error.
#[test]
fn the_only_source_has_the_whole_variance() {
    let found = influence(
        &delivered(1),
        &InfluenceAsk {
            rows: 1024,
            halved: 0,
            ..InfluenceAsk::default()
        },
    );
    assert_eq!(found.sources.len(), 1);
    // After a flight that comes down no orbit is left, and what it lost is not what a pass loses.
    let known: Vec<_> = found
        .outputs
        .iter()
        .filter_map(|o| o.indices.as_ref().ok())
        .collect();
    assert!(known.len() >= 5, "{} outputs", known.len());
    for indices in known {
        let (first, total) = (indices.first[0].value, indices.total[0].value);
        assert!((first - 1.0).abs() < 0.22, "{indices:?}");
        assert!((total - 1.0).abs() < 0.18, "{indices:?}");
    }
}

/// For independent quantities the shares that each has alone cannot sum to more than the whole: the lower
/// end of the interval of their sum lies at or below one. (95 % of intervals would even if the sum were
/// exactly one; the rest is allowed for by the width of the interval, taken once more.)
#[test]
fn first_order_shares_sum_to_at_most_one_on_every_example() {
    let mut outputs = 0;
    for name in [
        "mars-arrival.yaml",
        "earth-return.yaml",
        "own-world.yaml",
        "rolling-ship.yaml",
        "skirted-shell.yaml",
    ] {
        let case = example(name);
        let found = influence(
            &case,
            &InfluenceAsk {
                rows: 1024,
                band_samples: Some(2000),
                halved: 0,
                ..InfluenceAsk::default()
            },
        );
        let known = found
            .outputs
            .iter()
            .filter_map(|output| output.indices.as_ref().ok());
        for indices in known.chain(found.broken.indices.as_ref().ok()) {
            let sum = indices.first_sum;
            let (low, high) = (sum.lower.expect("an end"), sum.upper.expect("an end"));
            assert!(low - 0.5 * (high - low) <= 1.0, "{name}: {sum:?}");
            outputs += 1;
        }
    }
    assert!(outputs >= 30, "{outputs} outputs with shares");
}

#[test]
fn what_has_no_influence_to_look_for_says_so() {
    let asked = InfluenceAsk::default();
    let refused = |case: &Case, asked: &InfluenceAsk| {
        find_influence(case, asked, &Progress::default()).expect_err("refused")
    };
    let text = "title: x\nworld: mars\nship: {mass: 1 t, reference_area: 5 m2, drag_coefficient: 1.5, nose_radius: 1 m}\n\
        arrival: {orbit: {apoapsis_altitude: 40000 km, inclination: 0 deg, aim_periapsis: {from: 60 km, to: 120 km, step: 10 km}}}\n";
    let without_limits = crate::case_of(text);
    let error = refused(&without_limits, &asked);
    assert!(matches!(error, InfluenceError::NoAim { .. }), "{error}");
    let certain = crate::case_of(&format!("{text}uncertainty: {{air: exact}}\n"));
    assert!(matches!(
        refused(&certain, &asked),
        InfluenceError::NothingUncertain
    ));
    let high = InfluenceAsk {
        aim_m: Some(1e6),
        ..asked
    };
    let error = refused(&without_limits, &high);
    assert!(
        matches!(error, InfluenceError::AimOutside { .. }),
        "{error}"
    );
    let few = InfluenceAsk {
        band_samples: Some(10),
        ..asked
    };
    let error = refused(&example("mars-arrival.yaml"), &few);
    assert!(matches!(error, InfluenceError::Band(_)), "{error}");
}
