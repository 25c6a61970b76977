//! What was drawn, beside what was flown: a user can check the dispersion from the rows, and fly a row again.

use crate::cli::{Folder, periband, text};
use polars::prelude::{DataFrame, ParquetReader, SerReader};
use serde_json::Value;
use std::fs::{self, File};
use std::path::Path;

const SAMPLES: usize = 4000;

const SCENARIO: &str = "\
title: t
world: mars
ship: {mass: 62 t, reference_area: 310 m2, drag_coefficient: 1.45, nose_radius: 3.2 m}
arrival: {hyperbola: {excess_speed: 2.55 km/s, inclination: 32 deg, aim_periapsis: {from: 50 km, to: 52 km, step: 1 km}}}
uncertainty:
  delivery: {periapsis_altitude: {normal: {std_dev: 350 m}}}
  air:
    density: {world_times: 0.5, mean: 0.2}
    scale_height: {std_dev: 2 %, mean: 1 %}
    wind: {std_dev: 30 m/s}
  heating: {convective: {lognormal: {log_std_dev: 0.1}}, radiative: exact}
  ship.mass: {normal: {std_dev: 1 %}}
  ship.nose_radius: {uniform: {low: 3.0 m, high: 3.4 m}}
  ship.bank: {normal: {std_dev: 2 deg}}
  arrival.hyperbola.excess_speed: {normal: {std_dev: 4 m/s}}
  limits.heat_flux: {normal: {std_dev: 3 %}}
  correlations:
    - {between: [ship.mass, delivery.periapsis_altitude], coefficient: 0.5}
    - {between: [air.density, heating.convective], coefficient: -0.3}
limits: {heat_flux: 60 W/cm2, captured_below: {apoapsis_altitude: 100000 km}}
ask: {samples: 4000, seed: 11, probability: 0.9}
";

/// The mean and the standard deviation that the scenario states, of the value itself or of its logarithm.
const STATED: [(&str, bool, f64, f64); 10] = [
    ("drawn_delivery_periapsis_altitude_m", false, 0.0, 350.0),
    ("drawn_ship_mass_kg", false, 62e3, 620.0),
    // Of a uniform number the width over √12.
    ("drawn_ship_nose_radius_m", false, 3.2, 0.115_470_05),
    ("drawn_ship_bank_deg", false, 0.0, 2.0),
    ("drawn_arrival_excess_speed_m_s", false, 2550.0, 4.0),
    ("drawn_limits_heat_flux_w_cm2", false, 60.0, 1.8),
    // Half the world's one-sigma, expected a fifth of one off the profile.
    ("drawn_air_density_sigmas", false, 0.2, 0.5),
    ("drawn_air_scale_height_error_percent", false, 1.0, 2.0),
    ("drawn_air_wind_m_s", false, 0.0, 30.0),
    ("drawn_heating_convective", true, 0.0, 0.1),
];

fn rows(folder: &Path) -> DataFrame {
    let file = File::open(folder.join("out/mine/band/samples.parquet")).expect("rows");
    ParquetReader::new(file).finish().expect("a table")
}

fn column(table: &DataFrame, name: &str) -> Vec<f64> {
    let column = table.column(name).expect(name);
    let values = column.f64().expect("numbers");
    values.iter().map(|v| v.expect("no null")).collect()
}

fn moments(values: &[f64]) -> (f64, f64) {
    #[allow(clippy::cast_precision_loss)]
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>();
    (mean, (square / (n - 1.0)).sqrt())
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let ((m, s), (k, t)) = (moments(a), moments(b));
    let products = a.iter().zip(b).map(|(x, y)| (x - m) * (y - k));
    #[allow(clippy::cast_precision_loss)]
    let n = a.len() as f64;
    products.sum::<f64>() / ((n - 1.0) * s * t)
}

