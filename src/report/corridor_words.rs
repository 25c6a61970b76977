//! Edges of a corridor in words and numbers, the same on the screen, in figures and in files.

use super::limit_words::{breaking_name, broken_words};
use super::number::trimmed;
use crate::ensemble::LimitKind;
use crate::ensemble::problem::Numbers;
use crate::scenario::arrival::ArrivalEnergy;
use crate::study::Case;
use crate::study::corridor::demand::{Bank, Demand};
use crate::study::corridor::stretch::Edge;
use crate::study::corridor::{Corridor, angle_at, lift_to_drag};

/// Short name of breaking a demand.
#[must_use]
pub fn demand_name(case: &Case, demand: Demand) -> String {
    match demand {
        Demand::Limit(_, kind) => breaking_name(case, kind),
        Demand::Stays => "escapes".to_owned(),
        Demand::Flown => super::unflown::NO_RESULT.to_owned(),
    }
}

/// What breaking a demand means.
#[must_use]
pub fn demand_words(case: &Case, demand: Demand) -> String {
    match demand {
        Demand::Limit(_, kind) => broken_words(case, kind),
        Demand::Stays => "the ship escapes".to_owned(),
        Demand::Flown => {
            "the flight has no result (its integration fails, or no approach fits)".to_owned()
        }
    }
}

/// The stable key of a demand.
#[must_use]
pub fn demand_key(demand: Demand) -> &'static str {
    match demand {
        Demand::Limit(_, kind) => kind.key(),
        Demand::Stays => "escapes",
        Demand::Flown => "no_result",
    }
}

/// The key of the limit whose colour a demand is drawn in.
#[must_use]
pub fn colour_key(demand: Demand) -> &'static str {
    match demand {
        Demand::Limit(_, kind) => kind.key(),
        Demand::Stays => LimitKind::CapturedBelow.key(),
        Demand::Flown => LimitKind::LeavesAir.key(),
    }
}

/// How the ship is flown, in words.
#[must_use]
pub fn bank_words(bank: Bank) -> String {
    match bank {
        Bank::Up => "lift up".to_owned(),
        Bank::Down => "lift down".to_owned(),
        Bank::Without => "no lift".to_owned(),
        Bank::Held(angle) => format!("bank {} deg", trimmed(angle.to_degrees(), 4)),
    }
}

/// What lies just beyond an edge: "lift up, peak deceleration above 3 g".
#[must_use]
pub fn edge_words(case: &Case, demands: &[Demand], edge: Edge) -> Option<String> {
    let (demand, bank) = edge.owner?;
    let words = demand_words(case, *demands.get(demand)?);
    Some(if lift_to_drag(&case.problem) > 0.0 {
        format!("{}, {words}", bank_words(bank))
    } else {
        words
    })
}

/// An aim with its flight-path angle: "51.20 km (-10.34 deg)".
#[must_use]
pub fn aim_words(case: &Case, aim_m: f64, numbers: &Numbers) -> String {
    let angle = angle_at(&case.problem, aim_m, numbers);
    let angle = angle.map_or(f64::NAN, f64::to_degrees);
    format!("{:.2} km ({angle:.3} deg)", aim_m / 1e3)
}

/// Why there is no corridor.
#[must_use]
pub fn closed_words(case: &Case, demands: &[Demand], corridor: &Corridor) -> Option<String> {
    match corridor {
        Corridor::Open(_) => None,
        Corridor::Closed { low, high } => {
            let words = |edge: &Edge| edge_words(case, demands, *edge);
            Some(format!(
                "{} below {:.2} km, and {} above {:.2} km",
                words(low).unwrap_or_default(),
                low.aim_m / 1e3,
                words(high).unwrap_or_default(),
                high.aim_m / 1e3
            ))
        }
        Corridor::Never(demand) => demands
            .get(*demand)
            .map(|&demand| format!("at every aim: {}", demand_words(case, demand))),
    }
}

/// What varies from arrival to arrival: key, name with unit, and how much of the SI unit is one of it.
#[must_use]
pub fn energy_axis(case: &Case) -> (&'static str, &'static str, f64) {
    match case.scenario.arrival.energy {
        ArrivalEnergy::ExcessSpeed(_) => ("excess_speed_km_s", "excess speed, km/s", 1e3),
        ArrivalEnergy::InertialEntrySpeed(_) => ("speed_km_s", "entry speed, km/s", 1e3),
        ArrivalEnergy::ApoapsisAltitude(_) => {
            ("apoapsis_altitude_km", "apoapsis altitude, km", 1e3)
        }
    }
}
