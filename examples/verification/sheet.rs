//! The table of all rows: on a screen of 100 columns, as Markdown, as JSON.

use crate::verification::row::{Known, Row, number};
use std::fmt::Write as _;

/// One letter for how a value is known, explained at the foot of the table.
fn letter(known: Known) -> char {
    match known {
        Known::Published => 'P',
        Known::FromMemory => 'M',
        Known::Computed => 'C',
    }
}

fn with_unit(value: f64, unit: &str) -> String {
    let text = number(value);
    if unit.is_empty() {
        text
    } else {
        format!("{text} {unit}")
    }
}

/// How many rows hold, of how many.
pub(crate) fn count(rows: &[Row]) -> String {
    let held = rows.iter().filter(|row| row.holds()).count();
    format!(
        "{} checks: {held} within their tolerance, {} outside, each with its reason",
        rows.len(),
        rows.len() - held
    )
}

/// Whether a row opens a group of rows of one name and source.
fn opens(rows: &[Row], i: usize) -> bool {
    i == 0 || {
        let (a, b) = (&rows[i - 1].group, &rows[i].group);
        (a.name, a.source) != (b.name, b.source)
    }
}

/// The table for a screen, at most 100 columns wide.
pub(crate) fn screen(rows: &[Row]) -> String {
    let mut out = String::new();
    for (i, row) in rows.iter().enumerate() {
        if opens(rows, i) {
            let _ = writeln!(out, "\n{}", row.group.name);
            for line in wrapped(row.group.source, 96) {
                let _ = writeln!(out, "  {line}");
            }
        }
        let _ = writeln!(
            out,
            "  {:44.44} {} {:>11} {:>11} {:>9} {:>7} {}",
            row.check,
            letter(row.group.known),
            number(row.expected),
            number(row.computed),
            row.difference(),
            row.tolerance_words(),
            row.verdict(),
        );
        for line in wrapped(row.note, 90) {
            let _ = writeln!(out, "      {line}");
        }
    }
    let _ = writeln!(
        out,
        "\nColumns: check, how the expected value is known (P published, M from memory, C computed by an\n\
         independent program), expected, computed, difference, tolerance, verdict.\n{}",
        count(rows)
    );
    out
}

fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// The table as Markdown, the notes after it.
pub(crate) fn markdown(rows: &[Row], fields: &[String]) -> String {
    let mut out = format!("# Verification\n\n{}.\n", count(rows));
    for (i, row) in rows.iter().enumerate() {
        if opens(rows, i) {
            let _ = write!(
                out,
                "\n## {}\n\nSource: {}.\n\n| check | known | expected | computed | difference | tolerance | \
                 verdict |\n|---|---|---|---|---|---|---|\n",
                row.group.name, row.group.source
            );
        }
        let verdict = if row.note.is_empty() {
            row.verdict().to_owned()
        } else {
            format!("{}. {}", row.verdict(), row.note)
        };
        let _ = writeln!(
            out,
            "| {} | {} | {} | {} | {} | {} | {verdict} |",
            row.check,
            row.group.known.words(),
            with_unit(row.expected, row.unit),
            with_unit(row.computed, row.unit),
            row.difference(),
            row.tolerance_words(),
        );
    }
    out.push_str("\n## Fields of the flown entries\n\n");
    for line in fields {
        let _ = writeln!(out, "- {line}");
    }
    out
}

/// The table as JSON.
pub(crate) fn json(rows: &[Row], fields: &[String]) -> String {
    let row = |row: &Row| {
        serde_json::json!({
            "group": row.group.name,
            "source": row.group.source,
            "check": row.check,
            "known": row.group.known.words(),
            "unit": row.unit,
            "expected": row.expected,
            "computed": row.computed,
            "difference": row.difference(),
            "tolerance": row.tolerance_words(),
            "verdict": row.verdict(),
            "known_to_miss": row.misses,
            "note": row.note,
        })
    };
    let rows: Vec<_> = rows.iter().map(row).collect();
    format!(
        "{:#}\n",
        serde_json::json!({ "rows": rows, "flights": fields })
    )
}

/// The outcome by group, as it stands on the pages of the program: the text of `src/report/verified.json`.
pub(crate) fn summary(rows: &[Row]) -> String {
    let mut groups: Vec<(&str, Vec<&Row>)> = Vec::new();
    for row in rows {
        match groups.iter_mut().find(|(name, _)| *name == row.group.name) {
            Some((_, members)) => members.push(row),
            None => groups.push((row.group.name, vec![row])),
        }
    }
    let group = |(name, rows): &(&str, Vec<&Row>)| {
        let mut known: Vec<&str> = rows.iter().map(|row| row.group.known.words()).collect();
        known.sort_unstable();
        known.dedup();
        let outside: Vec<_> = rows
            .iter()
            .filter(|row| !row.holds())
            .map(|row| {
                serde_json::json!({
                    "check": row.check,
                    "difference": row.difference(),
                    "tolerance": row.tolerance_words(),
                    "why": row.note,
                })
            })
            .collect();
        serde_json::json!({
            "name": name,
            "known": known.join(", "),
            "checks": rows.len(),
            "within": rows.len() - outside.len(),
            "outside": outside,
        })
    };
    let groups: Vec<_> = groups.iter().map(group).collect();
    format!("{:#}\n", serde_json::Value::from(groups))
}
