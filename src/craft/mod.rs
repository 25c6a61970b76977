//! The ship in flight: what the air does to it, and what its engine can mend.

mod aero_cells;
pub mod aero_csv;
pub mod aero_error;
pub mod aero_grid;
mod aero_slices;
pub mod aero_table;
pub mod blunt_cone;
pub mod convective;
pub mod engine;
pub mod fitting;
pub mod flux_history;
pub mod free_molecular;
mod graded;
pub mod heating;
pub mod layer;
pub mod limit_curve;
mod monotone;
pub mod named_curves;
pub mod newtonian;
pub mod opinions;
pub mod people;
pub mod radiative;
pub mod rarefaction;
pub mod shield;
pub mod ship_models;
pub mod skin;
pub mod slab;
mod slab_equations;
pub mod spots;
pub mod validity;
pub mod vehicle;
pub mod wall;

pub use ship_models::ShipModels;
pub use vehicle::Vehicle;
