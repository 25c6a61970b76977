//! A finished run, read back from its folder: what its manifest lists is what is there, and its summary, scenario and
//! rows agree. What the run says is left to others.

use super::folder::{MANIFEST, size_and_sha256};
use super::shard_run::PLAN;
use super::table::{Column, Values, read_parquet};
use super::whole;
use crate::ensemble::interval::Interval;
use crate::ensemble::luck::Block;
use crate::ensemble::quantile::Estimate;
use crate::numeric::counts::real;
use crate::pass::Ending;
use crate::scenario::document::Document;
use crate::scenario::visible::{plain_reason, visible};
use crate::study::compare::{Flown, QUANTITIES, Told};
use crate::study::outcome::Quantity;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The studies whose runs can be read back.
const STUDIES: [&str; 2] = ["band", "run"];
/// Largest manifest or summary that is read, bytes.
const LARGEST: u64 = 1 << 26;
/// Most rows that are read: a gigabyte of memory or two.
const MOST_ROWS: u64 = 20_000_000;
/// The quantities that are read of each sample.
pub(super) const READ: [Quantity; QUANTITIES] = [
    Quantity::PeakDeceleration,
    Quantity::PeakHeatFlux,
    Quantity::HeatLoad,
];

/// Why a run cannot be read back.
#[derive(Debug, thiserror::Error)]
#[error("{message}\n  help: {help}")]
pub struct FinishedError {
    message: String,
    help: String,
    /// Whether another folder was meant to be named; else its files cannot be read or do not agree.
    pub is_other: bool,
}

impl FinishedError {
    pub(super) fn other(message: String, help: impl Into<String>) -> Self {
        Self {
            message,
            help: help.into(),
            is_other: true,
        }
    }

    pub(super) fn broken(path: &Path, what: &str) -> Self {
        Self {
            message: format!("{} {what}", path.display()),
            help: "run the study again: the command is in its manifest".to_owned(),
            is_other: false,
        }
    }
}

/// A finished run.
#[derive(Debug)]
pub struct Finished {
    /// Its folder as it was named.
    pub folder: PathBuf,
    /// `manifest.json`.
    pub manifest: Value,
    /// `summary.json`.
    pub summary: Value,
    /// The scenario as run.
    pub scenario: Document,
    /// What it tells of the aim to take.
    pub told: Told,
    /// What the samples of the search did at each aim, by the aim in mm; empty where only the aim to take was kept.
    pub search: BTreeMap<i64, Vec<Flown>>,
}

impl Finished {
    /// Reads a run of `band`, `run` or `merge`.
    ///
    /// # Errors
    /// [`FinishedError`]: the folder is none of a finished run of these, or its files do not agree.
    pub fn read(folder: &Path) -> Result<Self, FinishedError> {
        let manifest = match bytes(&folder.join(MANIFEST)) {
            Ok(text) => json(&folder.join(MANIFEST), &text)?,
            Err(error) => return Err(no_run(folder).unwrap_or(error)),
        };
        let study = manifest["study"].as_str().unwrap_or("unknown");
        if !STUDIES.contains(&study) {
            let message = format!("{} is a run of `{}`", folder.display(), visible(study));
            let help = format!("runs of {} can be compared", STUDIES.join(" and "));
            return Err(FinishedError::other(message, help));
        }
        let path = folder.join("summary.json");
        let text = listed(&manifest, &path).and_then(|()| bytes(&path));
        let text = text.map_err(|error| no_run(folder).unwrap_or(error))?;
        let summary = json(&path, &text)?;
        let path = folder.join("scenario.yaml");
        listed(&manifest, &path)?;
        let read = Document::read(&path);
        let scenario = read
            .map_err(|error| FinishedError::broken(&path, &format!("is no scenario: {error}")))?;
        let mut run = Self {
            told: told(&folder.join("summary.json"), &summary)?,
            folder: folder.to_owned(),
            manifest,
            summary,
            scenario,
            search: BTreeMap::new(),
        };
        run.take_rows()?;
        Ok(run)
    }

    /// The hash of its summary: which run it is.
    #[must_use]
    pub fn sha256(&self) -> &str {
        let found = entry(&self.manifest, "summary.json");
        found
            .and_then(|entry| entry["sha256"].as_str())
            .unwrap_or_default()
    }

    /// The aim to take, m; `None` where no sample holds at any.
    #[must_use]
    pub fn aim_m(&self) -> Option<f64> {
        Some(self.summary["recommended_periapsis_km"].as_f64()? * 1e3)
    }

