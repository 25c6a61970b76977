//! What `pass` says of heating: the stagnation point by each correlation that covers the gas, and the spots
//! with their walls.

use super::coverage_words;
use super::grid::{Cell, Grid};
use super::number::{rounded, significant};
use crate::ensemble::LimitKind;
use crate::ensemble::problem::SampleNumber;
use crate::numeric::units::{Dimension, format_number, show_quantity};
use crate::numeric::written::raised;
use crate::scenario::heating_errors::{self, HeatingError};
use crate::scenario::uncertainty::{Number, Uncertain};
use crate::study::Case;
use crate::study::second_opinion::{Opinion, opinions};
use crate::study::single::SinglePass;
use crate::study::verdicts::Verdicts;
use crate::study::walls::{Judged, SpotHeat, SpotLimit};
use serde_json::{Value, json};

/// The correlations along a flown pass, the one it is flown with first.
fn opinions_of(case: &Case, single: &SinglePass) -> Vec<Opinion> {
    opinions(&case.world, &single.flown.history, &single.nose)
}

/// Peak flux and load as flown, and convective alone by each correlation with the difference from the first.
#[must_use]
pub fn convective_table(case: &Case, single: &SinglePass) -> Grid {
    let all = opinions_of(case, single);
    let mut grid = Grid::new()
        .words("heating of the stagnation point")
        .numbers("peak, W/cm²")
        .numbers("load, J/cm²");
    let result = &single.flown.result;
    let ship = &case.problem.models().ship;
    let beside = match (ship.thin_air, ship.radiative.is_some()) {
        (true, true) => ", with thin air and radiation",
        (true, false) => ", with thin air",
        (false, true) => ", with radiation",
        (false, false) => "",
    };
    grid.row([
        format!("as flown{beside}"),
        significant(result.peak_heat_flux_w_m2 / 1e4, 4),
        significant(result.heat_load_j_m2 / 1e4, 4),
    ]);
    for opinion in &all {
        let against = |value: f64, first: f64| {
            let digits = significant(value / 1e4, 4);
            if opinion.correlation == all[0].correlation {
                digits
            } else {
                format!("{digits} ({:+.1} %)", 100.0 * (value / first - 1.0))
            }
        };
        grid.row([
            format!("convection by {}", opinion.correlation.name()),
            against(opinion.peak_flux_w_m2, all[0].peak_flux_w_m2),
            against(opinion.load_j_m2, all[0].load_j_m2),
        ]);
    }
    grid
}

/// What has to be said of the correlations: that there is no second one, or where one is outside its range.
#[must_use]
pub fn convective_remarks(case: &Case, single: &SinglePass) -> Vec<String> {
    let all = opinions_of(case, single);
    let mut remarks: Vec<String> = all
        .iter()
        .filter(|opinion| !opinion.outside.is_empty())
        .map(|opinion| {
            format!(
                "{} is outside its range near the peak: {}.",
                opinion.correlation.name(),
                outside_words(opinion).join("; ")
            )
        })
        .collect();
    if all.len() < 2 {
        remarks.push(no_second(case));
    }
    remarks.extend(errors_remark(case, single));
    remarks
}

fn no_second(case: &Case) -> String {
    format!(
        "No second correlation covers the gas of {}: those known here are for the Earth's air and for carbon dioxide.",
        case.world.body().name
    )
}

fn outside_words(opinion: &Opinion) -> Vec<String> {
    let departures = opinion.outside.iter();
    departures
        .map(|departure| {
            let range = departure.range;
            format!(
                "{} {} {}, made for {} to {}",
                range.quantity,
                significant(departure.value, 3),
                raised(range.unit),
                format_number(range.lowest),
                format_number(range.highest)
            )
        })
        .collect()
}

/// Peak flux and load by each correlation for the summary.
#[must_use]
pub fn convective_json(case: &Case, single: &SinglePass) -> Value {
    let all = opinions_of(case, single);
    let by = |opinion: &Opinion| {
        let difference = |value: f64, first: f64| 100.0 * (value / first - 1.0);
        json!({
            "correlation": opinion.correlation.key(),
            "known": opinion.correlation.known().words(),
            "peak_heat_flux_w_cm2": opinion.peak_flux_w_m2 / 1e4,
            "heat_load_j_cm2": opinion.load_j_m2 / 1e4,
            "peak_difference_percent": difference(opinion.peak_flux_w_m2, all[0].peak_flux_w_m2),
            "load_difference_percent": difference(opinion.load_j_m2, all[0].load_j_m2),
            "outside_its_range": outside_words(opinion),
        })
    };
    json!({
        "by": all.iter().map(by).collect::<Vec<_>>(),
        "why_no_second": (all.len() < 2).then(|| no_second(case)),
    })
}

