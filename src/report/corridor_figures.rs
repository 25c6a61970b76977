//! The figures of a corridor study beside those of its edges, from its results.

use super::corridor_edges::Measure;
use super::corridor_words::{colour_key, demand_name, energy_axis};
use super::plot::lines::{Area, Lines, Series};
use super::plot::tiles::Tiles;
use crate::ensemble::LimitKind;
use crate::study::Case;
use crate::study::corridor::exits::Exit;
use crate::study::corridor::stretch::{Edge, Stretch, widest};
use crate::study::corridor::{CorridorResult, lift_to_drag};

/// Most deliveries drawn as points.
const MOST_DOTS: usize = 400;

/// The delivered spread over the edges about the scenario's own entry speed; none without a spread in both.
#[must_use]
pub fn delivery(case: &Case, result: &CorridorResult) -> Option<Lines> {
    let (delivered, own) = (result.delivered.as_ref()?, result.own()?);
    let ellipse = delivered.ellipse?;
    let speeds = delivered.points.iter().map(|p| p.0 / 1e3);
    let (low, high) = speeds.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| {
        (a.min(v), b.max(v))
    });
    let room = 0.3 * (high - low);
    let (low, high) = (low - room, high + room);
    let middle = own.entry_speed_m_s / 1e3;
    // The edges are nearly straight over so small a range: from the neighbours of the own arrival.
    let sides = |pick: fn((Edge, Edge)) -> Edge| -> Vec<(f64, f64)> {
        let points: Vec<(f64, f64)> = result
            .arrivals
            .iter()
            .filter_map(|at| {
                let aim = pick(at.corridor.edges()?).aim_m;
                Some((at.entry_speed_m_s / 1e3, Measure::Angle.of(case, aim, at)))
            })
            .collect();
        [low, middle, high]
            .map(|speed| (speed, between(&points, speed)))
            .to_vec()
    };
    let (lower, upper) = (sides(|edges| edges.0), sides(|edges| edges.1));
    let outline = |share: f64| {
        let outline = ellipse.outline(share).into_iter();
        outline
            .map(|(speed, angle)| (speed / 1e3, angle.to_degrees()))
            .collect::<Vec<_>>()
    };
    let open = own.corridor.open().is_some();
    let name = corridor_name(case);
    Some(Lines {
        title: format!("The delivery in the {name}"),
        note: format!(
            "aimed at {:.2} km, the middle; points: some of {} deliveries, ellipses: a normal distribution of their spread",
            delivered.aim_m / 1e3,
            delivered.points.len()
        ),
        x_title: "inertial speed at the entry interface, km/s".to_owned(),
        y_title: Measure::Angle.title().to_owned(),
        areas: if open {
            vec![Area {
                name: name.to_owned(),
                low: lower.clone(),
                high: upper.clone(),
                ..Area::default()
            }]
        } else {
            Vec::new()
        },
        series: [
            ("steep edge", "peak_deceleration", lower),
            ("shallow edge", "captured_below", upper),
            ("50 %", "", outline(0.5)),
            ("95 %", "", outline(0.95)),
            ("99.73 %", "", outline(0.9973)),
        ]
        .into_iter()
        .map(|(name, key, points)| Series {
            name: name.to_owned(),
            points,
            limit_key: key.to_owned(),
        })
        .collect(),
        dots: delivered
            .points
            .iter()
            .take(MOST_DOTS)
            .map(|(speed, angle)| (speed / 1e3, angle.to_degrees()))
            .collect(),
        ..Lines::default()
    })
}

/// What the shaded stretch is: for a ship with lift no one flight need hold all of it.
fn corridor_name(case: &Case) -> &'static str {
    if lift_to_drag(&case.problem) > 0.0 {
        "upper bound of the corridor"
    } else {
        "corridor"
    }
}

/// The value at a place, straight between the points and beyond them.
fn between(points: &[(f64, f64)], at: f64) -> f64 {
    match points {
        [] => f64::NAN,
        [only] => only.1,
        _ => {
            let after = points
                .partition_point(|p| p.0 < at)
                .clamp(1, points.len() - 1);
            let (a, b) = (points[after - 1], points[after]);
            a.1 + (b.1 - a.1) * (at - a.0) / (b.0 - a.0)
        }
    }
}

