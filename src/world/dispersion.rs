//! How far the air of one day may be from the profile, beyond the bias curve that the air table holds:
//! an error of the scale height, a small-scale field, and winds. Drawing from these is left to others.

use super::curve::Curve;
use super::error::{WorldError, given};
use super::table::AirTable;

/// The parts of the dispersion beside the one-sigma of log density in the air table
/// ([`Cell::log_sigma`](super::Cell)); a part that is none is switched off.
///
/// Density is the profile times the product of the parts, so that in log density they add up. The
/// parts are independent of one another.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Dispersion {
    /// Error of the scale height.
    pub scale_height: Option<ScaleHeightError>,
    /// Waves and other structure along the flight.
    pub small_scale: Option<SmallScale>,
    /// One-sigma of the zonal wind about its profile, m/s, the same at every altitude, 0 or more.
    pub wind_sigma_m_s: Option<f64>,
}

/// An air that is warmer or colder than the profile: every scale height is longer or shorter by the same share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScaleHeightError {
    /// One-sigma relative error ε of the scale height, 0 to 0.5.
    pub sigma: f64,
    /// Altitude at which it leaves density as it is, m.
    pub pivot_m: f64,
}

/// Structure smaller than a pass: a field of zero mean in log density.
///
/// Each correlation length is the distance at which the correlation has fallen to 1/e.
#[derive(Debug, Clone, PartialEq)]
pub struct SmallScale {
    /// One-sigma of log density against altitude, m, 0 or more.
    pub sigma: Curve,
    /// Correlation length in altitude, m, above 0.
    pub vertical_m: f64,
    /// Correlation length along the track, m, above 0.
    pub along_track_m: f64,
}

/// Largest one-sigma of log density taken for a field, as for the bias curve.
const MAX_SIGMA: f64 = 2.0;
/// Fastest wind error taken, m/s, above the jets of Neptune.
const MAX_WIND_SIGMA_M_S: f64 = 500.0;

impl Dispersion {
    /// Checks every number.
    ///
    /// # Errors
    /// [`WorldError::OutOfRange`] for the first one that fails, under its key in a world file.
    pub fn check(&self) -> Result<(), WorldError> {
        if let Some(ScaleHeightError { sigma, pivot_m }) = self.scale_height {
            let rule = "between 0 and 0.5";
            given("scale_height_sigma", "", sigma).must((0.0..=0.5).contains(&sigma), rule)?;
            given("scale_height_pivot", "m", pivot_m).must(true, "a finite altitude")?;
        }
        if let Some(small) = &self.small_scale {
            let (low, high) = small.sigma.range();
            given("sigma", "", low).must(low >= 0.0, "0 or more")?;
            given("sigma", "", high).must(high <= MAX_SIGMA, "at most 2")?;
            let (vertical, along) = (small.vertical_m, small.along_track_m);
            given("vertical_correlation", "m", vertical).must(vertical > 0.0, "above 0")?;
            given("along_track_correlation", "m", along).must(along > 0.0, "above 0")?;
        }
        if let Some(sigma) = self.wind_sigma_m_s {
            let usual = (0.0..=MAX_WIND_SIGMA_M_S).contains(&sigma);
            given("zonal_sigma", "m/s", sigma).must(usual, "between 0 and 500")?;
        }
        Ok(())
    }
}

impl Dispersion {
    /// One-sigma of the natural logarithm of density at an altitude (m) with every part of the dispersion: the bias
    /// of the air table, the error of the scale height to first order, and the small scale, in quadrature. The
    /// median is the profile; the mean density is the profile times exp(σ²/2).
    #[must_use]
    pub fn log_sigma(&self, air: &AirTable, altitude_m: f64) -> f64 {
        let here = air.lookup(altitude_m);
        let scale_height = self.scale_height.map_or(0.0, |error| {
            error.sigma * (air.lookup(error.pivot_m).ln_density - here.ln_density)
        });
        let small = self.small_scale.as_ref();
        let small = small.map_or(0.0, |field| field.sigma.at(altitude_m).0);
        let square = |x: f64| x * x;
        (square(here.log_sigma) + square(scale_height) + square(small)).sqrt()
    }
}

impl ScaleHeightError {
    /// What an error ε (relative, above −1) of the scale height adds to log density at an altitude, m:
    /// n ε/(1 + ε), where n = ln(ρ(pivot)/ρ(h)) is the number of scale heights above the pivot.
    ///
    /// It follows from dln ρ/dh = −1/(H (1 + ε)) with the density at the pivot held.
    #[must_use]
    pub fn added_log_density(&self, air: &AirTable, (altitude_m, error): (f64, f64)) -> f64 {
        let ln_density = |altitude_m: f64| air.lookup(altitude_m).ln_density;
        (ln_density(self.pivot_m) - ln_density(altitude_m)) * error / (1.0 + error)
    }
}

#[cfg(test)]
mod tests {
    use super::super::exponential::ExponentialWorld;
    use super::*;

    #[test]
    fn a_longer_scale_height_turns_the_air_about_the_pivot() {
        let world = ExponentialWorld::default().build().unwrap();
        let error = ScaleHeightError {
            sigma: 0.02,
            pivot_m: 60e3,
        };
        for (altitude_m, relative) in [(60e3, 0.1), (100e3, 0.1), (20e3, -0.05), (119e3, 0.02)] {
            // Closed form: an exponential through the pivot with the longer scale height.
            let h = 7_162.6;
            let exact = (altitude_m - 60e3) * (1.0 / h - 1.0 / (h * (1.0 + relative)));
            let added = error.added_log_density(world.air(), (altitude_m, relative));
            assert!((added - exact).abs() < 1e-12, "{altitude_m} m: {added}");
        }
    }

    #[test]
    fn numbers_out_of_range_are_named() {
        let key = |dispersion: Dispersion| match dispersion.check() {
            Err(WorldError::OutOfRange { key, .. }) => key,
            other => panic!("expected a number out of range, got {other:?}"),
        };
        let scale_height = |sigma, pivot_m| Dispersion {
            scale_height: Some(ScaleHeightError { sigma, pivot_m }),
            ..Dispersion::default()
        };
        assert_eq!(scale_height(0.02, -5e3).check(), Ok(()));
        assert_eq!(key(scale_height(0.6, 0.0)), "scale_height_sigma");
        assert_eq!(key(scale_height(0.1, f64::NAN)), "scale_height_pivot");
        let field = |sigma, (vertical_m, along_track_m)| Dispersion {
            small_scale: Some(SmallScale {
                sigma: Curve::constant(sigma),
                vertical_m,
                along_track_m,
            }),
            ..Dispersion::default()
        };
        assert_eq!(field(0.05, (5e3, 2e5)).check(), Ok(()));
        assert_eq!(key(field(-0.05, (5e3, 2e5))), "sigma");
        assert_eq!(key(field(2.05, (5e3, 2e5))), "sigma");
        assert_eq!(key(field(0.05, (0.0, 2e5))), "vertical_correlation");
        assert_eq!(key(field(0.05, (5e3, f64::NAN))), "along_track_correlation");
        let wind = Dispersion {
            wind_sigma_m_s: Some(-1.0),
            ..Dispersion::default()
        };
        assert_eq!(key(wind), "zonal_sigma");
    }
}
