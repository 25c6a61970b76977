//! Campaigns of aerobraking at each point of a sweep.

use super::studies::{Answer, Cell, Measure, NoAnswer, SweptStudy, covered_too};
use crate::ensemble::Progress;
use crate::study::Case;
use crate::study::campaign::{CampaignError, CampaignOutcome, fly_case};
use crate::study::verdicts::Covered;

pub(super) const STUDY: SweptStudy = SweptStudy {
    name: "campaign",
    about: "campaigns of aerobraking, medians of those that reach the target",
    measures: &[
        Measure::number("probability_held", "probability that all limits hold", "%"),
        Measure::number("probability_held_lower", "the same, lower bound", "%"),
        Measure::number("passes", "passes", ""),
        Measure::number("days", "time", "days"),
        Measure::number("trims", "trims", ""),
        Measure::number("trim_speed_m_s", "speed of all trims", "m/s"),
        Measure::number("final_burns_m_s", "burns into the target orbit", "m/s"),
        Measure::number("speed_taken_by_air_m_s", "speed taken by the air", "m/s"),
        Measure::number("propellant_kg", "propellant of all burns", "kg"),
        Measure::number("worst_deceleration_g", "worst deceleration", "g"),
        Measure::number("worst_heat_flux_w_cm2", "worst heat flux", "W/cm²"),
        Measure::text("ruling_limit", "limit broken most often"),
    ],
    shown: &[
        "probability_held",
        "passes",
        "days",
        "propellant_kg",
        "worst_heat_flux_w_cm2",
    ],
    lines: &["days"],
    lines_title: "time, days",
    between: None,
    map: "days",
    keeps_samples: false,
    found: None,
    passes: |case| {
        let rule = case.scenario.campaign.as_ref();
        rule.map_or(0, |rule| rule.campaigns.saturating_mul(300))
    },
    run,
};

fn run(case: &Case, progress: &Progress) -> Result<Answer, NoAnswer> {
    let asked = case.scenario.campaign.as_ref().map_or(0, |c| c.campaigns);
    match fly_case(case, (asked, 0), progress) {
        Ok(outcome) => {
            let mut answer = answer(&outcome, case.scenario.ask.confidence);
            let covered = Covered::over_range(&case.problem);
            answer.remark = covered_too(answer.remark, &covered, case);
            Ok(answer)
        }
        Err(CampaignError::Stopped { .. }) => Err(NoAnswer::Stopped),
        Err(error) => Err(NoAnswer::Refused(error.to_string())),
    }
}

fn answer(outcome: &CampaignOutcome, confidence: f64) -> Answer {
    use crate::study::campaign::CampaignQuantity as Q;
    let held = outcome.probability_held(confidence);
    let median = |quantity: Q| {
        let median = outcome.median(|campaign| quantity.of(campaign).unwrap_or(f64::NAN));
        Cell::from(Some(median))
    };
    let mut cells = vec![
        held.map(|held| held.estimate).into(),
        held.map(|held| held.lower).into(),
    ];
    cells.extend(
        [
            Q::Passes,
            Q::Days,
            Q::Trims,
            Q::TrimSpeed,
            Q::RaiseSpeed,
            Q::AirSpeed,
            Q::Propellant,
            Q::WorstDeceleration,
            Q::WorstHeatFlux,
        ]
        .map(median),
    );
    let ruling = outcome.ruling_limit();
    cells.push(ruling.map_or(Cell::Missing, |(kind, _)| kind.key().into()));
    let reached = outcome.median(|_| 1.0).is_finite();
    Answer {
        cells,
        remark: if reached {
            String::new()
        } else {
            "no campaign reaches the target".to_owned()
        },
    }
}
