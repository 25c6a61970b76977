//! The figures of a corridor's edges against the entry speed, in angle and in vacuum periapsis.

use super::corridor_words::{colour_key, demand_name};
use super::plot::lines::{Area, Lines, Series};
use crate::study::Case;
use crate::study::corridor::demand::Bank;
use crate::study::corridor::stretch::{Edge, Stretch, union};
use crate::study::corridor::{AtArrival, Corridor, CorridorResult, angle_at, lift_to_drag};

/// In which measure an edge is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Inertial flight-path angle at the interface, deg.
    Angle,
    /// Vacuum periapsis altitude, km.
    Periapsis,
}

impl Measure {
    pub(super) fn of(self, case: &Case, aim_m: f64, at: &AtArrival) -> f64 {
        match self {
            Self::Angle => {
                angle_at(&case.problem, aim_m, &at.numbers).map_or(f64::NAN, f64::to_degrees)
            }
            Self::Periapsis => aim_m / 1e3,
        }
    }

    pub(super) fn title(self) -> &'static str {
        match self {
            Self::Angle => "inertial flight-path angle at the interface, deg",
            Self::Periapsis => "vacuum periapsis altitude, km",
        }
    }
}

/// The edges against the entry speed, the corridor shaded.
#[must_use]
pub fn against_speed(case: &Case, result: &CorridorResult, measure: Measure) -> Lines {
    let mut figure = Lines {
        title: format!(
            "Upper bound of the entry corridor of a ship with L/D {}",
            lift_words(case)
        ),
        note: "curves: each limit as full lift up or full lift down holds it, not one flight; nominal air and ship"
            .to_owned(),
        x_title: "inertial speed at the entry interface, km/s".to_owned(),
        y_title: measure.title().to_owned(),
        areas: vec![
            region(case, (result, measure), ("upper bound", |at| &at.corridor)),
            Area {
                muted: true,
                ..region(
                    case,
                    (result, measure),
                    ("without lift", |at| &at.without_lift),
                )
            },
        ],
        ..Lines::default()
    };
    if lift_to_drag(&case.problem) <= 0.0 {
        figure.areas.truncate(1);
        "Entry corridor of a ship without lift".clone_into(&mut figure.title);
        "curves: each limit; nominal air and ship".clone_into(&mut figure.note);
        "corridor".clone_into(&mut figure.areas[0].name);
    }
    figure.series = limit_curves(case, result, measure);
    if cut(&mut figure) {
        figure.note += "; edges farther away are in the table";
    }
    if let Some(own) = result.own() {
        figure.places.push((
            format!("this arrival, {:.3} km/s", own.entry_speed_m_s / 1e3),
            own.entry_speed_m_s / 1e3,
        ));
    }
    figure
}

fn lift_words(case: &Case) -> String {
    super::number::trimmed(lift_to_drag(&case.problem), 3)
}

fn region(
    case: &Case,
    (result, measure): (&CorridorResult, Measure),
    (name, of): (&str, fn(&AtArrival) -> &Corridor),
) -> Area {
    let side = |pick: fn(Stretch) -> Edge| {
        let arrivals = result.arrivals.iter();
        arrivals
            .map(|at| {
                let aim = of(at).open().map_or(f64::NAN, |open| pick(open).aim_m);
                (at.entry_speed_m_s / 1e3, measure.of(case, aim, at))
            })
            .collect()
    };
    Area {
        name: name.to_owned(),
        low: side(|open| open.low),
        high: side(|open| open.high),
        ..Area::default()
    }
}