    /// Reads the rows, where they were kept, and holds them against the summary.
    fn take_rows(&mut self) -> Result<(), FinishedError> {
        let path = self.folder.join("samples.parquet");
        if entry(&self.manifest, "samples.parquet").is_none() {
            return Ok(());
        }
        listed(&self.manifest, &path)?;
        let unfit = |what: &str| FinishedError::broken(&path, what);
        let asked = self.told.samples.clone();
        let aims = self.summary["aims"].as_array().map_or(0, Vec::len);
        if (asked.end - asked.start).saturating_mul(aims as u64 + 1) > MOST_ROWS {
            log::warn!(
                "{} has too many rows to pair: its counts are compared",
                path.display()
            );
            return Ok(());
        }
        let wanted = |name: &str| {
            ["aim_periapsis_km", "sample", "ending"].contains(&name)
                || READ.iter().any(|quantity| quantity.key() == name)
                || name.starts_with("broken_")
        };
        let columns = read_parquet(&path, wanted)
            .map_err(|error| unfit(&format!("does not read: {error}")))?;
        let rows = rows(&columns).ok_or_else(|| unfit("lacks columns that `band` writes"))?;
        let aim = self.aim_m().map(millimetres);
        let mut broken: Vec<u64> = Vec::new();
        for (aim_mm, flown, limits) in rows {
            // Where nothing is uncertain the one sample of the search tells of the aim too.
            let tells = asked.contains(&flown.sample) && aim.is_none_or(|aim| aim == aim_mm);
            if tells {
                broken.resize(limits.len(), 0);
                broken
                    .iter_mut()
                    .zip(&limits)
                    .for_each(|(count, &broke)| *count += u64::from(broke));
                self.told.flown.push(flown);
            }
            if flown.sample < Block::SECOND {
                self.search.entry(aim_mm).or_default().push(flown);
            }
        }
        let numbers = |all: &mut Vec<Flown>| all.sort_by_key(|one| one.sample);
        self.search.values_mut().for_each(numbers);
        numbers(&mut self.told.flown);
        let flown = &self.told.flown;
        if flown.iter().map(|one| one.sample).ne(asked) {
            return Err(unfit(
                "has other samples than those that its summary tells of",
            ));
        }
        let held = flown.iter().filter(|one| one.held).count() as u64;
        let limits = self.summary["limits"].as_array().into_iter().flatten();
        let counts = limits.map(|limit| limit["broken"].as_u64());
        // Of rare accidents the probability is no count.
        let uncounted = self.told.own.is_none() && held != self.told.held;
        if uncounted || !broken.into_iter().map(Some).eq(counts) {
            return Err(unfit("has other counts than its summary"));
        }
        Ok(())
    }
}

/// An altitude, m, in whole millimetres: what is written in km is read back to less.
#[expect(
    clippy::cast_possible_truncation,
    reason = "the cast saturates, and no aim is so far"
)]
fn millimetres(m: f64) -> i64 {
    (m * 1e3).round() as i64
}

#[expect(clippy::cast_precision_loss, reason = "no aim is so far")]
pub(super) fn metres(mm: i64) -> f64 {
    mm as f64 / 1e3
}

/// Aim, what was flown, and which limits it broke.
type Row = (i64, Flown, Vec<bool>);

fn rows(columns: &[Column]) -> Option<Vec<Row>> {
    let find = |name: &str| columns.iter().find(|column| column.name == name);
    let numbers = |name: &str| match &find(name)?.values {
        Values::MaybeNumbers(values) => Some(values),
        _ => None,
    };
    let whole = |column: &Column| match &column.values {
        Values::Integers(values) => Some(values.clone()),
        _ => None,
    };
    let aims = numbers("aim_periapsis_km")?;
    let samples = whole(find("sample")?)?;
    let Values::Texts(endings) = &find("ending")?.values else {
        return None;
    };
    let values = [
        numbers(READ[0].key())?,
        numbers(READ[1].key())?,
        numbers(READ[2].key())?,
    ];
    let broken = columns
        .iter()
        .filter(|column| column.name.starts_with("broken_"));
    let broken: Vec<Vec<i64>> = broken.map(whole).collect::<Option<_>>()?;
    let row = |i: usize| {
        let limits: Vec<bool> = broken.iter().map(|limit| limit[i] != 0).collect();
        let without = [Ending::Failed, Ending::NoApproach].map(Ending::word);
        let flown = Flown {
            sample: u64::try_from(samples[i]).ok()?,
            held: !without.contains(&endings[i].as_str()) && !limits.contains(&true),
            values: values.map(|of| of[i]),
        };
        Some((millimetres(aims[i]? * 1e3), flown, limits))
    };
    (0..samples.len()).map(row).collect()
}

