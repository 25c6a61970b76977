//! What was drawn for a sample, by name and in the units of files: columns beside the flown rows, and a list
//! beside a single pass.

use super::table::Column;
use crate::ensemble::engine::FlownSample;
use crate::ensemble::problem::{Numbers, SampleNumber};
use crate::numeric::quantity::Unit;
use crate::pass::Sample;
use crate::scenario::arrival::ArrivalEnergy;
use crate::scenario::limits::LimitKind;
use crate::scenario::uncertainty::{AirDensity, Number};
use crate::study::Case;
use rayon::prelude::*;
use serde_json::{Map, Value, json};

/// The unit of a number that is no part of the air.
#[must_use]
pub fn unit_of(case: &Case, number: Number) -> Unit {
    let limited = LimitKind::ALL
        .into_iter()
        .find(|kind| kind.spec().number == Some(number));
    if let Some(kind) = limited {
        return *kind.unit();
    }
    match number {
        Number::DeliveryPeriapsis
        | Number::DeliveryBT
        | Number::DeliveryBR
        | Number::NoseRadius
        | Number::NavigationAltitude => Unit::M,
        Number::DeliveryAngle
        | Number::BankAngle
        | Number::TrimAngle
        | Number::Inclination
        | Number::ArgumentOfPeriapsis
        | Number::NavigationAngle => Unit::DEG,
        Number::DeliverySpeed | Number::NavigationSpeed | Number::AirWind => Unit::M_S,
        Number::ArrivalEnergy => match case.scenario.arrival.energy {
            ArrivalEnergy::ApoapsisAltitude(_) => Unit::KM,
            ArrivalEnergy::ExcessSpeed(_) | ArrivalEnergy::InertialEntrySpeed(_) => Unit::M_S,
        },
        Number::ShipMass => Unit::KG,
        Number::ReferenceArea => Unit::M2,
        Number::NavigationAccelerometer | Number::AirScaleHeight => Unit::PERCENT,
        Number::AirDensity
        | Number::DragCoefficient
        | Number::LiftToDrag
        | Number::DragFactor
        | Number::LiftFactor
        | Number::HeatingConvective
        | Number::HeatingRadiative
        | Number::LimitPeakDeceleration
        | Number::LimitOnset
        | Number::LimitHeatFlux
        | Number::LimitHeatLoad
        | Number::LimitDynamicPressure => Unit::NONE,
    }
}

/// What a drawn number is called in files, and how it follows from a sample as flown.
struct Drawn {
    number: Number,
    name: String,
    per_si: f64,
    /// Whether the log of the density is a factor of the scenario's own, not a multiple of the world's spread.
    is_log_factor: bool,
}

impl Drawn {
    fn of(case: &Case, number: Number) -> Self {
        let unit = unit_of(case, number);
        let (per_si, suffix) = (unit.per_si(), unit.suffix);
        let density = case.problem.air_draws().density();
        let is_log_factor = matches!(density, AirDensity::LogFactor(_));
        let suffix = match number {
            Number::AirDensity if is_log_factor => "factor",
            // Of the one-sigmas that the world file has against altitude.
            Number::AirDensity => "sigmas",
            Number::AirScaleHeight => "error_percent",
            _ => suffix,
        };
        let key = match (number, case.scenario.arrival.energy) {
            (Number::ArrivalEnergy, ArrivalEnergy::ExcessSpeed(_)) => "arrival.excess_speed",
            (Number::ArrivalEnergy, ArrivalEnergy::InertialEntrySpeed(_)) => "arrival.entry_speed",
            (Number::ArrivalEnergy, ArrivalEnergy::ApoapsisAltitude(_)) => {
                "arrival.apoapsis_altitude"
            }
            _ => number.key(),
        };
        let name = format!("drawn_{}_{suffix}", key.replace('.', "_"));
        Self {
            number,
            name: name.trim_end_matches('_').to_owned(),
            per_si,
            is_log_factor,
        }
    }

    /// Its value in a sample with these numbers, which flew as this; that of the air as it was flown.
    fn value(&self, numbers: &Numbers, flown: &Sample<f64>) -> f64 {
        let air = &flown.air;
        match self.number {
            Number::AirDensity if self.is_log_factor => air.ln_factor.exp(),
            Number::AirDensity => air.sigmas,
            // What stretches the log density is ε/(1 + ε).
            Number::AirScaleHeight => self.per_si * air.stretch / (1.0 - air.stretch),
            Number::AirWind => air.wind_m_s,
            number => self.per_si * numbers[number as usize],
        }
    }
}

/// Everything that is drawn by number, in the order of the draw indices. The small-scale field of the air is
/// not: it is waves that follow from seed and sample number.
fn drawn(case: &Case) -> Vec<Drawn> {
    let numbers = case.problem.coordinates().into_iter();
    numbers.map(|number| Drawn::of(case, number)).collect()
}

/// A column for each drawn number: its value in each of the samples, as flown; null where no approach fits it.
#[must_use]
pub(super) fn columns(case: &Case, samples: &[FlownSample], aims_m: &[f64]) -> Vec<Column> {
    let all = drawn(case);
    let rows: Vec<Option<Vec<f64>>> = samples
        .par_iter()
        .map(|flown| values(case, &all, (*aims_m.get(flown.aim)?, flown.sample)))
        .collect();
    let columns = all.iter().enumerate().map(|(place, drawn)| {
        let values: Vec<Option<f64>> = rows.iter().map(|row| Some(row.as_ref()?[place])).collect();
        Column::new(drawn.name.clone(), values)
    });
    columns.collect()
}

fn values(case: &Case, all: &[Drawn], (aim_m, sample): (f64, u64)) -> Option<Vec<f64>> {
    let numbers = case.problem.numbers(sample);
    let sample = SampleNumber::Of(sample);
    let (_, flown) = case.problem.launch(aim_m, &numbers, sample)?;
    Some(all.iter().map(|one| one.value(&numbers, &flown)).collect())
}

/// What one sample drew, by the names of the columns; null for the nominal pass.
#[must_use]
pub(super) fn summary(case: &Case, (aim_m, sample): (f64, Option<u64>)) -> Value {
    let all = drawn(case);
    let Some(values) = sample.and_then(|sample| values(case, &all, (aim_m, sample))) else {
        return Value::Null;
    };
    let named = all.iter().zip(values);
    let named = named.map(|(one, value)| {
        let name = one.name.trim_start_matches("drawn_").to_owned();
        (name, json!(value))
    });
    Value::Object(named.collect::<Map<String, Value>>())
}
