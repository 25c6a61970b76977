//! The files of a whole run in shards: summary, figures, page and manifest, all from the merged counts.

use super::band_figures::{break_curves, distribution};
use super::closing::closing;
use super::error::ReportError;
use super::figure::Figure;
use super::folder::{RunFacts, RunFolder};
use super::limit_words::{name, value_text};
use super::number::count;
use super::page::{Block, Page, Section};
use super::plot::distribution::Distribution;
use super::shard_run::{PLAN, ShardRun};
use super::shard_text::{answer, limits, outcome, quantities, remarks, spreads, tone, verdicts};
use super::summary;
use crate::ensemble::histogram::{Bins, Histogram, Numbered};
use crate::scenario::limits::Form;
use crate::study::Case;
use crate::study::opening::Empty;
use crate::study::outcome::Quantity;
use crate::study::shards::{Summary, Whole};
use serde_json::{Map, Value, json};

/// Most bins drawn of a histogram.
const DRAWN: usize = 60;

/// The summary of a whole run: the same for every way of cutting and flying it.
#[must_use]
pub fn whole_summary(case: &Case, run: &ShardRun, (whole, digest): (&Whole, &str)) -> Value {
    let (result, outcome) = (&whole.result, outcome(whole));
    let verdicts = verdicts(case, whole);
    let why = (result, &summary::colliding as &dyn Fn(&Empty) -> Value);
    let mut all = summary::found("run", case, why, verdicts.as_ref());
    all.insert("at_recommended".to_owned(), described(run, whole));
    let counted = summary::counted(case, result, outcome.as_ref());
    summary::extend(&mut all, counted);
    let worst = result.points.iter().zip(&whole.summaries).map(|(point, summary)| {
        json!({ "periapsis_km": point.aim_m / 1e3, "limits": worst(case, summary) })
    });
    let more = json!({
        "worst_samples": worst.collect::<Vec<_>>(),
        "scenario_sha256": run.plan().scenario_sha256,
        "digest": digest,
    });
    summary::extend(&mut all, more);
    Value::Object(all)
}

fn described(run: &ShardRun, whole: &Whole) -> Value {
    let (Some(best), Some(bins)) = (whole.summaries.get(whole.best), run.bins().get(whole.best))
    else {
        return Value::Null;
    };
    let mut all = Map::new();
    for (place, quantity, histogram) in spreads(best) {
        let numbered = |one: Option<Numbered>| {
            one.map(|one| json!({ "value": one.value, "sample": one.sample }))
        };
        let at = |share| {
            let found = histogram.quantile(&bins[place], share);
            found.map(|f| json!({ "value": f.value, "at_least": f.at_least, "at_most": f.at_most }))
        };
        let value = json!({
            "count": histogram.total(),
            "lowest": numbered(histogram.lowest),
            "p00_135": at(0.00135),
            "p05": at(0.05),
            "p50": at(0.5),
            "p95": at(0.95),
            "p99_865": at(0.99865),
            "highest": numbered(histogram.highest),
        });
        all.insert(quantity.key().to_owned(), value);
    }
    Value::Object(all)
}

/// The worst samples of each limit, with the value that is limited where it is what they are ranked by.
fn worst(case: &Case, of: &Summary) -> Value {
    let entries = case.problem.limits().entries().iter().zip(&of.worst);
    entries
        .map(|(limit, worst)| {
            let value = |severity: f64| match limit.kind.spec().form {
                Form::Most | Form::MostTime => Some(value_text(limit.kind, severity)),
                Form::Least => Some(value_text(limit.kind, -severity)),
                Form::CapturedMost | Form::CapturedLeast | Form::LeavesAir | Form::ComesDown => {
                    None
                }
            };
            let listed = worst
                .iter()
                .map(|one| json!({ "sample": one.sample, "value": value(one.severity) }));
            json!({
                "limit": limit.kind.numbered_key(),
                "name": name(case, limit.kind),
                "worst": listed.collect::<Vec<_>>(),
            })
        })
        .collect()
}

