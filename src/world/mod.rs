//! What a ship flies through: body constants, the air against altitude, its dispersion and wind.
//!
//! Altitudes are heights above the oblate ellipsoid; turning a position into one is left to the dynamics.

pub mod air;
pub mod body;
pub mod curve;
pub mod error;
pub mod exponential;
pub mod gas;
pub mod grid;
pub mod model;
pub mod planet;
pub mod table;

pub use air::{AirPoint, AirState};
pub use body::Body;
pub use error::WorldError;
pub use exponential::ExponentialWorld;
pub use gas::{Gas, Species};
pub use grid::Grid;
pub use model::{Known, Quality, Source, World};
pub use planet::Planet;
pub use table::AirTable;
