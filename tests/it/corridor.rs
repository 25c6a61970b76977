//! Without any uncertainty the safe band is the entry corridor of the classical theory.

use crate::{case_of, case_of_file};
use periband::ensemble::problem::SampleNumber;
use periband::ensemble::sorties::{Sortie, fly_sorties};
use periband::ensemble::{Fleet, LimitKind, Progress};
use periband::pass::reference::{FlyOptions, fly};
use periband::report::corridor_edges::{Measure, against_speed};
use periband::report::corridor_summary::summary;
use periband::report::corridor_text::answer;
use periband::study::corridor::demand::{Bank, Demand, broken};
use periband::study::corridor::stretch::widest;
use periband::study::corridor::{CorridorResult, angle_at, find_corridor};
use periband::study::{Band, Case, find_band};
use std::fmt::Write as _;

/// A parabolic arrival at a sphere with an exponential atmosphere, √(βr) = 30, 10 g allowed,
/// to come down in one pass. Air and ship as in the independent computation: scale height 7086.8 m,
/// interface 121.92 km, `m/(C_D A)` 300 kg/m².
fn band(lift: f64, bank: f64, limits: &str) -> Band {
    let mut text = String::new();
    let _ = write!(
        text,
        "title: corridor\nworld: ./chapman.yaml\n\
         ship: {{mass: 300 kg, reference_area: 1 m2, drag_coefficient: 1, lift_to_drag: {lift}, bank: {bank} deg, \
         nose_radius: 1 m}}\n\
         arrival: {{hyperbola: {{excess_speed: 0 km/s, inclination: 0 deg, \
         aim_periapsis: {{from: -80 km, to: 110 km, step: 2 km}}}}}}\n\
         uncertainty: {{air: {{density: exact}}}}\n\
         limits: {{{limits}}}\n"
    );
    let case = case_of_file("chapman", &text);
    let result = find_band(&case.scenario, &case.problem, &Progress::default());
    result
        .expect("a band is looked for")
        .band
        .expect("a corridor")
}

/// Chapman, NASA TR R-55 (1960), as tabulated in Spacecraft Systems Engineering, Table 5.9 (published,
/// and reproduced by an independent computation: 11.10 and 82.53 km): the corridor at parabolic speed
/// between the overshoot boundary and a 10 g undershoot is 11 km wide without lift and 82 km at L/D 1.
/// Tolerance 3 % of the published width.
#[test]
fn the_corridor_has_the_published_width() {
    let ballistic = band(0.0, 0.0, "peak_deceleration: 10 g, comes_down: yes");
    let width = (ballistic.high.aim_m - ballistic.low.aim_m) / 1e3;
    assert!((width / 11.0 - 1.0).abs() < 0.03, "ballistic {width} km");
    assert!(
        (width / 11.10 - 1.0).abs() < 0.002,
        "ballistic {width} km against the independent computation"
    );
    assert_eq!(ballistic.low.limit, Some(LimitKind::PeakDeceleration));
    assert_eq!(ballistic.high.limit, Some(LimitKind::ComesDown));

    // Undershoot flown lift up, overshoot flown lift down.
    let undershoot = band(1.0, 0.0, "peak_deceleration: 10 g");
    let overshoot = band(1.0, 180.0, "comes_down: yes");
    assert_eq!(undershoot.low.limit, Some(LimitKind::PeakDeceleration));
    assert_eq!(overshoot.high.limit, Some(LimitKind::ComesDown));
    let width = (overshoot.high.aim_m - undershoot.low.aim_m) / 1e3;
    assert!((width / 82.0 - 1.0).abs() < 0.03, "lifting {width} km");
    assert!(
        (width / 82.53 - 1.0).abs() < 0.002,
        "lifting {width} km against the independent computation"
    );
}

