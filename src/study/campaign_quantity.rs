//! What is described over the campaigns of a run, with its unit.

use super::campaign::CampaignOutcome;
use super::outcome::certain;
use crate::craft::engine::STANDARD_GRAVITY_M_S2 as G0;
use crate::ensemble::campaign::{CampaignEnding, CampaignResult};
use crate::ensemble::quantile::Described;
use crate::numeric::quantity::Quantity;

/// A quantity of a whole campaign, in the unit in which it is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CampaignQuantity {
    /// Rounds flown.
    Passes,
    /// Days.
    Days,
    /// Trims.
    Trims,
    /// Sum of the trims, m/s.
    TrimSpeed,
    /// Burns at the end, m/s.
    RaiseSpeed,
    /// Speed taken by the air, m/s.
    AirSpeed,
    /// Propellant of all burns, kg.
    Propellant,
    /// Propellant saved against the engine alone, kg.
    Saved,
    /// Highest sensed deceleration, g.
    WorstDeceleration,
    /// Highest onset, g/s.
    WorstOnset,
    /// Highest heat flux, W/cm².
    WorstHeatFlux,
    /// Highest heat load of a pass, J/cm².
    WorstHeatLoad,
    /// Highest dynamic pressure, Pa.
    WorstDynamicPressure,
    /// Lowest altitude, km.
    LowestAltitude,
}

impl CampaignQuantity {
    /// Every quantity in the order in which they are shown.
    pub const ALL: [Self; 14] = [
        Self::Passes,
        Self::Days,
        Self::Trims,
        Self::TrimSpeed,
        Self::RaiseSpeed,
        Self::AirSpeed,
        Self::Propellant,
        Self::Saved,
        Self::WorstDeceleration,
        Self::WorstOnset,
        Self::WorstHeatFlux,
        Self::WorstHeatLoad,
        Self::WorstDynamicPressure,
        Self::LowestAltitude,
    ];

    /// Stable key with the unit.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Passes => "passes",
            Self::Days => "days",
            Self::Trims => "trims",
            Self::TrimSpeed => "trim_speed_m_s",
            Self::RaiseSpeed => "final_burns_m_s",
            Self::AirSpeed => "speed_taken_by_air_m_s",
            Self::Propellant => "propellant_kg",
            Self::Saved => "propellant_saved_kg",
            Self::WorstDeceleration => "worst_deceleration_g",
            Self::WorstOnset => "worst_onset_g_s",
            Self::WorstHeatFlux => "worst_heat_flux_w_cm2",
            Self::WorstHeatLoad => "worst_heat_load_of_a_pass_j_cm2",
            Self::WorstDynamicPressure => "worst_dynamic_pressure_pa",
            Self::LowestAltitude => "lowest_altitude_km",
        }
    }

    /// Name and unit for people; the unit is empty for a count.
    #[must_use]
    pub fn label(self) -> (&'static str, &'static str) {
        match self {
            Self::Passes => ("passes", ""),
            Self::Days => ("time", "days"),
            Self::Trims => ("trims", ""),
            Self::TrimSpeed => ("speed of all trims", "m/s"),
            Self::RaiseSpeed => ("burns into the target orbit", "m/s"),
            Self::AirSpeed => ("speed taken by the air", "m/s"),
            Self::Propellant => ("propellant of all burns", "kg"),
            Self::Saved => ("propellant saved by the air", "kg"),
            Self::WorstDeceleration => ("worst deceleration", "g"),
            Self::WorstOnset => ("worst onset", "g/s"),
            Self::WorstHeatFlux => ("worst heat flux", "W/cm²"),
            Self::WorstHeatLoad => ("worst heat load of a pass", "J/cm²"),
            Self::WorstDynamicPressure => ("worst dynamic pressure", "Pa"),
            Self::LowestAltitude => ("lowest altitude", "km"),
        }
    }

    /// The quantity of one pass of which it is the worst of all.
    #[must_use]
    pub fn of_the_worst_pass(self) -> Option<Quantity> {
        Some(match self {
            Self::WorstDeceleration => Quantity::PeakDeceleration,
            Self::WorstOnset => Quantity::Onset,
            Self::WorstHeatFlux => Quantity::PeakHeatFlux,
            Self::WorstHeatLoad => Quantity::HeatLoad,
            Self::WorstDynamicPressure => Quantity::PeakDynamicPressure,
            Self::LowestAltitude => Quantity::LowestAltitude,
            _ => return None,
        })
    }

    /// Whether it says something only of campaigns that reached the target.
    #[must_use]
    pub fn of_the_whole(self) -> bool {
        self.of_the_worst_pass().is_none()
    }

    /// The value of a campaign in the unit of [`CampaignQuantity::label`]; `None` where it has none.
    #[must_use]
    pub fn of(self, campaign: &CampaignResult) -> Option<f64> {
        let whole = campaign.ending == CampaignEnding::Reached;
        if !campaign.ending.is_flown() || (self.of_the_whole() && !whole) {
            return None;
        }
        let value = match self {
            Self::Passes => f64::from(campaign.passes),
            Self::Days => campaign.days,
            Self::Trims => f64::from(campaign.trims),
            Self::TrimSpeed => campaign.trim_speed_m_s,
            Self::RaiseSpeed => campaign.raise_speed_m_s,
            Self::AirSpeed => campaign.air_speed_m_s,
            Self::Propellant => campaign.propellant_kg,
            Self::Saved => campaign.saved_kg,
            Self::WorstDeceleration => campaign.worst_deceleration_m_s2 / G0,
            Self::WorstOnset => campaign.worst_onset_m_s3 / G0,
            Self::WorstHeatFlux => campaign.worst_heat_flux_w_m2 / 1e4,
            Self::WorstHeatLoad => campaign.worst_heat_load_j_m2 / 1e4,
            Self::WorstDynamicPressure => campaign.worst_dynamic_pressure_pa,
            Self::LowestAltitude => campaign.lowest_altitude_m / 1e3,
        };
        value.is_finite().then_some(value)
    }
}

impl CampaignOutcome {
    /// The values of a quantity over the campaigns that have one, in the unit shown.
    #[must_use]
    pub fn values(&self, quantity: CampaignQuantity) -> Vec<f64> {
        self.campaigns
            .iter()
            .filter_map(|c| quantity.of(c))
            .collect()
    }

    /// A quantity over the campaigns that have one; `None` where there are too few.
    #[must_use]
    pub fn described(&self, quantity: CampaignQuantity, confidence: f64) -> Option<Described> {
        let values = self.values(quantity);
        match values[..] {
            [value] if self.certain => Some(certain(value)),
            // One campaign tells its value and nothing of how sure that is.
            [value] => Some(without_error(certain(value))),
            _ => Described::of(values, confidence).ok(),
        }
    }
}

/// The same values without their intervals.
fn without_error(mut described: Described) -> Described {
    for estimate in [
        &mut described.mean,
        &mut described.std_dev,
        &mut described.p00_135,
        &mut described.p05,
        &mut described.p50,
        &mut described.p95,
        &mut described.p99,
        &mut described.p99_865,
    ] {
        (estimate.lower, estimate.upper) = (None, None);
    }
    described
}
