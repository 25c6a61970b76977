//! Curves of level against duration are held over all levels: the verdict of the lanes against a search through
//! 2000 levels of a history of a millisecond, flown by the reference integrator.

use crate::exposure::Random;
use crate::{case_of, changed_example};
use periband::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use periband::craft::named_curves::NAMED_CURVES;
use periband::ensemble::problem::SampleNumber;
use periband::ensemble::{Fleet, LimitKind, Progress};
use periband::pass::dynamics::State;
use periband::pass::reference::{FlyOptions, Moment, felt_at, fly, rates};
use periband::pass::{PassResult, Sample};
use periband::report::pass_text;
use periband::scenario::people::SeveralPeaks;
use periband::steering::flight::fly_steered;
use periband::study::single::fly_single;
use periband::study::{Case, find_band};
use rayon::prelude::*;

/// A level within this share of the allowed one is a tie: two of 2000 levels between 38 g and 5 g lie that far apart.
const TIE: f64 = 1e-3;

/// The state at a place in [0, 1] between two moments: the quintic through position, velocity and acceleration.
fn between(
    case: &Case,
    sample: &Sample<f64>,
    (a, b): (&Moment, &Moment),
    place: f64,
) -> State<f64> {
    let models = case.problem.models();
    let (ka, kb) = (
        rates(models, sample, &a.state),
        rates(models, sample, &b.state),
    );
    let (h, t) = (b.time_s - a.time_s, place);
    let mut y = a.state;
    for c in 0..3 {
        let (v0, v1) = (a.state[c + 3] * h, b.state[c + 3] * h);
        let (a0, a1) = (ka[c + 3] * h * h, kb[c + 3] * h * h);
        let dx = b.state[c] - (a.state[c] + v0 + 0.5 * a0);
        let (dv, da) = (v1 - (v0 + a0), a1 - a0);
        let p = 10.0 * dx - 4.0 * dv + 0.5 * da;
        let q = -15.0 * dx + 7.0 * dv - da;
        let r = 6.0 * dx - 3.0 * dv + 0.5 * da;
        y[c] = a.state[c] + t * (v0 + t * (0.5 * a0 + t * (p + t * (q + t * r))));
        y[c + 3] = (v0 + t * (a0 + t * (3.0 * p + t * (4.0 * q + t * 5.0 * r)))) / h;
    }
    y
}

/// What was sensed (time s, level m/s²), every millisecond where it may be above `lowest`.
pub(crate) fn history(
    case: &Case,
    aim_m: f64,
    sample: SampleNumber,
    lowest: f64,
) -> Vec<(f64, f64)> {
    let problem = &case.problem;
    let numbers = problem.numbers_of(sample);
    let (start, ready) = problem
        .launch(aim_m, &numbers, sample)
        .expect("an approach");
    let options = FlyOptions {
        tolerance: 1e-12,
        longest_step_s: 0.25,
    };
    let models = problem.models();
    let flown = fly(models, &ready, &start, (problem.settings(), options)).expect("flies");
    let mut fine = Vec::new();
    for pair in flown.history.windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        fine.push((a.time_s, a.felt.deceleration));
        if a.felt.deceleration.max(b.felt.deceleration) < 0.7 * lowest {
            continue;
        }
        let h = b.time_s - a.time_s;
        let steps = (h / 1e-3).ceil();
        let mut place = 1.0;
        while place < steps {
            let y = between(case, &ready, (a, b), place / steps);
            fine.push((
                a.time_s + place / steps * h,
                felt_at(models, &ready, &y).deceleration,
            ));
            place += 1.0;
        }
    }
    fine.extend(
        flown
            .history
            .last()
            .map(|end| (end.time_s, end.felt.deceleration)),
    );
    fine
}

