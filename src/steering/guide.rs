//! What the ship knows before the pass: the model of planet and ship, its target, its limits.

use super::gate::Gate;
use super::predict;
use super::side::Inclination;
use super::target::Target;
use crate::craft::{ShipModels, Vehicle};
use crate::numeric::elementary::exp;
use crate::pass::batch::Settings;
use crate::pass::{Models, PassResult};
use crate::scenario::steering::{Control, Steering};

/// What a steered ship knows before the pass.
#[derive(Debug, Clone)]
pub struct Guide {
    models: Models,
    lifting: bool,
    settings: Settings,
    steering: Steering,
    target: Target,
    inclination: Inclination,
    vehicle: Vehicle<f64>,
    first_bank_rad: f64,
    drop: Option<Drop>,
    relief: Relief,
    waits: bool,
}

/// What the drop of the skirt does to the ship, as factors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drop {
    /// On drag coefficient times area over mass.
    pub drag: f64,
    /// On the heating factor.
    pub heating: f64,
    /// On the nose radius.
    pub nose: f64,
}

/// Levels at which lift is turned up; infinite where there is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Relief {
    /// Sensed deceleration, m/s².
    pub deceleration_m_s2: f64,
    /// Stagnation heat flux, W/m².
    pub heat_flux_w_m2: f64,
    /// Dynamic pressure, Pa.
    pub pressure_pa: f64,
}

impl Relief {
    /// No levels.
    pub const NONE: Self = Self {
        deceleration_m_s2: f64::INFINITY,
        heat_flux_w_m2: f64::INFINITY,
        pressure_pa: f64::INFINITY,
    };

    /// How far the highest peak of a predicted flight is over its level, as a share of it.
    #[must_use]
    pub fn excess(&self, predicted: &PassResult) -> f64 {
        let over = |value: f64, level: f64| {
            if level.is_finite() {
                value / level - 1.0
            } else {
                f64::NEG_INFINITY
            }
        };
        over(predicted.peak_deceleration_m_s2, self.deceleration_m_s2)
            .max(over(predicted.peak_heat_flux_w_m2, self.heat_flux_w_m2))
            .max(over(predicted.peak_dynamic_pressure_pa, self.pressure_pa))
    }
}

/// What a [`Guide`] is made of beside the scenario's section.
#[derive(Debug, Clone)]
pub struct Model {
    /// The planet as the world file has it, without dispersion, and the models of the ship.
    pub models: Models,
    /// Whether the ship has lift.
    pub lifting: bool,
    /// The nominal ship, with its skirt if it has one.
    pub vehicle: Vehicle<f64>,
    /// The bank before the first decision, rad.
    pub first_bank_rad: f64,
    /// Drag coefficient times area over mass of that ship in fast, dense air, m²/kg.
    pub drag_area_per_mass: f64,
    /// Nose radius of that ship, m.
    pub nose_radius_m: f64,
    /// Inclination of the nominal approach, rad.
    pub inclination_rad: f64,
    /// Levels of relief.
    pub relief: Relief,
}

impl Guide {
    /// Puts together what the ship knows.
    #[must_use]
    pub fn new(model: Model, steering: Steering, target: Target) -> Self {
        let inclination = Inclination {
            wanted_rad: model.inclination_rad,
            within_rad: match steering.control {
                Control::Bank(bank) => bank.inclination_within_rad,
                Control::Skirt(_) => f64::INFINITY,
            },
        };
        let drop = match steering.control {
            Control::Bank(_) => None,
            Control::Skirt(skirt) => {
                let after = skirt.drag_coefficient * skirt.reference_area_m2 / skirt.mass_kg;
                Some(Drop {
                    drag: after / model.drag_area_per_mass,
                    heating: (model.nose_radius_m / skirt.nose_radius_m).sqrt(),
                    nose: skirt.nose_radius_m / model.nose_radius_m,
                })
            }
        };
        Self {
            settings: predict::settings(&model.models, &target),
            vehicle: model.vehicle.banked(0.0),
            models: model.models,
            lifting: model.lifting,
            steering,
            target,
            inclination,
            first_bank_rad: model.first_bank_rad,
            drop,
            relief: model.relief,
            waits: false,
        }
    }

    /// The same knowledge, waiting for a target: until one is set the ship is not steered.
    #[must_use]
    pub fn waiting(self) -> Self {
        Self {
            waits: true,
            ..self
        }
    }

    /// Whether a target is still to be set.
    #[must_use]
    pub fn waits(&self) -> bool {
        self.waits
    }

    /// The same knowledge of another nominal ship and of its models.
    #[must_use]
    pub fn with_ship(&self, models: &ShipModels, vehicle: &Vehicle<f64>) -> Self {
        let mut told = self.clone();
        told.models.ship = models.clone();
        told.vehicle = vehicle.banked(0.0);
        told
    }

    /// The same knowledge with another target.
    #[must_use]
    pub fn with_target(self, target: Target) -> Self {
        Self {
            settings: predict::settings(&self.models, &target),
            target,
            waits: false,
            ..self
        }
    }

    /// The planet and the ship of the model.
    #[must_use]
    pub fn models(&self) -> &Models {
        &self.models
    }
    /// Whether the ship has lift.
    #[must_use]
    pub fn lifting(&self) -> bool {
        self.lifting
    }
    /// How predictions are flown.
    #[must_use]
    pub fn settings(&self) -> &Settings {
        &self.settings
    }
    /// The scenario's section.
    #[must_use]
    pub fn steering(&self) -> &Steering {
        &self.steering
    }
    /// What the flight is for.
    #[must_use]
    pub fn target(&self) -> &Target {
        &self.target
    }
    /// The gate of a landing.
    #[must_use]
    pub fn gate(&self) -> Option<&Gate> {
        match &self.target {
            Target::Gate(gate) => Some(gate),
            Target::ExitApoapsis { .. } | Target::ExitSpeedLoss { .. } => None,
        }
    }
    /// The inclination that a pass is to hold.
    #[must_use]
    pub fn inclination(&self) -> &Inclination {
        &self.inclination
    }
    /// The nominal ship with its lift up.
    #[must_use]
    pub fn vehicle(&self) -> &Vehicle<f64> {
        &self.vehicle
    }
    /// The bank before the first decision, rad.
    #[must_use]
    pub fn first_bank_rad(&self) -> f64 {
        self.first_bank_rad
    }
    /// What the drop of the skirt does, for a ship that has one.
    #[must_use]
    pub fn drop(&self) -> Option<&Drop> {
        self.drop.as_ref()
    }
    /// A ship after the drop of its skirt, in drag, convection and radiation; `None` for one that has none.
    #[must_use]
    pub fn dropped(&self, vehicle: &Vehicle<f64>) -> Option<Vehicle<f64>> {
        let drop = self.drop?;
        let nose = vehicle.radiative_nose;
        Some(Vehicle {
            drag_area_per_mass: drop.drag * vehicle.drag_area_per_mass,
            heating_factor: drop.heating * vehicle.heating_factor,
            radiative_nose: match &self.models.ship.radiative {
                Some(radiative) => radiative.nose(drop.nose * exp(nose.ln_radius)),
                None => nose,
            },
            ..*vehicle
        })
    }
    /// Levels of relief.
    #[must_use]
    pub fn relief(&self) -> &Relief {
        &self.relief
    }
}
