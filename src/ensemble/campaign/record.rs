//! What a campaign gave, pass by pass and as a whole.

use crate::scenario::uncertainty::Number;

/// How a campaign ended: values, not errors.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CampaignEnding {
    /// The apoapsis came down to the target and the periapsis was raised out of the air.
    Reached,
    /// A pass did not come out of the air again.
    Decayed,
    /// The arrival was not captured, or a pass ended on an open orbit.
    Escaped,
    /// The most passes were flown before the target was reached.
    OutOfPasses,
    /// The longest time was over before the target was reached.
    OutOfTime,
    /// The integration failed. Not an ending of the flight.
    Failed,
    /// The numbers fit no approach, or no orbit to begin on: nothing was flown.
    NoApproach,
}

impl CampaignEnding {
    /// Every ending, in the order in which they are counted and shown.
    pub const ALL: [Self; 7] = [
        Self::Reached,
        Self::Decayed,
        Self::Escaped,
        Self::OutOfPasses,
        Self::OutOfTime,
        Self::Failed,
        Self::NoApproach,
    ];

    /// Whether it is how a campaign ended: else it has no result.
    #[must_use]
    pub fn is_flown(self) -> bool {
        !matches!(self, Self::Failed | Self::NoApproach)
    }

    /// The word for it in files and on the screen.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Reached => "reached",
            Self::Decayed => "decayed",
            Self::Escaped => "escaped",
            Self::OutOfPasses => "out_of_passes",
            Self::OutOfTime => "out_of_time",
            Self::Failed => "failed",
            Self::NoApproach => "no_approach",
        }
    }
}

/// What a pass belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Phase {
    /// The arrival, flown as it comes.
    Arrival,
    /// The band rises to its full height.
    WalkIn,
    /// The full band holds.
    #[default]
    Main,
    /// The band is lowered for the orbit to last, or because the apoapsis is low.
    WalkOut,
}

impl Phase {
    /// The word for it in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Arrival => "arrival",
            Self::WalkIn => "walk_in",
            Self::Main => "main",
            Self::WalkOut => "walk_out",
        }
    }
}

/// One pass of a campaign.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PassRow {
    /// Number of the pass in its campaign, from 1; 0 is the arrival.
    pub pass: u32,
    /// What it belongs to.
    pub phase: Phase,
    /// Time of its start since that of the campaign, s.
    pub time_s: f64,
    /// Apoapsis altitude before it, above the equatorial radius, m; NaN for an arrival.
    pub apoapsis_altitude_m: f64,
    /// Period of the orbit before it, s; NaN for an arrival.
    pub period_s: f64,
    /// Lowest altitude above the ellipsoid expected without air, m.
    pub vacuum_altitude_m: f64,
    /// Geocentric latitude of that place, rad.
    pub latitude_rad: f64,
    /// Longitude of the ascending node in the inertial frame, rad.
    pub node_rad: f64,
    /// Argument of periapsis, rad.
    pub argument_of_periapsis_rad: f64,
    /// The band that held, lower and upper end, SI of the controlled quantity.
    pub band: (f64, f64),
    /// The controlled quantity as expected after the trim, SI.
    pub expected: f64,
    /// The same as met, SI.
    pub met: f64,
    /// Trim before the pass, m/s, positive where it raises the periapsis.
    pub trim_m_s: f64,
    /// Lowest altitude, m.
    pub lowest_altitude_m: f64,
    /// Highest sensed deceleration, m/s².
    pub deceleration_m_s2: f64,
    /// Highest heat flux, W/m².
    pub heat_flux_w_m2: f64,
    /// Heat load, J/m².
    pub heat_load_j_m2: f64,
    /// Highest dynamic pressure, Pa.
    pub dynamic_pressure_pa: f64,
    /// Work of drag as a speed, m/s.
    pub air_speed_m_s: f64,
    /// Limits broken, one bit each.
    pub broken: u32,
    /// Mass of the ship, kg.
    pub mass_kg: f64,
}

