//! Opens the files that a user names: those of which the end is sure to come, and standard input.

use super::message::InputError;
use super::visible::plain_reason;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Longest path that is taken, bytes, and the longest name in it: those of the usual systems.
const LONGEST: (usize, usize) = (4096, 255);

const IS_FOLDER: &str = "it is a folder";

/// Whether a path is that of something which was opened for this program: `-`, `/dev/stdin`, `/dev/fd/N`.
#[must_use]
pub fn is_stream(path: &Path) -> bool {
    let stands_for = ["/dev/fd", "/proc/self/fd"];
    path == Path::new("-")
        || path == Path::new("/dev/stdin")
        || stands_for.iter().any(|folder| path.starts_with(folder))
}

/// A path as messages show it: one too long for a message is cut.
#[must_use]
pub fn shown(path: &Path) -> String {
    const MOST: usize = 300;
    let text = path.to_string_lossy();
    if path == Path::new("-") {
        return "standard input".to_owned();
    }
    if text.chars().count() <= MOST {
        return text.into_owned();
    }
    let start: String = text.chars().take(60).collect();
    format!("{start}... ({} bytes)", text.len())
}

/// Why a path cannot be that of a file; `None` where it can.
#[must_use]
pub fn too_long(path: &Path) -> Option<String> {
    let (whole, part) = LONGEST;
    let long =
        path.as_os_str().len() > whole || path.components().any(|one| one.as_os_str().len() > part);
    long.then(|| format!("its name is too long: {part} bytes at most, with its folders {whole}"))
}

/// Opens a file to read; nothing is waited for that may never come, but for what is piped in.
///
/// # Errors
/// Why it cannot be read, in words: it is not there, is a folder, a pipe or a device, or its name is too long.
pub fn open(path: &Path) -> Result<Box<dyn Read>, String> {
    if let Some(why) = too_long(path) {
        return Err(why);
    }
    if path == Path::new("-") {
        return Ok(Box::new(std::io::stdin()));
    }
    let cannot = |error: std::io::Error| plain_reason(&error);
    let facts = std::fs::metadata(path).map_err(cannot)?;
    if facts.is_dir() {
        return Err(IS_FOLDER.to_owned());
    }
    let comes = facts.is_file() || is_stream(path) && is_piped(&facts);
    if !comes {
        return Err("it is no file, but a pipe or a device".to_owned());
    }
    Ok(Box::new(File::open(path).map_err(cannot)?))
}

#[cfg(unix)]
fn is_piped(facts: &std::fs::Metadata) -> bool {
    use std::os::unix::fs::FileTypeExt;
    facts.file_type().is_fifo() || facts.file_type().is_socket()
}

#[cfg(not(unix))]
fn is_piped(_facts: &std::fs::Metadata) -> bool {
    false
}

/// Reads a file of at most so many bytes; `None` where it has more.
///
/// # Errors
/// As [`open`].
pub fn read(path: &Path, most: u64) -> Result<Option<Vec<u8>>, String> {
    let mut bytes = Vec::new();
    let file = open(path)?
        .take(most.saturating_add(1))
        .read_to_end(&mut bytes);
    file.map_err(|error| plain_reason(&error))?;
    Ok((bytes.len() as u64 <= most).then_some(bytes))
}

/// The error about a file that cannot be read.
#[must_use]
pub fn unreadable(path: &Path, why: &str) -> InputError {
    let error = InputError::unreadable(format!("cannot read {}: {why}", shown(path)));
    match why {
        IS_FOLDER => error.with_help("name the file inside it"),
        _ => error,
    }
}
