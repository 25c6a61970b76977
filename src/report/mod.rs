//! What a study hands back, made readable and kept: numbers and tables on the screen, figures,
//! Parquet and CSV tables, a page, and the folder of a run.
//!
//! The pieces know no study; a study's own report is put together from them.

pub mod band_figures;
pub mod band_files;
pub mod band_text;
pub mod caution;
pub mod error;
pub mod figure;
pub mod folder;
pub mod grid;
pub mod limit_words;
pub mod number;
pub mod page;
mod partial;
pub mod pass_files;
pub mod pass_text;
pub mod plot;
pub mod remarks;
pub mod rows;
pub mod run_facts;
pub mod summary;
pub mod table;
pub mod text;
mod whole;
pub mod world_files;

pub use error::{FileError, ReportError};
