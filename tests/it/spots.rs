//! Spots on the ship and the roll that spreads heat over its circumference.

use crate::{case_of, examples};
use periband::Case;
use periband::ensemble::{LimitKind, Progress};
use periband::pass::PassResult;
use periband::study::find_band;

fn rolling(with_roll: bool) -> Case {
    let text = std::fs::read_to_string(examples().join("rolling-ship.yaml")).expect("an example");
    let keep = |line: &&str| with_roll || !line.trim_start().starts_with("roll:");
    let text: Vec<&str> = text.lines().filter(keep).collect();
    let mut case = case_of(&text.join("\n"));
    case.scenario.ask.samples = 1000;
    case
}

/// A cylinder broadside that rolls takes 1/π of the flux of its stagnation line on the average (computed:
/// the mean of the cosine over the windward half of a full turn).
#[test]
fn a_roll_leaves_one_over_pi_of_the_stagnation_line_flux() {
    let pass = PassResult {
        peak_heat_flux_w_m2: 1e5,
        ..PassResult::default()
    };
    let flux = |case: &Case| {
        case.problem
            .limits()
            .spot_flux_w_m2(0, &pass, 4.0)
            .expect("a spot")
    };
    let ratio = flux(&rolling(true)) / flux(&rolling(false));
    assert!(
        (ratio * std::f64::consts::PI - 1.0).abs() < 1e-12,
        "{ratio}"
    );
    // The antenna rim is not on the circumference, and has the flux of its own radius.
    let rim = rolling(true)
        .problem
        .limits()
        .spot_flux_w_m2(1, &pass, 4.0)
        .expect("a spot");
    assert!((rim / (1e5 * 8.0_f64.sqrt()) - 1.0).abs() < 1e-12);
}

#[test]
fn the_skin_that_fails_without_the_roll_holds_with_it() {
    let band = |case: &Case| {
        find_band(&case.scenario, &case.problem, &Progress::default())
            .expect("searched")
            .band
    };
    assert!(band(&rolling(true)).is_ok());
    let empty = band(&rolling(false)).expect_err("the flank is too hot");
    let named = [empty.colliding.0, empty.colliding.1];
    assert!(named.contains(&Some(LimitKind::Spot(0))), "{named:?}");
}

/// The flux that the answer names is one with which the band opens: a spot is a limit like any other there.
#[test]
fn a_spot_that_is_too_hot_names_the_flux_that_opens_the_band() {
    let text = std::fs::read_to_string(examples().join("rolling-ship.yaml")).expect("an example");
    let band = |limit: &str| {
        let mut case = case_of(&text.replace("highest_temperature: 1050 K", limit));
        case.scenario.ask.samples = 1000;
        find_band(&case.scenario, &case.problem, &Progress::default())
            .expect("searched")
            .band
    };
    let empty = band("highest_temperature: 900 K").expect_err("the flank is too hot");
    let raises = empty.opening.raises.iter();
    let mut raises = raises.filter(|raise| raise.kind == LimitKind::Spot(0));
    let raise = raises.next().expect("the flank's flux is named");
    assert!(raise.needed > raise.allowed);
    let opened = |share: f64| {
        band(&format!(
            "highest_flux: {:.9} W/cm2",
            share * raise.needed / 1e4
        ))
    };
    assert!(opened(1.0).is_ok(), "{raise:?}");
    assert!(opened(0.95).is_err(), "{raise:?}");
}

/// Mistakes in spots, roll, people and the parts of the air are told with their key.
#[test]
fn mistakes_in_the_new_sections_name_their_keys() {
    let text = std::fs::read_to_string(examples().join("rolling-ship.yaml")).expect("an example");
    for (from, to, key) in [
        (
            "share: 70 %, ",
            "share: 70 %, radius: 2 m, ",
            "ship.spots.0",
        ),
        (
            "emissivity: 0.8",
            "emissivity: 1.2",
            "ship.spots.0.emissivity",
        ),
        ("period: 20 s", "period: 20 km", "ship.roll.period"),
        (
            "peak_deceleration: 1.5 g",
            "people: {curve: nasa-std-3001-deconditoned}",
            "limits.people",
        ),
        (
            "peak_deceleration: 1.5 g",
            "people: {seat: back_to_stream}",
            "limits.people",
        ),
        (
            "density: {world_times: 0.5}",
            "wind: breezy",
            "uncertainty.air.wind",
        ),
        (
            "density: {world_times: 0.5}",
            "small_scale: {std_dev: 5 %}",
            "uncertainty.air.small_scale",
        ),
    ] {
        let wrong = text.replacen(from, to, 1);
        assert_ne!(wrong, text, "{from}");
        let error = periband::Scenario::from_text("bad.yaml", &wrong)
            .map_err(|error| error.to_string())
            .and_then(|scenario| Case::from_scenario(scenario).map_err(|error| error.to_string()))
            .expect_err("a mistake");
        assert!(error.contains(&format!("key:  {key}")), "{error}");
        assert!(error.contains("--> bad.yaml:"), "{error}");
    }
}

/// A preset of the world file moves the density it names, and `check` says so.
#[test]
fn a_preset_of_the_world_is_flown() {
    let text = std::fs::read_to_string(examples().join("rolling-ship.yaml")).expect("an example");
    let dusty = case_of(&text.replacen("world: mars", "world: mars\npresets: [dust-storm]", 1));
    let clear = case_of(&text);
    let at = |case: &Case| case.world.air().lookup(60e3).ln_density;
    assert!((at(&dusty) - at(&clear)).abs() > 0.01);
    assert!(
        dusty
            .scenario
            .describe()
            .join("\n")
            .contains("with dust-storm")
    );
}
