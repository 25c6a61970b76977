//! What `land` says: the answer, and the tables under it.

use super::band_text;
use super::grid::{Cell, Grid, Tone};
use super::limit_words::{name, value_text};
use super::number::{count, percent, significant, trimmed};
use super::text::Terminal;
use super::whole::real_count;
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::interval::Interval;
use crate::ensemble::quantile::Sorted;
use crate::pass::Ending;
use crate::scenario::landing::Landing;
use crate::study::Case;
use crate::study::landing::LandingResult;
use crate::study::landing::arrivals::{Arrival, Arrivals};
use crate::study::landing::ellipse::{Ellipse, HOLDS_95};
use crate::study::landing::ground::{FromEntry, OnMap, wrapped};
use crate::study::landing::outside::Outside;
use std::fmt::Write as _;

/// A place on the map in words.
#[must_use]
pub fn place_words(at: OnMap) -> String {
    let (latitude, longitude) = (at.latitude_rad.to_degrees(), at.longitude_rad.to_degrees());
    let side = |value: f64, plus: &str, minus: &str| {
        let letter = if value < 0.0 { minus } else { plus };
        format!("{:.3} deg {letter}", value.abs())
    };
    format!("{} {}", side(latitude, "N", "S"), side(longitude, "E", "W"))
}

fn km(m: f64) -> String {
    format!("{} km", significant(m / 1e3, 4))
}

fn longitude(rad: f64) -> String {
    format!("{:.2} deg", wrapped(rad).to_degrees())
}

/// Share of flights with its lower bound.
fn share(case: &Case, (good, of): (u64, u64)) -> String {
    if case.problem.is_deterministic() {
        return if good == of { "all" } else { "none" }.to_owned();
    }
    let confidence = case.scenario.ask.confidence;
    let lower = Interval::clopper_pearson(good, of, confidence).map_or(f64::NAN, |i| i.lower);
    format!(
        "{} of {} ({} or more with {} confidence)",
        percent(real_count(good) / real_count(of.max(1))),
        count(of),
        percent(lower),
        percent(confidence)
    )
}

/// The answer in a few sentences.
#[must_use]
pub fn answer(case: &Case, (result, landing): (&LandingResult, &Landing)) -> String {
    let name = &landing.place.name;
    let mut text = if result.inside(landing) {
        format!("Aim for {:.2} km to land at {name}", result.aim_m / 1e3)
    } else {
        format!(
            "{name} is out of reach from an aim of {:.2} km",
            result.aim_m / 1e3
        )
    };
    let _ = write!(
        text,
        " ({}): the ascending node lies at {}.",
        place_words(result.place),
        longitude(result.placing.node_rad)
    );
    if let Some(outside) = &result.outside {
        text.push_str(&outside_words(case, outside));
    } else if !result.inside(landing) {
        let _ = write!(
            text,
            " The ship comes down {} from it, at {}.",
            km(-result.placing.depth_m),
            place_words(result.held_nominal.1)
        );
    }
    text.push_str(&burns(result));
    if let Some(steered) = &result.steered {
        let of = steered.flights.len() as u64;
        let _ = write!(
            text,
            " Steered, {} meet the gate; with the bank held {}, and {} about where that bank leads.",
            share(case, (steered.reached(), of)),
            percent(real_count(result.held.reached()) / real_count(of.max(1))),
            percent(real_count(result.held_at_own) / real_count(of.max(1))),
        );
    } else if let Some(ellipse) = &result.held.ellipse {
        let _ = write!(text, " {}", ellipse_words(case, result, ellipse));
    }
    text + &super::remarks::remarks(case)
}

