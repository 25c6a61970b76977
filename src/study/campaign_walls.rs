//! The walls of a ship's spots carried through whole campaigns: along the heat of each pass and through the
//! cold time after it, so that the heat of one pass goes on into the next.

use super::campaign::CampaignOutcome;
use crate::craft::flux_history::FluxPoint;
use crate::craft::layer::SlabError;
use crate::craft::skin::Skin;
use crate::craft::wall::equilibrium_temperature;
use crate::ensemble::campaign::PassRow;
use crate::scenario::spots::SpotSpec;
use crate::scenario::uncertainty::Number;
use crate::scenario::wall::WallKind;
use crate::study::Case;
use rayon::prelude::*;

/// Most campaigns that a sheet and a wall of layers are carried through: each pass takes some milliseconds.
const MOST_OF_SHEETS: usize = 12;
const MOST_OF_LAYERS: usize = 6;

/// The wall of a spot in the passes of some campaigns.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotWarmth {
    /// The user's name for the spot.
    pub name: String,
    /// Whether its wall takes time to warm; else it is in radiative equilibrium throughout.
    pub takes_time: bool,
    /// Highest temperature that its surface may reach, K.
    pub highest_k: Option<f64>,
    /// Highest temperature that the back face of a slab may reach, K.
    pub highest_back_k: Option<f64>,
    /// The campaigns with the wall in each of their passes.
    pub campaigns: Vec<(u64, Vec<WarmPass>)>,
}

/// A wall in one pass and the cold time after it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WarmPass {
    /// Number of the pass.
    pub pass: u32,
    /// The hottest that the surface was, K.
    pub surface_k: f64,
    /// The hottest that the back face of a slab was, K.
    pub back_k: Option<f64>,
}

impl SpotWarmth {
    /// The hottest surface of each campaign, K.
    #[must_use]
    pub fn worst_surface_k(&self) -> Vec<f64> {
        self.worst(|pass| Some(pass.surface_k))
    }

    /// The hottest back face of each campaign, K; empty without a slab.
    #[must_use]
    pub fn worst_back_k(&self) -> Vec<f64> {
        self.worst(|pass| pass.back_k)
    }

    fn worst(&self, of: impl Fn(&WarmPass) -> Option<f64>) -> Vec<f64> {
        let highest = |passes: &Vec<WarmPass>| {
            let values = passes.iter().filter_map(&of);
            values.reduce(f64::max)
        };
        self.campaigns
            .iter()
            .filter_map(|(_, passes)| highest(passes))
            .collect()
    }
}

/// Carries the walls of all spots through the campaigns whose passes were kept. Each pass is a bell with its peak
/// flux and heat load ([`FluxPoint::pulse`]); between passes the wall only radiates.
///
/// # Errors
/// [`SlabError`] when a wall's equations find no solution.
///
/// # Panics
/// Never: the limits know every spot of the ship they were made for.
pub fn warm_walls(case: &Case, outcome: &CampaignOutcome) -> Result<Vec<SpotWarmth>, SlabError> {
    let spots = &case.scenario.ship.spots;
    let each = spots.iter().enumerate();
    each.map(|(index, spot)| {
        let skin = Skin::new(spot)?;
        let most = match spot.wall.kind {
            WallKind::Slab { .. } => MOST_OF_LAYERS,
            WallKind::Thin { .. } => MOST_OF_SHEETS,
            WallKind::RadiativeEquilibrium => usize::MAX,
        };
        let example = outcome.example().map(|(result, _)| result.campaign);
        // The example that is shown is among them.
        let mut chosen: Vec<&(u64, Vec<PassRow>)> = outcome.rows.iter().collect();
        chosen.sort_by_key(|(number, _)| (Some(*number) != example, *number));
        chosen.truncate(most);
        chosen.sort_by_key(|(number, _)| *number);
        let campaigns: Result<Vec<_>, SlabError> = chosen
            .into_par_iter()
            .map(|(number, rows)| {
                let numbers = case.problem.numbers(*number);
                let nose_m = numbers[Number::NoseRadius as usize];
                let factor = case.problem.limits().spot_factor(index, nose_m);
                let factor = factor.expect("the limits know every spot of their ship");
                let warm = if skin.takes_time() {
                    through(&skin, rows, factor)?
                } else {
                    at_rest(spot, rows, factor)
                };
                Ok((*number, warm))
            })
            .collect();
        Ok(SpotWarmth {
            name: spot.name.clone(),
            takes_time: skin.takes_time(),
            highest_k: spot.highest_temperature_k,
            highest_back_k: highest_back_k(spot),
            campaigns: campaigns?,
        })
    })
    .collect()
}

fn highest_back_k(spot: &SpotSpec) -> Option<f64> {
    match spot.wall.kind {
        WallKind::Slab { highest_back_k, .. } => highest_back_k,
        WallKind::RadiativeEquilibrium | WallKind::Thin { .. } => None,
    }
}

/// A surface that radiates at once what it takes: as hot as the peak flux of each pass makes it.
fn at_rest(spot: &SpotSpec, rows: &[PassRow], factor: f64) -> Vec<WarmPass> {
    let hottest = |row: &PassRow| {
        let flux = factor * row.heat_flux_w_m2;
        equilibrium_temperature(flux, spot.emissivity, spot.wall.background_k)
    };
    rows.iter()
        .map(|row| WarmPass {
            pass: row.pass,
            surface_k: hottest(row),
            back_k: None,
        })
        .collect()
}

/// One wall through the passes of one campaign, the flux into it being `factor` times that of the pass.
fn through(skin: &Skin, rows: &[PassRow], factor: f64) -> Result<Vec<WarmPass>, SlabError> {
    let mut state = skin.at_start()?;
    let mut warm = Vec::with_capacity(rows.len());
    for (index, row) in rows.iter().enumerate() {
        state.begin_anew();
        let pulse = FluxPoint::pulse(factor * row.heat_flux_w_m2, factor * row.heat_load_j_m2);
        skin.carry(&mut state, &pulse, |_| {})?;
        // After the last pass the wall is left to cool for as long as the scenario says.
        let next_s = rows.get(index + 1).map(|next| next.time_s - row.time_s);
        let in_air_s = pulse.last().map_or(0.0, |point| point.time_s);
        let cold_s = next_s.map_or(skin.soak_s(), |next_s| (next_s - in_air_s).max(0.0));
        skin.rest(&mut state, cold_s, |_| {})?;
        warm.push(WarmPass {
            pass: row.pass,
            surface_k: state.surface_peak().kelvin,
            back_k: state.back_peak().map(|back| back.kelvin),
        });
    }
    Ok(warm)
}
