//! The files of a single pass: history, figure, summary, scenario as run, manifest.

use super::error::ReportError;
use super::figure::Figure;
use super::pass_page;
use super::plot::history::History;
use super::plot::walls::{WallCurves, Walls};
use super::run_facts::facts;
use super::table::{Column, write_csv, write_parquet};
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::craft::wall::equilibrium_temperature;
use crate::numeric::quantity::Quantity;
use crate::pass::reference::Moment;
use crate::scenario::steering::Control;
use crate::scenario::wall::WallKind;
use crate::steering::{Knot, Log};
use crate::study::Case;
use crate::study::single::SinglePass;
use crate::study::walls::{SpotHeat, WallMoment};
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Writes the files of a pass under `base` and gives the folder's path; `arguments` fly it again.
///
/// # Errors
/// [`ReportError`] when the folder or a file cannot be written, or the figure not drawn.
pub fn write(
    case: &Case,
    single: &SinglePass,
    summary: &Value,
    (base, arguments): (&Path, &str),
) -> Result<PathBuf, ReportError> {
    let (mut folder, facts) = facts(case, base, ("pass", arguments))?;
    folder.write_json("summary.json", summary)?;
    let mut columns = columns(&single.flown.history);
    if let Some(log) = &single.steered {
        columns.extend(steering_columns(&single.flown.history, log));
    }
    columns.extend(wall_columns(single, |spot| spot.in_air.iter().collect()));
    let notes = [
        ("scenario_sha256".to_owned(), facts.scenario_sha256.clone()),
        (
            "program".to_owned(),
            concat!("periband ", env!("CARGO_PKG_VERSION")).to_owned(),
        ),
    ];
    write_parquet(&folder.file("history.parquet"), &columns, &notes)?;
    folder.note("history.parquet")?;
    write_csv(&folder.file("history.csv"), &columns)?;
    folder.note("history.csv")?;
    let (history, walls) = (figure(case, single), walls_figure(case, single));
    folder.write_figure("history", &history)?;
    let mut drawn: Vec<&dyn Figure> = vec![&history];
    if !single.spots.is_empty() {
        folder.write_figure("walls", &walls)?;
        drawn.push(&walls);
    }
    if single.spots.iter().any(|spot| spot.takes_time) {
        let columns = soak_columns(single);
        write_parquet(&folder.file("walls.parquet"), &columns, &notes)?;
        folder.note("walls.parquet")?;
        write_csv(&folder.file("walls.csv"), &columns)?;
        folder.note("walls.csv")?;
    }
    folder.write_page(&pass_page::page(case, single, &drawn, &facts)?)?;
    Ok(folder.finish(&facts)?)
}

fn columns(history: &[Moment]) -> Vec<Column> {
    let column = |name: &str, of: &dyn Fn(&Moment) -> f64| {
        Column::new(name, history.iter().map(of).collect::<Vec<f64>>())
    };
    vec![
        column("time_s", &|m| m.time_s),
        column("altitude_km", &|m| m.felt.altitude / 1e3),
        column("altitude_rate_m_s", &|m| m.felt.altitude_rate),
        column("relative_speed_m_s", &|m| m.felt.speed),
        column("deceleration_g", &|m| m.felt.deceleration / G0),
        column("deceleration_rate_g_s", &|m| {
            m.felt.deceleration * m.felt.deceleration_log_rate / G0
        }),
        column("dynamic_pressure_kpa", &|m| m.felt.dynamic_pressure / 1e3),
        column("heat_flux_w_cm2", &|m| m.felt.heat_flux / 1e4),
        column("heat_load_j_cm2", &|m| m.state[6] / 1e4),
        column("speed_lost_m_s", &|m| m.state[7]),
        column("x_km", &|m| m.state[0] / 1e3),
        column("y_km", &|m| m.state[1] / 1e3),
        column("z_km", &|m| m.state[2] / 1e3),
        column("inertial_vx_m_s", &|m| m.state[3]),
        column("inertial_vy_m_s", &|m| m.state[4]),
        column("inertial_vz_m_s", &|m| m.state[5]),
    ]
}

/// What the ship had decided at each moment of the history.
fn steering_columns(history: &[Moment], log: &Log) -> Vec<Column> {
    let column = |name: &str, of: &dyn Fn(&Knot) -> f64| {
        let at = |m: &Moment| log.at(m.time_s).map(of).filter(|value| value.is_finite());
        let values = history.iter().map(at);
        Column::new(name, values.collect::<Vec<Option<f64>>>())
    };
    vec![
        column("bank_deg", &|k| k.bank_rad.to_degrees()),
        column("bank_commanded_deg", &|k| k.command_rad.to_degrees()),
        column("drag_over_model", &|k| k.drag_ratio),
        column("predicted_miss", &|k| k.demand),
        column("skirt_on", &|k| f64::from(u8::from(k.skirt_on))),
    ]
}

