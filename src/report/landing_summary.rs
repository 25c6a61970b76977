//! `summary.json` of a landing: stable keys, documented in the README.

use super::landing_text::azimuth_deg;
use super::summary::{described, interval, limits, outcomes};
use crate::ensemble::interval::Interval;
use crate::ensemble::quantile::Sorted;
use crate::numeric::angle::wrapped;
use crate::pass::Ending;
use crate::scenario::landing::Landing;
use crate::study::Case;
use crate::study::landing::LandingResult;
use crate::study::landing::arrivals::{Arrival, Arrivals};
use crate::study::landing::ellipse::{Ellipse, HOLDS_95};
use crate::study::landing::ground::{FromEntry, OnMap};
use crate::study::landing::outline::Outline;
use serde_json::{Value, json};

/// The summary where no aim comes down with every limit held, and why.
#[must_use]
pub fn without_aim(case: &Case, why: &str) -> Value {
    headed(
        case,
        json!({
            "aim_periapsis_km": null,
            "why_no_aim": why,
        }),
    )
}

/// What every summary of this study begins with, and behind it what this one says, an object.
fn headed(case: &Case, said: Value) -> Value {
    let ask = &case.scenario.ask;
    let mut summary = json!({
        "study": "land",
        "scenario": case.scenario.title,
        "world": case.world.body().name,
        "air": super::air_grades::summary(case),
        "heating_errors": super::heat_text::errors_json(case),
        "world_quality": case.world.quality().words(),
        "seed": ask.seed,
        "samples": ask.samples,
        "confidence": ask.confidence,
    });
    if let (Value::Object(all), Value::Object(said)) = (&mut summary, said) {
        all.extend(said);
    }
    summary
}

/// The summary. `wall_time_s` is the one entry that differs between equal runs.
#[must_use]
pub fn landing_summary(
    case: &Case,
    (result, landing): (&LandingResult, &Landing),
    wall_time_s: f64,
) -> Value {
    let windows = |nodes: &[(f64, f64)]| -> Vec<Value> {
        let pair = |&(from, to): &(f64, f64)| json!([deg(wrapped(from)), deg(wrapped(to))]);
        nodes.iter().map(pair).collect()
    };
    let aims: Vec<Value> = result
        .reaches
        .iter()
        .map(|reach| {
            json!({
                "periapsis_km": reach.aim_m / 1e3,
                "flight_path_angle_deg": deg(reach.angle_rad),
                "comes_down_under_limits": reach.holds,
                "area_km2": reach.area_m2 / 1e6,
                "downrange_km": reach.downrange_m.map(|(a, b)| [a / 1e3, b / 1e3]),
                "crossrange_km": reach.crossrange_m.map(|(a, b)| [a / 1e3, b / 1e3]),
                "most_broken_limit": reach.ruling.map(crate::ensemble::LimitKind::key),
            })
        })
        .collect();
    let said = json!({
        "place": { "name": landing.place.name, "on_map": on_map(result.place) },
        "inside": result.inside(landing),
        "aim_periapsis_km": result.aim_m / 1e3,
        "entry_flight_path_angle_deg": deg(result.start.inertial_flight_path_angle_rad()),
        "node_longitude_deg": deg(wrapped(result.placing.node_rad)),
        "argument_of_periapsis_deg": deg(result.placing.argument_rad),
        "place_downrange_km": result.placing.from_entry.downrange_m / 1e3,
        "place_crossrange_km": result.placing.from_entry.crossrange_m / 1e3,
        "depth_in_footprint_km": result.placing.depth_m / 1e3,
        "node_longitudes_that_reach_deg": windows(&result.nodes_rad),
        "footprint": result.footprint.as_ref().map(|footprint| {
            outline(case, result, &footprint.held)
        }),
        "footprint_without_limits": result.footprint.as_ref().map(|footprint| {
            outline(case, result, &footprint.free)
        }),
        "outside": result.outside.as_ref().map(|outside| json!({
            "nearest": on_map(outside.nearest.1),
            "gap_km": outside.gap_m / 1e3,
            "other_aim_km": outside.other_aim.map(|aim| aim.0 / 1e3),
            "node_longitudes_deg": windows(&outside.nodes_rad),
            "limits": outside.limits.iter().map(|limit| limit.0.key()).collect::<Vec<_>>(),
            "inclination_deg": outside.inclination_rad.map(deg),
            "lift_factor": outside.lift,
        })),
        "deorbit": result.brought.as_ref().map(|brought| json!({
            "speed_change_m_s": brought.burn.speed_m_s,
            "propellant_kg": brought.burn.propellant_kg,
            "over": on_map(brought.over),
            "before_entry_s": brought.burn.coast_s,
            "rounds_waited": brought.rounds,
            "period_s": brought.period_s,
            "node_shift_a_round_deg": deg(brought.node_shift_rad),
            "periapsis_shift_a_round_deg": deg(brought.periapsis_shift_rad),
        })),
        "after_pass": result.earlier.as_ref().map(|earlier| json!({
            "aim_periapsis_km": earlier.aim_m / 1e3,
            "exit_apoapsis_km": earlier.apoapsis_m / 1e3,
            "limits_held": earlier.broken == 0,
            "speed_change_m_s": -earlier.speed_m_s,
            "propellant_kg": earlier.propellant_kg,
            "entry_after_s": earlier.later_s,
        })),
        "aims": aims,
        "steered": result.steered.as_ref().map(|steered| arrivals(case, result, steered)),
        "held": arrivals(case, result, &result.held),
        "held_meet_gate_about_own_place": result.held_at_own,
        "left_at_gate": result.left.map(|left| json!({
            "energy_height_km": left.energy_height_m / 1e3,
            "lift_m_s2": left.lift_m_s2,
            "turn_radius_km": left.turn_radius_m / 1e3,
            "turn_while_speed_halves_deg": deg(left.turn_rad),
        })),
        "wall_time_s": wall_time_s,
    });
    headed(case, said)
}

