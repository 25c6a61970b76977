//! What every run folder says about its run.

use super::error::FileError;
use super::folder::{RunFacts, RunFolder, sha256};
use crate::study::Case;
use std::path::Path;

/// The folder of a study's run, and what its manifest is to say.
///
/// # Errors
/// [`FileError`] when the folder cannot be made.
pub fn facts(case: &Case, base: &Path, study: &str) -> Result<(RunFolder, RunFacts), FileError> {
    let document = case.scenario.document();
    let stem = document.path().and_then(Path::file_stem).map_or_else(
        || case.scenario.title.clone(),
        |stem| stem.to_string_lossy().into_owned(),
    );
    let folder = RunFolder::create(base, &stem, study)?;
    let data = case.world.text().map(|text| {
        let name = format!("world {}", case.world.body().name);
        (name, sha256(text.as_bytes()))
    });
    let facts = RunFacts {
        seed: case.scenario.ask.seed,
        scenario_sha256: sha256(document.as_run().as_bytes()),
        data: data.into_iter().collect(),
        command: format!("periband {study} scenario.yaml"),
    };
    Ok((folder, facts))
}
