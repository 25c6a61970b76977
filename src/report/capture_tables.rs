//! The tables of a comparison of captures, the same on the screen and on the page.

use super::capture_words::{break_name, duration, mass, row_name};
use super::grid::{Cell, Grid, Tone};
use super::number::{percent, significant};
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::verdict::Verdict;
use crate::study::Case;
use crate::study::capture::{Comparison, Costs};

/// What stands where there is no value.
pub(super) const NONE: &str = "–";

/// The main table: what each way costs and risks.
#[must_use]
pub fn costs_grid(case: &Case, comparison: &Comparison) -> Grid {
    let mut grid = Grid::new()
        .numbers("#")
        .words("way")
        .numbers("all hold")
        .numbers("propellant")
        .numbers("delivered")
        .numbers("felt, g")
        .numbers("time")
        .words("set by");
    let best = comparison.best().map(|(place, ..)| place);
    for (place, row) in comparison.rows.iter().enumerate() {
        let tone = if best == Some(place) {
            Tone::Strong
        } else {
            Tone::Plain
        };
        let costs = match &row.costs {
            Ok(costs) => costs,
            Err(obstacle) => {
                grid.row([
                    number(place).into(),
                    Cell::new(row_name(row), tone),
                    Cell::new("closed", Tone::Bad),
                    NONE.into(),
                    NONE.into(),
                    NONE.into(),
                    NONE.into(),
                    format!("closed: {}", obstacle.short()).into(),
                ]);
                continue;
            }
        };
        grid.row([
            number(place).into(),
            Cell::new(row_name(row), tone),
            Cell::new(
                percent(costs.held.estimate),
                if costs.holds() { Tone::Good } else { Tone::Bad },
            ),
            reserve_words(case, costs).into(),
            costs.delivered_kg.map_or(NONE.to_owned(), mass).into(),
            felt(costs.peak_m_s2).into(),
            time_words(costs).into(),
            set_by(case, costs).into(),
        ]);
    }
    grid
}

/// The number by which the tables call a row.
pub(super) fn number(place: usize) -> String {
    (place + 1).to_string()
}

/// What is to be carried, or why no amount is: there is no engine, or too many samples never come to the target.
fn reserve_words(case: &Case, costs: &Costs) -> String {
    match costs.reserve_kg {
        Some(kg) => mass(kg),
        None if case.scenario.ship.engine.is_none() => "no engine".to_owned(),
        None => "no amount".to_owned(),
    }
}

fn shield_words(costs: &Costs) -> String {
    match costs.shield {
        None => "none".to_owned(),
        Some(shield) if shield.in_range => mass(costs.shield_kg),
        Some(_) => format!("{}*", mass(costs.shield_kg)),
    }
}

fn felt(m_s2: f64) -> String {
    if m_s2 > 0.0 {
        significant(m_s2 / G0, 2)
    } else {
        NONE.to_owned()
    }
}

fn time_words(costs: &Costs) -> String {
    let seconds = costs.time_s();
    if seconds.is_finite() {
        duration(seconds)
    } else {
        "never".to_owned()
    }
}

fn set_by(case: &Case, costs: &Costs) -> String {
    match (costs.ruling, costs.verdict) {
        (Some(what), Verdict::Held) => break_name(case, what),
        (None, Verdict::Held) => "propellant".to_owned(),
        (Some(what), Verdict::Broken) => format!("breaks: {}", break_name(case, what)),
        (Some(what), verdict) => format!("{}: {}", verdict.words(), break_name(case, what)),
        // Nothing was broken, and still the interval does not reach what is asked.
        (None, verdict) => verdict.words().to_owned(),
    }
}

/// The second table: what brakes, what is felt, and what each passenger costs.
#[must_use]
pub fn details_grid(case: &Case, comparison: &Comparison) -> Grid {
    let mut grid = Grid::new()
        .numbers("#")
        .numbers("air m/s")
        .numbers("engine m/s")
        .numbers("onset g/s")
        .numbers("flux W/cm²")
        .numbers("load J/cm²")
        .numbers("shield");
    let passengers = f64::from(case.scenario.ship.passengers);
    if passengers > 0.0 {
        grid = grid
            .numbers("propellant kg each")
            .numbers("shield kg each")
            .numbers("delivered kg each");
    }
    for (place, row) in comparison.rows.iter().enumerate() {
        let Ok(costs) = &row.costs else { continue };
        let positive = |value: f64, digits| {
            if value > 0.0 {
                significant(value, digits)
            } else {
                NONE.to_owned()
            }
        };
        let whole = |value: f64| {
            if value > 0.5 {
                format!("{value:.0}")
            } else {
                NONE.to_owned()
            }
        };
        let mut cells = vec![
            number(place),
            whole(costs.air_speed_m_s),
            whole(costs.engine_speed_m_s),
            positive(costs.onset_m_s3 / G0, 2),
            positive(costs.heat_flux_w_m2 / 1e4, 3),
            positive(costs.heat_load_j_m2 / 1e4, 3),
            shield_words(costs),
        ];
        if passengers > 0.0 {
            cells.push(
                costs
                    .reserve_kg
                    .map_or(NONE.to_owned(), |kg| significant(kg / passengers, 3)),
            );
            cells.push(positive(costs.shield_kg / passengers, 3));
            cells.push(
                costs
                    .delivered_kg
                    .map_or(NONE.to_owned(), |kg| significant(kg / passengers, 3)),
            );
        }
        grid.row(cells);
    }
    grid
}
