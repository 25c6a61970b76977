//! Samples without a result: their integration failed, or no arrival has their numbers. They are told as such, count
//! in no limit and in every denominator, and are never "held".

use crate::case_of;
use crate::cli::{Folder, periband, text};
use periband::ensemble::engine::FlownSample;
use periband::ensemble::margin::Margins;
use periband::ensemble::{Fleet, Progress, Tally};
use periband::pass::Ending;
use periband::report::landing_summary::landing_summary;
use periband::report::landing_text::{answer, table};
use periband::report::text::Terminal;
use periband::scenario::{STARTER, Scenario};
use periband::study::aims::Aims;
use periband::study::delivery::ill_conditioned;
use periband::study::landing::find_landing;
use periband::study::{Case, find_band};
use periband::world::World;
use serde_json::Value;

/// A plane that comes down from a hop: slower than a circle, close to the highest point of its way, so that its
/// vacuum periapsis lies 4250 km below ground and may rise by 4.1 km before there is no entry left.
const LAND_FAILING: &str = "title: A plane comes down from a hop\nworld: earth\n\
    ship:\n  name: P\n  mass: 60 t\n  passengers: 24\n  reference_area: 260 m2\n  drag_coefficient: 0.9\n  \
    lift_to_drag: 1.1\n  bank: 50 deg\n  nose_radius: 1.5 m\n  engine: {specific_impulse: 350 s, thrust: 300 kN}\n\
    arrival:\n  entry:\n    speed: 5.5 km/s\n    inclination: 40 deg\n    argument_of_periapsis: 217 deg\n    \
    flight_path_angle: -2 deg\n\
    landing:\n  place: {name: S, latitude: 31 deg, longitude: 20 deg}\n  \
    gate: {speed: 600 m/s, distance_to_go: 40 km, within: 10 km, heading: 20 deg, altitude: {from: 18 km, to: 32 km}}\n\
    steering:\n  bank: {rate: 10 deg/s, acceleration: 5 deg/s2}\n\
    uncertainty:\n  delivery:\n    periapsis_altitude: {normal: {std_dev: 3 km}}\n    speed: {normal: {std_dev: 5 m/s}}\n\
    limits:\n  peak_deceleration: 10 g\n  heat_flux: 100 W/cm2\n\
    ask: {samples: 100, seed: 5, probability: 0.9}\n";

/// The same hop aimed at a range of periapsides that ends where no entry is left: some of each aim's deliveries fit no
/// approach, and nothing else is the matter with it.
fn hop(from_km: f64, to_km: f64, probability: f64) -> String {
    format!(
        "title: hop\nworld: earth\nship: {{mass: 60 t, reference_area: 260 m2, drag_coefficient: 0.9, nose_radius: 1.5 m}}\n\
         arrival:\n  entry:\n    speed: 5.5 km/s\n    inclination: 40 deg\n    argument_of_periapsis: 217 deg\n    \
         aim_periapsis: {{from: {from_km} km, to: {to_km} km, step: 0.5 km}}\n\
         uncertainty:\n  delivery:\n    periapsis_altitude: {{normal: {{std_dev: 3 km}}}}\n\
         limits:\n  peak_deceleration: 60 g\n  comes_down: yes\n\
         ask: {{samples: 400, seed: 5, probability: {probability}}}\n"
    )
}

