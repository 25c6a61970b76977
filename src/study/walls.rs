//! The walls of a ship's spots along one flown pass and while its heat soaks in afterwards.

use super::nose::Nose;
use crate::craft::flux_history::FluxPoint;
use crate::craft::layer::SlabError;
use crate::craft::skin::{At, Skin, SkinState};
use crate::craft::wall::equilibrium_temperature;
use crate::ensemble::LimitSet;
use crate::pass::reference::{FlownPass, Moment};
use crate::scenario::ship::Ship;
use crate::scenario::spots::SpotSpec;
use crate::scenario::wall::{BackSpec, WallKind};

/// The stagnation flux along a flown pass times `factor`: the flux into a spot.
#[must_use]
pub fn flux_along(history: &[Moment], factor: f64) -> Vec<FluxPoint> {
    flux_by(history, |_| factor)
}

/// The stagnation flux along a flown pass times a factor of the time, s.
fn flux_by(history: &[Moment], factor: impl Fn(f64) -> f64) -> Vec<FluxPoint> {
    let point = |moment: &Moment| FluxPoint {
        time_s: moment.time_s,
        flux_w_m2: factor(moment.time_s) * moment.felt.heat_flux,
        log_rate_per_s: moment.felt.heat_flux_log_rate,
    };
    history.iter().map(point).collect()
}

/// A wall at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallMoment {
    /// Time since the start of the pass, s.
    pub time_s: f64,
    /// Temperature of the surface, K.
    pub surface_k: f64,
    /// Temperature of the back face of a slab, K.
    pub back_k: Option<f64>,
}

/// What one spot of the ship went through.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotHeat {
    /// The user's name for it.
    pub name: String,
    /// Whether its wall takes time to warm; else it is in radiative equilibrium throughout.
    pub takes_time: bool,
    /// Peak flux, W/m².
    pub peak_flux_w_m2: f64,
    /// The coldest of what the wall starts at and what it sees, K.
    pub coldest_k: f64,
    /// Temperature of radiative equilibrium at that flux, K: the bound that `band` holds against the limit.
    pub equilibrium_k: f64,
    /// The hottest that the surface was, and when.
    pub surface: At,
    /// The hottest that the back face of a slab was, and when.
    pub back: Option<At>,
    /// Whether the back face was hottest at the very end of the time followed.
    pub back_still_warms: bool,
    /// How long the wall was followed after the pass, s.
    pub followed_s: f64,
    /// The wall at the moments of the flown history.
    pub in_air: Vec<WallMoment>,
    /// The wall after the pass, to the end of the time followed.
    pub soaked: Vec<WallMoment>,
    /// Limits of temperature and flux with what was found.
    pub verdicts: Vec<SpotLimit>,
}

/// What a limit of a spot is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Judged {
    /// The temperature of the surface, K.
    Surface,
    /// The temperature of the back face, K.
    Back,
    /// The flux, W/m².
    Flux,
}

/// A limit of a spot with what was found in a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpotLimit {
    /// What is limited.
    pub judged: Judged,
    /// The most that is allowed, in SI units.
    pub allowed: f64,
    /// What was found, in SI units.
    pub found: f64,
}

impl SpotHeat {
    /// Whether every limit of the spot held.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.verdicts.iter().all(SpotLimit::holds)
    }

    /// Whether every limit of the spot would hold with `factor` times the flux, 1 or more. A bound: a surface in
    /// equilibrium is hotter by the fourth root of it at most; a wall that takes time rises above the coldest that it
    /// sees or starts at by its share at most, since what it radiates grows faster than its temperature.
    #[must_use]
    pub fn holds_with(&self, factor: f64) -> bool {
        self.verdicts.iter().all(|verdict| {
            let found = verdict.found;
            let grown = match verdict.judged {
                Judged::Surface if !self.takes_time => found * factor.sqrt().sqrt(),
                Judged::Surface | Judged::Back => {
                    self.coldest_k + factor * (found - self.coldest_k)
                }
                Judged::Flux => found * factor,
            };
            grown <= verdict.allowed
        })
    }

    /// Whether the surface holds its limit of temperature only because its wall takes time: in radiative
    /// equilibrium with the peak flux it would not.
    #[must_use]
    pub fn saved_by_its_wall(&self) -> bool {
        let surface = |verdict: &&SpotLimit| verdict.judged == Judged::Surface;
        let verdict = self.verdicts.iter().find(surface);
        verdict.is_some_and(|verdict| verdict.holds() && self.equilibrium_k > verdict.allowed)
    }
}

