//! The folder of a run in shards: its plan, its parts, which of them are there and sound, and their sum.

use super::error::FileError;
use super::folder::{sha256, size_and_sha256};
use super::partial;
use super::seal::{Fault, PROGRAM, SCHEMA, read_bounded};
use super::shard_part::{AimCounts, PartHead, decode, encode};
use super::shard_plan::{Plan, Resolved, limit_keys, scenario_sha256};
use crate::ensemble::histogram::Bins;
use crate::ensemble::{Fleet, Progress};
use crate::scenario::visible::plain_reason;
use crate::study::shards::{Summary, fly_shard};
use crate::study::{Case, CaseError};
use serde_json::json;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Name of the plan in the folder of a run.
pub const PLAN: &str = "plan.json";
/// Name of the folder of the parts.
pub const PARTS: &str = "parts";

/// A run in shards.
#[derive(Debug)]
pub struct ShardRun {
    path: PathBuf,
    plan: Plan,
    plan_sha256: String,
    bins: Vec<Vec<Bins>>,
}

/// Why a run cannot go on.
#[derive(Debug, thiserror::Error)]
pub enum ShardError {
    /// A file or folder cannot be used.
    #[error(transparent)]
    File(#[from] FileError),
    /// The scenario of the run cannot be used.
    #[error(transparent)]
    Case(#[from] CaseError),
    /// The plan, or what it stands on, is not sound.
    #[error("{}: {why}", path.display())]
    Plan {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        why: String,
    },
    /// The folder holds the run of another question.
    #[error("{} holds another run already\n  help: name another folder with --out", path.display())]
    Taken {
        /// The folder.
        path: PathBuf,
    },
    /// A shard that there is not.
    #[error("there is no shard {index}: {} has shards 0 to {}", path.display(), of - 1)]
    NoShard {
        /// The folder.
        path: PathBuf,
        /// What was asked for.
        index: u64,
        /// How many there are.
        of: u64,
    },
    /// Parts that cannot be merged.
    #[error("{} of the parts of {} cannot be merged{}", faults.len(), path.display(), listed(faults))]
    Parts {
        /// The folder.
        path: PathBuf,
        /// Names of files with what is wrong.
        faults: Vec<(String, Fault)>,
    },
    /// The run was cancelled.
    #[error(transparent)]
    Stopped(#[from] crate::ensemble::Stopped),
}

fn listed(faults: &[(String, Fault)]) -> String {
    const MOST: usize = 40;
    let mut text = String::new();
    for (name, fault) in faults.iter().take(MOST) {
        text = format!("{text}\n  {name}: {fault}");
    }
    if faults.len() > MOST {
        text = format!("{text}\n  and {} more", faults.len() - MOST);
    }
    text + "\n  help: `periband shard RUN --index K` flies a part that is missing or not sound"
}

/// The sum of the shards that this process flew: it does not depend on what becomes of their parts.
#[derive(Debug, Default)]
pub struct Counted {
    shards: BTreeSet<u64>,
    /// A summary an aim; empty before the first shard.
    sum: Vec<Summary>,
}

impl Counted {
    /// Adds what a shard counted.
    pub fn add(&mut self, index: u64, part: Vec<Summary>) {
        if !self.shards.insert(index) {
            return;
        }
        if self.sum.is_empty() {
            self.sum = part;
        } else {
            merge_into(&mut self.sum, &part);
        }
    }
}

fn merge_into(whole: &mut [Summary], part: &[Summary]) {
    for (mine, theirs) in whole.iter_mut().zip(part) {
        mine.merge(theirs);
    }
}

/// What `shard` did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Flown {
    /// The part was there and sound.
    Kept,
    /// It was flown; a part that was there was not sound.
    Made(Fault),
}

impl ShardRun {
    /// Writes a plan and its files into a folder, unless the same plan is there already.
    ///
    /// # Errors
    /// [`ShardError::Taken`] where another plan is; [`ShardError::File`] where it cannot be written.
    pub fn create(path: &Path, plan: &Plan, resolved: &Resolved) -> Result<Self, ShardError> {
        let text = plan.text();
        if path.join(PLAN).exists() {
            let there = Self::open(path)?;
            if there.plan_sha256 != sha256(text.as_bytes()) {
                let path = path.to_owned();
                return Err(ShardError::Taken { path });
            }
            return Ok(there);
        }
        Self::refuse_others(path, resolved)?;
        let parts = path.join(PARTS);
        fs::create_dir_all(&parts).map_err(|error| FileError::of_new_folder(&parts, error))?;
        for (name, bytes) in &resolved.files {
            partial::write(&path.join(name), bytes)?;
        }
        // The plan comes last: where it is, everything it names is.
        partial::write(&path.join(PLAN), text.as_bytes())?;
        Ok(Self::of(path, plan.clone(), &text))
    }

    /// A run whose plan cannot be written, such as on a full disk: it is flown and told of all the same.
    #[must_use]
    pub fn unwritten(path: &Path, plan: Plan) -> Self {
        let text = plan.text();
        Self::of(path, plan, &text)
    }

    fn of(path: &Path, plan: Plan, text: &str) -> Self {
        Self {
            path: path.to_owned(),
            plan_sha256: sha256(text.as_bytes()),
            bins: plan.bins().unwrap_or_default(),
            plan,
        }
    }

    /// Sees to it that a folder without a plan holds nothing that the run would replace: what a planning left that was
    /// killed may be there.
    ///
    /// # Errors
    /// [`FileError::Kept`] where it does.
    pub fn refuse_others(path: &Path, resolved: &Resolved) -> Result<(), FileError> {
        for entry in fs::read_dir(path).into_iter().flatten().flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            let own = |(file, bytes): &(String, Vec<u8>)| {
                *file == name && fs::read(entry.path()).is_ok_and(|there| there == *bytes)
            };
            if name != PARTS && !name.starts_with('.') && !resolved.files.iter().any(own) {
                return Err(FileError::Kept {
                    path: path.to_owned(),
                    why: "it holds other files already\n  help: name a new folder with --out",
                });
            }
        }
        Ok(())
    }

    /// Opens the folder of a run.
    ///
    /// # Errors
    /// [`ShardError`] where there is no plan, or none that this program can go on with.
    pub fn open(path: &Path) -> Result<Self, ShardError> {
        let file = path.join(PLAN);
        let text = read_bounded(&file).map_err(|error| FileError::of(&file, error))?;
        let refuse = |why: String| ShardError::Plan {
            path: file.clone(),
            why,
        };
        let text = String::from_utf8(text).map_err(|_| refuse("it is no text".to_owned()))?;
        let plan = Plan::read(&text).map_err(refuse)?;
        Ok(Self::of(path, plan, &text))
    }

    /// The folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The plan.
    #[must_use]
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Hash of the plan.
    #[must_use]
    pub fn plan_sha256(&self) -> &str {
        &self.plan_sha256
    }

    /// The bins of each quantity at each aim.
    #[must_use]
    pub fn bins(&self) -> &[Vec<Bins>] {
        &self.bins
    }

    /// How many shards there are.
    #[must_use]
    pub fn shards(&self) -> u64 {
        self.plan.shards.len() as u64
    }

    /// Loads the scenario as it was planned.
    ///
    /// # Errors
    /// [`ShardError`] where a file of the plan is gone, or is not the one that was planned with.
    pub fn case(&self) -> Result<Case, ShardError> {
        let refuse = |path: PathBuf, why: &str| ShardError::Plan {
            path,
            why: why.to_owned(),
        };
        for file in &self.plan.files {
            let path = self.path.join(&file.name);
            let (_, hash) = size_and_sha256(&path).map_err(|error| FileError::of(&path, error))?;
            if hash != file.sha256 {
                return Err(refuse(
                    path,
                    "it is not the file that the run was planned with",
                ));
            }
        }
        let case = self.adopt(Case::load(&self.path.join("scenario.yaml"), &[])?);
        let world = sha256(case.world.text().unwrap_or_default().as_bytes());
        let whole = scenario_sha256(&self.plan.files, &world);
        if world != self.plan.world_sha256 || whole != self.plan.scenario_sha256 {
            return Err(refuse(
                self.path.join(PLAN),
                "it was planned with another world file than this program has",
            ));
        }
        let same =
            limit_keys(&case) == self.plan.limits && case.scenario.ask.seed == self.plan.seed;
        if !same {
            return Err(refuse(
                self.path.join(PLAN),
                "its limits or its seed are not those of its scenario",
            ));
        }
        Ok(case)
    }

    /// A case at the tolerance that was chosen when the run was planned.
    #[must_use]
    pub fn adopt(&self, mut case: Case) -> Case {
        case.precision.tolerance = self.plan.tolerance.0;
        case.problem.settings_mut().tolerance = self.plan.tolerance.0;
        case
    }

    fn name(index: u64) -> String {
        format!("part-{index:05}.json")
    }

    /// Where the part of a shard is.
    #[must_use]
    pub fn part(&self, index: u64) -> PathBuf {
        self.path.join(PARTS).join(Self::name(index))
    }

    fn head(&self, index: u64) -> Result<PartHead, ShardError> {
        let head = self.plan.head(&self.plan_sha256, index);
        head.ok_or_else(|| ShardError::NoShard {
            path: self.path.clone(),
            index,
            of: self.shards(),
        })
    }

    /// The part of a shard, or why it does not count.
    fn look(&self, index: u64) -> Result<Vec<Summary>, Fault> {
        let bytes = match read_bounded(&self.part(index)) {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                return Err(Fault::Missing);
            }
            Err(error) => return Err(Fault::Unreadable(plain_reason(&error))),
        };
        let head = self
            .plan
            .head(&self.plan_sha256, index)
            .ok_or(Fault::Stray)?;
        decode(&bytes, &head, (self.plan.limits.len(), &self.bins))
    }

