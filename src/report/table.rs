//! Tables kept for other programs: Parquet and CSV. The only user of polars.
//!
//! A value that is not finite is written as a null, never as NaN: programs that read Parquet disagree
//! about NaN. The same input gives the same bytes.

use std::io::Write;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use polars::error::PolarsError;
use polars::io::parquet::write::BatchedWriter;
use polars::prelude::{
    Column as Stored, CsvWriter, DataFrame, KeyValueMetadata, NamedFrom, ParquetCompression,
    ParquetReader, ParquetWriter, SchemaRef, SerReader, SerWriter, Series, StatisticsOptions,
};

use super::error::{FileError, ReportError};
use super::partial::PartialFile;

/// Rows to a row group where a table is written at once.
const ROWS_TO_A_GROUP: usize = 250_000;

/// A named column.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Name, with the SI unit where it has one: `peak_deceleration_m_s2`.
    pub name: String,
    /// Its values.
    pub values: Values,
}

/// The values of a column.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    /// Numbers; those that are not finite are written as nulls.
    Numbers(Vec<f64>),
    /// Numbers that may be missing.
    MaybeNumbers(Vec<Option<f64>>),
    /// Whole numbers.
    Integers(Vec<i64>),
    /// Texts.
    Texts(Vec<String>),
}

impl Values {
    fn len(&self) -> usize {
        match self {
            Self::Numbers(values) => values.len(),
            Self::MaybeNumbers(values) => values.len(),
            Self::Integers(values) => values.len(),
            Self::Texts(values) => values.len(),
        }
    }
}

macro_rules! values_from {
    ($($from:ty => $kind:ident),*) => {$(
        impl From<$from> for Values {
            fn from(values: $from) -> Self {
                Self::$kind(values)
            }
        }
    )*};
}
values_from!(Vec<f64> => Numbers, Vec<Option<f64>> => MaybeNumbers, Vec<i64> => Integers, Vec<String> => Texts);

impl Column {
    /// A column of this name.
    pub fn new(name: impl Into<String>, values: impl Into<Values>) -> Self {
        Self {
            name: name.into(),
            values: values.into(),
        }
    }

    fn stored(&self) -> Stored {
        let name = self.name.as_str().into();
        let finite = |value: f64| value.is_finite().then_some(value);
        match &self.values {
            Values::Numbers(values) => {
                let values: Vec<Option<f64>> = values.iter().map(|v| finite(*v)).collect();
                Series::new(name, values)
            }
            Values::MaybeNumbers(values) => {
                let values: Vec<Option<f64>> = values.iter().map(|v| v.and_then(finite)).collect();
                Series::new(name, values)
            }
            Values::Integers(values) => Series::new(name, values),
            Values::Texts(values) => Series::new(name, values),
        }
        .into()
    }
}

fn frame(path: &Path, columns: &[Column]) -> Result<DataFrame, ReportError> {
    let wanted = columns.first().map_or(0, |column| column.values.len());
    if let Some(odd) = columns.iter().find(|column| column.values.len() != wanted) {
        return Err(ReportError::UnevenColumns {
            path: path.to_owned(),
            column: odd.name.clone(),
            found: odd.values.len(),
            wanted,
        });
    }
    let stored = columns.iter().map(Column::stored).collect();
    DataFrame::new(wanted, stored).map_err(|error| failed(path, error))
}

/// As [`failed`], of a table whose file knows why it could not be written.
fn failed_in(path: &Path, file: &Shared, error: PolarsError) -> ReportError {
    file.file()
        .fault()
        .map_or_else(|| failed(path, error), ReportError::from)
}

fn failed(path: &Path, error: PolarsError) -> ReportError {
    match error {
        PolarsError::IO { error, .. } => {
            let error = std::io::Error::new(error.kind(), error.to_string());
            FileError::of(path, error).into()
        }
        error => ReportError::Table {
            path: path.to_owned(),
            reason: error.to_string(),
        },
    }
}

/// Writes a table as a CSV file: a line of names, then the rows; a null is an empty field.
///
/// # Errors
/// [`ReportError`] when columns differ in length or the file cannot be written.
pub fn write_csv(path: &Path, columns: &[Column]) -> Result<(), ReportError> {
    let mut table = frame(path, columns)?;
    let mut file = PartialFile::create(path)?;
    CsvWriter::new(&mut file)
        .finish(&mut table)
        .map_err(|error| failed(path, error))?;
    Ok(file.commit()?)
}

/// Writes a table as a Parquet file in one go; `notes` are names and values kept in the file's footer.
///
/// # Errors
/// [`ReportError`] when columns differ in length or the file cannot be written.
pub fn write_parquet(
    path: &Path,
    columns: &[Column],
    notes: &[(String, String)],
) -> Result<(), ReportError> {
    let mut rows = ParquetRows::create(path, notes)?;
    rows.write(columns)?;
    rows.finish()
}

