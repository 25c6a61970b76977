//! Rare accidents: the estimator against closed forms over many seeds, and against counted passes.

#![allow(clippy::print_stdout, clippy::print_stderr)] // figures that --nocapture shows
#![allow(clippy::cast_precision_loss, reason = "counts of seeds")]

use super::{case_of, example};
use periband::ensemble::coordinates::FlownPlace;
use periband::ensemble::luck::Block;
use periband::ensemble::margin::Margins;
use periband::ensemble::splitting::{Found, Mark, Search};
use periband::ensemble::{Fleet, LimitKind, Progress};
use periband::study::rare::{QUICK, THOROUGH, accidents};
use periband::study::{Case, find_band};
use rayon::prelude::*;

/// Φ(−β) = 1e-6 and 1e-7. Source: computed (inverse normal of `SciPy` 1.x, and any table).
const BETA_1E6: f64 = 4.753_424_308_822_899;
const BETA_1E7: f64 = 5.199_337_582_187_471;

fn search(dimensions: usize, seed: u64) -> Search {
    Search {
        dimensions,
        places: THOROUGH,
        floor: 1e-11,
        confidence: 0.95,
        seed,
        number: 0,
        block: Block::First,
    }
}

fn of(search: &Search, severity: impl Fn(&[f64]) -> f64) -> Found {
    search
        .run(|places| {
            let mark = |place: &Vec<f64>| Mark {
                severity: severity(place),
                share: 1.0,
                told: true,
            };
            Ok(places.iter().map(mark).collect())
        })
        .expect("a search")
}

/// What the searches of some seeds gave, against the truth.
struct Held {
    /// How many have an interval with the truth in it.
    covers: usize,
    /// Their mean estimate.
    mean: f64,
    /// How far that is from the truth, in its own standard errors.
    errors: f64,
}

fn held(truth: f64, seeds: u32, found: impl Fn(u64) -> Found + Sync + Send) -> Held {
    let all: Vec<Found> = (1..=u64::from(seeds)).into_par_iter().map(&found).collect();
    assert!(all.iter().all(|found| found.places < 100_000));
    let covers = all
        .iter()
        .filter(|found| (found.probability.lower..=found.probability.upper).contains(&truth));
    let n = f64::from(seeds);
    let mean = all
        .iter()
        .map(|found| found.probability.estimate)
        .sum::<f64>()
        / n;
    let squares = all
        .iter()
        .map(|found| (found.probability.estimate - mean).powi(2));
    let error = (squares.sum::<f64>() / (n - 1.0) / n).sqrt();
    Held {
        covers: covers.count(),
        mean,
        errors: (mean - truth) / error,
    }
}

/// The same over 100 seeds, at least 90 of which must hold; a mean without bias lies within four of its standard
/// errors.
fn assert_covered(name: &str, truth: f64, found: impl Fn(u64) -> Found + Sync + Send) {
    let Held {
        covers,
        mean,
        errors,
    } = held(truth, 100, found);
    println!(
        "{name}: {truth:e} covered by {covers} of 100, mean {mean:e}, {errors:.2} standard errors off"
    );
    assert!(covers >= 90, "{name}: {covers}");
    assert!(errors.abs() < 4.0, "{name}: {mean:e}, {errors}");
}

/// Over 1000 seeds with few places, where a bias would show: the standard error of the mean is 1 %. The intervals
/// cover as often as they say.
#[test]
fn the_estimate_has_no_bias_with_few_places() {
    let Held {
        covers,
        mean,
        errors,
    } = held(1e-6, 1000, |seed| {
        let search = Search {
            places: 240,
            ..search(2, seed)
        };
        of(&search, |place| {
            (2.0 * place[0] + place[1]) / 5_f64.sqrt() - BETA_1E6
        })
    });
    println!("1000 seeds: covered by {covers}, mean {mean:e}, {errors:.2} standard errors off");
    assert!(errors.abs() < 4.0, "{mean:e}, {errors}");
    assert!(covers >= 920, "{covers} of 1000");
}

/// A plane at a distance β from the origin has Φ(−β) beyond it, whatever its direction and the dimensions.
#[test]
fn the_interval_covers_a_plane_in_at_least_90_of_100_seeds() {
    for (beta, truth, places) in [(BETA_1E6, 1e-6, THOROUGH), (BETA_1E7, 1e-7, QUICK)] {
        assert_covered("a plane", truth, |seed| {
            let search = Search {
                places,
                ..search(20, seed)
            };
            of(&search, |place| {
                let along = place.iter().enumerate();
                let sum: f64 = along.map(|(i, z)| if i % 2 == 0 { *z } else { -z }).sum();
                sum / 20_f64.sqrt() - beta
            })
        });
    }
}