impl SpotLimit {
    /// Whether the limit held.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.found <= self.allowed
    }
}

/// Carries the walls of all spots along a flown pass of a ship with this nose, and on through that any of them asks for, in which they only radiate.
///
/// # Errors
/// [`SlabError`] when a wall's equations find no solution.
///
/// # Panics
/// Where the limits are not those of this ship.
pub fn walls_along(
    ship: &Ship,
    limits: &LimitSet,
    (flown, nose): (&FlownPass, &Nose),
) -> Result<Vec<SpotHeat>, SlabError> {
    let skins: Vec<Skin> = ship.spots.iter().map(Skin::new).collect::<Result<_, _>>()?;
    let soak_s = skins.iter().map(Skin::soak_s).fold(0.0, f64::max);
    let each = ship.spots.iter().zip(&skins).enumerate();
    each.map(|(index, (spot, skin))| {
        let factor = |time_s| {
            let factor = limits.spot_factor(index, nose.at(time_s));
            factor.expect("the limits know every spot of their ship")
        };
        let flux = flux_by(&flown.history, factor);
        let peak_flux_w_m2 = limits
            .spot_flux_w_m2(index, &flown.result, nose.radius_m)
            .expect("the limits know every spot of their ship");
        let (mut in_air, mut soaked) = (Vec::new(), Vec::new());
        let mut state = skin.at_start()?;
        skin.carry(&mut state, &flux, |state| in_air.push(moment(state)))?;
        skin.rest(&mut state, soak_s, |state| soaked.push(moment(state)))?;
        let back = state.back_peak();
        let end_s = state.clock_s();
        let found = (state.surface_peak().kelvin, back.map(|back| back.kelvin));
        Ok(SpotHeat {
            name: spot.name.clone(),
            takes_time: skin.takes_time(),
            peak_flux_w_m2,
            coldest_k: coldest_k(spot),
            equilibrium_k: equilibrium_temperature(
                peak_flux_w_m2,
                spot.emissivity,
                spot.wall.background_k,
            ),
            surface: state.surface_peak(),
            back,
            followed_s: soak_s,
            back_still_warms: back.is_some_and(|back| back.time_s >= end_s),
            in_air,
            soaked,
            verdicts: verdicts(spot, found, peak_flux_w_m2),
        })
    })
    .collect()
}

/// The coldest of what a wall starts at and what it sees, K.
fn coldest_k(spot: &SpotSpec) -> f64 {
    let wall = &spot.wall;
    let room = match wall.kind {
        WallKind::Slab {
            back: BackSpec::Radiating { background_k, .. },
            ..
        } => background_k,
        _ => f64::INFINITY,
    };
    wall.start_k.min(wall.background_k).min(room)
}

fn moment(state: &SkinState) -> WallMoment {
    WallMoment {
        time_s: state.clock_s(),
        surface_k: state.surface_k(),
        back_k: state.back_k(),
    }
}

/// The limits of a spot against the hottest of surface and back face (K) and its peak flux (W/m²).
fn verdicts(
    spot: &SpotSpec,
    (surface_k, back_k): (f64, Option<f64>),
    peak_flux_w_m2: f64,
) -> Vec<SpotLimit> {
    let highest_back_k = match spot.wall.kind {
        WallKind::Slab { highest_back_k, .. } => highest_back_k,
        WallKind::RadiativeEquilibrium | WallKind::Thin { .. } => None,
    };
    let judge = |judged, allowed: Option<f64>, found: Option<f64>| {
        Some(SpotLimit {
            judged,
            allowed: allowed?,
            found: found?,
        })
    };
    [
        judge(Judged::Surface, spot.highest_temperature_k, Some(surface_k)),
        judge(Judged::Back, highest_back_k, back_k),
        judge(Judged::Flux, spot.highest_flux_w_m2, Some(peak_flux_w_m2)),
    ]
    .into_iter()
    .flatten()
    .collect()
}
