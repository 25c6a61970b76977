//! `periband` finds the safe periapsis band of a pass through an atmosphere.
//!
//! One way through, each step using only what stands before it:
//!
//! ```text
//! scenario YAML -> checked scenario (SI) -> models (world, craft) -> one pass
//!               -> ensemble -> study -> report -> files, screen
//! ```
//!
//! [`numeric`] holds numbers and units; [`scenario`] what the user wrote; [`world`] and [`craft`] the
//! models; [`pass`] one flight; [`steering`] a ship that steers itself through it; [`ensemble`] many flights and what their counts say; [`study`] one file a
//! question; [`report`] what is shown and kept; [`cli`] the command line. Everything a command does can be
//! done from here: load a [`Case`], then [`find_band`] or [`fly_single`].

pub mod cli;
pub mod craft;
pub mod ensemble;
pub mod numeric;
pub mod pass;
pub mod report;
pub mod scenario;
pub mod steering;
pub mod study;
pub mod world;

pub use ensemble::{Fleet, LimitKind, Problem, Progress, Tally};
pub use pass::{Ending, PassResult};
pub use scenario::Scenario;
pub use study::single::fly_single;
pub use study::{Band, BandResult, Case, find_band};
pub use world::World;
