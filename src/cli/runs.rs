//! `periband plan`, `shard`, `missing`, `merge`, `replay` and `run`: one run in many parts, here or on many machines.

use super::args::{Common, OutArgs, ScenarioArgs};
use super::exit::CliError;
use super::pass::Flight;
use super::screen::Screen;
use super::study_run::{Answer, Kept, Place, run_study};
use super::watch::Watch;
use crate::ensemble::Progress;
use crate::ensemble::interval::MAX_TRIALS;
use crate::numeric::units::{Dimension, parse_quantity};
use crate::report::folder::sha256;
use crate::report::grid::Tone;
use crate::report::number::count;
use crate::report::shard_plan::{MOST_SHARDS, Plan, Resolved};
use crate::report::shard_run::{Counted, Flown, PLAN, ShardError, ShardRun};
use crate::report::{ReportError, run_facts, shard_files, shard_text, slurm};
use crate::scenario::variation::Variation;
use crate::study::Case;
use crate::study::shards::{Question, Summary, design, judge};
use clap::Args;
use serde_json::json;
use std::path::{Path, PathBuf};

/// Most samples of a run at each aim: more give no interval.
const MOST_SAMPLES: u64 = MAX_TRIALS;

#[derive(Debug, Args)]
pub(super) struct PlanArgs {
    #[command(flatten)]
    question: QuestionArgs,
    /// Folder of the run: a new one, or that of the same plan (default: one under out/ that belongs to this question)
    #[arg(long, value_name = "RUN")]
    out: Option<PathBuf>,
    /// Write the scripts of a Slurm job array, and of what follows it up, into the folder
    #[arg(long)]
    slurm: bool,
}

#[derive(Debug, Args)]
struct QuestionArgs {
    #[command(flatten)]
    scenario: ScenarioArgs,
    /// Samples at each aim, as in 1e9, over the scenario's `ask.samples`
    #[arg(long, value_name = "N", value_parser = samples)]
    samples: Option<u64>,
    /// Parts to cut the run into (default: of about two million passes each)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=MOST_SHARDS))]
    shards: Option<u64>,
    /// Aims to fly, as in 50.5km..51.5km:5 or 51km,51.2km (default: chosen about the safe band)
    #[arg(long, value_name = "LENGTHS", allow_hyphen_values = true)]
    aims: Option<String>,
    /// Seed of the draws, over the scenario's `ask.seed`
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
}

#[derive(Debug, Args)]
pub(super) struct RunArgs {
    #[command(flatten)]
    question: QuestionArgs,
    #[command(flatten)]
    out: OutArgs,
}

#[derive(Debug, Args)]
pub(super) struct FolderArgs {
    /// Folder of the run, as `periband plan` wrote it
    #[arg(value_name = "RUN")]
    run: PathBuf,
}

#[derive(Debug, Args)]
pub(super) struct ShardArgs {
    #[command(flatten)]
    folder: FolderArgs,
    /// Number of the shard, from 0
    #[arg(long, value_name = "K")]
    index: u64,
}

#[derive(Debug, Args)]
pub(super) struct MissingArgs {
    #[command(flatten)]
    folder: FolderArgs,
    /// Print them on one line as ranges, as in 0-3,7: the form of a job array
    #[arg(long)]
    ranges: bool,
}

#[derive(Debug, Args)]
pub(super) struct ReplayArgs {
    #[command(flatten)]
    folder: FolderArgs,
    /// Number of the sample
    #[arg(long, value_name = "I")]
    sample: u64,
    /// Aim to fly it at, as in 51.05km (default: the plan's own aim to take)
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    aim: Option<String>,
}

/// A whole number, which may be written with an exponent: `1e9`.
pub(super) fn samples(text: &str) -> Result<u64, String> {
    let number = text.parse::<u64>().ok().or_else(|| {
        let (digits, zeros) = text.split_once(['e', 'E'])?;
        let factor = 10_u64.checked_pow(zeros.parse().ok()?)?;
        digits.parse::<u64>().ok()?.checked_mul(factor)
    });
    number
        .filter(|number| (1..=MOST_SAMPLES).contains(number))
        .ok_or_else(|| {
            format!("expected a whole number from 1 to {MOST_SAMPLES}, as in 4000 or 1e9")
        })
}

