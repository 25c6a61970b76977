//! The folder of a run, `out/<scenario>/<study>/`: files that appear whole or not at all,
//! and a manifest that says what they are and how to get them again.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::error::{FileError, ReportError};
use super::figure::Figure;
use super::page::Page;
use super::partial;
use crate::ensemble::precision::Precision;

/// Name of the manifest.
pub const MANIFEST: &str = "manifest.json";

/// What the manifest says about a run, apart from its files and its time.
#[derive(Debug, Clone, Default)]
pub struct RunFacts {
    /// The seed of the draws.
    pub seed: u64,
    /// SHA-256 of the scenario as run, in hexadecimal ([`sha256`]).
    pub scenario_sha256: String,
    /// Data that went in, such as the world: name and SHA-256.
    pub data: Vec<(String, String)>,
    /// How the air is known: its profile, and each part of its spread.
    pub air: Value,
    /// The command that runs it again.
    pub command: String,
    /// How tightly passes were integrated, where any were flown.
    pub precision: Option<Precision>,
}

/// The folder of one run, being filled.
#[derive(Debug)]
pub struct RunFolder {
    path: PathBuf,
    scenario: String,
    study: String,
    started: SystemTime,
    /// Size and SHA-256 by name.
    files: BTreeMap<String, (u64, String)>,
}

impl RunFolder {
    /// Makes the folder (and those above it) under `base`; files of an earlier run there are replaced as they are written.
    ///
    /// # Errors
    /// [`FileError`] when a folder cannot be made or written.
    pub fn create(base: &Path, scenario: &str, study: &str) -> Result<Self, FileError> {
        let path = base.join(slug(scenario)).join(slug(study));
        Self::at(path, scenario, study)
    }

