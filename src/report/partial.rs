//! A file that appears under its name only when it is complete: written beside, synced, renamed.
//! What is given up half-way leaves nothing behind.

use std::fs::{self, File, TryLockError};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{SystemTime, UNIX_EPOCH};

use super::error::FileError;
use super::writer;

/// A file being written. Dropping it without [`PartialFile::commit`] removes what was written.
#[derive(Debug)]
pub(super) struct PartialFile {
    writer: Option<BufWriter<File>>,
    beside: PathBuf,
    target: PathBuf,
    /// The first write that failed, for callers behind a library that hides why.
    fault: Option<io::ErrorKind>,
}

impl PartialFile {
    /// Starts a file that will be called `target`; a folder that vanished under a run is made again.
    pub(super) fn create(target: &Path) -> Result<Self, FileError> {
        Self::beside(target).or_else(|error| match (error, target.parent()) {
            (FileError::Missing { .. }, Some(folder)) => {
                fs::create_dir_all(folder)
                    .map_err(|error| FileError::of_new_folder(folder, error))?;
                Self::beside(target)
            }
            (error, _) => Err(error),
        })
    }

    /// Starts a file in a folder that is there.
    pub(super) fn beside(target: &Path) -> Result<Self, FileError> {
        static NUMBER: AtomicU64 = AtomicU64::new(0);
        let name = target.file_name().unwrap_or_default().to_string_lossy();
        let name: String = name.chars().take(60).collect();
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        // Machines that share a folder may have processes of one number: the clock tells them apart.
        let moment = SystemTime::now().duration_since(UNIX_EPOCH);
        let moment = moment.map_or(0, |moment| moment.as_nanos());
        let (process, host) = (std::process::id(), writer::host());
        let beside = target.with_file_name(format!(
            ".{name}.{process}-{number}-{moment}-{host}.partial"
        ));
        writer::begin(&beside);
        let file = File::create(&beside).map_err(|error| {
            writer::end(&beside);
            FileError::of(target, error)
        })?;
        // Held as long as it is written, where the file system has locks.
        let _ = file.try_lock();
        Ok(Self {
            writer: Some(BufWriter::with_capacity(1 << 16, file)),
            beside,
            target: target.to_owned(),
            fault: None,
        })
    }

    /// Why the first write that failed did, if one has.
    pub(super) fn fault(&self) -> Option<FileError> {
        let kind = self.fault?;
        Some(FileError::of(&self.target, kind.into()))
    }

    /// Gives the finished file its name, in place of a file that has it.
    pub(super) fn commit(&mut self) -> Result<(), FileError> {
        self.commit_by(|beside, target| fs::rename(beside, target))
    }

    /// Gives the finished file its name, unless a file has it.
    pub(super) fn commit_new(&mut self) -> Result<(), FileError> {
        self.commit_by(|beside, target| match fs::hard_link(beside, target) {
            Ok(()) => fs::remove_file(beside),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(error),
            // File systems without links; what comes in between is not seen.
            Err(_) if target.symlink_metadata().is_err() => fs::rename(beside, target),
            Err(_) => Err(io::ErrorKind::AlreadyExists.into()),
        })
    }

    fn commit_by(
        &mut self,
        name: impl FnOnce(&Path, &Path) -> io::Result<()>,
    ) -> Result<(), FileError> {
        let Some(writer) = self.writer.take() else {
            return Ok(());
        };
        let finished = writer
            .into_inner()
            .map_err(io::IntoInnerError::into_error)
            .and_then(|file| {
                file.sync_all()?;
                drop(file);
                name(&self.beside, &self.target)
            });
        if finished.is_err() {
            // Best effort: the error that matters is the first one.
            let _ = fs::remove_file(&self.beside);
        }
        writer::end(&self.beside);
        finished.map_err(|error| FileError::of(&self.target, error))?;
        // The new name itself lasts once the folder is synced; not every system can do that.
        if let Some(Ok(folder)) = self.target.parent().map(File::open) {
            let _ = folder.sync_all();
        }
        Ok(())
    }
}

impl Write for PartialFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = match &mut self.writer {
            Some(writer) => writer.write(bytes),
            None => Err(io::ErrorKind::BrokenPipe.into()),
        };
        self.noted(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        let flushed = match &mut self.writer {
            Some(writer) => writer.flush(),
            None => Ok(()),
        };
        self.noted(flushed)
    }
}

