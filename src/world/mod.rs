//! What a ship flies through: body constants, the air against altitude, its dispersion and wind.
//!
//! Altitudes are heights above the oblate ellipsoid; turning a position into one is left to the dynamics.

pub mod air;
pub mod body;
pub mod bundled;
mod cell;
pub mod curve;
pub mod error;
pub mod exponential;
mod file;
mod file_air;
mod file_body;
mod file_profile;
pub mod gas;
pub mod grid;
pub mod layers;
pub mod model;
pub mod planet;
pub mod profile;
pub mod table;
pub mod ussa1976;
mod ussa1976_upper;

pub use air::{AirPoint, AirState};
pub use body::Body;
pub use bundled::{Listing, bundled_names, listing};
pub use error::WorldError;
pub use exponential::ExponentialWorld;
pub use gas::{Gas, Species};
pub use grid::Grid;
pub use model::{Known, Quality, Source, World};
pub use planet::Planet;
pub use profile::Profile;
pub use table::{AirTable, Cell};
pub use ussa1976::Ussa1976;
