//! The safe band at each point of a sweep.

use super::studies::{Answer, Cell, Measure, NoAnswer, SweptStudy, covered_too};
use crate::ensemble::{Fleet, LimitKind, Progress, Verdict};
use crate::numeric::units::{Dimension, format_quantity};
use crate::study::Case;
use crate::study::band::{Band, BandError, BandResult, Edge, Empty, find_band};
use crate::study::outcome::{Quantity, describe_aim};

pub(super) const STUDY: SweptStudy = SweptStudy {
    name: "band",
    about: "the safe periapsis band and the aim to take",
    measures: &[
        Measure::number("band_width_km", "width of the safe band", "km"),
        Measure::number("band_low_km", "low edge", "km"),
        Measure::number("aim_km", "aim to take", "km"),
        Measure::number("band_high_km", "high edge", "km"),
        Measure::number("best_aim_km", "aim likeliest to hold", "km"),
        Measure::text("low_limit", "limit at the low edge"),
        Measure::text("high_limit", "limit at the high edge"),
        Measure::number("probability_held", "probability that all limits hold", "%"),
        Measure::number("probability_held_lower", "the same, lower bound", "%"),
        Measure::number("peak_deceleration_g", "median peak deceleration", "g"),
        Measure::number("peak_heat_flux_w_cm2", "median peak heat flux", "W/cm²"),
        Measure::number("heat_load_j_cm2", "median heat load", "J/cm²"),
        Measure::number("failed_samples", "failed samples", ""),
        Measure::number("no_approach_samples", "samples without an approach", ""),
    ],
    shown: &[
        "band_low_km",
        "aim_km",
        "band_high_km",
        "band_width_km",
        "probability_held",
        "peak_deceleration_g",
    ],
    lines: &["band_low_km", "aim_km", "band_high_km"],
    lines_title: "aim periapsis altitude, km",
    between: Some(("band_low_km", "band_high_km")),
    map: "band_width_km",
    keeps_samples: true,
    found: Some(("band_low_km", "No point has a safe band")),
    passes,
    run,
};

fn passes(case: &Case) -> u64 {
    let range = case.problem.aim();
    // Closing the two edges takes about as many aims again as a dozen of the grid.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a guess of a small number"
    )]
    let aims = (25.0 + (range.to_m - range.from_m) / range.step_m) as u64;
    case.scenario.ask.samples.saturating_mul(aims)
}

fn run(case: &Case, progress: &Progress) -> Result<Answer, NoAnswer> {
    let found = match find_band(&case.scenario, &case.problem, progress) {
        Ok(found) => found,
        Err(BandError::Stopped { .. }) => return Err(NoAnswer::Stopped),
        Err(error) => return Err(NoAnswer::Refused(error.to_string())),
    };
    let fleet = Fleet::new(&case.problem, progress);
    let confidence = case.scenario.ask.confidence;
    let aim = (found.recommended.aim_m, found.told_by.clone());
    let outcome = describe_aim(&fleet, aim, confidence, |_| ()).map_err(|_| NoAnswer::Stopped)?;
    let median = |quantity: Quantity| {
        let mut described = outcome.described.iter();
        let found = described.find(|(known, _)| *known == quantity);
        Cell::from(found.and_then(|(_, d)| Some(d.as_ref()?.p50.value)))
    };
    let band = found.band.as_ref().ok();
    let km = |m: f64| Cell::Number(m / 1e3);
    let edge = |pick: fn(&Band) -> &Edge| band.map_or(Cell::Missing, |band| km(pick(band).aim_m));
    let limit =
        |pick: fn(&Band) -> &Edge| band.map_or(Cell::Missing, |band| pick(band).key().into());
    let held = found.recommended.held;
    #[expect(clippy::cast_precision_loss, reason = "counts stay below 2^53")]
    let [failed, without_approach] = [
        outcome.tally.failed() as f64,
        outcome.tally.without_approach() as f64,
    ];
    Ok(Answer {
        cells: vec![
            km(band.map_or(0.0, Band::width_m)),
            edge(|band| &band.low),
            band.map_or(Cell::Missing, |_| km(found.recommended.aim_m)),
            edge(|band| &band.high),
            km(found.recommended.aim_m),
            limit(|band| &band.low),
            limit(|band| &band.high),
            Cell::Number(held.estimate),
            Cell::Number(held.lower),
            median(Quantity::PeakDeceleration),
            median(Quantity::PeakHeatFlux),
            median(Quantity::HeatLoad),
            Cell::Number(failed),
            Cell::Number(without_approach),
        ],
        remark: covered_too(remark(case, &found), &outcome.covered, case),
    })
}

fn remark(case: &Case, found: &BandResult) -> String {
    if found.undecided_m.is_some() {
        return "not shown: samples without a result alone decide".to_owned();
    }
    match &found.band {
        Ok(_) if found.verdict != Verdict::Held => format!(
            "the aim to take: {}, by samples that had no part in choosing it",
            found.verdict.words()
        ),
        Ok(band) if band.others => "other aims farther away are safe too".to_owned(),
        Ok(_) => String::new(),
        Err(empty) => too_few(case, found).unwrap_or_else(|| no_band(empty)),
    }
}

fn no_band(empty: &Empty) -> String {
    let key = |kind: Option<LimitKind>| kind.map(LimitKind::key);
    match (key(empty.colliding.0), key(empty.colliding.1)) {
        (Some(steep), Some(shallow)) => format!("no safe band: {steep} and {shallow} collide"),
        (Some(one), None) | (None, Some(one)) => format!("no safe band: {one} rules it out"),
        (None, None) => "no safe band".to_owned(),
    }
}

/// That the samples are too few to show the probability, where those of the best aim reach it: more of them may
/// show a band.
fn too_few(case: &Case, found: &BandResult) -> Option<String> {
    let ask = &case.scenario.ask;
    let held = found.recommended.held;
    let reached = held.estimate >= ask.probability && !case.problem.is_deterministic();
    (reached && !found.rare).then(|| {
        format!(
            "no safe band: {} samples are too few to show {} with {} confidence, though so many of them hold at the \
             best aim",
            found.samples,
            per_cent(ask.probability),
            per_cent(ask.confidence)
        )
    })
}

/// A share in per cent, without the digits that rounding leaves.
fn per_cent(share: f64) -> String {
    format_quantity(share, Dimension::Ratio)
}
