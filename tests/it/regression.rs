//! Mistakes that were made once, each by its name.

use super::{case_of, cli, examples};
use periband::ensemble::problem::SampleNumber;
use periband::ensemble::{Fleet, LimitKind, Progress};
use periband::report::text::Terminal;
use periband::report::{band_text, limit_words, pass_text};
use periband::study::Case;
use periband::study::band::{BandResult, find_band};
use periband::study::outcome::{Outcome, describe_aim};
use periband::study::single::fly_single;

/// A ballistic arrival at Mars with the lines of `uncertainty` and `limits`.
fn arrival(uncertainty: &str, limits: &str) -> Case {
    case_of(&format!(
        "title: t\nworld: mars\n\
         ship: {{mass: 20 t, reference_area: 60 m2, drag_coefficient: 1.4, nose_radius: 2 m}}\n\
         arrival:\n  hyperbola:\n    excess_speed: 3 km/s\n    inclination: 30 deg\n    \
         aim_periapsis: {{from: 30 km, to: 80 km, step: 5 km}}\n\
         uncertainty: {uncertainty}\nlimits: {limits}\n\
         ask: {{probability: 0.99, samples: 600, seed: 1}}\n"
    ))
}

const EXACT: &str = "{air: exact, heating: exact}";

fn band_of(case: &Case) -> BandResult {
    find_band(&case.scenario, &case.problem, &Progress::default()).expect("a band study")
}

fn recommended(case: &Case, result: &BandResult) -> Outcome {
    let progress = Progress::default();
    let fleet = Fleet::new(&case.problem, &progress);
    let aim = (result.recommended.aim_m, result.told_by.clone());
    describe_aim(&fleet, aim, 0.95, |_| {}).expect("not stopped")
}

#[test]
fn limits_that_no_aim_holds_are_not_said_to_hold() {
    let case = arrival(EXACT, "{heat_flux: 1 W/cm2, lowest_altitude: 70 km}");
    let result = band_of(&case);
    assert!(result.band.is_err());
    let answer = band_text::answer(&case, &result, None);
    assert!(answer.contains("where not all limits hold"), "{answer}");
}

#[test]
fn a_certain_answer_shows_its_quantities() {
    let case = arrival(EXACT, "{captured_below: {apoapsis_altitude: 100000 km}}");
    let result = band_of(&case);
    let outcome = recommended(&case, &result);
    for (quantity, described) in &outcome.described {
        let described = described.expect("a captured pass has every quantity");
        assert_eq!(described.count, 1, "{quantity:?}");
        assert_eq!(described.std_dev.value, 0.0);
        assert_eq!(described.p50, described.p99_865);
    }
}

/// The band with the limits that the explanation names, each tried alone.
fn raised_limits_open(limits: &[(&str, &str)]) {
    let written = |raised: Option<(&str, &str)>| {
        let lines: Vec<String> = limits
            .iter()
            .map(|&(key, value)| match raised {
                Some((other, needed)) if other == key => format!("{key}: {needed}"),
                _ => format!("{key}: {value}"),
            })
            .collect();
        format!("{{{}}}", lines.join(", "))
    };
    let uncertain = "{delivery: {periapsis_altitude: {normal: {std_dev: 0.3 km}}}, \
                     air: {density: {world_times: 0.3}}}";
    let case = arrival(uncertain, &written(None));
    let result = band_of(&case);
    let empty = result.band.expect_err("no band as the limits are");
    assert!(!empty.opening.raises.is_empty(), "{:?}", empty.colliding);
    for raise in &empty.opening.raises {
        // As a reader would copy it from the screen.
        let needed = limit_words::value_text(raise.kind, raise.needed);
        let again = written(Some((raise.kind.key(), &needed)));
        assert!(band_of(&arrival(uncertain, &again)).band.is_ok(), "{again}");
    }
}

#[test]
fn a_limit_broken_at_every_aim_alike_is_named_with_the_value_that_opens_the_band() {
    raised_limits_open(&[("heat_flux", "1 W/cm2")]);
}

#[test]
fn a_limit_that_opens_a_band_between_the_aims_of_the_grid_is_found() {
    let captured = "{apoapsis_altitude: 30000 km}";
    raised_limits_open(&[("lowest_altitude", "90 km"), ("captured_below", captured)]);
}

