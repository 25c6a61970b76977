//! The one way a study goes through the program: its folder is locked, it is flown, its answer is printed, then its
//! files are written. An answer that is there is lost with no folder and no disk.

use super::exit::CliError;
use super::screen::Screen;
use crate::report::lock::FolderLock;
use crate::report::{FileError, ReportError, run_facts};
use crate::study::Case;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// What writes the files of a study, given its summary.
type Keep<'a> = Box<dyn FnOnce(&Value) -> Result<Kept, CliError> + 'a>;

/// What a study found, ready to be told and kept.
pub(super) struct Answer<'a> {
    /// What `--json` prints.
    pub(super) summary: Value,
    /// What people read, one piece after another.
    pub(super) text: Vec<String>,
    /// Writes the files and says where they are.
    pub(super) keep: Keep<'a>,
    /// How the command ends once the files are written.
    pub(super) end: Result<(), CliError>,
}

/// What is said once the files are written.
#[derive(Default)]
pub(super) struct Kept {
    /// On standard output.
    pub(super) text: String,
    /// On standard error.
    pub(super) remark: Option<String>,
}

impl Kept {
    /// The files of a finished run.
    pub(super) fn files(folder: &Path) -> Self {
        Self {
            text: format!("\nFiles: {}", folder.display()),
            remark: None,
        }
    }

    /// What was complete of a run that was stopped.
    pub(super) fn partly(folder: &Path) -> Self {
        Self {
            text: String::new(),
            remark: Some(format!("Kept: {}", folder.display())),
        }
    }
}

/// Where the files of a study go.
pub(super) struct Place {
    /// The folder.
    pub(super) folder: PathBuf,
    /// Whether the study is flown even where its folder cannot be written: it takes no time to lose.
    pub(super) at_once: bool,
}

impl Place {
    /// That of a study of a case under the folder for results.
    ///
    /// # Errors
    /// [`CliError`] where the case was read from files that lie there.
    pub(super) fn of(case: &Case, base: &Path, study: &str) -> Result<Self, CliError> {
        let folder = run_facts::folder(case, base, study);
        run_facts::keeps_inputs(case, &folder).map_err(ReportError::from)?;
        Ok(Self::at(folder))
    }

    /// A folder, for a study that takes its time.
    pub(super) fn at(folder: PathBuf) -> Self {
        Self {
            folder,
            at_once: false,
        }
    }
}

/// Runs a study: locks the folder, flies, prints, writes, and ends as the answer says.
///
/// # Errors
/// [`CliError`]: a folder that another run holds or that cannot be written, what the study itself is ended by, and files
/// that cannot be written, once the answer is printed.
pub(super) fn run_study<'a>(
    place: &Place,
    screen: Screen,
    fly: impl FnOnce() -> Result<Answer<'a>, CliError>,
) -> Result<(), CliError> {
    // A folder that cannot be written is better known before the passes are flown than after.
    let lock = match FolderLock::take(&place.folder) {
        Err(error) if !place.at_once || matches!(error, FileError::InUse { .. }) => {
            return Err(ReportError::from(error).into());
        }
        lock => lock,
    };
    let answer = fly()?;
    screen.json(&answer.summary);
    for piece in &answer.text {
        screen.say(piece.trim_end());
    }
    let mut lock = lock.map_err(ReportError::from)?;
    lock.confirm().map_err(ReportError::from)?;
    let kept = (answer.keep)(&answer.summary)?;
    if !kept.text.is_empty() {
        screen.say(&kept.text);
    }
    if let Some(remark) = &kept.remark {
        screen.remark(remark);
    }
    drop(lock);
    answer.end
}