/// The longest single stay at or above each of some rising levels, and all time there, s.
pub(crate) fn stays(history: &[(f64, f64)], levels: &[f64]) -> Vec<(f64, f64)> {
    let mut since = vec![f64::NAN; levels.len()];
    let mut found = vec![(0.0_f64, 0.0); levels.len()];
    let end = |stay: &mut (f64, f64), length: f64| {
        *stay = (stay.0.max(length), stay.1 + length);
    };
    let first = history[0];
    // How many levels are at or below the value.
    let mut below = levels.partition_point(|level| *level <= first.1);
    since[..below].fill(first.0);
    for pair in history.windows(2) {
        let ((t0, g0), (t1, g1)) = (pair[0], pair[1]);
        let crossing = |level: f64| t0 + (t1 - t0) * (level - g0) / (g1 - g0);
        while below < levels.len() && levels[below] <= g1 {
            since[below] = crossing(levels[below]);
            below += 1;
        }
        while below > 0 && levels[below - 1] > g1 {
            below -= 1;
            end(&mut found[below], crossing(levels[below]) - since[below]);
        }
    }
    let last = history[history.len() - 1];
    for k in 0..below {
        end(&mut found[k], last.0 - since[k]);
    }
    found
}

/// What a curve (durations s, levels) allows at a level, straight in the logarithms between its points.
fn allowed_s(points: &[(f64, f64)], level: f64) -> f64 {
    let last = points.len() - 1;
    if level > points[0].1 {
        return 0.0;
    }
    if level < points[last].1 {
        return f64::INFINITY;
    }
    let at = points
        .iter()
        .rposition(|(_, g)| *g >= level)
        .expect("not above the first");
    if at == last {
        return points[last].0;
    }
    let ((d0, g0), (d1, g1)) = (points[at], points[at + 1]);
    d0 * (d1 / d0).powf((level / g0).ln() / (g1 / g0).ln())
}

/// Whether any of 2000 levels is stayed above for longer than the curve allows.
fn broken(history: &[(f64, f64)], points: &[(f64, f64)], rule: SeveralPeaks) -> bool {
    let peak = history.iter().fold(0.0_f64, |peak, (_, g)| peak.max(*g));
    let lowest = points[points.len() - 1].1;
    if peak < lowest {
        return false;
    }
    let levels: Vec<f64> = (0..2000)
        .map(|i| lowest * (peak / lowest).powf(f64::from(i) / 1999.0))
        .collect();
    let found = stays(history, &levels);
    let mut all = levels.iter().zip(&found);
    peak > points[0].1
        || all.any(|(level, (longest, sum))| {
            let stay = match rule {
                SeveralPeaks::LongestSingleStay => longest,
                SeveralPeaks::TimeAddedUp => sum,
            };
            *stay > allowed_s(points, *level)
        })
}

/// One curve of a scenario.
struct Asked {
    /// `people` in the scenario.
    text: String,
    /// Duration, s, and level along the axis, g.
    points: Vec<(f64, f64)>,
    rule: SeveralPeaks,
}

/// The named curves, and random ones through levels between two g.
fn asked((low, high): (f64, f64), seed: u64) -> Vec<Asked> {
    let mut all: Vec<Asked> = NAMED_CURVES
        .iter()
        .map(|named| Asked {
            text: format!("curve: {}", named.name),
            points: named.points.to_vec(),
            rule: SeveralPeaks::LongestSingleStay,
        })
        .collect();
    let mut random = Random(seed);
    for number in 0..8 {
        let (mut s, mut g) = (
            0.2 + 2.0 * random.next(),
            low + (high - low) * random.next(),
        );
        let mut points = Vec::new();
        for _ in 0..2 + number {
            // To the digits that are written.
            points.push(((s * 1e3).round() / 1e3, (g * 1e3).round() / 1e3));
            s *= 1.1 + 4.0 * random.next() * random.next();
            // Gentle slopes, plateaus and cliffs.
            g = f64::max(0.4 * low, g * [0.95, 1.0, 0.6, 0.85][number % 4]);
        }
        let rule = if number < 4 {
            SeveralPeaks::LongestSingleStay
        } else {
            SeveralPeaks::TimeAddedUp
        };
        let written: Vec<String> = points
            .iter()
            .map(|(s, g)| format!("[{s} s, {g} g]"))
            .collect();
        all.push(Asked {
            text: format!(
                "points: [{}], several_peaks: {}",
                written.join(", "),
                rule.key()
            ),
            points,
            rule,
        });
    }
    all
}

