//! What `corridor` says on the screen: the answer in a few sentences, then the tables.

use super::corridor_words::{
    aim_words, bank_words, closed_words, demand_name, edge_words, energy_axis,
};
use super::coverage_words;
use super::grid::{Cell, Grid, Tone};
use super::number::{count, percent, significant, trimmed};
use super::text::Terminal;
use crate::ensemble::problem::Numbers;
use crate::pass::Ending;
use crate::study::Case;
use crate::study::corridor::exits::Exit;
use crate::study::corridor::stretch::{Edge, Stretch};
use crate::study::corridor::{AtArrival, Corridor, CorridorResult, angle_at, lift_to_drag};
use std::fmt::Write as _;

/// The answer in a few sentences a person can act on.
#[must_use]
pub fn answer(case: &Case, result: &CorridorResult) -> String {
    let Some(own) = result.own() else {
        return String::new();
    };
    let mut text = own_corridor(case, result, own);
    let lifts = lift_to_drag(&case.problem) > 0.0;
    if lifts && own.corridor.open().is_some() {
        text = format!("Upper bound: {text}");
        text += &held_by_one(result);
    }
    let width = |corridor: &Corridor| corridor.open().map(|stretch| stretch.width_m() / 1e3);
    if lifts {
        match width(&own.without_lift) {
            Some(width) => {
                let _ = write!(text, " Without lift it would be {} km wide.", wide(width));
            }
            None => text.push_str(" Without lift there would be none."),
        }
        text += &one_bank(case, result, own);
    }
    text += &delivery(case, result);
    text + &super::remarks::remarks(case)
}

/// Spreads below this are rounding, rad.
const LEAST_SPREAD_RAD: f64 = 1e-9;

/// A width in km.
fn wide(km: f64) -> String {
    if km.abs() < 10.0 {
        format!("{km:.2}")
    } else {
        format!("{km:.1}")
    }
}

fn own_corridor(case: &Case, result: &CorridorResult, own: &AtArrival) -> String {
    let speed = significant(own.entry_speed_m_s / 1e3, 4);
    let bound = lift_to_drag(&case.problem) > 0.0 && own.corridor.open().is_some();
    let (at, is) = if bound {
        ("at", "the corridor is at most")
    } else {
        ("At", "the corridor is")
    };
    let at = format!("{at} {speed} km/s at the interface");
    if let Some(stretch) = own.corridor.open() {
        let edge = |edge: Edge, side: &str| match edge_words(case, &result.demands, edge) {
            Some(words) => format!("{side}: {words}"),
            None if side == "below it" => format!("{side} the search ends"),
            None => format!("{side} the ship stays out of the air"),
        };
        return format!(
            "{at} {is} {} km wide, from {} to {}; {}; {}.",
            wide(stretch.width_m() / 1e3),
            aim_words(case, stretch.low.aim_m, &own.numbers),
            aim_words(case, stretch.high.aim_m, &own.numbers),
            edge(stretch.low, "below it"),
            edge(stretch.high, "above it"),
        );
    }
    let why = closed_words(case, &result.demands, &own.corridor).unwrap_or_default();
    format!("{at} there is no corridor: {why}.")
}

/// What one bank holds of the deliveries, beside the upper bound.
fn held_by_one(result: &CorridorResult) -> String {
    let Some(one) = &result.held_by_one else {
        return String::new();
    };
    let share = percent(super::whole::real(one.held) / super::whole::real(one.deliveries.max(1)));
    let flown = count(one.deliveries);
    if one.held == 0 {
        return format!(
            " Of {flown} deliveries no bank held throughout holds every limit in any: each edge is that of another flight."
        );
    }
    format!(
        " One bank held throughout holds every limit in {share} of {flown} deliveries at the most ({} deg, aimed at {:.2} \
         km): each edge is that of another flight.",
        trimmed(one.bank_rad.to_degrees(), 4),
        one.aim_m / 1e3,
    )
}

