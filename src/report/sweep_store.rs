//! Answers of a sweep kept on disk, a file a point, so that a sweep that was stopped goes on where it was.

use super::part_store::PartStore;
use super::seal::Fault;
use crate::study::sweep::{Answer, Cell, Keeper, SweptStudy};
use serde_json::{Value, json};
use std::convert::Infallible;
use std::path::Path;

/// A folder of kept answers. Numbers are written as texts that read back as the same bits.
#[derive(Debug)]
pub struct SweepStore {
    parts: PartStore,
    study: &'static SweptStudy,
    anew: bool,
    /// Whether answers can be written.
    keeps: bool,
}

/// Kind of the parts.
const POINT: &str = "point";

impl SweepStore {
    /// The answers of a study in a folder, which is made with the first of them; with `anew` none is found.
    #[must_use]
    pub fn new(folder: &Path, study: &'static SweptStudy, anew: bool) -> Self {
        Self {
            parts: PartStore::new(folder),
            study,
            anew,
            keeps: true,
        }
    }
}

impl Keeper for SweepStore {
    type Error = Infallible;

    fn find(&mut self, depends_on: &str) -> Option<Answer> {
        if self.anew {
            return None;
        }
        let found = self.parts.find(POINT, depends_on).and_then(|value| {
            read(self.study, &value).ok_or_else(|| Fault::Malformed("it is no answer".to_owned()))
        });
        match found {
            Ok(answer) => Some(answer),
            Err(Fault::Missing) => None,
            Err(fault) => {
                let file = self.parts.file(POINT, depends_on);
                log::warn!("{}: {fault}; its point is run again", file.display());
                None
            }
        }
    }

    fn keep(&mut self, depends_on: &str, answer: &Answer) -> Result<(), Infallible> {
        let value = written(self.study, answer);
        if self.keeps
            && let Err(error) = self.parts.keep(POINT, depends_on, &value)
        {
            // Said once: what is found is the answer, with or without a way to go on after a stop.
            self.keeps = false;
            log::warn!("{error}; what is found from now on is not kept for a sweep that goes on");
        }
        Ok(())
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
    use std::fs;

    #[test]
    fn an_answer_reads_back_as_the_same_bits_and_a_spoilt_file_as_none() {
        let study = SweptStudy::find("pass").unwrap();
        let folder = std::env::temp_dir().join(format!("periband-store-{}", std::process::id()));
        let mut store = SweepStore::new(&folder, study, false);
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
        let mut anew = SweepStore::new(&folder, study, true);
        assert_eq!(anew.find("x"), None);
        fs::write(store.parts.file(POINT, "x"), "{\"cells\": {").unwrap();
        assert_eq!(store.find("x"), None);
        fs::remove_dir_all(&folder).unwrap();
    }
}
