//! The lock of a run folder: one run writes there at a time, and a second one is told who does.
//!
//! The system gives the lock back when its holder ends, however it ends: what a dead run left hinders nobody.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{ErrorKind, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use super::error::FileError;
use super::folder::utc;
use super::{partial, writer};

/// Name of the lock in a folder.
const NAME: &str = ".in-use";
/// Levels of folders below that of a run in which its parts lie.
const PARTS_DEEP: usize = 2;

/// A run folder that is this run's alone until the lock is dropped.
#[derive(Debug)]
pub struct FolderLock {
    folder: PathBuf,
    file: File,
}

impl FolderLock {
    /// Makes the folder, takes it, and removes what dead runs left half-written there.
    ///
    /// # Errors
    /// [`FileError::InUse`] where another run writes there; else [`FileError`] when the folder cannot be made or written.
    pub fn take(folder: &Path) -> Result<Self, FileError> {
        let path = folder.join(NAME);
        let failed = |error| FileError::of(&path, error);
        loop {
            fs::create_dir_all(folder).map_err(|error| FileError::of_new_folder(folder, error))?;
            if folder.exists() && !folder.is_dir() {
                return Err(FileError::of(folder, ErrorKind::NotADirectory.into()));
            }
            let mut options = OpenOptions::new();
            let opened = options.read(true).write(true).create(true).truncate(false);
            let file = match opened.open(&path) {
                Ok(file) => file,
                // The folder went between two steps.
                Err(error) if error.kind() == ErrorKind::NotFound && !folder.exists() => continue,
                Err(error) => return Err(failed(error)),
            };
            match file.try_lock() {
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => {
                    return Err(FileError::InUse {
                        path: folder.to_owned(),
                        holder: holder(file),
                    });
                }
                Err(TryLockError::Error(error)) if error.kind() == ErrorKind::Unsupported => {
                    log::warn!(
                        "{}: the file system has no locks; a second run there at once would not be noticed",
                        folder.display()
                    );
                }
                Err(TryLockError::Error(error)) => return Err(failed(error)),
            }
            let mut lock = Self {
                folder: folder.to_owned(),
                file,
            };
            // The one before may have removed it just before it gave it back.
            if lock.is_there() {
                writer::begin(&path);
                lock.sign();
                partial::tidy(folder, PARTS_DEEP);
                return Ok(lock);
            }
        }
    }

    /// Takes the folder anew where it was removed meanwhile.
    ///
    /// # Errors
    /// As [`FolderLock::take`].
    pub fn confirm(&mut self) -> Result<(), FileError> {
        if !self.is_there() {
            *self = Self::take(&self.folder)?;
            // The one that was dropped took the note of the new one back.
            writer::begin(&self.folder.join(NAME));
        }
        Ok(())
    }

    /// Says who holds it; on a disk without room nobody is named.
    fn sign(&mut self) {
        let line = format!(
            "process {} on {} since {}\n",
            std::process::id(),
            writer::host(),
            utc(SystemTime::now())
        );
        let _ = self
            .file
            .set_len(0)
            .and_then(|()| self.file.write_all(line.as_bytes()));
    }

    /// Whether the file that is held is the one in the folder.
    #[cfg(unix)]
    fn is_there(&self) -> bool {
        use std::os::unix::fs::MetadataExt;
        let there = fs::metadata(self.folder.join(NAME));
        let held = self.file.metadata();
        there.is_ok_and(|there| {
            held.is_ok_and(|held| (there.dev(), there.ino()) == (held.dev(), held.ino()))
        })
    }

    /// Whether the file that is held is the one in the folder: elsewhere one that is open cannot be taken away.
    #[cfg(not(unix))]
    fn is_there(&self) -> bool {
        self.folder.join(NAME).exists()
    }
}

impl Drop for FolderLock {
    fn drop(&mut self) {
        let path = self.folder.join(NAME);
        if self.is_there() {
            // One that stays is taken by the next run.
            let _ = fs::remove_file(&path);
        }
        writer::end(&path);
    }
}

/// What the holder of a lock says of itself; it may be about to.
fn holder(mut file: File) -> String {
    for _ in 0..20 {
        let mut line = String::new();
        let read = file
            .seek(SeekFrom::Start(0))
            .and_then(|_| (&mut file).take(200).read_to_string(&mut line));
        let line = line.trim();
        if read.is_ok() && !line.is_empty() {
            return line.to_owned();
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    "a process that could not say which".to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_taken_by_one_at_a_time_and_given_back() {
        let folder = std::env::temp_dir().join(format!("periband-lock-{}", std::process::id()));
        let first = FolderLock::take(&folder).unwrap();
        let second = FolderLock::take(&folder).unwrap_err().to_string();
        let me = format!("process {} on {}", std::process::id(), writer::host());
        assert!(second.contains(&me) && second.contains("--out"), "{second}");
        drop(first);
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 0);
        // What a dead run left.
        fs::write(folder.join(NAME), "process 1 on elsewhere since never\n").unwrap();
        let mut third = FolderLock::take(&folder).unwrap();
        // Removed under its holder, and taken by another: the holder is told, and does not take it away.
        fs::remove_dir_all(&folder).unwrap();
        let other = FolderLock::take(&folder).unwrap();
        assert!(matches!(third.confirm(), Err(FileError::InUse { .. })));
        drop(third);
        assert!(other.is_there());
        fs::remove_dir_all(&folder).unwrap();
    }
}
