//! One run in many parts: what is fixed beforehand, what each part counts, and the band of all together.
//!
//! The plan fixes the aims, the histogram edges and which samples each shard flies. A part is a
//! [`Summary`] an aim; summaries merge exactly, in any order, so the whole does not know how it was cut.

pub mod design;
pub mod summary;
pub mod whole;

pub use design::{Design, DesignError, Question, design, shard_range};
pub use summary::{Summary, fly_shard};
pub use whole::{Whole, judge};
