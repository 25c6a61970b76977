//! What every run folder says about its run.

use super::error::{FileError, ReportError};
use super::folder::{RunFacts, RunFolder, sha256, slug};
use super::shard_plan::{inputs, with_its_files};
use crate::study::Case;
use std::path::{Path, PathBuf};

/// Tables of an earlier scenario that are looked for.
const MOST_TABLES: u32 = 9;

/// The name of a scenario in paths: that of its file, else its title.
fn stem(case: &Case) -> String {
    let path = case.scenario.document().path();
    path.and_then(Path::file_stem).map_or_else(
        || case.scenario.title.clone(),
        |stem| stem.to_string_lossy().into_owned(),
    )
}

/// Where the folder of a study's run is.
#[must_use]
pub fn folder(case: &Case, base: &Path, study: &str) -> PathBuf {
    base.join(slug(&stem(case))).join(slug(study))
}

/// Sees to it that no result goes where a file lies that the case was read from.
///
/// # Errors
/// [`FileError::Kept`] where one would.
pub fn keeps_inputs(case: &Case, folder: &Path) -> Result<(), FileError> {
    let Ok(folder) = folder.canonicalize() else {
        // Nothing lies in a folder that is not there.
        return Ok(());
    };
    for input in inputs(case) {
        let real = input.canonicalize();
        if real.is_ok_and(|real| real.parent() == Some(&folder)) {
            return Err(FileError::Kept {
                path: input,
                why: "it was read for this run, whose files would go beside it\n  help: name another folder with --out",
            });
        }
    }
    Ok(())
}

/// The folder of a study's run with all that is needed to run it again, and what its manifest is to say.
/// `arguments` are those of the command line beside the scenario.
///
/// # Errors
/// [`ReportError`] when the folder cannot be made or written, or a file that the scenario names is gone.
pub fn facts(
    case: &Case,
    base: &Path,
    (study, arguments): (&str, &str),
) -> Result<(RunFolder, RunFacts), ReportError> {
    let (document, data) = with_its_files(case)?;
    keeps_inputs(case, &self::folder(case, base, study))?;
    let mut folder = RunFolder::create(base, &stem(case), study)?;
    // What an earlier run left that this one may not write again.
    for stale in ["partial.json", "samples.parquet", "world.yaml"] {
        folder.forget(stale)?;
    }
    for place in 1..=MOST_TABLES {
        folder.forget(&format!("table-{place}.csv"))?;
    }
    // So that it runs alone in the folder.
    let as_run = document.as_run();
    folder.write("scenario.yaml", as_run.as_bytes())?;
    for (name, content) in &data {
        folder.write(name, content)?;
    }
    let arguments = if arguments.is_empty() {
        String::new()
    } else {
        format!(" {arguments}")
    };
    let world = case.world.text().map(|text| {
        let name = format!("world {}", case.world.body().name);
        (name, sha256(text.as_bytes()))
    });
    let facts = RunFacts {
        seed: case.scenario.ask.seed,
        scenario_sha256: sha256(as_run.as_bytes()),
        data: world.into_iter().collect(),
        air: super::air_grades::summary(case),
        command: format!("periband {study} scenario.yaml{arguments}"),
        precision: Some(case.precision),
    };
    Ok((folder, facts))
}
