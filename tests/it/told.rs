//! What the program once passed over in silence or said only in part: each is told now, or refused.

use crate::cli::{Folder, example, periband, text};
use crate::{case_of, examples};
use periband::ensemble::problem::SampleNumber;
use periband::pass::Ending;
use periband::report::pass_text;
use periband::scenario::Scenario;
use periband::study::Case;
use periband::study::outcome::Quantity;
use periband::study::single::{SingleError, fly_single};
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

/// A message in one line, however it was broken.
fn flat(bytes: &[u8]) -> String {
    text(bytes).split_whitespace().collect::<Vec<_>>().join(" ")
}

fn arrival(limits: &str) -> String {
    format!(
        "title: t\nworld: mars\n\
         ship: {{mass: 20 t, reference_area: 60 m2, drag_coefficient: 1.4, nose_radius: 2 m}}\n\
         arrival:\n  hyperbola:\n    excess_speed: 3 km/s\n    inclination: 30 deg\n    \
         aim_periapsis: {{from: 30 km, to: 80 km, step: 5 km}}\n\
         uncertainty: {{air: exact}}\nlimits: {limits}\n"
    )
}

fn nominal(
    case: &Case,
    aim_m: f64,
    target_m: Option<f64>,
) -> Result<periband::study::single::SinglePass, SingleError> {
    let aim = (aim_m, SampleNumber::Nominal);
    fly_single(&case.problem, &case.scenario.ship, aim, target_m)
}

#[test]
fn a_periapsis_above_the_air_is_refused_by_a_pass_too() {
    let folder = Folder::new("above-the-air");
    let run = periband(&folder.0, &["pass", &example(), "--periapsis", "130km"]);
    let said = flat(&run.stderr);
    assert_eq!(run.status.code(), Some(2), "{said}");
    let why = "at 130.000 km never meets the air: the approach comes down to";
    assert!(said.contains(why), "{said}");
    assert!(
        said.contains("the entry interface is at 125.000 km"),
        "{said}"
    );
}

#[test]
fn a_target_apoapsis_below_the_lifted_periapsis_is_refused() {
    let case = case_of(&arrival("{}"));
    let low = nominal(&case, 45e3, Some(224e3));
    let said = low.expect_err("too low").to_string();
    assert!(said.contains("lifted to 225.000 km"), "{said}");
    assert!(nominal(&case, 45e3, Some(226e3)).is_ok());
}

/// Deep enough the pass ends on an orbit whose apoapsis lies below the periapsis that the burns lift it to.
#[test]
fn an_apoapsis_that_the_burns_raise_is_told() {
    let case = case_of(&arrival("{}"));
    let mut told = 0;
    for hundreds_m in 320..460 {
        let single = nominal(&case, f64::from(hundreds_m) * 100.0, None).expect("flown");
        let result = &single.flown.result;
        if result.ending != Ending::Captured {
            continue;
        }
        let low = result.apoapsis_altitude_m.is_some_and(|m| m < 225e3);
        let answer = pass_text::answer(&case, &single);
        assert_eq!(answer.contains("make it a circle there"), low, "{answer}");
        told += u32::from(low);
    }
    assert!(told > 0, "no aim of these ends that low");
}

#[test]
fn a_flight_that_comes_down_has_no_speed_lost_on_a_pass_and_no_period() {
    let case = case_of(&arrival("{}"));
    let down = nominal(&case, 30e3, None).expect("flown");
    assert_eq!(down.flown.result.ending, Ending::Landed);
    assert_eq!(Quantity::SpeedLost.of(&down.flown.result), None);
    assert_eq!(down.period_s, None);
    let table = pass_text::table(&down);
    assert!(
        table.contains("speed lost until the flight ends") && !table.contains("period"),
        "{table}"
    );
    let through = nominal(&case, 45e3, None).expect("flown");
    assert!(Quantity::SpeedLost.of(&through.flown.result).is_some());
    assert!(through.period_s.is_some());
}

#[test]
fn an_orbit_wanted_inside_the_air_is_refused() {
    let limits = |km: u32| {
        arrival(&format!(
            "{{captured_below: {{apoapsis_altitude: {km} km}}}}"
        ))
    };
    let case = |km| Case::from_scenario(Scenario::from_text("in.yaml", &limits(km)).expect("read"));
    let said = case(125).expect_err("inside the air").to_string();
    for part in [
        "`captured_below` asks for an apoapsis below 125.000 km",
        "not above the entry interface of Mars, 125.000 km",
        "key:  limits.captured_below.apoapsis_altitude",
    ] {
        assert!(said.contains(part), "{said}");
    }
    assert!(case(126).is_ok());
}

#[test]
fn a_sweep_without_a_single_band_says_so_with_the_reason() {
    let folder = Folder::new("no-band");
    let sweep = |more: &[&str]| {
        let file = example();
        let vary = "limits.peak_deceleration=0.6g,0.7g";
        let asked = [
            "sweep",
            &file,
            "--vary",
            vary,
            "--set",
            "limits.stay_above=[]",
        ];
        let run = periband(&folder.0, &[&asked, more, &["band"]].concat());
        assert!(run.status.success(), "{}", text(&run.stderr));
        flat(&run.stdout)
    };
    let said = sweep(&["--samples", "1400"]);
    let collide =
        "No point has a safe band. At every one: peak_deceleration and captured_below collide.";
    assert!(said.starts_with(collide), "{said}");
}

