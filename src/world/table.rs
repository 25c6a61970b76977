//! The flown form of an atmosphere: one cell look-up and one cubic in log density per altitude.
//! How the air gets its profile, and what a draw makes of the dispersion, is left to others.

use std::fmt;

use super::air::{AirPoint, AirState};
pub use super::cell::Cell;
use super::cell::{cubics, level_ends, lines};
use super::curve::{Curve, evaluate, slope};
use super::error::{WorldError, given};
use super::grid::Grid;
use crate::numeric::real::cell_of;

/// The air of a world against altitude, on a uniform grid.
///
/// Log density and its one-sigma have continuous slopes; temperature and wind are linear in a cell.
/// An exponential atmosphere comes out exactly linear. There is one cell below the floor and one
/// above the top; both are exactly linear in log density and constant in all else, so that an
/// index clamped to the cells continues the air with the slope at the floor and with the stated
/// scale height above the top.
///
/// A cell's index is the whole part of x = (altitude − [`base_m`](Self::base_m)) ·
/// [`inverse_step_per_m`](Self::inverse_step_per_m), clamped to the cells; t is what remains of x.
#[derive(Clone, PartialEq)]
pub struct AirTable {
    grid: Grid,
    top_m: f64,
    inverse_step_per_m: f64,
    cells: Vec<Cell>,
    temperature_cells: Option<Vec<[f64; 2]>>,
    zonal_wind_cells: Option<Vec<[f64; 2]>>,
}

impl AirTable {
    /// Samples a profile, the one-sigma of log density and a zonal wind (m/s, eastward) on a grid.
    /// The slope of the profile at the table's top is continued above it.
    ///
    /// # Errors
    /// [`WorldError::OutOfRange`] for a grid that is not finite, empty or above 2¹⁸ cells, and for
    /// air whose density, temperature, one-sigma or wind is no usable number at a knot.
    pub fn sample<A>(
        grid: Grid,
        air: A,
        log_sigma: &Curve,
        zonal_wind: Option<&Curve>,
    ) -> Result<Self, WorldError>
    where
        A: Fn(f64) -> AirState,
    {
        let (steps, step_m) = (grid.steps()?, grid.step_m);
        let altitudes = || (0..=steps).map(|i| grid.knot_m(i));
        let states: Vec<_> = altitudes()
            .map(|h| check_air(h, air(h)))
            .collect::<Result<_, _>>()?;
        let temperatures: Option<Vec<_>> = states.iter().map(|state| state.temperature_k).collect();
        let winds: Option<Vec<_>> =
            zonal_wind.map(|wind| altitudes().map(|h| wind.at(h).0).collect());
        let density = states
            .iter()
            .map(|state| (state.ln_density, state.ln_density_per_m));
        let density = cubics(&density.collect::<Vec<_>>(), step_m);
        let sigmas: Vec<_> = altitudes()
            .map(|h| check_sigma(log_sigma.at(h)))
            .collect::<Result<_, _>>()?;
        let sigmas = level_ends(cubics(&sigmas, step_m));
        let cells = density.into_iter().zip(sigmas);
        Ok(Self {
            grid,
            top_m: grid.knot_m(steps),
            inverse_step_per_m: 1.0 / step_m,
            cells: cells
                .map(|(ln_density, log_sigma)| Cell {
                    ln_density,
                    log_sigma,
                })
                .collect(),
            temperature_cells: temperatures.as_deref().map(lines),
            zonal_wind_cells: winds.as_deref().map(lines),
        })
    }

    /// The same air with a curve against altitude, m, added to log density; below the floor and above
    /// the top it adds what it has there, so that slopes outside stay as they were.
    ///
    /// # Errors
    /// [`WorldError::OutOfRange`] when the curve is not finite at a knot.
    pub fn with_added(&self, log_density: &Curve) -> Result<Self, WorldError> {
        let (steps, step_m) = (self.grid.steps()?, self.grid.step_m);
        let knot = |i| {
            let (value, per_m) = log_density.at(self.grid.knot_m(i));
            given("log_density_bias", "", value)
                .must(per_m.is_finite(), "finite")
                .map(|value| (value, per_m))
        };
        let knots = (0..=steps).map(knot).collect::<Result<Vec<_>, _>>()?;
        let mut air = self.clone();
        for (cell, added) in air.cells.iter_mut().zip(level_ends(cubics(&knots, step_m))) {
            for (old, added) in cell.ln_density.iter_mut().zip(added) {
                *old += added;
            }
        }
        Ok(air)
    }

    /// Lowest altitude at which the air is known, m.
    #[must_use]
    pub fn floor_m(&self) -> f64 {
        self.grid.floor_m
    }

    /// Highest altitude at which the air is known, m; above it density falls with the stated scale height.
    #[must_use]
    pub fn top_m(&self) -> f64 {
        self.top_m
    }

