//! `periband new`: a commented scenario that runs as it stands, with a world file of one's own if wanted.

use super::args::NewArgs;
use super::exit::CliError;
use super::screen::Screen;
use crate::report::{ReportError, named_file};
use crate::scenario::STARTER;
use std::path::Path;

/// The world file to begin one's own from.
const WORLD: &str = include_str!("../../examples/worlds/orsuvine.yaml");

/// What of the starter is another at that world.
const AT_THAT_WORLD: [(&str, &str); 4] = [
    ("at Mars", "at Orsuvine"),
    ("excess_speed: 2.55 km/s", "excess_speed: 2.2 km/s "),
    (
        "aim_periapsis: {from: 42 km, to: 60 km, step: 1 km}",
        "aim_periapsis: {from: 60 km, to: 95 km, step: 1 km}",
    ),
    ("\nworld: mars\n", "\nworld: "),
];

pub(super) fn run(args: &NewArgs, screen: Screen) -> Result<(), CliError> {
    let path = &args.file;
    let shown = path.display();
    let Some(world) = &args.own_world else {
        write_new(path, STARTER)?;
        screen.say(&format!(
            "Wrote {shown}. It runs as it stands:\n  periband check {shown}\n  periband band {shown}"
        ));
        return Ok(());
    };
    named_file::check(path, |_| false).map_err(ReportError::from)?;
    // Before anything is written, so that nothing is left where one of the two cannot be.
    let text = at_own_world(path, world)?;
    write_new(world, WORLD)?;
    write_new(path, &text)?;
    let name = from_here(world);
    screen.say(&format!(
        "Wrote {shown}, and {} with the invented world\nit is at, to be made your own. They run as \
         they stand:\n  periband worlds {name} --figure\n  periband check {shown}\n  periband band {shown}",
        world.display()
    ));
    Ok(())
}

/// A path as the other commands take it for that of a world file.
fn from_here(world: &Path) -> String {
    let bare = world
        .parent()
        .is_some_and(|parent| parent.as_os_str().is_empty());
    let dots = if bare { "./" } else { "" };
    format!("{dots}{}", world.display())
}

/// The starter at the world of the file that was just written.
fn at_own_world(path: &Path, world: &Path) -> Result<String, CliError> {
    let folder = |path: &Path| {
        let parent = path.parent().map(Path::to_path_buf).unwrap_or_default();
        if parent.as_os_str().is_empty() {
            Path::new(".").to_path_buf()
        } else {
            parent
        }
    };
    let place = |path: &Path| {
        folder(path)
            .canonicalize()
            .map_err(|source| CliError::Write {
                path: path.to_owned(),
                source,
            })
    };
    let file = world.file_name().unwrap_or_default().to_string_lossy();
    let (beside, there) = (place(path)?, place(world)?);
    let name = if beside != there {
        there.join(&*file).display().to_string()
    } else if path.file_name() == world.file_name() {
        return Err(CliError::Usage(format!(
            "the scenario and its world cannot both be `{}`: give the world another name",
            path.display()
        )));
    } else {
        format!("./{file}")
    };
    let mut text = STARTER.to_owned();
    for (mars, own) in AT_THAT_WORLD {
        let own = if own.ends_with("world: ") {
            format!("{own}{name:?}\n")
        } else {
            own.to_owned()
        };
        text = text.replacen(mars, &own, 1);
    }
    Ok(text)
}

fn write_new(path: &Path, text: &str) -> Result<(), CliError> {
    Ok(named_file::write(path, text.as_bytes(), |_| false).map_err(ReportError::from)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::Scenario;
    use crate::study::Case;

    #[test]
    fn the_starter_at_an_own_world_says_so_and_runs() {
        for (mars, _) in AT_THAT_WORLD {
            assert_eq!(STARTER.matches(mars).count(), 1, "{mars}");
        }
        let folder = std::env::temp_dir().join(format!("periband-new-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder");
        let (path, world) = (folder.join("mine.yaml"), folder.join("world.yaml"));
        write_new(&world, WORLD).expect("a world");
        write_new(&path, &at_own_world(&path, &world).expect("a text")).expect("a scenario");
        let scenario = Scenario::load(&path).expect("a scenario");
        assert_eq!(
            scenario.document().text().matches("./world.yaml").count(),
            1
        );
        assert_eq!(
            Case::load(&path, &[]).expect("a case").world.body().name,
            "Orsuvine"
        );
        let one = at_own_world(&path, &folder.join("mine.yaml"));
        let said = one.expect_err("one name for two files").to_string();
        assert!(said.contains("cannot both be"), "{said}");
        // A world in another folder is named by its whole path.
        let apart = folder.join("worlds");
        std::fs::create_dir_all(&apart).expect("a folder");
        let (path, world) = (folder.join("far.yaml"), apart.join("far world.yaml"));
        write_new(&world, WORLD).expect("a world");
        write_new(&path, &at_own_world(&path, &world).expect("a text")).expect("a scenario");
        assert!(Case::load(&path, &[]).is_ok());
        assert!(write_new(&world, "").is_err());
        std::fs::remove_dir_all(&folder).expect("the folder goes");
    }
}
