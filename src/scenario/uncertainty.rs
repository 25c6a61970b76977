//! Which numbers are uncertain, how each is distributed, and which move together.
//! Reading them from a scenario is left to `uncertainty_section`.

/// Every number of a scenario that may be uncertain.
///
/// The position in [`Number::ALL`] is the number's draw index: it never changes,
/// so that making one more number uncertain leaves the draws of the others alone.
/// New numbers are added at the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[repr(usize)]
pub enum Number {
    /// Error of the vacuum periapsis altitude as delivered, m (key `delivery.periapsis_altitude`).
    DeliveryPeriapsis,
    /// Error of the inertial flight-path angle at the interface, rad (key `delivery.flight_path_angle`).
    DeliveryAngle,
    /// Error along the B-plane axis T, m (first part of key `delivery.b_plane`).
    DeliveryBT,
    /// Error along the B-plane axis R, m (second part of key `delivery.b_plane`).
    DeliveryBR,
    /// Error of the inertial speed at the interface, m/s (key `delivery.speed`).
    DeliverySpeed,
    /// Normal score of the world's density dispersion, or the log of a user's factor (key `air.density`).
    AirDensity,
    /// `ship.mass`, kg.
    ShipMass,
    /// `ship.reference_area`, m².
    ReferenceArea,
    /// `ship.drag_coefficient`.
    DragCoefficient,
    /// `ship.lift_to_drag`.
    LiftToDrag,
    /// `ship.bank`, rad.
    BankAngle,
    /// `ship.nose_radius`, m.
    NoseRadius,
    /// `arrival.hyperbola.excess_speed`, `arrival.entry.speed` (m/s) or `arrival.orbit.apoapsis_altitude` (m).
    ArrivalEnergy,
    /// `arrival.*.inclination`, rad.
    Inclination,
    /// `arrival.*.argument_of_periapsis`, rad.
    ArgumentOfPeriapsis,
    /// Allowable `limits.peak_deceleration`, m/s².
    LimitPeakDeceleration,
    /// Allowable `limits.onset`, m/s³.
    LimitOnset,
    /// Allowable `limits.heat_flux`, W/m².
    LimitHeatFlux,
    /// Allowable `limits.heat_load`, J/m².
    LimitHeatLoad,
    /// Allowable `limits.dynamic_pressure`, Pa.
    LimitDynamicPressure,
    /// Relative error of the scale height of the air (key `air.scale_height`).
    AirScaleHeight,
    /// Error of the zonal wind, m/s (key `air.wind`).
    AirWind,
    /// `ship.trim_angle`, rad.
    TrimAngle,
    /// `ship.drag_factor`: factor on the drag coefficient, 1 as it stands.
    DragFactor,
    /// `ship.lift_factor`: factor on the lift coefficient, 1 as it stands.
    LiftFactor,
    /// Error of the altitude that the ship believes, m (key `navigation.altitude`).
    NavigationAltitude,
    /// Error of the speed that the ship believes, m/s (key `navigation.speed`).
    NavigationSpeed,
    /// Error of the flight-path angle that the ship believes, rad (key `navigation.flight_path_angle`).
    NavigationAngle,
    /// Relative error of the sensed acceleration as measured (key `navigation.accelerometer`).
    NavigationAccelerometer,
    /// Factor on the convective heat flux: what its correlation is off by, 1 as it stands (key `heating.convective`).
    HeatingConvective,
    /// Factor on the radiative heat flux: what its correlation is off by, 1 as it stands (key `heating.radiative`).
    HeatingRadiative,
}

impl Number {
    /// The errors of delivery.
    pub const DELIVERY: [Self; 5] = [
        Self::DeliveryPeriapsis,
        Self::DeliveryAngle,
        Self::DeliveryBT,
        Self::DeliveryBR,
        Self::DeliverySpeed,
    ];

    /// The errors of the heating models.
    pub const HEATING: [Self; 2] = [Self::HeatingConvective, Self::HeatingRadiative];

