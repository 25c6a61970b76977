//! What all samples of a ship share: its coefficient grid and the models of its heating.
//! What differs from sample to sample is in `vehicle`.

use super::aero_grid::{AeroGrid, Coefficients};
use super::free_molecular;
use super::heating::sutton_graves;
use super::radiative::TauberSutton;
use super::rarefaction::bridged_heat_flux;
use super::vehicle::Vehicle;
use crate::numeric::Real;

/// Models of one ship in the air of one world. The default has none: constant coefficients, convective
/// heating of a continuum alone.
#[derive(Debug, Clone, Default)]
pub struct ShipModels {
    /// Coefficients against Mach and Knudsen number; without, those of [`Vehicle`] are constant.
    pub aerodynamics: Option<Aerodynamics>,
    /// Radiative heating, where a correlation covers the gas.
    pub radiative: Option<TauberSutton>,
    /// Whether convective heating is bridged to the free-molecular one.
    pub thin_air: bool,
}

/// A grid of coefficients and what is needed to find a place in it.
#[derive(Debug, Clone)]
pub struct Aerodynamics {
    /// The grid.
    pub grid: AeroGrid,
    /// ln(Kn ρ), ρ in kg/m³: ln Kn is this less ln ρ.
    pub ln_knudsen_density: f64,
}

/// Air and motion at a moment, as the models need them. Rates are along the flight, 1/s.
#[derive(Debug, Clone, Copy)]
pub struct Stream<R> {
    /// ln of density in kg/m³.
    pub ln_density: R,
    /// Its square root.
    pub sqrt_density: R,
    /// Rate of ln density.
    pub density_log_rate: R,
    /// Speed against the air, m/s.
    pub speed: R,
    /// Rate of its logarithm.
    pub speed_log_rate: R,
}

/// A heat flux and the rate of its logarithm.
#[derive(Debug, Clone, Copy)]
pub struct Heating<R> {
    /// Stagnation heat flux, W/m².
    pub flux: R,
    /// d ln(flux)/dt, 1/s.
    pub log_rate: R,
}

impl Aerodynamics {
    /// Coefficients of a sample at a Mach number.
    #[inline(always)]
    pub fn at<R: Real>(&self, vehicle: &Vehicle<R>, mach: R, ln_density: R) -> Coefficients<R> {
        let ln_knudsen = R::splat(self.ln_knudsen_density) - ln_density;
        self.grid.with_slopes(mach, ln_knudsen, vehicle.off_trim)
    }
}

impl ShipModels {
    /// Stagnation heat flux on a cold wall with the rate of its logarithm along the flight: convective,
    /// bridged to free-molecular in thin air, and radiative. Each part only where its model is there.
    #[inline(always)]
    pub fn heating<R: Real>(&self, vehicle: &Vehicle<R>, stream: &Stream<R>) -> Heating<R> {
        let half = R::splat(0.5);
        let three = stream.speed_log_rate * R::splat(3.0);
        let mut log_rate = stream.density_log_rate.mul_add(half, three);
        let mut flux = vehicle.heating_factor * sutton_graves(stream.sqrt_density, stream.speed);
        if self.thin_air {
            let density = stream.sqrt_density * stream.sqrt_density;
            let thin = free_molecular::heat_flux(density, stream.speed, vehicle.accommodation);
            // ln q = ln c + ln f - ½ ln(c² + f²): each rate weighs by the square of the other flux.
            let (c2, f2) = (flux * flux, thin * thin);
            let share = c2 / (c2 + f2).max(R::splat(1e-300));
            log_rate = (share * half).mul_add(stream.density_log_rate, log_rate);
            flux = bridged_heat_flux(flux, thin);
        }
        if let Some(radiative) = &self.radiative {
            let hot = radiative.heating(vehicle.radiative_nose, stream);
            let radiated = vehicle.radiative_factor * hot.flux;
            let sum = flux + radiated;
            let weighted = flux.mul_add(log_rate, radiated * hot.log_rate);
            log_rate = weighted / sum.max(R::splat(1e-300));
            flux = sum;
        }
        Heating { flux, log_rate }
    }
}