/// The burns before the entry.
fn burns(result: &LandingResult) -> String {
    let mut text = String::new();
    let propellant = |kg: Option<f64>| {
        kg.map_or_else(String::new, |kg| {
            format!(", {} kg of propellant", significant(kg, 3))
        })
    };
    if let Some(brought) = &result.brought {
        let _ = write!(
            text,
            " Deorbit burn: {} m/s{} over {}, {} min before the entry",
            significant(brought.burn.speed_m_s, 4),
            propellant(brought.burn.propellant_kg),
            place_words(brought.over),
            significant(brought.burn.coast_s / 60.0, 3)
        );
        let _ = match brought.rounds {
            0 => write!(text, "."),
            1 => write!(text, ", after one round of waiting."),
            rounds => write!(
                text,
                ", after {rounds} rounds of waiting ({} h).",
                significant(f64::from(rounds) * brought.period_s / 3600.0, 3)
            ),
        };
    }
    if let Some(earlier) = &result.earlier {
        let apoapsis = earlier.result.apoapsis_altitude_m.unwrap_or(f64::NAN);
        let direction = if earlier.burn.speed_m_s > 0.0 {
            "against"
        } else {
            "with"
        };
        let _ = write!(
            text,
            " The pass at {:.2} km leaves an apoapsis of {}; a burn of {} m/s {direction} the motion there{} leads \
             to the entry {} h after the first.",
            earlier.aim_m / 1e3,
            km(apoapsis),
            significant(earlier.burn.speed_m_s.abs(), 3),
            propellant(earlier.burn.propellant_kg),
            significant(earlier.later_s / 3600.0, 3)
        );
        if earlier.broken != 0 {
            text.push_str(" That pass breaks a limit.");
        }
    }
    text
}

fn outside_words(case: &Case, outside: &Outside) -> String {
    let mut text = format!(
        " It lies {} beyond the footprint; the nearest place reached is {}.",
        km(outside.gap_m),
        place_words(outside.nearest.1)
    );
    let mut ways = Vec::new();
    if !outside.nodes_rad.is_empty() {
        let list: Vec<String> = outside
            .nodes_rad
            .iter()
            .map(|&(from, to)| format!("{} to {}", longitude(from), longitude(to)))
            .collect();
        ways.push(format!(
            "the ascending node at a longitude of {} (another hour of arrival, or rounds of waiting)",
            list.join(" or ")
        ));
    }
    if let Some((aim, gap)) = outside.other_aim {
        ways.push(if gap >= 0.0 {
            format!("an aim of {:.2} km", aim / 1e3)
        } else {
            format!(
                "an aim of {:.2} km, which still leaves {}",
                aim / 1e3,
                km(-gap)
            )
        });
    }
    if let (Some(near), false) = (outside.flight_m, outside.limits.is_empty()) {
        let list: Vec<String> = outside
            .limits
            .iter()
            .map(|&(kind, value, allowed)| {
                format!(
                    "{} of {} instead of {}",
                    name(case, kind),
                    value_text(case, kind, value),
                    value_text(case, kind, allowed)
                )
            })
            .collect();
        ways.push(format!(
            "{} (a flight then comes within {})",
            list.join(" and "),
            km(near)
        ));
    }
    if let Some(factor) = outside.lift {
        ways.push(format!("{} times the lift", trimmed(factor, 3)));
    }
    if ways.is_empty() {
        text.push_str(
            " No other node, aim or limit alone and no lift up to five times as much brings it inside: another \
             inclination or argument of periapsis is needed.",
        );
    } else {
        let _ = write!(text, " What would bring it nearer: {}.", ways.join("; or "));
    }
    text
}

/// Azimuth of the long axis of an ellipse on the map, deg from north to the east, 0 to 180.
#[must_use]
pub fn azimuth_deg(case: &Case, result: &LandingResult, ellipse: &Ellipse) -> f64 {
    const STEP_M: f64 = 1000.0;
    let at = |ahead: f64| {
        let (sine, cosine) = (ellipse.turned_rad.sin(), ellipse.turned_rad.cos());
        let place = FromEntry {
            downrange_m: ellipse.centre.downrange_m + ahead * cosine,
            crossrange_m: ellipse.centre.crossrange_m + ahead * sine,
        };
        let direction = result.track.direction(place);
        OnMap::of(case.problem.planet(), direction, result.placing.node_rad)
    };
    let (a, b) = (at(-STEP_M), at(STEP_M));
    let east = wrapped(b.longitude_rad - a.longitude_rad)
        * f64::midpoint(a.latitude_rad, b.latitude_rad).cos();
    let north = b.latitude_rad - a.latitude_rad;
    east.atan2(north).to_degrees().rem_euclid(180.0)
}

