//! `periband learn`: what a flown pass teaches about ship and air.

use super::args::{Common, LearnArgs};
use super::exit::CliError;
use super::screen::Screen;
use super::study_run::{Answer, Kept, Place, run_study};
use crate::numeric::units::{Dimension, format_quantity, parse_quantity};
use crate::report::grid::Tone;
use crate::report::number::significant;
use crate::report::{ReportError, learn_files, learn_text, named_file};
use crate::scenario::flight_log::FlightLog;
use crate::scenario::log_columns::Channel;
use crate::study::Case;
use crate::study::learn::carry::{Carried, Persistence};
use crate::study::learn::{LearnError, LearnOptions, Learned, learn};
use serde_json::{Value, json};
use std::path::Path;

pub(super) fn run(args: &LearnArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let case = args.scenario.case(&[])?;
    let options = LearnOptions {
        noise: noise(args)?,
        ..LearnOptions::new(aim_m(args, &case)?)
    };
    let memory = Memory::of(args)?;
    let log = FlightLog::read(&args.flight)?;
    if let Some(path) = &args.write {
        named_file::check(path, never).map_err(ReportError::from)?;
    }
    let place = Place::of(&case, &args.out.out, "learn")?;
    run_study(&place, screen, || {
        let learned = learn(&case, &log, &options).map_err(|error| match error {
            LearnError::Log(error) => CliError::Input(error),
            error => CliError::Usage(format!("{error}\n  --> {}", args.flight.display())),
        })?;
        let persistence = Persistence::about(&case, &learned, memory.share);
        let air = air_in_words(&memory, &persistence, options.aim_m);
        let mut summary = learn_text::summary(&case, &learned, &args.flight.display().to_string());
        if let Value::Object(map) = &mut summary {
            let next = json!({
                "until_next_s": memory.times_s.map(|times| times.0),
                "air_forgets_in_s": memory.times_s.map(|times| times.1),
                "air_memory": persistence.share,
                "altitude_length_m": persistence.altitude_m,
            });
            map.insert("next_pass".to_owned(), next);
        }
        let (case, log, options) = (&case, &log, &options);
        Ok(Answer {
            summary,
            text: told(case, (&learned, log), &air),
            keep: Box::new(move |summary| {
                let carried = Carried::new(case, &learned, persistence);
                let comment = comment(args, (options.aim_m, &air));
                let (base, again) = (&args.out.out, again(args, options.aim_m));
                let files = learn_files::Files::create(case, base, &again)?;
                let next = carried.scenario(case, (&comment, &files.next()))?;
                let beside = files.next();
                // What was asked for by name comes first.
                if let Some(path) = &args.write {
                    let own = carried.scenario(case, (&comment, path))?;
                    named_file::write(path, own.as_bytes(), never).map_err(ReportError::from)?;
                }
                let kept = (summary, next.as_str(), log.text.as_bytes());
                let folder = files.finish(case, &learned, kept)?;
                let written = args.write.as_ref().unwrap_or(&beside);
                let files = Kept::files(&folder).text;
                Ok(Kept {
                    text: format!(
                        "The scenario of the next pass: {}\n{}",
                        written.display(),
                        files.trim_start()
                    ),
                    remark: None,
                })
            }),
            end: Ok(()),
        })
    })
}

/// No file is replaced by a scenario, which people change.
fn never(_: &str) -> bool {
    false
}

/// What people read of it.
fn told(case: &Case, (learned, log): (&Learned, &FlightLog), air: &str) -> Vec<String> {
    let terminal = Screen::terminal();
    let tone = if learned.doubts.is_empty() {
        Tone::Strong
    } else {
        Tone::Bad
    };
    let mut text = vec![terminal.answer(&learn_text::answer(learned), tone)];
    for table in [
        learn_text::quantities(learned),
        learn_text::numbers(case, learned),
        learn_text::instruments(learned),
    ] {
        if !table.is_empty() {
            text.extend([String::new(), terminal.table(&table)]);
        }
    }
    if !log.unused.is_empty() {
        let unused = format!("Columns not used: {}.", log.unused.join(", "));
        text.extend([String::new(), terminal.paragraph(&unused, 0)]);
    }
    // The doubts stand in the answer.
    for remark in &learned.remarks[learned.doubts.len()..] {
        text.push(terminal.paragraph(&format!("- {remark}"), 2));
    }
    text.extend([String::new(), terminal.paragraph(&format!("{air}."), 0)]);
    text
}

fn aim_m(args: &LearnArgs, case: &Case) -> Result<f64, CliError> {
    let range = case.problem.aim();
    match &args.periapsis {
        Some(text) => quantity("--periapsis", text, Dimension::Length),
        None if range.is_single() => Ok(range.from_m),
        None => Err(CliError::Usage(format!(
            "the scenario gives a range of aims, {:.3} to {:.3} km: say which was flown, as in --periapsis {:.0}km",
            range.from_m / 1e3,
            range.to_m / 1e3,
            0.5 * (range.from_m + range.to_m) / 1e3
        ))),
    }
}