/// The distance from the origin in three dimensions is a Maxwell number: P(r > 6.0515) = 1e-8·... held by its own
/// closed form erfc(r/√2) + √(2/π) r exp(−r²/2), here at r = 5.6 (computed: 1.0287e-6 by quadrature of the density).
#[test]
fn a_sphere_around_the_origin_is_covered_as_well() {
    let r: f64 = 5.6;
    // The closed form, its erfc by the continued fraction of Laplace for the normal tail.
    let density = (-0.5 * r * r).exp() * (2.0 / std::f64::consts::PI).sqrt();
    let tail = (1..=60).rev().fold(r, |below, k| r + f64::from(k) / below);
    let truth = density / tail + density * r;
    assert_covered("a sphere", truth, |seed| {
        of(&search(3, seed), |place| {
            place.iter().map(|z| z * z).sum::<f64>().sqrt() - r
        })
    });
}

#[test]
fn what_cannot_happen_gets_a_bound_and_what_is_common_a_count() {
    let bounded = of(&search(2, 3), |place| place[0].tanh() - 1.5);
    assert_eq!(bounded.probability.estimate, 0.0);
    assert!(bounded.likeliest.is_none());
    let upper = bounded.probability.upper;
    assert!(upper > 0.0 && upper < 1e-9, "{upper:e}");
    let common = of(&search(2, 3), |place| place[0]);
    assert_eq!(common.levels, 0);
    assert!((common.probability.estimate - 0.5).abs() < 0.02);
    let flat = of(&search(2, 3), |_| -1.0);
    assert!(flat.probability.estimate == 0.0 && flat.probability.upper < 1e-3);
}

/// Heat flux goes with the root of one over the nose radius, which does nothing else to a pass, so that with
/// log-normal radius and limit the margin ln(flux/limit) is normal: P = Φ(−β).
fn closed_form_case(beta: f64) -> (Case, f64) {
    let text = |limit: f64| {
        format!(
            "title: x\nworld: mars\nship: {{mass: 60 t, reference_area: 300 m2, drag_coefficient: 1.5, \
             nose_radius: 3 m, heating: {{radiative: no, free_molecular: no}}}}\n\
             arrival: {{hyperbola: {{excess_speed: 2.6 km/s, inclination: 30 deg, aim_periapsis: \
             {{from: 45 km, to: 60 km, step: 5 km}}}}}}\n\
             uncertainty: {{air: exact, heating: exact, ship.nose_radius: {{lognormal: {{log_std_dev: 0.2}}}}, \
             limits.heat_flux: {{lognormal: {{log_std_dev: 0.05}}}}}}\n\
             limits: {{heat_flux: {limit:.12} W/cm2}}\nask: {{probability: 0.99999}}\n"
        )
    };
    let aim_m = 50e3;
    let case = case_of(&text(100.0));
    let progress = Progress::default();
    let fleet = Fleet::new(&case.problem, &progress);
    let middle = vec![0.0; case.problem.dimensions()];
    let flown = fleet.fly_places(aim_m, &[middle]).expect("a pass")[0];
    let flux_w_cm2 = flown.result.peak_heat_flux_w_m2 / 1e4;
    let sigma = f64::sqrt(0.1 * 0.1 + 0.05 * 0.05);
    (case_of(&text(flux_w_cm2 * (beta * sigma).exp())), aim_m)
}

/// The same through passes: every place of the search is flown.
#[test]
fn flown_passes_with_a_closed_form_are_covered_in_at_least_90_of_100_seeds() {
    let (case, aim_m) = closed_form_case(BETA_1E6);
    assert_eq!(case.problem.dimensions(), 2);
    let margins = Margins::new(&case.problem);
    // The plane of the closed form is that of the passes.
    let progress = Progress::default();
    let fleet = Fleet::new(&case.problem, &progress);
    let (along, across) = ([-0.1_f64, -0.05], [0.05, -0.1]);
    let size = along[0].hypot(along[1]);
    let plane = |s: f64| {
        let at = |k: usize| (BETA_1E6 * along[k] + s * across[k]) / size;
        vec![at(0), at(1)]
    };
    let places: Vec<Vec<f64>> = [-2.0, -1.0, 0.0, 1.0, 2.0].map(plane).to_vec();
    for (place, flown) in places
        .iter()
        .zip(fleet.fly_places(aim_m, &places).expect("passes"))
    {
        let margin = margins.of(0, &flown);
        println!("{place:?}: {margin:e}");
        assert!(margin.abs() < 1e-5, "{place:?}: {margin:e}");
    }
    assert_covered("flown passes", 1e-6, |seed| {
        let progress = Progress::default();
        let fleet = Fleet::new(&case.problem, &progress);
        let mark = |flown: &FlownPlace| Mark {
            severity: margins.of(0, flown),
            share: 1.0,
            told: true,
        };
        let ask = |places: &[Vec<f64>]| {
            let flown = fleet.fly_places(aim_m, places)?;
            Ok(flown.iter().map(mark).collect())
        };
        let places = 240;
        let quick = Search {
            places,
            ..search(2, seed)
        };
        quick.run(ask).expect("a search")
    });
}

