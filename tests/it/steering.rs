//! Steered passes: honest about what they know, within what they can do, and worth their while.

use crate::{case_of, changed_example, example};
use periband::craft::Vehicle;
use periband::ensemble::engine::FlownSample;
use periband::ensemble::problem::{Numbers, SampleNumber};
use periband::ensemble::quantile::Sorted;
use periband::ensemble::{Fleet, LimitKind, Problem, Progress};
use periband::numeric::angle::wrapped;
use periband::pass::batch::Instructions;
use periband::pass::reference::FlyOptions;
use periband::pass::{Ending, PassResult};
use periband::scenario::Scenario;
use periband::scenario::uncertainty::Number;
use periband::steering::flight::{SteeredPass, fly_logged, fly_steered};
use periband::steering::seat::Seat;
use periband::steering::{Crew, Log};
use periband::study::Case;
use periband::study::single::fly_single;
use std::fmt::Write as _;

const AIM_M: f64 = 49.5e3;
const TARGET_M: f64 = 34e6;

/// The Mars example with lines set over it.
fn mars(sets: &[(&str, &str)]) -> Case {
    changed_example("mars-steered.yaml", sets)
}

fn fly(problem: &Problem, aims: &[f64], count: u64) -> Vec<FlownSample> {
    let progress = Progress::default();
    let mut out = Vec::new();
    Fleet::new(problem, &progress)
        .fly(aims, 0..count, |flown| out.push(*flown))
        .expect("not cancelled");
    out
}

/// One flight of these numbers.
fn flight(case: &Case, aim_m: f64, numbers: &Numbers) -> (PassResult, Log) {
    let problem = &case.problem;
    let (start, sample) = problem
        .launch(aim_m, numbers, SampleNumber::Nominal)
        .expect("an approach");
    let crew = problem.crew(numbers, &sample);
    let guide = problem.guide().expect("steered");
    fly_logged(
        (problem.models(), problem.settings()),
        guide,
        &[(start, sample)],
        &[crew],
    )
    .pop()
    .expect("one flight")
}

fn nominal_with(case: &Case, changes: &[(Number, f64)]) -> Numbers {
    let mut numbers = *case.problem.nominal();
    for (number, value) in changes {
        numbers[*number as usize] = *value;
    }
    numbers
}

fn apoapsis(result: &PassResult) -> f64 {
    assert_eq!(result.ending, Ending::Captured);
    result.apoapsis_altitude_m.expect("a closed orbit")
}

fn apoapses(samples: &[FlownSample]) -> Vec<f64> {
    samples
        .iter()
        .filter(|s| s.result.ending == Ending::Captured)
        .filter_map(|s| s.result.apoapsis_altitude_m)
        .collect()
}

/// Three sigma by the quantiles at 0.5 and 99.5 %, which 400 samples can tell: 2.576 sigma of a normal
/// distribution (standard table) are taken up to 3.
fn three_sigma(values: &[f64]) -> f64 {
    let sorted = Sorted::new(values.to_vec()).expect("finite values");
    0.5 * (sorted.quantile(0.995) - sorted.quantile(0.005)) * 3.0 / 2.576
}

fn full(case: &Case, aim_m: f64, sample: SampleNumber) -> SteeredPass {
    let problem = &case.problem;
    let numbers = problem.numbers_of(sample);
    let (start, ready) = problem.launch(aim_m, &numbers, sample).expect("approach");
    let crew = problem.crew(&numbers, &ready);
    let how = (problem.models(), problem.settings());
    let guide = problem.guide().expect("steered");
    fly_steered(how, guide, (&start, &ready, &crew), FlyOptions::default()).expect("integrates")
}

