//! Statistics held to published values, and to their own promises by simulation.

use periband::ensemble::distribution::{Quantiles, normal_probability, normal_score};
use periband::ensemble::draws::Draws;
use periband::ensemble::interval::{
    Interval, MAX_TRIALS, StatisticsError, lower_bound, samples_needed, upper_bound,
};
use periband::ensemble::quantile::{Moments, Sorted};
use periband::scenario::uncertainty::{
    AirDensity, Correlation, Distribution, Number, Uncertain, Uncertainty,
};
use statrs::distribution::{ContinuousCDF, Normal, Triangular};

/// Draws per distribution in the checks of moments and distributions.
const DRAWS: u32 = 20_000;

#[test]
fn published_binomial_intervals_are_met() {
    let mut rows = 0;
    let table = include_str!("../reference/binomial_intervals.csv");
    for line in table.lines().filter(|l| !l.starts_with('#')).skip(1) {
        let field: Vec<&str> = line.split(',').collect();
        let number = |i: usize| field[i].parse::<f64>().unwrap();
        let (k, n) = (field[0].parse().unwrap(), field[1].parse().unwrap());
        let near = |ours: f64, reference: f64| {
            let scale = if n > 8_000 { reference } else { 1.0 };
            assert!(
                (ours - reference).abs() <= number(7) * scale,
                "{line}: {ours}"
            );
        };
        let exact = Interval::clopper_pearson(k, n, number(2)).unwrap();
        near(exact.lower, number(3));
        near(exact.upper, number(4));
        if !field[5].is_empty() {
            let score = Interval::wilson(k, n, number(2)).unwrap();
            near(score.lower, number(5));
            near(score.upper, number(6));
        }
        rows += 1;
    }
    assert_eq!(rows, 23);
}

#[test]
fn wilks_sample_sizes_are_exact() {
    // Wilks (1941): standard values from memory, all computed from the equation.
    for (probability, confidence, orders) in [
        (0.90, 0.90, [22, 38, 52]),
        (0.90, 0.95, [29, 46, 61]),
        (0.95, 0.90, [45, 77, 105]),
        (0.95, 0.95, [59, 93, 124]),
        (0.95, 0.99, [90, 130, 165]),
        (0.99, 0.90, [230, 388, 531]),
        (0.99, 0.95, [299, 473, 628]),
        (0.99, 0.99, [459, 662, 838]),
        (0.9973, 0.90, [852, 1440, 1970]),
        (0.9973, 0.95, [1109, 1756, 2330]),
        (0.99865, 0.90, [1705, 2880, 3941]),
        (0.99865, 0.95, [2218, 3513, 4662]),
        (0.999, 0.95, [2995, 4742, 6294]),
    ] {
        for (failures, expected) in (0..).zip(orders) {
            let n = samples_needed(failures, probability, confidence).unwrap();
            assert_eq!(
                n, expected,
                "{failures} failures, {probability}/{confidence}"
            );
            // The one-sided bound says the same: n samples are enough, one less is not.
            assert!(lower_bound(n - failures, n, confidence).unwrap() >= probability);
            assert!(lower_bound(n - 1 - failures, n - 1, confidence).unwrap() < probability);
        }
    }
}

#[test]
fn bounds_mirror_each_other_and_refuse_nonsense() {
    use StatisticsError as E;
    for (k, n) in [(0, 7), (3, 7), (20, 4000), (3999, 4000), (1, MAX_TRIALS)] {
        let below = lower_bound(k, n, 0.95).unwrap();
        let above = upper_bound(n - k, n, 0.95).unwrap();
        assert!((below + above - 1.0).abs() < 1e-15);
    }
    assert_eq!(Interval::wilson(0, 0, 0.95), Err(E::Trials(0)));
    let beyond = MAX_TRIALS + 1;
    assert_eq!(upper_bound(1, beyond, 0.95), Err(E::Trials(beyond)));
    let (events, trials) = (2, 1);
    let impossible = Err(E::Events { events, trials });
    assert_eq!(lower_bound(events, trials, 0.95), impossible);
    for wrong in [0.0, 1.0, -0.5, 1e-17, f64::INFINITY] {
        assert_eq!(lower_bound(1, 2, wrong), Err(E::Probability(wrong)));
    }
    assert!(Interval::wilson(1, 2, f64::NAN).is_err());
    assert_eq!(samples_needed(0, 1.0 - 1e-12, 0.999), Err(E::TooManyNeeded));
    assert_eq!(samples_needed(u64::MAX, 0.5, 0.95), Err(E::TooManyNeeded));
}