/// At an aim where a few of ten thousand passes break a limit both ways can go: each limit and all together agree
/// within their intervals, laid 1.5 times as wide each.
#[test]
fn searched_and_counted_chances_agree_on_an_example() {
    let case = example("mars-arrival.yaml");
    let progress = Progress::default();
    let fleet = Fleet::new(&case.problem, &progress);
    let ask = case.scenario.ask;
    let aim_m = 49_500.0;
    let counted = fleet.tally(&[aim_m], 0..200_000).expect("counts")[0].clone();
    let found = accidents(&fleet, &ask, (aim_m, QUICK), Block::First).expect("a search");
    println!("{counted:?} {found:?}");
    let counts = counted.broken.iter().chain([&counted.broken_any]);
    let limits = found.limits.iter().map(|limit| limit.broken);
    for (&broken, searched) in counts.zip(limits.chain([found.any])) {
        let held = periband::ensemble::interval::Interval::clopper_pearson(broken, 200_000, 0.997)
            .expect("an interval");
        let apart = searched.lower > held.upper || searched.upper < held.lower;
        assert!(!apart, "{broken} of 200000 against {searched:?}");
    }
    let kinds: Vec<LimitKind> = found.limits.iter().map(|limit| limit.kind).collect();
    let expected: Vec<LimitKind> = case
        .problem
        .limits()
        .entries()
        .iter()
        .map(|l| l.kind)
        .collect();
    assert_eq!(kinds, expected);
}

#[test]
fn the_same_seed_gives_the_same_bits_on_any_number_of_threads() {
    let case = example("mars-arrival.yaml");
    let ask = case.scenario.ask;
    let bits = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.expect("a pool").install(|| {
            let progress = Progress::default();
            let fleet = Fleet::new(&case.problem, &progress);
            accidents(&fleet, &ask, (50_000.0, 60), Block::First).expect("a search")
        })
    };
    let one = bits(1);
    assert_eq!(one, bits(3));
    assert!(one.limits.iter().any(|limit| limit.broken.estimate > 0.0));
}

/// A problem with two sharp edges, 10 g below and must come down above, and a normal delivery error alone: the
/// edges of the band move in by the quantile of the normal distribution, 4.753 standard deviations for 99.9999 %.
/// (Computed from the normal distribution.)
#[test]
fn the_edges_of_a_band_of_one_in_a_million_move_in_by_the_normal_quantile() {
    let band = |uncertainty: &str, ask: &str| {
        let case = super::case_of_file(
            "chapman",
            &format!(
                "title: chain\nworld: ./chapman.yaml\n\
                 ship: {{mass: 300 kg, reference_area: 1 m2, drag_coefficient: 1, nose_radius: 1 m}}\n\
                 arrival: {{hyperbola: {{excess_speed: 0 km/s, inclination: 0 deg, \
                 aim_periapsis: {{from: 40 km, to: 75 km, step: 2.5 km}}}}}}\n\
                 uncertainty: {{air: {{density: exact}}{uncertainty}}}\n\
                 limits: {{peak_deceleration: 10 g, comes_down: yes}}\n\
                 ask: {{{ask}}}\n"
            ),
        );
        find_band(&case.scenario, &case.problem, &Progress::default()).expect("a band study")
    };
    let exact = band("", "samples: 1").band.expect("a band");
    let delivery = ", delivery: {periapsis_altitude: {normal: {std_dev: 0.5 km}}}";
    let result = band(delivery, "probability: 0.999999, samples: 2000, seed: 5");
    assert!(result.rare);
    let found = result.band.as_ref().expect("a band");
    let shift = BETA_1E6 * 500.0;
    let (low, high) = (exact.low.aim_m + shift, exact.high.aim_m - shift);
    println!("exact {exact:?}, found {found:?}, expected {low} to {high}");
    // The true edge lies between the outermost safe aim and that aim less its uncertainty.
    assert!(found.low.aim_m - found.low.uncertainty_m - 1.0 <= low && low <= found.low.aim_m + 1.0);
    assert!(
        found.high.aim_m - 1.0 <= high && high <= found.high.aim_m + found.high.uncertainty_m + 1.0
    );
    assert!(found.low.uncertainty_m < 200.0 && found.high.uncertainty_m < 200.0);
    assert_eq!(found.low.limit, Some(LimitKind::PeakDeceleration));
    assert_eq!(found.high.limit, Some(LimitKind::ComesDown));
    let best = &result.recommended;
    assert!(best.aim_m > found.low.aim_m && best.aim_m < found.high.aim_m);
    assert!(best.held.lower >= 0.999_999 && best.accidents.is_some());
}

/// Few samples for a probability that more of them would show: that is said, as ever.
#[test]
fn a_probability_that_samples_can_show_is_not_searched_for() {
    let mut case = example("mars-arrival.yaml");
    case.scenario.ask.samples = 1000;
    let refused = find_band(&case.scenario, &case.problem, &Progress::default());
    let refused = refused.expect_err("too few").to_string();
    assert!(refused.contains("1000 samples cannot show"), "{refused}");
}
