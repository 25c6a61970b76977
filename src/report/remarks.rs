//! What has to be said beside an answer: models flown outside the range they are stated for.

use crate::ensemble::problem::SampleNumber;
use crate::scenario::people::SeveralPeaks;
use crate::scenario::spots::SpotSpec;
use crate::scenario::wall::WallKind;
use crate::study::Case;
use crate::world::Quality;

/// What has to be said of every result on a world whose air is known only coarsely.
#[must_use]
pub fn coarse_remark(case: &Case) -> Option<String> {
    (case.world.quality() == Quality::Coarse).then(|| {
        format!(
            "Coarse: the air of {} at these altitudes is an extension, not a measurement.",
            case.world.body().name
        )
    })
}

/// Speed against the air at the start of the nominal pass at the lowest aim, m/s.
pub(super) fn entry_speed_m_s(case: &Case) -> Option<f64> {
    let (aim, problem) = (case.problem.aim().from_m, &case.problem);
    let (start, sample) = problem.launch(aim, problem.nominal(), SampleNumber::Nominal)?;
    let (planet, r) = (problem.planet(), start.position);
    let altitude = planet.altitude_at(r);
    Some(
        planet
            .air_relative(r, start.velocity, altitude, &sample.air)
            .norm(),
    )
}

/// Highest stagnation enthalpy of the convective correlation, J/kg (Sutton & Graves 1971).
const HIGHEST_J_KG: f64 = 116e6;

/// What has to be said where the entry is faster than the heating correlations cover.
#[must_use]
pub fn heating_remark(case: &Case) -> Option<String> {
    let speed = entry_speed_m_s(case)?;
    let at = format!("At {:.1} km/s against the air", speed / 1e3);
    let flown = case.problem.models().ship.radiative.is_some();
    if 0.5 * speed * speed <= HIGHEST_J_KG {
        return radiation_remark(case);
    }
    Some(if flown {
        format!(
            "{at} convective heating is outside its correlation (to 15.2 km/s): do not rely on it."
        )
    } else {
        format!(
            "{at} the heating is outside its correlation (to 15.2 km/s) and without radiation: do not rely on it."
        )
    })
}

/// Above which radiation matters in most airs, m/s (common practice): for a world file that does not say.
const RADIANT_M_S: f64 = 9e3;

/// What has to be said where hot gas radiates and no correlation is flown, or one outside its range.
#[must_use]
pub(super) fn radiation_remark(case: &Case) -> Option<String> {
    /// A density that the radiative correlations cover, kg/m³: speed and nose radius are judged.
    const INSIDE_KG_M3: f64 = 2e-4;
    let speed = entry_speed_m_s(case)?;
    let Some(model) = &case.problem.models().ship.radiative else {
        let radiates = match case.world.radiation() {
            Some(stated) => stated.onset_m_s.is_some_and(|onset_m_s| speed >= onset_m_s),
            None => speed > RADIANT_M_S,
        };
        return radiates.then(|| {
            format!(
                "At {:.1} km/s against the air the hot gas radiates; that heat is not included here.",
                speed / 1e3
            )
        });
    };
    let nose_radius_m = case.scenario.ship.nose_radius_m;
    let found = model.at(INSIDE_KG_M3, speed, nose_radius_m);
    let outside = found.validity.departures();
    (found.w_m2 > 0.0 && !outside.is_empty()).then(|| {
        let list: Vec<String> = outside.iter().map(ToString::to_string).collect();
        format!(
            "Radiative heating is outside the range of its source: {}.",
            list.join("; ")
        )
    })
}

/// What has to be said where the flight leaves the ship's table of coefficients.
#[must_use]
pub fn coefficients_remark(case: &Case) -> Option<String> {
    let models = case.problem.models();
    let (_, highest) = models.ship.aerodynamics.as_ref()?.grid.mach_range()?;
    let speed = entry_speed_m_s(case)?;
    let mach = speed * models.inverse_sound(models.interface_m).0;
    (mach > highest).then(|| {
        format!(
            "The table of coefficients ends at Mach {highest}, the entry is at Mach {mach:.0}: its last row is used there."
        )
    })
}

/// What has to be said of temperature limits of spots whose walls take time to warm.
#[must_use]
pub fn wall_remark(case: &Case) -> Option<String> {
    let spots = &case.scenario.ship.spots;
    let slow = |spot: &&SpotSpec| {
        spot.highest_temperature_k.is_some() && spot.wall.kind != WallKind::RadiativeEquilibrium
    };
    spots.iter().find(slow).map(|spot| {
        format!(
            "The temperature of {} is held against radiative equilibrium at the peak flux, hotter than its wall \
             becomes; `pass` follows the wall itself.",
            spot.name
        )
    })
}

/// What has to be said where an approach without air would not come down to its aim, or farther, by a kilometre.
#[must_use]
pub fn vacuum_remark(case: &Case) -> Option<String> {
    let range = case.problem.aim();
    let told = |aim: f64| {
        let low = case.problem.vacuum_low_m(aim)?;
        let at = |m: f64| format!("{:.1} km", m / 1e3);
        ((low - aim).abs() > 1e3).then(|| format!("{} for an aim of {}", at(low), at(aim)))
    };
    let mut aims = vec![range.from_m];
    if !range.is_single() {
        aims.push(range.to_m);
    }
    let all: Vec<String> = aims.into_iter().filter_map(told).collect();
    (!all.is_empty()).then(|| {
        format!(
            "Without air the approach would come down to {}: the aim is the periapsis of the conic at the entry \
             interface, and neither the ground nor the field is that of a sphere.",
            all.join(" and ")
        )
    })
}

/// How several peaks count against the curves for the people aboard.
#[must_use]
pub fn peaks_remark(case: &Case) -> Option<String> {
    let people = case.problem.limits().people()?;
    let rule = match people.several_peaks() {
        SeveralPeaks::LongestSingleStay => {
            "On the curve of level and duration the longest single stay above each level counts, since published curves \
             are for one exposure; `several_peaks: time_added_up` adds them up."
        }
        SeveralPeaks::TimeAddedUp => {
            "On the curve of level and duration all time of a pass above each level is added up."
        }
    };
    Some(rule.to_owned())
}

/// What has to be said where no tolerance keeps the contract of the integration.
#[must_use]
pub fn precision_remark(case: &Case) -> Option<String> {
    let precision = &case.precision;
    (!precision.held).then(|| {
        format!(
            "Passes are integrated less well than to 1 mm/s and 0.1 %: at the tightest tolerance, {:.0e}, exit speeds still \
             move by {:.1} mm/s and peaks by {:.2} % when it is tightened further.",
            precision.tolerance,
            precision.exit_speed_m_s * 1e3,
            precision.peaks * 100.0
        )
    })
}

/// All that has to be said beside an answer about models, limits apart.
#[must_use]
pub fn model_remarks(case: &Case) -> String {
    let all = [
        coarse_remark(case),
        heating_remark(case),
        coefficients_remark(case),
        peaks_remark(case),
        precision_remark(case),
    ];
    all.into_iter()
        .flatten()
        .fold(String::new(), |text, remark| format!("{text} {remark}"))
}

/// All that has to be said beside an answer that speaks of limits over the range of aims.
#[must_use]
pub fn remarks(case: &Case) -> String {
    let covered = super::coverage_words::range_remark(case);
    let covered = covered.map_or_else(String::new, |words| format!(" {words}"));
    model_remarks(case) + &covered
}
