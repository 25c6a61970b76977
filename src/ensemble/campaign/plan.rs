//! Everything that is the same for all campaigns of a run.

use super::super::problem::{Numbers, Problem};
use super::forecast::Gauge;
use super::luck::Luck;
use crate::craft::Vehicle;
use crate::ensemble::LimitKind;
use crate::numeric::Vec3;
use crate::numeric::root::bracketed_root;
use crate::pass::coast::without_interface;
use crate::scenario::campaign::Campaign;
use crate::scenario::ship::Ship;
use crate::scenario::uncertainty::Number;
use crate::world::Planet;
use crate::world::planet::AirSample;

/// Scale heights above the band at which the air counts as none: what lies above takes 0.05 % of the drag.
const CLEAR: f64 = 6.0;

/// A rule made ready to fly about the planet of a problem.
#[derive(Debug, Clone)]
pub struct Plan<'p> {
    pub(super) problem: &'p Problem,
    pub(super) rule: &'p Campaign,
    /// The problem's planet with the interface where the air no longer counts.
    pub(super) planet: Planet,
    /// The same without an interface, to look ahead to the periapsis.
    pub(super) open: Planet,
    pub(super) gauge: Gauge,
    pub(super) luck: Luck,
    pub(super) specific_impulse_s: Option<f64>,
    /// Bits of the limits that hold for a pass; those on the orbit after it do not.
    pub(super) watched: u32,
}

/// Why no campaign can be flown by a rule.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// No air is thick enough for the band.
    #[error(
        "no air of this world is thick enough for the band: even at the ground ({ground_km:.1} km) a pass would meet \
         {share_percent:.2} % of its upper end"
    )]
    TooThin {
        /// Altitude of the ground, km.
        ground_km: f64,
        /// What is met there, % of the upper end.
        share_percent: f64,
    },
    /// All air is too thick for the band.
    #[error(
        "all air of this world is too thick for the band: at the top of its table ({top_km:.1} km) a pass would still \
         meet {times:.3} times its lower end"
    )]
    TooThick {
        /// Altitude of the top, km.
        top_km: f64,
        /// What is met there over the lower end.
        times: f64,
    },
}

impl<'p> Plan<'p> {
    /// Makes a rule ready.
    ///
    /// # Errors
    /// [`PlanError`] where the band lies outside the air of the world.
    pub fn new(problem: &'p Problem, rule: &'p Campaign, ship: &Ship) -> Result<Self, PlanError> {
        let mut planet = problem.planet().clone();
        let gauge = Gauge {
            quantity: rule.control.quantity,
            heating: rule.heating,
        };
        let vehicle = problem.vehicle(problem.nominal());
        // Fastest at the periapsis of a parabola: the highest that any pass of a closed orbit has to fly.
        let speed = (2.0 * planet.gm_m3_s2 / planet.equatorial_radius_m).sqrt();
        let top_m = top_of_air_m(&planet);
        let ln_density = |altitude: f64| ln_density(&planet, altitude);
        let (thinnest, thickest) = (ln_density(top_m), ln_density(planet.floor_m));
        let value = |ln_density: f64| gauge.value(&vehicle, ln_density.exp(), speed).0;
        if value(thickest) < rule.control.high {
            return Err(PlanError::TooThin {
                ground_km: planet.floor_m / 1e3,
                share_percent: 100.0 * value(thickest) / rule.control.high,
            });
        }
        if value(thinnest) > rule.control.low {
            return Err(PlanError::TooThick {
                top_km: top_m / 1e3,
                times: value(thinnest) / rule.control.low,
            });
        }
        let highest = gauge
            .ln_density_for(&vehicle, (rule.control.low, speed), (thinnest, thickest))
            .and_then(|at| {
                let clear = (at - CLEAR).max(thinnest);
                bracketed_root(|h| ln_density(h) - clear, planet.floor_m, top_m, 1.0)
            });
        planet.interface_m = highest.unwrap_or(top_m).max(planet.interface_m);
        Ok(Self {
            rule,
            gauge,
            luck: Luck::new(problem.air_draws(), problem.seed()),
            specific_impulse_s: ship.engine.map(|engine| engine.specific_impulse_s),
            watched: watched(problem),
            problem,
            open: without_interface(&planet),
            planet,
        })
    }

    /// The planet, with its entry interface where the air no longer counts for this rule.
    #[must_use]
    pub fn planet(&self) -> &Planet {
        &self.planet
    }

    /// The ship of these numbers at a mass, kg.
    pub(super) fn vehicle(&self, numbers: &Numbers, mass_kg: f64) -> Vehicle<f64> {
        let mut numbers = *numbers;
        numbers[Number::ShipMass as usize] = mass_kg;
        self.problem.vehicle(&numbers)
    }

    /// The ship as the operator knows it: its nominal numbers at the present mass.
    pub(super) fn known_vehicle(&self, mass_kg: f64) -> Vehicle<f64> {
        self.vehicle(self.problem.nominal(), mass_kg)
    }
}

fn watched(problem: &Problem) -> u32 {
    let of_orbit = |kind: LimitKind| {
        matches!(
            kind,
            LimitKind::CapturedBelow | LimitKind::LeavesAir | LimitKind::ComesDown
        )
    };
    let entries = problem.limits().entries().iter().enumerate();
    entries
        .filter(|(_, limit)| !of_orbit(limit.kind))
        .fold(0, |bits, (bit, _)| bits | 1 << bit)
}

fn ln_density(planet: &Planet, altitude: f64) -> f64 {
    let place = Vec3::new(planet.equatorial_radius_m + altitude, 0.0, 0.0);
    planet.air(altitude, place, &AirSample::EXACT).ln_density
}

/// The top of the air table, m.
fn top_of_air_m(planet: &Planet) -> f64 {
    let cells = f64::from(u32::try_from(planet.rows.len()).unwrap_or(u32::MAX));
    planet.base_m + cells / planet.cells_per_m
}
