//! Without any uncertainty the safe band is the entry corridor of the classical theory.

use crate::case_of_file;
use periband::ensemble::{LimitKind, Progress};
use periband::study::{Band, find_band};
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