/// The noise of each channel that is given.
fn noise(args: &LearnArgs) -> Result<[Option<f64>; Channel::COUNT], CliError> {
    let mut noise = [None; Channel::COUNT];
    for (option, text, dimension, channels) in [
        (
            "--noise-altitude",
            &args.noise_altitude,
            Dimension::Length,
            [Channel::Altitude, Channel::Radius],
        ),
        (
            "--noise-speed",
            &args.noise_speed,
            Dimension::Speed,
            [Channel::RelativeSpeed, Channel::InertialSpeed],
        ),
        (
            "--noise-deceleration",
            &args.noise_deceleration,
            Dimension::Acceleration,
            [Channel::Deceleration; 2],
        ),
    ] {
        let Some(text) = text else { continue };
        let value = quantity(option, text, dimension)?;
        if value <= 0.0 {
            return Err(CliError::Usage(format!(
                "{option} must be above 0, got {text}"
            )));
        }
        for channel in channels {
            noise[channel as usize] = Some(value);
        }
    }
    Ok(noise)
}

fn quantity(option: &str, text: &str, dimension: Dimension) -> Result<f64, CliError> {
    parse_quantity(text, dimension)
        .map_err(|error| CliError::Usage(format!("{option}: {error}\n  help: {}", error.help())))
}

/// Longest time that is taken, s.
const LONGEST_S: f64 = 1e4 * 86_400.0;

/// What the user says of the air of the next pass.
struct Memory {
    /// Its correlation with that of the flown pass.
    share: f64,
    /// Time until then and time in which the air forgets, s, where the correlation follows from them.
    times_s: Option<(f64, f64)>,
}

impl Memory {
    fn of(args: &LearnArgs) -> Result<Self, CliError> {
        if let Some(share) = args.air_memory {
            return Ok(Self {
                share,
                times_s: None,
            });
        }
        let time = |option: &str, text: &str| {
            let value = quantity(option, text, Dimension::Time)?;
            if value > 0.0 && value <= LONGEST_S {
                return Ok(value);
            }
            Err(CliError::Usage(format!(
                "{option} must be above 0 and at most 10000 d, got {text}"
            )))
        };
        let until = args.until_next.as_deref().unwrap_or_default();
        let times = (
            time("--until-next", until)?,
            time("--air-forgets-in", &args.air_forgets_in)?,
        );
        Ok(Self {
            share: Persistence::after(times.0, times.1),
            times_s: Some(times),
        })
    }
}

/// What the next scenario takes the air of its pass to be.
fn air_in_words(memory: &Memory, persistence: &Persistence, aim_m: f64) -> String {
    let share = significant(persistence.share, 2);
    let (when, why) = match memory.times_s {
        Some((until_s, forgets_s)) => (
            format!(", {} later,", format_quantity(until_s, Dimension::Time)),
            format!(
                " (it forgets in {}, --air-forgets-in)",
                format_quantity(forgets_s, Dimension::Time)
            ),
        ),
        None => (String::new(), " (--air-memory)".to_owned()),
    };
    let fading = persistence.altitude_m.map_or(String::new(), |length_m| {
        format!(
            "; what was learned of its density holds about {} km and fades away from there in altitude over {} km",
            significant(aim_m / 1e3, 3),
            significant(length_m / 1e3, 2)
        )
    });
    format!(
        "The air of the next pass{when} is taken to have a correlation of {share} with that of this one{why}{fading}"
    )
}

/// The head of the next scenario.
fn comment(args: &LearnArgs, (aim_m, air): (f64, &str)) -> String {
    let name = |path: &Path| {
        let name = path.file_name().unwrap_or(path.as_os_str());
        name.to_string_lossy().replace(['\n', '\r'], " ")
    };
    format!(
        "# {} after what the pass of {} taught, aimed at {} km.\n# {}. Delivery and arrival are as uncertain as before.\n",
        name(&args.scenario.file),
        name(&args.flight),
        aim_m / 1e3,
        air
    )
}

/// The arguments that learn the same again in the run folder.
fn again(args: &LearnArgs, aim_m: f64) -> String {
    let mut text = format!("--flight flight.csv --periapsis {aim_m}m");
    for (option, value) in [
        ("--noise-altitude", &args.noise_altitude),
        ("--noise-speed", &args.noise_speed),
        ("--noise-deceleration", &args.noise_deceleration),
    ] {
        if let Some(value) = value {
            text = format!("{text} {option} '{value}'");
        }
    }
    match (&args.air_memory, &args.until_next) {
        (Some(share), _) => text = format!("{text} --air-memory {share}"),
        (None, until) => {
            let until = until.as_deref().unwrap_or_default();
            text = format!(
                "{text} --until-next '{until}' --air-forgets-in '{}'",
                args.air_forgets_in
            );
        }
    }
    text
}
