//! The figures, and the layout they share. Each figure is plain data that can draw itself
//! (see [`Figure`](super::figure::Figure)); none of them knows a study.

mod axes;
pub mod bars;
pub mod break_curves;
pub mod distribution;
mod frame;
mod glyphs;
mod heading;
pub mod history;
pub mod influence_bars;
mod labels;
pub mod landing_map;
pub mod lines;
pub mod map;
pub(super) mod paint;
pub mod palette;
mod panel;
mod placing;
pub mod profile;
pub mod residuals;
pub mod ribbons;
mod scale;
pub mod scene;
pub mod spreads;
pub mod stacked;
mod strip;
mod ticks;
pub mod tiles;
pub mod walls;
