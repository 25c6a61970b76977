//! One pass through the air: where it starts, how it flies, how it ends, which orbit is left.

pub mod after;
pub mod approach;
pub mod apsis;
pub mod batch;
pub mod burn;
mod burn_before;
pub mod burn_plan;
mod burn_shortage;
mod burn_size;
pub mod coast;
pub mod conic;
mod crossing;
pub mod dynamics;
pub mod elements;
pub mod ending;
pub mod exposure;
pub mod extremes;
pub mod flyby;
mod gather;
mod inbound;
mod lane;
mod lockstep;
pub mod mend;
pub mod models;
pub mod orbit;
pub mod piloted;
pub mod reference;
pub mod settings;
mod solver;
pub mod stays;
pub mod stepper;
pub mod trace;

pub use approach::{Approach, EntryState};
pub use dynamics::Sample;
pub use ending::{Ending, PassResult};
pub use models::Models;