/// The reference integrator, flown along the banks of the lanes, leaves the air within 5 mm/s of them and meets the
/// same peak within 0.1 %.
#[test]
fn the_lanes_and_the_reference_fly_the_same_steered_pass() {
    let case = mars(&[]);
    let samples = [
        SampleNumber::Nominal,
        SampleNumber::Of(3),
        SampleNumber::Of(17),
    ];
    for sample in samples {
        let pass = full(&case, AIM_M, sample);
        let (lanes, reference) = (pass.in_lanes, pass.flown.result);
        assert_eq!(lanes.ending, reference.ending);
        let speed = lanes.end_inertial_speed_m_s - reference.end_inertial_speed_m_s;
        assert!(speed.abs() < 5e-3, "{sample:?}: {speed} m/s");
        let peak = lanes.peak_deceleration_m_s2 / reference.peak_deceleration_m_s2 - 1.0;
        assert!(peak.abs() < 1e-3, "{sample:?}: {peak}");
        assert!((lanes.heat_load_j_m2 / reference.heat_load_j_m2 - 1.0).abs() < 1e-4);
    }
}

#[test]
fn threads_neighbours_and_instructions_do_not_move_a_bit() {
    let mut case = mars(&[]);
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.expect("threads")
            .install(|| fly(&case.problem, &[AIM_M], 90))
    };
    let (one, two) = (on(1), on(2));
    assert_eq!(format!("{one:?}"), format!("{two:?}"));
    // Alone in its lanes a sample is the same as among 63 others.
    let progress = Progress::default();
    for sample in [0, 41, 63] {
        let mut alone = Vec::new();
        Fleet::new(&case.problem, &progress)
            .fly(&[AIM_M], sample..sample + 1, |flown| alone.push(*flown))
            .expect("not cancelled");
        let among = &one[usize::try_from(sample).expect("small")].result;
        assert_eq!(format!("{:?}", alone[0].result), format!("{among:?}"));
    }
    case.problem.settings_mut().instructions = Instructions::Plainest;
    let plain = fly(&case.problem, &[AIM_M], 16);
    assert_eq!(format!("{plain:?}"), format!("{:?}", &one[..16]));
}

#[test]
fn an_undisturbed_ship_meets_its_target() {
    let case = mars(&[]);
    for aim in [48e3, 49.5e3, 51e3] {
        let (result, log) = flight(&case, aim, case.problem.nominal());
        let miss = apoapsis(&result) - TARGET_M;
        // The corrector stops at a thousandth of the inverse apoapsis radius.
        let close = 1e-3 * (TARGET_M + case.problem.planet().equatorial_radius_m);
        assert!(miss.abs() < close, "aim {aim}: {miss} m");
        assert!(log.knots.len() > 50);
    }
    let speed = "{exit_speed_loss: 1 km/s}";
    let case = mars(&[("steering.target", speed)]);
    let (result, _) = flight(&case, AIM_M, case.problem.nominal());
    assert!(
        (result.speed_lost_m_s - 1000.0).abs() < 0.5,
        "{}",
        result.speed_lost_m_s
    );
}

/// With the stated errors the spread of the exit apoapsis is at most a quarter of that of the ship that holds its
/// bank where its own median is right, on Mars and on a giant; so is that of the ship that drops its skirt.
#[test]
fn steering_quarters_the_spread_of_the_apoapsis() {
    for (name, aim, held_aim) in [
        ("mars-steered.yaml", AIM_M, 50e3),
        ("giant-steered.yaml", 326e3, 332e3),
        ("mars-skirt.yaml", 59e3, 64e3),
    ] {
        let case = example(name);
        let steered = apoapses(&fly(&case.problem, &[aim], 400));
        let held = apoapses(&fly(&case.problem.unsteered(), &[held_aim], 400));
        assert_eq!(steered.len(), 400, "{name}: all captured");
        let (with, without) = (three_sigma(&steered), three_sigma(&held));
        assert!(with <= 0.25 * without, "{name}: {with} against {without}");
    }
}

