//! What a quantity can measure and the units in which it may be written.
//! Reading and writing of quantities is left to `units`.

use std::f64::consts::PI;
use std::fmt;

/// Standard acceleration of free fall, m/s² (exact by definition, CGPM 1901).
const STANDARD_GRAVITY: f64 = 9.806_65;

/// Spelling of one unit with its value in SI: `times / per`, two exact numbers where possible.
pub(super) struct Unit {
    pub(super) name: &'static str,
    pub(super) times: f64,
    pub(super) per: f64,
}

const fn unit(name: &'static str, times: f64, per: f64) -> Unit {
    Unit { name, times, per }
}

const LENGTH: &[Unit] = &[
    unit("km", 1e3, 1.0),
    unit("m", 1.0, 1.0),
    unit("cm", 1.0, 1e2),
    unit("mm", 1.0, 1e3),
];
const SPEED: &[Unit] = &[
    unit("km/s", 1e3, 1.0),
    unit("m/s", 1.0, 1.0),
    unit("cm/s", 1.0, 1e2),
    unit("mm/s", 1.0, 1e3),
];
const MASS: &[Unit] = &[unit("t", 1e3, 1.0), unit("kg", 1.0, 1.0)];
const AREA: &[Unit] = &[
    unit("m2", 1.0, 1.0),
    unit("km2", 1e6, 1.0),
    unit("cm2", 1.0, 1e4),
];
const ANGLE: &[Unit] = &[
    unit("deg", PI, 180.0),
    unit("rad", 1.0, 1.0),
    unit("mrad", 1.0, 1e3),
];
const ANGULAR_RATE: &[Unit] = &[
    unit("deg/s", PI, 180.0),
    unit("rad/s", 1.0, 1.0),
    unit("deg/h", PI, 180.0 * 3600.0),
    unit("deg/d", PI, 180.0 * 86_400.0),
];
const ANGULAR_ACCELERATION: &[Unit] = &[unit("deg/s2", PI, 180.0), unit("rad/s2", 1.0, 1.0)];
const ACCELERATION: &[Unit] = &[unit("g", STANDARD_GRAVITY, 1.0), unit("m/s2", 1.0, 1.0)];
const ACCELERATION_RATE: &[Unit] = &[unit("g/s", STANDARD_GRAVITY, 1.0), unit("m/s3", 1.0, 1.0)];
const HEAT_FLUX: &[Unit] = &[
    unit("W/cm2", 1e4, 1.0),
    unit("kW/m2", 1e3, 1.0),
    unit("MW/m2", 1e6, 1.0),
    unit("W/m2", 1.0, 1.0),
];
const HEAT_LOAD: &[Unit] = &[
    unit("J/cm2", 1e4, 1.0),
    unit("kJ/cm2", 1e7, 1.0),
    unit("MJ/m2", 1e6, 1.0),
    unit("kJ/m2", 1e3, 1.0),
    unit("J/m2", 1.0, 1.0),
];
const PRESSURE: &[Unit] = &[
    unit("kPa", 1e3, 1.0),
    unit("Pa", 1.0, 1.0),
    unit("hPa", 1e2, 1.0),
    unit("MPa", 1e6, 1.0),
    unit("mbar", 1e2, 1.0),
    unit("bar", 1e5, 1.0),
    unit("atm", 101_325.0, 1.0),
];
const TIME: &[Unit] = &[
    unit("s", 1.0, 1.0),
    unit("min", 60.0, 1.0),
    unit("h", 3600.0, 1.0),
    unit("d", 86_400.0, 1.0),
    unit("ms", 1.0, 1e3),
];
const DENSITY: &[Unit] = &[
    unit("kg/m3", 1.0, 1.0),
    unit("g/m3", 1.0, 1e3),
    unit("g/cm3", 1e3, 1.0),
    unit("kg/km3", 1.0, 1e9),
];
const TEMPERATURE: &[Unit] = &[unit("K", 1.0, 1.0)];
const TEMPERATURE_GRADIENT: &[Unit] = &[unit("K/km", 1.0, 1e3), unit("K/m", 1.0, 1.0)];
const FORCE: &[Unit] = &[
    unit("kN", 1e3, 1.0),
    unit("N", 1.0, 1.0),
    unit("MN", 1e6, 1.0),
];
const GRAVITATIONAL_PARAMETER: &[Unit] = &[unit("km3/s2", 1e9, 1.0), unit("m3/s2", 1.0, 1.0)];
const MOLAR_MASS: &[Unit] = &[
    unit("g/mol", 1.0, 1e3),
    unit("kg/kmol", 1.0, 1e3),
    unit("kg/mol", 1.0, 1.0),
];
const SPECIFIC_HEAT: &[Unit] = &[unit("J/(kg K)", 1.0, 1.0), unit("kJ/(kg K)", 1e3, 1.0)];
const VISCOSITY: &[Unit] = &[unit("Pa s", 1.0, 1.0)];
const CONDUCTIVITY: &[Unit] = &[unit("W/(m K)", 1.0, 1.0), unit("mW/(m K)", 1.0, 1e3)];
const AREAL_HEAT_CAPACITY: &[Unit] = &[unit("kJ/(m2 K)", 1e3, 1.0), unit("J/(m2 K)", 1.0, 1.0)];
const RATIO: &[Unit] = &[unit("%", 1.0, 100.0)];