    /// The shards without a sound part, and what is wrong with each.
    #[must_use]
    pub fn missing(&self) -> Vec<(u64, Fault)> {
        let look = |index| Some((index, self.look(index).err()?));
        (0..self.shards()).filter_map(look).collect()
    }

    /// Flies a shard, unless its part is there and sound, and keeps what it counted.
    ///
    /// # Errors
    /// [`ShardError`]: no such shard, a cancelled run (nothing of the shard is kept), a folder that cannot be written.
    pub fn fly(&self, case: &Case, index: u64, progress: &Progress) -> Result<Flown, ShardError> {
        self.head(index)?;
        let Err(fault) = self.look(index) else {
            return Ok(Flown::Kept);
        };
        let summaries = self.count(case, index, progress)?;
        self.keep(index, &summaries)?;
        log::info!("shard {index} of {}: flown ({fault})", self.shards());
        Ok(Flown::Made(fault))
    }

    /// Flies a shard and gives what it counted.
    ///
    /// # Errors
    /// [`ShardError`]: no such shard, or a cancelled run.
    pub fn count(
        &self,
        case: &Case,
        index: u64,
        progress: &Progress,
    ) -> Result<Vec<Summary>, ShardError> {
        let head = self.head(index)?;
        let fleet = Fleet::new(&case.problem, progress);
        let aims = self.plan.aims_m();
        Ok(fly_shard(
            &fleet,
            (&aims, &self.bins),
            head.first..head.end,
        )?)
    }