fn deg(rad: f64) -> f64 {
    rad.to_degrees()
}

fn on_map(at: OnMap) -> Value {
    json!({
        "latitude_deg": deg(at.latitude_rad),
        "longitude_deg": deg(at.longitude_rad),
    })
}

fn place(case: &Case, result: &LandingResult, at: FromEntry) -> OnMap {
    let direction = result.track.direction(at);
    OnMap::of(case.problem.planet(), direction, result.placing.node_rad)
}

fn outline(case: &Case, result: &LandingResult, outline: &Outline) -> Value {
    let corners = outline.corners();
    let pairs = corners.iter().map(|&at| {
        let there = place(case, result, at);
        json!([deg(there.latitude_rad), deg(there.longitude_rad)])
    });
    json!({
        "area_km2": outline.area_m2() / 1e6,
        "downrange_km": outline.downrange_m().map(|(a, b)| [a / 1e3, b / 1e3]),
        "crossrange_km": outline.crossrange_m().map(|(a, b)| [a / 1e3, b / 1e3]),
        "latitude_longitude_deg": pairs.collect::<Vec<_>>(),
    })
}

fn ellipse(case: &Case, result: &LandingResult, ellipse: &Ellipse) -> Value {
    let axes = |scale: f64| ellipse.axes_m.map(|axis| scale * axis / 1e3);
    json!({
        "centre": on_map(place(case, result, ellipse.centre)),
        "azimuth_deg": azimuth_deg(case, result, ellipse),
        "semi_axes_95_km": axes(HOLDS_95),
        "semi_axes_3_sigma_km": axes(3.0),
        "share_inside_95": ellipse.inside[0],
        "share_inside_3_sigma": ellipse.inside[1],
    })
}

fn arrivals(case: &Case, result: &LandingResult, arrivals: &Arrivals) -> Value {
    let of = arrivals.flights.len() as u64;
    let confidence = case.scenario.ask.confidence;
    let (failed, without_approach) = super::unflown::summary(&arrivals.outcome);
    let chance = Interval::clopper_pearson(arrivals.reached(), of, confidence).ok();
    let quantiles = |of: &dyn Fn(&Arrival) -> f64| {
        let down = arrivals
            .flights
            .iter()
            .filter(|a| a.ending == Ending::Landed);
        Sorted::new(down.map(of).collect()).ok().map(|sorted| {
            json!({
                "p05": sorted.quantile(0.05),
                "p50": sorted.quantile(0.5),
                "p95": sorted.quantile(0.95),
                "p99_865": sorted.quantile(0.998_65),
            })
        })
    };
    let verdicts = super::band_text::counted(case, &arrivals.outcome);
    json!({
        "meet_gate": arrivals.reached(),
        "meet_gate_and_hold_limits": arrivals.reached_and_held(),
        "probability_of_gate": chance.as_ref().map(interval),
        "miss_km": quantiles(&|a| a.miss_m.abs() / 1e3),
        "range_to_place_km": quantiles(&|a| a.range_m / 1e3),
        "heading_off_deg": quantiles(&|a| deg(a.heading_rad)),
        "altitude_km": quantiles(&|a| a.altitude_m / 1e3),
        "energy_height_km": quantiles(&|a| a.energy_height_m / 1e3),
        "ellipse": arrivals.ellipse.as_ref().map(|e| ellipse(case, result, e)),
        "flights": described(&arrivals.outcome),
        "outcomes": outcomes(&arrivals.outcome),
        "verdict": verdicts.all.key(),
        "limits": limits(case, &arrivals.outcome, Some(&verdicts)),
        "failed_samples": failed,
        "no_approach_samples": without_approach,
    })
}