/// The aims of `--aims`, m.
fn aims(text: &str) -> Result<Vec<f64>, CliError> {
    let read = Variation::parse(&format!("aims={text}"))
        .map_err(|error| CliError::Usage(format!("--aims {text}: {}", error.message())))?;
    let aim = |place| {
        let written = read.value_text(place);
        parse_quantity(&written, Dimension::Length).map_err(|error| {
            CliError::Usage(format!("--aims {text}: {error}\n  help: {}", error.help()))
        })
    };
    (0..read.values.len()).map(aim).collect()
}

/// A question about a scenario that is to be flown in shards.
struct Asked {
    case: Case,
    question: Question,
    resolved: Resolved,
    shards: Option<u64>,
    /// Hash of all that.
    sha256: String,
    /// The scenario, for messages.
    file: PathBuf,
}

impl QuestionArgs {
    fn asked(&self) -> Result<Asked, CliError> {
        let case = self.scenario.case(&[("ask.seed", self.seed)])?;
        let question = Question {
            samples: self.samples.unwrap_or(case.scenario.ask.samples),
            aims_m: self.aims.as_deref().map(aims).transpose()?,
        };
        if let Some(shards) = self.shards.filter(|&shards| shards > question.samples) {
            return Err(CliError::Usage(format!(
                "{shards} shards are more than the {} samples",
                question.samples
            )));
        }
        let resolved = Resolved::of(&case)?;
        Ok(Asked {
            sha256: resolved.question_sha256(&question, self.shards),
            case,
            question,
            resolved,
            shards: self.shards,
            file: self.scenario.file.clone(),
        })
    }
}

impl Asked {
    /// The folder that belongs to the question under one for results.
    fn folder(&self, base: &Path) -> PathBuf {
        run_facts::folder(&self.case, base, &format!("run-{}", &self.sha256[..8]))
    }

    /// The plan in a folder, and whether it was there already.
    fn plan(&self, path: &Path, screen: Screen) -> Result<(Plan, bool), CliError> {
        if path.join(PLAN).exists() {
            let run = ShardRun::open(path)?;
            if run.plan().question_sha256 != self.sha256 {
                return Err(CliError::taken(path.to_owned()));
            }
            return Ok((run.plan().clone(), true));
        }
        run_facts::keeps_inputs(&self.case, path).map_err(ReportError::from)?;
        ShardRun::refuse_others(path, &self.resolved).map_err(ReportError::from)?;
        let watch = Watch::start(screen, 400_000);
        let made = design(&self.case, &self.question, watch.progress());
        drop(watch);
        let made = made.map_err(|error| CliError::design(&error, self.file.clone()))?;
        let about = (&self.question, &made);
        Ok((
            Plan::new(&self.case, &self.resolved, about, self.shards),
            false,
        ))
    }
}

pub(super) fn plan(args: &PlanArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let asked = args.question.asked()?;
    let path = args.out.clone();
    let path = path.unwrap_or_else(|| asked.folder(Path::new("out")));
    let place = Place::at(path.clone());
    run_study(&place, screen, || {
        let (plan, there) = asked.plan(&path, screen)?;
        let shards = plan.shards.len() as u64;
        let summary = json!({
            "run": path,
            "plan_sha256": sha256(plan.text().as_bytes()),
            "scenario_sha256": plan.scenario_sha256,
            "samples": plan.samples,
            "aims_km": plan.aims_m().iter().map(|aim| aim / 1e3).collect::<Vec<_>>(),
            "shards": shards,
        });
        let known = if there { "Planned already" } else { "Planned" };
        let many = |number: u64, word: &str| {
            let ending = if number == 1 { "" } else { "s" };
            format!("{} {word}{ending}", count(number))
        };
        let text = format!(
            "{known}: {} at each of {}, {:.2} to {:.2} km, in {}.",
            many(plan.samples, "sample"),
            many(plan.aims_m.len() as u64, "aim"),
            plan.aims_m().first().map_or(f64::NAN, |aim| aim / 1e3),
            plan.aims_m().last().map_or(f64::NAN, |aim| aim / 1e3),
            many(shards, "shard"),
        );
        let (path, asked) = (&path, &asked);
        Ok(Answer {
            summary,
            text: vec![Screen::terminal().answer(&text, Tone::Strong)],
            keep: Box::new(move |_| {
                ShardRun::create(path, &plan, &asked.resolved)?;
                let folder = path.display();
                let mut text = String::new();
                if args.slurm {
                    let program = std::env::current_exe();
                    let program = program.unwrap_or_else(|_| PathBuf::from("periband"));
                    slurm::write(path, &program).map_err(ReportError::from)?;
                    text = format!("\nOn Slurm: sh {folder}/{}\n", slurm::FOLLOW);
                }
                let text = format!(
                    "{text}\nFolder: {folder}\n\n  periband shard {folder} --index K     K from 0 to {}\n  \
                     periband missing {folder}\n  periband merge {folder}",
                    shards - 1
                );
                Ok(Kept { text, remark: None })
            }),
            end: Ok(()),
        })
    })
}