/// For each demand the outermost edges that full lift up or down gives it.
fn limit_curves(case: &Case, result: &CorridorResult, measure: Measure) -> Vec<Series> {
    let mut curves = Vec::new();
    for (number, &demand) in result.demands.iter().enumerate() {
        for (side, pick) in [
            ("from", (|held: &Stretch| held.low) as fn(&Stretch) -> Edge),
            ("to", |held: &Stretch| held.high),
        ] {
            let mut up = false;
            let points: Vec<(f64, f64)> = result
                .arrivals
                .iter()
                .map(|at| {
                    let held = union(&[&at.up.held[number], &at.down.held[number]]);
                    let outer = if side == "from" {
                        held.first()
                    } else {
                        held.last()
                    };
                    let edge = outer.map(pick).filter(|edge| edge.owner.is_some());
                    up |= edge.is_some_and(|edge| matches!(edge.owner, Some((_, Bank::Up))));
                    let aim = edge.map_or(f64::NAN, |edge| edge.aim_m);
                    (at.entry_speed_m_s / 1e3, measure.of(case, aim, at))
                })
                .collect();
            if points.iter().any(|point| point.1.is_finite()) {
                let flown = match (lift_to_drag(&case.problem) > 0.0, up) {
                    (false, _) => "",
                    (true, true) => ", lift up",
                    (true, false) => ", lift down",
                };
                curves.push(Series {
                    name: format!("{}{flown}", demand_name(case, demand)),
                    points,
                    limit_key: colour_key(demand).to_owned(),
                });
            }
        }
    }
    curves
}

/// How far above and below the corridor edges are drawn, in units of its height in the figure.
const ABOVE: f64 = 0.6;
const BELOW: f64 = 1.2;

/// Cuts the curves to the surroundings of the corridor; whether anything was cut.
fn cut(figure: &mut Lines) -> bool {
    let edges = figure
        .areas
        .iter()
        .flat_map(|area| area.low.iter().chain(&area.high));
    let (low, high) = edges
        .map(|point| point.1)
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| {
            (a.min(v), b.max(v))
        });
    if low >= high {
        return false;
    }
    let window = (low - BELOW * (high - low), high + ABOVE * (high - low));
    let inside = |value: f64| value >= window.0 && value <= window.1;
    let mut changed = false;
    for series in &mut figure.series {
        let whole = &series.points;
        changed |= whole.iter().any(|p| p.1.is_finite() && !inside(p.1));
        let mut kept = Vec::new();
        for (i, &(x, y)) in whole.iter().enumerate() {
            // Where the curve comes into the window or leaves it, it goes to the rim.
            if let Some(&before) = i.checked_sub(1).and_then(|i| whole.get(i))
                && before.1.is_finite()
                && y.is_finite()
                && inside(before.1) != inside(y)
            {
                let outer = if inside(y) { before.1 } else { y };
                let rim = outer.clamp(window.0, window.1);
                let share = (rim - before.1) / (y - before.1);
                kept.push((before.0 + share * (x - before.0), rim));
            }
            kept.push((x, if inside(y) { y } else { f64::NAN }));
        }
        series.points = kept;
    }
    figure
        .series
        .retain(|series| series.points.iter().any(|point| point.1.is_finite()));
    changed
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curves_end_at_the_rim_of_the_window() {
        let series = |points: &[(f64, f64)]| Series {
            points: points.to_vec(),
            ..Series::default()
        };
        let mut figure = Lines {
            areas: vec![Area {
                low: vec![(0.0, 0.0), (1.0, 0.0)],
                high: vec![(0.0, 1.0), (1.0, f64::NAN)],
                ..Area::default()
            }],
            series: vec![
                series(&[(0.0, -3.2), (1.0, 0.8), (2.0, 1.8)]),
                series(&[(0.0, -9.0), (1.0, -8.0)]),
                series(&[(0.0, 0.5), (1.0, 0.5)]),
            ],
            ..Lines::default()
        };
        assert!(cut(&mut figure));
        let left: Vec<Vec<(f64, f64)>> = figure
            .series
            .iter()
            .map(|s| {
                s.points
                    .iter()
                    .copied()
                    .filter(|p| p.1.is_finite())
                    .collect()
            })
            .collect();
        // From -3.2 to 0.8 the rim at -1.2 lies half way; from 0.8 to 1.8 the rim at 1.6 at 0.8 of the way.
        assert_eq!(left.len(), 2);
        let near = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).abs() + (a.1 - b.1).abs() < 1e-12;
        assert!(near(left[0][0], (0.5, -1.2)) && near(left[0][1], (1.0, 0.8)));
        assert!(near(left[0][2], (1.8, 1.6)) && left[0].len() == 3);
        assert_eq!(left[1].len(), 2);
    }
}
