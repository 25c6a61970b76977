//! Numbers: the scalar trait, the eight-lane number, elementary functions, vectors, roots and units.

pub mod angle;
pub mod counts;
pub mod dimension;
pub mod elementary;
pub mod lanes;
pub mod quantity;
pub mod real;
pub mod root;
pub mod units;
pub mod vec3;
pub mod written;

pub use lanes::Lanes;
pub use real::Real;
pub use vec3::Vec3;