/// More aims hold all limits in nine of ten arrivals.
#[test]
fn steering_widens_the_safe_band() {
    for (name, first, step) in [
        ("mars-steered.yaml", 44e3, 0.5e3),
        ("giant-steered.yaml", 300e3, 3e3),
    ] {
        let case = example(name);
        let aims: Vec<f64> = (0..20).map(|i| f64::from(i).mul_add(step, first)).collect();
        let safe = |problem: &Problem| {
            let progress = Progress::default();
            let tallies = Fleet::new(problem, &progress)
                .tally(&aims, 0..60)
                .expect("flown");
            tallies.iter().filter(|tally| tally.broken_any <= 6).count()
        };
        let (steered, held) = (safe(&case.problem), safe(&case.problem.unsteered()));
        assert!(
            steered >= 2 * held + 3,
            "{name}: {steered} aims against {held}"
        );
    }
}

/// What the ship decides follows from what it sees: two ships that see the same ask the same, whatever they are.
#[test]
fn decisions_follow_from_what_is_seen() {
    let case = mars(&[]);
    let problem = &case.problem;
    let guide = problem.guide().expect("steered");
    let (_, log) = flight(&case, AIM_M, problem.nominal());
    let middle = log.knots.len() / 2;
    let moments = [log.knots[middle].moment, log.knots[middle + 1].moment];
    let (_, sample) = problem
        .launch(AIM_M, problem.nominal(), SampleNumber::Nominal)
        .expect("approach");
    let mut crew = problem.crew(problem.nominal(), &sample);
    let asked = |crew: Crew| {
        let mut seat = Seat::new(guide, crew);
        for moment in &moments {
            seat.look(guide, moment);
        }
        let question = seat.question(guide).expect("asks");
        let flight = format!("{:?} {:?}", question.vehicle, question.flight);
        (flight, question.ln_ratio)
    };
    let first = asked(crew);
    crew.vehicle = Vehicle {
        drag_area_per_mass: 3.0 * crew.vehicle.drag_area_per_mass,
        ..crew.vehicle
    };
    assert_eq!(asked(crew), first);
    crew.truth.accelerometer = 0.1;
    assert_ne!(asked(crew).1, first.1);
}

/// Within the stated errors (three sigma) results move smoothly with each error: no step between neighbours is more
/// than a third of the whole allowance, and every flight is captured near its target.
#[test]
fn errors_within_those_stated_change_results_smoothly() {
    let case = mars(&[]);
    let near = 4e6;
    for (number, most, relative) in [
        (Number::AirDensity, 3.0, false),
        (Number::DragCoefficient, 0.09, true),
        (Number::LiftToDrag, 0.12, true),
        (Number::ShipMass, 0.009, true),
        (Number::NavigationAltitude, 450.0, false),
        (Number::NavigationSpeed, 3.0, false),
        (Number::NavigationAngle, 0.03_f64.to_radians(), false),
        (Number::NavigationAccelerometer, 0.006, false),
        (Number::BankAngle, 3.0_f64.to_radians(), false),
    ] {
        let nominal = case.problem.nominal()[number as usize];
        let mut before: Option<f64> = None;
        for step in -8..=8 {
            let error = most * f64::from(step) / 8.0;
            let value = if relative {
                nominal * (1.0 + error)
            } else {
                nominal + error
            };
            let (result, _) = flight(&case, AIM_M, &nominal_with(&case, &[(number, value)]));
            let miss = apoapsis(&result) - TARGET_M;
            assert!(miss.abs() < near, "{number:?} {error}: {miss}");
            if let Some(before) = before {
                assert!(
                    (miss - before).abs() < near / 3.0,
                    "{number:?} {error}: {before} to {miss}"
                );
            }
            before = Some(miss);
        }
    }
}

