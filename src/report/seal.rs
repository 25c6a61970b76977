//! The form of what is kept of a run: a line of text and below it `sha256 <digest of that line>`, so that every
//! change of a byte shows. Numbers that are no whole ones are written as texts that read back to the same bits.

use super::folder::sha256;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;
use std::fs;
use std::path::Path;

/// Version of the form of plans and parts.
pub const SCHEMA: u32 = 4;
/// The program as plans and parts name it.
pub const PROGRAM: &str = concat!("periband ", env!("CARGO_PKG_VERSION"));

/// A number that is read back to the same bits: written as a text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exact(pub f64);

impl Serialize for Exact {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&format_args!("{:?}", self.0))
    }
}

impl<'de> Deserialize<'de> for Exact {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let number = text.parse().ok().filter(|number: &f64| number.is_finite());
        number.map(Self).ok_or_else(|| {
            serde::de::Error::custom(format_args!(
                "expected a finite number as a text, got `{text}`"
            ))
        })
    }
}

/// Largest plan or part that is read, bytes.
const LARGEST: u64 = 256 << 20;

/// What is wrong with a part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fault {
    /// There is none.
    Missing,
    /// It cannot be read.
    Unreadable(String),
    /// It ends too early.
    CutShort,
    /// Its bytes are not those that were written.
    Damaged,
    /// Another program made it.
    OtherProgram(String),
    /// It belongs to another plan.
    OtherPlan,
    /// It is the part of another shard.
    Doubled(u64),
    /// It flew other samples than the plan says.
    OtherSamples,
    /// It says what no part can say.
    Malformed(String),
    /// A file that is no part of this run.
    Stray,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing => f.write_str("missing"),
            Self::Unreadable(why) => write!(f, "cannot be read: {why}"),
            Self::CutShort => f.write_str("cut short"),
            Self::Damaged => f.write_str("damaged: its digest does not fit"),
            Self::OtherProgram(program) => write!(f, "made by {program}, not by {PROGRAM}"),
            Self::OtherPlan => f.write_str("from another plan"),
            Self::Doubled(index) => write!(f, "doubled: it holds shard {index}"),
            Self::OtherSamples => f.write_str("overlaps others or leaves a gap"),
            Self::Malformed(why) => write!(f, "malformed: {why}"),
            Self::Stray => f.write_str("does not belong to this run"),
        }
    }
}

const MARK: &str = "\nsha256 ";
/// Bytes from the mark to the end of a file.
const TAIL: usize = MARK.len() + 64 + 1;

/// Puts a digest of a line below it.
#[must_use]
pub fn sealed(line: &str) -> String {
    format!("{line}{MARK}{}\n", sha256(line.as_bytes()))
}

/// The line above its digest.
///
/// # Errors
/// [`Fault::CutShort`] without a digest, [`Fault::Damaged`] where it does not fit.
pub(super) fn unsealed(bytes: &[u8]) -> Result<&str, Fault> {
    let cut = || {
        // A whole file ends with a line feed after the digest; a digest of the wrong form is damage.
        if bytes.last() == Some(&b'\n') {
            Fault::Damaged
        } else {
            Fault::CutShort
        }
    };
    let at = bytes.len().checked_sub(TAIL).ok_or_else(cut)?;
    let (line, tail) = bytes.split_at(at);
    let digest = tail.strip_prefix(MARK.as_bytes()).ok_or_else(cut)?;
    if digest != format!("{}\n", sha256(line)).as_bytes() {
        return Err(cut_or_damaged(digest));
    }
    std::str::from_utf8(line).map_err(|_| Fault::Damaged)
}

fn cut_or_damaged(digest: &[u8]) -> Fault {
    if digest.last() == Some(&b'\n') {
        Fault::Damaged
    } else {
        Fault::CutShort
    }
}

/// Reads a whole file that is not too large to be a plan or a part.
pub(super) fn read_bounded(path: &Path) -> std::io::Result<Vec<u8>> {
    let facts = fs::metadata(path)?;
    if !facts.is_file() || facts.len() > LARGEST {
        return Err(std::io::Error::other("it is no file, or too large"));
    }
    fs::read(path)
}