    /// Whether it is a limit of the flight. Named one by one, so that a number added at the end of [`Number::ALL`]
    /// has to say which it is.
    #[must_use]
    pub fn is_limit(self) -> bool {
        match self {
            Self::LimitPeakDeceleration
            | Self::LimitOnset
            | Self::LimitHeatFlux
            | Self::LimitHeatLoad
            | Self::LimitDynamicPressure => true,
            Self::DeliveryPeriapsis
            | Self::DeliveryAngle
            | Self::DeliveryBT
            | Self::DeliveryBR
            | Self::DeliverySpeed
            | Self::AirDensity
            | Self::ShipMass
            | Self::ReferenceArea
            | Self::DragCoefficient
            | Self::LiftToDrag
            | Self::BankAngle
            | Self::NoseRadius
            | Self::ArrivalEnergy
            | Self::Inclination
            | Self::ArgumentOfPeriapsis
            | Self::AirScaleHeight
            | Self::AirWind
            | Self::TrimAngle
            | Self::DragFactor
            | Self::LiftFactor
            | Self::NavigationAltitude
            | Self::NavigationSpeed
            | Self::NavigationAngle
            | Self::NavigationAccelerometer
            | Self::HeatingConvective
            | Self::HeatingRadiative => false,
        }
    }

    /// All numbers in the order of their draw indices.
    pub const ALL: [Self; 31] = [
        Self::DeliveryPeriapsis,
        Self::DeliveryAngle,
        Self::DeliveryBT,
        Self::DeliveryBR,
        Self::DeliverySpeed,
        Self::AirDensity,
        Self::ShipMass,
        Self::ReferenceArea,
        Self::DragCoefficient,
        Self::LiftToDrag,
        Self::BankAngle,
        Self::NoseRadius,
        Self::ArrivalEnergy,
        Self::Inclination,
        Self::ArgumentOfPeriapsis,
        Self::LimitPeakDeceleration,
        Self::LimitOnset,
        Self::LimitHeatFlux,
        Self::LimitHeatLoad,
        Self::LimitDynamicPressure,
        Self::AirScaleHeight,
        Self::AirWind,
        Self::TrimAngle,
        Self::DragFactor,
        Self::LiftFactor,
        Self::NavigationAltitude,
        Self::NavigationSpeed,
        Self::NavigationAngle,
        Self::NavigationAccelerometer,
        Self::HeatingConvective,
        Self::HeatingRadiative,
    ];
    /// How many numbers there are.
    pub const COUNT: usize = Self::ALL.len();
}

/// A distribution in SI units, of the value itself (delivery and density: of the error).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Distribution {
    /// Normal with mean and standard deviation.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation, above 0.
        std_dev: f64,
    },
    /// Normal, cut to `[low, high]` and renormalised.
    TruncatedNormal {
        /// Mean.
        mean: f64,
        /// Standard deviation, above 0.
        std_dev: f64,
        /// Lowest value.
        low: f64,
        /// Highest value.
        high: f64,
    },
    /// Uniform on `[low, high]`.
    Uniform {
        /// Lowest value.
        low: f64,
        /// Highest value.
        high: f64,
    },
    /// Triangular on `[low, high]` with its peak at `mode`.
    Triangular {
        /// Lowest value.
        low: f64,
        /// Most likely value.
        mode: f64,
        /// Highest value.
        high: f64,
    },
    /// `median · exp(log_std_dev · z)` with z standard normal.
    LogNormal {
        /// Median, above 0.
        median: f64,
        /// Standard deviation of the natural logarithm, above 0.
        log_std_dev: f64,
    },
}

impl Distribution {
    /// The value in the middle: the mean of a normal, the median of a lognormal, the mode of a triangular.
    #[must_use]
    pub fn middle(&self) -> f64 {
        match *self {
            Self::Normal { mean, .. } | Self::TruncatedNormal { mean, .. } => mean,
            Self::Uniform { low, high } => f64::midpoint(low, high),
            Self::Triangular { mode, .. } => mode,
            Self::LogNormal { median, .. } => median,
        }
    }

    /// Standard deviation; of a cut normal that before the cut, of a lognormal the first order.
    #[must_use]
    pub fn std_dev(&self) -> f64 {
        match *self {
            Self::Normal { std_dev, .. } | Self::TruncatedNormal { std_dev, .. } => std_dev,
            Self::Uniform { low, high } => (high - low) / 12_f64.sqrt(),
            Self::Triangular { low, mode, high } => {
                let squares = low * low + mode * mode + high * high;
                let products = low * mode + low * high + mode * high;
                ((squares - products) / 18.0).sqrt()
            }
            Self::LogNormal {
                median,
                log_std_dev,
            } => median * log_std_dev,
        }
    }
}