/// The ellipse in words.
#[must_use]
pub fn ellipse_words(case: &Case, result: &LandingResult, ellipse: &Ellipse) -> String {
    let direction = result.track.direction(ellipse.centre);
    let centre = OnMap::of(case.problem.planet(), direction, result.placing.node_rad);
    let axes = |scale: f64| {
        format!(
            "{} by {}",
            km(scale * ellipse.axes_m[0]),
            km(scale * ellipse.axes_m[1])
        )
    };
    format!(
        "The 95 % ellipse about {} has semi-axes of {}, the long one at azimuth {:.0} deg ({} of the flights lie in \
         it); that of three sigma {} ({}).",
        place_words(centre),
        axes(HOLDS_95),
        azimuth_deg(case, result, ellipse),
        percent(ellipse.inside[0]),
        axes(3.0),
        percent(ellipse.inside[1])
    )
}

/// Median, 95 and 99.865 % of what the flights have at their end.
#[must_use]
pub fn gate_table(arrivals: &Arrivals) -> Grid {
    let mut grid = Grid::new()
        .words("at the end")
        .numbers("p5")
        .numbers("median")
        .numbers("p95");
    type Of = fn(&Arrival) -> f64;
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
            || "-".to_owned(),
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
                || "-".to_owned(),
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
            None if reach.holds => "-".to_owned(),
            None => "does not come down".to_owned(),
        });
        grid.row(cells.into_iter().map(|text| Cell::new(text, tone)));
    }
    grid
}

/// What the ship has left for the approach, in words.
#[must_use]
pub fn left_words(result: &LandingResult) -> Option<String> {
    let left = result.left?;
    Some(format!(
        "Left at the gate: energy for a fall from {}; with its lift of {} g to one side the ship turns on a radius of \
         {}, and by {:.0} deg while drag halves its speed.",
        km(left.energy_height_m),
        significant(left.lift_m_s2 / G0, 2),
        km(left.turn_radius_m),
        left.turn_rad.to_degrees()
    ))
}

/// The footprint in words.
#[must_use]
pub fn footprint_words(result: &LandingResult) -> Option<String> {
    let footprint = result.footprint.as_ref()?;
    let (near, far) = footprint.held.downrange_m()?;
    let (left, right) = footprint.held.crossrange_m()?;
    let mut text = format!(
        "The footprint reaches from {} to {} downrange, {} to the left and {} to the right of the track: {} \
         thousand km². ",
        km(near),
        km(far),
        km(-left),
        km(right),
        significant(footprint.held.area_m2() / 1e9, 3)
    );
    if result.placing.depth_m >= 0.0 {
        let _ = write!(
            text,
            "The place lies {} inside its edge",
            km(result.placing.depth_m)
        );
    } else {
        let _ = write!(
            text,
            "The place lies {} outside",
            km(-result.placing.depth_m)
        );
    }
    let nodes: Vec<String> = result
        .nodes_rad
        .iter()
        .map(|&(from, to)| format!("{} to {}", longitude(from), longitude(to)))
        .collect();
    if !nodes.is_empty() {
        let _ = write!(text, "; it is inside for a node at {}", nodes.join(" or "));
    }
    text.push('.');
    Some(text)
}

/// Everything under the answer.
#[must_use]
pub fn table(terminal: &Terminal, case: &Case, result: &LandingResult) -> String {
    let main = result.steered.as_ref().unwrap_or(&result.held);
    let mut text = String::new();
    for words in [footprint_words(result), left_words(result)]
        .into_iter()
        .flatten()
    {
        text.push_str(&terminal.paragraph(&words, 0));
        text.push('\n');
    }
    if let (Some(steered), true) = (&result.steered, true)
        && let Some(ellipse) = &steered.ellipse
    {
        let words = ellipse_words(case, result, ellipse);
        text.push_str(&terminal.paragraph(&words, 0));
        text.push('\n');
    }
    for grid in [
        aims_table(result),
        gate_table(main),
        band_text::quantities(case, &main.outcome),
        band_text::broken(case, &main.outcome),
    ] {
        if !grid.is_empty() {
            let _ = write!(text, "{}\n\n", terminal.table(&grid).trim_end());
        }
    }
    text
}
