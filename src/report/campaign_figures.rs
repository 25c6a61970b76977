//! The figures of campaigns, from their results.

use super::campaign_text::shown_unit;
use super::plot::distribution::{Distribution, LimitMark};
use super::plot::lines::{Area, Lines, Series};
use super::plot::ribbons::{Ribbon, Ribbons};
use super::plot::stacked::{Part, Stacked};
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::campaign::{PassRow, Phase};
use crate::numeric::quantity::Quantity;
use crate::scenario::campaign::Campaign;
use crate::scenario::campaign_rule::Controlled;
use crate::study::Case;
use crate::study::campaign::{CampaignOutcome, CampaignQuantity, SpotWarmth, Spread};

/// Apoapsis and period against time, as ribbons over the campaigns.
#[must_use]
pub fn orbit_over_time(outcome: &CampaignOutcome, rule: &Campaign) -> Stacked {
    let apoapsis = outcome.over_days(|row| row.apoapsis_altitude_m / 1e3);
    let period = outcome.over_days(|row| row.period_s / 3600.0);
    let target = (
        String::new(),
        "target".to_owned(),
        rule.target_apoapsis_m / 1e3,
    );
    Stacked {
        title: "Apoapsis and period over the campaign".to_owned(),
        note: campaigns_note(outcome),
        parts: vec![
            Part::Ribbons(ribbons(
                outcome,
                apoapsis,
                ("days since the start", "apoapsis altitude, km"),
                vec![target],
            )),
            Part::Ribbons(ribbons(
                outcome,
                period,
                ("days since the start", "period, h"),
                Vec::new(),
            )),
        ],
    }
}

fn campaigns_note(outcome: &CampaignOutcome) -> String {
    match outcome.rows.len() {
        1 => "one campaign".to_owned(),
        many => format!("{many} campaigns"),
    }
}

fn ribbons(
    outcome: &CampaignOutcome,
    spread: Spread,
    (x_title, y_title): (&str, &str),
    limits: Vec<(String, String, f64)>,
) -> Ribbons {
    let [p05, p25, p50, p75, p95] = spread.rows;
    let several = outcome.rows.len() > 1;
    let ribbon = |name: &str, low, high| Ribbon {
        name: name.to_owned(),
        low,
        high,
    };
    Ribbons {
        x_title: x_title.to_owned(),
        y_title: y_title.to_owned(),
        x: spread.x,
        median: p50,
        ribbons: if several {
            vec![
                ribbon("5 to 95 %", p05, p95),
                ribbon("25 to 75 %", p25, p75),
            ]
        } else {
            Vec::new()
        },
        limits,
        ..Ribbons::default()
    }
}

/// The controlled quantity of each pass of one campaign with its band and the forecast.
#[must_use]
pub fn passes_in_band(case: &Case, rule: &Campaign, (campaign, rows): (u64, &[PassRow])) -> Lines {
    let (unit, factor) = shown_unit(rule.control.quantity);
    let words = rule.control.quantity.words();
    let number = |row: &PassRow| f64::from(row.pass);
    // An arrival is in another range.
    let walked = rows.iter().filter(|row| row.phase != Phase::Arrival);
    let rows: Vec<PassRow> = walked.copied().collect();
    let flown: Vec<&PassRow> = rows.iter().filter(|row| row.met > 0.0).collect();
    let edge = |of: &dyn Fn(&PassRow) -> f64| -> Vec<(f64, f64)> {
        rows.iter()
            .map(|row| (number(row), factor * of(row)))
            .collect()
    };
    let limited = match rule.control.quantity {
        Controlled::HeatFlux => Quantity::PeakHeatFlux,
        Controlled::DynamicPressure => Quantity::PeakDynamicPressure,
        Controlled::Deceleration => Quantity::PeakDeceleration,
    };
    let limit = case.scenario.limits.on(limited);
    let highest = flown.iter().map(|row| row.met).fold(0.0, f64::max);
    // A limit far above the passes would flatten them; it is then left to the text.
    let limit = limit.filter(|limit| *limit < 2.5 * highest);
    Lines {
        title: format!("Peak {words} of each pass and its band"),
        note: format!("campaign {campaign}; dots: as met; line: as expected before the pass"),
        x_title: "pass".to_owned(),
        y_title: format!("peak {words}, {unit}"),
        series: vec![Series {
            name: "expected".to_owned(),
            points: edge(&|row| row.expected),
            limit_key: String::new(),
        }],
        levels: limit
            .map(|limit| ("limit".to_owned(), limit * factor))
            .into_iter()
            .collect(),
        dots: flown
            .iter()
            .map(|row| (number(row), factor * row.met))
            .collect(),
        areas: vec![Area {
            name: "band".to_owned(),
            low: edge(&|row| row.band.0),
            high: edge(&|row| row.band.1),
            muted: false,
        }],
        ..Lines::default()
    }
}

