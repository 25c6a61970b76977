//! The page with limits that can be moved, by the data that its script reads: whatever it can print as a command is
//! taken by the program, and its words are those of the limit.

use crate::cli::{Folder, periband, text};
use serde_json::Value;
use std::fs;

/// A capture with a limit of every kind that has a value to move.
const SCENARIO: &str = "\
title: Every limit at Mars
world: mars
ship:
  mass: 62 t
  reference_area: 310 m2
  drag_coefficient: 1.45
  nose_radius: 3.2 m
  spots:
    - {name: rim, radius: 0.8 m, highest_flux: 60 W/cm2}
arrival:
  hyperbola:
    excess_speed: 2.55 km/s
    inclination: 32 deg
    aim_periapsis: {from: 44 km, to: 58 km, step: 2 km}
uncertainty:
  delivery: {periapsis_altitude: {normal: {std_dev: 0.35 km}}}
  air: {density: {world_times: 0.5}}
limits:
  peak_deceleration: 1.5 g
  onset: 1 g/s
  stay_above: [{level: 1 g, at_most: 90 s}]
  heat_flux: 60 W/cm2
  heat_load: 8000 J/cm2
  dynamic_pressure: 20 kPa
  lowest_altitude: 40 km
  captured_below: {apoapsis_altitude: 150000 km}
  captured_above: {apoapsis_altitude: 3000 km}
ask: {probability: 0.9, samples: 400, seed: 3}
";

/// The page of a band and the data of its script.
fn page(folder: &Folder) -> (String, Value) {
    fs::write(folder.0.join("all.yaml"), SCENARIO).expect("written");
    let run = periband(&folder.0, &["band", "all.yaml", "--quiet"]);
    assert!(run.status.success(), "{}", text(&run.stderr));
    let page = fs::read_to_string(folder.0.join("out/all/band/report.html")).expect("a page");
    let data = page.split("id=\"live-data\">").nth(1).expect("data");
    let data = data.split("</script>").next().expect("an end");
    let data = serde_json::from_str(data).expect("JSON");
    (page, data)
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// The ends of what may be typed, and those of the slider, as the script writes them.
#[test]
fn every_command_of_the_page_is_accepted() {
    let folder = Folder::new("live-commands");
    let (_, data) = page(&folder);
    let mut keys = Vec::new();
    for limit in data["limits"].as_array().expect("limits") {
        let Some(key) = limit["key"].as_str() else {
            continue;
        };
        keys.push(key.to_owned());
        let written = limit["written"].as_str().expect("a unit");
        let values = limit["values"].as_array().expect("values");
        let (least, most) = (number(&limit["least"]), number(&limit["most"]));
        for value in [
            least,
            most,
            number(&values[0]),
            number(&values[values.len() - 1]),
        ] {
            assert!(value >= least && value <= most, "{key}: {value}");
            // The two limits of the apoapsis beside each other are the page's own affair.
            let crossed = match key {
                "limits.captured_below.apoapsis_altitude" => value <= 3000.0,
                "limits.captured_above.apoapsis_altitude" => value >= 150_000.0,
                _ => false,
            };
            if crossed {
                continue;
            }
            for set in [
                format!("{key}={value} {written}"),
                format!("{key}={value:e} {written}"),
            ] {
                let run = periband(&folder.0, &["check", "all.yaml", "--quiet", "--set", &set]);
                assert!(run.status.success(), "{set}: {}", text(&run.stderr));
            }
        }
    }
    for key in [
        "limits.peak_deceleration",
        "limits.onset",
        "limits.stay_above.0.at_most",
        "limits.heat_flux",
        "limits.heat_load",
        "limits.dynamic_pressure",
        "limits.lowest_altitude",
        "limits.captured_below.apoapsis_altitude",
        "limits.captured_above.apoapsis_altitude",
        "ship.spots.0.highest_flux",
    ] {
        assert!(keys.iter().any(|found| found == key), "{key}: {keys:?}");
    }
    for probability in ["0.000001", "0.999999999"] {
        let set = format!("ask.probability={probability}");
        let run = periband(&folder.0, &["check", "all.yaml", "--quiet", "--set", &set]);
        assert!(run.status.success(), "{set}: {}", text(&run.stderr));
    }
}

/// The slider of the least apoapsis says "at least", and what breaks it is an apoapsis below it; a pass that stays in
/// the air has no apoapsis to be wrong.
#[test]
fn the_least_apoapsis_says_at_least() {
    let folder = Folder::new("live-words");
    let (page, data) = page(&folder);
    assert!(page.contains("where captured, the apoapsis at least"));
    let limits = data["limits"].as_array().expect("limits");
    let low = limits
        .iter()
        .find(|limit| limit["key"] == "limits.captured_above.apoapsis_altitude");
    let low = low.expect("the limit");
    assert_eq!(low["broken"], "captured below {} apoapsis");
    assert_eq!(low["ofTheOrbit"], true);
    let others = limits.iter().filter(|limit| limit["ofTheOrbit"] == true);
    assert_eq!(others.count(), 2);
}
