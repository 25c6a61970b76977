//! The plan of a run as a file: everything that its shards have in common, and which samples each flies.

use super::folder::sha256;
use super::seal::{Exact, PROGRAM, SCHEMA};
use super::shard_part::PartHead;
use crate::ensemble::histogram::Bins;
use crate::ensemble::precision::LADDER;
use crate::scenario::aerodynamics::LARGEST_TABLE;
use crate::scenario::document::Document;
use crate::scenario::message::InputError;
use crate::scenario::plain_file;
use crate::scenario::value::Value;
use crate::study::Case;
use crate::study::outcome::Quantity;
use crate::study::shards::{Design, Question, shard_range};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Most shards of a run.
pub const MOST_SHARDS: u64 = 100_000;
/// Passes of one shard, where no number of shards is asked for: a quarter of a minute on two cores.
const PASSES_A_SHARD: u64 = 2_000_000;

/// The plan of a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// Version of the form.
    pub schema: u32,
    /// The program that planned; none other may fly or merge.
    pub program: String,
    /// Title of the scenario.
    pub scenario: String,
    /// Hash of the resolved scenario with its data: of `files` and `world_sha256`.
    pub scenario_sha256: String,
    /// The scenario as resolved, and the data files it names, all in the run's folder.
    pub files: Vec<PlanFile>,
    /// Hash of the world file's text.
    pub world_sha256: String,
    /// Hash of what was asked: the same command finds its run again by it.
    pub question_sha256: String,
    /// Seed of the draws.
    pub seed: u64,
    /// Relative tolerance of a step of a pass.
    pub tolerance: Exact,
    /// Samples at each aim.
    pub samples: u64,
    /// Keys of the limits, in the order of all counts.
    pub limits: Vec<String>,
    /// Keys of the quantities, in the order of all histograms.
    pub quantities: Vec<String>,
    /// Whether the aims were asked for, rather than found about the band.
    pub aims_asked: bool,
    /// The aims, m.
    pub aims_m: Vec<Exact>,
    /// The aim to take, as far as the few passes of the planning know it, m.
    pub recommended_m: Exact,
    /// For each aim and quantity the lowest edge, the highest, and how many bins of one width lie between.
    pub bins: Vec<Vec<(Exact, Exact, u32)>>,
    /// First sample of each shard and the one after its last.
    pub shards: Vec<(u64, u64)>,
}

/// A file of a plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlanFile {
    /// Its name in the run's folder.
    pub name: String,
    /// Its hash.
    pub sha256: String,
}

/// The scenario of a case in one form, and the data files it names beside it.
#[derive(Debug, Clone)]
pub struct Resolved {
    /// Names and contents; the scenario comes first.
    pub files: Vec<(String, Vec<u8>)>,
    world_sha256: String,
}

impl Resolved {
    /// Resolves a case: what was set over the file is in the scenario, and what it names lies beside it.
    ///
    /// # Errors
    /// [`InputError`] where a file that the scenario names is gone.
    pub fn of(case: &Case) -> Result<Self, InputError> {
        let (document, data) = with_its_files(case)?;
        let text = document.resolved().into_bytes();
        let mut files = vec![("scenario.yaml".to_owned(), text)];
        files.extend(data);
        Ok(Self {
            files,
            world_sha256: sha256(case.world.text().unwrap_or_default().as_bytes()),
        })
    }

    fn listed(&self) -> Vec<PlanFile> {
        let listed = |(name, bytes): &(String, Vec<u8>)| PlanFile {
            name: name.clone(),
            sha256: sha256(bytes),
        };
        self.files.iter().map(listed).collect()
    }

    /// Hash of everything.
    #[must_use]
    pub fn sha256(&self) -> String {
        scenario_sha256(&self.listed(), &self.world_sha256)
    }

    /// Hash of a question about it.
    #[must_use]
    pub fn question_sha256(&self, question: &Question, shards: Option<u64>) -> String {
        let text = format!("{PROGRAM}\n{}\n{question:?}\n{shards:?}", self.sha256());
        sha256(text.as_bytes())
    }
}

