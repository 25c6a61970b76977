//! What every run folder says about its run.

use super::error::FileError;
use super::folder::{RunFacts, RunFolder, sha256, slug};
use crate::study::Case;
use std::path::{Path, PathBuf};

/// The name of a scenario in paths: that of its file, else its title.
fn stem(case: &Case) -> String {
    let path = case.scenario.document().path();
    path.and_then(Path::file_stem).map_or_else(
        || case.scenario.title.clone(),
        |stem| stem.to_string_lossy().into_owned(),
    )
}

/// Finds out, before a long run, whether its folder can be written.
///
/// # Errors
/// [`FileError`] when it cannot.
pub fn probe(case: &Case, base: &Path, study: &str) -> Result<(), FileError> {
    RunFolder::probe(base, &stem(case), study)
}

/// Where the folder of a study's run is.
#[must_use]
pub fn folder(case: &Case, base: &Path, study: &str) -> PathBuf {
    base.join(slug(&stem(case))).join(slug(study))
}

/// The folder of a study's run with all that is needed to run it again, and what its manifest is to say.
/// `arguments` are those of the command line beside the scenario.
///
/// # Errors
/// [`FileError`] when the folder cannot be made.
pub fn facts(
    case: &Case,
    base: &Path,
    (study, arguments): (&str, &str),
) -> Result<(RunFolder, RunFacts), FileError> {
    let document = case.scenario.document();
    let mut folder = RunFolder::create(base, &stem(case), study)?;
    // What an earlier run left that this one may not write again.
    for stale in ["partial.json", "samples.parquet", "world.yaml"] {
        folder.forget(stale)?;
    }
    let as_run = document.as_run();
    folder.write("scenario.yaml", as_run.as_bytes())?;
    let mut command = format!("periband {study} scenario.yaml");
    if !arguments.is_empty() {
        command = format!("{command} {arguments}");
    }
    // An own world file is kept beside the scenario, which names it by its former place.
    if let (Some(_), Some(text)) = (case.scenario.world_path(), case.world.text()) {
        folder.write("world.yaml", text.as_bytes())?;
        command.push_str(" --set world=./world.yaml");
    }
    let data = case.world.text().map(|text| {
        let name = format!("world {}", case.world.body().name);
        (name, sha256(text.as_bytes()))
    });
    let facts = RunFacts {
        seed: case.scenario.ask.seed,
        scenario_sha256: sha256(as_run.as_bytes()),
        data: data.into_iter().collect(),
        air: super::air_grades::summary(case),
        command,
        precision: Some(case.precision),
    };
    Ok((folder, facts))
}
