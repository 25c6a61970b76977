//! Everything a scenario can be refused for, each with the whole message beside it in
//! `bad_scenarios/cases.txt`, and the files that must be refused before they are parsed.

#![allow(clippy::unwrap_used, reason = "a test may stop at once")]
#![allow(clippy::float_cmp, reason = "the numbers compared are exact")]

use periband::scenario::limits::LimitKind;
use std::fs::{self, File};
use std::io::Write as _;
use std::path::{Path, PathBuf};

use periband::scenario::document::Document;
use periband::scenario::message::InputKind;
use periband::scenario::{STARTER, Scenario};
use proptest::prelude::*;

const BASE: &str = include_str!("bad_scenarios/base.yaml");
const CASES: &str = include_str!("bad_scenarios/cases.txt");

/// One case: its name, the bad scenario, the whole message.
struct Case {
    name: &'static str,
    scenario: String,
    message: String,
}

/// Reads the cases: `=== name`, then lines of the base that go out (`-`) and that take their
/// place (`+`, at the end if none goes out) or a whole file (`|`), then `~~~` and the message.
fn cases() -> impl Iterator<Item = Case> {
    CASES.split("=== ").skip(1).map(|text| {
        let (name, rest) = text.split_once('\n').unwrap();
        let (edits, message) = rest.split_once("~~~\n").unwrap();
        let scenario = edited(name, edits).replace("\\u{7}", "\u{7}");
        Case {
            name,
            scenario,
            message: message.trim_end().to_owned(),
        }
    })
}

fn edited(name: &str, edits: &str) -> String {
    if edits.starts_with('|') {
        return edits
            .lines()
            .map(|line| line[1..].to_owned() + "\n")
            .collect();
    }
    let mut lines: Vec<String> = BASE.lines().map(str::to_owned).collect();
    let mut at = lines.len();
    for edit in edits.lines() {
        let text = &edit[1..];
        if edit.starts_with('-') {
            let found = lines.iter().position(|line| line == text);
            at = found.unwrap_or_else(|| panic!("{name}: the base has no line `{text}`"));
            lines.remove(at);
        } else {
            lines.insert(at, text.to_owned());
            at += 1;
        }
    }
    lines.join("\n") + "\n"
}

#[test]
fn the_base_of_the_cases_is_a_good_scenario() {
    Scenario::from_text("base.yaml", BASE).unwrap();
}

