//! `periband check`: is the scenario right, and what does it say.

use super::args::{Common, ScenarioArgs};
use super::exit::CliError;
use super::screen::Screen;
use crate::report::remarks::vacuum_remark;
use crate::report::{air_grades, coverage_words, delivery_words, heat_text, people_words};
use crate::study::campaign::check_case;
use serde_json::json;

pub(super) fn run(args: &ScenarioArgs, _common: &Common, screen: Screen) -> Result<(), CliError> {
    let case = args.case(&[])?;
    if case.scenario.campaign.is_some() {
        check_case(&case).map_err(|error| error.placed(&case.scenario))?;
    }
    let lines = case.scenario.describe();
    let mut remarks = vec![air_grades::remark(&case)];
    remarks.extend(heat_text::unflown_remark(&case));
    remarks.extend(people_words::remarks(&case));
    remarks.extend(vacuum_remark(&case));
    remarks.extend(delivery_words::remarks(&case));
    remarks.extend(coverage_words::range_remark(&case));
    screen.json(&json!({
        "valid": true,
        "understood": lines,
        "remarks": remarks,
        "coverage": coverage_words::range_json(&case),
    }));
    screen.say(&lines.join("\n"));
    for remark in &remarks {
        screen.say("");
        screen.say(Screen::terminal().paragraph(remark, 0).trim_end());
    }
    screen.say("\nThe scenario is valid.");
    Ok(())
}
