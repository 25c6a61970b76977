//! What the program is built from: under which licences, and whether anything comes twice.

#[cfg(target_os = "linux")]
use std::collections::BTreeMap;
use std::process::Command;

/// Licences that allow what `MIT OR Apache-2.0` does, with no more than a notice.
const ALLOWED: [&str; 11] = [
    "MIT",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "BSL-1.0",
    "Unicode-3.0",
    "CC0-1.0",
    "MIT-0",
];

/// Crates that come in two versions, since two of the crates we use want different ones. What is no longer so goes.
const TWICE: [&str; 6] = [
    "bitflags",
    "cpufeatures",
    "foldhash",
    "hashbrown",
    "miniz_oxide",
    "syn",
];

/// Whether a licence expression can be met by allowed licences.
fn allowed(expression: &str) -> bool {
    let expression = expression.trim();
    let whole = expression
        .strip_prefix('(')
        .and_then(|rest| rest.strip_suffix(')'));
    let inner = whole.filter(|inner| !inner.contains(['(', ')']));
    if let Some(inner) = inner {
        return allowed(inner);
    }
    let split = |word: &str| -> Option<Vec<String>> {
        let mut parts = vec![String::new()];
        let mut depth = 0;
        for token in expression.split_inclusive(' ') {
            depth += token.matches('(').count();
            depth -= token.matches(')').count();
            if depth == 0 && token.trim() == word {
                parts.push(String::new());
            } else if let Some(last) = parts.last_mut() {
                last.push_str(token);
            }
        }
        (parts.len() > 1).then_some(parts)
    };
    // AND binds closer than OR.
    if let Some(parts) = split("OR") {
        return parts.iter().any(|part| allowed(part));
    }
    if let Some(parts) = split("AND") {
        return parts.iter().all(|part| allowed(part));
    }
    ALLOWED.contains(&expression)
}

/// Name, version and licence of everything that is compiled in.
fn dependencies() -> Vec<(String, String, String)> {
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned());
    let listed = Command::new(cargo)
        .args([
            "tree",
            "--edges",
            "normal,build",
            "--prefix",
            "none",
            "--no-dedupe",
        ])
        .args(["--format", "{p}|{l}", "--locked", "--offline"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo runs");
    let text = String::from_utf8_lossy(&listed.stdout).into_owned();
    assert!(
        listed.status.success(),
        "{}",
        String::from_utf8_lossy(&listed.stderr)
    );
    let mut all: Vec<(String, String, String)> = text
        .lines()
        .filter_map(|line| {
            let (package, licence) = line.split_once('|')?;
            let mut words = package.split(' ');
            let (name, version) = (words.next()?, words.next()?);
            // An old way of writing OR.
            let licence = licence.replace(" / ", " OR ").replace('/', " OR ");
            Some((name.to_owned(), version.to_owned(), licence))
        })
        .collect();
    all.sort();
    all.dedup();
    all
}

#[test]
fn every_dependency_has_a_licence_that_allows_it() {
    assert!(allowed("(MIT OR Apache-2.0) AND Unicode-3.0") && allowed("GPL-3.0 OR MIT"));
    assert!(!allowed("GPL-3.0-only") && !allowed("MIT AND GPL-3.0-only") && !allowed(""));
    let all = dependencies();
    assert!(all.len() > 100, "only {} dependencies listed", all.len());
    let refused: Vec<_> = all
        .iter()
        .filter(|(.., licence)| !allowed(licence))
        .collect();
    assert!(refused.is_empty(), "not allowed: {refused:?}");
}

/// As it is built on Linux.
#[cfg(target_os = "linux")]
#[test]
fn nothing_comes_twice_but_what_is_known_to() {
    let mut versions: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (name, version, _) in dependencies() {
        let known = versions.entry(name).or_default();
        if !known.contains(&version) {
            known.push(version);
        }
    }
    let twice: Vec<&str> = versions
        .iter()
        .filter(|(_, versions)| versions.len() > 1)
        .map(|(name, _)| name.as_str())
        .collect();
    assert_eq!(twice, TWICE, "{versions:?}");
}
