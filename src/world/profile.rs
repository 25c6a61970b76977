//! The forms in which a world may give its air: layers, a table, scale heights, or a standard.
//! Each answers at any altitude; which form a file uses is found out by the reader of the file.

use super::air::AirState;
use super::curve::Curve;
use super::error::{WorldError, given};
use super::layers::{HydrostaticLayers, Layer, LayerBase};
use super::ussa1976::Ussa1976;
use crate::numeric::elementary::{exp, ln};

/// The air of a world against altitude, before it is put on a grid.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    form: Form,
    floor_m: f64,
    /// Where the form ends and one scale height takes over.
    form_top_m: f64,
    top_m: f64,
    at_top: AirState,
    scale_height_above_m: f64,
}

#[derive(Debug, Clone, PartialEq)]
enum Form {
    Standard(Box<Ussa1976>),
    Layers(HydrostaticLayers),
    Table {
        ln_density: Curve,
        temperature: Option<Curve>,
        ln_pressure: Option<Curve>,
    },
    ScaleHeights(Vec<Stretch>),
}

/// A stretch of one scale height.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Stretch {
    from_m: f64,
    ln_density: f64,
    scale_height_m: f64,
}

/// How the air goes on above the top of a form: log density falls in a straight line.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Above {
    /// Scale height of density, m, above 0; none takes that of the form at its top.
    pub scale_height_m: Option<f64>,
    /// Altitude up to which this is meant to hold, m; none for the top of the form.
    pub to_m: Option<f64>,
}

/// One row of a table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TableRow {
    /// Altitude, m.
    pub altitude_m: f64,
    /// Density, kg/m³, above 0.
    pub density_kg_m3: f64,
    /// Temperature, K, above 0; used if every row has one.
    pub temperature_k: Option<f64>,
    /// Pressure, Pa, above 0; used if every row has one.
    pub pressure_pa: Option<f64>,
}

impl Profile {
    /// Altitudes that the form itself has, m: above the second one scale height takes over.
    #[must_use]
    pub fn form_m(&self) -> (f64, f64) {
        (self.floor_m, self.form_top_m)
    }

    /// The U.S. Standard Atmosphere, 1976, from 0 to 1000 km.
    ///
    /// # Errors
    /// [`WorldError::OutOfRange`] when `above` makes no sense.
    pub fn us_1976(above: Above) -> Result<Self, WorldError> {
        let form = Form::Standard(Box::new(Ussa1976::new()?));
        Self::new(form, (Ussa1976::FLOOR_M, Ussa1976::TOP_M), above)
    }

    /// Hydrostatic layers up to `top_m` (geometric). The first begins the air at its foot.
    ///
    /// # Errors
    /// [`WorldError`] for unusable layers, or when `top_m` or `above` make no sense.
    pub fn layers(
        base: LayerBase,
        layers: &[Layer],
        (top_m, above): (f64, Above),
    ) -> Result<Self, WorldError> {
        let stack = HydrostaticLayers::new(base, layers)?;
        // Geometric altitude of the lowest foot.
        let floor_m = layers.first().map_or(0.0, |layer| {
            base.radius_m * layer.from_m / (base.radius_m - layer.from_m)
        });
        Self::new(Form::Layers(stack), (floor_m, top_m), above)
    }