#[test]
fn text_of_a_file_cannot_act_on_the_terminal() {
    let folder = Folder::new("escapes");
    let hostile = arrival("{}").replace("title: t", "title: \"a\\e[2Jb\\r\\u202ec\"");
    fs::write(folder.0.join("hostile.yaml"), &hostile).expect("written");
    let unit = hostile.replace("20 t,", "\"20 \\e[31mt\",");
    fs::write(folder.0.join("unit.yaml"), unit).expect("written");
    let checked = periband(&folder.0, &["check", "hostile.yaml"]);
    let refused = periband(&folder.0, &["check", "unit.yaml"]);
    assert_eq!(refused.status.code(), Some(2));
    for (said, part) in [
        (text(&checked.stdout), "a\\u{1b}[2Jb\\u{d}\\u{202e}c"),
        (text(&refused.stderr), "\\u{1b}[31mt"),
    ] {
        let acts = |c: char| c.is_control() && c != '\n' || c == '\u{202e}';
        assert!(!said.contains(acts), "{said:?}");
        assert!(said.contains(part), "{said}");
    }
}

/// Runs with standard output on a device that is always full.
#[cfg(target_os = "linux")]
fn to_a_full_device(folder: &Path, arguments: &[&str]) -> (Option<i32>, String) {
    let full = fs::OpenOptions::new().write(true).open("/dev/full");
    let run = Command::new(env!("CARGO_BIN_EXE_periband"))
        .args(arguments)
        .current_dir(folder)
        .stdout(Stdio::from(full.expect("a device")))
        .output()
        .expect("the program starts");
    (run.status.code(), flat(&run.stderr))
}

#[cfg(target_os = "linux")]
#[test]
fn what_cannot_be_printed_is_told_in_words() {
    let folder = Folder::new("full-device");
    let file = example();
    for (arguments, files) in [
        (&["check", &file][..], false),
        (&["worlds"], false),
        (&["--version"], false),
        (&["pass", "--help"], false),
        (&["completions", "bash"], false),
        (&["man"], false),
        (&["pass", &file, "--periapsis", "51km"], true),
    ] {
        let (code, said) = to_a_full_device(&folder.0, arguments);
        assert_eq!(code, Some(4), "{arguments:?}: {said}");
        assert!(said.contains("no room is left"), "{arguments:?}: {said}");
        assert!(!said.contains("os error"), "{arguments:?}: {said}");
        assert_eq!(said.contains("the files are written"), files, "{said}");
    }
}

#[test]
fn a_log_of_a_pass_aimed_far_elsewhere_is_refused() {
    let folder = Folder::new("far-aim");
    let log = examples().join("mars-flight-log.csv").display().to_string();
    let run = periband(
        &folder.0,
        &[
            &["learn", &example(), "--flight", &log][..],
            &["--until-next", "9h", "--periapsis", "60km"],
        ]
        .concat(),
    );
    let said = flat(&run.stderr);
    assert_eq!(run.status.code(), Some(2), "{said}{}", text(&run.stdout));
    assert!(said.contains("no flight aimed at 60.000 km"), "{said}");
    let near = periband(
        &folder.0,
        &[
            &["learn", &example(), "--flight", &log][..],
            &["--until-next", "9h", "--periapsis", "53km"],
        ]
        .concat(),
    );
    let said = flat(&near.stdout);
    assert!(
        said.starts_with("In doubt: the error of the periapsis altitude"),
        "{said}"
    );
}

/// The page with limits that can be moved has the run's own answer for when none is.
#[test]
fn a_page_with_nothing_moved_has_the_band_of_the_run() {
    let folder = Folder::new("as-run");
    let file = example();
    let asked = ["--samples", "1500", "--set", "ask.probability=0.99"];
    let run = periband(
        &folder.0,
        &[&["band", &file, "--json"], &asked[..]].concat(),
    );
    let summary: serde_json::Value = serde_json::from_slice(&run.stdout).expect("a summary");
    let page = folder.0.join("out/mars-arrival/band/report.html");
    let page = fs::read_to_string(page).expect("a page");
    let (_, data) = page.split_once("id=\"live-data\">").expect("data");
    let (data, _) = data.split_once("</script>").expect("an end");
    let data: serde_json::Value = serde_json::from_str(data).expect("JSON");
    let (as_run, band) = (&data["asRun"], &summary["safe_periapsis_band_km"]);
    assert!(band["low"].is_number());
    for (page, run) in [
        (&as_run["low"]["at"], &band["low"]),
        (&as_run["high"]["at"], &band["high"]),
        (&as_run["best"], &summary["recommended_periapsis_km"]),
    ] {
        assert_eq!(page, run);
    }
    assert!(
        as_run["held"]
            .as_str()
            .is_some_and(|held| held.ends_with(" %"))
    );
    assert_ne!(as_run["low"]["limit"], as_run["high"]["limit"]);
}
