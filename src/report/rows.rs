//! Flown samples as table rows, written as they come.

use super::draws;
use super::error::ReportError;
use super::table::{Column, ParquetRows};
use crate::ensemble::LimitKind;
use crate::ensemble::engine::FlownSample;
use crate::ensemble::limits::measured;
use crate::study::Case;
use crate::study::outcome::Quantity;
use std::path::Path;

/// Samples gathered before they are written as a row group.
const GATHERED: usize = 100_000;

/// The file `samples.parquet`, being written.
pub struct SampleRows<'c> {
    file: ParquetRows,
    aims_m: Vec<f64>,
    gathered: Vec<FlownSample>,
    limits: Vec<LimitKind>,
    /// Whose draws stand beside the results, where they are wanted.
    draws: Option<&'c Case>,
    failed: Option<ReportError>,
}

impl<'c> SampleRows<'c> {
    /// Starts the file; `aims_m` are the aims by the index that samples carry.
    ///
    /// # Errors
    /// [`ReportError`] when the file cannot be made.
    pub fn create(
        path: &Path,
        case: &Case,
        aims_m: &[f64],
        notes: &[(String, String)],
    ) -> Result<Self, ReportError> {
        let entries = case.problem.limits().entries();
        Ok(Self {
            file: ParquetRows::create(path, notes)?,
            aims_m: aims_m.to_vec(),
            gathered: Vec::with_capacity(GATHERED),
            limits: entries.iter().map(|limit| limit.kind).collect(),
            draws: None,
            failed: None,
        })
    }

    /// The same file with what was drawn for each sample beside its results.
    #[must_use]
    pub fn with_draws(self, case: &'c Case) -> Self {
        Self {
            draws: Some(case),
            ..self
        }
    }

    /// Takes in a sample. What goes wrong with the file is told by [`SampleRows::finish`].
    pub fn take(&mut self, sample: &FlownSample) {
        self.gathered.push(*sample);
        if self.gathered.len() == GATHERED {
            self.write();
        }
    }

    fn write(&mut self) {
        if self.failed.is_none() && !self.gathered.is_empty() {
            let mut columns = columns(&self.gathered, &self.aims_m, &self.limits);
            let draws = |case| draws::columns(case, &self.gathered, &self.aims_m);
            columns.extend(self.draws.map_or_else(Vec::new, draws));
            self.failed = self.file.write(&columns).err();
        }
        self.gathered.clear();
    }

    /// Writes what is left and completes the file.
    ///
    /// # Errors
    /// [`ReportError`] when any part of the file could not be written.
    pub fn finish(mut self) -> Result<(), ReportError> {
        self.write();
        match self.failed.take() {
            Some(error) => Err(error),
            None => self.file.finish(),
        }
    }
}

fn columns(samples: &[FlownSample], aims_m: &[f64], limits: &[LimitKind]) -> Vec<Column> {
    let numbers =
        |of: &dyn Fn(&FlownSample) -> f64| -> Vec<f64> { samples.iter().map(of).collect() };
    let maybe = |of: &dyn Fn(&FlownSample) -> Option<f64>| -> Vec<Option<f64>> {
        samples.iter().map(of).collect()
    };
    let aim = |flown: &FlownSample| aims_m.get(flown.aim).copied().unwrap_or(f64::NAN) / 1e3;
    let whole = |number: u64| i64::try_from(number).unwrap_or(i64::MAX);
    let mut all = vec![
        Column::new("aim_periapsis_km", numbers(&aim)),
        Column::new(
            "sample",
            samples
                .iter()
                .map(|flown| whole(flown.sample))
                .collect::<Vec<_>>(),
        ),
        Column::new(
            "ending",
            samples
                .iter()
                .map(|flown| flown.result.ending.word().to_owned())
                .collect::<Vec<_>>(),
        ),
    ];
    for quantity in Quantity::ALL {
        all.push(Column::new(
            quantity.key(),
            maybe(&|flown| quantity.of(&flown.result)),
        ));
    }
    let done = |flown: &FlownSample, value: f64| flown.result.ending.is_flown().then_some(value);
    all.push(Column::new(
        "duration_s",
        maybe(&|flown| done(flown, flown.result.duration_s)),
    ));
    all.push(Column::new(
        "end_inertial_speed_m_s",
        maybe(&|flown| done(flown, flown.result.end_inertial_speed_m_s)),
    ));
    for (bit, &kind) in limits.iter().enumerate() {
        // What was measured for this limit alone stands beside it.
        let own = kind.spec().of.filter(|of| !Quantity::ALL.contains(of));
        if let Some(of) = own.filter(|of| *of != Quantity::SpotHeatFlux) {
            let number = kind.place().map_or(1, |place| place + 1);
            all.push(Column::new(
                of.numbered_key(number),
                maybe(&|flown| done(flown, measured(kind, &flown.result)?)),
            ));
        }
        let name = format!("broken_{}", kind.numbered_key());
        let broken: Vec<i64> = samples
            .iter()
            .map(|flown| i64::from(flown.broken >> bit & 1))
            .collect();
        all.push(Column::new(name, broken));
    }
    all
}
