//! How well the air of a run is known: the profile and each part of its spread have grades of their own, those
//! of their blocks in the world file, or come from the scenario.

use crate::scenario::uncertainty::{AirDensity, AirPart};
use crate::study::Case;
use serde_json::{Map, Value, json};

/// What stands for a part that the scenario leaves out or the world does not have.
const NOT_FLOWN: &str = "not flown";
/// What stands for a block of a world that was made in code.
const NO_SOURCE: &str = "no source";
/// What stands for a part that the scenario itself states.
const OF_SCENARIO: &str = "the scenario's own";

/// The parts of the spread, by the keys of `uncertainty.air`, with their grades.
fn spread(case: &Case) -> [(&'static str, &'static str); 4] {
    let uncertainty = &case.scenario.uncertainty;
    let (parts, own) = (&uncertainty.air_parts, case.world.dispersion());
    let block = |named: &[&str]| named.iter().find_map(|name| known(case, name));
    // A part has the source of its own block, or that of the dispersion.
    let of_world = |flown: bool, named: &[&str]| {
        if flown {
            block(named).unwrap_or(NO_SOURCE)
        } else {
            NOT_FLOWN
        }
    };
    let mut cells = case.world.air().cells().iter();
    let has_bias = cells.any(|cell| cell.log_sigma != [0.0; 4]);
    let density = match uncertainty.air_density {
        AirDensity::Exact => NOT_FLOWN,
        AirDensity::World { factor } => of_world(factor > 0.0 && has_bias, &["dispersion"]),
        AirDensity::LogFactor(_) => OF_SCENARIO,
    };
    [
        ("density", density),
        (
            "scale_height",
            grade(&parts.scale_height, |factor| {
                let flown = factor > 0.0 && own.scale_height.is_some();
                of_world(flown, &["dispersion"])
            }),
        ),
        (
            "small_scale",
            grade(&parts.small_scale, |factor| {
                let flown = factor > 0.0 && own.small_scale.is_some();
                of_world(flown, &["dispersion.small_scale", "dispersion"])
            }),
        ),
        (
            "wind",
            grade(&parts.wind, |factor| {
                of_world(factor > 0.0 && own.wind_sigma_m_s.is_some(), &["wind"])
            }),
        ),
    ]
}

fn grade<T>(part: &AirPart<T>, of_world: impl FnOnce(f64) -> &'static str) -> &'static str {
    match part {
        AirPart::Exact => NOT_FLOWN,
        AirPart::World { factor } => of_world(*factor),
        AirPart::Own(_) => OF_SCENARIO,
    }
}

fn profile(case: &Case) -> &'static str {
    known(case, "profile").unwrap_or(NO_SOURCE)
}

/// How a block of the world file is known.
fn known(case: &Case, block: &str) -> Option<&'static str> {
    let mut sources = case.world.sources().iter();
    let found = sources.find(|source| source.what == block)?;
    Some(found.known.words())
}

/// For a summary: `{profile, profile_is, dispersion: {density, scale_height, small_scale, wind}}`.
#[must_use]
pub fn summary(case: &Case) -> Value {
    let spread = spread(case).map(|(key, grade)| (key.to_owned(), json!(grade)));
    json!({
        "profile": profile(case),
        "profile_is": "median",
        "dispersion": Map::from_iter(spread),
    })
}

/// For people: `the profile is published; of its spread density is chosen, ...`.
#[must_use]
pub fn words(case: &Case) -> String {
    let spread = spread(case).map(|(key, grade)| format!("{} {grade}", key.replace('_', " ")));
    format!(
        "the profile {}; its spread: {}",
        profile(case),
        spread.join(", ")
    )
}

/// The same as a sentence, with what the profile is taken for.
#[must_use]
pub fn remark(case: &Case) -> String {
    format!(
        "How the air is known: {}. The profile is flown as the median; the mean density is higher by half the variance \
         of its logarithm.",
        words(case)
    )
}
