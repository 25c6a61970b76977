//! Many passes: draws, flights in lanes on every core, limits, and what the counts say.

pub mod air;
pub mod distribution;
pub mod draws;
pub mod engine;
mod fixed;
pub mod interval;
pub mod limits;
pub mod people;
pub mod prior;
pub mod problem;
pub mod quantile;
pub mod tally;

pub use engine::{Fleet, Progress, Stopped};
pub use limits::{LimitKind, LimitSet};
pub use problem::{Problem, ProblemError};
pub use tally::Tally;
