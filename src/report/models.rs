//! Which models a run was flown with, where each of them holds, and whether the run stays inside:
//! one table for the page of any study.

use super::air_grades;
use super::grid::{Cell, Grid, Tone};
use super::remarks::{coarse_remark, coefficients_remark, entry_speed_m_s, radiation_remark};
use crate::scenario::aerodynamics::{AeroForm, Radiative};
use crate::scenario::heating_errors::{HEATING_ERRORS, KNOWN};
use crate::study::Case;

/// Speed below which the convective correlation is not stated, m/s: 2.3 MJ/kg (Sutton & Graves 1971).
const SLOWEST_CONVECTIVE_M_S: f64 = 2144.8;

/// The models of a case: what each is, where it holds, and what of that this run meets.
#[must_use]
pub fn models(case: &Case) -> Grid {
    let mut grid = Grid::new()
        .words("model")
        .words("holds for")
        .words("in this run");
    for row in [
        flight(case),
        coefficients(case),
        convection(case),
        radiation(case),
        heating_errors(case),
        thin_air(case),
        air(case),
        dispersion(case),
    ] {
        grid.row(row);
    }
    if let Some([what, holds]) = super::steered::model(case) {
        grid.row([
            Cell::from(what),
            Cell::from(holds),
            Cell::from(super::steered::target_words(case)),
        ]);
    }
    let people = case.problem.limits().people();
    for (axis, share, source) in people.iter().flat_map(|people| people.watched()) {
        grid.row([
            Cell::from(format!("Curve for the people aboard: {source}")),
            Cell::from(
                "acceleration along one axis of the seat; all levels from the lowest to the highest stated, straight in \
                 the logarithms between its points; below the lowest it sets no limit",
            ),
            Cell::from(format!(
                "{}, which takes {:.0} % of what is sensed",
                axis.symbol(),
                100.0 * share
            )),
        ]);
    }
    if !case.scenario.ship.spots.is_empty() {
        grid.row([
            Cell::from("Spots: a share of the stagnation flux, or the rule of their own radius"),
            Cell::from("smooth places; no interference of shocks, no gaps"),
            Cell::from(format!("{} spots", case.scenario.ship.spots.len())),
        ]);
    }
    grid
}

/// What is found where a remark is given only when a range is left.
fn inside(remark: Option<String>) -> Cell {
    remark.map_or_else(
        || Cell::new("inside", Tone::Good),
        |text| Cell::new(text, Tone::Bad),
    )
}

fn flight(case: &Case) -> [Cell; 3] {
    let zonal = match case.problem.planet().zonal {
        [0.0, 0.0, 0.0] => "no harmonics",
        [_, 0.0, 0.0] => "J2",
        [_, _, 0.0] => "J2 and J3",
        _ => "J2 to J4",
    };
    [
        Cell::from(
            "Flight: point mass in three dimensions, zonal gravity, oblate body, air that turns with it",
        ),
        Cell::from("no attitude motion; the bank angle is held unless the scenario steers"),
        Cell::from(format!("{zonal} in the world file")),
    ]
}

fn coefficients(case: &Case) -> [Cell; 3] {
    let form = case.scenario.ship.aerodynamics.as_ref();
    let (what, holds, here) = match form.map(|spec| &spec.form) {
        None | Some(AeroForm::Constant) => (
            "Constant drag and lift coefficients",
            "hypersonic flight, above about Mach 5",
            Cell::from("as the scenario states them"),
        ),
        Some(AeroForm::Table { .. }) => (
            "Coefficients from a table at the trim angle",
            "the Mach numbers of the table; its end rows are held beyond",
            inside(coefficients_remark(case)),
        ),
        Some(AeroForm::Shape(_)) => (
            "Coefficients of a shape by Newton's rule",
            "above about Mach 5; no friction, no base pressure; level below Mach 1.5",
            Cell::from("an estimate"),
        ),
    };
    [Cell::from(what), Cell::from(holds), here]
}

