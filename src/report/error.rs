//! What can go wrong while a report is made, each message naming the file it is about.

use std::io;
use std::path::{Path, PathBuf};

use super::figure::FigureError;
use crate::scenario::message::InputError;
use crate::scenario::plain_file::shown;
use crate::scenario::visible::plain_reason;

/// Why a report could not be made or kept.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReportError {
    /// A file or folder could not be written or read.
    #[error(transparent)]
    File(#[from] FileError),
    /// A figure could not be drawn.
    #[error(transparent)]
    Figure(#[from] FigureError),
    /// Columns of one table differ in length.
    #[error("column `{column}` of {} has {found} values where {wanted} were expected", path.display())]
    UnevenColumns {
        /// The table.
        path: PathBuf,
        /// The column.
        column: String,
        /// Values it has.
        found: usize,
        /// Values the first column has.
        wanted: usize,
    },
    /// The table library refused the data.
    #[error("the table {} could not be written: {reason}", path.display())]
    Table {
        /// The table.
        path: PathBuf,
        /// The library's own words.
        reason: String,
    },
    /// A table could not be read back.
    #[error("the table {} could not be read: {reason}", path.display())]
    Unreadable {
        /// The table.
        path: PathBuf,
        /// The library's own words.
        reason: String,
    },
    /// A finished run could not be read back.
    #[error(transparent)]
    Finished(#[from] super::finished::FinishedError),
    /// The run was stopped before its rows were flown.
    #[error(transparent)]
    Stopped(#[from] crate::ensemble::Stopped),
    /// A file that the scenario names is gone.
    #[error(transparent)]
    Input(#[from] InputError),
    /// The page could not be put together.
    #[error("the page could not be put together")]
    Page(#[from] minijinja::Error),
}

/// Why a file or folder could not be used. Every message names the path.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FileError {
    /// Nothing is there.
    #[error("{} does not exist", path.display())]
    Missing {
        /// What was looked for.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A folder cannot be made.
    #[error("{} cannot be made: the system takes no new folder in {}", path.display(), inside.display())]
    NoNewFolder {
        /// What was to be made.
        path: PathBuf,
        /// The nearest folder above it that there is.
        inside: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// A file stands where a folder is needed.
    #[error("{} cannot be used: a file stands where a folder is needed", path.display())]
    NotAFolder {
        /// What was to be written.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Writing is not allowed there.
    #[error("{} cannot be written: no permission, or the disk is read-only", path.display())]
    NotWritable {
        /// What was to be written.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// No room is left.
    #[error("{} cannot be written: the disk or the quota is full", path.display())]
    DiskFull {
        /// What was to be written.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Another run writes there.
    #[error(
        "{} is in use: {holder} writes there\n  help: wait until it is done, or name another folder with --out",
        path.display()
    )]
    InUse {
        /// The folder.
        path: PathBuf,
        /// Who writes, in words.
        holder: String,
    },
    /// A file is to go into a folder that is not there.
    #[error("cannot write {}: its folder does not exist", path.display())]
    NoFolder {
        /// The file.
        path: PathBuf,
    },
    /// A file that is to be kept lies where a result goes.
    #[error("cannot write {}: {why}", path.display())]
    Kept {
        /// The file.
        path: PathBuf,
        /// Why, and what to do.
        why: &'static str,
    },
    /// Anything else.
    #[error("{} cannot be used: {}", path.display(), plain_reason(source))]
    Other {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

impl FileError {
    /// What an error of the system means for a folder that was to be made, with those above it.
    pub(super) fn of_new_folder(path: &Path, source: io::Error) -> Self {
        let above = path.ancestors().skip(1).find(|above| above.is_dir());
        // "Not found" is said of folders in which none can be made, such as those of the system's own tables.
        match (source.kind(), above) {
            (io::ErrorKind::NotFound, Some(inside)) => Self::NoNewFolder {
                path: shown(path).into(),
                inside: inside.to_owned(),
                source,
            },
            _ => Self::of(path, source),
        }
    }

    /// What an error of the system means for a path.
    pub(crate) fn of(path: &Path, source: io::Error) -> Self {
        use io::ErrorKind as Kind;
        let path: PathBuf = shown(path).into();
        match source.kind() {
            Kind::NotFound => Self::Missing { path, source },
            Kind::NotADirectory | Kind::AlreadyExists => Self::NotAFolder { path, source },
            Kind::PermissionDenied | Kind::ReadOnlyFilesystem => Self::NotWritable { path, source },
            Kind::StorageFull | Kind::QuotaExceeded | Kind::FileTooLarge | Kind::WriteZero => {
                Self::DiskFull { path, source }
            }
            _ => Self::Other { path, source },
        }
    }
}