/// One uncertain number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uncertain {
    /// Which number.
    pub number: Number,
    /// Its distribution.
    pub distribution: Distribution,
}

/// How the density of the air is dispersed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AirDensity {
    /// The world's own one-sigma of log density against altitude, times this factor (1 as published).
    World {
        /// Factor on the one-sigma, 0 or more.
        factor: f64,
    },
    /// Air exactly as in the world file.
    Exact,
    /// One factor on the density at every altitude: its log is drawn from this distribution.
    LogFactor(Distribution),
}

/// How one more part of the air is dispersed: an error of the scale height, a small-scale field, winds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AirPart<T> {
    /// As the world file says, times this factor (1 as it stands); nothing where it says nothing.
    World {
        /// Factor on the one-sigma, 0 or more.
        factor: f64,
    },
    /// Not dispersed.
    Exact,
    /// The scenario's own.
    Own(T),
}

impl<T> Default for AirPart<T> {
    fn default() -> Self {
        Self::World { factor: 1.0 }
    }
}

/// A small-scale field of the scenario's own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnField {
    /// One-sigma of log density at every altitude.
    pub sigma: f64,
    /// Correlation length in altitude, m, above 0.
    pub vertical_m: f64,
    /// Correlation length along the track, m, above 0.
    pub along_track_m: f64,
}

/// The parts of the air's dispersion beside [`AirDensity`].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AirParts {
    /// Relative error of the scale height; its own form is a one-sigma.
    pub scale_height: AirPart<f64>,
    /// Small-scale field.
    pub small_scale: AirPart<OwnField>,
    /// Zonal wind; its own form is a one-sigma, m/s.
    pub wind: AirPart<f64>,
    /// How far from the profile the middle of each part is expected.
    pub means: AirMeans,
}

/// How far from the profile of the world file the air is expected: 0 throughout unless something is
/// known of the day, as after a pass. The nominal pass flies with these too.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct AirMeans {
    /// Multiple of the world's one-sigma of log density (key `air.density.mean`, beside `world_times`).
    pub density_sigmas: f64,
    /// Relative error of the scale height (key `air.scale_height.mean`).
    pub scale_height: f64,
    /// Zonal wind against its profile, m/s (key `air.wind.mean`).
    pub wind_m_s: f64,
}

/// The `uncertainty` section, checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Uncertainty {
    /// Uncertain numbers in the order of [`Number::ALL`]; each at most once; without [`Number::AirDensity`].
    pub numbers: Vec<Uncertain>,
    /// How density is dispersed.
    pub air_density: AirDensity,
    /// How the other parts of the air are dispersed.
    pub air_parts: AirParts,
    /// Correlations of normal scores: pairs of numbers and a coefficient in (-1, 1).
    /// The matrix they form with ones on the diagonal is positive semi-definite.
    pub correlations: Vec<Correlation>,
}

/// The correlation coefficient of the normal scores of two uncertain numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Correlation {
    /// The two numbers.
    pub between: (Number, Number),
    /// Coefficient, above -1 and below 1.
    pub coefficient: f64,
}

impl Default for Uncertainty {
    /// Nothing is uncertain but the air, as the world file has it.
    fn default() -> Self {
        Self::of_numbers(Vec::new())
    }
}

impl Uncertainty {
    /// These numbers are uncertain (in the order of [`Number::ALL`]), and the air as the world file has it.
    #[must_use]
    pub fn of_numbers(numbers: Vec<Uncertain>) -> Self {
        Self {
            numbers,
            air_density: AirDensity::World { factor: 1.0 },
            air_parts: AirParts::default(),
            correlations: Vec::new(),
        }
    }

    /// Whether this number is drawn.
    #[must_use]
    pub fn draws(&self, number: Number) -> bool {
        match number {
            Number::AirDensity => self.air_density != AirDensity::Exact,
            Number::AirScaleHeight => self.air_parts.scale_height != AirPart::Exact,
            Number::AirWind => self.air_parts.wind != AirPart::Exact,
            _ => self
                .numbers
                .iter()
                .any(|uncertain| uncertain.number == number),
        }
    }
}
