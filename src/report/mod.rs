//! What a person or another program gets to see: tables, figures, pages, the run folder.

pub mod band_text;
pub mod caution;
pub mod limit_words;
pub mod number;
pub mod pass_text;
pub mod summary;