fn one_bank(case: &Case, result: &CorridorResult, own: &AtArrival) -> String {
    match (result.one_bank, own.corridor.open()) {
        (Some(one), _) => format!(
            " One bank held throughout meets all limits{} from {} to {}; beyond that the ship has to steer.",
            if coverage_words::is_covered(case) {
                ""
            } else {
                ", as far as they are covered,"
            },
            aim_words(case, one.low.aim_m, &own.numbers),
            aim_words(case, one.high.aim_m, &own.numbers),
        ),
        (None, Some(_)) => {
            " No bank held throughout meets all limits together at any aim: only a ship that steers could, and \
             whether it can `band` with `steering` shows."
                .to_owned()
        }
        (None, None) => String::new(),
    }
}

fn delivery(case: &Case, result: &CorridorResult) -> String {
    let (Some(delivered), Some(own)) = (&result.delivered, result.own()) else {
        return String::new();
    };
    let Some(stretch) = own.corridor.open() else {
        return String::new();
    };
    let angle = |aim_m: f64| angle_at(&case.problem, aim_m, &own.numbers);
    let (Some(low), Some(high), Some(middle)) = (
        angle(stretch.low.aim_m),
        angle(stretch.high.aim_m),
        angle(delivered.aim_m),
    ) else {
        return String::new();
    };
    let sigma = delivered.angle_sigma_rad;
    if sigma <= LEAST_SPREAD_RAD {
        return String::new();
    }
    let least = ((middle - low) / sigma).min((high - middle) / sigma);
    let inside = if lift_to_drag(&case.problem) > 0.0 {
        "inside the upper bound, which no flight need hold"
    } else {
        "inside"
    };
    format!(
        " The delivered angle is spread by {} deg (one sigma): aimed at the middle, the nearer edge is {} sigma away, \
         and {} of the deliveries lie {inside}.",
        significant(sigma.to_degrees(), 2),
        if least > 99.0 {
            "more than 99".to_owned()
        } else {
            significant(least, 2)
        },
        percent(super::whole::real(delivered.inside) / super::whole::real(delivered.samples)),
    )
}

/// All tables for the screen.
#[must_use]
pub fn tables(terminal: &Terminal, case: &Case, result: &CorridorResult) -> String {
    let mut text = String::new();
    if lift_to_drag(&case.problem) > 0.0 {
        text += "Upper bound by arrival: each edge by full lift up or full lift down\n";
    }
    text += &terminal.table(&by_arrival(case, result));
    let edges = edges(case, result);
    if !edges.is_empty() {
        text += "\nEdges of each limit at the scenario's own arrival (–: none in the search)\n";
        text += &terminal.table(&edges);
    }
    let exits = sensitivity(result);
    if !exits.is_empty() {
        text += "\nWhat the exit makes of the aim\n";
        text += &terminal.table(&exits);
    }
    text
}

/// The corridor against the arrival.
#[must_use]
pub fn by_arrival(case: &Case, result: &CorridorResult) -> Grid {
    let (_, axis, unit) = energy_axis(case);
    let lifts = lift_to_drag(&case.problem) > 0.0;
    let mut grid = Grid::new()
        .numbers(axis)
        .numbers("at the interface, km/s")
        .numbers("steep edge, km")
        .numbers("deg")
        .numbers("shallow edge, km")
        .numbers("deg")
        .numbers("width, km")
        .numbers("deg");
    if lifts {
        grid = grid.numbers("without lift, km");
    }
    for at in &result.arrivals {
        let tone = if at.nominal {
            Tone::Strong
        } else {
            Tone::Plain
        };
        let degrees = |aim_m: f64| degrees(case, aim_m, &at.numbers);
        let mut row = vec![
            trimmed(at.energy / unit, 5),
            format!("{:.3}", at.entry_speed_m_s / 1e3),
        ];
        match at.corridor.edges() {
            Some((low, high)) => {
                let width_deg = degrees(high.aim_m) - degrees(low.aim_m);
                row.extend([
                    format!("{:.2}", low.aim_m / 1e3),
                    format!("{:.3}", degrees(low.aim_m)),
                    format!("{:.2}", high.aim_m / 1e3),
                    format!("{:.3}", degrees(high.aim_m)),
                    format!("{:.2}", (high.aim_m - low.aim_m) / 1e3),
                    format!("{width_deg:.3}"),
                ]);
            }
            None => row.extend(["", "", "", "", "none", ""].map(str::to_owned)),
        }
        let without = lifts.then(|| {
            at.without_lift
                .width_m()
                .filter(|m| m.abs() >= 5.0)
                .map_or_else(|| "none".to_owned(), |m| format!("{:.2}", m / 1e3))
        });
        row.extend(without);
        grid.row(row.into_iter().map(|text| Cell::new(text, tone)));
    }
    grid
}