/// The errors of the heating models that samples are flown with.
fn errors_of(case: &Case) -> impl Iterator<Item = &Uncertain> {
    let flown = case.problem.coordinates();
    let numbers = case.scenario.uncertainty.numbers.iter();
    let errors = numbers.filter(|u| Number::HEATING.contains(&u.number));
    errors.filter(move |u| flown.contains(&u.number))
}

/// What samples are flown with of the errors of the heating models, in words.
#[must_use]
pub fn errors_words(case: &Case) -> String {
    let words: Vec<String> = errors_of(case)
        .map(|error| {
            let mark = HeatingError::behind(error).map_or("", |_| " (default)");
            format!(
                "{}: {}{mark}",
                error.number.words(),
                error.factor_in_words()
            )
        })
        .collect();
    if !words.is_empty() {
        return words.join("; ");
    }
    let asked = heating_errors::heat_is_limited(&case.scenario.limits, &case.scenario.ship);
    if asked {
        "none: the scenario takes the models as exact".to_owned()
    } else {
        "none: nothing limits heat".to_owned()
    }
}

/// That an error of radiation which the scenario has is not flown, as radiation is not.
#[must_use]
pub fn unflown_remark(case: &Case) -> Option<String> {
    let radiative = Number::HeatingRadiative;
    let asked = case.scenario.uncertainty.draws(radiative);
    let flown = errors_of(case).any(|error| error.number == radiative);
    (asked && !flown).then(|| {
        "Radiation is not flown here: the gas has no correlation, the scenario leaves it out, or the arrival is too slow \
         for it. Its error adds nothing."
            .to_owned()
    })
}

/// The errors for a summary, each with the source of its size.
#[must_use]
pub fn errors_json(case: &Case) -> Value {
    let one = |error: &Uncertain| {
        let default = HeatingError::behind(error);
        json!({
            "number": error.number.key(),
            "distribution": error.factor_in_words(),
            "default": default.is_some(),
            "source": default.map_or("the scenario", |error| error.source),
            "known": default.map(|_| heating_errors::KNOWN),
        })
    };
    errors_of(case).map(one).collect()
}

/// Which factors a pass was flown with, where samples are flown with some.
fn errors_remark(case: &Case, single: &SinglePass) -> Option<String> {
    let factors: Vec<String> = errors_of(case)
        .map(|error| {
            let factor = single.numbers[error.number as usize];
            format!(
                "{} on the {}",
                significant(factor, 4),
                model_words(error.number)
            )
        })
        .collect();
    let factors = (!factors.is_empty()).then(|| factors.join(" and "))?;
    Some(match single.sample {
        SampleNumber::Of(_) | SampleNumber::Mixed(_) => format!(
            "Flown with the errors of the heating models that the sample drew: factors of {factors}. The correlations \
             are without."
        ),
        SampleNumber::Nominal => format!(
            "Flown without the errors of the heating models, which `band` counts with ({}).",
            errors_words(case)
        ),
    })
}

fn model_words(number: Number) -> &'static str {
    if number == Number::HeatingRadiative {
        "radiative flux"
    } else {
        "convective flux"
    }
}

/// One row a spot: flux, equilibrium, hottest surface and back face with their times, and the verdict.
#[must_use]
pub fn spots_table((single, verdicts): (&SinglePass, &Verdicts)) -> Grid {
    let backs = single.spots.iter().any(|spot| spot.back.is_some());
    let mut grid = Grid::new()
        .words("spot")
        .numbers("peak flux, W/cm²")
        .numbers("in balance, K")
        .numbers("surface, K")
        .numbers("at, s");
    if backs {
        grid = grid.numbers("back face, K").numbers("at, s");
    }
    let mut grid = grid.words("limits");
    for (place, spot) in single.spots.iter().enumerate() {
        let mut cells: Vec<Cell> = vec![
            spot.name.clone().into(),
            significant(spot.peak_flux_w_m2 / 1e4, 3).into(),
            format!("{:.0}", spot.equilibrium_k).into(),
            format!("{:.0}", spot.surface.kelvin).into(),
            format!("{:.0}", spot.surface.time_s).into(),
        ];
        if backs {
            cells.extend(match spot.back {
                Some(back) => [
                    Cell::from(format!("{:.0}", back.kelvin)),
                    format!("{:.0}", back.time_s).into(),
                ],
                None => ["–".into(), "–".into()],
            });
        }
        cells.push(match verdicts.of(LimitKind::Spot(place)) {
            None => "none".into(),
            Some(found) => coverage_words::cell(found.verdict),
        });
        grid.row(cells);
    }
    grid
}