/// The 11 flights of 100 that were told as broken heat flux have numbers that fit no approach: at a speed of 5.5 km/s at
/// the interface the periapsis can be 4.07 km higher than that of -2 deg and no more, 1.36 standard deviations: a
/// share of 8.8 % (the normal distribution).
#[test]
fn land_failing_yaml_tells_of_arrivals_that_do_not_exist() {
    let case = case_of(LAND_FAILING);
    let result = find_landing(&case, &Progress::default()).expect("an answer");
    let steered = result.steered.as_ref().expect("a ship that steers");
    for flown in [steered, &result.held] {
        let tally = &flown.outcome.tally;
        assert_eq!(tally.failed(), 0, "{tally:?}");
        assert_eq!(tally.without_approach(), 11, "{tally:?}");
        assert_eq!(tally.samples, 100);
        let lost = flown
            .flights
            .iter()
            .filter(|f| f.ending == Ending::NoApproach);
        assert!(
            lost.clone()
                .all(|flight| !flight.reached && flight.broken == 0)
        );
        assert_eq!(lost.count(), 11);
    }
    // None of those flown breaks the limit of heat: the highest flux is half of what is allowed.
    assert_eq!(steered.outcome.tally.broken[1], 0);
    let landing = case.scenario.landing.as_ref().expect("a landing");
    let said = answer(&case, (&result, landing));
    assert!(said.contains("Of 100 samples 11 fit no approach"), "{said}");
    let table = table(
        &Terminal {
            width: 100,
            colour: false,
        },
        &case,
        &result,
    );
    let row = table.lines().find(|line| line.starts_with("no result"));
    assert!(row.is_some_and(|row| row.ends_with("11 %")), "{table}");
    let heat = table
        .lines()
        .find(|line| line.starts_with("peak heat flux above"));
    assert!(heat.is_some_and(|row| row.contains(" 0 %")), "{table}");
    let summary = landing_summary(&case, (&result, landing), 0.0);
    assert_eq!(summary["steered"]["no_approach_samples"]["count"], 11);
    assert_eq!(summary["steered"]["failed_samples"]["count"], 0);
    assert_eq!(summary["steered"]["limits"][1]["broken"], 0);
}

/// `check` names the error, how far one sigma of it turns the entry, and what share of it fits no approach; it says
/// nothing of the same error where the arrival has room for it.
#[test]
fn check_warns_of_an_ill_conditioned_delivery() {
    let case = case_of(LAND_FAILING);
    let found = ill_conditioned(&case.problem);
    let [one] = found.as_slice() else {
        panic!("one error: {found:?}")
    };
    assert_eq!(one.number.key(), "delivery.periapsis_altitude");
    // About a sphere the periapsis may be d = 3.85 km higher (energy and radius of the entry held), and its depth below
    // that goes with the square of the angle: dγ = γ dr/2d = 2 · 3/(2 · 3.85) = 0.779 deg. 4 %: the entry moves over an
    // ellipsoid.
    let turned = one.turned_rad.to_degrees();
    assert!((turned / 0.779 - 1.0).abs() < 0.04, "{one:?}");
    // Over the ellipsoid the highest periapsis of any conic that crosses the interface at 5.5 km/s, by a search through
    // 200,000 true anomalies beside this program (closed forms of the conic and of geodetic altitude), lies 4.066 km
    // above that of -2 deg: 1 - Φ(4.066/3) = 0.0877.
    assert!((one.without_approach - 0.0877).abs() < 2e-4, "{one:?}");
    let folder = Folder::new("ill-conditioned");
    std::fs::write(folder.0.join("hop.yaml"), LAND_FAILING).expect("written");
    let said = text(&periband(&folder.0, &["check", "hop.yaml"]).stdout);
    let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("Ill-conditioned: the error of the periapsis altitude"),
        "{words}"
    );
    assert!(words.contains("fit no approach"), "{words}");
    let fast = LAND_FAILING
        .replace("5.5 km/s", "7.9 km/s")
        .replace("-2 deg", "-6 deg");
    assert!(ill_conditioned(&case_of(&fast).problem).is_empty());
    assert!(ill_conditioned(&case_of(STARTER).problem).is_empty());
}

/// Where samples without a result alone decide, the verdict is "not shown" and the program ends with 3; where the aim is
/// ruled out or safe whatever became of them, it does not.
#[test]
fn samples_without_a_result_alone_make_no_verdict() {
    let folder = Folder::new("undecided");
    let run = |name: &str, scenario: &str| {
        std::fs::write(folder.0.join(name), scenario).expect("written");
        let band = periband(&folder.0, &["band", name, "--rows", "none", "--json"]);
        let summary: Value = serde_json::from_slice(&band.stdout).expect("a summary");
        let words = periband(&folder.0, &["band", name, "--rows", "none"]);
        let error = text(&words.stderr);
        let error = error.split_whitespace().collect::<Vec<_>>().join(" ");
        (band.status.code(), summary, text(&words.stdout), error)
    };
    // About 10 % and more fit no approach; 90 % would be shown had they held.
    let (code, summary, said, error) = run("hop.yaml", &hop(-4253.3, -4251.3, 0.9));
    assert_eq!(code, Some(3), "{said}{error}");
    assert!(said.starts_with("Not shown at 90 %"), "{said}");
    assert!(error.contains("these alone decide"), "{error}");
    assert!(summary["not_shown_for_want_of_results_at_km"].is_number());
    assert!(
        summary["no_approach_samples"]["count"].as_u64() > Some(30),
        "{summary}"
    );
    assert_eq!(summary["failed_samples"]["count"], 0);
    for limit in summary["limits"].as_array().expect("limits") {
        assert_eq!(limit["broken"], 0, "{limit}");
    }
    // 80 % is shown in spite of them.
    let (code, summary, said, error) = run("lower.yaml", &hop(-4254.3, -4252.8, 0.8));
    assert_eq!(code, Some(0), "{said}{error}");
    assert!(summary["safe_periapsis_band_km"].is_object(), "{summary}");
    // What breaks a limit is broken, whatever became of the others.
    let hard = hop(-4253.3, -4251.3, 0.9).replace("60 g", "2 g");
    let (code, _, said, error) = run("hard.yaml", &hard);
    assert_eq!(code, Some(0), "{said}{error}");
    assert!(said.starts_with("No safe band"), "{said}");
}