/// What a comparison found.
#[derive(Default, Debug)]
struct Found {
    flights: usize,
    two_peaks: usize,
    verdicts: usize,
    broken: usize,
    ties: usize,
}

/// Peaks that stand out by a tenth.
pub(crate) fn peaks(history: &[(f64, f64)], lowest: f64) -> usize {
    let (mut count, mut high, mut low) = (0, 0.0_f64, 0.0_f64);
    let mut falling = true;
    for &(_, g) in history {
        if falling {
            low = low.min(g);
            if g > 1.1 * low.max(lowest) {
                (falling, high) = (false, g);
            }
        } else {
            high = high.max(g);
            if g < high / 1.1 {
                (falling, low) = (true, g);
                count += 1;
            }
        }
    }
    count
}

/// Every sample at every aim: the lanes' verdict on every curve is that of the search.
fn agrees(text: &str, share: f64, curves: &[Asked], (aims, samples): (&[f64], u64)) -> Found {
    let cases: Vec<Case> = curves
        .iter()
        .map(|curve| case_of(&text.replace("PEOPLE", &curve.text)))
        .collect();
    let lowest = curves.iter().filter_map(|curve| curve.points.last());
    let lowest = lowest.fold(f64::INFINITY, |low, (_, g)| low.min(*g)) * G0 / share;
    // Verdict and ratio of each curve, aim and sample in the lanes.
    let judged: Vec<Vec<(bool, f64)>> = cases
        .iter()
        .map(|case| {
            let entries = case.problem.limits().entries();
            let place = entries
                .iter()
                .position(|limit| limit.kind == LimitKind::People);
            let place = place.expect("a limit for people");
            let mut all = Vec::new();
            let progress = Progress::default();
            Fleet::new(&case.problem, &progress)
                .fly(aims, 0..samples, |flown| {
                    let ratio = flown.result.exposure.map_or(0.0, |exposure| exposure.ratio);
                    all.push((
                        flown.aim,
                        flown.sample,
                        flown.broken >> place & 1 == 1,
                        ratio,
                    ));
                })
                .expect("not stopped");
            all.sort_by_key(|&(aim, sample, ..)| (aim, sample));
            all.into_iter()
                .map(|(_, _, broken, ratio)| (broken, ratio))
                .collect()
        })
        .collect();
    let flights: Vec<(f64, u64)> = aims
        .iter()
        .flat_map(|&aim| (0..samples).map(move |sample| (aim, sample)))
        .collect();
    let found: Vec<Found> = flights
        .par_iter()
        .enumerate()
        .map(|(at, &(aim, sample))| {
            let fine = history(&cases[0], aim, SampleNumber::Of(sample), lowest);
            let fine: Vec<(f64, f64)> = fine.iter().map(|&(t, a)| (t, a * share / G0)).collect();
            let mut found = Found {
                flights: 1,
                two_peaks: usize::from(peaks(&fine, 0.5) > 1),
                ..Found::default()
            };
            for (curve, judged) in curves.iter().zip(&judged) {
                let (lanes, ratio) = judged[at];
                let searched = broken(&fine, &curve.points, curve.rule);
                assert_eq!(lanes, ratio > 1.0);
                found.verdicts += 1;
                found.broken += usize::from(searched);
                if (ratio - 1.0).abs() < TIE {
                    found.ties += 1;
                } else {
                    assert_eq!(
                        lanes, searched,
                        "aim {aim}, sample {sample}, {}: {ratio}",
                        curve.text
                    );
                }
            }
            found
        })
        .collect();
    found.into_iter().fold(Found::default(), |sum, one| Found {
        flights: sum.flights + one.flights,
        two_peaks: sum.two_peaks + one.two_peaks,
        verdicts: sum.verdicts + one.verdicts,
        broken: sum.broken + one.broken,
        ties: sum.ties + one.ties,
    })
}

