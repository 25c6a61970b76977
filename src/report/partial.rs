//! A file that appears under its name only when it is complete: written beside, synced, renamed.
//! What is given up half-way leaves nothing behind.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{SystemTime, UNIX_EPOCH};

use super::error::FileError;

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
    /// Starts a file that will be called `target`.
    pub(super) fn create(target: &Path) -> Result<Self, FileError> {
        static NUMBER: AtomicU64 = AtomicU64::new(0);
        let name = target.file_name().unwrap_or_default().to_string_lossy();
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        // Machines that share a folder may have processes of one number: the clock tells them apart.
        let moment = SystemTime::now().duration_since(UNIX_EPOCH);
        let moment = moment.map_or(0, |moment| moment.as_nanos());
        let process = std::process::id();
        let beside = target.with_file_name(format!(".{name}.{process}-{number}-{moment}.partial"));
        let file = File::create(&beside).map_err(|error| FileError::of(target, error))?;
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

    /// Gives the finished file its name.
    pub(super) fn commit(&mut self) -> Result<(), FileError> {
        let finish = |writer: BufWriter<File>| {
            let file = writer
                .into_inner()
                .map_err(io::IntoInnerError::into_error)?;
            file.sync_all()?;
            drop(file);
            fs::rename(&self.beside, &self.target)
        };
        let Some(writer) = self.writer.take() else {
            return Ok(());
        };
        finish(writer).map_err(|error| {
            // Best effort: the error that matters is the first one.
            let _ = fs::remove_file(&self.beside);
            FileError::of(&self.target, error)
        })?;
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
        }
    }
}

/// Removes what killed writers left in a folder beside files whose names begin so; for a run that is complete.
pub(super) fn tidy(folder: &Path, start: &str) {
    let start = format!(".{start}");
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if name.starts_with(&start) && name.ends_with(".partial") {
            // One that cannot be removed does no harm.
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// Writes a whole file at once.
pub(super) fn write(target: &Path, content: &[u8]) -> Result<(), FileError> {
    let mut file = PartialFile::create(target)?;
    file.write_all(content)
        .map_err(|error| FileError::of(target, error))?;
    file.commit()
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
        fs::write(folder.join(".note.txt.1-2-3.partial"), b"left").unwrap();
        tidy(&folder, "other");
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 2);
        tidy(&folder, "note");
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 1);
        fs::remove_dir_all(&folder).unwrap();
    }
}
