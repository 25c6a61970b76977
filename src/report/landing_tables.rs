//! The tables of a landing: the aims compared, and what the flights have at their end.

use super::grid::{Cell, Grid, Tone};
use super::number::{MISSING, significant};
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::quantile::Sorted;
use crate::numeric::angle::wrapped;
use crate::pass::Ending;
use crate::scenario::uncertainty::Number;
use crate::study::Case;
use crate::study::landing::LandingResult;
use crate::study::landing::arrivals::{Arrival, Arrivals};

/// What a row says of a flight.
type Of = fn(&Arrival) -> f64;

/// Median, 5 and 95 % of what the flights have at their end.
#[must_use]
pub fn gate_table(arrivals: &Arrivals) -> Grid {
    let mut grid = Grid::new()
        .words("at the end")
        .numbers("p5")
        .numbers("median")
        .numbers("p95");
    let rows: [(&str, Of); 8] = [
        ("range to the place (km)", |a| a.range_m / 1e3),
        ("distance to go, off by (km)", |a| a.miss_m / 1e3),
        ("place off the direction of flight (deg)", |a| {
            a.heading_rad.to_degrees()
        }),
        ("altitude (km)", |a| a.altitude_m / 1e3),
        ("speed against the air (m/s)", |a| a.speed_m_s),
        ("flight-path angle (deg)", |a| a.angle_rad.to_degrees()),
        ("energy left, as a height (km)", |a| a.energy_height_m / 1e3),
        ("time of flight (s)", |a| a.duration_s),
    ];
    for (label, of) in rows {
        let down = arrivals
            .flights
            .iter()
            .filter(|a| a.ending == Ending::Landed);
        let Ok(sorted) = Sorted::new(down.map(of).collect()) else {
            continue;
        };
        let at = |probability| significant(sorted.quantile(probability), 4);
        grid.row([label.to_owned(), at(0.05), at(0.5), at(0.95)]);
    }
    grid
}

/// What the table of the aims rests on, where that is not what the footprint in words rests on.
#[must_use]
pub fn aims_words(case: &Case, result: &LandingResult) -> Option<String> {
    result.footprint.as_ref()?;
    let degrees = |rad: f64| format!("{:.1} deg", wrapped(rad).to_degrees());
    let compared = case.problem.nominal()[Number::ArgumentOfPeriapsis as usize];
    let placed = result.placing.argument_rad;
    let turned = if wrapped(placed - compared).abs() > 1e-4 {
        format!(
            ", with the argument of periapsis at {}. The ground turns under a flight by more or less with it: the \
             footprint above is that of the aim to take at {}, where the approach was laid, and of flights that change \
             their bank too",
            degrees(compared),
            degrees(placed)
        )
    } else {
        "; the footprint above is of flights that change their bank too".to_owned()
    };
    Some(format!(
        "What each aim reaches under the limits, compared by flights that hold one bank throughout{turned}."
    ))
}

/// What each aim reaches.
#[must_use]
pub fn aims_table(result: &LandingResult) -> Grid {
    let lifts = result.footprint.is_some();
    let mut grid = Grid::new().numbers("aim (km)").numbers("angle (deg)");
    if lifts {
        grid = grid
            .numbers("downrange (km)")
            .numbers("to a side (km)")
            .numbers("area (1000 km²)");
    }
    grid = grid.numbers("peak (g)").words("what keeps flights out");
    let range = |pair: Option<(f64, f64)>, unit: f64, digits: usize| {
        pair.map_or_else(
            || MISSING.to_owned(),
            |(low, high)| {
                let (low, high) = (
                    significant(low / unit, digits),
                    significant(high / unit, digits),
                );
                if low == high {
                    low
                } else {
                    format!("{low} to {high}")
                }
            },
        )
    };
    for reach in &result.reaches {
        let tone = if reach.aim_m == result.aim_m {
            Tone::Strong
        } else {
            Tone::Plain
        };
        let mut cells = vec![
            format!("{:.2}", reach.aim_m / 1e3),
            format!("{:.2}", reach.angle_rad.to_degrees()),
        ];
        if lifts {
            let side = reach.crossrange_m.map_or_else(
                || MISSING.to_owned(),
                |(left, right)| significant(right.max(-left) / 1e3, 3),
            );
            cells.extend([
                range(reach.downrange_m, 1e3, 4),
                side,
                significant(reach.area_m2 / 1e9, 3),
            ]);
        }
        cells.push(range(reach.peak_m_s2, G0, 3));
        let ruling = reach.ruling.map(|kind| kind.key().replace('_', " "));
        cells.push(match ruling {
            Some(words) => words,
            None if reach.unflown > 0 => super::unflown::NO_RESULT.to_owned(),
            None if reach.holds => MISSING.to_owned(),
            None => "does not come down".to_owned(),
        });
        grid.row(cells.into_iter().map(|text| Cell::new(text, tone)));
    }
    grid
}