#[test]
fn every_bad_scenario_has_its_message() {
    let mut wrong = String::new();
    for case in cases() {
        let message = match Scenario::from_text("bad.yaml", &case.scenario) {
            Ok(_) => "accepted".to_owned(),
            Err(error) => error.to_string(),
        };
        if message != case.message {
            wrong = format!("{wrong}=== {}\n{message}\n", case.name);
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn every_message_names_its_file() {
    for case in cases() {
        let place = case.message.lines().nth(1).unwrap_or_default();
        assert!(
            place.starts_with("  --> bad.yaml"),
            "{}: {place}",
            case.name
        );
    }
}

/// A folder that is removed when the test ends.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("periband-{}-{name}", std::process::id()));
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn file(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.0.join(name);
        File::create(&path).unwrap().write_all(bytes).unwrap();
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// The message for a file, with its path replaced by `FILE`.
fn refused(path: &Path) -> (String, InputKind) {
    let error = Scenario::load(path).unwrap_err();
    let text = error
        .to_string()
        .replace(&path.display().to_string(), "FILE");
    (text, error.kind())
}

#[test]
fn a_missing_file_and_a_folder_cannot_be_read() {
    let folder = Folder::new("missing");
    let (text, kind) = refused(&folder.0.join("none.yaml"));
    assert_eq!(
        (text.as_str(), kind),
        (
            "cannot read FILE: there is no such file",
            InputKind::Unreadable
        )
    );
    let (text, kind) = refused(&folder.0);
    assert_eq!(
        text,
        "cannot read FILE: it is a folder\n  help: name the file inside it"
    );
    assert_eq!(kind, InputKind::Unreadable);
}

#[test]
fn a_file_that_is_not_utf8_is_refused_at_the_byte() {
    let folder = Folder::new("latin");
    let path = folder.file("latin.yaml", b"world: mars\ntitle: Mars \xe9tape\n");
    let expected = "\
the file is not UTF-8 text: byte 0xe9
  --> FILE:2:13
2 | title: Mars \u{fffd}tape
  |             ^
  help: save the file as UTF-8";
    assert_eq!(refused(&path).0, expected);
}

#[test]
fn a_file_of_200_megabytes_is_refused_at_once() {
    let folder = Folder::new("large");
    let path = folder.file("large.yaml", b"title: Arrival\n");
    File::options()
        .write(true)
        .open(&path)
        .unwrap()
        .set_len(200 * 1024 * 1024)
        .unwrap();
    let (text, _) = refused(&path);
    let expected = "\
the file is larger than 1 MiB
  --> FILE
  help: scenario and world files are small texts: is this the right file?";
    assert_eq!(text, expected);
}

#[cfg(target_os = "linux")]
#[test]
fn a_file_without_an_end_is_refused_at_once() {
    let (text, _) = refused(Path::new("/dev/zero"));
    let words = "cannot read FILE: it is no file, but a pipe or a device";
    assert!(text.starts_with(words), "{text}");
}

#[test]
fn nesting_of_ten_thousand_levels_is_refused_at_once() {
    let error = |text: &str| {
        Scenario::from_text("deep.yaml", text)
            .unwrap_err()
            .to_string()
    };
    let flow = error(&format!(
        "title: x\nship: {}{}\n",
        "[".repeat(10_000),
        "]".repeat(10_000)
    ));
    let expected = "\
lists and sections are nested more than 32 deep
  --> deep.yaml:2:38
2 | ship: [[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[ ...
  |                                      ^
  help: nothing here needs more than a few levels: look for a bracket that is not closed";
    assert_eq!(flow, expected);
    let braces = error(&"{a: ".repeat(10_000));
    assert!(
        braces.starts_with(
            "lists and sections are nested more than 32 deep\n  --> deep.yaml:1:125\n"
        ),
        "{braces}"
    );
    let block = error(&"- ".repeat(10_000));
    assert!(
        block
            .starts_with("lists and sections are nested more than 32 deep\n  --> deep.yaml:1:65\n"),
        "{block}"
    );
    let indented: String = (0..1000).map(|level| " ".repeat(level) + "a:\n").collect();
    let indented = error(&indented);
    assert!(
        indented.starts_with(
            "lists and sections are nested more than 32 deep\n  --> deep.yaml:33:33\n"
        ),
        "{indented}"
    );
}

#[test]
fn aliases_that_multiply_are_refused_at_once() {
    let mut text = "a0: &a0 [x, x, x, x, x, x, x, x, x]\n".to_owned();
    for level in 1..9 {
        let items = vec![format!("*a{}", level - 1); 9].join(", ");
        text = format!("{text}a{level}: &a{level} [{items}]\n");
    }
    let error = Scenario::from_text("bomb.yaml", &text).unwrap_err();
    assert_eq!(
        error.message(),
        "aliases (`*name`) multiply into too many values"
    );
}

#[test]
fn a_byte_order_mark_and_windows_line_ends_do_no_harm() {
    let text = format!("\u{feff}{}", BASE.replace('\n', "\r\n"));
    let scenario = Scenario::from_text("base.yaml", &text).unwrap();
    assert_eq!(
        scenario.ship,
        Scenario::from_text("base.yaml", BASE).unwrap().ship
    );
    let bad = text.replace("mass: 62 t", "mass: 62");
    let error = Scenario::from_text("base.yaml", &bad)
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("  --> base.yaml:4:9\n4 |   mass: 62\n  |         ^^\n"),
        "{error}"
    );
}

#[test]
fn a_value_set_on_the_command_line_is_checked_like_the_file() {
    let with = |path: &str, value: &str| {
        let mut document = Document::from_text("base.yaml", BASE).unwrap();
        document.set(path, value).unwrap();
        Scenario::from_document(&document)
    };
    assert_eq!(with("ship.mass", "60t").unwrap().ship.mass_kg, 60_000.0);
    let shorter = with("limits.stay_above.0.at_most", "30 s").unwrap();
    assert_eq!(shorter.limits.allowed(LimitKind::StayAbove(0)), Some(30.0));
    assert_eq!(with("ask.seed", "9").unwrap().ask.seed, 9);
    assert!(with("uncertainty.ship.nose_radius.normal.std_dev", "1 cm").is_ok());
    let expected = "\
`ship.mass`: `60` has no unit
  --> --set ship.mass=60
  key:  ship.mass
  help: add the unit, for example `60 t`; a mass takes t or kg";
    assert_eq!(with("ship.mass", "60").unwrap_err().to_string(), expected);
    let expected = "\
unknown key `shp`
  --> --set shp.mass=60 t
  key:  shp
  help: did you mean `ship`?";
    assert_eq!(with("shp.mass", "60 t").unwrap_err().to_string(), expected);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Whatever is cut out of, put into or doubled in a good file: an answer, never a panic,
    /// and a message that names the file.
    #[test]
    fn a_damaged_file_is_answered(at in 0..STARTER.len(), cut in 0..40_usize, put in "[ \\-:{}\\[\\],#'\"|>&*!%@`?~a-z0-9.\n\t\u{e9}]{0,6}") {
        let chars: Vec<char> = STARTER.chars().collect();
        let at = at.min(chars.len());
        let end = (at + cut).min(chars.len());
        let text: String = chars[..at].iter().copied().chain(put.chars()).chain(chars[end..].iter().copied()).collect();
        match Scenario::from_text("damaged.yaml", &text) {
            Ok(scenario) => prop_assert!(scenario.describe().len() > 5),
            Err(error) => prop_assert!(error.to_string().contains("--> damaged.yaml"), "{}", error),
        }
    }

    /// Any text at all is answered.
    #[test]
    fn any_text_is_answered(text in "\\PC{0,200}") {
        prop_assert!(Scenario::from_text("any.yaml", &text).is_err());
    }
}

#[test]
fn a_megabyte_of_anything_is_answered_at_once() {
    let fill = |piece: &str| piece.repeat(1024 * 1024 / piece.len());
    let keys: Vec<String> = (0..100_000)
        .map(|number| {
            format!(
                "k{number}: v
"
            )
        })
        .collect();
    let quoted = format!("title: 5\n 'x\nb: {}", &fill("[")[20..]);
    let rows = [
        "- a\n",
        "? a\n",
        "a: |\n b\n",
        "[a, ",
        "&a ",
        "\"a\" ",
        "!a ",
        ",",
        "#",
        "\n",
        "%a\n",
    ];
    for text in rows
        .iter()
        .map(|piece| fill(piece))
        .chain([keys.concat(), quoted])
    {
        let beginning: String = text.chars().take(20).collect();
        let refused = Scenario::from_text("full.yaml", &text).is_err();
        assert!(refused, "{beginning:?}");
    }
}
