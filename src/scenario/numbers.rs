//! The table of a scenario's numbers that may be uncertain: key, unit, valid range, own value.
//! How a number is distributed is left to `distribution`.

use std::f64::consts::PI;

use super::aerodynamics::AeroForm;
use super::arrival::{self, Arrival, ArrivalEnergy};
use super::bound::Bound;
use super::heating_errors;
use super::limits::{LimitKind, Limits};
use super::ship::{self, Ship};
use super::uncertainty::Number;
use crate::numeric::units::Dimension;

/// A number of a scenario that may be uncertain.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Dispersible {
    pub(super) number: Number,
    /// Dotted key in the scenario.
    pub(super) key: String,
    pub(super) dimension: Dimension,
    /// Range in which every drawn value must lie.
    pub(super) bound: Bound,
    /// The scenario's own value, unless the scenario does not set it.
    pub(super) nominal: Option<f64>,
}

/// The numbers of a scenario that may be uncertain, without delivery and air.
pub(super) fn dispersibles(ship: &Ship, arrival: &Arrival, limits: &Limits) -> Vec<Dispersible> {
    let mut table = of_ship(ship);
    table.extend(of_arrival(arrival));
    table.extend(of_limits(limits));
    table.extend(heating_errors::dispersibles());
    table
}

fn of_ship(ship: &Ship) -> Vec<Dispersible> {
    let entry = |number, key: &str, dimension, bound, value| Dispersible {
        number,
        key: format!("ship.{key}"),
        dimension,
        bound,
        nominal: Some(value),
    };
    let pure = Dimension::Dimensionless;
    // An angle that goes a little past half a turn is still a bank angle.
    let bank = Bound::between(-2.0 * PI, 2.0 * PI);
    let mut table = vec![
        entry(
            Number::ShipMass,
            "mass",
            Dimension::Mass,
            ship::MASS_KG,
            ship.mass_kg,
        ),
        entry(
            Number::ReferenceArea,
            "reference_area",
            Dimension::Area,
            ship::REFERENCE_AREA_M2,
            ship.reference_area_m2,
        ),
        entry(
            Number::DragCoefficient,
            "drag_coefficient",
            pure,
            ship::DRAG_COEFFICIENT,
            ship.drag_coefficient,
        ),
        entry(
            Number::LiftToDrag,
            "lift_to_drag",
            pure,
            ship::LIFT_TO_DRAG,
            ship.lift_to_drag,
        ),
        entry(
            Number::BankAngle,
            "bank",
            Dimension::Angle,
            bank,
            ship.bank_angle_rad,
        ),
        entry(
            Number::NoseRadius,
            "nose_radius",
            Dimension::Length,
            ship::NOSE_RADIUS_M,
            ship.nose_radius_m,
        ),
    ];
    // Coefficients of a table are dispersed by factors and by the trim, constant ones by themselves.
    let form = ship.aerodynamics.as_ref().map(|spec| &spec.form);
    if form.is_some_and(|form| *form != AeroForm::Constant) {
        let constant = |number| matches!(number, Number::DragCoefficient | Number::LiftToDrag);
        table.retain(|entry| !constant(entry.number));
        table.extend([
            entry(
                Number::TrimAngle,
                "trim_angle",
                Dimension::Angle,
                ship::TRIM_ANGLE_RAD,
                ship.trim_angle_rad,
            ),
            entry(Number::DragFactor, "drag_factor", pure, ship::FACTOR, 1.0),
            entry(Number::LiftFactor, "lift_factor", pure, ship::FACTOR, 1.0),
        ]);
    }
    table
}

fn of_arrival(arrival: &Arrival) -> [Dispersible; 3] {
    let entry = |number, key: &str, dimension, bound, value| Dispersible {
        number,
        key: format!("arrival.{}.{key}", arrival.kind()),
        dimension,
        bound,
        nominal: Some(value),
    };
    let energy = Number::ArrivalEnergy;
    let argument = Bound::between(-4.0 * PI, 4.0 * PI);
    [
        match arrival.energy {
            ArrivalEnergy::ExcessSpeed(speed) => entry(
                energy,
                "excess_speed",
                Dimension::Speed,
                arrival::EXCESS_SPEED_M_S,
                speed,
            ),
            ArrivalEnergy::InertialEntrySpeed(speed) => entry(
                energy,
                "speed",
                Dimension::Speed,
                arrival::ENTRY_SPEED_M_S,
                speed,
            ),
            ArrivalEnergy::ApoapsisAltitude(altitude) => entry(
                energy,
                "apoapsis_altitude",
                Dimension::Length,
                arrival::APOAPSIS_ALTITUDE_M,
                altitude,
            ),
        },
        entry(
            Number::Inclination,
            "inclination",
            Dimension::Angle,
            arrival::INCLINATION_RAD,
            arrival.inclination_rad,
        ),
        entry(
            Number::ArgumentOfPeriapsis,
            "argument_of_periapsis",
            Dimension::Angle,
            argument,
            arrival.argument_of_periapsis_rad,
        ),
    ]
}

