//! The chain of the pipeline holds: a source file uses only what stands before it.

use std::fs;
use std::path::{Path, PathBuf};

/// Folders in the order of the pipeline; siblings of one rank do not know each other.
const RANKS: [(&str, u8); 10] = [
    ("numeric", 0),
    ("scenario", 1),
    ("world", 2),
    ("craft", 2),
    ("pass", 3),
    ("steering", 4),
    ("ensemble", 5),
    ("study", 6),
    ("report", 7),
    ("cli", 8),
];

fn rank(folder: &str) -> Option<u8> {
    RANKS
        .iter()
        .find(|(name, _)| *name == folder)
        .map(|(_, rank)| *rank)
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a source folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

/// Every module named behind `crate::` in a source text, tests of the file included.
fn used(text: &str) -> Vec<String> {
    let word = |rest: &str| -> String {
        rest.chars()
            .take_while(|c| c.is_ascii_alphanumeric() || *c == '_')
            .collect()
    };
    let mut names = Vec::new();
    for (at, _) in text.match_indices("crate::") {
        let rest = &text[at + "crate::".len()..];
        if let Some(list) = rest.strip_prefix('{') {
            let list = list.split('}').next().unwrap_or("");
            names.extend(list.split(',').map(|item| word(item.trim())));
        } else {
            names.push(word(rest));
        }
    }
    names
}

#[test]
fn every_file_uses_only_what_stands_before_it() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    assert!(files.len() > 30, "{} source files found", files.len());
    let mut wrong = Vec::new();
    for file in &files {
        let inside = file.strip_prefix(&src).expect("a file under src");
        let folder = inside
            .iter()
            .next()
            .and_then(|part| part.to_str())
            .unwrap_or("");
        let Some(own) = rank(folder) else { continue };
        let text = fs::read_to_string(file).expect("a source text");
        for name in used(&text) {
            let allowed = name == folder || rank(&name).is_none_or(|other| other < own);
            if !allowed {
                wrong.push(format!("{} uses {name}", inside.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_carrying_libraries_are_each_named_in_one_place() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    for (library, place) in [
        ("serde_yaml::", "scenario/yaml.rs"),
        ("polars::", "report/"),
        ("plotters::", "report/"),
    ] {
        let mut seen = 0;
        for file in &files {
            let text = fs::read_to_string(file).expect("a source text");
            if text.contains(library) {
                seen += 1;
                let inside = file
                    .strip_prefix(&src)
                    .expect("under src")
                    .display()
                    .to_string();
                assert!(inside.starts_with(place), "{library} in {inside}");
            }
        }
        assert!(seen > 0, "{library} is used nowhere");
    }
}

#[test]
fn files_stay_short_and_the_main_file_is_a_table_of_contents() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&src, &mut files);
    for file in files {
        let lines = fs::read_to_string(&file)
            .expect("a source text")
            .lines()
            .count();
        assert!(lines <= 600, "{} has {lines} lines", file.display());
        if file.ends_with("main.rs") {
            assert!(lines < 40, "main.rs has {lines} lines");
        }
    }
}
