//! What `capture` says on the screen: the answer, then compact tables.

use super::capture_tables::{NONE, costs_grid, details_grid, number};
use super::capture_words::{break_words, duration, mass, obstacle_words, row_name, way_name};
use super::coverage_words;
use super::number::{count, percent, significant};
use super::text::Terminal;
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::verdict::Verdict;
use crate::numeric::quantity::Quantity;
use crate::study::Case;
use crate::study::capture::{Comparison, Costs, MoonFacts, Row, SplitTried, Way};
use std::fmt::Write as _;

/// The answer in sentences a person can act on.
#[must_use]
pub fn answer(case: &Case, comparison: &Comparison) -> String {
    plain_answer(case, comparison) + &super::remarks::remarks(case)
}

fn plain_answer(case: &Case, comparison: &Comparison) -> String {
    let Some((place, row, costs)) = comparison.best() else {
        return nothing_holds(case, comparison);
    };
    let covered = coverage_words::is_covered(case);
    let every = coverage_words::every_limit_held(covered);
    let mut text = format!("{} with {every}", best_words(costs));
    if let Some(limit) = case.scenario.limits.on(Quantity::PeakDeceleration) {
        let _ = write!(
            text,
            ", the comfort limit of {} g among them",
            significant(limit / G0, 2)
        );
    }
    let _ = write!(
        text,
        ": {}. It takes {} and is felt with {} g at the most; {} in {} of arrivals ({} or more with {} \
         confidence).",
        place_words(row, costs),
        duration(costs.time_s()),
        significant(costs.peak_m_s2 / G0, 2),
        coverage_words::limits_hold(covered),
        percent(costs.held.estimate),
        percent(costs.held.lower),
        percent(case.scenario.ask.confidence),
    );
    text.push_str(&by_arrival(comparison, &row.arrival));
    let carried = |costs: &Costs| costs.reserve_kg.unwrap_or(f64::INFINITY);
    let least = comparison
        .rows
        .iter()
        .enumerate()
        .filter_map(|(index, row)| {
            let costs = row.costs.as_ref().ok().filter(|costs| costs.holds())?;
            Some((index, row, costs))
        })
        .min_by(|a, b| carried(a.2).total_cmp(&carried(b.2)));
    if let Some((lightest, other, cheap)) = least
        && lightest != place
        && carried(cheap) < carried(costs)
    {
        let _ = write!(
            text,
            " The least propellant alone is that of {}: {} instead of {}, with a heat shield of {}.",
            row_name(other),
            mass(carried(cheap)),
            mass(carried(costs)),
            mass(cheap.shield_kg),
        );
    }
    text
}

/// What is delivered at best of every other arrival.
fn by_arrival(comparison: &Comparison, best: &str) -> String {
    let mut arrivals: Vec<&str> = Vec::new();
    for row in &comparison.rows {
        if row.arrival != best && !arrivals.contains(&row.arrival.as_str()) {
            arrivals.push(&row.arrival);
        }
    }
    let words: Vec<String> = arrivals
        .iter()
        .map(|arrival| {
            let name = if arrival.is_empty() {
                "the planned arrival"
            } else {
                arrival
            };
            match comparison.best_of(arrival) {
                Some((row, costs)) => format!(
                    "{name} {} ({})",
                    costs.delivered_kg.map_or(NONE.to_owned(), mass),
                    way_name(&row.way)
                ),
                None => format!("{name} none"),
            }
        })
        .collect();
    if words.is_empty() {
        return String::new();
    }
    format!(" The most of the others: {}.", words.join("; "))
}

fn best_words(costs: &Costs) -> String {
    match (costs.delivered_kg, costs.reserve_kg) {
        (Some(delivered), Some(propellant)) if costs.shield_kg > 0.0 => format!(
            "Most delivered, {} ({} of propellant and {} of heat shield less than at the start),",
            mass(delivered),
            mass(propellant),
            mass(costs.shield_kg)
        ),
        (Some(delivered), Some(propellant)) => format!(
            "Most delivered, {} ({} of propellant less than at the start),",
            mass(delivered),
            mass(propellant)
        ),
        _ => "Least speed change".to_owned(),
    }
}

