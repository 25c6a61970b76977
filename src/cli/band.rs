//! `periband band`: which aims are safe, and what limits them.

use super::args::{BandArgs, Common, Rows};
use super::exit::{CliError, Exit};
use super::screen::Screen;
use super::study_run::{Answer, Kept, Place, run_study};
use super::watch::Watch;
use crate::report::band_files::{self, RowChoice, RowsWanted};
use crate::report::band_store::BandStore;
use crate::report::number::count;
use crate::report::{ReportError, band_text, steered, summary, unflown};
use crate::study::Case;
use crate::study::aims::AimPoint;
use crate::study::band::{BandError, BandResult, expected_at_an_aim, find_band_kept};
use crate::study::held::find_held;
use crate::study::kept::Keeper;
use std::path::Path;
use std::time::Instant;

pub(super) fn run(args: &BandArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    if args.draws && args.rows == Rows::None {
        return Err(CliError::Usage(
            "--draws adds columns to the rows, and --rows none writes none: leave one of the two out"
                .to_owned(),
        ));
    }
    let options = [("ask.samples", args.samples), ("ask.seed", args.seed)];
    let case = args.scenario.case(&options)?;
    let place = Place::of(&case, &args.out.out, "band")?;
    run_study(&place, screen, || fly(args, &case, screen))
}

fn fly<'a>(args: &'a BandArgs, case: &'a Case, screen: Screen) -> Result<Answer<'a>, CliError> {
    let base = args.out.out.as_path();
    let file = || args.scenario.file.clone();
    let store = BandStore::open(case, base)?;
    if let Some(kept) = kept_words(&store) {
        screen.remark(&format!("Going on: {kept}."));
    }
    let started = Instant::now();
    let range = case.problem.aim();
    // Closing the two edges takes about as many aims again as a dozen of the grid.
    let aims = 24.0 + (range.to_m - range.from_m) / range.step_m;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let watch = Watch::start(
        screen,
        expected_at_an_aim(&case.scenario.ask, &case.problem).saturating_mul(aims as u64),
    );
    let kept = (watch.progress(), Some(&store as &dyn Keeper));
    let result = match find_band_kept(&case.scenario, &case.problem, kept) {
        Ok(result) => result,
        Err(error) => {
            let ended = goes_on(CliError::band(&error, file()), &store);
            return match &error {
                BandError::Stopped { kept } => Ok(partly((case, base), kept, Vec::new(), ended)),
                _ => Err(ended),
            };
        }
    };
    let rows = RowsWanted {
        of: match args.rows {
            Rows::Recommended => RowChoice::Recommended,
            Rows::All => RowChoice::All,
            Rows::None => RowChoice::None,
        },
        draws: args.draws,
    };
    let mut files = band_files::Files::create(case, base);
    // What steering is worth shows beside the same ship unsteered.
    let flown = files
        .fly_rows(case, &result, (rows, watch.progress()))
        .map_err(|stopped| CliError::from(ReportError::from(stopped)))
        .and_then(|outcome| {
            let held = case.problem.guide().map(|_| find_held(case, kept));
            let held = held.transpose();
            Ok((
                outcome,
                held.map_err(|error| CliError::band(&error, file()))?,
            ))
        });
    let (passes, whole) = (watch.progress().flown(), watch.progress().done());
    log::info!("{passes} passes flown, {} kept from before", whole - passes);
    let cancelled = watch.progress().is_cancelled();
    drop(watch);
    let terminal = Screen::terminal();
    let (outcome, held) = match flown {
        Ok(flown) => flown,
        Err(error) => {
            // The band is found: it is not lost with what was not flown after it.
            let answer = band_text::answer(case, &result, None);
            let text = vec![terminal.answer(&answer, band_text::tone(&result, None))];
            return Ok(partly(
                (case, base),
                &result.points,
                text,
                goes_on(error, &store),
            ));
        }
    };
    let seconds = started.elapsed().as_secs_f64();
    let verdicts = band_text::verdicts(case, &result, &outcome);
    let tone = band_text::tone(&result, verdicts.as_ref());
    let answer = band_text::answer(case, &result, verdicts.as_ref());
    let mut text = vec![terminal.answer(&answer, tone)];
    if let Some(held) = &held {
        let words = steered::comparison(case, &outcome, held);
        text.extend([String::new(), terminal.paragraph(&words, 0)]);
    }
    text.extend([
        String::new(),
        band_text::table(&terminal, case, (&result, &outcome)),
    ]);
    Ok(Answer {
        summary: summary::band_summary(case, &result, (&outcome, held.as_ref()), seconds),
        text,
        end: decided(&result),
        keep: Box::new(move |summary| {
            let folder = files.finish(case, (&result, &outcome, held.as_ref()), summary)?;
            // Whoever stopped it at the very end may want what is missing on the page.
            if !cancelled {
                store.remove().map_err(ReportError::from)?;
            }
            Ok(Kept {
                remark: unflown::replay(&outcome, &args.scenario.file.display().to_string()),
                ..Kept::files(&folder)
            })
        }),
    })
}

/// What a run that ends early leaves: the aims that were complete.
fn partly<'a>(
    (case, base): (&'a Case, &'a Path),
    points: &[AimPoint],
    text: Vec<String>,
    ended: CliError,
) -> Answer<'a> {
    Answer {
        summary: summary::partial(case, points),
        text,
        keep: Box::new(move |partial| {
            let folder = band_files::Files::create(case, base).keep(partial)?;
            Ok(Kept::partly(&folder))
        }),
        end: Err(ended),
    }
}

/// The error of a verdict that samples without a result alone decide.
pub(super) fn decided(result: &BandResult) -> Result<(), CliError> {
    match result.undecided() {
        Some(point) => Err(CliError::NoResult(unflown::undecided(
            &point.tally,
            point.aim_m,
        ))),
        None => Ok(()),
    }
}

/// What a stopped run says: where it goes on, if something is kept of it.
fn goes_on(error: CliError, store: &BandStore) -> CliError {
    match kept_words(store) {
        Some(kept) if error.exit() == Exit::Stopped => CliError::Stopped(format!(
            "stopped; {kept}: the same command goes on from there"
        )),
        _ => error,
    }
}

/// What is kept and where; `None` where nothing is.
fn kept_words(store: &BandStore) -> Option<String> {
    let folder = store.folder().display();
    match store.aims() {
        0 => None,
        1 => Some(format!("1 aim is kept in {folder}")),
        aims => Some(format!("{} aims are kept in {folder}", count(aims as u64))),
    }
}