/// Where one bank held throughout meets all limits, against the bank.
#[must_use]
pub fn banks(case: &Case, result: &CorridorResult) -> Option<Lines> {
    if lift_to_drag(&case.problem) <= 0.0 {
        return None;
    }
    let own = result.own()?;
    let mut curves = Vec::new();
    for (number, &demand) in result.demands.iter().enumerate() {
        for pick in [
            (|held: &[Stretch]| held.first().map(|s| s.low)) as fn(&[Stretch]) -> Option<Edge>,
            |held: &[Stretch]| held.last().map(|s| s.high),
        ] {
            let points: Vec<(f64, f64)> = result
                .banks
                .iter()
                .map(|held| {
                    let edge = pick(&held.traced.held[number]);
                    let edge = edge.filter(|edge| edge.owner.is_some());
                    let km = edge.map_or(f64::NAN, |edge| edge.aim_m / 1e3);
                    (held.bank_rad.to_degrees(), km)
                })
                .collect();
            if points.iter().any(|point| point.1.is_finite()) {
                curves.push(Series {
                    name: demand_name(case, demand),
                    points,
                    limit_key: colour_key(demand).to_owned(),
                });
            }
        }
    }
    let side = |pick: fn(Stretch) -> Edge| -> Vec<(f64, f64)> {
        let banks = result.banks.iter();
        banks
            .map(|held| {
                let km = widest(&held.all).map_or(f64::NAN, |s| pick(s).aim_m / 1e3);
                (held.bank_rad.to_degrees(), km)
            })
            .collect()
    };
    let covered = super::coverage_words::is_covered(case);
    Some(Lines {
        title: "One bank held throughout".to_owned(),
        note: format!(
            "at {:.3} km/s; {}",
            own.entry_speed_m_s / 1e3,
            if result.one_bank.is_some() {
                if covered {
                    "shaded: all limits hold together"
                } else {
                    "shaded: the limits hold together, as far as they are covered"
                }
            } else {
                "no bank holds all limits together at any aim"
            }
        ),
        x_title: if case.problem.reference_coefficients().1 < 0.0 {
            "bank angle, deg (0: lift down, 180: lift up)".to_owned()
        } else {
            "bank angle, deg (0: lift up, 180: lift down)".to_owned()
        },
        y_title: Measure::Periapsis.title().to_owned(),
        areas: vec![Area {
            name: if covered {
                "all limits hold"
            } else {
                "the limits hold, as far as covered"
            }
            .to_owned(),
            low: side(|s| s.low),
            high: side(|s| s.high),
            ..Area::default()
        }],
        series: curves,
        ..Lines::default()
    })
}

/// What is left after the pass against the aim: the apoapsis, or the exit speed where none is captured.
#[must_use]
pub fn exits(case: &Case, result: &CorridorResult) -> Option<Lines> {
    let exits = result.exits.as_ref()?;
    let captured = exits.flights.iter().any(|(_, points)| {
        points
            .iter()
            .filter(|exit| exit.apoapsis_m.is_some())
            .count()
            > 2
    });
    let value = |exit: &Exit| {
        if captured {
            exit.apoapsis_m.map(|m| m / 1e3)
        } else {
            exit.speed_m_s.map(|v| v / 1e3)
        }
    };
    let series: Vec<Series> = exits
        .flights
        .iter()
        .map(|(bank, points)| Series {
            name: super::corridor_words::bank_words(*bank),
            points: points
                .iter()
                .map(|exit| (exit.aim_m / 1e3, value(exit).unwrap_or(f64::NAN)))
                .collect(),
            ..Series::default()
        })
        .filter(|series| series.points.iter().any(|point| point.1.is_finite()))
        .collect();
    if series.is_empty() {
        return None;
    }
    let open = result.own().and_then(|own| own.corridor.open());
    Some(Lines {
        title: if captured {
            "Apoapsis after the pass against the aim".to_owned()
        } else {
            "Speed after the pass against the aim".to_owned()
        },
        note: "each flown with its bank held; where a curve ends the ship comes down or escapes"
            .to_owned(),
        x_title: "aim periapsis altitude, km".to_owned(),
        y_title: if captured {
            "apoapsis altitude, km".to_owned()
        } else {
            "inertial exit speed, km/s".to_owned()
        },
        logarithmic: captured,
        series,
        levels: case
            .scenario
            .limits
            .allowed(LimitKind::CapturedBelow)
            .filter(|_| captured)
            .map(|m| ("apoapsis allowed".to_owned(), m / 1e3))
            .into_iter()
            .collect(),
        spans: open
            .map(|open| {
                (
                    corridor_name(case).to_owned(),
                    open.low.aim_m / 1e3,
                    open.high.aim_m / 1e3,
                )
            })
            .into_iter()
            .collect(),
        ..Lines::default()
    })
}

/// The width of the corridor over lift-to-drag and arrival.
#[must_use]
pub fn map(case: &Case, result: &CorridorResult) -> Option<Tiles> {
    if result.map.is_empty() {
        return None;
    }
    let (_, axis, unit) = energy_axis(case);
    let mut lifts: Vec<f64> = result.map.iter().map(|cell| cell.lift_to_drag).collect();
    lifts.dedup();
    let row = |lift: f64| -> Vec<Option<f64>> {
        (0..result.arrivals.len())
            .map(|arrival| {
                let mut cells = result.map.iter();
                let cell =
                    cells.find(|cell| cell.lift_to_drag == lift && cell.arrival == arrival)?;
                cell.corridor.width_m().map(|m| m / 1e3)
            })
            .collect()
    };
    let own_lift = lift_to_drag(&case.problem);
    let nearest = |values: &[f64], wanted: f64| {
        let places = values.iter().enumerate();
        places
            .min_by(|a, b| (a.1 - wanted).abs().total_cmp(&(b.1 - wanted).abs()))
            .map(|(place, value)| (place, (value - wanted).abs()))
    };
    let column = result.arrivals.iter().position(|at| at.nominal);
    let marked = column
        .zip(nearest(&lifts, own_lift))
        .filter(|(_, (_, away))| *away < 0.01 * own_lift.max(0.1))
        .map(|(column, (row, _))| (column, row));
    Some(Tiles {
        title: "Upper bound of the corridor's width over lift-to-drag and arrival, km".to_owned(),
        note: format!(
            "in vacuum periapsis; negative: the edges have crossed{}",
            if marked.is_some() {
                "; framed: this ship and arrival"
            } else {
                ""
            }
        ),
        x_title: axis.to_owned(),
        y_title: "lift-to-drag ratio".to_owned(),
        x: result.arrivals.iter().map(|at| at.energy / unit).collect(),
        rows: lifts.iter().map(|&lift| row(lift)).collect(),
        y: lifts,
        marked,
    })
}