    /// Height of a cell, m.
    #[must_use]
    pub fn step_m(&self) -> f64 {
        self.grid.step_m
    }

    /// Its inverse, 1/m, with which cells are looked up.
    #[must_use]
    pub fn inverse_step_per_m(&self) -> f64 {
        self.inverse_step_per_m
    }

    /// Altitude of the lower edge of the first cell, m: one step below the floor.
    #[must_use]
    pub fn base_m(&self) -> f64 {
        self.grid.floor_m - self.grid.step_m
    }

    /// The cells from [`base_m`](Self::base_m) upward, three or more.
    #[must_use]
    pub fn cells(&self) -> &[Cell] {
        &self.cells
    }

    /// Temperature, K, as c0 + c1 t, in cells as [`cells`](Self::cells); none if the world does not know it.
    #[must_use]
    pub fn temperature_cells(&self) -> Option<&[[f64; 2]]> {
        self.temperature_cells.as_deref()
    }

    /// Zonal wind relative to co-rotating air, m/s, positive eastward, as c0 + c1 t, in cells as
    /// [`cells`](Self::cells); none in still air.
    #[must_use]
    pub fn zonal_wind_cells(&self) -> Option<&[[f64; 2]]> {
        self.zonal_wind_cells.as_deref()
    }

    /// The air at an altitude, m; below the floor and above the top as continued (see the type).
    #[must_use]
    pub fn lookup(&self, altitude_m: f64) -> AirPoint {
        let position = (altitude_m - self.base_m()) * self.inverse_step_per_m;
        let (index, t) = cell_of(position, self.cells.len());
        let cell = &self.cells[index];
        let line = |cells: &[[f64; 2]]| cells[index][1].mul_add(t, cells[index][0]);
        AirPoint {
            ln_density: evaluate(&cell.ln_density, t),
            ln_density_per_m: slope(&cell.ln_density, t) * self.inverse_step_per_m,
            log_sigma: evaluate(&cell.log_sigma, t),
            log_sigma_per_m: slope(&cell.log_sigma, t) * self.inverse_step_per_m,
            temperature_k: self.temperature_cells().map(line),
            zonal_wind_m_s: self.zonal_wind_cells().map_or(0.0, line),
        }
    }
}

/// The grid alone: ten thousand cells tell a reader nothing.
impl fmt::Debug for AirTable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("AirTable")
            .field("grid", &self.grid)
            .finish_non_exhaustive()
    }
}

/// Passes on a state whose numbers are usable.
fn check_air(altitude_m: f64, state: AirState) -> Result<AirState, WorldError> {
    let usable = state.ln_density.is_finite() && state.ln_density_per_m.is_finite();
    let warm = state
        .temperature_k
        .is_none_or(|kelvin| kelvin > 0.0 && kelvin.is_finite());
    if usable && warm {
        return Ok(state);
    }
    let at = |what: &str| format!("{what} at an altitude of {altitude_m} m");
    if !usable {
        given("density", "kg/m3", f64::NAN).must(false, &at("finite, and so its rate,"))?;
    }
    let kelvin = state.temperature_k.unwrap_or(f64::NAN);
    given("temperature", "K", kelvin)
        .must(false, &at("above 0"))
        .map(|_| state)
}

