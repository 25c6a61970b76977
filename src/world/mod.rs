//! What a ship flies through: body constants, the air against altitude, its dispersion and wind.
//!
//! Altitudes are heights above the oblate ellipsoid; turning a position into one is left to the dynamics.

pub mod air;
pub mod body;
pub mod bundled;
mod cell;
pub mod curve;
pub mod dispersion;
pub mod error;
pub mod exponential;
mod file;
mod file_air;
mod file_body;
mod file_moons;
mod file_presets;
mod file_profile;
pub mod gas;
pub mod grid;
pub mod layers;
pub mod model;
pub mod moon;
pub mod planet;
pub mod pole;
pub mod preset;
pub mod profile;
pub mod radiation;
pub mod shape;
pub mod table;
pub mod ussa1976;
mod ussa1976_upper;

#[cfg(test)]
mod bundled_air;
#[cfg(test)]
mod bundled_bodies;
pub mod waves;

pub use air::{AirPoint, AirState};
pub use body::Body;
pub use bundled::{Listing, bundled_names, listing};
pub use dispersion::{Dispersion, ScaleHeightError, SmallScale};
pub use error::WorldError;
pub use exponential::ExponentialWorld;
pub use gas::{Gas, Species};
pub use grid::Grid;
pub use model::{Known, Quality, RadiativeGas, Source, World};
pub use moon::Moon;
pub use planet::Planet;
pub use preset::Preset;
pub use profile::Profile;
pub use radiation::Radiation;
pub use table::{AirTable, Cell};
pub use ussa1976::Ussa1976;
