//! One pass through the air: where it starts, how it flies, how it ends, which orbit is left.

pub mod approach;
pub mod batch;
mod crossing;
pub mod dynamics;
pub mod ending;
pub mod extremes;
mod lane;
mod lockstep;
pub mod models;
pub mod orbit;
pub mod reference;
pub mod settings;
pub mod stepper;

pub use approach::{Approach, EntryState};
pub use dynamics::Sample;
pub use ending::{Ending, PassResult};
pub use models::Models;
