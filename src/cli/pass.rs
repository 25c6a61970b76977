//! `periband pass`: one flight in full.

use super::args::{Common, PassArgs};
use super::exit::CliError;
use super::screen::Screen;
use crate::ensemble::problem::SampleNumber;
use crate::numeric::units::{Dimension, parse_quantity};
use crate::report::grid::{Grid, Tone};
use crate::report::{heat_text, oem, pass_files, pass_text};
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
    let single = fly(
        &case,
        (aim_m, args.sample, target),
        (&args.out.out, &again),
        screen,
    )?;
    if let Some(path) = &args.oem {
        let message = oem::message(&case, &single, &oem::now());
        std::fs::write(path, message).map_err(|source| CliError::Write {
            path: path.clone(),
            source,
        })?;
    }
    Ok(())
}

/// Flies a pass (aim, m; sample; apoapsis wanted, m), writes its files under a folder, tells of it, and gives it.
pub(super) fn fly(
    case: &Case,
    (aim_m, number, target): (f64, Option<u64>, Option<f64>),
    (base, again): (&Path, &str),
    screen: Screen,
) -> Result<SinglePass, CliError> {
    let sample = number.map_or(SampleNumber::Nominal, SampleNumber::Of);
    let single = fly_single(&case.problem, &case.scenario.ship, (aim_m, sample), target)?;
    let summary = pass_text::summary(case, &single, number);
    let folder = pass_files::write(case, &single, &summary, (base, again));
    screen.json(&summary);
    screen.answer(&pass_text::answer(case, &single), Tone::Strong);
    let broken = pass_text::broken(case, &single);
    if !broken.is_empty() {
        screen.say(Screen::terminal().paragraph(&broken, 0).trim_end());
    }
    screen.say("");
    screen.say(&pass_text::table(&single));
    say_heating(case, &single, screen);
    screen.say(&format!(
        "
Files: {}",
        folder?.display()
    ));
    Ok(single)
}

/// The stagnation point by each correlation, and the spots.
fn say_heating(case: &Case, single: &SinglePass, screen: Screen) {
    let terminal = Screen::terminal();
    let say = |table: &Grid, remarks: Vec<String>| {
        screen.say("");
        screen.say(terminal.table(table).trim_end());
        for remark in remarks {
            screen.say(terminal.paragraph(&remark, 0).trim_end());
        }
    };
    say(
        &heat_text::convective_table(case, single),
        heat_text::convective_remarks(case, single),
    );
    if !single.spots.is_empty() {
        say(
            &heat_text::spots_table((single, &Verdicts::of_pass(&case.problem, single))),
            heat_text::spot_remarks(single),
        );
    }
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
