//! `periband pass`: one flight in full.

use super::args::{Common, PassArgs};
use super::exit::CliError;
use super::screen::Screen;
use super::study_run::{Answer, Kept, Place, run_study};
use crate::ensemble::problem::SampleNumber;
use crate::numeric::units::{Dimension, parse_quantity};
use crate::report::grid::{Grid, Tone};
use crate::report::{ReportError, heat_text, named_file, oem, pass_files, pass_text};
use crate::study::Case;
use crate::study::single::{SinglePass, fly_single};
use crate::study::verdicts::Verdicts;
use std::path::Path;

pub(super) fn run(args: &PassArgs, _common: &Common, screen: Screen) -> Result<(), CliError> {
    let case = args.scenario.case(&[])?;
    let aim_m = match &args.periapsis {
        Some(text) => length("--periapsis", text)?,
        None if case.problem.aim().is_single() => case.problem.aim().from_m,
        None => {
            let range = case.problem.aim();
            return Err(CliError::Usage(format!(
                "the scenario gives a range of aims, {:.3} to {:.3} km: say which to fly, as in --periapsis {:.0}km",
                range.from_m / 1e3,
                range.to_m / 1e3,
                0.5 * (range.from_m + range.to_m) / 1e3
            )));
        }
    };
    let target = args
        .target_apoapsis
        .as_deref()
        .map(|text| length("--target-apoapsis", text))
        .transpose()?;
    let target_text = args.target_apoapsis.as_deref();
    let again = again((aim_m, args.sample), target_text);
    if let Some(path) = &args.oem {
        named_file::check(path, oem::is_own).map_err(ReportError::from)?;
    }
    let flight = Flight {
        aim_m,
        sample: args.sample,
        target_m: target,
        again,
        oem: args.oem.as_deref(),
    };
    fly(&case, &flight, (&args.out.out, screen))
}

/// One pass that is asked for.
pub(super) struct Flight<'a> {
    /// Vacuum periapsis altitude, m.
    pub(super) aim_m: f64,
    /// The sample of the ensemble; the nominal numbers where there is none.
    pub(super) sample: Option<u64>,
    /// Apoapsis altitude wanted afterwards, m.
    pub(super) target_m: Option<f64>,
    /// The arguments that fly it again.
    pub(super) again: String,
    /// The file that its ephemeris goes to.
    pub(super) oem: Option<&'a Path>,
}

/// Flies a pass, tells of it, and writes its files under a folder.
pub(super) fn fly(
    case: &Case,
    flight: &Flight<'_>,
    (base, screen): (&Path, Screen),
) -> Result<(), CliError> {
    let place = Place {
        at_once: true,
        ..Place::of(case, base, "pass")?
    };
    run_study(&place, screen, || {
        let number = flight.sample;
        let sample = number.map_or(SampleNumber::Nominal, SampleNumber::Of);
        let aim = (flight.aim_m, sample);
        let single = fly_single(&case.problem, &case.scenario.ship, aim, flight.target_m)?;
        let terminal = Screen::terminal();
        let mut text = vec![terminal.answer(&pass_text::answer(case, &single), Tone::Strong)];
        let broken = pass_text::broken(case, &single);
        if !broken.is_empty() {
            text.push(terminal.paragraph(&broken, 0));
        }
        text.extend([String::new(), pass_text::table(&single)]);
        text.extend(heating(case, &single));
        Ok(Answer {
            summary: pass_text::summary(case, &single, number),
            text,
            keep: Box::new(move |summary| {
                // What was asked for by name comes first.
                if let Some(path) = flight.oem {
                    let message = oem::message(case, &single, &oem::now());
                    named_file::write(path, message.as_bytes(), oem::is_own)
                        .map_err(ReportError::from)?;
                }
                let again = flight.again.as_str();
                let folder = pass_files::write(case, &single, summary, (base, again))?;
                Ok(Kept::files(&folder))
            }),
            end: Ok(()),
        })
    })
}

/// The stagnation point by each correlation, and the spots.
fn heating(case: &Case, single: &SinglePass) -> Vec<String> {
    let terminal = Screen::terminal();
    let told = |table: &Grid, remarks: Vec<String>| {
        let mut text = vec![String::new(), terminal.table(table)];
        text.extend(remarks.iter().map(|remark| terminal.paragraph(remark, 0)));
        text
    };
    let mut text = told(
        &heat_text::convective_table(case, single),
        heat_text::convective_remarks(case, single),
    );
    if !single.spots.is_empty() {
        text.extend(told(
            &heat_text::spots_table((single, &Verdicts::of_pass(&case.problem, single))),
            heat_text::spot_remarks(single),
        ));
    }
    text
}

/// The arguments that fly the same pass again.
pub(super) fn again((aim_m, sample): (f64, Option<u64>), target: Option<&str>) -> String {
    let mut arguments = format!("--periapsis {aim_m}m");
    if let Some(sample) = sample {
        arguments = format!("{arguments} --sample {sample}");
    }
    if let Some(target) = target {
        arguments = format!("{arguments} --target-apoapsis '{target}'");
    }
    arguments
}

pub(super) fn length(option: &str, text: &str) -> Result<f64, CliError> {
    parse_quantity(text, Dimension::Length)
        .map_err(|error| CliError::Usage(format!("{option}: {error}")))
}
