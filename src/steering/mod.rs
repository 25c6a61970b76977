//! A ship that is steered: what it senses, what it believes of the air, what it predicts, what it does.
//!
//! The pilot sees the flight only through [`senses`]: its navigation with its errors and the sensed
//! acceleration. From these it keeps an estimate of the drag ([`estimate`]), predicts what would follow
//! from a bank angle ([`predict`], eight ships at once, along the flight that is [`foreseen`]), corrects that
//! angle until the target is met under the limits ([`correct`]), chooses the side of the bank ([`side`] for an
//! inclination, [`reversal`] for a place) and moves it no faster than it can ([`motion`]).

pub mod correct;
pub mod estimate;
pub mod flight;
pub mod foreseen;
pub mod gate;
pub mod guide;
pub mod knots;
pub mod motion;
pub mod pilot;
pub mod predict;
pub mod reversal;
pub mod seat;
pub mod senses;
pub mod side;
pub mod skirt;
pub mod target;

pub use gate::Gate;
pub use guide::Guide;
pub use knots::{Knot, Log};
pub use pilot::Steerer;
pub use seat::Crew;
pub use senses::Truth;
pub use target::Target;