/// What a summary tells of the aim to take, without rows.
fn told(path: &Path, summary: &Value) -> Result<Told, FinishedError> {
    let number = |pointer: &str| {
        let found = summary.pointer(pointer).and_then(Value::as_u64);
        found.ok_or_else(|| FinishedError::broken(path, &format!("has no count at `{pointer}`")))
    };
    let share = |name: &str| {
        let pointer = format!("/probability_at_recommended/{name}");
        let found = summary.pointer(&pointer).and_then(Value::as_f64);
        let found = found.filter(|share| (0.0..=1.0).contains(share));
        found.ok_or_else(|| {
            FinishedError::broken(path, &format!("has no probability at `{pointer}`"))
        })
    };
    let (first, count) = (
        number("/told_by_samples/first")?,
        number("/told_by_samples/count")?,
    );
    let confidence = summary["confidence"].as_f64().unwrap_or_default();
    if !(0.0 < confidence && confidence < 1.0) {
        return Err(FinishedError::broken(
            path,
            "has no confidence between 0 and 1",
        ));
    }
    let own = Interval {
        estimate: share("estimate")?,
        lower: share("lower")?,
        upper: share("upper")?,
    };
    let end = first.checked_add(count).filter(|_| count > 0);
    let end = end.ok_or_else(|| FinishedError::broken(path, "tells of no samples"))?;
    let rare = !summary["rare_accidents"].is_null();
    let events = own.estimate * real(count);
    let held = whole::count(events.round(), usize::MAX) as u64;
    if !rare && (events - real(held)).abs() > 1e-3 {
        return Err(FinishedError::broken(
            path,
            "has a probability that is no count of its samples",
        ));
    }
    let quantile = |quantity: Quantity, share: &str| {
        let of = &summary["at_recommended"][quantity.key()][share];
        Some(Estimate {
            value: of["value"].as_f64()?,
            lower: of["lower"].as_f64(),
            upper: of["upper"].as_f64(),
        })
    };
    Ok(Told {
        seed: number("/seed")?,
        samples: first..end,
        held,
        own: (rare || own.lower == own.upper).then_some(own),
        flown: Vec::new(),
        quantiles: READ.map(|quantity| quantile(quantity, "p50").zip(quantile(quantity, "p95"))),
    })
}

/// The whole text of a small file; what is no file is not opened.
fn bytes(path: &Path) -> Result<Vec<u8>, FinishedError> {
    let unread = |error: std::io::Error| {
        FinishedError::broken(path, &format!("cannot be read: {}", plain_reason(&error)))
    };
    let found = std::fs::metadata(path).map_err(unread)?;
    if !found.is_file() || found.len() > LARGEST {
        return Err(FinishedError::broken(
            path,
            "is no file that this program writes",
        ));
    }
    std::fs::read(path).map_err(unread)
}

fn json(path: &Path, text: &[u8]) -> Result<Value, FinishedError> {
    serde_json::from_slice(text)
        .map_err(|error| FinishedError::broken(path, &format!("is no whole JSON: {error}")))
}

/// What a manifest has of a file.
fn entry<'m>(manifest: &'m Value, name: &str) -> Option<&'m Value> {
    let files = manifest["files"].as_array()?;
    files.iter().find(|file| file["name"] == name)
}

/// Whether a file is there as the manifest beside it lists it.
fn listed(manifest: &Value, path: &Path) -> Result<(), FinishedError> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let Some(entry) = entry(manifest, &name) else {
        return Err(FinishedError::broken(path, "is not listed in its manifest"));
    };
    if !path.is_file() {
        return Err(FinishedError::broken(
            path,
            "is listed in its manifest, but not there",
        ));
    }
    let found = size_and_sha256(path);
    let found = found.map_err(|error| {
        FinishedError::broken(path, &format!("cannot be read: {}", plain_reason(&error)))
    })?;
    if entry["sha256"] == found.1 {
        return Ok(());
    }
    Err(FinishedError::broken(
        path,
        "is not as its manifest lists it: it was cut, changed, or is of another run",
    ))
}

/// What a folder is that is none of a finished run; `None` where it looks like one.
fn no_run(folder: &Path) -> Option<FinishedError> {
    let shown = folder.display();
    let inside = |study: &&'static str| folder.join(study).join(MANIFEST).is_file();
    let (what, help) = if !folder.exists() {
        (
            format!("{shown} does not exist"),
            "name the folder of a finished run, as in out/my-arrival/band".to_owned(),
        )
    } else if !folder.is_dir() {
        (
            format!("{shown} is no folder"),
            "name the folder of a finished run, as in out/my-arrival/band".to_owned(),
        )
    } else if folder.join("partial.json").exists() {
        (
            format!("{shown} is of a run that was stopped"),
            "the command that it was started with goes on where it was".to_owned(),
        )
    } else if folder.join(PLAN).exists() {
        (
            format!("{shown} is of a run whose parts are not merged"),
            format!(
                "`periband missing {shown}` tells what is missing, `periband merge {shown}` puts the parts together"
            ),
        )
    } else if folder.join(MANIFEST).exists() {
        return None;
    } else if folder.join("summary.json").exists() {
        (
            format!("{shown} is of a run that is not finished: it has no {MANIFEST}"),
            "let the run end, or start it again".to_owned(),
        )
    } else {
        let help = STUDIES.into_iter().find(inside).map_or_else(
            || "name the folder of a finished run, as in out/my-arrival/band; one that is not finished has no manifest yet".to_owned(),
            |study| format!("did you mean {}?", folder.join(study).display()),
        );
        (format!("{shown} holds no finished run"), help)
    };
    Some(FinishedError::other(what, help))
}
