//! What `influence` says: what the halving of each quantity would do, and the shares in a table.

use super::grid::Grid;
use super::number::{MISSING, count, percent, trimmed};
use super::text::Terminal;
use crate::ensemble::LimitKind;
use crate::ensemble::quantile::Estimate;
use crate::ensemble::sobol::Indices;
use crate::ensemble::sources::Source;
use crate::study::Case;
use crate::study::band::Band;
use crate::study::influence::{AimChoice, Change, Halving, Influence, Output, Unknown};
use crate::study::outcome::Quantity;

/// Outputs in the table on the screen at most, beside "a limit is broken".
const MOST_COLUMNS: usize = 4;

/// The answer in sentences a person can act on.
#[must_use]
pub fn answer(case: &Case, found: &Influence) -> String {
    let mut sentences = Vec::new();
    match &found.band {
        Ok(base) => {
            sentences.push(match base {
                Some(band) => format!(
                    "The safe band is {} wide, {} to {}{}.",
                    km(band.width_m()),
                    km(band.low.aim_m).trim_end_matches(" km"),
                    km(band.high.aim_m),
                    with_fewer(case, found)
                ),
                None => format!(
                    "There is no safe band at {}{}.",
                    percent(case.scenario.ask.probability),
                    with_fewer(case, found)
                ),
            });
            let base = base.as_ref();
            sentences.extend(
                found
                    .halvings
                    .iter()
                    .map(|halving| halving_words(case, found, (base, halving))),
            );
        }
        Err(why) => sentences.push(format!("No band was compared: {why}.")),
    }
    sentences.push(range_remark(found).to_owned());
    sentences.push(aim_remark(found));
    sentences.push(most_influential(case, found));
    sentences.extend(super::unflown::words(&found.broken.tally));
    sentences.extend(together(&found.sources));
    let text = sentences.into_iter().filter(|s| !s.is_empty());
    text.collect::<Vec<_>>().join(" ") + &super::remarks::remarks(case)
}

/// What has to be said where a band is cut by the range of aims; empty where none is.
#[must_use]
pub fn range_remark(found: &Influence) -> &'static str {
    let cut = |band: &Band| band.low.ends_the_range() || band.high.ends_the_range();
    let base = found.band.as_ref().ok().and_then(Option::as_ref);
    let halved = found.halvings.iter().filter_map(|h| h.band.as_ref());
    if base.into_iter().chain(halved).any(cut) {
        "A band reaches the end of the range of aims: with a wider range its width may be more."
    } else {
        ""
    }
}

/// Why the aim to take may not be that of `band`; empty where none is named.
fn aim_remark(found: &Influence) -> String {
    if found.aim.1 != AimChoice::Recommended {
        return String::new();
    }
    format!(
        "The aim to take is the best of the aims flown here, with {} samples each: `band` flies others, and may name \
         another.",
        count(found.band_samples)
    )
}

/// What has to be said of a band that was looked for with fewer samples than the scenario asks for.
fn with_fewer(case: &Case, found: &Influence) -> String {
    if found.band_samples >= case.scenario.ask.samples {
        return String::new();
    }
    format!(
        " as far as {} samples show, fewer than the scenario asks for",
        count(found.band_samples)
    )
}

/// What halving one quantity would do, in a sentence.
#[must_use]
pub fn halving_words(
    case: &Case,
    found: &Influence,
    (base, halving): (Option<&Band>, &Halving),
) -> String {
    let what = found
        .sources
        .get(halving.source)
        .map_or_else(String::new, spread_of);
    let halving_it = format!("Halving {what}");
    match (halving.change, &halving.band) {
        (Change::Wider(by), Some(band)) => {
            let (low, high) = (by.lower.unwrap_or(f64::NAN), by.upper.unwrap_or(f64::NAN));
            let confidence = percent(case.scenario.ask.confidence);
            let between = format!(
                "{} to {} with {confidence} confidence",
                km(low).trim_end_matches(" km"),
                km(high)
            );
            if !(low > 0.0 || high < 0.0) {
                return format!(
                    "{halving_it} would change the width by no more than these samples can tell ({between})."
                );
            }
            let word = if by.value < 0.0 { "narrow" } else { "widen" };
            let from = base.map_or(f64::NAN, Band::width_m);
            format!(
                "{halving_it} would {word} the band by {} ({between}), from {} to {}.",
                km(by.value.abs()),
                km(from).trim_end_matches(" km"),
                km(band.width_m())
            )
        }
        (Change::Opens(width_m), _) => {
            format!("{halving_it} would open a band {} wide.", km(width_m))
        }
        (Change::Closes, _) | (Change::Wider(_), None) => {
            format!("{halving_it} leaves no band that these samples can show.")
        }
        (Change::StaysEmpty, _) => format!("{halving_it} would open none."),
    }
}