/// Reads columns of a Parquet file back: those whose names are wanted, in the order of the file.
///
/// # Errors
/// [`ReportError`] when the file cannot be read, is no Parquet file, or a wanted column is neither numbers nor texts.
pub fn read_parquet(
    path: &Path,
    wanted: impl Fn(&str) -> bool,
) -> Result<Vec<Column>, ReportError> {
    let unreadable = |reason: String| ReportError::Unreadable {
        path: path.to_owned(),
        reason,
    };
    let failed = |error: PolarsError| unreadable(error.to_string());
    let file = std::fs::File::open(path).map_err(|error| FileError::of(path, error))?;
    let mut reader = ParquetReader::new(file);
    let schema = reader.schema().map_err(failed)?;
    let names = schema.iter_names().map(ToString::to_string);
    let names = names.filter(|name| wanted(name)).collect();
    // The library gives up on some torn files instead of saying so.
    let read = AssertUnwindSafe(|| reader.with_columns(Some(names)).finish());
    let table = catch_unwind(read).map_err(|_| unreadable("it is torn".to_owned()))?;
    let column = |stored: &Stored| {
        let values =
            values(stored).ok_or_else(|| unreadable("a column has a type of its own".to_owned()));
        Ok(Column::new(stored.name().to_string(), values?))
    };
    table
        .map_err(failed)?
        .columns()
        .iter()
        .map(column)
        .collect()
}

/// What a column holds; whole numbers and texts are never missing.
fn values(stored: &Stored) -> Option<Values> {
    if let Ok(numbers) = stored.f64() {
        return Some(Values::MaybeNumbers(numbers.iter().collect()));
    }
    if let Ok(whole) = stored.i64() {
        return Some(Values::Integers(whole.iter().collect::<Option<_>>()?));
    }
    let texts = stored
        .str()
        .ok()?
        .iter()
        .map(|text| text.map(str::to_owned));
    Some(Values::Texts(texts.collect::<Option<_>>()?))
}

/// A Parquet file that is written as its rows come, one row group or more to each call.
///
/// The first call sets names and types. Nothing is left behind unless [`ParquetRows::finish`] is called.
///
/// ```
/// use periband::report::table::{Column, ParquetRows};
/// # let folder = std::env::temp_dir().join("periband-doc-rows");
/// # std::fs::create_dir_all(&folder)?;
/// let notes = [("seed".to_string(), "42".to_string())];
/// let mut rows = ParquetRows::create(&folder.join("samples.parquet"), &notes)?;
/// for block in 0..3 {
///     let samples: Vec<i64> = (100 * block..100 * (block + 1)).collect();
///     rows.write(&[Column::new("sample", samples)])?;
/// }
/// rows.finish()?;
/// # std::fs::remove_dir_all(&folder)?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub struct ParquetRows {
    path: PathBuf,
    notes: Vec<(String, String)>,
    file: Shared,
    open: Option<Open>,
}

/// The file, shared with the library's writer, which never gives it back.
#[derive(Clone)]
struct Shared(Arc<Mutex<PartialFile>>);

impl Shared {
    fn file(&self) -> MutexGuard<'_, PartialFile> {
        // A panic elsewhere leaves the file as it was: incomplete, and removed when dropped.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Write for Shared {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.file().write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.file().flush()
    }
}

struct Open {
    schema: SchemaRef,
    writer: BatchedWriter<Shared>,
}

impl ParquetRows {
    /// Starts a file; `notes` are names and values kept in its footer, such as the scenario's hash and the seed.
    ///
    /// # Errors
    /// [`ReportError`] when the file cannot be made.
    pub fn create(path: &Path, notes: &[(String, String)]) -> Result<Self, ReportError> {
        Ok(Self {
            path: path.to_owned(),
            notes: notes.to_vec(),
            file: Shared(Arc::new(Mutex::new(PartialFile::create(path)?))),
            open: None,
        })
    }

    /// Writes rows. The columns' names and types must be those of the first call.
    /// After an error the file cannot be finished to any use; drop it.
    ///
    /// # Errors
    /// [`ReportError`] when columns differ in length or from the first call, or the file cannot be written.
    pub fn write(&mut self, columns: &[Column]) -> Result<(), ReportError> {
        let table = frame(&self.path, columns)?;
        let (path, file) = (&self.path, &self.file);
        let open = match &mut self.open {
            Some(open) => open,
            None => self.open.insert(Open {
                writer: ParquetWriter::new(self.file.clone())
                    .with_compression(ParquetCompression::Zstd(None))
                    .with_statistics(StatisticsOptions::default())
                    .with_key_value_metadata(Some(KeyValueMetadata::from_static(
                        self.notes.clone(),
                    )))
                    .batched(table.schema())
                    .map_err(|error| failed_in(path, file, error))?,
                schema: table.schema().clone(),
            }),
        };
        if *table.schema() != open.schema {
            return Err(ReportError::Table {
                path: self.path.clone(),
                reason: "its columns changed between two writes".into(),
            });
        }
        for start in (0..table.height()).step_by(ROWS_TO_A_GROUP) {
            let part = table.slice(i64::try_from(start).unwrap_or(i64::MAX), ROWS_TO_A_GROUP);
            open.writer
                .write_batch(&part)
                .map_err(|error| failed_in(path, file, error))?;
        }
        Ok(())
    }