/// The trims of one campaign, and their sum over all.
#[must_use]
pub fn trims(outcome: &CampaignOutcome, (campaign, rows): (u64, &[PassRow])) -> Stacked {
    let mut stems = vec![(1.0, 0.0), (f64::NAN, f64::NAN)];
    for row in rows.iter().filter(|row| row.trim_m_s != 0.0) {
        let at = f64::from(row.pass);
        stems.extend([(at, 0.0), (at, row.trim_m_s), (f64::NAN, f64::NAN)]);
    }
    let sum = outcome.summed_over_passes(|row| row.trim_m_s.abs());
    Stacked {
        title: "Trims at apoapsis".to_owned(),
        note: format!(
            "above: campaign {campaign}, up raises the periapsis; below: sum over {}",
            campaigns_note(outcome)
        ),
        parts: vec![
            Part::Lines(Lines {
                x_title: "pass".to_owned(),
                y_title: "trim before the pass, m/s".to_owned(),
                series: vec![Series {
                    points: stems,
                    ..Series::default()
                }],
                ..Lines::default()
            }),
            Part::Ribbons(ribbons(
                outcome,
                sum,
                ("pass", "sum of trims, m/s"),
                Vec::new(),
            )),
        ],
    }
}

/// Latitude of the periapsis and lowest altitude of one campaign against time.
#[must_use]
pub fn periapsis_over_time((campaign, rows): (u64, &[PassRow])) -> Stacked {
    let curve = |name: &str, of: &dyn Fn(&PassRow) -> f64| Series {
        name: name.to_owned(),
        points: rows
            .iter()
            .map(|row| (row.time_s / 86_400.0, of(row)))
            .collect(),
        ..Series::default()
    };
    let part = |title: &str, series: Vec<Series>| {
        Part::Lines(Lines {
            x_title: "days since the start".to_owned(),
            y_title: title.to_owned(),
            series,
            ..Lines::default()
        })
    };
    Stacked {
        title: "Where the periapsis is".to_owned(),
        note: format!(
            "campaign {campaign}; the zonal harmonics turn the orbit, so that the latitude of the periapsis moves"
        ),
        parts: vec![
            part(
                "lowest altitude, km",
                vec![curve("", &|row| row.lowest_altitude_m / 1e3)],
            ),
            part(
                "latitude of periapsis, deg",
                vec![curve("", &|row| row.latitude_rad.to_degrees())],
            ),
        ],
    }
}

/// The hottest that each wall was in each pass of one campaign, with its limit.
#[must_use]
pub fn walls_in_passes(walls: &[SpotWarmth], campaign: u64) -> Lines {
    let curve = |wall: &SpotWarmth, behind: bool| {
        let passes = &wall.campaigns.iter().find(|(n, _)| *n == campaign)?.1;
        let points: Option<Vec<(f64, f64)>> = passes
            .iter()
            .map(|warm| {
                let kelvin = if behind { warm.back_k? } else { warm.surface_k };
                Some((f64::from(warm.pass), kelvin))
            })
            .collect();
        let face = if behind { ", behind" } else { "" };
        Some(Series {
            name: format!("{}{face}", wall.name),
            points: points?,
            limit_key: String::new(),
        })
    };
    let limits = walls.iter().flat_map(|wall| {
        let behind = format!("limit of {}, behind", wall.name);
        let surface = format!("limit of {}", wall.name);
        [(surface, wall.highest_k), (behind, wall.highest_back_k)]
    });
    let limits = limits.filter_map(|(name, kelvin)| Some((name, kelvin?)));
    Lines {
        title: "Walls of spots, the hottest in each pass".to_owned(),
        note: format!("campaign {campaign}; the heat of a pass goes on into the next"),
        x_title: "pass".to_owned(),
        y_title: "temperature, K".to_owned(),
        series: walls
            .iter()
            .flat_map(|wall| [curve(wall, false), curve(wall, true)])
            .flatten()
            .collect(),
        levels: limits.collect(),
        ..Lines::default()
    }
}

/// How the worst pass of each campaign is spread, with its limit.
#[must_use]
pub fn worst(case: &Case, rule: &Campaign, outcome: &CampaignOutcome) -> Distribution {
    let (quantity, factor) = match rule.control.quantity {
        Controlled::HeatFlux => (CampaignQuantity::WorstHeatFlux, 1e-4),
        Controlled::DynamicPressure => (CampaignQuantity::WorstDynamicPressure, 1.0),
        Controlled::Deceleration => (CampaignQuantity::WorstDeceleration, 1.0 / G0),
    };
    spread(case, outcome, quantity, Some(factor))
}

/// How the days are spread.
#[must_use]
pub fn days(case: &Case, outcome: &CampaignOutcome) -> Distribution {
    spread(case, outcome, CampaignQuantity::Days, None)
}

fn spread(
    case: &Case,
    outcome: &CampaignOutcome,
    quantity: CampaignQuantity,
    limit_by: Option<f64>,
) -> Distribution {
    let values = outcome.values(quantity);
    let (label, unit) = quantity.label();
    let described = outcome.described(quantity, case.scenario.ask.confidence);
    let mark = limit_by.and_then(|factor| {
        let limit = case.problem.limits().on(quantity.of_the_worst_pass()?)?;
        Some(LimitMark {
            key: limit.kind.key().to_owned(),
            value: limit.allowed * factor,
            from_below: false,
        })
    });
    let mut title = label.to_owned();
    if let Some(first) = title.get_mut(0..1) {
        first.make_ascii_uppercase();
    }
    Distribution {
        title: format!("{title} of a campaign"),
        quantity: label.to_owned(),
        unit: unit.to_owned(),
        limit: mark,
        quantiles: described.map_or_else(Vec::new, |d| {
            vec![
                ("p05".to_owned(), d.p05.value),
                ("p50".to_owned(), d.p50.value),
                ("p95".to_owned(), d.p95.value),
            ]
        }),
        ..Distribution::of_values(&values, 20)
    }
}