#[test]
fn a_limit_that_other_aims_hold_is_not_said_to_rule_at_every_aim() {
    let captured = "captured_below: {apoapsis_altitude: 10000 km}";
    let case = arrival(EXACT, &format!("{{peak_deceleration: 0.5 g, {captured}}}"));
    let answer = band_text::answer(&case, &band_of(&case), None);
    let collide = "a little lower, peak deceleration above 0.5 g; a little higher, not captured";
    assert!(answer.contains(collide), "{answer}");
}

#[test]
fn a_replayed_sample_is_judged_by_its_own_limits() {
    let case = arrival(
        "{limits.peak_deceleration: {uniform: {low: 0.1 g, high: 6 g}}}",
        "{peak_deceleration: 3 g}",
    );
    let mut judged = [0; 2];
    for sample in 0..20 {
        let numbers = case.problem.numbers(sample);
        let single = fly_single(
            &case.problem,
            &case.scenario.ship,
            (45e3, SampleNumber::Of(sample)),
            None,
        )
        .expect("a pass");
        let bits = case.problem.limits().broken(&single.flown.result, &numbers);
        let words = pass_text::broken(&case, &single);
        assert_eq!(words == "All limits hold.", bits == 0, "sample {sample}");
        judged[usize::from(bits == 0)] += 1;
    }
    assert!(judged.iter().all(|&count| count > 0), "{judged:?}");
}

#[test]
fn no_burn_is_spent_on_raising_an_apoapsis_that_is_low_enough() {
    let case = arrival(EXACT, "{captured_below: {apoapsis_altitude: 100000 km}}");
    let burns = |aim_m: f64, target| {
        let single = fly_single(
            &case.problem,
            &case.scenario.ship,
            (aim_m, SampleNumber::Nominal),
            target,
        )
        .expect("a pass");
        let low_enough = single.flown.result.apoapsis_altitude_m < Some(100e6);
        (low_enough, single.corrections.expect("captured").burns)
    };
    let (low_enough, unasked) = burns(43e3, None);
    assert!(
        low_enough && unasked.trim_apoapsis_m_s == 0.0,
        "{unasked:?}"
    );
    assert!(burns(43e3, Some(100e6)).1.trim_apoapsis_m_s > 0.0);
}

#[test]
fn an_aim_below_the_ground_may_be_written_on_the_command_line() {
    let folder = cli::Folder::new("negative");
    let scenario = cli::example();
    let run = cli::periband(&folder.0, &["pass", &scenario, "--periapsis", "-50km"]);
    assert!(run.status.success(), "{}", cli::text(&run.stderr));
    assert!(cli::text(&run.stdout).contains("does not leave the air again"));
}

#[test]
fn a_folder_that_cannot_be_written_is_known_before_the_passes_are_flown() {
    let folder = cli::Folder::new("unwritable");
    std::fs::write(folder.0.join("taken"), "a file").expect("written");
    let scenario = cli::example();
    // So many samples would take hours.
    let arguments = [
        "band",
        &scenario,
        "--out",
        "taken",
        "--samples",
        "100000000",
    ];
    let run = cli::periband(&folder.0, &arguments);
    assert_eq!(run.status.code(), Some(4), "{}", cli::text(&run.stderr));
}

#[test]
fn the_command_in_the_manifest_runs_again_where_the_files_lie() {
    let folder = cli::Folder::new("again");
    let scenario = examples().join("own-world.yaml").display().to_string();
    for arguments in [
        vec!["band", &scenario, "--samples", "1000"],
        vec!["pass", &scenario, "--periapsis", "78.25km", "--sample", "3"],
    ] {
        let first = cli::periband(&folder.0, &arguments);
        assert!(first.status.success(), "{}", cli::text(&first.stderr));
        let kept = folder.0.join("out/own-world").join(arguments[0]);
        let read = |path: &std::path::Path, name: &str| -> serde_json::Value {
            let text = std::fs::read_to_string(path.join(name)).expect("a file of the run");
            serde_json::from_str(&text).expect("JSON")
        };
        let manifest = read(&kept, "manifest.json");
        let command = manifest["command"].as_str().expect("a command");
        let words: Vec<&str> = command.split(' ').skip(1).collect();
        let again = cli::periband(&kept, &words);
        assert!(
            again.status.success(),
            "{command}: {}",
            cli::text(&again.stderr)
        );
        let inner = kept.join("out/scenario").join(arguments[0]);
        let key = if arguments[0] == "band" {
            "at_recommended"
        } else {
            "pass"
        };
        assert_eq!(
            read(&kept, "summary.json")[key],
            read(&inner, "summary.json")[key]
        );
    }
}