#[test]
fn clopper_pearson_covers_at_least_as_often_as_it_says() {
    const N: u64 = 60;
    let intervals: Vec<Interval> = (0..=N)
        .map(|k| Interval::clopper_pearson(k, N, 0.95).unwrap())
        .collect();
    for step in 1..200 {
        let p = f64::from(step) / 200.0;
        let mut mass = (1.0 - p).powi(60);
        let mut covered = 0.0;
        for (k, interval) in (0..).zip(&intervals) {
            if interval.lower <= p && p <= interval.upper {
                covered += mass;
            }
            mass *= f64::from(60 - k) / f64::from(k + 1) * p / (1.0 - p);
        }
        assert!(covered >= 0.95, "{p}: {covered}");
    }
}

#[test]
fn normal_functions_agree_with_values_to_forty_digits() {
    // Computed with mpmath.
    for (z, p) in [
        (-37.0, 5.725_571_222_524_576_8e-300),
        (-20.0, 2.753_624_118_606_233_7e-89),
        (-8.0, 6.220_960_574_271_784e-16),
        (-5.7, 5.990_371_401_063_528e-9),
        (-5.5, 1.898_956_246_588_772e-8),
        (-3.0, 0.001_349_898_031_630_094_5),
        (-0.7, 0.241_963_652_223_073_03),
        (-0.5, 0.308_537_538_725_986_9),
        (0.3, 0.617_911_422_188_952_6),
        (2.0, 0.977_249_868_051_820_8),
    ] {
        assert!((normal_probability(z) / p - 1.0).abs() < 2e-15, "{z}");
        assert!((normal_score(p) / z - 1.0).abs() < 2e-15, "{p}");
    }
    let standard = Normal::standard();
    for i in 1..100_000 {
        let p = f64::from(i) / 100_000.0;
        let (ours, theirs) = (normal_score(p), standard.inverse_cdf(p));
        assert!(
            (ours - theirs).abs() <= 2e-15 * theirs.abs().max(0.01),
            "{p}"
        );
    }
}

fn normal(mean: f64, std_dev: f64) -> Distribution {
    Distribution::Normal { mean, std_dev }
}

fn truncated(mean: f64, std_dev: f64, [low, high]: [f64; 2]) -> Distribution {
    Distribution::TruncatedNormal {
        mean,
        std_dev,
        low,
        high,
    }
}

fn uniform(low: f64, high: f64) -> Distribution {
    Distribution::Uniform { low, high }
}

fn triangular(low: f64, mode: f64, high: f64) -> Distribution {
    Distribution::Triangular { low, mode, high }
}

fn log_normal(median: f64, log_std_dev: f64) -> Distribution {
    Distribution::LogNormal {
        median,
        log_std_dev,
    }
}

fn uncertain(number: Number, distribution: Distribution) -> Uncertain {
    Uncertain {
        number,
        distribution,
    }
}

/// One number that is drawn from `distribution`, sample 0 and on.
fn drawn(distribution: Distribution, seed: u64) -> Vec<f64> {
    let uncertainty = Uncertainty {
        numbers: vec![uncertain(Number::ShipMass, distribution)],
        air_density: AirDensity::Exact,
        ..Uncertainty::default()
    };
    let draws = Draws::new(&uncertainty, seed).expect("the cases are valid");
    let mut values = [0.0; Number::COUNT];
    (0..u64::from(DRAWS))
        .map(|i| {
            draws.fill(i, &mut values);
            values[Number::ShipMass as usize]
        })
        .collect()
}

fn moments_of(values: &[f64]) -> Moments {
    let mut moments = Moments::default();
    for value in values {
        moments.push(*value);
    }
    moments
}

/// A distribution with its cumulative distribution function, mean and standard deviation from elsewhere.
type Case = (Distribution, Box<dyn Fn(f64) -> f64>, f64, f64);