/// A parabolic arrival at the same sphere with a lifting ship.
fn chapman_case(lift: f64) -> Case {
    case_of_file(
        "chapman",
        &format!(
            "title: corridor\nworld: ./chapman.yaml\n\
             ship: {{mass: 300 kg, reference_area: 1 m2, drag_coefficient: 1, lift_to_drag: {lift}, nose_radius: 1 m}}\n\
             arrival: {{hyperbola: {{excess_speed: 0 km/s, inclination: 0 deg, aim_periapsis: 60 km}}}}\n\
             uncertainty: {{air: exact}}\n\
             limits: {{peak_deceleration: 10 g, comes_down: yes}}\n\
             corridor: {{excess_speed: {{from: 0 km/s, to: 2 km/s, step: 1 km/s}}, \
             lift_to_drag: {{from: 0, to: 1, step: 0.5}}}}\n"
        ),
    )
}

fn corridor_of(case: &Case) -> CorridorResult {
    find_corridor(case, &Progress::default()).expect("a corridor is looked for")
}

/// The same published widths by the corridor study, with full lift and without, and the boundary angles that the
/// independent computation gives beside them (computed from the equations): within 0.02 deg.
#[test]
fn the_corridor_study_gives_the_published_widths_and_angles() {
    let case = chapman_case(1.0);
    let result = corridor_of(&case);
    let own = result.own().expect("the scenario's own arrival");
    for (corridor, published, other, angles) in [
        (&own.without_lift, 11.0, 11.10, [-5.97947, -5.48732]),
        (&own.corridor, 82.0, 82.53, [-7.96588, -4.62737]),
    ] {
        let open = corridor.open().expect("open");
        let width = open.width_m() / 1e3;
        assert!(
            (width / published - 1.0).abs() < 0.03,
            "{width} {published}"
        );
        assert!((width / other - 1.0).abs() < 0.002, "{width} {other}");
        for (edge, angle) in [open.low, open.high].into_iter().zip(angles) {
            let found = angle_at(&case.problem, edge.aim_m, &own.numbers).expect("an approach");
            assert!((found.to_degrees() - angle).abs() < 0.02, "{found} {angle}");
        }
    }
    let (low, high) = own.corridor.edges().expect("edges");
    assert_eq!(low.owner.map(|owner| owner.1), Some(Bank::Up));
    assert_eq!(high.owner.map(|owner| owner.1), Some(Bank::Down));
    // The map has the same corridor where it has the same ship and arrival.
    let cell = result.map.last().expect("a map");
    assert_eq!(cell.lift_to_drag, 1.0);
    let first = result.map.iter().find(|cell| cell.lift_to_drag == 1.0);
    let first = first.and_then(|cell| cell.corridor.open()).expect("open");
    assert_eq!(Some(first), own.corridor.open());
}

/// At each edge all holds that holds there, and a metre beyond the demand that owns it is broken.
#[test]
fn every_edge_is_known_to_a_metre() {
    let case = crate::example("lifting-arrival.yaml");
    let (problem, result) = (&case.problem, corridor_of(&case));
    let mut checked = 0;
    for at in &result.arrivals {
        for (bank, traced) in [(Bank::Up, &at.up), (Bank::Down, &at.down)] {
            let numbers = bank.numbers(problem, &at.numbers);
            for (demand, held) in traced.held.iter().enumerate() {
                for stretch in held {
                    for (edge, out) in [(stretch.low, -1.0), (stretch.high, 1.0)] {
                        if edge.owner.is_none() {
                            continue;
                        }
                        assert_eq!(edge.owner, Some((demand, bank)));
                        let flown = [0.0, out].map(|off| Sortie {
                            aim_m: edge.aim_m + off,
                            numbers,
                        });
                        let flown = fly_sorties(problem, &flown, &Progress::default());
                        let flown = flown.expect("not stopped");
                        let breaks = |i: usize| {
                            let pass = flown[i].expect("an approach");
                            broken(problem, &result.demands, Some(&pass)) >> demand & 1 == 1
                        };
                        assert!(!breaks(0) && breaks(1), "{edge:?}");
                        checked += 1;
                    }
                }
            }
        }
    }
    assert!(checked > 40, "{checked} edges");
}

