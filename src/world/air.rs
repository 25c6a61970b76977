//! What is known of the air at one altitude: as a profile gives it, and as the flown table gives it.

/// The air at one altitude as a profile knows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirState {
    /// Natural logarithm of density in kg/m³.
    pub ln_density: f64,
    /// Its rate with altitude, 1/m. Where a profile has a kink: the rate above it.
    pub ln_density_per_m: f64,
    /// Kinetic temperature, K, where the profile knows it.
    pub temperature_k: Option<f64>,
    /// Pressure, Pa, where the profile knows it.
    pub pressure_pa: Option<f64>,
}

/// The air at one altitude as looked up in an [`AirTable`](super::AirTable).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirPoint {
    /// Natural logarithm of density in kg/m³.
    pub ln_density: f64,
    /// Its rate with altitude, 1/m.
    pub ln_density_per_m: f64,
    /// One-sigma of log density, 0 where the air is taken as exact.
    pub log_sigma: f64,
    /// Its rate with altitude, 1/m.
    pub log_sigma_per_m: f64,
    /// Temperature, K, where the world knows it.
    pub temperature_k: Option<f64>,
    /// Zonal wind relative to co-rotating air, m/s, positive eastward.
    pub zonal_wind_m_s: f64,
}