const STEEP: &str = "title: Steep ballistic return\nworld: earth\n\
    ship: {name: P, mass: 3 t, reference_area: 5 m2, drag_coefficient: 1.3, nose_radius: 2.3 m}\n\
    arrival: {entry: {speed: 11 km/s, inclination: 41 deg, aim_periapsis: {from: -60 km, to: 60 km, step: 5 km}}}\n\
    uncertainty:\n  delivery: {flight_path_angle: {normal: {std_dev: 0.1 deg}}}\n  ship.drag_coefficient: {normal: {std_dev: 5 %}}\n\
    limits: {people: {PEOPLE, seat: back_to_stream}, comes_down: yes}\n\
    ask: {probability: 0.99, samples: 500, seed: 3}\n";

/// 500 ballistic entries with one peak between 6 and 45 g.
#[test]
fn verdicts_on_steep_entries_are_those_of_a_search_through_all_levels() {
    let aims: Vec<f64> = (0..25).map(|i| -60e3 + 5e3 * f64::from(i)).collect();
    let found = agrees(STEEP, 1.0, &asked((12.0, 40.0), 11), (&aims, 20));
    assert_eq!(found.flights, 500);
    let share = found.broken * 100 / found.verdicts;
    assert!(
        (20..80).contains(&share) && found.ties * 100 < found.verdicts,
        "{found:?}"
    );
}

/// 500 lifting entries that skip inside the air, most with two peaks and more.
#[test]
fn verdicts_on_skipping_entries_are_those_of_a_search_through_all_levels() {
    let text = STEEP
        .replace(
            "drag_coefficient: 1.3,",
            "drag_coefficient: 1.3, lift_to_drag: 0.4, bank: 20 deg,",
        )
        .replace("speed: 11 km/s", "speed: 8.4 km/s");
    let aims: Vec<f64> = (0..25).map(|i| -50e3 + 5e3 * f64::from(i)).collect();
    let share = 1.0 / 1.16_f64.sqrt();
    let found = agrees(&text, share, &asked((2.0, 9.0), 5), (&aims, 20));
    assert_eq!(found.flights, 500);
    assert!(found.two_peaks > 250, "{found:?}");
    let share = found.broken * 100 / found.verdicts;
    assert!(
        (20..80).contains(&share) && found.ties * 100 < found.verdicts,
        "{found:?}"
    );
}

/// A ship that drops its skirt: what is sensed jumps, and the stay ends there. Lanes and the reference integrator find
/// the same, whether it notes every second or fifty times as often; a jump drawn out over a second would make 1 %.
#[test]
fn a_dropped_skirt_ends_a_stay_at_once() {
    let people = "{points: [[5 s, 3 g], [60 s, 0.5 g], [300 s, 0.1 g]]}";
    let case = changed_example("mars-skirt.yaml", &[("limits.people", people)]);
    let problem = &case.problem;
    let guide = problem.guide().expect("steers");
    let mut dropped = 0;
    for (aim_m, sample) in [(58e3, 0), (59e3, 1), (60e3, 2), (60e3, 3), (61e3, 4)] {
        let number = SampleNumber::Of(sample);
        let numbers = problem.numbers_of(number);
        let (start, ready) = problem
            .launch(aim_m, &numbers, number)
            .expect("an approach");
        let crew = problem.crew(&numbers, &ready);
        for longest_step_s in [1.0, 0.02] {
            let options = FlyOptions {
                longest_step_s,
                ..FlyOptions::default()
            };
            let how = (problem.models(), problem.settings());
            let flown = fly_steered(how, guide, (&start, &ready, &crew), options).expect("flies");
            let ratio = |pass: &PassResult| pass.exposure.expect("felt").ratio;
            let off = ratio(&flown.in_lanes) / ratio(&flown.flown.result) - 1.0;
            assert!(off.abs() < 2e-4, "{aim_m} {longest_step_s}: {off:.1e}");
            dropped += usize::from(flown.log.dropped_s().is_some());
        }
    }
    assert!(dropped >= 6, "{dropped}");
}

