//! The parts of a campaign's rule: the band, the first and last passes, the lifetime, the memory of the
//! air, the trims.

use super::bound::Bound;
use super::limits::{DYNAMIC_PRESSURE_PA, HEAT_FLUX_W_M2};
use super::message::InputError;
use super::section::{Node, Section};
use crate::numeric::units::{Dimension, format_quantity};

/// The peak of a pass that the rule keeps within a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Controlled {
    /// Heat flux, W/m².
    HeatFlux,
    /// Dynamic pressure, Pa.
    DynamicPressure,
    /// Sensed deceleration, m/s².
    Deceleration,
}

/// The band that the rule keeps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Control {
    /// What is kept.
    pub quantity: Controlled,
    /// Lower end, SI, above 0.
    pub low: f64,
    /// Upper end, SI, above the lower.
    pub high: f64,
    /// What a trim aims for, SI, within the band. Default: the geometric middle.
    pub target: f64,
}

/// Which heat flux counts in the campaign, for the band and for the limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heating {
    /// That of the stagnation point as it is flown, with the bridge to thin air and radiation of
    /// `ship.heating`. The default.
    Flown,
    /// Free-molecular flow everywhere: ½ α ρ V³ with the accommodation α of `ship.heating`; the measure of
    /// aerobraking.
    FreeMolecular,
}

/// The first passes: the band rises from a share of itself to itself, by the same factor each pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WalkIn {
    /// Passes before the full band holds; 0 starts with it. Default 6.
    pub passes: u32,
    /// Share of the band in the first pass, above 0, at most 1. Default 5 %.
    pub first_share: f64,
}

/// The last passes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WalkOut {
    /// Apoapsis altitude below which they begin, m.
    pub below_apoapsis_m: f64,
    /// Share of the band that holds from there on, above 0, at most 1.
    pub share: f64,
}

/// How long the orbit must last without another trim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lifetime {
    /// Shortest time, s, above 0.
    pub time_s: f64,
    /// Apoapsis altitude at which the orbit counts as lost, m, below that of the target. Default: half that
    /// of the target.
    pub until_apoapsis_m: f64,
}

/// How far the density of a pass leans on that of the pass before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Memory {
    /// Correlation of the log density from one pass to the next, 0 to below 1, whatever the time between.
    PerPass(f64),
    /// Time over which the correlation falls to 1/e, s, above 0.
    Time(f64),
}

/// Sizes and errors of the burns at apoapsis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trims {
    /// Smallest burn worth doing, m/s. Default 0.
    pub smallest_m_s: f64,
    /// Largest burn of one trim, m/s. Default 10.
    pub largest_m_s: f64,
    /// One-sigma error of the size, relative. Default 0.
    pub size_error: f64,
    /// One-sigma error of the direction along either axis across it, rad. Default 0.
    pub pointing_error_rad: f64,
}

impl Control {
    pub(super) fn decode(campaign: &Section<'_>) -> Result<Self, InputError> {
        let control = campaign.section("control")?;
        let kinds = [
            (
                "heat_flux",
                Controlled::HeatFlux,
                Dimension::HeatFlux,
                HEAT_FLUX_W_M2,
            ),
            (
                "dynamic_pressure",
                Controlled::DynamicPressure,
                Dimension::Pressure,
                DYNAMIC_PRESSURE_PA,
            ),
            (
                "deceleration",
                Controlled::Deceleration,
                Dimension::Acceleration,
                Bound::between(1e-6, 1e5),
            ),
        ];
        let mut written = Vec::new();
        for (key, quantity, dimension, bound) in kinds {
            if let Some(node) = control.optional(key) {
                written.push((node, quantity, dimension, bound));
            }
        }
        let choices = "write exactly one of `heat_flux`, `dynamic_pressure` and `deceleration`, \
                       as in `heat_flux: {low: 0.15 W/cm2, high: 0.3 W/cm2}`";
        let (node, quantity, dimension, bound) = match written.as_slice() {
            [one] => one,
            [] => return Err(control.error("the control says nothing").with_help(choices)),
            [first, second, ..] => {
                let message = format!("`{}` stands beside `{}`", second.0.name(), first.0.name());
                return Err(second.0.error_at_key(message).with_help(choices));
            }
        };
        let band = decode_band(node, *quantity, (*dimension, *bound))?;
        control.finish()?;
        Ok(band)
    }
}

fn decode_band(
    node: &Node<'_>,
    quantity: Controlled,
    (dimension, bound): (Dimension, Bound),
) -> Result<Control, InputError> {
    let band = node.section()?;
    let low = band.quantity("low", dimension, bound)?;
    let high = band.quantity("high", dimension, bound)?;
    if low >= high {
        return Err(band
            .error_at("high", "the band is empty: `high` is not above `low`")
            .with_help(
                "swap the two, or leave room between them: the air differs from pass to pass",
            ));
    }
    let target = band.optional_quantity("target", dimension, bound)?;
    if target.is_some_and(|target| !(low..=high).contains(&target)) {
        let words = |si| format_quantity(si, dimension);
        return Err(band.error_at(
            "target",
            format!(
                "the target of a trim lies outside the band, {} to {}",
                words(low),
                words(high)
            ),
        ));
    }
    band.finish()?;
    Ok(Control {
        quantity,
        low,
        high,
        target: target.unwrap_or((low * high).sqrt()),
    })
}

impl Heating {
    pub(super) fn decode(campaign: &Section<'_>) -> Result<Self, InputError> {
        match campaign.optional_text("heating")? {
            None | Some("flown") => Ok(Self::Flown),
            Some("free_molecular") => Ok(Self::FreeMolecular),
            Some(other) => Err(campaign
                .error_at("heating", format!("no heating is called `{other}`"))
                .with_help("write `flown` or `free_molecular`")),
        }
    }
}

