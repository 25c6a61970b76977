//! Plans and parts of runs in shards, as broken inputs: a part is sealed anew, so that what is behind its digest is
//! read too.

use super::formats::Outcome;
use periband::ensemble::histogram::Bins;
use periband::ensemble::{Fleet, Progress};
use periband::report::folder::sha256;
use periband::report::shard_part::{PartHead, decode, encode, sealed};
use periband::report::shard_plan::{Plan, Resolved};
use periband::scenario::{STARTER, Scenario};
use periband::study::Case;
use periband::study::outcome::Quantity;
use periband::study::shards::{Design, Question, fly_shard};
use std::sync::OnceLock;

/// A run of two small shards at two aims.
pub(crate) struct Run {
    pub(crate) plan: String,
    pub(crate) part: String,
    head: PartHead,
    limits: usize,
    bins: Vec<Vec<Bins>>,
}

/// The run, made once.
pub(crate) fn run() -> &'static Run {
    static RUN: OnceLock<Run> = OnceLock::new();
    RUN.get_or_init(|| make().expect("the starter can be planned and flown"))
}

fn make() -> Option<Run> {
    let scenario = Scenario::from_text("starter.yaml", STARTER).ok()?;
    let case = Case::from_scenario(scenario).ok()?;
    let row = || {
        Quantity::ALL
            .map(|_| Bins::about(vec![0.5, 1.0, 1.5], 40))
            .to_vec()
    };
    let design = Design {
        aims_m: vec![50e3, 52e3],
        recommended_m: 52e3,
        bins: vec![row(), row()],
    };
    let question = Question {
        samples: 40,
        aims_m: Some(design.aims_m.clone()),
    };
    let resolved = Resolved::of(&case).ok()?;
    let plan = Plan::new(&case, &resolved, (&question, &design), Some(2));
    let text = plan.text();
    let head = plan.head(&sha256(text.as_bytes()), 1)?;
    let progress = Progress::default();
    let fleet = Fleet::new(&case.problem, &progress);
    let about = (&design.aims_m[..], &design.bins[..]);
    let summaries = fly_shard(&fleet, about, head.first..head.end).ok()?;
    Some(Run {
        part: encode(head.clone(), &summaries),
        plan: text,
        head,
        limits: plan.limits.len(),
        bins: design.bins,
    })
}

pub(crate) fn plan(input: &[u8]) -> Outcome {
    let Ok(text) = std::str::from_utf8(input) else {
        return Outcome::Refused;
    };
    match Plan::read(text) {
        Ok(plan) => {
            // What was taken has to be of use.
            assert_eq!(
                plan.bins().map(|bins| bins.len()),
                Some(plan.aims_m().len())
            );
            Outcome::Taken
        }
        Err(_) => Outcome::Refused,
    }
}

pub(crate) fn part(input: &[u8]) -> Outcome {
    let run = run();
    let read = |bytes: &[u8]| decode(bytes, &run.head, (run.limits, &run.bins)).is_ok();
    let whole = read(input);
    let line = String::from_utf8_lossy(input);
    let line = line
        .split_once("\nsha256 ")
        .map_or(&*line, |(line, _)| line);
    let sealed_anew = read(sealed(line).as_bytes());
    if whole || sealed_anew {
        Outcome::Taken
    } else {
        Outcome::Refused
    }
}