pub(super) fn scenario_sha256(files: &[PlanFile], world_sha256: &str) -> String {
    let mut text = format!("world {world_sha256}\n");
    for file in files {
        text = format!("{text}{} {}\n", file.name, file.sha256);
    }
    sha256(text.as_bytes())
}

/// Keys and values of the coefficients' tables that name a file: those of one line.
fn tables(root: &Value) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut look = |key: String, ship: Option<&Value>| {
        let table = ship.and_then(|ship| ship.get("aerodynamics")?.get("table"));
        if let Some(Value::Text(written)) = table
            && !written.contains('\n')
        {
            found.push((format!("{key}.aerodynamics.table"), written.clone()));
        }
    };
    let ship = root.get("ship");
    look("ship".to_owned(), ship);
    if let Some(Value::Map(configurations)) = ship.and_then(|ship| ship.get("configurations")) {
        for (name, configuration) in configurations {
            look(format!("ship.configurations.{name}"), Some(configuration));
        }
    }
    found
}

/// Files by their names, with their contents.
pub(super) type NamedFiles = Vec<(String, Vec<u8>)>;

/// The scenario of a case so that it names the files it needs beside it, and those.
///
/// # Errors
/// [`InputError`] where a file that the scenario names is gone.
pub(super) fn with_its_files(case: &Case) -> Result<(Document, NamedFiles), InputError> {
    let scenario = &case.scenario;
    let mut document = scenario.document().clone();
    let mut data = NamedFiles::new();
    if scenario.world_path().is_some() {
        let world = case.world.text().unwrap_or_default();
        document.set("world", "./world.yaml")?;
        data.push(("world.yaml".to_owned(), world.as_bytes().to_vec()));
    }
    for (place, (key, written)) in tables(document.tree()).into_iter().enumerate() {
        let path = document.path_from_file(&written);
        let refuse = |why: &str| {
            let why = format!("the table `{}` cannot be read: {why}", path.display());
            scenario.error_at(&key, why)
        };
        let text = plain_file::read(&path, LARGEST_TABLE).map_err(|why| refuse(&why))?;
        let text = text.ok_or_else(|| refuse("it has grown too large"))?;
        let name = format!("table-{}.csv", place + 1);
        document.set(&key, &format!("./{name}"))?;
        data.push((name, text));
    }
    Ok((document, data))
}

/// The files that a case was read from, where they are files: its scenario, its world, its tables.
pub(super) fn inputs(case: &Case) -> Vec<PathBuf> {
    let document = case.scenario.document();
    let tables = tables(document.tree());
    let tables = tables
        .iter()
        .map(|(_, written)| document.path_from_file(written));
    let named = document.path().map(Path::to_path_buf).into_iter();
    named
        .chain(case.scenario.world_path())
        .chain(tables)
        .collect()
}

impl Plan {
    /// Puts a plan together; with no number of shards asked for, each flies about two million passes.
    #[must_use]
    pub fn new(
        case: &Case,
        resolved: &Resolved,
        (question, design): (&Question, &Design),
        asked_shards: Option<u64>,
    ) -> Self {
        let samples = question.samples;
        let passes = samples.saturating_mul(design.aims_m.len() as u64);
        let shards = asked_shards.unwrap_or_else(|| passes.div_ceil(PASSES_A_SHARD));
        let shards = shards.clamp(1, samples.clamp(1, MOST_SHARDS));
        let bins = |bins: &Bins| (Exact(bins.low()), Exact(bins.high()), bins.count());
        let range = |index| {
            let range = shard_range(samples, shards, index);
            (range.start, range.end)
        };
        Self {
            schema: SCHEMA,
            program: PROGRAM.to_owned(),
            scenario: case.scenario.title.clone(),
            scenario_sha256: resolved.sha256(),
            files: resolved.listed(),
            world_sha256: resolved.world_sha256.clone(),
            question_sha256: resolved.question_sha256(question, asked_shards),
            seed: case.scenario.ask.seed,
            tolerance: Exact(case.precision.tolerance),
            samples,
            limits: limit_keys(case),
            quantities: quantity_keys(),
            aims_asked: question.aims_m.is_some(),
            aims_m: design.aims_m.iter().copied().map(Exact).collect(),
            recommended_m: Exact(design.recommended_m),
            bins: design
                .bins
                .iter()
                .map(|aim| aim.iter().map(bins).collect())
                .collect(),
            shards: (0..shards).map(range).collect(),
        }
    }