/// Without uncertainty and without lift the corridor is the safe band.
#[test]
fn a_corridor_without_lift_is_the_band_without_uncertainty() {
    let case = chapman_case(0.0);
    let result = corridor_of(&case);
    let open = result.own().and_then(|own| own.corridor.open());
    let open = open.expect("open");
    let band = band(0.0, 0.0, "peak_deceleration: 10 g, comes_down: yes");
    assert!((open.low.aim_m - band.low.aim_m).abs() < 2.0);
    assert!((open.high.aim_m - band.high.aim_m).abs() < 2.0);
}

/// More lift reaches what less lift reaches, and the bank held throughout never reaches more than steering.
#[test]
fn lift_widens_and_one_bank_reaches_less() {
    let case = crate::example("lifting-arrival.yaml");
    let result = corridor_of(&case);
    let own = result.own().expect("own");
    let open = own.corridor.open().expect("open");
    let one = result.one_bank.expect("one bank");
    assert!(one.low.aim_m >= open.low.aim_m - 2.0 && one.high.aim_m <= open.high.aim_m + 2.0);
    assert!(open.width_m() > own.without_lift.open().map_or(0.0, |open| open.width_m()));
    for arrival in 0..result.arrivals.len() {
        let widths: Vec<f64> = result
            .map
            .iter()
            .filter(|cell| cell.arrival == arrival)
            .map(|cell| cell.corridor.width_m().expect("edges"))
            .collect();
        assert!(widths.len() > 4);
        assert!(
            widths.windows(2).all(|pair| pair[1] > pair[0] - 2.0),
            "{widths:?}"
        );
    }
}

/// The slope of the exit orbit against the aim is that between two flights of the reference integrator.
#[test]
fn the_sensitivity_of_the_exit_is_that_of_two_reference_flights() {
    let case = crate::example("lifting-arrival.yaml");
    let result = corridor_of(&case);
    let exits = result.exits.as_ref().expect("exits");
    let mut checked = 0;
    for (bank, at) in &exits.at {
        let Some(slope) = at[1].apoapsis_per_m else {
            continue;
        };
        let numbers = bank.numbers(&case.problem, case.problem.nominal());
        let apoapsis = |aim_m: f64| {
            let (start, sample) = case
                .problem
                .launch(aim_m, &numbers, SampleNumber::Nominal)
                .expect("an approach");
            let settings = (case.problem.settings(), FlyOptions::default());
            let flown = fly(case.problem.models(), &sample, &start, settings).expect("flown");
            flown.result.apoapsis_altitude_m.expect("captured")
        };
        let aim = at[1].aim_m;
        let reference = (apoapsis(aim + 20.0) - apoapsis(aim - 20.0)) / 40.0;
        assert!(
            (slope / reference - 1.0).abs() < 1e-3,
            "{slope} {reference}"
        );
        checked += 1;
    }
    assert!(checked > 0);
}

/// An entry slower than a circle is searched from 45 deg to the horizon like any other; its vacuum periapsis lies
/// far below the ground (two-body relations, common knowledge).
#[test]
fn an_entry_slower_than_a_circle_is_searched_to_the_horizon() {
    let case = case_of_file(
        "chapman",
        "title: corridor\nworld: ./chapman.yaml\n\
         ship: {mass: 300 kg, reference_area: 1 m2, drag_coefficient: 1, lift_to_drag: 0.5, nose_radius: 1 m}\n\
         arrival: {entry: {speed: 7.4 km/s, inclination: 0 deg, aim_periapsis: -1500 km}}\n\
         uncertainty: {air: exact}\n\
         limits: {peak_deceleration: 5 g}\n\
         corridor: {speed: {from: 7.4 km/s, to: 7.8 km/s, step: 0.2 km/s}}\n",
    );
    let result = corridor_of(&case);
    let own = result.own().expect("own");
    for at in &result.arrivals {
        let top = at.up.within.expect("aims").high;
        let level = angle_at(&case.problem, top.aim_m, &at.numbers).expect("an approach");
        let level = level.to_degrees();
        assert!(
            level > -0.6 && level <= 0.0,
            "{} {level}",
            at.entry_speed_m_s
        );
    }
    let within = own.up.within.expect("aims");
    let angle = |aim_m| angle_at(&case.problem, aim_m, &own.numbers).expect("an approach");
    assert!((angle(within.low.aim_m).to_degrees() + 45.0).abs() < 0.01);
    assert!(angle(within.high.aim_m).to_degrees() > -0.6);
    // r_a is the interface where the path is level: r_p = r / (2 GM / (r v²) - 1).
    let (r, gm) = (6.378_137e6 + 121_920.0, 3.986_004_418e14_f64);
    let highest = r / (2.0 * gm / (r * 7400.0 * 7400.0) - 1.0) - 6.378_137e6;
    assert!(within.high.aim_m < highest + 1.0 && within.high.aim_m > highest - 2e4);
}