/// The spread of a source: "the error of the entry speed", "the spread of the mass".
fn spread_of(source: &Source) -> String {
    let words = source.words();
    if source.small_scale {
        return format!("the {words}");
    }
    if words.starts_with("B-plane") || words.split(' ').any(|word| word == "error") {
        return format!("the {words}");
    }
    format!("the spread of the {words}")
}

/// The source with the most influence on what was looked at, in a sentence.
fn most_influential(case: &Case, found: &Influence) -> String {
    let at = format!("At {} ({})", km(found.aim.0), choice_words(found.aim.1));
    let largest = |indices: &Indices| {
        let totals = indices.total.iter().enumerate();
        let largest = totals.max_by(|a, b| a.1.value.total_cmp(&b.1.value));
        largest.and_then(|(i, total)| Some((found.sources.get(i)?.words(), total.value)))
    };
    let broken = &found.broken;
    if let Ok(indices) = &broken.indices
        && let Some((name, share)) = largest(indices)
    {
        let p = indices.mean;
        return format!(
            "{at} a limit is broken in {} of arrivals; of what is uncertain the {name} has most to do with it: \
             drawn anew, it alone would have saved {} of them.",
            percent(p),
            percent(hundredths(share * (1.0 - p)))
        );
    }
    let shown = shown_outputs(case, found);
    let first = shown.iter().find_map(|&output| {
        let indices = indices_of(found, output)?;
        let (name, share) = largest(indices)?;
        Some(format!(
            "{at} the {name} matters most for the {}: it takes part in {} of its variance.",
            output.label().0,
            percent(hundredths(share))
        ))
    });
    let seen = match broken.indices {
        Err(unknown) => {
            format!(" A limit is broken: {unknown}, so what breaks it is not told apart here.")
        }
        Ok(_) => String::new(),
    };
    first.unwrap_or_default() + &seen
}

fn hundredths(share: f64) -> f64 {
    (share.clamp(0.0, 1.0) * 100.0).round() / 100.0
}

/// Why the aim was looked at.
#[must_use]
pub fn choice_words(choice: AimChoice) -> &'static str {
    match choice {
        AimChoice::Given => "as asked for",
        AimChoice::Only => "the scenario's aim",
        AimChoice::Recommended => "the aim to take",
        AimChoice::Likeliest => "where the limits are likeliest to hold",
    }
}

/// A remark for each group of correlated quantities.
fn together(sources: &[Source]) -> Vec<String> {
    let correlated = sources.iter().filter(|source| source.is_correlated());
    correlated
        .map(|source| {
            format!(
                "Correlated, and therefore one quantity here: {}.",
                source.words().replace(" with ", ", ")
            )
        })
        .collect()
}

fn km(m: f64) -> String {
    format!("{:.2} km", m / 1e3)
}

/// The indices of one output, where they are known.
#[must_use]
pub fn indices_of(found: &Influence, output: Output) -> Option<&Indices> {
    let mut outputs = found.outputs.iter();
    outputs.find(|o| o.output == output)?.indices.as_ref().ok()
}

/// Outputs with known indices, those first that limits are about.
#[must_use]
pub fn shown_outputs(case: &Case, found: &Influence) -> Vec<Output> {
    let limited = |output: Output| {
        let about = |kind: LimitKind| Output::limited_by(kind) == output;
        let entries = case.problem.limits().entries();
        entries.iter().any(|limit| about(limit.kind))
    };
    // The two sides of a band are mostly set by the deceleration and by the exit.
    let mut shown: Vec<Output> = found
        .outputs
        .iter()
        .filter(|output| output.indices.is_ok())
        .map(|output| output.output)
        .collect();
    shown.sort_by_key(|&output| {
        let first = [
            Output::Of(Quantity::PeakDeceleration),
            Output::EndSpeed,
            Output::Of(Quantity::PeakHeatFlux),
            Output::Of(Quantity::HeatLoad),
        ];
        let place = first.iter().position(|&known| known == output);
        (!limited(output), place.unwrap_or(first.len()))
    });
    shown
}

