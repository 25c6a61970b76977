//! What of a scenario is fixed before any sample is drawn: the models, and the numbers without error.

use super::problem::Numbers;
use crate::craft::ShipModels;
use crate::craft::fitting::{self, AirFacts, FittingError};
use crate::craft::radiative::TauberSutton;
use crate::craft::rarefaction::Molecules;
use crate::pass::Models;
use crate::scenario::Scenario;
use crate::scenario::aerodynamics::{AeroForm, Radiative};
use crate::scenario::arrival::ArrivalEnergy;
use crate::scenario::limits::LimitKind;
use crate::scenario::uncertainty::{AirDensity, Correlation, Number, Uncertainty};
use crate::world::{Planet, RadiativeGas, World};

/// Whether the coefficients come from a table or a shape.
pub(super) fn varies(scenario: &Scenario) -> bool {
    let form = scenario.ship.aerodynamics.as_ref().map(|spec| &spec.form);
    form.is_some_and(|form| *form != AeroForm::Constant)
}

/// The planet, and what all samples of the ship share.
pub(super) fn models(scenario: &Scenario, world: &World) -> Result<Models, FittingError> {
    let (ship, mut planet) = (&scenario.ship, Planet::new(world));
    planet.gusty |= scenario.uncertainty.air_parts.means.wind_m_s != 0.0;
    let air = AirFacts {
        gas: world.gas().map(|gas| {
            let molecules = Molecules {
                molar_mass_kg_kmol: gas.molar_mass_kg_kmol(),
                diameter_m: gas.collision_diameter_m(),
                reference_temperature_k: 273.15,
                viscosity_exponent: 0.5,
            };
            (gas.gamma(), molecules)
        }),
        has_sound: planet.inverse_sound.is_some(),
    };
    let mut uncertain = scenario.uncertainty.numbers.iter();
    let trim = uncertain.find(|uncertain| uncertain.number == Number::TrimAngle);
    let span = trim.map_or(0.0, |trim| trim.distribution.std_dev());
    let radiative = world
        .radiative()
        .filter(|_| ship.heating.radiative != Radiative::LeftOut);
    Ok(Models {
        ship: ShipModels {
            aerodynamics: fitting::aerodynamics(ship, &air, span)?,
            radiative: radiative.map(|gas| match gas {
                RadiativeGas::Air => TauberSutton::earth(),
                RadiativeGas::Mars => TauberSutton::mars(),
            }),
            thin_air: ship.heating.free_molecular,
        },
        planet,
    })
}

/// What is uncertain of what can be flown: without the error of radiation where no correlation covers the gas.
pub(super) fn flown_uncertainty(scenario: &Scenario, models: &Models) -> Uncertainty {
    let mut flown = scenario.uncertainty.clone();
    if models.ship.radiative.is_none() {
        let radiative = Number::HeatingRadiative;
        flown.numbers.retain(|u| u.number != radiative);
        let tied = |pair: &Correlation| [pair.between.0, pair.between.1].contains(&radiative);
        flown.correlations.retain(|pair| !tied(pair));
    }
    flown
}

/// Drag coefficient and lift-to-drag ratio of the ship in a fast continuum (Mach 20): its own constants, or
/// what a table or a shape gives there.
pub(super) fn reference_coefficients(scenario: &Scenario, models: &Models) -> (f64, f64) {
    /// ln Kn far inside a continuum.
    const CONTINUUM: f64 = -20.0;
    let ship = &scenario.ship;
    match &models.ship.aerodynamics {
        Some(aerodynamics) if varies(scenario) => {
            let (drag, lift) = aerodynamics.grid.coefficients(20.0, CONTINUUM);
            (drag, lift / drag)
        }
        _ => (ship.drag_coefficient, ship.lift_to_drag),
    }
}

pub(super) fn nominal_numbers(scenario: &Scenario) -> Numbers {
    let (ship, arrival, limits) = (&scenario.ship, &scenario.arrival, &scenario.limits);
    let energy = match arrival.energy {
        ArrivalEnergy::ExcessSpeed(value)
        | ArrivalEnergy::InertialEntrySpeed(value)
        | ArrivalEnergy::ApoapsisAltitude(value) => value,
    };
    // With a grid the two are shares of what it gives.
    let (drag, lift) = if varies(scenario) {
        (1.0, 1.0)
    } else {
        (ship.drag_coefficient, ship.lift_to_drag)
    };
    // The middle of what is expected of the air is flown, as a `mean` of its other parts is.
    let air_density = match scenario.uncertainty.air_density {
        AirDensity::LogFactor(factor) => factor.middle(),
        AirDensity::World { .. } | AirDensity::Exact => 0.0,
    };
    // So is that of the heating: the factors are 1 unless the scenario expects another.
    let middle = |number| {
        let mut uncertain = scenario.uncertainty.numbers.iter();
        let found = uncertain.find(|uncertain| uncertain.number == number);
        found.map_or(1.0, |uncertain| uncertain.distribution.middle())
    };
    let mut numbers = [0.0; Number::COUNT];
    for (number, value) in [
        (Number::AirDensity, air_density),
        (Number::ShipMass, ship.mass_kg),
        (Number::ReferenceArea, ship.reference_area_m2),
        (Number::DragCoefficient, drag),
        (Number::LiftToDrag, lift),
        (Number::TrimAngle, ship.trim_angle_rad),
        (Number::DragFactor, 1.0),
        (Number::LiftFactor, 1.0),
        (Number::HeatingConvective, middle(Number::HeatingConvective)),
        (Number::HeatingRadiative, middle(Number::HeatingRadiative)),
        (Number::BankAngle, ship.bank_angle_rad),
        (Number::NoseRadius, ship.nose_radius_m),
        (Number::ArrivalEnergy, energy),
        (Number::Inclination, arrival.inclination_rad),
        (
            Number::ArgumentOfPeriapsis,
            arrival.argument_of_periapsis_rad,
        ),
    ] {
        numbers[number as usize] = value;
    }
    for kind in LimitKind::ALL {
        if let Some(number) = kind.spec().number {
            numbers[number as usize] = limits.allowed(kind).unwrap_or(f64::INFINITY);
        }
    }
    numbers
}
