//! Exit codes, and the one error type that carries them.

use crate::report::ReportError;
use crate::report::shard_run::ShardError;
use crate::scenario::message::{InputError, InputKind};
use crate::scenario::visible::plain_reason;
use crate::study::band::BandError;
use crate::study::capture::CaptureError;
use crate::study::case::CaseError;
use crate::study::corridor::CorridorError;
use crate::study::influence::InfluenceError;
use crate::study::landing::LandingError;
use crate::study::landing::approach::EarlierError;
use crate::study::shards::DesignError;
use crate::study::single::SingleError;
use crate::study::sweep::SweepError;
use std::path::PathBuf;
use std::process::ExitCode;

/// How the program ends. Listed in the README.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Exit {
    /// Done; that limits cannot be met is an answer.
    Done = 0,
    /// Wrong command line or scenario.
    Usage = 2,
    /// Numerical failure, a verdict that samples without a result alone decide, or a run whose plan or parts are not
    /// sound.
    Numerical = 3,
    /// Cannot read or write, or another run holds the folder.
    Files = 4,
    /// Stopped by the user; what was done is kept.
    Stopped = 130,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}

/// Anything that ends a command early.
#[derive(Debug, thiserror::Error)]
pub(super) enum CliError {
    #[error(transparent)]
    Input(#[from] InputError),
    #[error("{message}\n  --> {}", file.display())]
    Band {
        file: PathBuf,
        message: String,
        stopped: bool,
    },
    #[error(transparent)]
    Single(#[from] SingleError),
    #[error(transparent)]
    Report(#[from] ReportError),
    #[error("cannot start the threads: {0}")]
    Threads(String),
    #[error("{0}")]
    Usage(String),
    #[error("cannot print the result: {reason}{}", if *.written { "; the files are written" } else { "" })]
    Unprinted { reason: String, written: bool },
    #[error("{0}")]
    Stopped(String),
    /// What has no result alone decides the verdict (the answer is told and the files are written), or leaves none.
    #[error("{0}")]
    NoResult(String),
    #[error(transparent)]
    Shards(#[from] ShardError),
    #[error("cannot write {}: {}", path.display(), cannot_write(source))]
    Write {
        path: PathBuf,
        source: std::io::Error,
    },
}

/// Why a file cannot be written: what is not there is its folder.
fn cannot_write(source: &std::io::Error) -> String {
    match source.kind() {
        std::io::ErrorKind::NotFound => "its folder does not exist".to_owned(),
        _ => plain_reason(source),
    }
}

impl From<CaseError> for CliError {
    fn from(error: CaseError) -> Self {
        match error {
            CaseError::Input(error) => Self::Input(error),
        }
    }
}

impl CliError {
    pub(super) fn band(error: &BandError, file: PathBuf) -> Self {
        Self::Band {
            file,
            message: error.to_string(),
            stopped: matches!(error, BandError::Stopped { .. }),
        }
    }

    pub(super) fn design(error: &DesignError, file: PathBuf) -> Self {
        let band_stopped = matches!(error, DesignError::Band(BandError::Stopped { .. }));
        Self::Band {
            file,
            message: error.to_string(),
            stopped: band_stopped || matches!(error, DesignError::Stopped),
        }
    }

    pub(super) fn taken(path: PathBuf) -> Self {
        Self::Shards(ShardError::Taken { path })
    }

    fn input_exit(error: &InputError) -> Exit {
        match error.kind() {
            InputKind::Unreadable => Exit::Files,
            InputKind::Invalid | InputKind::UnknownKey => Exit::Usage,
        }
    }

    pub(super) fn sweep(error: SweepError) -> Self {
        match error {
            SweepError::Input(error) => Self::Input(error),
            other => Self::Usage(other.to_string()),
        }
    }

    pub(super) fn influence(error: &InfluenceError, file: PathBuf) -> Self {
        Self::Band {
            file,
            message: error.to_string(),
            stopped: matches!(error, InfluenceError::Stopped),
        }
    }

    pub(super) fn landing(error: &LandingError, file: PathBuf) -> Self {
        if matches!(error, LandingError::Failed { .. }) {
            return Self::NoResult(error.to_string());
        }
        Self::Band {
            file,
            message: error.to_string(),
            stopped: matches!(
                error,
                LandingError::Stopped(_) | LandingError::Earlier(EarlierError::Stopped(_))
            ),
        }
    }

    pub(super) fn capture(error: CaptureError, file: PathBuf) -> Self {
        match error {
            CaptureError::Input(error) => Self::Input(error),
            CaptureError::Band(error) => Self::band(&error, file),
            CaptureError::Stopped { .. } => Self::Band {
                file,
                message: error.to_string(),
                stopped: true,
            },
        }
    }

    pub(super) fn corridor(error: CorridorError, file: PathBuf) -> Self {
        Self::Band {
            file,
            message: error.to_string(),
            stopped: error == CorridorError::Stopped,
        }
    }

    pub(super) fn exit(&self) -> Exit {
        match self {
            Self::Input(error) | Self::Shards(ShardError::Case(CaseError::Input(error))) => {
                Self::input_exit(error)
            }
            Self::Band { stopped, .. } => {
                if *stopped {
                    Exit::Stopped
                } else {
                    Exit::Usage
                }
            }
            Self::Shards(ShardError::Taken { .. } | ShardError::NoShard { .. })
            | Self::Single(
                SingleError::NoApproach { .. }
                | SingleError::ThickAir { .. }
                | SingleError::NeverMeetsAir { .. }
                | SingleError::LowTarget { .. },
            )
            | Self::Usage(_)
            | Self::Threads(_) => Exit::Usage,
            Self::NoResult(_)
            | Self::Single(
                SingleError::Fly(_) | SingleError::Steered { .. } | SingleError::Wall(_),
            )
            | Self::Shards(ShardError::Plan { .. } | ShardError::Parts { .. }) => Exit::Numerical,
            Self::Report(ReportError::Stopped(_))
            | Self::Stopped(_)
            | Self::Shards(ShardError::Stopped(_)) => Exit::Stopped,
            Self::Report(_)
            | Self::Write { .. }
            | Self::Unprinted { .. }
            | Self::Shards(ShardError::File(_)) => Exit::Files,
        }
    }
}
