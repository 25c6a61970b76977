//! One nominal pass at each point of a sweep.

use super::studies::{Answer, Cell, Measure, NoAnswer, SweptStudy};
use crate::ensemble::Progress;
use crate::ensemble::problem::SampleNumber;
use crate::study::Case;
use crate::study::outcome::Quantity;
use crate::study::single::{Mending, fly_single};

pub(super) const STUDY: SweptStudy = SweptStudy {
    name: "pass",
    about: "one nominal pass at the scenario's single aim",
    measures: &[
        Measure::text("ending", "ending"),
        Measure::number("aim_km", "aim", "km"),
        Measure::number("peak_deceleration_g", "peak deceleration", "g"),
        Measure::number("onset_g_s", "onset", "g/s"),
        Measure::number("peak_heat_flux_w_cm2", "peak heat flux", "W/cm²"),
        Measure::number("heat_load_j_cm2", "heat load", "J/cm²"),
        Measure::number("peak_dynamic_pressure_kpa", "peak dynamic pressure", "kPa"),
        Measure::number("lowest_altitude_km", "lowest altitude", "km"),
        Measure::number("speed_lost_m_s", "speed lost to air", "m/s"),
        Measure::number("apoapsis_altitude_km", "apoapsis altitude", "km"),
        Measure::number("end_inertial_speed_m_s", "exit speed", "m/s"),
        Measure::number("duration_s", "time in the air", "s"),
        Measure::number("mending_m_s", "burns to mend the orbit", "m/s"),
        Measure::number("propellant_kg", "propellant for the burns", "kg"),
    ],
    shown: &[
        "ending",
        "peak_deceleration_g",
        "peak_heat_flux_w_cm2",
        "speed_lost_m_s",
        "apoapsis_altitude_km",
    ],
    lines: &["peak_deceleration_g"],
    lines_title: "peak deceleration, g",
    between: None,
    map: "peak_deceleration_g",
    keeps_samples: false,
    found: None,
    passes: |_| 1,
    run,
};

fn run(case: &Case, _progress: &Progress) -> Result<Answer, NoAnswer> {
    let range = case.problem.aim();
    if !range.is_single() {
        return Err(NoAnswer::Refused(format!(
            "the scenario gives a range of aims, {:.3} to {:.3} km: set one, as in --set \
             arrival.{}.aim_periapsis={:.0}km",
            range.from_m / 1e3,
            range.to_m / 1e3,
            case.scenario.arrival.kind(),
            0.5 * (range.from_m + range.to_m) / 1e3
        )));
    }
    let aim = (range.from_m, SampleNumber::Nominal);
    let single = fly_single(&case.problem, &case.scenario.ship, aim, None)
        .map_err(|error| NoAnswer::Refused(error.to_string()))?;
    let result = &single.flown.result;
    let mending = single.corrections.as_ref();
    let burns = |m: &Mending| m.burns.lift_periapsis_m_s + m.burns.trim_apoapsis_m_s;
    let flown = |value: f64| result.ending.is_flown().then_some(value);
    let mut cells = vec![
        Cell::from(result.ending.word()),
        Cell::Number(range.from_m / 1e3),
    ];
    // In the order of the measures, whose keys are those of the quantities.
    cells.extend(Quantity::ALL.map(|quantity| Cell::from(quantity.of(result))));
    cells.extend([
        flown(result.end_inertial_speed_m_s).into(),
        flown(result.duration_s).into(),
        mending.map(burns).into(),
        mending.and_then(|mending| mending.propellant_kg).into(),
    ]);
    Ok(Answer {
        cells,
        remark: String::new(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quantities_stand_where_the_measures_say() {
        let keys = Quantity::ALL.map(Quantity::key);
        let measures: Vec<&str> = STUDY.measures[2..10].iter().map(|m| m.key).collect();
        assert_eq!(measures, keys);
    }
}