    /// A table: log density, log pressure and temperature follow curves without wiggles through the rows.
    ///
    /// # Errors
    /// [`WorldError`] for fewer than two rows, altitudes that do not rise, numbers that are not above 0,
    /// or when `above` makes no sense.
    pub fn table(rows: &[TableRow], above: Above) -> Result<Self, WorldError> {
        let (Some(first), Some(last), true) = (rows.first(), rows.last(), rows.len() > 1) else {
            return Err(WorldError::TooFew {
                key: "rows",
                least: 2,
                found: rows.len(),
            });
        };
        let column = |key,
                      unit,
                      of: &dyn Fn(&TableRow) -> Option<f64>|
         -> Result<Option<Vec<(f64, f64)>>, WorldError> {
            let Some(values) = rows.iter().map(of).collect::<Option<Vec<f64>>>() else {
                return Ok(None);
            };
            let checked = rows.iter().zip(values).map(|(row, value)| {
                given(key, unit, value)
                    .must(value > 0.0, "above 0")
                    .map(|value| (row.altitude_m, value))
            });
            checked.collect::<Result<Vec<_>, _>>().map(Some)
        };
        let logarithm = |points: Vec<(f64, f64)>| {
            points
                .into_iter()
                .map(|(x, y)| (x, ln(y)))
                .collect::<Vec<_>>()
        };
        let curve = |points: Option<Vec<(f64, f64)>>| {
            points
                .map(|points| Curve::through("rows", &points))
                .transpose()
        };
        let density =
            column("density", "kg/m3", &|row| Some(row.density_kg_m3))?.unwrap_or_default();
        let form = Form::Table {
            ln_density: Curve::smooth("rows", &logarithm(density))?,
            temperature: curve(column("temperature", "K", &|row| row.temperature_k)?)?,
            ln_pressure: curve(column("pressure", "Pa", &|row| row.pressure_pa)?.map(logarithm))?,
        };
        Self::new(form, (first.altitude_m, last.altitude_m), above)
    }

    /// Scale heights: density `density_kg_m3` at the first altitude of `stretches`, each (from, m; scale
    /// height, m), up to `top_m`; a single one is an exponential atmosphere.
    ///
    /// # Errors
    /// [`WorldError`] for no stretch, altitudes that do not rise, numbers that are not above 0, or when
    /// `top_m` or `above` make no sense.
    pub fn scale_heights(
        density_kg_m3: f64,
        stretches: &[(f64, f64)],
        (top_m, above): (f64, Above),
    ) -> Result<Self, WorldError> {
        super::curve::check_rising("stretches", stretches)?;
        given("density", "kg/m3", density_kg_m3).must(density_kg_m3 > 0.0, "above 0")?;
        let mut stack: Vec<Stretch> = Vec::with_capacity(stretches.len());
        for &(from_m, scale_height_m) in stretches {
            given("scale_height", "m", scale_height_m).must(scale_height_m > 0.0, "above 0")?;
            let ln_density = stack
                .last()
                .map_or(ln(density_kg_m3), |below| below.at(from_m).ln_density);
            stack.push(Stretch {
                from_m,
                ln_density,
                scale_height_m,
            });
        }
        let floor_m = stack.first().map_or(0.0, |stretch| stretch.from_m);
        Self::new(Form::ScaleHeights(stack), (floor_m, top_m), above)
    }

    fn new(
        form: Form,
        (floor_m, form_top_m): (f64, f64),
        above: Above,
    ) -> Result<Self, WorldError> {
        given("top", "m", form_top_m).must(form_top_m > floor_m, "above the lowest altitude")?;
        let top_m = above.to_m.unwrap_or(form_top_m);
        given("to", "m", top_m).must(top_m >= form_top_m, "at or above the top of the profile")?;
        let at_top = form.at(form_top_m);
        let scale_height_above_m = above
            .scale_height_m
            .unwrap_or(-1.0 / at_top.ln_density_per_m);
        let rule = "above 0: density has to fall with altitude";
        given("scale_height", "m", scale_height_above_m).must(scale_height_above_m > 0.0, rule)?;
        Ok(Self {
            form,
            floor_m,
            form_top_m,
            top_m,
            at_top,
            scale_height_above_m,
        })
    }

    /// Lowest altitude of the profile, m.
    #[must_use]
    pub fn floor_m(&self) -> f64 {
        self.floor_m
    }

    /// Altitude up to which the profile is meant, m, with the scale height above its form.
    #[must_use]
    pub fn top_m(&self) -> f64 {
        self.top_m
    }