    /// As [`RunFolder::create`], at a path that is given.
    ///
    /// # Errors
    /// [`FileError`] when a folder cannot be made or written.
    pub fn at(path: PathBuf, scenario: &str, study: &str) -> Result<Self, FileError> {
        let (scenario, study) = (slug(scenario), slug(study));
        fs::create_dir_all(&path).map_err(|error| FileError::of_new_folder(&path, error))?;
        if !path.is_dir() {
            return Err(FileError::of(
                &path,
                std::io::ErrorKind::NotADirectory.into(),
            ));
        }
        // A manifest that described an earlier run would be wrong until this one is finished.
        match fs::remove_file(path.join(MANIFEST)) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                return Err(FileError::of(&path.join(MANIFEST), error));
            }
            _ => {}
        }
        Ok(Self {
            path,
            scenario,
            study,
            started: SystemTime::now(),
            files: BTreeMap::new(),
        })
    }

    /// Where the folder is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Where a file of this name goes; anything that would lead out of the folder is taken out of the name.
    #[must_use]
    pub fn file(&self, name: &str) -> PathBuf {
        self.path.join(slug(name))
    }

    /// Removes a file that an earlier run left; one that is not there is no error.
    ///
    /// # Errors
    /// [`FileError`] when it is there and cannot be removed.
    pub fn forget(&mut self, name: &str) -> Result<(), FileError> {
        let path = self.file(name);
        match std::fs::remove_file(&path) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                Err(FileError::of(&path, error))
            }
            _ => Ok(()),
        }
    }

    /// Writes a whole file.
    ///
    /// # Errors
    /// [`FileError`] when it cannot be written.
    pub fn write(&mut self, name: &str, content: &[u8]) -> Result<(), FileError> {
        let path = self.file(name);
        partial::write(&path, content)?;
        log::debug!("wrote {name}, {} bytes", content.len());
        let facts = (content.len() as u64, sha256(content));
        self.files.insert(slug(name), facts);
        Ok(())
    }

    /// Writes a figure twice, as `name.svg` and `name.png`, and hands back the SVG for a page.
    ///
    /// # Errors
    /// [`ReportError`] when it cannot be drawn or written.
    pub fn write_figure(&mut self, name: &str, figure: &dyn Figure) -> Result<String, ReportError> {
        let svg = figure.svg()?;
        self.write(&format!("{name}.svg"), svg.as_bytes())?;
        self.write(&format!("{name}.png"), &figure.png()?)?;
        Ok(svg)
    }

    /// Writes a page as `report.html`.
    ///
    /// # Errors
    /// [`ReportError`] when it cannot be filled in or written.
    pub fn write_page(&mut self, page: &Page) -> Result<(), ReportError> {
        Ok(self.write("report.html", page.html()?.as_bytes())?)
    }

    /// Writes JSON with a line feed at its end; keys keep their order.
    ///
    /// # Errors
    /// [`FileError`] when it cannot be written.
    pub fn write_json(&mut self, name: &str, value: &Value) -> Result<(), FileError> {
        self.write(name, format!("{value:#}\n").as_bytes())
    }

    /// Takes a file into the manifest that was written to [`RunFolder::file`] by other means, such as a Parquet table.
    ///
    /// # Errors
    /// [`FileError`] when it cannot be read.
    pub fn note(&mut self, name: &str) -> Result<(), FileError> {
        let path = self.file(name);
        let facts = size_and_sha256(&path).map_err(|error| FileError::of(&path, error))?;
        self.files.insert(slug(name), facts);
        Ok(())
    }

    /// Writes the manifest and hands back the folder's path.
    ///
    /// All but its `clock` is the same for every run of the same scenario, seed and version.
    ///
    /// # Errors
    /// [`FileError`] when it cannot be written.
    pub fn finish(self, facts: &RunFacts) -> Result<PathBuf, FileError> {
        let finished = SystemTime::now();
        let files: Vec<Value> = self
            .files
            .iter()
            .map(|(name, (bytes, hash))| json!({ "name": name, "bytes": bytes, "sha256": hash }))
            .collect();
        let data: Vec<Value> = facts
            .data
            .iter()
            .map(|(name, hash)| json!({ "name": name, "sha256": hash }))
            .collect();
        let seconds = finished
            .duration_since(self.started)
            .unwrap_or(Duration::ZERO);
        let manifest = json!({
            "program": { "name": "periband", "version": env!("CARGO_PKG_VERSION") },
            "scenario": self.scenario,
            "study": self.study,
            "seed": facts.seed,
            "scenario_sha256": facts.scenario_sha256,
            "data": data,
            "air": facts.air,
            "command": facts.command,
            "integration": facts.precision.map(|precision| json!({
                "tolerance": precision.tolerance,
                "probe_passes": precision.passes,
                "probe_exit_speed_m_s": precision.exit_speed_m_s,
                "probe_peaks": precision.peaks,
                "held": precision.held,
            })),
            "files": files,
            "clock": {
                "started": utc(self.started),
                "finished": utc(finished),
                "seconds": (seconds.as_secs_f64() * 1e3).round() / 1e3,
            },
        });
        log::info!(
            "wrote {} files to {}",
            self.files.len() + 1,
            self.path.display()
        );
        let path = self.path.join(MANIFEST);
        partial::write(&path, format!("{manifest:#}\n").as_bytes())?;
        Ok(self.path)
    }
}

/// The SHA-256 of some bytes, in hexadecimal.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

pub(super) fn size_and_sha256(path: &Path) -> std::io::Result<(u64, String)> {
    let mut file = File::open(path)?;
    let mut hasher = Sha256::new();
    let mut block = vec![0; 1 << 16];
    let mut size = 0;
    loop {
        let read = file.read(&mut block)?;
        if read == 0 {
            return Ok((size, hexadecimal(&hasher.finalize())));
        }
        hasher.update(&block[..read]);
        size += read as u64;
    }
}