pub(super) fn shard(args: &ShardArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let run = ShardRun::open(&args.folder.run)?;
    let case = run.case()?;
    run.tidy();
    let head = run.plan().head(run.plan_sha256(), args.index);
    let samples = head.map_or(0, |head| head.end - head.first);
    let watch = Watch::start(
        screen,
        samples.saturating_mul(run.plan().aims_m.len() as u64),
    );
    let flown = run.fly(&case, args.index, watch.progress());
    drop(watch);
    let said = match flown? {
        Flown::Kept => "was there already and is sound: kept".to_owned(),
        Flown::Made(fault) => format!("flown (it was: {fault})"),
    };
    let path = run.part(args.index);
    screen.json(&json!({ "shard": args.index, "part": path, "said": said }));
    screen.say(&format!(
        "Shard {}: {said}.\n{}",
        args.index,
        path.display()
    ));
    Ok(())
}

pub(super) fn missing(args: &MissingArgs, screen: Screen) -> Result<(), CliError> {
    let run = ShardRun::open(&args.folder.run)?;
    let missing = run.missing();
    let listed = missing
        .iter()
        .map(|(index, why)| json!({ "index": index, "why": why.to_string() }));
    screen.json(&json!({ "shards": run.shards(), "missing": listed.collect::<Vec<_>>() }));
    let numbers: Vec<u64> = missing.iter().map(|(index, _)| *index).collect();
    let lines = if args.ranges {
        ranges(&numbers)
    } else {
        let lines: Vec<String> = numbers.iter().map(u64::to_string).collect();
        lines.join("\n")
    };
    if !numbers.is_empty() {
        screen.say(&lines);
    }
    screen.remark(&format!(
        "{} of {} shards have no valid part.",
        count(numbers.len() as u64),
        count(run.shards())
    ));
    Ok(())
}

/// Rising numbers as `0-3,7`.
fn ranges(numbers: &[u64]) -> String {
    let runs = numbers.chunk_by(|a, b| a + 1 == *b);
    let text = |run: &[u64]| match run {
        [one] => one.to_string(),
        [first, .., last] => format!("{first}-{last}"),
        [] => String::new(),
    };
    runs.map(text).collect::<Vec<_>>().join(",")
}

pub(super) fn merge(args: &FolderArgs, screen: Screen) -> Result<(), CliError> {
    let run = ShardRun::open(&args.run)?;
    let case = run.case()?;
    let place = Place {
        at_once: true,
        ..Place::at(args.run.clone())
    };
    run_study(&place, screen, || {
        let merged = run.merge(&Counted::default())?;
        whole(run, case, merged)
    })
}

/// What follows from the merged parts.
fn whole(run: ShardRun, case: Case, merged: Vec<Summary>) -> Result<Answer<'static>, CliError> {
    let digest = run.digest(&merged);
    let plan = run.plan();
    let aims = (plan.aims_m(), plan.recommended_m.0);
    let whole = judge(&case, plan.samples, (&aims.0, aims.1), merged)
        .map_err(|why| CliError::band(&why, run.path().to_owned()))?;
    if let Some(peak) = peak_memory_kib() {
        log::info!("peak memory {} MiB", peak.div_ceil(1024));
    }
    let terminal = Screen::terminal();
    let tone = shard_text::tone(&case, &whole);
    Ok(Answer {
        summary: shard_files::whole_summary(&case, &run, (&whole, &digest)),
        text: vec![
            terminal.answer(&shard_text::answer(&case, &whole), tone),
            String::new(),
            shard_text::table(&terminal, &case, (plan, &whole)),
            format!("\nDigest: {digest}"),
        ],
        end: super::band::decided(&whole.result),
        keep: Box::new(move |summary| {
            shard_files::write(&case, &run, (&whole, summary))?;
            Ok(Kept {
                text: format!("Files: {}", run.path().display()),
                remark: None,
            })
        }),
    })
}