/// What has to be said of the spots: how long walls were followed, which still warm, and which hold only because
/// they take time.
#[must_use]
pub fn spot_remarks(single: &SinglePass) -> Vec<String> {
    let mut remarks = Vec::new();
    let walls: Vec<&SpotHeat> = single.spots.iter().filter(|spot| spot.takes_time).collect();
    if let Some(first) = walls.first() {
        remarks.push(format!(
            "Walls are followed for {} after the pass, in which they only radiate. \"In balance\" is radiative \
             equilibrium with the peak flux, which no wall that starts colder comes to; `band` holds it against \
             the limit of the surface, and so errs on the safe side.",
            show_quantity(rounded(first.followed_s, 3), Dimension::Time)
        ));
    }
    for spot in walls.iter().filter(|spot| spot.saved_by_its_wall()) {
        remarks.push(format!(
            "{} holds because its wall takes time to warm: in balance it would not, and `band` does not count on it.",
            spot.name
        ));
    }
    for spot in walls.iter().filter(|spot| spot.back_still_warms) {
        remarks.push(format!(
            "The back face of {} still warms at the end: give its wall a longer `soak` to see the peak.",
            spot.name
        ));
    }
    remarks
}

/// The limits of spots that a pass breaks, in words.
#[must_use]
pub fn broken_spots(single: &SinglePass) -> Vec<String> {
    let broken = |spot: &SpotHeat| -> Vec<String> {
        let verdicts = spot.verdicts.iter().filter(|verdict| !verdict.holds());
        verdicts
            .map(|verdict| broken_words(spot, verdict))
            .collect()
    };
    single.spots.iter().flat_map(broken).collect()
}

fn broken_words(spot: &SpotHeat, verdict: &SpotLimit) -> String {
    let (what, unit, scale) = match verdict.judged {
        Judged::Surface => ("surface", "K", 1.0),
        Judged::Back => ("back face", "K", 1.0),
        Judged::Flux => ("heat flux", "W/cm²", 1e-4),
    };
    format!(
        "{what} of {} at {} {unit}, above {} {unit}",
        spot.name,
        significant(scale * verdict.found, 4),
        significant(scale * verdict.allowed, 4)
    )
}

/// The spots for the summary.
#[must_use]
pub fn spots_json((single, verdicts): (&SinglePass, &Verdicts)) -> Value {
    let spot = |(place, spot): (usize, &SpotHeat)| {
        let limits: Vec<Value> = spot.verdicts.iter().map(verdict_json).collect();
        json!({
            "spot": spot.name,
            "verdict": verdicts.of(LimitKind::Spot(place)).map(|found| found.verdict.key()),
            "wall_takes_time": spot.takes_time,
            "peak_heat_flux_w_cm2": spot.peak_flux_w_m2 / 1e4,
            "equilibrium_temperature_k": spot.equilibrium_k,
            "peak_surface_temperature_k": spot.surface.kelvin,
            "peak_surface_time_s": spot.surface.time_s,
            "peak_back_temperature_k": spot.back.map(|back| back.kelvin),
            "peak_back_time_s": spot.back.map(|back| back.time_s),
            "back_still_warms": spot.back_still_warms,
            "followed_after_pass_s": spot.followed_s,
            "limits": limits,
        })
    };
    single.spots.iter().enumerate().map(spot).collect()
}

fn verdict_json(verdict: &SpotLimit) -> Value {
    let (key, scale) = match verdict.judged {
        Judged::Surface => ("surface_temperature_k", 1.0),
        Judged::Back => ("back_temperature_k", 1.0),
        Judged::Flux => ("heat_flux_w_cm2", 1e-4),
    };
    json!({
        "limit": key,
        "allowed": scale * verdict.allowed,
        "found": scale * verdict.found,
        "held": verdict.holds(),
    })
}
