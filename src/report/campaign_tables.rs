//! The tables of campaigns, on the screen and on the page.

use super::campaign_text::{band_words, ending_words};
use super::grid::Grid;
use super::limit_words::{broken_words, value_text};
use super::number::{count, percent, significant, trimmed};
use super::text::Terminal;
use crate::ensemble::campaign::{CampaignEnding, Phase};
use crate::ensemble::quantile::Sorted;
use crate::study::Case;
use crate::study::campaign::{CampaignOutcome, CampaignQuantity, SpotWarmth};
use std::fmt::Write as _;

/// The quantities over the campaigns, with their limits; the walls over those they were carried through.
#[must_use]
pub fn quantities(case: &Case, outcome: &CampaignOutcome, walls: &[SpotWarmth]) -> Grid {
    let mut grid = Grid::new()
        .words("quantity")
        .numbers("5 %")
        .numbers("median")
        .numbers("95 %")
        .numbers("worst")
        .numbers("limit");
    for quantity in CampaignQuantity::ALL {
        let values = outcome.values(quantity);
        let Some(described) = outcome.described(quantity, case.scenario.ask.confidence) else {
            continue;
        };
        let (label, unit) = quantity.label();
        let name = if unit.is_empty() {
            label.to_owned()
        } else {
            format!("{label} ({unit})")
        };
        let low_is_bad = matches!(
            quantity,
            CampaignQuantity::LowestAltitude | CampaignQuantity::Saved
        );
        let extreme = if low_is_bad {
            values.iter().copied().fold(f64::INFINITY, f64::min)
        } else {
            values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        };
        let shown = |value: f64| match quantity {
            CampaignQuantity::Passes | CampaignQuantity::Trims => trimmed(value, 5),
            _ => significant(value, 4),
        };
        grid.row([
            name,
            shown(described.p05.value),
            shown(described.p50.value),
            shown(described.p95.value),
            shown(extreme),
            limit_of(case, quantity).unwrap_or_default(),
        ]);
    }
    for wall in walls {
        let faces = [
            ("", wall.worst_surface_k(), wall.highest_k),
            (" behind", wall.worst_back_k(), wall.highest_back_k),
        ];
        for (face, values, highest_k) in faces {
            let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let Ok(sorted) = Sorted::new(values) else {
                continue;
            };
            let shown = |kelvin: f64| significant(kelvin, 4);
            grid.row([
                format!("hottest {}{face} (K)", wall.name),
                shown(sorted.quantile(0.05)),
                shown(sorted.quantile(0.5)),
                shown(sorted.quantile(0.95)),
                shown(highest),
                highest_k.map_or_else(String::new, |k| format!("{} K", trimmed(k, 4))),
            ]);
        }
    }
    grid
}

fn limit_of(case: &Case, quantity: CampaignQuantity) -> Option<String> {
    let limit = case.problem.limits().on(quantity.of_the_worst_pass()?)?;
    Some(match quantity {
        // It stands in pascal here.
        CampaignQuantity::WorstDynamicPressure => {
            format!("{} Pa", significant(limit.allowed, 4))
        }
        _ => value_text(limit.kind, limit.allowed),
    })
}

/// The limits and endings: in how many campaigns each came.
#[must_use]
pub fn events(case: &Case, outcome: &CampaignOutcome) -> Grid {
    let mut grid = Grid::new()
        .words("in a campaign")
        .numbers("campaigns")
        .numbers("share")
        .numbers("at most");
    let mut row = |words: String, campaigns: u64| {
        let share = outcome.probability(campaigns, case.scenario.ask.confidence);
        let (estimate, upper) = share.map_or((f64::NAN, f64::NAN), |s| (s.estimate, s.upper));
        grid.row([words, count(campaigns), percent(estimate), percent(upper)]);
    };
    for (kind, broken) in outcome.limits.iter().zip(outcome.broken()) {
        if !kind.is_of_the_way_out() {
            row(broken_words(case, *kind), broken);
        }
    }
    for (ending, campaigns) in CampaignEnding::ALL.iter().zip(outcome.endings()) {
        if campaigns > 0 || *ending == CampaignEnding::Decayed {
            row(ending_words(*ending).to_owned(), campaigns);
        }
    }
    grid
}

/// The compact tables under the answer.
#[must_use]
pub fn table(
    terminal: &Terminal,
    case: &Case,
    (outcome, walls, passes): (&CampaignOutcome, &[SpotWarmth], u64),
) -> String {
    let mut text = terminal
        .table(&quantities(case, outcome, walls))
        .trim_end()
        .to_owned();
    text.push_str("\n\n");
    text.push_str(terminal.table(&events(case, outcome)).trim_end());
    text.push_str("\n\n");
    text.push_str(&terminal.paragraph(&closing(case, (outcome, walls), passes), 0));
    text
}

fn closing(
    case: &Case,
    (outcome, walls): (&CampaignOutcome, &[SpotWarmth]),
    passes: u64,
) -> String {
    let mut text = String::new();
    if let (Some([met, below, above]), Some(rule)) =
        (outcome.band_shares(), &case.scenario.campaign)
    {
        let _ = write!(
            text,
            "After the walk-in {} of the passes met the band of {} ({}), {} fell below, {} rose above. ",
            percent(met),
            rule.control.quantity.words(),
            band_words(&rule.control),
            percent(below),
            percent(above)
        );
    }
    let _ = write!(
        text,
        "{} passes of {} campaigns flown, the air up to {} km.",
        count(passes),
        count(outcome.campaigns.len() as u64),
        significant(outcome.interface_m / 1e3, 4)
    );
    if let Some((result, rows)) = outcome.example()
        && let Some(first) = rows.iter().find(|row| row.phase == Phase::WalkOut)
    {
        let _ = write!(
            text,
            " In the example, campaign {}, the walk-out begins with pass {} of {}, at an apoapsis of {} km.",
            result.campaign,
            first.pass,
            result.passes,
            significant(first.apoapsis_altitude_m / 1e3, 4)
        );
    }
    if let Some(fewest) = walls.iter().map(|wall| wall.campaigns.len()).min() {
        let _ = write!(
            text,
            " Walls of spots were carried through the passes of {} of them.",
            count(fewest as u64)
        );
    }
    text
}
