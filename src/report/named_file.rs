//! A file that the user named to be written: whole or not at all, and never in place of anything but its like.

use super::error::FileError;
use super::partial::PartialFile;
use crate::scenario::plain_file::too_long;
use std::fs::{self, File};
use std::io::{Error, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

/// Bytes of a file by which it is told whose it is.
const START: u64 = 1024;

/// Sees to it, before anything is flown, that a file may be written: there is none, or one whose start is `own`, that is,
/// one that this program wrote of the same kind.
///
/// # Errors
/// [`FileError::Kept`] where another file has the name; else [`FileError`] where none can be made.
pub fn check(path: &Path, own: fn(&str) -> bool) -> Result<(), FileError> {
    place(path, own).map(drop)
}

/// Writes a file, as [`check`] allows it.
///
/// # Errors
/// As [`check`], or [`FileError`] when it cannot be written; then nothing of it is left.
pub fn write(path: &Path, content: &[u8], own: fn(&str) -> bool) -> Result<(), FileError> {
    let there = place(path, own)?;
    let mut file = PartialFile::beside(there.as_deref().unwrap_or(path))?;
    file.write_all(content)
        .map_err(|error| FileError::of(path, error))?;
    match there {
        Some(_) => file.commit(),
        None => file.commit_new(),
    }
}

/// The file that is to be replaced, where one is there that may be.
fn place(path: &Path, own: fn(&str) -> bool) -> Result<Option<PathBuf>, FileError> {
    if let Some(why) = too_long(path) {
        return Err(FileError::of(
            path,
            Error::new(ErrorKind::InvalidFilename, why),
        ));
    }
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    if folder.is_some_and(|folder| !folder.is_dir()) {
        return Err(FileError::NoFolder {
            path: path.to_owned(),
        });
    }
    if path.symlink_metadata().is_err() {
        return Ok(None);
    }
    let kept = |why| FileError::Kept {
        path: path.to_owned(),
        why,
    };
    if !fs::metadata(path).is_ok_and(|facts| facts.is_file()) {
        return Err(kept("it is there already and no file; choose another name"));
    }
    let mut start = Vec::new();
    let read = File::open(path).and_then(|file| file.take(START).read_to_end(&mut start));
    if read.is_err() || !own(&String::from_utf8_lossy(&start)) {
        return Err(kept(
            "it is there already and stays as it is; choose another name",
        ));
    }
    let real = path.canonicalize();
    real.map(Some).map_err(|error| FileError::of(path, error))
}
