//! `periband sweep`: a study at many points, one or two numbers of the scenario varied.

use super::args::{Common, OutArgs, ScenarioArgs};
use super::exit::CliError;
use super::screen::Screen;
use super::study_run::{Answer, Kept, Place, run_study};
use super::watch::Watch;
use crate::report::grid::Tone;
use crate::report::sweep_store::SweepStore;
use crate::report::{sweep_files, sweep_text};
use crate::scenario::likeness::closest;
use crate::scenario::variation::Variation;
use crate::study::Case;
use crate::study::sweep::{STUDIES, Sweep, SweptStudy, Unfinished, run_sweep};
use clap::Args;
use clap::builder::PossibleValue;
use std::time::Instant;

#[derive(Debug, Args)]
pub(super) struct SweepArgs {
    #[command(flatten)]
    scenario: ScenarioArgs,
    /// Number to vary, as in `ship.lift_to_drag=0..0.5:6` (six values) or `ship.mass=50t,60t,70t`; may be
    /// given twice
    #[arg(long, value_name = "KEY=VALUES", required = true)]
    vary: Vec<String>,
    /// Study to run at each point
    #[arg(value_name = "STUDY", value_parser = studies())]
    study: String,
    /// What to draw, by the name of its column (default: what the study is about)
    #[arg(long, value_name = "COLUMN")]
    show: Option<String>,
    /// Samples at each aim, over the scenario's `ask.samples`
    #[arg(long, value_name = "N", value_parser = super::runs::samples)]
    samples: Option<u64>,
    /// Seed of the draws, over the scenario's `ask.seed`
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Run every point again, even those whose answers are kept from before
    #[arg(long)]
    anew: bool,
    #[command(flatten)]
    out: OutArgs,
}

fn studies() -> clap::builder::PossibleValuesParser {
    let named = |study: &'static SweptStudy| PossibleValue::new(study.name).help(study.about);
    STUDIES.iter().map(named).collect::<Vec<_>>().into()
}

pub(super) fn run(args: &SweepArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let options = [("ask.samples", args.samples), ("ask.seed", args.seed)];
    let study = SweptStudy::find(&args.study)
        .ok_or_else(|| CliError::Usage(format!("there is no study `{}`", args.study)))?;
    let shown = args.show.as_deref().map(|key| column(study, key));
    let shown = shown.transpose()?;
    let parsed: Result<Vec<Variation>, _> = args.vary.iter().map(|v| Variation::parse(v)).collect();
    let variations = parsed?;
    let document = args.scenario.document(&options)?;
    let sweep = Sweep {
        document: &document,
        variations: &variations,
        study,
    };
    let points = sweep.points().map_err(CliError::sweep)?;
    // The scenario without what is varied, for the folder; where it is none by itself, that of a good point.
    let mut case = Case::from_document(document.clone()).or_else(|error| {
        let mut good = points
            .iter()
            .filter_map(|point| point.case(&sweep, None).ok());
        good.next().ok_or(error)
    })?;
    let place = Place::of(&case, &args.out.out, "sweep")?;
    run_study(&place, screen, || {
        let kept = place.folder.join("points");
        let mut store = SweepStore::new(&kept, study, args.anew);
        let started = Instant::now();
        let expected = (study.passes)(&case).saturating_mul(points.len() as u64);
        let watch = Watch::start(screen, expected);
        let result = run_sweep(&sweep, &points, (&mut store, watch.progress()));
        drop(watch);
        let result = match result {
            Ok(result) => result,
            Err(Unfinished::Stopped { done, of }) => {
                return Err(CliError::Stopped(format!(
                    "stopped after {done} of {of} points, which are kept: the same command goes on from there"
                )));
            }
            Err(Unfinished::Keeping(never)) => match never {},
        };
        case.precision = result.precision.unwrap_or(case.precision);
        if let Some(Err(why)) = result.rows.first().map(|row| &row.answer)
            && result.rows.iter().all(|row| row.answer.is_err())
        {
            return Err(CliError::Usage(format!("no point has an answer: {why}")));
        }
        let terminal = Screen::terminal();
        let about = shown.or_else(|| study.place(study.map)).unwrap_or_default();
        let seconds = started.elapsed().as_secs_f64();
        let (case, sweep, base) = (&case, &sweep, &args.out.out);
        Ok(Answer {
            summary: sweep_files::summary(case, (sweep, &result), seconds),
            text: vec![
                terminal.answer(&sweep_text::answer(sweep, &result, about), Tone::Plain),
                String::new(),
                sweep_text::table(&terminal, sweep, &result),
            ],
            keep: Box::new(move |summary| {
                let found = (sweep, &result, shown);
                let folder = sweep_files::write(case, found, summary, (base, &again(args)))?;
                Ok(Kept::files(&folder))
            }),
            end: Ok(()),
        })
    })
}

/// Place of the measure of this column.
fn column(study: &'static SweptStudy, key: &str) -> Result<usize, CliError> {
    let drawn = || study.measures.iter().filter(|m| !m.is_text).map(|m| m.key);
    if let Some(place) = study.place(key)
        && !study.measures[place].is_text
    {
        return Ok(place);
    }
    let help = match closest(key, drawn()) {
        Some(meant) => format!("did you mean `{meant}`?"),
        None => format!("known: {}", drawn().collect::<Vec<_>>().join(", ")),
    };
    Err(CliError::Usage(format!(
        "--show: `{}` gives no number `{key}`\n  help: {help}",
        study.name
    )))
}

/// The arguments that give the same again.
fn again(args: &SweepArgs) -> String {
    let mut arguments: Vec<String> = args.vary.iter().map(|v| format!("--vary '{v}'")).collect();
    arguments.extend(args.show.iter().map(|key| format!("--show {key}")));
    arguments.push(args.study.clone());
    arguments.join(" ")
}
