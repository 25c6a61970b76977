//! Whole campaigns of aerobraking: many rounds of one orbit, each with its pass through the air, its
//! measured peak and, where the rule asks for it, a trim at apoapsis.
//!
//! `start` makes the first orbit, `forecast` what an operator expects of the next pass, `rule` decides on
//! the trim, `luck` draws what the operator cannot know, `flight` is one campaign between its passes,
//! `burns` its burns and its end, and `fleet` flies many of them eight at a time. What their results say is left to a study.

mod burns;
mod fleet;
mod flight;
mod forecast;
mod luck;
mod plan;
mod record;
mod rule;
mod start;

pub use fleet::fly;
pub use forecast::Outlook;
pub use plan::{Plan, PlanError};
pub use record::{CampaignEnding, CampaignResult, FlownCampaign, PassRow, Phase};
pub use rule::BandNow;
pub use start::{StartOrbit, Starts};
