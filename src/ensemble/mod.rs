//! Many passes: draws, flights in lanes on every core, limits, and what the counts say.

pub mod air;
pub mod before;
pub mod campaign;
pub mod distribution;
pub mod draws;
pub mod engine;
mod fixed;
pub mod interval;
mod launch;
pub mod legs;
pub mod limits;
pub mod luck;
pub mod maneuver;
pub mod people;
pub mod problem;
pub mod problem_error;
pub mod quantile;
pub mod rare;
pub mod sobol;
pub mod sorties;
pub mod sources;
pub mod steered;
pub mod tally;

pub use before::Before;
pub use engine::{Fleet, Progress, Stopped};
pub use limits::{LimitKind, LimitSet};
pub use maneuver::ManeuverDraws;
pub use problem::Problem;
pub use problem_error::ProblemError;
pub use tally::Tally;