    /// The file's text.
    ///
    /// # Panics
    /// Never: a plan is made of numbers and texts alone.
    #[must_use]
    pub fn text(&self) -> String {
        serde_json::to_string(self).expect("numbers and texts can be written") + "\n"
    }

    /// Reads the text of a plan.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn read(text: &str) -> Result<Self, String> {
        let value: serde_json::Value =
            serde_json::from_str(text).map_err(|error| error.to_string())?;
        let program = value.get("program").and_then(serde_json::Value::as_str);
        if let Some(program) = program.filter(|program| *program != PROGRAM) {
            return Err(format!(
                "it is of {program}, and this is {PROGRAM}: go on with that one, or plan anew"
            ));
        }
        let plan: Self = serde_json::from_value(value).map_err(|error| error.to_string())?;
        plan.check().map(|()| plan)
    }

    fn check(&self) -> Result<(), String> {
        let refuse = |why: &str| Err(why.to_owned());
        if self.schema != SCHEMA {
            return refuse("its form is of another version");
        }
        if !LADDER.contains(&self.tolerance.0) {
            return refuse("its tolerance is none that passes are flown at");
        }
        let mut next = 0;
        for &(first, end) in &self.shards {
            if first != next || end <= first {
                return refuse("its shards overlap, or leave a gap");
            }
            next = end;
        }
        if next == 0 || next != self.samples || self.shards.len() as u64 > MOST_SHARDS {
            return refuse("its shards do not make up its samples");
        }
        if self.quantities != quantity_keys() || self.bins.len() != self.aims_m.len() {
            return refuse("its bins fit neither its aims nor its quantities");
        }
        if self.aims_m.is_empty() || self.bins().is_none() {
            return refuse("it has no aims, or bins that are none");
        }
        let plain = |file: &PlanFile| super::folder::slug(&file.name) == file.name;
        if self.files.is_empty() || !self.files.iter().all(plain) {
            return refuse("it names files outside its folder");
        }
        Ok(())
    }

    /// The bins of each quantity at each aim; `None` where a row is none.
    #[must_use]
    pub fn bins(&self) -> Option<Vec<Vec<Bins>>> {
        let one =
            |&(Exact(low), Exact(high), count): &(Exact, Exact, u32)| Bins::new(low, high, count);
        let row = |row: &Vec<(Exact, Exact, u32)>| {
            let whole = row.len() == Quantity::ALL.len();
            whole.then(|| row.iter().map(one).collect::<Option<Vec<Bins>>>())?
        };
        self.bins.iter().map(row).collect()
    }

    /// The aims, m.
    #[must_use]
    pub fn aims_m(&self) -> Vec<f64> {
        self.aims_m.iter().map(|aim| aim.0).collect()
    }

    /// What a part says of itself; `None` for a shard that there is not.
    #[must_use]
    pub fn head(&self, plan_sha256: &str, index: u64) -> Option<PartHead> {
        let &(first, end) = self.shards.get(usize::try_from(index).ok()?)?;
        Some(PartHead {
            schema: SCHEMA,
            program: PROGRAM.to_owned(),
            plan_sha256: plan_sha256.to_owned(),
            index,
            first,
            end,
        })
    }
}

pub(super) fn limit_keys(case: &Case) -> Vec<String> {
    let entries = case.problem.limits().entries().iter();
    entries.map(|limit| limit.kind.numbered_key()).collect()
}

fn quantity_keys() -> Vec<String> {
    let keys = Quantity::ALL.iter();
    keys.map(|quantity| quantity.key().to_owned()).collect()
}
