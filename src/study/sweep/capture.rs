//! The ways to be captured at each point of a sweep: the one that holds every limit and delivers most.

use super::studies::{Answer, Cell, Measure, NoAnswer, SweptStudy, covered_too};
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::Progress;
use crate::ensemble::verdict::Verdict;
use crate::study::Case;
use crate::study::capture::{Break, CaptureError, Comparison, Costs, Row, compare};
use crate::study::verdicts::Covered;

pub(super) const STUDY: SweptStudy = SweptStudy {
    name: "capture",
    about: "the way to be captured that holds every limit and delivers most",
    measures: &[
        Measure::text("way", "way"),
        Measure::text("arrival", "arrival"),
        Measure::number("propellant_kg", "propellant to carry", "kg"),
        Measure::number("delivered_kg", "mass delivered", "kg"),
        Measure::number("engine_speed_m_s", "speed change by engine", "m/s"),
        Measure::number("air_speed_m_s", "speed taken by the air", "m/s"),
        Measure::number("days", "time to the target orbit", "days"),
        Measure::number("passes", "passes", ""),
        Measure::number("peak_deceleration_g", "peak deceleration", "g"),
        Measure::number("peak_heat_flux_w_cm2", "peak heat flux", "W/cm²"),
        Measure::number("probability_held", "probability that all holds", "%"),
        Measure::number("probability_held_lower", "the same, lower bound", "%"),
    ],
    shown: &[
        "way",
        "propellant_kg",
        "delivered_kg",
        "days",
        "peak_deceleration_g",
        "probability_held",
    ],
    lines: &["propellant_kg"],
    lines_title: "propellant to carry, kg",
    between: None,
    map: "propellant_kg",
    keeps_samples: true,
    found: None,
    // A guess of the aims flown for a comparison.
    passes: |case| case.scenario.ask.samples.saturating_mul(150),
    run,
};

fn run(case: &Case, progress: &Progress) -> Result<Answer, NoAnswer> {
    let compared = match compare(case, progress) {
        Ok(compared) => compared,
        Err(CaptureError::Stopped { .. }) => return Err(NoAnswer::Stopped),
        Err(error @ CaptureError::Band(_)) => return Err(NoAnswer::Refused(error.to_string())),
        Err(CaptureError::Input(error)) => {
            return Err(NoAnswer::Refused(error.message().to_owned()));
        }
    };
    let covered = Covered::over_range(&case.problem);
    if let Some((_, row, costs)) = compared.best() {
        let remark = covered_too(String::new(), &covered, case);
        return Ok(answer((row, costs), remark));
    }
    match compared.likeliest() {
        Some((_, row, costs)) => {
            let broken = costs.ruling.map_or("nothing", Break::key);
            let remark = if costs.verdict == Verdict::Broken {
                format!("no way holds every limit; the likeliest is given, it breaks {broken}")
            } else {
                format!(
                    "no way is shown to hold every limit; the likeliest is given, {}: it breaks {broken} most often",
                    costs.verdict.words()
                )
            };
            Ok(answer((row, costs), covered_too(remark, &covered, case)))
        }
        None => Err(NoAnswer::Refused(closed(&compared))),
    }
}

/// Why every way is closed.
fn closed(compared: &Comparison) -> String {
    let reasons = compared.rows.iter().filter_map(|row| {
        let obstacle = row.costs.as_ref().err()?;
        Some(format!("{}: {obstacle}", row.way.key()))
    });
    let reasons: Vec<String> = reasons.collect();
    format!("every way is closed: {}", reasons.join("; "))
}

fn answer((row, costs): (&Row, &Costs), remark: String) -> Answer {
    let number = |value: f64| Cell::from(Some(value));
    Answer {
        cells: vec![
            row.way.key().into(),
            row.arrival.as_str().into(),
            costs.reserve_kg.into(),
            costs.delivered_kg.into(),
            number(costs.engine_speed_m_s),
            number(costs.air_speed_m_s),
            number(costs.time_s() / 86_400.0),
            number(costs.passes),
            number(costs.peak_m_s2 / G0),
            number(costs.heat_flux_w_m2 / 1e4),
            number(costs.held.estimate),
            number(costs.held.lower),
        ],
        remark,
    }
}