impl WalkIn {
    pub(super) fn decode(campaign: &Section<'_>) -> Result<Self, InputError> {
        let mut decoded = Self {
            passes: 6,
            first_share: 0.05,
        };
        let Some(walk_in) = campaign.optional_section("walk_in")? else {
            return Ok(decoded);
        };
        let passes = walk_in.integer("passes", 0..=1000)?;
        decoded.passes = u32::try_from(passes).unwrap_or(u32::MAX);
        let share = Bound::above(0.0).at_most(1.0);
        if let Some(first) = walk_in.optional_quantity("first_share", Dimension::Ratio, share)? {
            decoded.first_share = first;
        }
        walk_in.finish()?;
        Ok(decoded)
    }
}

impl WalkOut {
    pub(super) fn decode(campaign: &Section<'_>) -> Result<Option<Self>, InputError> {
        let Some(walk_out) = campaign.optional_section("walk_out")? else {
            return Ok(None);
        };
        let altitude = Bound::between(1e3, 1e11);
        let decoded = Self {
            below_apoapsis_m: walk_out.quantity("below_apoapsis", Dimension::Length, altitude)?,
            share: walk_out.quantity("share", Dimension::Ratio, Bound::above(0.0).at_most(1.0))?,
        };
        walk_out.finish()?;
        Ok(Some(decoded))
    }
}

impl Lifetime {
    pub(super) fn decode(
        campaign: &Section<'_>,
        target_apoapsis_m: f64,
    ) -> Result<Option<Self>, InputError> {
        let Some(lifetime) = campaign.optional_section("minimum_lifetime")? else {
            return Ok(None);
        };
        let time_s = lifetime.quantity("time", Dimension::Time, Bound::above(0.0).at_most(1e10))?;
        let until_apoapsis_m = lifetime
            .optional_quantity(
                "until_apoapsis",
                Dimension::Length,
                Bound::between(1e3, 1e11),
            )?
            .unwrap_or(0.5 * target_apoapsis_m);
        if until_apoapsis_m >= target_apoapsis_m {
            let target = format_quantity(target_apoapsis_m, Dimension::Length);
            return Err(lifetime
                .error_at(
                    "until_apoapsis",
                    format!("the orbit counts as lost before it reaches the target, {target}"),
                )
                .with_help("the lifetime runs on to an apoapsis below that of the target"));
        }
        lifetime.finish()?;
        Ok(Some(Self {
            time_s,
            until_apoapsis_m,
        }))
    }
}

impl Memory {
    pub(super) fn decode(campaign: &Section<'_>) -> Result<Self, InputError> {
        let Some(memory) = campaign.optional_section("density_memory")? else {
            return Ok(Self::PerPass(0.5));
        };
        let per_pass = memory.optional_quantity(
            "per_pass",
            Dimension::Ratio,
            Bound::at_least(0.0).below(1.0),
        )?;
        let time =
            memory.optional_quantity("time", Dimension::Time, Bound::above(0.0).at_most(1e9))?;
        let decoded = match (per_pass, time) {
            (Some(share), None) => Self::PerPass(share),
            (None, Some(time_s)) => Self::Time(time_s),
            _ => {
                return Err(memory
                    .error("the memory of the density has one measure")
                    .with_help("write either `{per_pass: 0.5}` or `{time: 10 h}`"));
            }
        };
        memory.finish()?;
        Ok(decoded)
    }

    /// Correlation with the pass that lies this long back, 0 to 1.
    #[must_use]
    pub fn correlation(self, since_s: f64) -> f64 {
        match self {
            Self::PerPass(share) => share,
            Self::Time(time_s) => crate::numeric::elementary::exp(-since_s / time_s),
        }
    }
}

impl Trims {
    pub(super) fn decode(campaign: &Section<'_>) -> Result<Self, InputError> {
        let mut decoded = Self {
            smallest_m_s: 0.0,
            largest_m_s: 10.0,
            size_error: 0.0,
            pointing_error_rad: 0.0,
        };
        let Some(trims) = campaign.optional_section("trims")? else {
            return Ok(decoded);
        };
        let speed = Bound::between(0.0, 1e4);
        let keys = [
            (
                "smallest",
                Dimension::Speed,
                speed,
                &mut decoded.smallest_m_s,
            ),
            ("largest", Dimension::Speed, speed, &mut decoded.largest_m_s),
            (
                "size_error",
                Dimension::Ratio,
                Bound::between(0.0, 0.5),
                &mut decoded.size_error,
            ),
            (
                "pointing_error",
                Dimension::Angle,
                Bound::between(0.0, 0.5),
                &mut decoded.pointing_error_rad,
            ),
        ];
        for (key, dimension, bound, place) in keys {
            if let Some(value) = trims.optional_quantity(key, dimension, bound)? {
                *place = value;
            }
        }
        if decoded.largest_m_s <= decoded.smallest_m_s {
            return Err(trims
                .error_at("largest", "the largest trim is not above the smallest")
                .with_help("without any trim the band cannot be kept"));
        }
        trims.finish()?;
        Ok(decoded)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_memory_is_the_same_for_every_pass_or_fades_with_time() {
        assert_eq!(Memory::PerPass(0.5).correlation(9e5), 0.5);
        let time = Memory::Time(36_000.0);
        assert!((time.correlation(36_000.0) * std::f64::consts::E - 1.0).abs() < 1e-14);
        assert_eq!(time.correlation(0.0), 1.0);
    }
}
