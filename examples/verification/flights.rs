//! Rows of the flown entries.

use crate::verification::campaigns::ASSUMED_OF_THE_CAMPAIGN;
use crate::verification::flown::{
    ASSUMED, Assumed, Entry, Flown, entries, fly_entry, fly_from, ready, with_pathfinder_air,
};
use crate::verification::flying::G0;
use crate::verification::row::{Group, Known, Row, Tolerance};

const FLIGHTS: Group = Group {
    name: "Flown entries",
    source: "flights.csv: Desai & Qualls 2008; Orloff SP-2000-4029; Spencer et al. 1999; Braun & Manning 2007; others",
    known: Known::Published,
};

/// What a row takes from a flight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Quantity {
    Peak,
    Flux,
    Load,
}

impl Quantity {
    /// Column of the file, its name among the published fields, words, unit.
    fn of(self) -> (&'static str, &'static str, &'static str, &'static str) {
        match self {
            Self::Peak => ("peak_g", "peak_g", "peak", "g"),
            Self::Flux => ("peak_q_Wcm2", "peak_q", "heat flux", "W/cm2"),
            Self::Load => ("heat_load_Jcm2", "heat_load", "heat load", "J/cm2"),
        }
    }

    fn from(self, flown: &Flown) -> f64 {
        match self {
            Self::Peak => flown.pass.result.peak_deceleration_m_s2 / G0,
            Self::Flux => flown.total_flux,
            Self::Load => flown.total_load,
        }
    }
}

/// Mission, quantity, tolerance, and for a row that misses it the reason.
const CHECKED: [(&str, Quantity, f64, &str); 18] = {
    use Quantity::{Flux, Load, Peak};
    [
        ("Stardust SRC", Peak, 0.05, ""),
        ("Stardust SRC", Flux, 0.25, ""),
        ("Apollo 7", Peak, 0.10, GENTLEST),
        ("Apollo 11", Peak, 0.15, ""),
        ("Apollo 11", Flux, 0.25, ""),
        ("Apollo 11", Load, 0.30, LEAVES),
        ("Viking 1/2", Flux, 0.30, ""),
        ("Viking 1/2", Load, 0.30, ""),
        ("Mars Pathfinder", Peak, 0.10, ""),
        ("Mars Pathfinder", Flux, 0.15, ""),
        ("Mars Pathfinder", Load, 0.30, ""),
        ("MER-A Spirit", Flux, 0.30, ""),
        ("MSL Curiosity", Peak, 0.05, GENTLEST_MSL),
        ("Galileo probe", Peak, 0.10, ""),
        ("Galileo probe", Flux, 0.30, NO_RADIATION),
        ("Galileo probe", Load, 0.30, ABLATES),
        ("Pioneer Venus Large (Sounder)", Peak, 0.10, ""),
        ("Pioneer Venus Large (Sounder)", Flux, 0.30, NO_RADIATION),
    ]
};

const GENTLEST: &str = "Full lift up is the gentlest flight of this ship; the flown one rolled under guidance, with \
                        less of the lift upward, and felt more. The entry angle is from memory.";
const LEAVES: &str = "With full lift up throughout the flight leaves the air again after the first peak; the flown \
                      one rolled to stay in it for 929 s, and the second dip is not in the sum.";
const GENTLEST_MSL: &str = "Full lift up is the gentlest flight; the flown one banked under guidance. The published \
                            day's air is not known here; the peak itself is from memory.";
const NO_RADIATION: &str = "Convective flux alone: no correlation of radiation is held for this air, and radiation \
                            was most of the flux.";
const ABLATES: &str = "A cold wall without ablation: vapour blown off the shield blocks much of the heat, and the \
                       enthalpy is nine times what the correlation covers.";

fn words(mission: &str, what: &str, world: &str) -> String {
    let short = mission.split(" Large").next().unwrap_or(mission);
    format!("{short}: {what}{world}")
}

pub(crate) fn rows() -> Vec<Row> {
    let entries = entries();
    let mut rows = Vec::new();
    for assumed in &ASSUMED {
        let entry = entry_of(&entries, assumed);
        let flown = fly_entry(entry, assumed);
        for (mission, quantity, share, reason) in CHECKED {
            if mission != assumed.mission {
                continue;
            }
            let row = flight_row(entry, (quantity, share), &flown, "");
            rows.push(if reason.is_empty() {
                row
            } else {
                row.outside_because(reason)
            });
        }
        if assumed.mission == "Mars Pathfinder" {
            let (planet, start) = ready(entry, assumed);
            let flown = fly_from(&with_pathfinder_air(&planet), &start, (entry, assumed));
            let air = ", air of the day";
            rows.push(flight_row(entry, (Quantity::Peak, 0.05), &flown, air));
            rows.push(flight_row(entry, (Quantity::Flux, 0.15), &flown, air));
        }
    }
    rows
}

fn entry_of<'e>(entries: &'e [Entry], assumed: &Assumed) -> &'e Entry {
    let found = entries
        .iter()
        .find(|entry| entry.text("mission") == assumed.mission);
    found.expect("every assumption belongs to an entry of the file")
}

fn flight_row(
    entry: &Entry,
    (quantity, share): (Quantity, f64),
    flown: &Flown,
    world: &str,
) -> Row {
    let (column, field, what, unit) = quantity.of();
    let published = entry
        .text("published_fields")
        .split(',')
        .any(|name| name.trim() == field);
    let known = if published {
        Known::Published
    } else {
        Known::FromMemory
    };
    let check = words(entry.text("mission"), what, world);
    let pair = (
        entry.number(column).unwrap_or(f64::NAN),
        quantity.from(flown),
    );
    FLIGHTS
        .known(known)
        .row(check, unit, pair, Tolerance::Relative(share))
}

/// For every entry of the file one line: what is published, what is assumed, and how fast it was;
/// or what is missing for a flight.
pub(crate) fn fields() -> Vec<String> {
    let entries = entries();
    let line = |entry: &Entry| {
        let mission = entry.text("mission");
        let published = match entry.text("published_fields") {
            "" => "nothing",
            fields => fields,
        };
        let assumed = ASSUMED.iter().find(|a| a.mission == mission);
        let Some(assumed) = assumed.filter(|_| entry.can_be_flown()) else {
            let missing: Vec<&str> = ["V_kms", "FPA_deg", "beta_kgm2"]
                .into_iter()
                .filter(|column| entry.number(column).is_none())
                .collect();
            return format!(
                "**{mission}**: not flown, the file lacks {}. Published: {published}.",
                missing.join(", ")
            );
        };
        let flown = fly_entry(entry, assumed);
        format!(
            "**{mission}**: published: {published}; the other fields from memory. Source: {}. Assumed: {}. Speed {:.3} km/s \
             inertial, {:.3} km/s against the air.",
            entry.text("source").trim_end_matches(':'),
            assumed.words,
            flown.inertial_speed / 1e3,
            flown.relative_speed / 1e3,
        )
    };
    let campaign = format!(
        "**Mars Odyssey**, aerobraking: published: passes, last day, period at the start, apoapsis at the end and after 55 \
         passes, propellant saved, lifetime; the rest from memory or assumed: {}.",
        ASSUMED_OF_THE_CAMPAIGN.join("; ")
    );
    entries.iter().map(line).chain([campaign]).collect()
}