/// The temperatures of every spot at the moments chosen.
fn wall_columns(
    single: &SinglePass,
    chosen: impl Fn(&SpotHeat) -> Vec<&WallMoment>,
) -> Vec<Column> {
    let mut columns = Vec::new();
    for (index, spot) in single.spots.iter().enumerate() {
        let moments = chosen(spot);
        let name = column_name(single, index);
        let list = |of: fn(&WallMoment) -> f64| -> Vec<f64> {
            moments.iter().map(|moment| of(moment)).collect()
        };
        columns.push(Column::new(
            format!("{name}_surface_k"),
            list(|moment| moment.surface_k),
        ));
        if spot.back.is_some() {
            columns.push(Column::new(
                format!("{name}_back_k"),
                list(|moment| moment.back_k.unwrap_or(f64::NAN)),
            ));
        }
    }
    columns
}

/// Time and temperatures from the start of the pass to the end of the soak.
fn soak_columns(single: &SinglePass) -> Vec<Column> {
    let all = |spot: &SpotHeat| -> Vec<WallMoment> {
        spot.in_air.iter().chain(&spot.soaked).copied().collect()
    };
    let times = single.spots.first().map(&all).unwrap_or_default();
    let time: Vec<f64> = times.iter().map(|moment| moment.time_s).collect();
    let mut columns = vec![Column::new("time_s", time)];
    columns.extend(wall_columns(single, |spot| {
        spot.in_air.iter().chain(&spot.soaked).collect()
    }));
    columns
}

/// The spot's name as part of a column's: small letters, digits and underscores, unlike that of any other spot.
fn column_name(single: &SinglePass, index: usize) -> String {
    let plain = |name: &str| -> String {
        let simple = |c: char| {
            if c.is_ascii_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '_'
            }
        };
        name.chars().map(simple).collect()
    };
    let name = plain(&single.spots[index].name);
    let same = |spot: &&SpotHeat| plain(&spot.name) == name;
    if single.spots.iter().filter(same).count() > 1 {
        format!("{name}_{}", index + 1)
    } else {
        name
    }
}

fn walls_figure(case: &Case, single: &SinglePass) -> Walls {
    let curves = |(index, spot): (usize, &SpotHeat)| {
        let spec = &case.scenario.ship.spots[index];
        let all = || spot.in_air.iter().chain(&spot.soaked);
        let balance = |moment: &Moment| {
            let nose_m = single.nose.at(moment.time_s);
            let factor = case.problem.limits().spot_factor(index, nose_m);
            let flux = factor.unwrap_or(0.0) * moment.felt.heat_flux;
            let kelvin = equilibrium_temperature(flux, spec.emissivity, spec.wall.background_k);
            (moment.time_s, kelvin)
        };
        let history = &single.flown.history;
        WallCurves {
            name: spot.name.clone(),
            surface: all().map(|m| (m.time_s, m.surface_k)).collect(),
            balance: if spot.takes_time {
                history.iter().map(balance).collect()
            } else {
                Vec::new()
            },
            back: all().filter_map(|m| Some((m.time_s, m.back_k?))).collect(),
            surface_limit_k: spec.highest_temperature_k,
            back_limit_k: match spec.wall.kind {
                WallKind::Slab { highest_back_k, .. } => highest_back_k,
                WallKind::RadiativeEquilibrium | WallKind::Thin { .. } => None,
            },
        }
    };
    Walls {
        title: case.scenario.title.clone(),
        note: note(case, single),
        spots: single.spots.iter().enumerate().map(curves).collect(),
        pass_end_s: single.flown.result.duration_s,
    }
}

fn note(case: &Case, single: &SinglePass) -> String {
    format!(
        "aimed at {:.3} km over {}",
        single.aim_m / 1e3,
        case.world.body().name
    )
}

fn figure(case: &Case, single: &SinglePass) -> History {
    let history = &single.flown.history;
    let list = |of: &dyn Fn(&Moment) -> f64| history.iter().map(of).collect::<Vec<f64>>();
    let banks = case
        .scenario
        .steering
        .is_some_and(|s| matches!(s.control, Control::Bank(_)));
    let log = single.steered.as_ref();
    let angles = |of: &dyn Fn(&Knot) -> f64| -> Vec<f64> {
        let Some(log) = log.filter(|_| banks) else {
            return Vec::new();
        };
        let at = |m: &Moment| log.at(m.time_s).map_or(f64::NAN, of);
        history.iter().map(at).collect()
    };
    let dropped = log.and_then(Log::dropped_s);
    History {
        title: case.scenario.title.clone(),
        note: note(case, single),
        time_s: list(&|m| m.time_s),
        time_from: String::new(),
        altitude_m: list(&|m| m.felt.altitude),
        relative_speed_m_s: list(&|m| m.felt.speed),
        deceleration_m_s2: list(&|m| m.felt.deceleration),
        heat_flux_w_m2: list(&|m| m.felt.heat_flux),
        bank_rad: angles(&|knot| knot.bank_rad),
        commanded_rad: angles(&|knot| knot.command_rad),
        moments: dropped
            .map(|at| (at, "skirt dropped".to_owned()))
            .into_iter()
            .collect(),
        deceleration_limit_m_s2: case.scenario.limits.on(Quantity::PeakDeceleration),
        heat_flux_limit_w_m2: case.scenario.limits.on(Quantity::PeakHeatFlux),
    }
}