/// The way with its aim and its date.
fn place_words(row: &Row, costs: &Costs) -> String {
    let mut text = row_name(row);
    if let Some(aim_m) = costs.aim_m {
        let _ = write!(text, " (aim {:.2} km)", aim_m / 1e3);
    }
    text
}

fn nothing_holds(case: &Case, comparison: &Comparison) -> String {
    let asked = percent(case.scenario.ask.probability);
    let rows = || {
        comparison
            .rows
            .iter()
            .filter_map(|row| row.costs.as_ref().ok())
    };
    let undecided = rows().any(|costs| costs.verdict != Verdict::Broken);
    let mut text = if undecided {
        format!(
            "No way that was compared is shown to hold every limit at {asked}; with more samples one may be."
        )
    } else {
        format!("No way that was compared holds every limit at {asked}.")
    };
    match comparison.likeliest() {
        Some((_, row, costs)) if costs.held.estimate > 0.0 => {
            let _ = write!(
                text,
                " The nearest is {}: {} of arrivals hold all",
                place_words(row, costs),
                percent(costs.held.estimate)
            );
        }
        Some((_, row, costs)) => {
            let _ = write!(
                text,
                " None holds them in a single arrival; {}",
                place_words(row, costs)
            );
        }
        None => {
            text.push_str(" No way is open at all; the rows below say why.");
            return text;
        }
    }
    if let Some((_, _, costs)) = comparison.likeliest() {
        let words: Vec<String> = costs
            .broken
            .iter()
            .take(2)
            .map(|(what, count)| {
                format!(
                    "{} in {}",
                    break_words(case, *what),
                    share(*count, costs.samples)
                )
            })
            .collect();
        if !words.is_empty() {
            let _ = write!(text, "; broken: {}", words.join(", "));
        }
    }
    text.push('.');
    text
}

fn share(count: u64, of: u64) -> String {
    #[allow(clippy::cast_precision_loss)]
    percent(count as f64 / of.max(1) as f64)
}

/// Sentences below the tables: what is broken or closed, how burns were split, what moons do.
#[must_use]
pub fn remarks(case: &Case, comparison: &Comparison) -> Vec<String> {
    let mut lines = Vec::new();
    let mut moons_told: Vec<&str> = Vec::new();
    for (place, row) in comparison.rows.iter().enumerate() {
        let name = format!("{} {}", number(place), row_name(row));
        lines.extend(row_remarks(case, row, &name));
        if let (Some(facts), Way::MoonThenEngine { moon, .. } | Way::MoonThenAir { moon }) =
            (&row.moon, &row.way)
            && !moons_told.contains(&moon.as_str())
        {
            moons_told.push(moon);
            lines.push(moon_words(moon, facts));
        }
    }
    let outside = comparison.rows.iter().any(|row| {
        let shield = row.costs.as_ref().ok().and_then(|costs| costs.shield);
        shield.is_some_and(|shield| !shield.in_range)
    });
    if outside {
        lines.push(
            "* heat shield by a fit carried on outside the loads behind it, 3 to 200 kJ/cm²."
                .to_owned(),
        );
    }
    lines
}

fn row_remarks(case: &Case, row: &Row, name: &str) -> Vec<String> {
    let mut lines = Vec::new();
    match &row.costs {
        Err(obstacle) => lines.push(format!("{name}: closed: {}.", obstacle_words(obstacle))),
        Ok(costs) if !costs.broken.is_empty() => {
            let words: Vec<String> = costs
                .broken
                .iter()
                .map(|(what, count)| {
                    format!(
                        "{} in {}",
                        break_words(case, *what),
                        share(*count, costs.samples)
                    )
                })
                .collect();
            let verdict = match costs.verdict {
                Verdict::NotShown => "not shown with so many samples; ",
                _ => "",
            };
            lines.push(format!("{name}: {verdict}broken: {}.", words.join("; ")));
        }
        Ok(_) => {}
    }
    if let (
        Way::BurnThenAir {
            speed_change_m_s,
            air_brakes: false,
        },
        Ok(costs),
    ) = (&row.way, &row.costs)
    {
        lines.push(format!(
            "{name}: the air takes {} m/s, less than the error of the burn of {} m/s: this is a burn deep in the \
             planet's gravity, and its pass adds a heat shield of {} and no braking.",
            significant(costs.air_speed_m_s, 2),
            significant(*speed_change_m_s, 3),
            mass(costs.shield_kg)
        ));
    }
    if let (Way::GentlePasses, Ok(costs)) = (&row.way, &row.costs)
        && costs.passes > 0.0
    {
        lines.push(format!(
            "{name}: {} passes through the air.",
            count_of(costs.passes)
        ));
    }
    let lost = |split: &SplitTried| split.speed_change_m_s - split.impulse_m_s;
    let counts = |split: &SplitTried| lost(split) > 0.005 * split.impulse_m_s;
    if row.splits.len() > 1 || row.splits.iter().any(counts) {
        lines.push(split_words(row, name));
    }
    lines
}

