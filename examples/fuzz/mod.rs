//! Broken inputs for every reader: see `examples/fuzz.rs`. The tests compile the same files.

pub(crate) mod formats;
pub(crate) mod mutate;
pub(crate) mod run;
mod shards;
