//! Aerobraking over many passes: where it begins and ends, the band that the rule keeps, and how well
//! (`campaign`).

use super::arrival::APOAPSIS_ALTITUDE_M;
use super::bound::Bound;
use super::campaign_rule::{Control, Heating, Lifetime, Memory, Trims, WalkIn, WalkOut};
use super::message::InputError;
use super::section::Section;
use crate::numeric::units::{Dimension, format_quantity};

/// The `campaign` section, checked, in SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct Campaign {
    /// Apoapsis altitude of the orbit wanted at the end, above the equatorial radius, m.
    pub target_apoapsis_m: f64,
    /// Periapsis altitude to which it is raised at the end, above the equatorial radius, m; at most that
    /// of the apoapsis.
    pub raised_periapsis_m: f64,
    /// Vacuum periapsis altitude of the first round or of the capture pass, above the ellipsoid, m; `None`
    /// takes the aim of the arrival.
    pub first_periapsis_m: Option<f64>,
    /// What is kept within which band.
    pub control: Control,
    /// Which heat flux counts.
    pub heating: Heating,
    /// The first passes, each deeper than the one before.
    pub walk_in: WalkIn,
    /// The last passes, held gentler.
    pub walk_out: Option<WalkOut>,
    /// How long the orbit must last without another trim.
    pub lifetime: Option<Lifetime>,
    /// How the air of a pass leans on that of the pass before.
    pub memory: Memory,
    /// Weight of the last measured pass in the estimate of the density, 0 to 1. Default 0.4.
    pub weight_of_last: f64,
    /// Sizes and errors of the burns.
    pub trims: Trims,
    /// Most passes before the campaign counts as endless. Default 2000.
    pub most_passes: u32,
    /// Longest time before it does, s. Default 1000 days.
    pub longest_s: f64,
    /// Campaigns to fly. Default 400.
    pub campaigns: u64,
}

/// Most passes that a campaign may be given: the draws of one pass end where those of the next begin.
pub const MOST_PASSES: u32 = 100_000;
/// Most campaigns of one run.
const MOST_CAMPAIGNS: u64 = 1_000_000;
/// Altitudes of a periapsis, of the first round or raised at the end.
const PERIAPSIS_M: Bound = Bound::between(-1e6, 1e9);

impl Campaign {
    pub(super) fn decode(campaign: &Section<'_>) -> Result<Self, InputError> {
        let (target_apoapsis_m, raised_periapsis_m) = decode_target(campaign)?;
        let first_periapsis_m =
            campaign.optional_quantity("first_periapsis", Dimension::Length, PERIAPSIS_M)?;
        let control = Control::decode(campaign)?;
        let share = Bound::between(0.0, 1.0);
        let decoded = Self {
            target_apoapsis_m,
            raised_periapsis_m,
            first_periapsis_m,
            control,
            heating: Heating::decode(campaign)?,
            walk_in: WalkIn::decode(campaign)?,
            walk_out: WalkOut::decode(campaign)?,
            lifetime: Lifetime::decode(campaign, target_apoapsis_m)?,
            memory: Memory::decode(campaign)?,
            weight_of_last: campaign
                .optional_quantity("weight_of_last_pass", Dimension::Ratio, share)?
                .unwrap_or(0.4),
            trims: Trims::decode(campaign)?,
            most_passes: 2000,
            longest_s: 1000.0 * 86_400.0,
            campaigns: campaign
                .optional_integer("campaigns", 1..=MOST_CAMPAIGNS)?
                .unwrap_or(400),
        };
        decoded.with_caps(campaign)
    }

    fn with_caps(mut self, campaign: &Section<'_>) -> Result<Self, InputError> {
        let Some(caps) = campaign.optional_section("at_most")? else {
            return Ok(self);
        };
        let passes = caps.optional_integer("passes", 1..=u64::from(MOST_PASSES))?;
        if let Some(passes) = passes.and_then(|passes| u32::try_from(passes).ok()) {
            self.most_passes = passes;
        }
        let bound = Bound::above(0.0).at_most(1e10);
        if let Some(time_s) = caps.optional_quantity("time", Dimension::Time, bound)? {
            self.longest_s = time_s;
        }
        caps.finish()?;
        Ok(self)
    }
}

fn decode_target(campaign: &Section<'_>) -> Result<(f64, f64), InputError> {
    let target = campaign.section("target")?;
    let apoapsis_m =
        target.quantity("apoapsis_altitude", Dimension::Length, APOAPSIS_ALTITUDE_M)?;
    let raised_m = target
        .optional_quantity("periapsis_altitude", Dimension::Length, PERIAPSIS_M)?
        .unwrap_or(apoapsis_m);
    if raised_m > apoapsis_m {
        let highest = format_quantity(apoapsis_m, Dimension::Length);
        return Err(target
            .error_at(
                "periapsis_altitude",
                format!("the periapsis of the target orbit lies above its apoapsis, {highest}"),
            )
            .with_help("swap the two; left out, the orbit becomes circular"));
    }
    target.finish()?;
    Ok((apoapsis_m, raised_m))
}