/// What a whole campaign gave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CampaignResult {
    /// Its number.
    pub campaign: u64,
    /// How it ended.
    pub ending: CampaignEnding,
    /// Rounds flown, those that stayed above the air included.
    pub passes: u32,
    /// Time from its start to its end, days.
    pub days: f64,
    /// Number of trims.
    pub trims: u32,
    /// Sum of the trims, m/s.
    pub trim_speed_m_s: f64,
    /// The burns at the end that make the target orbit, m/s.
    pub raise_speed_m_s: f64,
    /// Periapsis and apoapsis radius of the orbit that those burns set out from, m, where the target was reached.
    pub last_orbit_m: Option<(f64, f64)>,
    /// Mass before those burns, kg.
    pub last_mass_kg: f64,
    /// Propellant for all burns, kg; NaN for a ship without an engine.
    pub propellant_kg: f64,
    /// Work of drag as a speed, summed over the passes, m/s.
    pub air_speed_m_s: f64,
    /// What the engine alone would have taken, as one impulse at periapsis, m/s.
    pub engine_speed_m_s: f64,
    /// Propellant that the engine alone would have needed beyond that of the campaign to leave the same
    /// mass in the same orbit, kg; NaN without an engine or where the target was not reached.
    pub saved_kg: f64,
    /// Highest sensed deceleration of any pass, m/s².
    pub worst_deceleration_m_s2: f64,
    /// Highest onset of deceleration, m/s³.
    pub worst_onset_m_s3: f64,
    /// Highest heat flux, W/m².
    pub worst_heat_flux_w_m2: f64,
    /// Highest heat load of one pass, J/m².
    pub worst_heat_load_j_m2: f64,
    /// Highest dynamic pressure, Pa.
    pub worst_dynamic_pressure_pa: f64,
    /// Lowest altitude, m.
    pub lowest_altitude_m: f64,
    /// Limits broken in any pass, one bit each.
    pub broken: u32,
    /// Passes that broke any limit.
    pub passes_broken: u32,
    /// Passes of the main phase and the walk-out, and those of them that met the band, fell below it, and
    /// rose above it.
    pub band: BandCount,
    /// Root mean square of ln(met/expected) over those passes.
    pub forecast_error: f64,
    /// Apoapsis altitude at the end, above the equatorial radius, m.
    pub end_apoapsis_altitude_m: f64,
    /// Periapsis altitude at the end, above the equatorial radius, m.
    pub end_periapsis_altitude_m: f64,
    /// Mass at the end, kg.
    pub end_mass_kg: f64,
}

/// How often the band was kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct BandCount {
    /// Passes counted.
    pub passes: u32,
    /// Below the band.
    pub below: u32,
    /// Above the band.
    pub above: u32,
}

impl CampaignResult {
    /// Whether the target was reached and no limit broken on the way.
    #[must_use]
    pub fn held(&self) -> bool {
        self.ending == CampaignEnding::Reached && self.broken == 0
    }

    pub(super) fn new(campaign: u64, mass_kg: f64) -> Self {
        Self {
            campaign,
            ending: CampaignEnding::Failed,
            passes: 0,
            days: 0.0,
            trims: 0,
            trim_speed_m_s: 0.0,
            raise_speed_m_s: 0.0,
            last_orbit_m: None,
            last_mass_kg: mass_kg,
            propellant_kg: 0.0,
            air_speed_m_s: 0.0,
            engine_speed_m_s: f64::NAN,
            saved_kg: f64::NAN,
            worst_deceleration_m_s2: 0.0,
            worst_onset_m_s3: 0.0,
            worst_heat_flux_w_m2: 0.0,
            worst_heat_load_j_m2: 0.0,
            worst_dynamic_pressure_pa: 0.0,
            lowest_altitude_m: f64::INFINITY,
            broken: 0,
            passes_broken: 0,
            band: BandCount::default(),
            forecast_error: 0.0,
            end_apoapsis_altitude_m: f64::NAN,
            end_periapsis_altitude_m: f64::NAN,
            end_mass_kg: mass_kg,
        }
    }
}

/// A campaign that was flown to its end.
#[derive(Debug, Clone, PartialEq)]
pub struct FlownCampaign {
    /// What it gave.
    pub result: CampaignResult,
    /// Its passes, where they were to be kept.
    pub rows: Vec<PassRow>,
    /// The numbers it was flown with.
    pub numbers: [f64; Number::COUNT],
}