    /// Writes the footer and gives the file its name.
    ///
    /// # Errors
    /// [`ReportError`] when the file cannot be completed, or no columns were ever written.
    pub fn finish(self) -> Result<(), ReportError> {
        let Some(open) = &self.open else {
            return Err(ReportError::Table {
                path: self.path.clone(),
                reason: "it has no columns".into(),
            });
        };
        open.writer
            .finish()
            .map_err(|error| failed_in(&self.path, &self.file, error))?;
        Ok(self.file.file().commit()?)
    }
}

#[cfg(test)]
mod tests {
    use polars::prelude::{ParquetReader, SerReader};

    use super::*;

    fn columns(from: i64) -> Vec<Column> {
        vec![
            Column::new("sample", vec![from, from + 1, from + 2]),
            Column::new("peak_m_s2", vec![1.5, f64::NAN, f64::INFINITY]),
            Column::new("exit_speed_m_s", vec![Some(4e3), None, Some(f64::NAN)]),
            Column::new(
                "ending",
                ["captured", "a, \"b\"", "é"].map(String::from).to_vec(),
            ),
        ]
    }

    fn folder(name: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("periband-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        folder
    }

    fn notes() -> Vec<(String, String)> {
        vec![("seed".into(), "42".into())]
    }

    #[test]
    fn rows_written_in_parts_are_read_back_with_nulls_for_what_is_not_finite() {
        let folder = folder("rows");
        let path = folder.join("samples.parquet");
        let mut rows = ParquetRows::create(&path, &notes()).unwrap();
        rows.write(&columns(0)).unwrap();
        rows.write(&columns(3)).unwrap();
        assert!(!path.exists(), "the file has no name before it is finished");
        rows.finish().unwrap();
        let file = std::fs::File::open(&path).unwrap();
        let table = ParquetReader::new(file).finish().unwrap();
        assert_eq!(table.shape(), (6, 4));
        assert_eq!(
            table.column("sample").unwrap().i64().unwrap().get(5),
            Some(5)
        );
        assert_eq!(table.column("peak_m_s2").unwrap().null_count(), 4);
        assert_eq!(table.column("exit_speed_m_s").unwrap().null_count(), 4);
        assert_eq!(
            table
                .column("exit_speed_m_s")
                .unwrap()
                .f64()
                .unwrap()
                .get(3),
            Some(4e3)
        );
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn the_same_table_gives_the_same_bytes() {
        let folder = folder("same");
        let write = |name: &str| {
            let path = folder.join(name);
            write_parquet(&path, &columns(0), &notes()).unwrap();
            std::fs::read(path).unwrap()
        };
        assert_eq!(write("a.parquet"), write("b.parquet"));
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn a_csv_quotes_what_it_must_and_leaves_nulls_empty() {
        let folder = folder("csv");
        let path = folder.join("t.csv");
        write_csv(&path, &columns(0)).unwrap();
        let text = std::fs::read_to_string(&path).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines[0], "sample,peak_m_s2,exit_speed_m_s,ending");
        assert_eq!(lines[1], "0,1.5,4000.0,captured");
        assert_eq!(lines[2], "1,,,\"a, \"\"b\"\"\"");
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn columns_that_do_not_fit_are_refused_and_leave_no_file() {
        let folder = folder("uneven");
        let path = folder.join("t.parquet");
        let mut uneven = columns(0);
        uneven.push(Column::new("short", vec![1_i64]));
        let error = write_parquet(&path, &uneven, &[]).unwrap_err();
        assert!(error.to_string().contains("`short`"), "{error}");
        let mut rows = ParquetRows::create(&path, &[]).unwrap();
        rows.write(&columns(0)).unwrap();
        assert!(rows.write(&columns(0)[..2]).is_err());
        drop(rows);
        assert!(ParquetRows::create(&path, &[]).unwrap().finish().is_err());
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 0);
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn a_folder_that_is_gone_is_made_again_and_a_file_in_its_place_is_named() {
        let folder = std::env::temp_dir().join(format!("periband-gone-{}", std::process::id()));
        write_csv(&folder.join("t.csv"), &columns(0)).unwrap();
        assert!(folder.join("t.csv").is_file());
        let path = folder.join("t.csv/deeper/t.csv");
        let error = write_csv(&path, &columns(0)).unwrap_err().to_string();
        assert!(error.contains("t.csv"), "{error}");
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