fn degrees(case: &Case, aim_m: f64, numbers: &Numbers) -> f64 {
    angle_at(&case.problem, aim_m, numbers).map_or(f64::NAN, f64::to_degrees)
}

/// The edges of each limit at the own arrival, lift up and lift down.
#[must_use]
pub fn edges(case: &Case, result: &CorridorResult) -> Grid {
    let mut grid = Grid::new()
        .words("limit")
        .words("flown")
        .numbers("holds from, km")
        .numbers("deg")
        .numbers("to, km")
        .numbers("deg");
    let Some(own) = result.own() else {
        return grid;
    };
    let lifts = lift_to_drag(&case.problem) > 0.0;
    let flights: &[_] = if lifts {
        &[("lift up", &own.up), ("lift down", &own.down)]
    } else {
        &[("no lift", &own.up)]
    };
    for (number, &demand) in result.demands.iter().enumerate() {
        for (flown, traced) in flights {
            let name = demand_name(case, demand);
            let stretches: &[Stretch] = &traced.held[number];
            if stretches.is_empty() {
                grid.row([name.as_str(), flown, "never", "", "", ""]);
            }
            for stretch in stretches {
                let end = |edge: Edge| match edge.owner {
                    Some(_) => (
                        format!("{:.3}", edge.aim_m / 1e3),
                        format!("{:.3}", degrees(case, edge.aim_m, &own.numbers)),
                    ),
                    None => ("–".to_owned(), String::new()),
                };
                let (low, high) = (end(stretch.low), end(stretch.high));
                grid.row([
                    name.clone(),
                    (*flown).to_owned(),
                    low.0,
                    low.1,
                    high.0,
                    high.1,
                ]);
            }
        }
    }
    grid
}

/// What the exit makes of the aim: at the edges and the middle of the corridor.
#[must_use]
pub fn sensitivity(result: &CorridorResult) -> Grid {
    let mut grid = Grid::new()
        .words("flown")
        .words("at the")
        .numbers("aim, km")
        .words("ending")
        .numbers("exit speed, km/s")
        .numbers("m/s per km of aim")
        .numbers("apoapsis, km")
        .numbers("km per km of aim");
    let Some(exits) = &result.exits else {
        return grid;
    };
    let shown = |value: Option<f64>, digits| {
        value.map_or_else(|| "–".to_owned(), |v| significant(v, digits))
    };
    for (bank, at) in &exits.at {
        for (place, exit) in ["steep edge", "middle", "shallow edge"].iter().zip(at) {
            grid.row([
                bank_words(*bank),
                (*place).to_owned(),
                format!("{:.2}", exit.aim_m / 1e3),
                ending_words(exit).to_owned(),
                shown(exit.speed_m_s.map(|v| v / 1e3), 4),
                shown(exit.speed_per_m.map(|v| v * 1e3), 3),
                shown(exit.apoapsis_m.map(|m| m / 1e3), 5),
                shown(exit.apoapsis_per_m, 3),
            ]);
        }
    }
    grid
}

fn ending_words(exit: &Exit) -> &'static str {
    match exit.ending {
        Ending::Captured => "captured",
        Ending::Escaped => "escapes",
        Ending::Landed => "comes down",
        Ending::OutOfTime => "still in the air",
        Ending::Failed => "failed",
        Ending::NoApproach => "no approach",
    }
}