fn of_limits(limits: &Limits) -> impl Iterator<Item = Dispersible> {
    LimitKind::ALL.into_iter().filter_map(|kind| {
        let spec = kind.spec();
        Some(Dispersible {
            number: spec.number?,
            key: format!("limits.{}", spec.key),
            dimension: spec.dimension(),
            bound: spec.bound,
            nominal: limits.allowed(kind),
        })
    })
}

impl Number {
    /// Stable key for files: the dotted key under which a scenario makes it uncertain; `arrival.energy`
    /// stands for the excess speed, the entry speed or the apoapsis, whichever the scenario has.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::DeliveryPeriapsis => "delivery.periapsis_altitude",
            Self::DeliveryAngle => "delivery.flight_path_angle",
            Self::DeliveryBT => "delivery.b_plane.t",
            Self::DeliveryBR => "delivery.b_plane.r",
            Self::DeliverySpeed => "delivery.speed",
            Self::AirDensity => "air.density",
            Self::ShipMass => "ship.mass",
            Self::ReferenceArea => "ship.reference_area",
            Self::DragCoefficient => "ship.drag_coefficient",
            Self::LiftToDrag => "ship.lift_to_drag",
            Self::BankAngle => "ship.bank",
            Self::NoseRadius => "ship.nose_radius",
            Self::ArrivalEnergy => "arrival.energy",
            Self::Inclination => "arrival.inclination",
            Self::ArgumentOfPeriapsis => "arrival.argument_of_periapsis",
            Self::LimitPeakDeceleration => "limits.peak_deceleration",
            Self::LimitOnset => "limits.onset",
            Self::LimitHeatFlux => "limits.heat_flux",
            Self::LimitHeatLoad => "limits.heat_load",
            Self::LimitDynamicPressure => "limits.dynamic_pressure",
            Self::AirScaleHeight => "air.scale_height",
            Self::AirWind => "air.wind",
            Self::TrimAngle => "ship.trim_angle",
            Self::DragFactor => "ship.drag_factor",
            Self::LiftFactor => "ship.lift_factor",
            Self::NavigationAltitude => "navigation.altitude",
            Self::NavigationSpeed => "navigation.speed",
            Self::NavigationAngle => "navigation.flight_path_angle",
            Self::NavigationAccelerometer => "navigation.accelerometer",
            Self::HeatingConvective => "heating.convective",
            Self::HeatingRadiative => "heating.radiative",
        }
    }

    /// What the number is, in words for tables and figures.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::DeliveryPeriapsis => "error of the periapsis altitude",
            Self::DeliveryAngle => "error of the flight-path angle",
            Self::DeliveryBT => "B-plane error along T",
            Self::DeliveryBR => "B-plane error along R",
            Self::DeliverySpeed => "error of the entry speed",
            Self::AirDensity => "density of the air",
            Self::ShipMass => "mass",
            Self::ReferenceArea => "reference area",
            Self::DragCoefficient => "drag coefficient",
            Self::LiftToDrag => "lift-to-drag ratio",
            Self::BankAngle => "bank angle",
            Self::NoseRadius => "nose radius",
            Self::ArrivalEnergy => "energy of the arrival",
            Self::Inclination => "inclination",
            Self::ArgumentOfPeriapsis => "argument of periapsis",
            Self::LimitPeakDeceleration => "limit of peak deceleration",
            Self::LimitOnset => "limit of onset",
            Self::LimitHeatFlux => "limit of heat flux",
            Self::LimitHeatLoad => "limit of heat load",
            Self::LimitDynamicPressure => "limit of dynamic pressure",
            Self::AirScaleHeight => "scale height of the air",
            Self::AirWind => "wind",
            Self::TrimAngle => "trim angle",
            Self::DragFactor => "factor on drag",
            Self::LiftFactor => "factor on lift",
            Self::NavigationAltitude => "navigation error of the altitude",
            Self::NavigationSpeed => "navigation error of the speed",
            Self::NavigationAngle => "navigation error of the flight-path angle",
            Self::NavigationAccelerometer => "error of the accelerometer",
            Self::HeatingConvective => "factor on convective heating",
            Self::HeatingRadiative => "factor on radiative heating",
        }
    }
}