/// Errors that it cannot handle end as broken limits, never as a failure. (An altitude believed 25 km wrong is
/// handled: the measured drag makes up for it.)
#[test]
fn errors_beyond_its_means_show_as_broken_limits() {
    let case = mars(&[]);
    let degrees = f64::to_radians;
    let mut held = Vec::new();
    for changes in [
        vec![(Number::AirDensity, 12.0)],
        vec![(Number::AirDensity, -14.0)],
        vec![(Number::NavigationAltitude, 60e3)],
        vec![(Number::NavigationAltitude, -60e3)],
        vec![(Number::NavigationAngle, degrees(2.0))],
        vec![(Number::NavigationAngle, degrees(-2.0))],
        vec![(Number::NavigationSpeed, 600.0)],
        vec![(Number::DragCoefficient, 6.0)],
        vec![(Number::LiftToDrag, 0.0)],
        vec![(Number::DeliveryPeriapsis, 12e3)],
        vec![(Number::DeliveryPeriapsis, -12e3)],
        vec![(Number::BankAngle, degrees(170.0))],
    ] {
        let numbers = nominal_with(&case, &changes);
        let (result, _) = flight(&case, AIM_M, &numbers);
        assert_ne!(result.ending, Ending::Failed, "{changes:?}");
        if case.problem.limits().broken(&result, &numbers) == 0 {
            held.push(format!(
                "{changes:?}: {:?} km",
                result.apoapsis_altitude_m.map(|a| a / 1e3)
            ));
        }
    }
    assert!(held.is_empty(), "handled after all: {held:#?}");
}

/// Aimed too low with a strict limit on deceleration, the ship gives up its target to hold the limit.
#[test]
fn lift_is_turned_up_to_hold_a_limit() {
    let limit = "limits.peak_deceleration";
    let free = mars(&[(limit, "9 g")]);
    let held = mars(&[(limit, "1.1 g")]);
    let aim = 48.8e3;
    let worst = |case: &Case| {
        let flown = fly(&case.problem, &[aim], 64);
        let peaks = flown
            .iter()
            .map(|s| s.result.peak_deceleration_m_s2 / 9.806_65);
        peaks.fold(0.0, f64::max)
    };
    let (before, after) = (worst(&free), worst(&held));
    assert!(before > 1.1, "{before} g without relief");
    assert!(after < before - 0.02, "{after} g against {before} g");
    let entries = held.problem.limits().entries();
    assert_eq!(entries[0].kind, LimitKind::PeakDeceleration);
}

#[test]
fn the_bank_moves_no_faster_than_it_can() {
    let case = mars(&[]);
    let (_, log) = flight(&case, AIM_M, case.problem.nominal());
    let (rate, most) = (15.0_f64.to_radians(), 5.0_f64.to_radians());
    let turned = |from: f64, to: f64| wrapped(to - from);
    let (start, end) = (
        |i: usize| log.knots[i].moment.time_s,
        |i: usize| log.knots[i].until_s,
    );
    let mut before: Option<f64> = None;
    for i in 1..log.knots.len() {
        // The means over two neighbouring stretches differ by the rate weighed with a triangle over both, whose
        // centre lies a third of the way from the sum of its corners.
        let span = 0.5 * (end(i) - start(i - 1));
        let speed = turned(log.knots[i - 1].bank_rad, log.knots[i].bank_rad) / span;
        assert!(speed.abs() <= 1.001 * rate, "{speed} rad/s at {}", start(i));
        if let Some(earlier) = before {
            let apart = (end(i) - start(i - 2)) / 3.0;
            let change = (speed - earlier).abs() / apart;
            // The law moves in fortieths of a cycle and comes to rest from one move of acceleration.
            assert!(change <= 1.1 * most, "{change} rad/s2 at {}", start(i));
        }
        before = Some(speed);
    }
    assert!(log.reversals() >= 1, "it changes sides");
}

/// Reversals hold the inclination; without them the plane turns by degrees.
#[test]
fn changes_of_side_hold_the_inclination() {
    let key = "steering.bank.inclination_within";
    let drift = |within: &str| {
        let case = mars(&[(key, within)]);
        let (result, log) = flight(&case, AIM_M, case.problem.nominal());
        let off = result.orbit.inclination_rad - 32.0_f64.to_radians();
        (off.to_degrees().abs(), log.reversals())
    };
    let (tight, many) = drift("0.3 deg");
    let (loose, none) = drift("90 deg");
    assert!(
        tight < 0.6 && many >= 2,
        "{tight} deg after {many} reversals"
    );
    assert!(
        loose > 1.5 && none == 0,
        "{loose} deg after {none} reversals"
    );
}

