//! The scripts that fly a planned run on Slurm: a job array, and what follows it up.

use super::error::FileError;
use super::partial;
use std::fs;
use std::path::Path;

/// Name of the script to start with.
pub const FOLLOW: &str = "slurm-follow.sh";

/// Writes the scripts into the folder of a run, for the program at this path.
///
/// # Errors
/// [`FileError`] when the folder is not there or cannot be written.
pub fn write(run: &Path, program: &Path) -> Result<(), FileError> {
    let scripts = [
        ("slurm-shards.sh", include_str!("slurm/shards.sh")),
        (FOLLOW, include_str!("slurm/follow.sh")),
    ];
    // Jobs start in a folder of their own.
    let folder = fs::canonicalize(run).map_err(|error| FileError::of(run, error))?;
    for (name, template) in scripts {
        let script = template
            .replace("@RUN@", &quoted(&folder))
            .replace("@PROGRAM@", &quoted(program));
        partial::write(&run.join(name), script.as_bytes())?;
    }
    Ok(())
}

/// A path as one word of a shell.
fn quoted(path: &Path) -> String {
    format!("'{}'", path.display().to_string().replace('\'', "'\\''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_is_one_word_whatever_is_in_it() {
        assert_eq!(quoted(Path::new("/a b/$c")), "'/a b/$c'");
        assert_eq!(quoted(Path::new("it's")), "'it'\\''s'");
    }
}