/// Sources from the one with the largest total index to the smallest, over what is shown.
#[must_use]
pub fn order(found: &Influence, shown: &[Output]) -> Vec<usize> {
    let known: Vec<&Indices> = shown
        .iter()
        .filter_map(|&output| indices_of(found, output))
        .chain(found.broken.indices.as_ref().ok())
        .collect();
    let weight = |source: usize| {
        let totals = known.iter().map(|indices| indices.total[source].value);
        totals.fold(0.0, f64::max)
    };
    let mut order: Vec<usize> = (0..found.sources.len()).collect();
    order.sort_by(|&a, &b| weight(b).total_cmp(&weight(a)));
    order
}

/// First-order and total shares by source, for the outputs that fit a terminal.
fn shares(case: &Case, found: &Influence) -> Grid {
    let mut shown = shown_outputs(case, found);
    shown.truncate(MOST_COLUMNS);
    let mut grid = Grid::new().words("uncertain quantity");
    let mut columns: Vec<Option<&Indices>> = Vec::new();
    if let Ok(indices) = &found.broken.indices {
        grid = grid.numbers("a limit broken");
        columns.push(Some(indices));
    }
    for &output in &shown {
        grid = grid.numbers(output.label().0);
        columns.push(indices_of(found, output));
    }
    for source in order(found, &shown) {
        let mut row = vec![found.sources[source].words()];
        row.extend(columns.iter().map(|indices| {
            indices.map_or_else(
                || MISSING.to_owned(),
                |i| format!("{} {}", share(&i.first[source]), share(&i.total[source])),
            )
        }));
        grid.row(row);
    }
    grid
}

/// A share in hundredths; what is below 0 by chance is 0.
#[must_use]
pub fn share(estimate: &Estimate) -> String {
    format!("{:.2}", estimate.value.max(0.0))
}

/// A share with its interval: `0.61 (0.58 to 0.64)`.
#[must_use]
pub fn bounded_share(estimate: &Estimate) -> String {
    let end = |end: Option<f64>| end.map_or(MISSING.to_owned(), |end| format!("{:.2}", end + 0.0));
    format!(
        "{} ({} to {})",
        share(estimate),
        end(estimate.lower).replace("-0.00", "0.00"),
        end(estimate.upper)
    )
}

/// The compact table under the answer.
#[must_use]
pub fn table(terminal: &Terminal, case: &Case, found: &Influence) -> String {
    let mut text = format!(
        "Shares of the variance at {}, first order and total:\n\n",
        km(found.aim.0)
    );
    text.push_str(terminal.table(&shares(case, found)).trim_end());
    text.push_str("\n\n");
    text.push_str(&terminal.paragraph(&rest(found), 0));
    text
}

/// What is not known and why, and what the numbers rest on.
#[must_use]
pub fn rest(found: &Influence) -> String {
    let mut text = "First order: what would go if this alone were known exactly; total: what would stay if all \
                    else were."
        .to_owned();
    let unknown = |name: &str, unknown: &Unknown| format!(" No shares of {name}: {unknown}.");
    for output in &found.outputs {
        if let Err(why) = &output.indices {
            text.push_str(&unknown(output.output.label().0, why));
        }
    }
    if let Err(why) = &found.broken.indices {
        text.push_str(&unknown("\"a limit is broken\"", why));
    }
    let _ = std::fmt::Write::write_fmt(
        &mut text,
        format_args!(
            " {} rows; bands of {} samples at each aim; {} passes flown.",
            count(found.rows),
            count(found.band_samples),
            count(found.passes_flown)
        ),
    );
    text
}

/// Mean and standard deviation of an output: `1.05 g ± 0.08 g`.
#[must_use]
pub fn spread(output: Output, indices: &Indices) -> String {
    let unit = output.label().1;
    format!(
        "{} ± {} {unit}",
        trimmed(indices.mean, 4),
        trimmed(indices.variance.sqrt(), 3)
    )
}