#[test]
fn the_skirt_is_dropped_once_at_the_time_that_the_target_needs() {
    let case = example("mars-skirt.yaml");
    let (result, log) = flight(&case, 59e3, case.problem.nominal());
    let miss = apoapsis(&result) - 20e6;
    assert!(miss.abs() < 100e3, "{miss} m");
    let dropped = log.dropped_s().expect("dropped");
    let ons = log.knots.iter().filter(|knot| knot.skirt_on);
    let offs = log.knots.iter().filter(|knot| !knot.skirt_on);
    assert!(ons.clone().all(|knot| knot.moment.time_s < dropped));
    let drag = |knot: &periband::steering::Knot| knot.vehicle.drag_area_per_mass;
    let (before, after) = (
        ons.map(drag).fold(0.0, f64::max),
        offs.map(drag).fold(0.0, f64::max),
    );
    // 1.5 · 640 m² / 24 t and 1.45 · 110 m² / 23 t, by hand.
    assert!((before / 0.04 - 1.0).abs() < 1e-9 && (after / 6.934_782_6e-3 - 1.0).abs() < 1e-6);
    // Where the skirt alone is too little, it stays on and nothing fails.
    let (high, log) = flight(&case, 69e3, case.problem.nominal());
    assert_eq!((high.ending, log.dropped_s()), (Ending::Escaped, None));
}

/// A steered scenario with these lines of `steering`.
fn tiny(steering: &str) -> Case {
    let mut text = String::new();
    let _ = write!(
        text,
        "title: t\nworld: mars\n\
         ship: {{mass: 20 t, reference_area: 100 m2, drag_coefficient: 1.4, lift_to_drag: 0.3, nose_radius: 2 m}}\n\
         arrival: {{hyperbola: {{excess_speed: 3 km/s, inclination: 0 deg, aim_periapsis: 52 km}}}}\n\
         steering: {steering}\n"
    );
    case_of(&text)
}

/// An equatorial approach (where no push changes the inclination by its sign), an aim above the air, and a cycle
/// longer than the pass: nothing fails.
#[test]
fn odd_flights_are_flown_without_failing() {
    let bank = "bank: {rate: 15 deg/s, acceleration: 5 deg/s2}";
    for steering in [
        format!("{{target: {{exit_apoapsis: 30000 km}}, {bank}}}"),
        format!("{{target: {{exit_apoapsis: 30000 km}}, cycle: 60 s, {bank}}}"),
        format!("{{target: {{exit_speed_loss: 4 km/s}}, {bank}}}"),
    ] {
        let case = tiny(&steering);
        for aim in [-200e3, 20e3, 52e3, 90e3, 124e3, 200e3] {
            for flown in fly(&case.problem, &[aim], 3) {
                assert_ne!(flown.result.ending, Ending::Failed, "{steering} at {aim}");
            }
        }
    }
}

/// A ship whose lift comes from a shape at an angle of attack is steered as well.
#[test]
fn coefficients_from_a_shape_are_steered_with() {
    let text = "title: t\nworld: mars\n\
         ship:\n  mass: 20 t\n  nose_radius: 3 m\n  trim_angle: -18 deg\n  aerodynamics:\n    shape: {sphere_cone: \
         {nose_radius: 2 m, base_radius: 4.5 m, half_angle: 65 deg}}\n\
         arrival: {hyperbola: {excess_speed: 2.8 km/s, inclination: 40 deg, aim_periapsis: 45 km}}\n\
         steering: {target: {exit_apoapsis: 30000 km}, bank: {rate: 15 deg/s, acceleration: 5 deg/s2}}\n";
    let case = case_of(text);
    let (result, _) = flight(&case, 45e3, case.problem.nominal());
    let miss = apoapsis(&result) - 30e6;
    assert!(miss.abs() < 100e3, "{miss} m");
}

