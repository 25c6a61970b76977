//! One file a question: what the counts of many passes say about it.

pub mod afterwards;
pub mod aims;
pub mod band;
pub mod campaign;
mod campaign_case;
mod campaign_quantity;
mod campaign_timeline;
mod campaign_walls;
pub mod capture;
pub mod case;
mod choice;
pub mod compare;
pub mod corridor;
pub mod delivery;
mod edge;
pub mod held;
pub mod influence;
pub mod kept;
pub mod landing;
pub mod learn;
pub mod live;
pub mod nose;
pub mod opening;
pub mod opm_arrival;
pub mod outcome;
pub mod rare;
pub mod second_opinion;
pub mod shards;
pub mod single;
pub mod sweep;
pub mod verdicts;
pub mod walls;

pub use band::{Band, BandError, BandResult, Edge, find_band};
pub use case::{Case, CaseError};