    /// The air at an altitude, m. Above the top of the form temperature stays and log density and log
    /// pressure fall in straight lines; below the floor the form goes on in its own way.
    #[must_use]
    pub fn at(&self, altitude_m: f64) -> AirState {
        let above = altitude_m - self.form_top_m;
        if above < 0.0 {
            return self.form.at(altitude_m);
        }
        let per_m = -1.0 / self.scale_height_above_m;
        AirState {
            ln_density: above.mul_add(per_m, self.at_top.ln_density),
            ln_density_per_m: per_m,
            temperature_k: self.at_top.temperature_k,
            pressure_pa: self
                .at_top
                .pressure_pa
                .map(|pressure| pressure * exp(above * per_m)),
        }
    }
}

impl Form {
    fn at(&self, altitude_m: f64) -> AirState {
        match self {
            Self::Standard(standard) => standard.at(altitude_m),
            Self::Layers(layers) => layers.at(altitude_m),
            Self::Table {
                ln_density,
                temperature,
                ln_pressure,
            } => {
                let (ln_density, ln_density_per_m) = ln_density.at(altitude_m);
                AirState {
                    ln_density,
                    ln_density_per_m,
                    temperature_k: temperature.as_ref().map(|curve| curve.at(altitude_m).0),
                    pressure_pa: ln_pressure
                        .as_ref()
                        .map(|curve| exp(curve.at(altitude_m).0)),
                }
            }
            Self::ScaleHeights(stretches) => {
                let above = stretches.partition_point(|stretch| stretch.from_m <= altitude_m);
                joined(stretches, altitude_m)
                    .unwrap_or_else(|| stretches[above.saturating_sub(1)].at(altitude_m))
            }
        }
    }
}

/// The air near the joint of two stretches: within 2 km of it (or a quarter of the shorter stretch) the
/// slope passes smoothly from one to the other, so that an integrator meets no kink. The density is that
/// of the stretches again at both ends of the passage.
fn joined(stretches: &[Stretch], altitude_m: f64) -> Option<AirState> {
    const WIDEST_M: f64 = 2e3;
    for (i, pair) in stretches.windows(2).enumerate() {
        let (low, high) = (&pair[0], &pair[1]);
        let below = high.from_m - low.from_m;
        let beyond = stretches
            .get(i + 2)
            .map_or(f64::INFINITY, |next| next.from_m - high.from_m);
        let half = WIDEST_M.min(0.25 * below.min(beyond));
        let x = 0.5 * (altitude_m - high.from_m) / half + 0.5;
        if (0.0..=1.0).contains(&x) {
            let start = low.at(high.from_m - half);
            let (from, to) = (start.ln_density_per_m, high.at(altitude_m).ln_density_per_m);
            // Slope from + (to - from) (3x² - 2x³), and its integral.
            let risen = 2.0 * half * (from * x + (to - from) * x.powi(3) * (1.0 - 0.5 * x));
            return Some(AirState {
                ln_density: start.ln_density + risen,
                ln_density_per_m: from + (to - from) * x * x * (3.0 - 2.0 * x),
                ..start
            });
        }
    }
    None
}

