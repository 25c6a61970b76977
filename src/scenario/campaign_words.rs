//! A campaign in plain words.

use super::campaign::Campaign;
use super::campaign_rule::{Controlled, Heating, Memory};
use super::wording::say;
use crate::numeric::units::{Dimension, format_number};

impl Controlled {
    /// The name of the quantity.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::HeatFlux => "heat flux",
            Self::DynamicPressure => "dynamic pressure",
            Self::Deceleration => "deceleration",
        }
    }

    /// Its key in a scenario.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::HeatFlux => "heat_flux",
            Self::DynamicPressure => "dynamic_pressure",
            Self::Deceleration => "deceleration",
        }
    }

    /// What it measures.
    #[must_use]
    pub fn dimension(self) -> Dimension {
        match self {
            Self::HeatFlux => Dimension::HeatFlux,
            Self::DynamicPressure => Dimension::Pressure,
            Self::Deceleration => Dimension::Acceleration,
        }
    }
}

impl Heating {
    /// Which heat flux counts.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Flown => "heat flux of the stagnation point as flown",
            Self::FreeMolecular => "heat flux of free-molecular flow throughout",
        }
    }
}

/// The lines of a campaign.
pub(super) fn campaign_in_words(campaign: &Campaign) -> Vec<String> {
    let length = |m| say(m, Dimension::Length);
    let share = |share: f64| format!("{}\u{a0}%", format_number(100.0 * share));
    let control = &campaign.control;
    let kept = |si| say(si, control.quantity.dimension());
    let mut lines = vec![
        format!(
            "{} campaigns down to an apoapsis of {}, then the periapsis raised to {}",
            campaign.campaigns,
            length(campaign.target_apoapsis_m),
            length(campaign.raised_periapsis_m)
        ),
        format!(
            "trims keep the expected peak {} between {} and {}, aiming for {}",
            control.quantity.words(),
            kept(control.low),
            kept(control.high),
            kept(control.target)
        ),
        campaign.heating.words().to_owned(),
    ];
    if let Some(first_m) = campaign.first_periapsis_m {
        lines.push(format!("first periapsis at {}", length(first_m)));
    }
    lines.push(match campaign.walk_in.passes {
        0 => "no walk-in".to_owned(),
        passes => format!(
            "walk-in over {passes} passes from {} of the band",
            share(campaign.walk_in.first_share)
        ),
    });
    lines.extend(campaign.walk_out.map(|walk_out| {
        format!(
            "below an apoapsis of {} the band is {} of itself",
            length(walk_out.below_apoapsis_m),
            share(walk_out.share)
        )
    }));
    lines.extend(campaign.lifetime.map(|lifetime| {
        format!(
            "the orbit must last {} without a trim, until its apoapsis is at {}",
            say(lifetime.time_s, Dimension::Time),
            length(lifetime.until_apoapsis_m)
        )
    }));
    lines.push(match campaign.memory {
        Memory::PerPass(correlation) => format!(
            "the density of a pass is correlated by {} with that of the pass before",
            format_number(correlation)
        ),
        Memory::Time(time_s) => format!(
            "the density forgets itself over {}",
            say(time_s, Dimension::Time)
        ),
    });
    lines.push(format!(
        "the estimate of the density gives the last pass a weight of {}",
        share(campaign.weight_of_last)
    ));
    let trims = &campaign.trims;
    lines.push(format!(
        "trims from {} to {}, errors of {} in size and {} in direction",
        say(trims.smallest_m_s, Dimension::Speed),
        say(trims.largest_m_s, Dimension::Speed),
        share(trims.size_error),
        say(trims.pointing_error_rad, Dimension::Angle)
    ));
    lines.push(format!(
        "given up after {} passes or {}",
        campaign.most_passes,
        say(campaign.longest_s, Dimension::Time)
    ));
    lines
}
