//! Answers of a sweep kept on disk, a file a point, so that a sweep that was stopped goes on where it was.

use super::error::FileError;
use super::folder::{sha256, size_and_sha256};
use super::partial;
use crate::study::sweep::{Answer, Cell, Keeper, SweptStudy};
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};

/// A folder of kept answers.
///
/// A file is named by the hash of all that its answer depends on, the program itself included, and appears
/// whole or not at all. Numbers are written as texts that read back as the same bits.
#[derive(Debug)]
pub struct SweepStore {
    folder: PathBuf,
    study: &'static SweptStudy,
    anew: bool,
    /// Hash of the running program: another build may answer otherwise. Empty where it cannot be read.
    program: String,
}

impl SweepStore {
    /// The answers of a study in a folder, which is made; with `anew` none is found.
    ///
    /// # Errors
    /// [`FileError`] when the folder cannot be made.
    pub fn open(folder: &Path, study: &'static SweptStudy, anew: bool) -> Result<Self, FileError> {
        fs::create_dir_all(folder).map_err(|error| FileError::of(folder, error))?;
        Ok(Self {
            folder: folder.to_owned(),
            study,
            anew,
            program: program_sha256().unwrap_or_default(),
        })
    }

    fn file(&self, depends_on: &str) -> PathBuf {
        let all = format!("{}\n{depends_on}", self.program);
        self.folder.join(format!("{}.json", sha256(all.as_bytes())))
    }
}

fn program_sha256() -> Option<String> {
    let (_, hash) = size_and_sha256(&std::env::current_exe().ok()?).ok()?;
    Some(hash)
}

impl Keeper for SweepStore {
    type Error = FileError;

    fn find(&mut self, depends_on: &str) -> Option<Answer> {
        if self.anew {
            return None;
        }
        // A file that cannot be read or understood is as good as none: its point is flown again.
        let text = fs::read_to_string(self.file(depends_on)).ok()?;
        read(self.study, &serde_json::from_str(&text).ok()?)
    }

    fn keep(&mut self, depends_on: &str, answer: &Answer) -> Result<(), FileError> {
        let value = written(self.study, answer);
        partial::write(&self.file(depends_on), format!("{value:#}\n").as_bytes())
    }
}

fn written(study: &SweptStudy, answer: &Answer) -> Value {
    let cells = study.measures.iter().zip(&answer.cells);
    let cells: serde_json::Map<String, Value> = cells
        .map(|(measure, cell)| {
            let value = match cell {
                Cell::Number(number) => json!(format!("{number:?}")),
                Cell::Text(text) => json!(text),
                Cell::Missing => Value::Null,
            };
            (measure.key.to_owned(), value)
        })
        .collect();
    json!({ "study": study.name, "cells": cells, "remark": answer.remark })
}

fn read(study: &SweptStudy, value: &Value) -> Option<Answer> {
    let cells = value.get("cells")?.as_object()?;
    let cell = |key: &str, is_text: bool| match (cells.get(key)?, is_text) {
        (Value::Null, _) => Some(Cell::Missing),
        (Value::String(text), true) => Some(Cell::Text(text.clone())),
        (Value::String(number), false) => number.parse().ok().map(Cell::Number),
        _ => None,
    };
    let measures = study.measures.iter();
    Some(Answer {
        cells: measures
            .map(|measure| cell(measure.key, measure.is_text))
            .collect::<Option<Vec<Cell>>>()?,
        remark: value.get("remark")?.as_str()?.to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_reads_back_as_the_same_bits_and_a_spoilt_file_as_none() {
        let study = SweptStudy::find("pass").unwrap();
        let folder = std::env::temp_dir().join(format!("periband-store-{}", std::process::id()));
        let mut store = SweepStore::open(&folder, study, false).unwrap();
        let mut cells: Vec<Cell> = (1_u8..)
            .take(study.measures.len())
            .map(|i| Cell::Number(f64::from(i).sqrt() * 1e-7))
            .collect();
        cells[0] = Cell::Text("a \"b\"".to_owned());
        cells[3] = Cell::Missing;
        cells[4] = Cell::Number(-0.0);
        let answer = Answer {
            cells,
            remark: "é".to_owned(),
        };
        assert_eq!(store.find("x"), None);
        store.keep("x", &answer).unwrap();
        let found = store.find("x").unwrap();
        assert_eq!(format!("{found:?}"), format!("{answer:?}"));
        assert_eq!(store.find("y"), None);
        let mut anew = SweepStore::open(&folder, study, true).unwrap();
        assert_eq!(anew.find("x"), None);
        fs::write(store.file("x"), "{\"cells\": {").unwrap();
        assert_eq!(store.find("x"), None);
        fs::remove_dir_all(&folder).unwrap();
    }
}
