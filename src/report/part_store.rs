//! A folder of parts: what a long run has done so far, a file each, so that the same command goes on from there.
//!
//! A file is named by the hash of all that its content depends on, the program itself included, appears whole or
//! not at all, and stands above a digest of its own ([`super::seal`]).

use super::error::FileError;
use super::folder::{sha256, size_and_sha256};
use super::partial;
use super::seal::{Fault, PROGRAM, SCHEMA, read_bounded, sealed, unsealed};
use crate::scenario::visible::plain_reason;
use serde_json::{Value, json};
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// A folder of parts.
#[derive(Debug)]
pub struct PartStore {
    folder: PathBuf,
    /// Hash of the running program: another build may answer otherwise. Empty where it cannot be read.
    program: String,
}

impl PartStore {
    /// The parts in a folder, which is made with the first of them.
    #[must_use]
    pub fn new(folder: &Path) -> Self {
        Self {
            folder: folder.to_owned(),
            program: program_sha256().unwrap_or_default(),
        }
    }

    /// The parts in a folder inside it, of all that depends on a text and the program.
    #[must_use]
    pub fn inside(self, depends_on: &str) -> Self {
        let name = &self.hash(depends_on)[..16];
        Self {
            folder: self.folder.join(name),
            ..self
        }
    }

    /// The folder.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    fn hash(&self, depends_on: &str) -> String {
        sha256(format!("{}\n{depends_on}", self.program).as_bytes())
    }

    /// Where the part of this kind is that depends on a text and the program.
    #[must_use]
    pub fn file(&self, kind: &str, depends_on: &str) -> PathBuf {
        let name = format!("{kind}-{}.json", self.hash(depends_on));
        self.folder.join(name)
    }

    /// The content of the part of this kind that depends on a text and the program.
    ///
    /// # Errors
    /// [`Fault`]: there is none, or it is not sound.
    pub fn find(&self, kind: &str, depends_on: &str) -> Result<Value, Fault> {
        let bytes = match read_bounded(&self.file(kind, depends_on)) {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == ErrorKind::NotFound => return Err(Fault::Missing),
            Err(error) => return Err(Fault::Unreadable(plain_reason(&error))),
        };
        let part = serde_json::from_str(unsealed(&bytes)?);
        let mut part: Value = part.map_err(|error| Fault::Malformed(error.to_string()))?;
        if part["head"] == self.head(kind, depends_on) {
            Ok(part["content"].take())
        } else {
            Err(Fault::Stray)
        }
    }

    /// Keeps a part, synced to the disk.
    ///
    /// # Errors
    /// [`FileError`] when the folder cannot be made or the file not be written.
    pub fn keep(&self, kind: &str, depends_on: &str, content: &Value) -> Result<(), FileError> {
        fs::create_dir_all(&self.folder)
            .map_err(|error| FileError::of_new_folder(&self.folder, error))?;
        let part = json!({ "head": self.head(kind, depends_on), "content": content });
        let text = sealed(&part.to_string());
        partial::write(&self.file(kind, depends_on), text.as_bytes())
    }

    fn head(&self, kind: &str, depends_on: &str) -> Value {
        json!({
            "schema": SCHEMA,
            "program": PROGRAM,
            "kind": kind,
            "depends_on_sha256": self.hash(depends_on),
        })
    }

    /// How many parts of a kind there are, sound or not.
    #[must_use]
    pub fn count(&self, kind: &str) -> usize {
        let start = format!("{kind}-");
        let entries = fs::read_dir(&self.folder).into_iter().flatten().flatten();
        let names = entries.map(|entry| entry.file_name().to_string_lossy().into_owned());
        names.filter(|name| name.starts_with(&start)).count()
    }
}

fn program_sha256() -> Option<String> {
    let (_, hash) = size_and_sha256(&std::env::current_exe().ok()?).ok()?;
    Some(hash)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_change_of_a_byte_and_every_other_part_is_a_fault() {
        let folder = std::env::temp_dir().join(format!("periband-parts-{}", std::process::id()));
        let store = PartStore::new(&folder);
        assert_eq!(store.find("aim", "x"), Err(Fault::Missing));
        let content = json!({ "counts": [3, 4] });
        store.keep("aim", "x", &content).unwrap();
        assert_eq!(store.find("aim", "x"), Ok(content.clone()));
        assert_eq!(store.find("aim", "y"), Err(Fault::Missing));
        assert_eq!((store.count("aim"), store.count("ai")), (1, 0));
        let file = store.file("aim", "x");
        let whole = fs::read(&file).unwrap();
        for at in 0..whole.len() {
            let mut flipped = whole.clone();
            flipped[at] ^= 1;
            fs::write(&file, &flipped).unwrap();
            assert!(store.find("aim", "x").is_err(), "byte {at}");
            fs::write(&file, &whole[..at]).unwrap();
            // Cut at the end of the line, it looks like a file whose digest is none.
            let at_line = whole[..at].last() == Some(&b'\n');
            let fault = if at_line {
                Fault::Damaged
            } else {
                Fault::CutShort
            };
            assert_eq!(store.find("aim", "x"), Err(fault), "{at} bytes");
        }
        // Sound in itself, but of something else.
        store.keep("aim", "y", &content).unwrap();
        fs::copy(store.file("aim", "y"), &file).unwrap();
        assert_eq!(store.find("aim", "x"), Err(Fault::Stray));
        fs::remove_dir_all(&folder).unwrap();
    }
}
