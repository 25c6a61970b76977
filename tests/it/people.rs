//! Limits for the people aboard: which axis of the seat is held against what, and what `check` asks for.

use crate::{case_of, examples};
use periband::Case;
use periband::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use periband::craft::people::SeatAxis;
use periband::ensemble::LimitKind;
use periband::pass::trace::Trace;
use periband::pass::{Ending, PassResult};
use periband::report::people_words;
use periband::scenario::Scenario;

/// The rolling ship with this `people` limit and lift-to-drag ratio.
fn text(people: &str, lift_to_drag: f64) -> String {
    let text = std::fs::read_to_string(examples().join("rolling-ship.yaml")).expect("an example");
    let lift = format!("drag_coefficient: 1.2\n  lift_to_drag: {lift_to_drag}");
    text.replacen("peak_deceleration: 1.5 g", people, 1)
        .replacen("drag_coefficient: 1.2", &lift, 1)
}

/// A pass that felt so many g for half a second.
fn held(case: &Case, level_g: f64) -> PassResult {
    let trace = Trace::held(level_g * G0, 0.5);
    PassResult {
        peak_deceleration_m_s2: level_g * G0,
        exposure: case.problem.settings().curves.exposure(&trace),
        ..PassResult::default()
    }
}

fn broken(case: &Case, pass: &PassResult) -> bool {
    let limits = case.problem.limits();
    let numbers = case.problem.judging_numbers(0);
    let mut kinds = limits.entries().iter().map(|limit| limit.kind);
    let place = kinds.position(|kind| kind == LimitKind::People);
    let pass = PassResult {
        ending: Ending::Captured,
        ..*pass
    };
    limits.broken(&pass, &numbers) >> place.expect("a limit for people") & 1 == 1
}

fn case(people: &str, lift_to_drag: f64) -> Case {
    case_of(&text(people, lift_to_drag))
}

/// Lift acts across the stream: of a ship with L/D 0.3 the people on their backs feel 0.3/√1.09 = 28.7 % of what is
/// sensed toward the head (computed), for which no curve is published here.
#[test]
fn axes_without_a_published_curve_are_named_with_what_to_do() {
    let curve = "people: {curve: nasa-std-3001-deconditioned}";
    let remarks = people_words::remarks(&case(curve, 0.3)).join("\n");
    assert!(
        remarks.contains("+Gx (chest to back) takes 95.8 %"),
        "{remarks}"
    );
    assert!(remarks.contains("[V2 6064]"), "{remarks}");
    assert!(
        remarks.contains("+Gz (toward the head) takes 28.7 %"),
        "{remarks}"
    );
    assert!(remarks.contains("Give your own points"), "{remarks}");
    for axis in ["-Gx", "+Gy", "-Gy", "+Gz", "-Gz"] {
        assert!(remarks.contains(axis), "{axis}: {remarks}");
    }
    // Without lift nothing acts across the seat, and only the axes in general are named.
    let plain = people_words::remarks(&case(curve, 0.0));
    assert_eq!(plain.len(), 2, "{plain:?}");
    assert!(plain[1].contains("-Gx, +Gy, -Gy, +Gz and -Gz need your own points"));
    // Leaned back by 30 deg without lift: sin 30 deg = 50 % toward the feet (computed).
    let leaned = case(
        "people: {curve: nasa-std-3001-deconditioned, recline: 30 deg}",
        0.0,
    );
    let remarks = people_words::remarks(&leaned).join("\n");
    assert!(
        remarks.contains("-Gz (toward the feet) takes 50.0 %"),
        "{remarks}"
    );
}

#[test]
fn points_for_another_axis_hold_it() {
    let people = "people: {curve: nasa-std-3001-deconditioned, other_axes: {+Gz: [[1 s, 1 g], [60 s, 0.5 g]]}}";
    let case = case(people, 0.3);
    let watch = case.problem.limits().people().expect("a watch");
    assert_eq!(watch.symbols(), ["+Gx", "+Gz"]);
    assert_eq!(watch.unwatched(), []);
    // 1 g along +Gz is 1/0.2873 = 3.48 g sensed in all; along +Gx that is far within its curve.
    let share = 0.3 / 1.09_f64.sqrt();
    let peaking = |g: f64| held(&case, g);
    assert!(!broken(&case, &peaking(0.999 / share)));
    assert!(broken(&case, &peaking(1.001 / share)));
    let described = case.scenario.describe().join(" ");
    let described = described.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        described.contains("curves of their own along +Gz"),
        "{described}"
    );
}

/// 0.35 g for seated people in ground transport (ASCE 21, from memory): a level that may not be passed at all.
#[test]
fn a_level_of_comfort_is_a_choice_for_untrained_people() {
    for seat in ["back_to_stream", "facing_stream"] {
        let case = case(
            &format!("people: {{curve: asce-21-seated, seat: {seat}}}"),
            0.0,
        );
        let peaking = |g: f64| held(&case, g);
        assert!(!broken(&case, &peaking(0.349)));
        assert!(broken(&case, &peaking(0.351)));
    }
    let axis = case("people: {curve: asce-21-seated}", 0.0);
    let first = axis
        .problem
        .limits()
        .people()
        .and_then(|w| w.watched().next());
    assert_eq!(first.map(|(axis, ..)| axis), Some(SeatAxis::PlusX));
}

#[test]
fn passengers_without_a_curve_are_told_that_it_is_their_choice() {
    let remarks = people_words::remarks(&case("peak_deceleration: 1.5 g", 0.0));
    assert_eq!(remarks.len(), 1);
    assert!(remarks[0].contains("The 40 passengers are held against no curve"));
    assert!(remarks[0].contains("your choice"), "{remarks:?}");
    let empty =
        text("peak_deceleration: 1.5 g", 0.0).replacen("passengers: 40", "passengers: 0", 1);
    assert!(people_words::remarks(&case_of(&empty)).is_empty());
}

#[test]
fn mistakes_in_axes_are_told_at_their_keys() {
    for (people, key, words) in [
        (
            "people: {curve: asce-21-seated, other_axes: {Gz: [[1 s, 1 g]]}}",
            "limits.people.other_axes.Gz",
            "+Gx, -Gx",
        ),
        (
            "people: {curve: asce-21-seated, other_axes: {+Gz: []}}",
            "limits.people.other_axes.+Gz",
            "no points",
        ),
        (
            "people: {curve: asce-21-seated, other_axes: {+Gx: [[1 s, 1 g]]}}",
            "limits.people",
            "a curve already",
        ),
        (
            "people: {curve: asce-21-seated, seat: feet_to_stream}",
            "limits.people",
            "give your own durations and levels",
        ),
        ("people: {curve: comfy}", "limits.people", "asce-21-seated"),
        (
            "people: {curve: asce-21-seated, several_peaks: both}",
            "limits.people.several_peaks",
            "`longest_single_stay` or `time_added_up`",
        ),
        (
            "people: {curve: asce-21-seated, level_factor: 0}",
            "limits.people.level_factor",
            "between",
        ),
    ] {
        let error = Scenario::from_text("bad.yaml", &text(people, 0.0))
            .map_err(|error| error.to_string())
            .and_then(|scenario| Case::from_scenario(scenario).map_err(|error| error.to_string()))
            .expect_err(people);
        assert!(error.contains(&format!("key:  {key}")), "{error}");
        assert!(error.contains(words), "{error}");
    }
}
