//! What a study hands back, made readable and kept: numbers and tables on the screen, figures,
//! Parquet and CSV tables, a page, and the folder of a run.
//!
//! The pieces know no study; a study's own report is put together from them.

pub mod band_figures;
pub mod band_files;
mod band_page;
pub mod band_text;
pub mod campaign_figures;
pub mod campaign_files;
mod campaign_rows;
pub mod campaign_summary;
pub mod campaign_tables;
pub mod campaign_text;
pub mod capture_figures;
pub mod capture_files;
pub mod capture_summary;
pub mod capture_tables;
pub mod capture_text;
pub mod capture_words;
pub mod caution;
pub mod closing;
pub mod corridor_edges;
pub mod corridor_figures;
pub mod corridor_files;
pub mod corridor_summary;
pub mod corridor_text;
pub mod corridor_words;
pub mod error;
pub mod figure;
pub mod folder;
pub mod grid;
pub mod heat_text;
pub mod influence_files;
pub mod influence_summary;
pub mod influence_text;
pub mod landing_figures;
pub mod landing_files;
pub mod landing_summary;
pub mod landing_text;
pub mod limit_words;
pub mod live;
pub mod models;
pub mod number;
pub mod page;
mod partial;
pub mod pass_files;
mod pass_page;
pub mod pass_text;
pub mod people_words;
pub mod plot;
pub mod remarks;
pub mod rows;
pub mod run_facts;
mod slider;
pub mod steered;
pub mod summary;
pub mod sweep_files;
pub mod sweep_store;
pub mod sweep_text;
pub mod table;
pub mod text;
pub mod verified;
mod whole;
pub mod world_files;

pub use error::{FileError, ReportError};
