//! The figures of a comparison of captures: what each passenger costs, the front of a sweep, how long it takes.

use super::capture_text::front_name;
use super::capture_words::{break_name, duration, row_name};
use super::number::significant;
use super::plot::bars::{Bar, Bars};
use super::plot::lines::{Lines, Series};
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::verdict::Verdict;
use crate::numeric::quantity::Quantity;
use crate::study::Case;
use crate::study::capture::{Comparison, Costs, Row, StretchKind};

const DAY_S: f64 = 86_400.0;

/// Propellant and heat shield of each way, per passenger where there are any.
#[must_use]
pub fn masses(case: &Case, comparison: &Comparison) -> Bars {
    let passengers = case.scenario.ship.passengers;
    let (each, per) = if passengers > 0 {
        (f64::from(passengers), " per passenger")
    } else {
        (1.0, "")
    };
    let bar = |row: &Row| {
        let (parts, length) = match &row.costs {
            Ok(costs) => {
                let propellant = costs.reserve_kg.unwrap_or(0.0) / each;
                let shield = costs.shield_kg / each;
                (vec![propellant, shield], propellant + shield)
            }
            Err(_) => (Vec::new(), 0.0),
        };
        let size = match &row.costs {
            Ok(costs) if costs.reserve_kg.is_some() => format!("{} kg", significant(length, 3)),
            _ => String::new(),
        };
        Bar {
            name: row_name(row),
            parts,
            end: join(&size, &state(case, row)),
            pale: !row.holds(),
        }
    };
    Bars {
        title: format!("Propellant and heat shield{per}"),
        note: "propellant that suffices with the probability asked for; pale: not shown to hold every limit"
            .to_owned(),
        axis: format!("mass{per}, kg"),
        parts: vec!["propellant".to_owned(), "heat shield".to_owned()],
        bars: comparison.rows.iter().map(bar).collect(),
    }
}

/// The time to the target orbit of each way, in stretches.
#[must_use]
pub fn timeline(case: &Case, comparison: &Comparison) -> Bars {
    let bar = |row: &Row| {
        let mut parts = vec![0.0; StretchKind::ALL.len()];
        if let Ok(costs) = &row.costs {
            for stretch in &costs.stretches {
                for (place, (kind, _)) in StretchKind::ALL.iter().enumerate() {
                    if *kind == stretch.kind {
                        parts[place] += stretch.duration_s / DAY_S;
                    }
                }
            }
        }
        let time = match &row.costs {
            Ok(costs) if costs.time_s().is_finite() => duration(costs.time_s()),
            _ => String::new(),
        };
        Bar {
            name: row_name(row),
            parts,
            end: join(&time, &state(case, row)),
            pale: !row.holds(),
        }
    };
    Bars {
        title: "Time to the target orbit".to_owned(),
        note: "medians; pale: not shown to hold every limit".to_owned(),
        axis: "days".to_owned(),
        parts: StretchKind::ALL
            .iter()
            .map(|(_, name)| (*name).to_owned())
            .collect(),
        bars: comparison.rows.iter().map(bar).collect(),
    }
}

/// What has to be said at the end of a bar.
fn state(case: &Case, row: &Row) -> String {
    match &row.costs {
        Err(_) => "closed".to_owned(),
        Ok(costs) if costs.holds() => String::new(),
        Ok(costs) if costs.verdict != Verdict::Broken => costs.verdict.words().to_owned(),
        Ok(costs) => costs.ruling.map_or("breaks a limit".to_owned(), |what| {
            format!("breaks: {}", break_name(case, what))
        }),
    }
}

fn join(one: &str, other: &str) -> String {
    match (one.is_empty(), other.is_empty()) {
        (false, false) => format!("{one}, {other}"),
        _ => format!("{one}{other}"),
    }
}

/// Peak deceleration against propellant over the burns before entry; `None` where none were swept.
#[must_use]
pub fn front(case: &Case, comparison: &Comparison) -> Option<Lines> {
    let swept: Vec<&Row> = comparison
        .rows
        .iter()
        .filter(|row| !row.sweep.is_empty())
        .collect();
    if swept.is_empty() {
        return None;
    }
    let tonnes = |costs: &Costs| costs.reserve_kg.map_or(f64::NAN, |kg| kg / 1e3);
    let many = swept.len() > 1;
    let series = swept.iter().map(|row| {
        let mut points: Vec<(f64, f64)> = row
            .sweep
            .iter()
            .map(|(_, costs)| (tonnes(costs), costs.peak_m_s2 / G0))
            .filter(|(kg, _)| kg.is_finite())
            .collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        // The axis begins at no propellant at all.
        points.insert(0, (0.0, f64::NAN));
        Series {
            name: front_name(row, many),
            points,
            limit_key: String::new(),
        }
    });
    let least = |row: &&Row| {
        let costs = row.costs.as_ref().ok().filter(|costs| costs.holds())?;
        let (x, y) = (tonnes(costs), costs.peak_m_s2 / G0);
        (x.is_finite()).then(|| (format!("most delivered: {} t", significant(x, 3)), x, y))
    };
    let mut points: Vec<(String, f64, f64)> = swept.iter().filter_map(least).collect();
    // Other ways of the arrival as planned; those of the others would crowd the figure.
    for row in comparison.rows.iter().filter(|row| row.sweep.is_empty()) {
        if let Ok(costs) = &row.costs
            && row.arrival.is_empty()
            && costs.peak_m_s2 > 0.0
            && tonnes(costs).is_finite()
        {
            points.push((row_name(row), tonnes(costs), costs.peak_m_s2 / G0));
        }
    }
    let limit = case.scenario.limits.on(Quantity::PeakDeceleration);
    Some(Lines {
        title: "Propellant against what is felt".to_owned(),
        note: "a burn before entry, then one pass; left of the first burn that holds a limit is broken"
            .to_owned(),
        x_title: "propellant, t".to_owned(),
        y_title: "peak deceleration, g".to_owned(),
        series: series.collect(),
        levels: limit
            .map(|limit| ("limit".to_owned(), limit / G0))
            .into_iter()
            .collect(),
        points,
        ..Lines::default()
    })
}
