//! The ship in flight: what the air does to it, and what its engine can mend.

pub mod engine;
pub mod heating;
pub mod vehicle;

pub use vehicle::Vehicle;