fn cases() -> Vec<Case> {
    let standard = Normal::standard();
    let log_sd = 0.4f64;
    let triangle = Triangular::new(-1.0, 4.0, 0.5).expect("ends in order");
    let kept = standard.cdf(1.0) - standard.cdf(-2.0);
    let bell = |z: f64| (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt();
    let shift = (bell(-2.0) - bell(1.0)) / kept;
    let shrink = 1.0 + (-2.0 * bell(-2.0) - bell(1.0)) / kept - shift * shift;
    vec![
        (
            normal(3.0, 2.0),
            Box::new(move |x| standard.cdf((x - 3.0) / 2.0)),
            3.0,
            2.0,
        ),
        (
            truncated(3.0, 2.0, [-1.0, 5.0]),
            Box::new(move |x| (standard.cdf((x - 3.0) / 2.0) - standard.cdf(-2.0)) / kept),
            3.0 + 2.0 * shift,
            2.0 * shrink.sqrt(),
        ),
        (
            uniform(-2.0, 6.0),
            Box::new(|x| (x + 2.0) / 8.0),
            2.0,
            8.0 / 12f64.sqrt(),
        ),
        (
            triangular(-1.0, 0.5, 4.0),
            Box::new(move |x| triangle.cdf(x)),
            3.5 / 3.0,
            ((1.0 + 16.0 + 0.25 + 4.0 + 0.5 - 2.0) / 18.0f64).sqrt(),
        ),
        (
            log_normal(5.0, log_sd),
            Box::new(move |x| standard.cdf((x / 5.0).ln() / log_sd)),
            5.0 * (0.5 * log_sd * log_sd).exp(),
            5.0 * ((log_sd * log_sd).exp() * ((log_sd * log_sd).exp() - 1.0)).sqrt(),
        ),
    ]
}

#[test]
fn draws_follow_their_distributions() {
    for (distribution, cdf, mean, std_dev) in cases() {
        let values = drawn(distribution, 5);
        let moments = moments_of(&values);
        // Four standard errors; that of the deviation is √((κ−1)/4) sd/√n, at most 1.147 (log-normal, κ = 6.26).
        let error = std_dev / (f64::from(DRAWS)).sqrt();
        assert!(
            (moments.mean().unwrap() - mean).abs() < 4.0 * error,
            "{distribution:?}"
        );
        assert!(
            (moments.std_dev().unwrap() - std_dev).abs() < 4.59 * error,
            "{distribution:?}"
        );
        // Kolmogorov–Smirnov: √n·D stays below 1.95 in 99.9 % of samples.
        let sorted = Sorted::new(values).unwrap();
        let n = f64::from(DRAWS);
        let distance = sorted.values().iter().zip(0..).fold(0.0f64, |d, (x, i)| {
            let f = cdf(*x);
            d.max(f - f64::from(i) / n).max(f64::from(i + 1) / n - f)
        });
        assert!(
            distance * n.sqrt() < 1.95,
            "{distribution:?}: {}",
            distance * n.sqrt()
        );
    }
}

#[test]
fn quantile_functions_invert_the_cumulative_ones() {
    for (distribution, cdf, ..) in cases() {
        let quantiles = Quantiles::new(distribution).unwrap();
        for u in [1e-12, 1e-6, 0.025, 0.3, 0.5, 0.6, 0.975, 1.0 - 1e-9] {
            let x = quantiles.from_uniform(u);
            assert!((quantiles.probability_below(x) - u).abs() < 4e-15 + 1e-13 * u);
            assert!((cdf(x) - u).abs() < 1e-10, "{distribution:?} {u}");
            let by_score = quantiles.from_normal_score(normal_score(u));
            assert!(
                (by_score - x).abs() <= 1e-13 * (1.0 + x.abs()),
                "{distribution:?} {u}"
            );
        }
    }
}

#[test]
fn unfit_distributions_are_errors() {
    for unfit in [
        normal(f64::NAN, 1.0),
        normal(0.0, -1.0),
        normal(0.0, 1e308),
        log_normal(0.0, 1.0),
        log_normal(1.0, 100.0),
        uniform(1.0, 0.0),
        uniform(-1e308, 1e308),
        triangular(0.0, 2.0, 1.0),
        triangular(0.0, f64::NAN, 1.0),
        truncated(0.0, 1.0, [40.0, 41.0]),
        truncated(0.0, 1.0, [1.0, f64::NAN]),
    ] {
        assert!(Quantiles::new(unfit).is_err(), "{unfit:?}");
    }
}

#[test]
fn correlations_are_recovered_on_normal_scores() {
    use Number::{AirDensity as B, DeliveryAngle as A, DragCoefficient as C};
    let correlated = |between, coefficient| Correlation {
        between,
        coefficient,
    };
    let narrow = normal(-0.1, 0.002);
    let flat = uniform(1.0, 2.0);
    let uncertainty = Uncertainty {
        numbers: vec![uncertain(A, narrow), uncertain(C, flat)],
        air_density: AirDensity::World { factor: 1.0 },
        correlations: vec![correlated((A, C), 0.7), correlated((C, B), -0.4)],
        ..Uncertainty::default()
    };
    let draws = Draws::new(&uncertainty, 2).unwrap();
    let standard = Normal::standard();
    let mut values = [0.0; Number::COUNT];
    let pairs = [(0, 2), (1, 2), (0, 1), (0, 0), (1, 1), (2, 2)];
    let mut products = [0.0; 6];
    for i in 0..u64::from(DRAWS) {
        draws.fill(i, &mut values);
        let z = [
            (values[A as usize] + 0.1) / 0.002,
            values[B as usize],
            standard.inverse_cdf(values[C as usize] - 1.0),
        ];
        for (sum, (p, q)) in products.iter_mut().zip(pairs) {
            *sum += z[p] * z[q];
        }
    }
    // Standard errors of a product mean are √((1 + ρ²)/n) and, for ρ = 1, √(2/n); four of them.
    for (sum, expected) in products.into_iter().zip([0.7, -0.4, 0.0, 1.0, 1.0, 1.0f64]) {
        let error = ((1.0 + expected * expected) / f64::from(DRAWS)).sqrt();
        assert!(
            (sum / f64::from(DRAWS) - expected).abs() < 4.0 * error,
            "{expected}: {sum}"
        );
    }
}

#[test]
fn intervals_of_samples_cover_as_often_as_they_say() {
    const SIZE: usize = 100;
    for (distribution, cdf, mean, std_dev) in cases() {
        let mut covered = [0.0f64; 3];
        let mut samples = 0.0;
        for seed in 0..10 {
            for sample in drawn(distribution, seed).chunks_exact(SIZE) {
                let moments = moments_of(sample);
                let sorted = Sorted::new(sample.to_vec()).unwrap();
                let low = |e: Option<f64>| e.unwrap_or(f64::NEG_INFINITY);
                let high = |e: Option<f64>| e.unwrap_or(f64::INFINITY);
                let of_mean = moments.mean_estimate(0.95).unwrap();
                let of_sd = moments.std_dev_estimate(0.95).unwrap();
                let of_p = sorted.quantile_estimate(0.9, 0.95).unwrap();
                let inside = [
                    low(of_mean.lower) <= mean && mean <= high(of_mean.upper),
                    low(of_sd.lower) <= std_dev && std_dev <= high(of_sd.upper),
                    cdf(low(of_p.lower)) <= 0.9 && 0.9 <= cdf(high(of_p.upper)),
                ];
                covered
                    .iter_mut()
                    .zip(inside)
                    .for_each(|(sum, yes)| *sum += f64::from(yes));
                samples += 1.0;
            }
        }
        let [of_mean, of_sd, of_p] = covered.map(|c| c / samples);
        // 2000 samples: four standard errors of 0.95 are 0.0195. The quantile's interval is conservative.
        assert!(
            (of_mean - 0.95).abs() < 0.0195,
            "{distribution:?}: {of_mean}"
        );
        assert!(of_p > 0.95 - 0.0195, "{distribution:?}: {of_p}");
        if let Distribution::LogNormal { .. } = distribution {
            // The known weakness of an asymptotic interval under a long tail: about 91 % at this size.
            assert!((0.89..0.93).contains(&of_sd), "{of_sd}");
        } else {
            assert!((of_sd - 0.95).abs() < 0.0195, "{distribution:?}: {of_sd}");
        }
    }
}