/// A blunt cone that trims nose up lifts down at bank 0 (Newton's rule); lift up is still the way of flying that
/// bears the steeper aim.
#[test]
fn lift_up_is_up_for_a_shape_that_lifts_the_other_way() {
    let path = crate::examples().join("skirted-shell.yaml");
    let trimmed = [("ship.trim_angle".to_owned(), "12 deg".to_owned())];
    let case = Case::load(&path, &trimmed).expect("a scenario");
    assert!(case.problem.reference_coefficients().1 < -0.05);
    let result = corridor_of(&case);
    let own = result.own().expect("own");
    let open = own.corridor.open().expect("open");
    assert_eq!(open.low.owner.map(|owner| owner.1), Some(Bank::Up));
    assert_eq!(open.high.owner.map(|owner| owner.1), Some(Bank::Down));
    let bare = own.without_lift.open().expect("open");
    assert!(open.low.aim_m < bare.low.aim_m - 1e3 && open.high.aim_m > bare.high.aim_m + 1e3);
}

/// At Mars the gas radiates from 6 km/s on (Tauber and Sutton): an arrival that is faster than the scenario's own has
/// that heat, just as it has where it is the scenario's own.
#[test]
fn faster_arrivals_of_a_corridor_radiate_where_the_own_one_is_too_slow() {
    let case = |own: &str, radiative: &str| {
        case_of(&format!(
            "title: corridor\nworld: mars\n\
             ship: {{mass: 60 t, reference_area: 300 m2, drag_coefficient: 1.5, lift_to_drag: 0.3, nose_radius: 3 m, \
             heating: {{radiative: {radiative}}}}}\n\
             arrival: {{hyperbola: {{excess_speed: {own}, inclination: 30 deg, aim_periapsis: 50 km}}}}\n\
             uncertainty: {{air: exact}}\n\
             limits: {{heat_flux: 60 W/cm2}}\n\
             corridor: {{excess_speed: {{from: 2.4 km/s, to: 6.4 km/s, step: 4 km/s}}, \
             lift_to_drag: {{from: 0, to: 0.3, step: 0.3}}}}\n"
        ))
    };
    let (slow, fast) = (case("2.4 km/s", "yes"), case("6.4 km/s", "yes"));
    assert!(slow.problem.models().ship.radiative.is_none());
    assert!(fast.problem.models().ship.radiative.is_some());
    let found = |case: &Case| find_corridor(case, &Progress::default()).expect("a corridor");
    let (slow, fast, cold) = (found(&slow), found(&fast), found(&case("2.4 km/s", "no")));
    for (one, other) in slow.arrivals.iter().zip(&fast.arrivals) {
        assert_eq!((&one.up, &one.down), (&other.up, &other.down));
    }
    assert_eq!(slow.map, fast.map);
    let [last, without] = [&slow, &cold].map(|found| &found.arrivals[1].up.held);
    assert_ne!(last, without, "radiation counts at 6.4 km/s");
}

