//! `periband band`: which aims are safe, and what limits them.

use super::args::{BandArgs, Common, Rows};
use super::exit::{CliError, Exit};
use super::screen::Screen;
use super::watch::Watch;
use crate::report::band_files::{self, RowChoice, RowsWanted};
use crate::report::band_store::BandStore;
use crate::report::number::count;
use crate::report::{ReportError, band_text, run_facts, steered, summary, unflown};
use crate::study::band::{BandError, BandResult, expected_at_an_aim, find_band_kept};
use crate::study::held::find_held;
use crate::study::kept::Keeper;
use std::time::Instant;

#[expect(
    clippy::too_many_lines,
    reason = "one step after another, each a line or two"
)]
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
    // A folder that cannot be written is better known before the passes are flown than after.
    run_facts::probe(&case, &args.out.out, "band").map_err(ReportError::from)?;
    let store = BandStore::open(&case, &args.out.out)?;
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
            if let BandError::Stopped { kept } = &error {
                let partial = summary::partial(&case, kept);
                screen.json(&partial);
                let folder = band_files::Files::create(&case, &args.out.out)?.keep(&partial)?;
                screen.remark(&format!("Kept: {}", folder.display()));
            }
            let error = CliError::band(&error, args.scenario.file.clone());
            return Err(goes_on(error, &store));
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
    // What steering is worth shows beside the same ship unsteered.
    let flown = band_files::Files::create(&case, &args.out.out)
        .and_then(|mut files| {
            let outcome = files.fly_rows(&case, &result, (rows, watch.progress()))?;
            Ok((files, outcome))
        })
        .map_err(CliError::from)
        .and_then(|(files, outcome)| {
            let held = case
                .problem
                .guide()
                .map(|_| find_held(&case, kept))
                .transpose()
                .map_err(|error| CliError::band(&error, args.scenario.file.clone()))?;
            Ok((files, outcome, held))
        });
    let (passes, whole) = (watch.progress().flown(), watch.progress().done());
    log::info!("{passes} passes flown, {} kept from before", whole - passes);
    let cancelled = watch.progress().is_cancelled();
    drop(watch);
    let (files, outcome, held) = match flown {
        Ok(flown) => flown,
        Err(error) => {
            // The band is found: it is not lost with the files that cannot be written.
            let partial = summary::partial(&case, &result.points);
            screen.json(&partial);
            let tone = band_text::tone(&result, None);
            screen.answer(&band_text::answer(&case, &result, None), tone);
            let files = band_files::Files::create(&case, &args.out.out);
            if let Ok(folder) = files.and_then(|files| files.keep(&partial)) {
                screen.remark(&format!("Kept: {}", folder.display()));
            }
            return Err(goes_on(error, &store));
        }
    };
    let held = held.as_ref();
    let seconds = started.elapsed().as_secs_f64();
    let summary = summary::band_summary(&case, &result, (&outcome, held), seconds);
    let folder = files.finish(&case, (&result, &outcome, held), &summary);
    // Whoever stopped it at the very end may want what is missing on the page.
    if folder.is_ok() && !cancelled {
        store.remove().map_err(ReportError::from)?;
    }
    screen.json(&summary);
    let verdicts = band_text::verdicts(&case, &result, &outcome);
    let tone = band_text::tone(&result, verdicts.as_ref());
    screen.answer(&band_text::answer(&case, &result, verdicts.as_ref()), tone);
    if let Some(held) = held {
        let words = steered::comparison(&case, &outcome, held);
        screen.say("");
        screen.say(Screen::terminal().paragraph(&words, 0).trim_end());
    }
    screen.say("");
    screen.say(band_text::table(&Screen::terminal(), &case, (&result, &outcome)).trim_end());
    screen.say(&format!("\nFiles: {}", folder?.display()));
    let file = args.scenario.file.display().to_string();
    if let Some(words) = unflown::replay(&outcome, &file) {
        screen.remark(&words);
    }
    decided(&result)
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
