//! What the user wrote: a scenario file, loaded, bounded and checked into SI units.

pub mod arrival;
pub mod ask;
pub mod bound;
pub mod document;
pub mod likeness;
pub mod limits;
pub mod message;
mod nesting;
mod node;
mod paths;
pub mod section;
pub mod ship;
mod source;
mod token;
mod tree;
pub mod uncertainty;
pub mod value;
mod walk;
mod yaml;

/// A checked scenario: everything in SI units and inside its valid range.
#[derive(Debug, Clone)]
pub struct Scenario {
    /// What the scenario is about, for titles.
    pub title: String,
    /// A bundled world's name, or the path of a world file (relative to the scenario file).
    pub world: String,
    /// The ship.
    pub ship: ship::Ship,
    /// How it arrives.
    pub arrival: arrival::Arrival,
    /// What is uncertain.
    pub uncertainty: uncertainty::Uncertainty,
    /// What must hold.
    pub limits: limits::Limits,
    /// What is asked.
    pub ask: ask::Ask,
}