/// A median of counts, in whole numbers.
fn count_of(median: f64) -> String {
    format!("{:.0}", median.round())
}

fn moon_words(name: &str, moon: &MoonFacts) -> String {
    let wanted = match (moon.wanted_rad, moon.flybys) {
        (Some(wanted), _) if wanted <= 0.0 => "the orbit is closed without any turn".to_owned(),
        (Some(wanted), Some(flybys)) => format!(
            "closing the orbit wants {} deg, {} {}",
            significant(wanted.to_degrees(), 3),
            flybys,
            if flybys == 1 { "flyby" } else { "flybys" }
        ),
        _ => "no turn by this moon closes the orbit".to_owned(),
    };
    let left = match moon.apoapsis_altitude_m {
        Some(altitude) => format!(
            "closes it with an apoapsis of {} km",
            significant(altitude / 1e3, 4)
        ),
        None => format!(
            "leaves an excess speed of {} m/s",
            significant(moon.twice_energy_after.max(0.0).sqrt(), 4)
        ),
    };
    format!(
        "{name}: one flyby at {} m/s turns by up to {} deg ({wanted}) and {left}.",
        significant(moon.relative_speed_m_s, 4),
        significant(moon.turn_rad.to_degrees(), 3),
    )
}

fn split_words(row: &Row, name: &str) -> String {
    let words: Vec<String> = row
        .splits
        .iter()
        .map(|split| {
            let estimate = significant(split.robbins_m_s, 3);
            let robbins = if split.robbins_holds {
                format!("{estimate} by estimate")
            } else {
                format!("{estimate} by estimate, too long for it")
            };
            format!(
                "{} {} {} m/s over {} ({robbins})",
                split.burns,
                if split.burns == 1 {
                    "burn loses"
                } else {
                    "burns lose"
                },
                significant(split.speed_change_m_s - split.impulse_m_s, 3),
                duration(split.duration_s),
            )
        })
        .collect();
    let impulse = row.splits.first().map_or(f64::NAN, |one| one.impulse_m_s);
    format!(
        "{name}: against an impulse of {} m/s, {}.",
        significant(impulse, 4),
        words.join("; ")
    )
}

/// The tables and remarks under the answer.
#[must_use]
pub fn tables(terminal: &Terminal, case: &Case, comparison: &Comparison) -> String {
    let mut text = terminal.table(&costs_grid(case, comparison));
    text.push('\n');
    text.push_str(&terminal.table(&details_grid(case, comparison)));
    text.push('\n');
    for line in remarks(case, comparison) {
        text.push_str(&terminal.paragraph(&line, 2));
    }
    let rest = format!(
        "Delivered is the mass at the start less propellant and heat shield. Propellant is what suffices in {} of \
         arrivals; felt, heat and onset likewise; speeds and times are medians. {} passes flown.",
        percent(case.scenario.ask.probability),
        count(comparison.passes_flown)
    );
    text.push_str(&terminal.paragraph(&rest, 0));
    text
}

/// What the front of a sweep is of; `many` when other arrivals stand beside it.
#[must_use]
pub fn front_name(row: &Row, many: bool) -> String {
    match (row.arrival.is_empty(), many) {
        (true, true) => "as planned".to_owned(),
        (true, false) => "burn, then one pass".to_owned(),
        (false, _) => row.arrival.clone(),
    }
}