impl PartialFile {
    fn noted<T>(&mut self, result: io::Result<T>) -> io::Result<T> {
        if let Err(error) = &result {
            self.fault.get_or_insert(error.kind());
        }
        result
    }
}

impl Drop for PartialFile {
    fn drop(&mut self) {
        if self.writer.take().is_some() {
            // Nothing more can be done about a file that cannot be removed.
            let _ = fs::remove_file(&self.beside);
            writer::end(&self.beside);
        }
    }
}

/// Removes what dead writers left half-written in a folder and `deeper` levels of folders in it; what a living one has
/// in work stays.
pub(super) fn tidy(folder: &Path, deeper: usize) {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        match entry.file_type() {
            Ok(kind) if kind.is_dir() && deeper > 0 => tidy(&path, deeper - 1),
            Ok(kind) if kind.is_file() && is_left(&path) => {
                // One that cannot be removed does no harm.
                let _ = fs::remove_file(&path);
            }
            _ => {}
        }
    }
}

/// Whether a file is one that a writer began which is known to be gone.
fn is_left(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let stem = name
        .strip_prefix('.')
        .and_then(|name| name.strip_suffix(".partial"));
    let Some((_, mark)) = stem.and_then(|stem| stem.rsplit_once('.')) else {
        return false;
    };
    let parts: Vec<&str> = mark.splitn(4, '-').collect();
    let Some(process) = parts.first().and_then(|process| process.parse().ok()) else {
        return false;
    };
    let written = path.metadata().and_then(|facts| facts.modified()).ok();
    let age = written.and_then(|written| written.elapsed().ok());
    let host = parts.get(3).copied().unwrap_or_default();
    writer::is_gone((process, host), age) && !is_held(path)
}

/// Whether another process writes the file.
fn is_held(path: &Path) -> bool {
    let Ok(file) = File::open(path) else {
        return false;
    };
    matches!(file.try_lock_shared(), Err(TryLockError::WouldBlock))
}

/// Writes a whole file at once; where its folder is removed meanwhile, once more.
pub(super) fn write(target: &Path, content: &[u8]) -> Result<(), FileError> {
    let once = || {
        let mut file = PartialFile::create(target)?;
        file.write_all(content)
            .map_err(|error| FileError::of(target, error))?;
        file.commit()
    };
    once().or_else(|error| match error {
        FileError::Missing { .. } => once(),
        other => Err(other),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_given_up_half_way_leaves_the_old_one() {
        let folder = std::env::temp_dir().join(format!("periband-partial-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        let target = folder.join("note.txt");
        write(&target, b"old").unwrap();
        let mut half = PartialFile::create(&target).unwrap();
        half.write_all(b"half of the n").unwrap();
        drop(half);
        assert_eq!(fs::read(&target).unwrap(), b"old");
        write(&target, b"new").unwrap();
        assert_eq!(fs::read(&target).unwrap(), b"new");
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 1);
        // Of a process that is gone, of one that runs, and of another machine.
        let (here, runs) = (writer::host(), std::process::id());
        let left = |process: u32, host: &str| {
            let path = folder.join(format!(".note.txt.{process}-2-3-{host}.partial"));
            fs::write(&path, b"left").unwrap();
            path
        };
        let (gone, alive, afar) = (
            left(u32::MAX - 1, here),
            left(runs, here),
            left(u32::MAX - 1, "another-one"),
        );
        let mine = folder.join(".mine.partial");
        fs::write(&mine, b"no writer's").unwrap();
        tidy(&folder, 0);
        assert_eq!(gone.exists(), !cfg!(target_os = "linux"));
        assert!(alive.exists() && afar.exists() && mine.exists());
        fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn a_new_file_never_takes_the_place_of_another() {
        let folder = std::env::temp_dir().join(format!("periband-new-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        let target = folder.join("mine.txt");
        for (content, taken) in [(b"first", true), (b"later", false)] {
            let mut file = PartialFile::beside(&target).unwrap();
            file.write_all(content).unwrap();
            assert_eq!(file.commit_new().is_ok(), taken);
        }
        assert_eq!(fs::read(&target).unwrap(), b"first");
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 1);
        assert!(PartialFile::beside(&folder.join("none/mine.txt")).is_err());
        fs::remove_dir_all(&folder).unwrap();
    }
}