/// Written by the program, read back with polars: means, spreads and correlations are those of the scenario, to
/// four standard errors of 4000 samples (of a spread √((κ-1)/4n) with the largest kurtosis here, 3).
#[test]
fn what_was_drawn_stands_beside_what_was_flown() {
    let folder = Folder::new("draws");
    fs::write(folder.0.join("mine.yaml"), SCENARIO).expect("a scenario");
    let run = periband(
        &folder.0,
        &["band", "mine.yaml", "--rows", "all", "--draws"],
    );
    assert!(run.status.success(), "{}", text(&run.stderr));
    let table = rows(&folder.0);
    let aims = column(&table, "aim_periapsis_km");
    let at_first = |values: Vec<f64>| -> Vec<f64> {
        let rows = values.into_iter().zip(&aims);
        rows.filter(|(_, aim)| **aim == aims[0])
            .map(|(v, _)| v)
            .collect()
    };
    let root = 4000_f64.sqrt();
    let read = |name: &str| at_first(column(&table, name));
    for (name, of_log, mean, std_dev) in STATED {
        let mut values = read(name);
        if of_log {
            for value in &mut values {
                *value = value.ln();
            }
        }
        assert_eq!(values.len(), SAMPLES, "{name}");
        let (m, s) = moments(&values);
        assert!((m - mean).abs() < 4.0 * std_dev / root, "{name}: mean {m}");
        let off = (s / std_dev - 1.0).abs();
        assert!(off < 4.0 / (2.0_f64.sqrt() * root), "{name}: std dev {s}");
    }
    let names = table.get_column_names();
    let drawn: Vec<_> = names
        .iter()
        .filter(|name| name.starts_with("drawn_"))
        .collect();
    assert_eq!(drawn.len(), STATED.len(), "{drawn:?}");
    let heating: Vec<f64> = read("drawn_heating_convective")
        .iter()
        .map(|f| f.ln())
        .collect();
    let pairs = [
        (
            "mass and periapsis",
            read(STATED[0].0),
            read(STATED[1].0),
            0.5,
        ),
        ("air and heating", read(STATED[6].0), heating, -0.3),
        ("mass and wind", read(STATED[1].0), read(STATED[8].0), 0.0),
    ];
    for (name, a, b, expected) in pairs {
        let found = correlation(&a, &b);
        let error = (1.0 - expected * expected) / root;
        assert!((found - expected).abs() < 4.0 * error, "{name}: {found}");
    }
}

/// Any row is flown again by `pass`: what was drawn is the same, what was flown to the
/// 0.1 % to which the lanes find peaks.
#[test]
fn a_row_with_its_draws_is_flown_again() {
    let folder = Folder::new("draws-again");
    let few = SCENARIO.replace("samples: 4000", "samples: 400");
    fs::write(folder.0.join("mine.yaml"), few).expect("a scenario");
    let run = periband(&folder.0, &["band", "mine.yaml", "--draws"]);
    assert!(run.status.success(), "{}", text(&run.stderr));
    let table = rows(&folder.0);
    let samples = table.column("sample").expect("samples");
    let samples = samples.i64().expect("whole numbers");
    for row in [0, 123, 399] {
        let sample = samples.get(row).expect("a number").to_string();
        let aim = format!("{}km", column(&table, "aim_periapsis_km")[row]);
        let arguments = [
            "pass",
            "mine.yaml",
            "--periapsis",
            &aim,
            "--sample",
            &sample,
            "--json",
        ];
        let run = periband(&folder.0, &arguments);
        assert!(run.status.success(), "{}", text(&run.stderr));
        let again: Value = serde_json::from_slice(&run.stdout).expect("JSON");
        let drawn = again["drawn"].as_object().expect("what was drawn");
        assert_eq!(drawn.len(), STATED.len());
        for (name, value) in drawn {
            let kept = column(&table, &format!("drawn_{name}"))[row];
            // The reader of JSON is right to a bit or two.
            let off = value.as_f64().expect("a number") / kept - 1.0;
            assert!(off.abs() < 1e-15, "{name} of row {row}: {off:e}");
        }
        for name in [
            "peak_deceleration_g",
            "peak_heat_flux_w_cm2",
            "heat_load_j_cm2",
        ] {
            let (kept, flown) = (column(&table, name)[row], again["pass"][name].as_f64());
            let off = flown.expect(name) / kept - 1.0;
            assert!(off.abs() < 1e-3, "{name} of row {row}: {off:e}");
        }
    }
    // The nominal pass draws nothing.
    let run = periband(
        &folder.0,
        &["pass", "mine.yaml", "--periapsis", "51km", "--json"],
    );
    let nominal: Value = serde_json::from_slice(&run.stdout).expect("JSON");
    assert!(nominal["drawn"].is_null());
}

#[test]
fn draws_without_rows_are_refused() {
    let folder = Folder::new("draws-refused");
    fs::write(folder.0.join("mine.yaml"), SCENARIO).expect("a scenario");
    let run = periband(
        &folder.0,
        &["band", "mine.yaml", "--rows", "none", "--draws"],
    );
    assert_eq!(run.status.code(), Some(2));
    let said = text(&run.stderr);
    assert!(said.contains("--rows none writes none"), "{said}");
}