pub(super) fn run(args: &RunArgs, common: &Common, screen: Screen) -> Result<(), CliError> {
    super::use_threads(common.threads.map(usize::from))?;
    let asked = args.question.asked()?;
    let path = asked.folder(&args.out.out);
    let place = Place::at(path.clone());
    run_study(&place, screen, || {
        let (plan, _) = asked.plan(&path, screen)?;
        let (run, planned) = match ShardRun::create(&path, &plan, &asked.resolved) {
            Err(ShardError::File(error)) => (
                ShardRun::unwritten(&path, plan),
                Err(ShardError::File(error)),
            ),
            run => (run?, Ok(())),
        };
        let case = match run.case() {
            // Its folder was removed meanwhile, or takes nothing: what was planned is known.
            Err(ShardError::File(_)) => run.adopt(asked.case),
            case => case?,
        };
        let mut counted = Counted::default();
        let written = planned.and(fly_missing(&run, &case, (&mut counted, screen))?);
        let merged = run.merge(&counted)?;
        let answer = whole(run, case, merged)?;
        let Err(error) = written else {
            return Ok(answer);
        };
        let Answer { keep, .. } = answer;
        Ok(Answer {
            // What can be written is, and the first reason is told: what follows of it says less.
            keep: Box::new(move |summary| {
                let _ = keep(summary);
                Err(error.into())
            }),
            ..answer
        })
    })
}

/// Flies every shard that has no valid part, and gives the first reason for which one could not be written.
fn fly_missing(
    run: &ShardRun,
    case: &Case,
    (counted, screen): (&mut Counted, Screen),
) -> Result<Result<(), ShardError>, CliError> {
    let missing: Vec<u64> = run.missing().iter().map(|(index, _)| *index).collect();
    let (of, already) = (run.shards(), run.shards() - missing.len() as u64);
    if already > 0 {
        screen.remark(&format!(
            "{} of {} shards are there already.",
            count(already),
            count(of)
        ));
    }
    let plan = run.plan();
    let samples = |index: u64| plan.head("", index).map_or(0, |head| head.end - head.first);
    let passes: u64 = missing.iter().map(|index| samples(*index)).sum();
    let watch = Watch::start(screen, passes.saturating_mul(plan.aims_m.len() as u64));
    let mut written = Ok(());
    for (place, &index) in missing.iter().enumerate() {
        match run.count(case, index, watch.progress()) {
            Ok(summaries) => {
                written = written.and(run.keep(index, &summaries));
                counted.add(index, summaries);
            }
            Err(error) => return Err(stopped(error, watch.progress(), already + place as u64, of)),
        }
    }
    Ok(written)
}

fn stopped(error: ShardError, progress: &Progress, done: u64, of: u64) -> CliError {
    if progress.is_cancelled() {
        return CliError::Stopped(format!(
            "stopped after {done} of {of} shards, which are kept: the same command goes on from there"
        ));
    }
    error.into()
}

pub(super) fn replay(args: &ReplayArgs, screen: Screen) -> Result<(), CliError> {
    let run = ShardRun::open(&args.folder.run)?;
    let case = run.case()?;
    if args.sample >= run.plan().samples {
        return Err(CliError::Usage(format!(
            "there is no sample {}: the run has samples 0 to {}",
            args.sample,
            run.plan().samples - 1
        )));
    }
    let aim_m = match args.aim.as_deref() {
        Some(text) => super::pass::length("--aim", text)?,
        None => run.plan().recommended_m.0,
    };
    let name = format!("sample-{}-at-{aim_m}m", args.sample);
    let base = run.path().join("replays").join(name);
    let again = super::pass::again((aim_m, Some(args.sample)), None);
    let flight = Flight {
        aim_m,
        sample: Some(args.sample),
        target_m: None,
        again,
        oem: None,
    };
    super::pass::fly(&case, &flight, (&base, screen))
}

/// The most memory that this process has held, KiB; known on Linux.
fn peak_memory_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_may_have_an_exponent() {
        assert_eq!(samples("4000"), Ok(4000));
        assert_eq!(samples("1e9"), Ok(1_000_000_000));
        assert_eq!(samples("25e3"), Ok(25_000));
        for wrong in ["0", "1.5e3", "e3", "1e40", "-1", "1e-3", "many"] {
            assert!(samples(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn numbers_become_ranges() {
        assert_eq!(ranges(&[0, 1, 2, 5, 7, 8]), "0-2,5,7-8");
        assert_eq!(ranges(&[]), "");
    }
}