fn hexadecimal(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// A name that is safe as that of one file or folder anywhere: letters, digits, `-`, `_` and inner dots, at most 80 of them.
#[must_use]
pub fn slug(name: &str) -> String {
    let safe = |c: char| {
        if c.is_alphanumeric() || "-_.".contains(c) {
            c
        } else {
            '-'
        }
    };
    let kept: String = name.chars().map(safe).take(80).collect();
    let mut parts: Vec<&str> = kept.split('-').filter(|part| !part.is_empty()).collect();
    parts.retain(|part| !part.chars().all(|c| c == '.'));
    match parts.join("-").trim_matches('.') {
        "" => "unnamed".into(),
        name => name.into(),
    }
}

/// A moment in universal time, `2031-05-04T03:02:01Z`.
pub(super) fn utc(moment: SystemTime) -> String {
    let seconds = moment
        .duration_since(UNIX_EPOCH)
        .unwrap_or(Duration::ZERO)
        .as_secs();
    let (days, in_day) = (seconds / 86_400, seconds % 86_400);
    // Years are counted from the first of March, so that the leap day comes last:
    // 146 097 days make 400 years, and month m of such a year starts at day (153 m + 2) / 5.
    let shifted = days + 719_468;
    let (era, day) = (shifted / 146_097, shifted % 146_097);
    let year = (day - day / 1_460 + day / 36_524 - day / 146_096) / 365;
    let day = day - (365 * year + year / 4 - year / 100);
    let month = (5 * day + 2) / 153;
    let day = day - (153 * month + 2) / 5 + 1;
    let year = 400 * era + year + month / 10;
    let month = if month < 10 { month + 3 } else { month - 9 };
    let (hour, minute, second) = (in_day / 3_600, in_day / 60 % 60, in_day % 60);
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}Z")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn base(name: &str) -> PathBuf {
        std::env::temp_dir().join(format!("periband-folder-{name}-{}", std::process::id()))
    }

    #[test]
    fn names_cannot_lead_out_of_the_folder() {
        let cases = [
            ("my-arrival", "my-arrival"),
            ("../../etc/passwd", "etc-passwd"),
            ("..", "unnamed"),
            ("a/b\\c:d", "a-b-c-d"),
            ("", "unnamed"),
            (".hidden", "hidden"),
            ("Ankunft am Mars é", "Ankunft-am-Mars-é"),
            ("summary.json", "summary.json"),
        ];
        for (name, safe) in cases {
            assert_eq!(slug(name), safe);
        }
        assert_eq!(slug(&"x".repeat(500)).len(), 80);
    }

    #[test]
    fn the_manifest_lists_what_was_written() {
        let base = base("manifest");
        let mut folder = RunFolder::create(&base, "mars", "band").unwrap();
        folder.write("scenario.yaml", b"title: x\n").unwrap();
        fs::write(folder.file("t.csv"), b"abc").unwrap();
        folder.note("t.csv").unwrap();
        let facts = RunFacts {
            seed: 42,
            ..RunFacts::default()
        };
        let path = folder.finish(&facts).unwrap();
        assert_eq!(path, base.join("mars").join("band"));
        let manifest: Value =
            serde_json::from_slice(&fs::read(path.join(MANIFEST)).unwrap()).unwrap();
        assert_eq!(manifest["seed"], 42);
        assert_eq!(manifest["files"][1]["name"], "t.csv");
        // FIPS 180-4, example "abc" (published).
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(manifest["files"][1]["sha256"], abc);
        assert_eq!(manifest["files"][1]["bytes"], 3);
        assert!(
            manifest["clock"]["started"]
                .as_str()
                .unwrap()
                .ends_with('Z')
        );
        fs::remove_dir_all(&base).unwrap();
    }

    #[test]
    fn a_file_in_the_way_is_named() {
        let base = base("in-the-way");
        fs::create_dir_all(&base).unwrap();
        fs::write(base.join("mars"), b"not a folder").unwrap();
        let error = RunFolder::create(&base, "mars", "band").unwrap_err();
        assert!(matches!(error, FileError::NotAFolder { .. }), "{error:?}");
        assert!(error.to_string().contains("mars"), "{error}");
        fs::remove_dir_all(&base).unwrap();
    }

    #[test]
    fn moments_are_written_in_universal_time() {
        let at = |seconds| utc(UNIX_EPOCH + Duration::from_secs(seconds));
        assert_eq!(at(0), "1970-01-01T00:00:00Z");
        // Leap day and turn of the century year 2000 (computed with GNU date).
        assert_eq!(at(951_782_400), "2000-02-29T00:00:00Z");
        assert_eq!(at(1_709_251_199), "2024-02-29T23:59:59Z");
        assert_eq!(at(4_102_444_800), "2100-01-01T00:00:00Z");
    }
}