/// The figure of a quantity at the aim to take.
fn spread(
    case: &Case,
    whole: &Whole,
    quantity: Quantity,
    (histogram, bins): (&Histogram, &Bins),
) -> Option<Distribution> {
    let frame = distribution(case, &outcome(whole)?, quantity);
    let first = histogram.counts.iter().position(|&count| count > 0)?;
    let last = histogram.counts.iter().rposition(|&count| count > 0)? + 1;
    let together = (last - first).div_ceil(DRAWN).max(1);
    let groups = (last - first).div_ceil(together);
    let at = |group: usize| (first + group * together).min(bins.count() as usize);
    let marks = [("median", 0.5), ("99.865 %", 0.99865)];
    let marks = marks.into_iter().filter_map(|(word, share)| {
        Some((word.to_owned(), histogram.quantile(bins, share)?.value))
    });
    Some(Distribution {
        edges: (0..=groups).map(|group| bins.edge(at(group))).collect(),
        counts: (0..groups)
            .map(|group| histogram.counts[at(group)..at(group + 1)].iter().sum())
            .collect(),
        quantiles: marks.collect(),
        ..frame
    })
}

const DRAWN_QUANTITIES: [(&str, Quantity); 5] = [
    ("peak_deceleration", Quantity::PeakDeceleration),
    ("peak_heat_flux", Quantity::PeakHeatFlux),
    ("heat_load", Quantity::HeatLoad),
    ("peak_dynamic_pressure", Quantity::PeakDynamicPressure),
    ("apoapsis_altitude", Quantity::ApoapsisAltitude),
];

/// Writes everything that follows from the merged counts into the folder of the run.
///
/// # Errors
/// [`ReportError`] when a figure cannot be drawn or a file not written.
pub fn write(
    case: &Case,
    run: &ShardRun,
    (whole, summary): (&Whole, &Value),
) -> Result<(), ReportError> {
    let plan = run.plan();
    let mut folder = RunFolder::at(run.path().to_owned(), &case.scenario.title, "run")?;
    for name in plan
        .files
        .iter()
        .map(|file| file.name.as_str())
        .chain([PLAN])
    {
        folder.note(name)?;
    }
    let mut command = format!("periband run scenario.yaml --samples {}", plan.samples);
    if plan.aims_asked {
        let aims: Vec<String> = plan.aims_m.iter().map(|aim| aim.0.to_string()).collect();
        command = format!("{command} --aims {}m", aims.join(","));
    }
    let facts = RunFacts {
        seed: plan.seed,
        scenario_sha256: plan.scenario_sha256.clone(),
        data: vec![(
            format!("world {}", case.world.body().name),
            plan.world_sha256.clone(),
        )],
        air: super::air_grades::summary(case),
        command,
        precision: Some(case.precision),
    };
    folder.write_json("summary.json", summary)?;
    let curves = break_curves(case, &whole.result, None);
    folder.write_figure("break_probability", &curves)?;
    let mut drawn = Vec::new();
    let best = whole
        .summaries
        .get(whole.best)
        .zip(run.bins().get(whole.best));
    for (file, quantity) in DRAWN_QUANTITIES {
        let place = Quantity::ALL.iter().position(|&one| one == quantity);
        let figure = best.zip(place).and_then(|((best, bins), place)| {
            let of = (best.quantities.get(place)?, bins.get(place)?);
            spread(case, whole, quantity, of)
        });
        if let Some(figure) = figure {
            folder.write_figure(file, &figure)?;
            drawn.push(figure);
        }
    }
    let figures = drawn.iter().map(|figure| figure as &dyn Figure);
    let figures: Result<Vec<Block>, ReportError> = figures.map(Block::figure).collect();
    let section = |heading: &str, blocks: Vec<Block>| Section {
        heading: heading.to_owned(),
        blocks,
    };
    let table = |caption: String, grid| Block::Table { caption, grid };
    let mut sections = vec![
        section("Where to aim", vec![Block::figure(&curves)?]),
        section(
            &format!("At {:.2} km", whole.result.recommended.aim_m / 1e3),
            vec![
                table(
                    format!("{} samples", count(whole.result.samples)),
                    quantities(case, plan, whole),
                ),
                table(String::new(), limits(case, whole)),
                Block::Text(remarks(whole)),
            ],
        ),
        section("How the samples are spread", figures?),
        section(
            "One of them in full",
            vec![
                Block::Text("Any sample can be flown again, with its whole history:".to_owned()),
                Block::Preformatted(format!(
                    "periband replay . --sample 0 --aim {}m",
                    whole.result.recommended.aim_m
                )),
            ],
        ),
    ];
    sections.extend(closing(case, &facts));
    let page = Page {
        title: case.scenario.title.clone(),
        lead: answer(case, whole),
        tone: tone(case, whole),
        sections,
    };
    folder.write_page(&page)?;
    folder.finish(&facts)?;
    Ok(())
}