#[test]
fn an_edge_at_the_end_of_the_range_is_not_said_to_lie_in_doubt() {
    let case = arrival(
        "{delivery: {periapsis_altitude: {normal: {std_dev: 0.3 km}}}}",
        "{lowest_altitude: 45 km}",
    );
    let result = band_of(&case);
    let outcome = recommended(&case, &result);
    let table = band_text::table(
        &Terminal {
            width: 120,
            colour: false,
        },
        &case,
        (&result, &outcome),
    );
    assert!(table.contains("The low edge may lie up to"), "{table}");
    assert!(!table.contains("0.00 km"), "{table}");
}

#[test]
fn a_number_is_not_parted_from_its_unit() {
    let terminal = Terminal {
        width: 60,
        colour: false,
    };
    for length in 1..60 {
        let text = format!("{} above 1.2 g; with 95 % confidence", "x".repeat(length));
        let shown = terminal.paragraph(&text, 0);
        assert!(
            shown.contains("1.2 g;") && shown.contains("95 %"),
            "{shown}"
        );
    }
}

/// An entry slower than a circle at the interface was refused, with an aim at the interface itself in the message.
#[test]
fn a_slow_entry_is_aimed_at_its_angle() {
    for (speed, degrees) in [(7.0, -2.0), (7.0, -20.0), (7.8, -5.0)] {
        let case = case_of(&format!(
            "title: t\nworld: earth\n\
             ship: {{mass: 2 t, reference_area: 6 m2, drag_coefficient: 1.4, nose_radius: 2 m}}\n\
             arrival:\n  entry: {{speed: {speed} km/s, inclination: 30 deg, flight_path_angle: {degrees} deg}}\n\
             limits: {{comes_down: yes}}\n"
        ));
        let (problem, aim_m) = (&case.problem, case.problem.aim().from_m);
        let launched = problem.launch(aim_m, problem.nominal(), SampleNumber::Nominal);
        let (start, _) = launched.expect("an approach");
        let angle = start.inertial_flight_path_angle_rad().to_degrees();
        assert!((angle - degrees).abs() < 1e-6, "{angle}");
        assert!((start.inertial_speed_m_s() / 1e3 - speed).abs() < 1e-9);
    }
}

/// A limit that is uncertain is drawn about its value: the value said to open the band opens it.
#[test]
fn a_raised_limit_opens_the_band_though_it_is_drawn() {
    let uncertain =
        "{air: {density: {world_times: 0.5}}, limits.peak_deceleration: {normal: {std_dev: 8 %}}}";
    let limits = |g: f64| {
        format!("{{peak_deceleration: {g} g, captured_below: {{apoapsis_altitude: 60000 km}}}}")
    };
    let result = band_of(&arrival(uncertain, &limits(1.0)));
    let empty = result.band.expect_err("1 g is too little");
    let mut raises = empty.opening.raises.iter();
    let raise = raises.find(|raise| raise.kind == LimitKind::PeakDeceleration);
    let needed = raise.expect("a value that opens it").needed;
    let opened = band_of(&arrival(uncertain, &limits(needed / 9.806_65)));
    assert!(opened.band.is_ok(), "{needed}");
}

/// So many samples that the machine would run out of memory are refused at once, with where more are taken.
#[test]
fn absurd_numbers_of_samples_are_refused_with_the_ceiling() {
    let folder = cli::Folder::new("ceiling");
    let (example, landing) = (cli::example(), examples().join("mars-landing.yaml"));
    let landing = landing.display().to_string();
    let capture = examples().join("giant-capture.yaml").display().to_string();
    for samples in ["1e12", "20000001"] {
        for arguments in [
            vec!["band", &example],
            vec!["capture", &capture],
            vec!["land", &landing],
            vec!["influence", &example],
            vec!["sweep", &example, "band", "--vary", "ship.mass=50t,60t"],
        ] {
            let all = [&arguments[..], &["--samples", samples]].concat();
            let run = cli::periband(&folder.0, &all);
            let said = cli::text(&run.stderr);
            assert_eq!(run.status.code(), Some(2), "{all:?} {said}");
            assert!(
                said.contains("20000000") && said.contains("periband run"),
                "{all:?} {said}"
            );
        }
    }
}