impl Stretch {
    fn at(&self, altitude_m: f64) -> AirState {
        let per_m = -1.0 / self.scale_height_m;
        AirState {
            ln_density: (altitude_m - self.from_m).mul_add(per_m, self.ln_density),
            ln_density_per_m: per_m,
            temperature_k: None,
            pressure_pa: None,
        }
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::super::grid::Grid;
    use super::super::table::AirTable;
    use super::*;

    const NO_MORE: Above = Above {
        scale_height_m: None,
        to_m: None,
    };

    #[test]
    fn scale_heights_follow_one_another_and_one_alone_is_an_exponential() {
        let two =
            Profile::scale_heights(2.0, &[(0.0, 8e3), (40e3, 6e3)], (100e3, NO_MORE)).unwrap();
        let expected = 2f64.ln() - 5.0 - 15e3 / 6e3;
        assert!((two.at(55e3).ln_density - expected).abs() < 1e-14);
        assert!((two.at(130e3).ln_density - (2f64.ln() - 5.0 - 15.0)).abs() < 1e-14);
        assert_eq!(two.at(-10.0).ln_density_per_m, -1.0 / 8e3);
        let one = Profile::scale_heights(1.5, &[(0.0, 7e3)], (100e3, NO_MORE)).unwrap();
        let table = AirTable::sample(
            Grid::covering(0.0, 100e3),
            |h| one.at(h),
            &Curve::constant(0.0),
            None,
        )
        .unwrap();
        for cell in table.cells() {
            assert_eq!(cell.ln_density[1..], [-1.0 / 7e3 * 100.0, 0.0, 0.0]);
        }
    }

    #[test]
    fn a_table_passes_through_its_rows_and_goes_on_with_its_scale_height() {
        let row = |altitude_m: f64, density_kg_m3: f64, temperature_k: Option<f64>| TableRow {
            altitude_m,
            density_kg_m3,
            temperature_k,
            pressure_pa: Some(density_kg_m3 * 5e4),
        };
        let rows = [
            row(-1e3, 2.0, Some(250.0)),
            row(5e3, 1.0, Some(240.0)),
            row(20e3, 0.1, None),
        ];
        let above = Above {
            scale_height_m: Some(9e3),
            to_m: Some(80e3),
        };
        let profile = Profile::table(&rows, above).unwrap();
        for row in rows {
            let found = profile.at(row.altitude_m);
            assert!((found.ln_density - row.density_kg_m3.ln()).abs() < 1e-14);
            assert!((found.pressure_pa.unwrap() / (row.density_kg_m3 * 5e4) - 1.0).abs() < 1e-14);
            // One row has no temperature, so none is known.
            assert_eq!(found.temperature_k, None);
        }
        assert_eq!((profile.floor_m(), profile.top_m()), (-1e3, 80e3));
        let high = profile.at(38e3);
        assert!((high.ln_density - (0.1f64.ln() - 2.0)).abs() < 1e-14);
        assert!((high.pressure_pa.unwrap() / (5e3 * (-2f64).exp()) - 1.0).abs() < 1e-14);
    }

    /// Largest error in log density of the flown table of the standard atmosphere over a stretch of altitudes, km.
    fn worst_error(profile: &Profile, table: &AirTable, (from_km, to_km): (f64, f64)) -> f64 {
        let error = |h: f64| (table.lookup(h).ln_density - profile.at(h).ln_density).abs();
        let count = (to_km - from_km) * 1e3 / 7.3;
        (0..100_000)
            .map(f64::from)
            .take_while(|&i| i < count)
            .map(|i| error(7.3f64.mul_add(i, from_km * 1e3)))
            .fold(0.0, f64::max)
    }

    #[test]
    fn the_flown_table_is_close_to_the_standard_atmosphere() {
        let profile = Profile::us_1976(NO_MORE).unwrap();
        let grid = Grid::covering(profile.floor_m(), profile.top_m());
        let table = AirTable::sample(grid, |h| profile.at(h), &Curve::constant(0.0), None).unwrap();
        // Geometric altitudes at which the slope of log density jumps: feet of the layers, the join and the end of mixing.
        let kinks = [11.019, 20.063, 32.162, 47.350, 51.413, 71.802, 86.0, 100.0];
        let mut from = 0.0;
        for kink in kinks {
            let smooth = worst_error(&profile, &table, (from, kink - 0.2));
            let near = worst_error(&profile, &table, (kink - 0.2, kink + 0.2));
            assert!(smooth <= 1e-6, "{smooth:e} below {kink} km");
            assert!(near <= 3e-4, "{near:e} near {kink} km");
            from = kink + 0.2;
        }
        let smooth = worst_error(&profile, &table, (from, 700.0));
        assert!(smooth <= 1e-6, "{smooth:e} above 100 km");
    }
}