/// Passes on a one-sigma and its slope when it is 0 or more.
fn check_sigma(sigma: (f64, f64)) -> Result<(f64, f64), WorldError> {
    given("sigma", "", sigma.0)
        .must(sigma.0 >= 0.0, "0 or more")
        .map(|_| sigma)
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;

    const GRID: Grid = Grid {
        floor_m: -2_000.0,
        top_m: 150_000.0,
        step_m: 100.0,
    };
    const SCALE_HEIGHT_M: f64 = 7_162.6;

    fn exponential(altitude_m: f64) -> AirState {
        let per_m = -1.0 / SCALE_HEIGHT_M;
        AirState {
            ln_density: altitude_m.mul_add(per_m, 1.225f64.ln()),
            ln_density_per_m: per_m,
            temperature_k: None,
            pressure_pa: None,
        }
    }

    #[test]
    fn an_exponential_is_exactly_linear_in_every_cell_and_beyond_them() {
        let table = AirTable::sample(GRID, exponential, &Curve::constant(0.0), None).unwrap();
        assert_eq!(table.cells().len(), 1522);
        for cell in table.cells() {
            assert_eq!(cell.ln_density[1..], [-100.0 / SCALE_HEIGHT_M, 0.0, 0.0]);
            assert_eq!(cell.log_sigma, [0.0; 4]);
        }
        for altitude_m in [
            -30_000.0, -2_000.0, 0.0, 12_345.6, 149_999.9, 150_000.0, 900_000.0,
        ] {
            let point = table.lookup(altitude_m);
            assert!(
                (point.ln_density - exponential(altitude_m).ln_density).abs() < 2e-13,
                "{altitude_m}"
            );
            assert!(
                (point.ln_density_per_m * SCALE_HEIGHT_M + 1.0).abs() < 1e-15,
                "{altitude_m}"
            );
            assert_eq!((point.temperature_k, point.zonal_wind_m_s), (None, 0.0));
        }
    }

    #[test]
    fn value_and_slope_are_continuous_across_cells() {
        let bent = |h: f64| {
            let x = h / 40_000.0;
            AirState {
                ln_density: -5.0 * x - x.sin(),
                ln_density_per_m: (-5.0 - x.cos()) / 40_000.0,
                temperature_k: Some(200.0 + 50.0 * x),
                pressure_pa: None,
            }
        };
        let sigma =
            Curve::level_beyond("sigma", &[(0.0, 0.02), (60_000.0, 0.05), (100_000.0, 0.15)])
                .unwrap();
        let table = AirTable::sample(GRID, bent, &sigma, None).unwrap();
        for pair in table.cells().windows(2) {
            assert!((evaluate(&pair[0].ln_density, 1.0) - pair[1].ln_density[0]).abs() < 1e-13);
            assert!((slope(&pair[0].ln_density, 1.0) - pair[1].ln_density[1]).abs() < 1e-13);
            assert!((evaluate(&pair[0].log_sigma, 1.0) - pair[1].log_sigma[0]).abs() < 1e-15);
            assert!((slope(&pair[0].log_sigma, 1.0) - pair[1].log_sigma[1]).abs() < 1e-15);
        }
        for i in 0..1500 {
            let altitude_m = f64::from(i) * 101.3 - 1_990.0;
            let (point, exact) = (table.lookup(altitude_m), bent(altitude_m));
            assert!(
                (point.ln_density - exact.ln_density).abs() < 1e-12,
                "{altitude_m}"
            );
            assert!(
                (point.ln_density_per_m / exact.ln_density_per_m - 1.0).abs() < 1e-8,
                "{altitude_m}"
            );
            assert!(
                (point.log_sigma - sigma.at(altitude_m).0).abs() < 1e-6,
                "{altitude_m}"
            );
            assert!(
                (point.temperature_k.unwrap() - exact.temperature_k.unwrap()).abs() < 1e-9,
                "{altitude_m}"
            );
        }
    }

    #[test]
    fn below_the_floor_and_above_the_top_only_log_density_goes_on() {
        let warm = |h: f64| AirState {
            temperature_k: Some(250.0 - h / 1000.0),
            ..exponential(h)
        };
        let sigma = Curve::level_beyond("sigma", &[(0.0, 0.02), (400_000.0, 0.4)]).unwrap();
        let wind = Curve::through("wind", &[(0.0, 10.0), (100_000.0, -40.0)]).unwrap();
        let table = AirTable::sample(GRID, warm, &sigma, Some(&wind)).unwrap();
        assert_eq!(
            (table.base_m(), table.floor_m(), table.top_m()),
            (-2_100.0, -2_000.0, 150_000.0)
        );
        let (low, floor) = (table.lookup(-50_000.0), table.lookup(-2_000.0));
        let (top, high) = (table.lookup(150_000.0), table.lookup(5e6));
        assert_eq!((low.log_sigma, high.log_sigma), (0.02, top.log_sigma));
        assert_eq!(
            (low.temperature_k, high.temperature_k),
            (floor.temperature_k, Some(100.0))
        );
        assert!(
            (low.zonal_wind_m_s - 11.0).abs() < 1e-12 && (high.zonal_wind_m_s + 65.0).abs() < 1e-12
        );
        assert!((table.lookup(50_050.0).zonal_wind_m_s + 15.025).abs() < 1e-12);
    }

    #[test]
    fn unusable_air_is_refused() {
        let key = |air: fn(f64) -> AirState, sigma: f64| match AirTable::sample(
            GRID,
            air,
            &Curve::constant(sigma),
            None,
        ) {
            Err(WorldError::OutOfRange { key, .. }) => key,
            other => panic!("expected a number out of range, got {other:?}"),
        };
        assert_eq!(key(exponential, -0.1), "sigma");
        assert_eq!(
            key(
                |h| AirState {
                    temperature_k: Some(-h),
                    ..exponential(h)
                },
                0.0
            ),
            "temperature"
        );
        assert_eq!(
            key(
                |h| AirState {
                    ln_density: f64::NAN,
                    ..exponential(h)
                },
                0.0
            ),
            "density"
        );
        assert_eq!(
            key(
                |h| AirState {
                    ln_density_per_m: h / 0.0,
                    ..exponential(h)
                },
                0.0
            ),
            "density"
        );
    }
}