fn convection(case: &Case) -> [Cell; 3] {
    let speed = entry_speed_m_s(case);
    let beyond = speed.and_then(|speed| {
        let outside = speed < SLOWEST_CONVECTIVE_M_S || 0.5 * speed * speed > 116e6;
        outside.then(|| format!("outside: enters at {:.1} km/s", speed / 1e3))
    });
    let here = beyond.map_or_else(
        || {
            let words = speed.map_or_else(
                || "inside".to_owned(),
                |speed| format!("inside: enters at {:.1} km/s", speed / 1e3),
            );
            Cell::new(words, Tone::Good)
        },
        |text| Cell::new(text, Tone::Bad),
    );
    [
        Cell::from("Convective stagnation heating by Sutton and Graves (1971)"),
        Cell::from("a cold wall, 2.3 to 116 MJ/kg: 2.1 to 15.2 km/s against the air"),
        here,
    ]
}

fn radiation(case: &Case) -> [Cell; 3] {
    let here = match (
        radiation_remark(case),
        &case.problem.models().ship.radiative,
    ) {
        (None, None)
            if case.world.radiative().is_some()
                && case.scenario.ship.heating.radiative != Radiative::LeftOut =>
        {
            Cell::from("not flown: the scenario's own arrival is too slow for it")
        }
        (None, None) => Cell::from("not flown"),
        (remark, _) => inside(remark),
    };
    [
        Cell::from("Radiative stagnation heating by Tauber and Sutton (1991)"),
        Cell::from("the Earth 10 to 16 km/s, Mars 6 to 9 km/s; good to 50 %; no other air"),
        here,
    ]
}

fn heating_errors(case: &Case) -> [Cell; 3] {
    let sizes = HEATING_ERRORS
        .iter()
        .map(|error| format!("{}: {}", error.number.words(), error.source));
    let sizes = sizes.collect::<Vec<_>>().join("; ");
    [
        Cell::from(
            "Errors of the heating models: a factor on each, drawn for every sample and the same throughout its flight; nominal \
             passes and corridors are flown without",
        ),
        Cell::from(format!("{sizes} ({KNOWN})")),
        Cell::from(super::heat_text::errors_words(case)),
    ]
}

fn thin_air(case: &Case) -> [Cell; 3] {
    let bridged = case
        .scenario
        .ship
        .aerodynamics
        .as_ref()
        .is_some_and(|spec| {
            spec.free_molecular.is_some() || !matches!(spec.form, AeroForm::Constant)
        });
    let here = match (case.problem.models().ship.thin_air, bridged) {
        (true, true) => "heating bridged, and coefficients where their source has thin air",
        (true, false) => "heating bridged, coefficients as in a continuum",
        (false, true) => "coefficients bridged where their source has thin air, heating not",
        (false, false) => "not flown: a continuum throughout",
    };
    [
        Cell::from("Thin air: bridge to free molecules, hard spheres"),
        Cell::from("good to some 10 % of the step between the two ends"),
        Cell::from(here),
    ]
}

fn air(case: &Case) -> [Cell; 3] {
    let (world, air) = (&case.world, case.world.air());
    let (from, to) = (air.floor_m() / 1e3, air.top_m() / 1e3);
    let here = match coarse_remark(case) {
        Some(text) => Cell::new(text, Tone::Bad),
        None => Cell::from(format!(
            "{}: {}",
            world.body().name,
            air_grades::words(case)
        )),
    };
    [
        Cell::from("Air of the world file"),
        Cell::from(format!(
            "{from:.0} to {to:.0} km; above, the density goes on with the last scale height. The profile is the median of \
             the days: the mean density is higher by half the variance of its logarithm"
        )),
        here,
    ]
}

fn dispersion(case: &Case) -> [Cell; 3] {
    let here = if case.problem.is_deterministic() {
        "nothing is uncertain"
    } else {
        "as the scenario and the world file say"
    };
    [
        Cell::from("Air of the day: a bias, an error of the scale height, waves, wind"),
        Cell::from(
            "normal spreads, independent of each other; most are choices, marked so in the world file",
        ),
        Cell::from(here),
    ]
}