/// An edge where samples without a result become too many says so, and is not taken for the end of the range.
#[test]
fn an_edge_may_be_that_of_samples_without_a_result() {
    let case = case_of(&hop(-4258.0, -4251.0, 0.9));
    let result = find_band(&case.scenario, &case.problem, &Progress::default()).expect("a band");
    let band = result.band.expect("a band");
    assert_eq!(
        (band.high.key(), band.low.key()),
        ("no_result", "range_of_aims")
    );
    assert!(band.high.uncertainty_m > 0.0);
}

/// An integration that fails breaks no limit and holds none; in a search for rare accidents it is as severe as can be.
#[test]
fn a_failed_integration_is_in_no_limits_count() {
    let scenario = Scenario::from_text("x.yaml", STARTER).expect("valid");
    let world = World::bundled(&scenario.world).expect("bundled");
    let mut problem = periband::ensemble::Problem::new(&scenario, &world).expect("flies");
    // No step is small enough for an error of nothing.
    problem.settings_mut().tolerance = 0.0;
    let progress = Progress::default();
    let fleet = Fleet::new(&problem, &progress);
    let limits = problem.limits().entries().len();
    let mut tally = Tally::new(limits);
    let count = |tally: &mut Tally, flown: &FlownSample| {
        assert!(!flown.held());
        tally.count(flown.result.ending, flown.broken);
    };
    fleet
        .fly(&[51e3], 0..24, |flown| count(&mut tally, flown))
        .expect("flown");
    assert_eq!((tally.failed(), tally.held(), tally.broken_any), (24, 0, 0));
    assert!(tally.broken.iter().all(|&broken| broken == 0));
    let held = tally.probability_held(0.95).expect("samples");
    assert_eq!(held.estimate, 0.0);
    let margins = Margins::new(&problem);
    let place = vec![0.0; problem.dimensions()];
    let flown = fleet.fly_places(51e3, &[place]).expect("flown");
    assert_eq!(flown[0].broken, 0);
    for limit in 0..limits {
        assert!(margins.of(limit, &flown[0]) > 0.0);
    }
    // Nor is an aim at which all fail a safe one.
    let ask = scenario.ask;
    let mut aims = Aims::screened(&fleet, ask);
    aims.fly(&[50e3, 51e3, 52e3]).expect("flown");
    let point = &aims.points()[1];
    assert_eq!(point.tally.failed(), aims.samples());
    assert!(
        aims.not_held_at(51e3)
            .is_some_and(|all| all.len() as u64 == aims.samples())
    );
    assert!(aims.undecided().is_some());
}

/// A case of one nominal sample that has no result is not safe either.
#[test]
fn without_uncertainty_a_failure_is_no_safe_band() {
    let text = STARTER
        .split("uncertainty:")
        .next()
        .expect("a text")
        .to_owned()
        + "uncertainty: {air: exact}\nlimits:\n  peak_deceleration: 9 g\nask: {samples: 1}\n";
    let scenario = Scenario::from_text("x.yaml", &text).expect("valid");
    let mut case = Case::from_scenario(scenario).expect("flies");
    case.problem.settings_mut().tolerance = 0.0;
    let result = find_band(&case.scenario, &case.problem, &Progress::default()).expect("an answer");
    assert!(result.band.is_err());
    assert!(result.undecided_m.is_some());
}