const FOUND: &str = "title: Steep ballistic return\nworld: earth\n\
    ship: {name: P, mass: 3 t, reference_area: 5 m2, drag_coefficient: 1.3, nose_radius: 2.3 m}\n\
    arrival:\n  entry: {speed: 11 km/s, inclination: 41 deg, aim_periapsis: {from: -60 km, to: 60 km, step: 5 km}}\n\
    uncertainty: {air: exact}\n\
    limits:\n  people: {curve: nasa-std-3001-emergency, seat: back_to_stream}\n  comes_down: yes\n\
    ask: {probability: 0.99, samples: 500, seed: 1}\n";

/// A steep return within its curve's corners: between them it stays above 30 g for 12 s where 1.2 s are allowed. The
/// low edge of its band is where the search through all levels puts it, to 10 m.
#[test]
fn people_yaml_breaks_its_curve() {
    let case = case_of(FOUND);
    let curve = &NAMED_CURVES
        .iter()
        .find(|named| named.name == "nasa-std-3001-emergency")
        .expect("a named curve")
        .points;
    let holds = |aim_m: f64| {
        let fine = history(&case, aim_m, SampleNumber::Nominal, 5.0 * G0);
        let fine: Vec<(f64, f64)> = fine.iter().map(|&(t, a)| (t, a / G0)).collect();
        !broken(&fine, curve, SeveralPeaks::LongestSingleStay)
    };
    assert!(!holds(-45.649e3));
    let single = fly_single(
        &case.problem,
        &case.scenario.ship,
        (-45.649e3, SampleNumber::Nominal),
        None,
    )
    .expect("flies");
    let words = pass_text::broken(&case, &single);
    assert!(
        words.contains("beyond the curve: stays above ")
            && words.contains(" s where the curve allows "),
        "{words}"
    );
    assert!(
        pass_text::answer(&case, &single)
            .contains("the longest single stay above each level counts")
    );
    let result = find_band(&case.scenario, &case.problem, &Progress::default());
    let band = result.expect("flies").band.expect("a band");
    let edge_m = band.low.aim_m;
    assert_eq!(band.low.limit, Some(LimitKind::People));
    assert!(!holds(edge_m - 10.0) && holds(edge_m + 10.0), "{edge_m}");
}

/// A curve at a share of its levels is broken where a flight is above that share of it, and the same flight is never
/// easier with all its time added up.
#[test]
fn a_share_of_the_levels_and_the_rule_for_peaks_move_the_verdict() {
    let case = |more: &str| case_of(&FOUND.replace("seat: back_to_stream", more));
    let plain = case("seat: back_to_stream");
    let flown = |case: &Case, aim_m: f64| {
        let single = fly_single(
            &case.problem,
            &case.scenario.ship,
            (aim_m, SampleNumber::Nominal),
            None,
        );
        let single = single.expect("flies");
        let ratio = single.flown.result.exposure.expect("felt").ratio;
        (ratio, pass_text::broken(case, &single))
    };
    for aim_m in [-30e3, 20e3, 50e3] {
        let (ratio, words) = flown(&plain, aim_m);
        assert_eq!(words.contains("beyond the curve"), ratio > 1.0, "{words}");
        for (factor, broken) in [(0.99 * ratio, true), (1.01 * ratio, false)] {
            let (again, words) = flown(&case(&format!("level_factor: {factor}")), aim_m);
            assert!((again / ratio - 1.0).abs() < 1e-12);
            assert_eq!(
                words.contains("% of the curve"),
                broken,
                "{factor}: {words}"
            );
        }
        let (added, _) = flown(&case("several_peaks: time_added_up"), aim_m);
        assert!(added >= ratio * (1.0 - 1e-6), "{added} {ratio}");
    }
}
