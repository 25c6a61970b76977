//! One file a question: what the counts of many passes say about it.

pub mod aims;
pub mod band;
pub mod case;
pub mod learn;
pub mod opening;
pub mod outcome;
pub mod single;

pub use band::{Band, BandError, BandResult, Edge, find_band};
pub use case::{Case, CaseError};