    /// Keeps what a shard counted as its part.
    ///
    /// # Errors
    /// [`ShardError`]: no such shard, or a folder that cannot be written.
    pub fn keep(&self, index: u64, summaries: &[Summary]) -> Result<(), ShardError> {
        let text = encode(self.head(index)?, summaries);
        Ok(partial::write(&self.part(index), text.as_bytes())?)
    }

    /// The sum of all parts, an aim a summary; shards that are `counted` stand for themselves.
    ///
    /// # Errors
    /// [`ShardError::Parts`] naming every part that is missing or not sound, and every file that is no part.
    pub fn merge(&self, counted: &Counted) -> Result<Vec<Summary>, ShardError> {
        let limits = self.plan.limits.len();
        let mut whole: Vec<Summary> = self.bins.iter().map(|b| Summary::new(limits, b)).collect();
        merge_into(&mut whole, &counted.sum);
        let mut faults = Vec::new();
        for index in 0..self.shards() {
            if counted.shards.contains(&index) {
                continue;
            }
            match self.look(index) {
                Ok(part) => merge_into(&mut whole, &part),
                Err(fault) => faults.push((Self::name(index), fault)),
            }
        }
        faults.extend(self.strays()?);
        if faults.is_empty() {
            return Ok(whole);
        }
        Err(ShardError::Parts {
            path: self.path.clone(),
            faults,
        })
    }

    /// Files among the parts that are none of them. Those that begin with a dot are being written, or were
    /// when their writer was killed.
    fn strays(&self) -> Result<Vec<(String, Fault)>, ShardError> {
        let parts = self.path.join(PARTS);
        let Ok(entries) = fs::read_dir(&parts) else {
            return Ok(Vec::new());
        };
        let mut strays = Vec::new();
        for entry in entries {
            let entry = entry.map_err(|error| FileError::of(&parts, error))?;
            let name = entry.file_name().to_string_lossy().into_owned();
            let number = name
                .strip_prefix("part-")
                .and_then(|rest| rest.strip_suffix(".json"));
            let index = number.and_then(|number| number.parse().ok());
            let known =
                index.is_some_and(|index| index < self.shards() && name == Self::name(index));
            if known || name.starts_with('.') {
                continue;
            }
            let head = self.plan.head(&self.plan_sha256, 0).ok_or(Fault::Stray);
            let holds = head.and_then(|head| {
                let bytes = read_bounded(&entry.path()).map_err(|_| Fault::Stray)?;
                decode(&bytes, &head, (self.plan.limits.len(), &self.bins))
            });
            let fault = match holds {
                Ok(_) => Fault::Doubled(0),
                Err(Fault::Doubled(index)) if index < self.shards() => Fault::Doubled(index),
                Err(_) => Fault::Stray,
            };
            strays.push((name, fault));
        }
        strays.sort_by(|a, b| a.0.cmp(&b.0));
        Ok(strays)
    }

    /// SHA-256 over the merged content: what was asked, the aims, the bins and all counts; neither how the run
    /// was cut nor when or where it was flown.
    #[must_use]
    pub fn digest(&self, whole: &[Summary]) -> String {
        let plan = &self.plan;
        let content = json!({
            "schema": SCHEMA,
            "program": PROGRAM,
            "scenario_sha256": plan.scenario_sha256,
            "seed": plan.seed,
            "samples": plan.samples,
            "aims_m": plan.aims_m,
            "bins": plan.bins,
            "aims": whole.iter().map(AimCounts::of).collect::<Vec<_>>(),
        });
        sha256(content.to_string().as_bytes())
    }

    /// Removes what dead writers left half-written among the parts.
    pub fn tidy(&self) {
        partial::tidy(&self.path.join(PARTS), 0);
    }
}
