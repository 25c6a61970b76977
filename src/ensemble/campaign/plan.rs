//! Everything that is the same for all campaigns of a run.

use super::super::problem::{Numbers, Problem};
use super::forecast::{Gauge, Scout};
use super::luck::Luck;
use crate::numeric::Vec3;
use crate::numeric::counts::real;
use crate::numeric::root::bracketed_root;
use crate::pass::coast::without_interface;
use crate::pass::models::Models;
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
    /// The problem's models with the interface of the planet where the air no longer counts.
    pub(super) models: Models,
    /// The same planet without an interface, to look ahead to the periapsis.
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
        let mut models = problem.models().clone();
        let gauge = Gauge {
            quantity: rule.control.quantity,
            heating: rule.heating,
        };
        let scout = Scout {
            vehicle: problem.vehicle(problem.nominal()),
            lifting: problem.lifting(problem.nominal()),
        };
        let top_m = top_of_air_m(&models);
        let value = |altitude: f64| gauge.at(&models, &scout, fastest(&models, altitude));
        let (thick, thin) = (value(models.floor_m), value(top_m));
        if thick < rule.control.high {
            return Err(PlanError::TooThin {
                ground_km: models.floor_m / 1e3,
                share_percent: 100.0 * thick / rule.control.high,
            });
        }
        if thin > rule.control.low {
            return Err(PlanError::TooThick {
                top_km: top_m / 1e3,
                times: thin / rule.control.low,
            });
        }
        let low = |altitude: f64| value(altitude) / rule.control.low - 1.0;
        let highest = bracketed_root(low, models.floor_m, top_m, 1.0).and_then(|at| {
            let clear = ln_density(&models, at) - CLEAR;
            let miss = |altitude: f64| ln_density(&models, altitude) - clear;
            bracketed_root(miss, at, top_m, 1.0)
        });
        models.planet.interface_m = highest.unwrap_or(top_m).max(models.interface_m);
        Ok(Self {
            rule,
            gauge,
            luck: Luck::new(problem.air_draws(), problem.seed()),
            specific_impulse_s: ship.engine.map(|engine| engine.specific_impulse_s),
            watched: watched(problem),
            problem,
            open: without_interface(&models),
            models,
        })
    }

    /// The planet, with its entry interface where the air no longer counts for this rule.
    #[must_use]
    pub fn planet(&self) -> &Planet {
        &self.models.planet
    }

    /// The ship of these numbers at a mass, kg.
    pub(super) fn scout(&self, numbers: &Numbers, mass_kg: f64) -> Scout {
        let mut numbers = *numbers;
        numbers[Number::ShipMass as usize] = mass_kg;
        Scout {
            vehicle: self.problem.vehicle(&numbers),
            lifting: self.problem.lifting(&numbers),
        }
    }

    /// The ship of these numbers at a mass (kg), for which the heating models are right.
    pub(super) fn without_heating_errors(&self, numbers: &Numbers, mass_kg: f64) -> Scout {
        let mut numbers = *numbers;
        for number in Number::HEATING {
            numbers[number as usize] = self.problem.nominal()[number as usize];
        }
        self.scout(&numbers, mass_kg)
    }

    /// The ship as the operator knows it: its nominal numbers at the present mass.
    pub(super) fn known(&self, mass_kg: f64) -> Scout {
        self.scout(self.problem.nominal(), mass_kg)
    }
}

/// A place above the equator and the speed of a parabola there, against the turning: the fastest that a pass of a
/// closed orbit can be.
fn fastest(planet: &Planet, altitude: f64) -> (Vec3<f64>, Vec3<f64>) {
    let radius = planet.equatorial_radius_m + altitude;
    let speed = (2.0 * planet.gm_m3_s2 / radius).sqrt();
    let turning = if planet.rotation_rad_s < 0.0 {
        1.0
    } else {
        -1.0
    };
    (
        Vec3::new(radius, 0.0, 0.0),
        Vec3::new(0.0, turning * speed, 0.0),
    )
}

fn watched(problem: &Problem) -> u32 {
    let entries = problem.limits().entries().iter().enumerate();
    entries
        .filter(|(_, limit)| !limit.kind.is_of_the_way_out())
        .fold(0, |bits, (bit, _)| bits | 1 << bit)
}

fn ln_density(planet: &Planet, altitude: f64) -> f64 {
    let place = Vec3::new(planet.equatorial_radius_m + altitude, 0.0, 0.0);
    planet.air(altitude, place, &AirSample::EXACT).ln_density
}

/// The top of the air table, m.
fn top_of_air_m(planet: &Planet) -> f64 {
    let cells = real(planet.rows.len());
    planet.base_m + cells / planet.cells_per_m
}