#[test]
fn a_ship_without_lift_is_told_that_its_bank_steers_nothing() {
    let text = "title: t\nworld: mars\n\
         ship: {mass: 20 t, reference_area: 100 m2, drag_coefficient: 1.4, nose_radius: 2 m}\n\
         arrival: {hyperbola: {excess_speed: 3 km/s, inclination: 0 deg, aim_periapsis: 52 km}}\n\
         steering:\n  target: {exit_apoapsis: 30000 km}\n  bank: {rate: 15 deg/s, acceleration: 5 deg/s2}\n";
    let scenario = Scenario::from_text("t.yaml", text).expect("well formed");
    let error = Case::from_scenario(scenario)
        .expect_err("refused")
        .to_string();
    assert!(
        error.starts_with("a bank angle steers nothing without lift"),
        "{error}"
    );
    assert!(
        error.contains("t.yaml:7") && error.contains("lift_to_drag: 0.25"),
        "{error}"
    );
}

/// What a skirt dropped in the middle of a pass does to the heat: a spot with a radius of its own has the flux of that
/// radius, whichever nose flies, and radiation goes by the nose that flies.
#[test]
fn after_the_drop_of_a_skirt_heat_goes_by_the_nose_that_is_left() {
    let spot = "[{name: rim, radius: 0.5 m, highest_flux: 200 W/cm2}]";
    let case = changed_example("mars-skirt.yaml", &[("ship.spots", spot)]);
    let (problem, aim_m) = (&case.problem, 60e3);
    let single = fly_single(
        problem,
        &case.scenario.ship,
        (aim_m, SampleNumber::Of(3)),
        None,
    );
    let single = single.expect("flown");
    let log = single.steered.as_ref().expect("a log");
    let dropped_s = log.dropped_s().expect("a drop");
    let own = |time_s: f64| {
        if time_s > dropped_s + 1e-6 {
            4.0
        } else {
            6.0_f64
        }
    };
    let history = single.flown.history.iter();
    let fluxes = history.map(|m| m.felt.heat_flux * (own(m.time_s) / 0.5).sqrt());
    let peak = fluxes.fold(0.0, f64::max);
    let found = single.spots[0].peak_flux_w_m2;
    assert!((found / peak - 1.0).abs() < 2e-3, "{found} {peak}");
    // In lanes the same, and less than the highest flux with the larger nose.
    let flown = fly(problem, &[aim_m], 4).pop().expect("four samples");
    let [before, after] = flown.result.peak_heat_flux_by_nose_w_m2.expect("a drop");
    let stagnation = flown.result.peak_heat_flux_w_m2;
    assert_eq!(stagnation, before.max(after));
    let in_lanes = problem.limits().spot_flux_w_m2(0, &flown.result, 6.0);
    let in_lanes = in_lanes.expect("a spot");
    assert!((in_lanes / found - 1.0).abs() < 2e-3, "{in_lanes} {found}");
    assert!(in_lanes <= stagnation * 12.0_f64.sqrt());

    let fast = changed_example(
        "mars-skirt.yaml",
        &[("arrival.hyperbola.excess_speed", "6 km/s")],
    );
    let ship = fast.problem.vehicle(fast.problem.nominal());
    let guide = fast.problem.guide().expect("steered");
    let left = guide.dropped(&ship).expect("a skirt");
    assert!((ship.radiative_nose.ln_radius - 6.0_f64.ln()).abs() < 1e-12);
    assert!((left.radiative_nose.ln_radius - 4.0_f64.ln()).abs() < 1e-12);
    assert!((left.heating_factor / ship.heating_factor - 1.5_f64.sqrt()).abs() < 1e-12);
}