/// What a quantity measures; decides which units are accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// Length or altitude, m.
    Length,
    /// Speed, m/s.
    Speed,
    /// Mass, kg.
    Mass,
    /// Area or variance of a length, m².
    Area,
    /// Angle, rad.
    Angle,
    /// Angular rate, rad/s.
    AngularRate,
    /// Angular acceleration, rad/s².
    AngularAcceleration,
    /// Acceleration, m/s².
    Acceleration,
    /// Rate of an acceleration, m/s³.
    AccelerationRate,
    /// Heat flux, W/m².
    HeatFlux,
    /// Heat load, J/m².
    HeatLoad,
    /// Pressure, Pa.
    Pressure,
    /// Time, s.
    Time,
    /// Density, kg/m³.
    Density,
    /// Absolute temperature, K.
    Temperature,
    /// Change of temperature with height, K/m.
    TemperatureGradient,
    /// Force, N.
    Force,
    /// Gravitational parameter GM, m³/s².
    GravitationalParameter,
    /// Molar mass, kg/mol.
    MolarMass,
    /// Specific heat or specific gas constant, J/(kg K).
    SpecificHeat,
    /// Dynamic viscosity, Pa s.
    Viscosity,
    /// Conductivity of heat, W/(m K).
    Conductivity,
    /// Heat capacity of a square metre, J/(m² K).
    ArealHeatCapacity,
    /// A share of something: `3 %` or the bare number 0.03.
    Ratio,
    /// A pure number.
    Dimensionless,
}

impl Dimension {
    /// Every dimension.
    pub const ALL: [Self; 25] = [
        Self::Length,
        Self::Speed,
        Self::Mass,
        Self::Area,
        Self::Angle,
        Self::AngularRate,
        Self::AngularAcceleration,
        Self::Acceleration,
        Self::AccelerationRate,
        Self::HeatFlux,
        Self::HeatLoad,
        Self::Pressure,
        Self::Time,
        Self::Density,
        Self::Temperature,
        Self::TemperatureGradient,
        Self::Force,
        Self::GravitationalParameter,
        Self::MolarMass,
        Self::SpecificHeat,
        Self::Viscosity,
        Self::Conductivity,
        Self::ArealHeatCapacity,
        Self::Ratio,
        Self::Dimensionless,
    ];

    /// The name of its SI unit among those accepted; `None` for a share or a pure number.
    #[must_use]
    pub fn si_unit(self) -> Option<&'static str> {
        let mut units = self.units().iter();
        let si = units.find(|unit| unit.times.to_bits() == unit.per.to_bits())?;
        Some(si.name)
    }

    /// The dimension in words with its article, as in "expected a length".
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Length => "a length",
            Self::Speed => "a speed",
            Self::Mass => "a mass",
            Self::Area => "an area",
            Self::Angle => "an angle",
            Self::AngularRate => "an angular rate",
            Self::AngularAcceleration => "an angular acceleration",
            Self::Acceleration => "an acceleration",
            Self::AccelerationRate => "a rate of acceleration",
            Self::HeatFlux => "a heat flux",
            Self::HeatLoad => "a heat load",
            Self::Pressure => "a pressure",
            Self::Time => "a time",
            Self::Density => "a density",
            Self::Temperature => "a temperature",
            Self::TemperatureGradient => "a temperature gradient",
            Self::Force => "a force",
            Self::GravitationalParameter => "a gravitational parameter",
            Self::MolarMass => "a molar mass",
            Self::SpecificHeat => "a specific heat",
            Self::Viscosity => "a viscosity",
            Self::Conductivity => "a conductivity",
            Self::ArealHeatCapacity => "a heat capacity per area",
            Self::Ratio => "a share",
            Self::Dimensionless => "a number",
        }
    }

    /// Whether a number may stand without a unit.
    #[must_use]
    pub fn accepts_bare(self) -> bool {
        matches!(self, Self::Ratio | Self::Dimensionless)
    }

    /// The accepted units in words, as in "km, m, cm or mm".
    #[must_use]
    pub fn accepted(self) -> String {
        let mut names: Vec<&str> = self.units().iter().map(|unit| unit.name).collect();
        if self.accepts_bare() {
            names.push("no unit");
        }
        let last = names.pop().unwrap_or("no unit");
        if names.is_empty() {
            return last.to_owned();
        }
        format!("{} or {last}", names.join(", "))
    }

    /// The units in the order in which they are offered.
    pub(super) fn units(self) -> &'static [Unit] {
        match self {
            Self::Length => LENGTH,
            Self::Speed => SPEED,
            Self::Mass => MASS,
            Self::Area => AREA,
            Self::Angle => ANGLE,
            Self::AngularRate => ANGULAR_RATE,
            Self::AngularAcceleration => ANGULAR_ACCELERATION,
            Self::Acceleration => ACCELERATION,
            Self::AccelerationRate => ACCELERATION_RATE,
            Self::HeatFlux => HEAT_FLUX,
            Self::HeatLoad => HEAT_LOAD,
            Self::Pressure => PRESSURE,
            Self::Time => TIME,
            Self::Density => DENSITY,
            Self::Temperature => TEMPERATURE,
            Self::TemperatureGradient => TEMPERATURE_GRADIENT,
            Self::Force => FORCE,
            Self::GravitationalParameter => GRAVITATIONAL_PARAMETER,
            Self::MolarMass => MOLAR_MASS,
            Self::SpecificHeat => SPECIFIC_HEAT,
            Self::Viscosity => VISCOSITY,
            Self::Conductivity => CONDUCTIVITY,
            Self::ArealHeatCapacity => AREAL_HEAT_CAPACITY,
            Self::Ratio => RATIO,
            Self::Dimensionless => &[],
        }
    }

    pub(super) fn find(self, name: &str) -> Option<&'static Unit> {
        self.units().iter().find(|unit| unit.name == name)
    }

    /// A quantity of this dimension as it may be written.
    pub(super) fn example(self) -> String {
        match self.units().first() {
            Some(unit) => format!("1.5 {}", unit.name),
            None => "1.5".to_owned(),
        }
    }
}

impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}