/// A ship that dives holds the deceleration with lift up and is captured with lift down, and never both in one flight:
/// every delivery lies in the corridor, and no bank holds one of them. The answer is led by that.
#[test]
fn fast_mars_yaml_is_led_by_the_upper_bound() {
    let case = case_of(
        "title: A fast arrival at Mars with lift\nworld: mars\n\
         ship: {name: H, mass: 310 t, passengers: 180, reference_area: 900 m2, drag_coefficient: 1.5, lift_to_drag: 0.6, \
         nose_radius: 6 m, engine: {specific_impulse: 850 s, thrust: 250 kN}}\n\
         arrival: {hyperbola: {excess_speed: 5.5 km/s, inclination: 25 deg, \
         aim_periapsis: {from: 10 km, to: 60 km, step: 2 km}}}\n\
         uncertainty: {delivery: {periapsis_altitude: {normal: {std_dev: 1 km}}, speed: {normal: {std_dev: 3 m/s}}}, \
         ship.drag_coefficient: {normal: {std_dev: 5 %}}}\n\
         steering: {target: {exit_apoapsis: 30000 km}, bank: {rate: 15 deg/s, acceleration: 5 deg/s2}}\n\
         limits: {peak_deceleration: 1.5 g, captured_below: {apoapsis_altitude: 200000 km}}\n\
         ask: {probability: 0.99, samples: 500, seed: 1}\n",
    );
    let result = corridor_of(&case);
    assert_eq!(result.failed, 0);
    assert!(!result.demands.contains(&Demand::Flown));
    let delivered = result.delivered.as_ref().expect("a spread");
    assert_eq!((delivered.samples, delivered.inside), (500, 500));
    let one = result.held_by_one.as_ref().expect("deliveries flown");
    assert_eq!((one.deliveries, one.held), (500, 0));
    let said = answer(&case, &result);
    assert!(said.starts_with("Upper bound: at "), "{said}");
    let second = said
        .split(". ")
        .find(|sentence| sentence.starts_with("Of 500 deliveries"));
    assert!(
        second.is_some_and(|words| words.contains("no bank held throughout")),
        "{said}"
    );
    assert!(
        said.contains("100 % of the deliveries lie inside the upper bound"),
        "{said}"
    );
    let summary = summary(&case, &result, 0.0);
    assert_eq!(summary["corridor_is"], "upper_bound");
    assert_eq!(summary["one_bank_of_deliveries"]["held"], 0);
    assert!(summary["delivery"]["inside"].is_null());
    let figure = against_speed(&case, &result, Measure::Periapsis);
    assert!(
        figure.title.starts_with("Upper bound of"),
        "{}",
        figure.title
    );
}

/// The share that one bank holds is what an ensemble of the ship with that bank holds at that aim, to the sample: with
/// the delivery alone uncertain both fly the same flights. No other bank that was tried holds more at its own aim.
#[test]
fn the_share_of_one_bank_is_that_of_an_ensemble() {
    let text = |bank: f64| {
        format!(
            "title: corridor\nworld: mars\n\
             ship: {{mass: 60 t, reference_area: 300 m2, drag_coefficient: 1.5, lift_to_drag: 0.3, bank: {bank} deg, \
             nose_radius: 3 m}}\n\
             arrival: {{hyperbola: {{excess_speed: 2.6 km/s, inclination: 25 deg, \
             aim_periapsis: {{from: 30 km, to: 70 km, step: 2 km}}}}}}\n\
             uncertainty: {{air: exact, delivery: {{periapsis_altitude: {{normal: {{std_dev: 8 km}}}}}}}}\n\
             limits: {{peak_deceleration: 3.2 g, captured_below: {{apoapsis_altitude: 40000 km}}}}\n\
             ask: {{samples: 400, seed: 3}}\n"
        )
    };
    let result = corridor_of(&case_of(&text(0.0)));
    let one = result.held_by_one.as_ref().expect("deliveries flown");
    assert!(one.held > 0 && one.held < one.deliveries, "{one:?}");
    let progress = Progress::default();
    let held_by = |bank_rad: f64, aim_m: f64| {
        let case = case_of(&text(bank_rad.to_degrees()));
        let fleet = Fleet::new(&case.problem, &progress);
        let tally = fleet.tally(&[aim_m], 0..one.deliveries).expect("flown");
        tally[0].held()
    };
    assert_eq!(held_by(one.bank_rad, one.aim_m), one.held);
    for other in &result.banks {
        if let Some(stretch) = widest(&other.all) {
            let middle_m = f64::midpoint(stretch.low.aim_m, stretch.high.aim_m);
            assert!(held_by(other.bank_rad, middle_m) <= one.held);
        }
    }
}