/// The starter with a ship so light for its area that it is braked before its flight begins; the mass in kg, and a world.
fn light(mass_kg: f64, world: &str, uncertainty: &str) -> String {
    let text = STARTER
        .replacen("mass: 62 t\n", &format!("mass: {mass_kg} kg\n"), 1)
        .replacen("world: mars", &format!("world: {world}"), 1);
    let (before, after) = text.split_once("uncertainty:\n").expect("a section");
    let limits = after.split_once("\nlimits:").expect("a section").1;
    format!("{before}uncertainty:\n{uncertainty}\nlimits:{limits}")
}

/// A ship for which the air at the interface is already too thick is refused with the interface that would do; with
/// that one in a world file it is flown, and with one 2 km lower it is refused again.
#[test]
fn a_ship_that_is_braked_above_the_interface_is_refused() {
    let said = |text: &str| {
        let scenario = Scenario::from_text("x.yaml", text).expect("a valid scenario");
        Case::from_scenario(scenario).map(|_| ()).map_err(|error| {
            let words = error.to_string();
            words.split_whitespace().collect::<Vec<_>>().join(" ")
        })
    };
    let exact = "  air: exact";
    let error = said(&light(10.0, "mars", exact)).expect_err("too light");
    assert!(
        error.contains("is already too thick for a ship of 0.0222 kg/m2"),
        "{error}"
    );
    let (_, help) = error
        .split_once("with an interface at ")
        .expect("the interface that would do");
    let would_do: f64 = help
        .split(' ')
        .next()
        .and_then(|km| km.parse().ok())
        .expect("a number");
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("atmospheres/mars.yaml");
    let mars = std::fs::read_to_string(file).expect("bundled");
    let folder = Folder::new("interface");
    let with = |km: f64| {
        let path = folder.0.join(format!("mars-{km}.yaml"));
        let text = mars.replacen(
            "entry_interface: 125 km",
            &format!("entry_interface: {km} km"),
            1,
        );
        assert_ne!(text, mars);
        std::fs::write(&path, text).expect("written");
        said(&light(10.0, &path.display().to_string(), exact))
    };
    assert_eq!(with(would_do), Ok(()));
    assert!(with(would_do - 2.0).is_err());
    assert_eq!(said(&light(62e3, "mars", exact)), Ok(()));
}

/// The same of samples: those whose drawn ship is too light are told, and replaying one says why.
#[test]
fn samples_that_are_too_light_are_told_apart() {
    // The heaviest ship that is refused, by halving.
    let refused = |mass_kg: f64| {
        let scenario = Scenario::from_text("x.yaml", &light(mass_kg, "mars", "  air: exact"));
        Case::from_scenario(scenario.expect("valid")).is_err()
    };
    let (mut light_kg, mut heavy_kg) = (10.0, 62e3);
    while heavy_kg / light_kg > 1.001 {
        let middle = f64::sqrt(light_kg * heavy_kg);
        if refused(middle) {
            light_kg = middle;
        } else {
            heavy_kg = middle;
        }
    }
    let drawn = "  air: exact\n  ship.mass: {normal: {std_dev: 10 %}}";
    let text = light(heavy_kg, "mars", drawn);
    let case = case_of(&text);
    let progress = Progress::default();
    let fleet = Fleet::new(&case.problem, &progress);
    let mut first = None;
    let mut tally = Tally::new(case.problem.limits().entries().len());
    let take = |flown: &FlownSample| {
        if flown.result.ending == Ending::NoApproach {
            first = first.or(Some(flown.sample));
        }
        tally.count(flown.result.ending, flown.broken);
    };
    // The shallower a way, the more air lies above its entry.
    let aim_m = case.problem.aim().to_m;
    fleet.fly(&[aim_m], 0..400, take).expect("flown");
    // Half of the ships are lighter than the one at the limit: 200, four standard deviations of 10.
    assert!(tally.without_approach().abs_diff(200) < 40, "{tally:?}");
    assert_eq!(tally.failed(), 0);
    let sample = periband::ensemble::problem::SampleNumber::Of(first.expect("one of them"));
    let replayed = periband::study::single::fly_single(
        &case.problem,
        &case.scenario.ship,
        (aim_m, sample),
        None,
    );
    let error = replayed.expect_err("too light").to_string();
    assert!(error.contains("already too thick"), "{error}");
}
