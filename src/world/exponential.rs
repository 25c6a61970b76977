//! Worlds with a single scale height, for closed-form checks and for users of the library.

use super::air::AirState;
use super::body::Body;
use super::curve::Curve;
use super::dispersion::Dispersion;
use super::error::{WorldError, given};
use super::grid::Grid;
use super::model::{Known, Quality, Source, World, WorldParts};
use super::table::AirTable;
use crate::numeric::elementary::ln;

/// A body with density ρ₀ e^(−h/H), without wind or temperature.
///
/// The default is a sphere much like the Earth that does not turn (GM 3.986004418e14 m³/s²,
/// radius 6378.137 km, 1.225 kg/m³, H 7162.6 m, interface at 120 km): write the fields that differ.
#[derive(Debug, Clone, PartialEq)]
pub struct ExponentialWorld {
    /// Name, for titles.
    pub name: String,
    /// Gravitational parameter, m³/s².
    pub gm_m3_s2: f64,
    /// Equatorial radius, m.
    pub equatorial_radius_m: f64,
    /// Polar radius, m; none for a sphere.
    pub polar_radius_m: Option<f64>,
    /// Zonal harmonic J2 with the equatorial radius as its reference.
    pub j2: f64,
    /// Rotation, rad/s.
    pub rotation_rad_s: f64,
    /// Altitude of the entry interface, m.
    pub entry_interface_m: f64,
    /// Density at altitude 0, kg/m³, above 0.
    pub surface_density_kg_m3: f64,
    /// Scale height H, m, above 0.
    pub scale_height_m: f64,
    /// One-sigma of log density at every altitude, 0 or more.
    pub log_sigma: f64,
    /// Constant k of stagnation heating, kg^0.5/m.
    pub heating_constant: f64,
}

impl Default for ExponentialWorld {
    fn default() -> Self {
        Self {
            name: "exponential".to_owned(),
            gm_m3_s2: 3.986_004_418e14,
            equatorial_radius_m: 6_378_137.0,
            polar_radius_m: None,
            j2: 0.0,
            rotation_rad_s: 0.0,
            entry_interface_m: 120_000.0,
            surface_density_kg_m3: 1.225,
            scale_height_m: 7_162.6,
            log_sigma: 0.0,
            heating_constant: 1.7415e-4,
        }
    }
}

impl ExponentialWorld {
    /// The world. Its air is exponential at every altitude, below the ground at 0 and above the interface too.
    ///
    /// # Errors
    /// [`WorldError::OutOfRange`] naming the first field that is out of its range.
    pub fn build(self) -> Result<World, WorldError> {
        let (density, scale_height) = (self.surface_density_kg_m3, self.scale_height_m);
        let rule = "above 0";
        given("surface_density", "kg/m3", density).must(density > 0.0, rule)?;
        given("scale_height", "m", scale_height).must(scale_height > 0.0, rule)?;
        let body = Body {
            name: self.name,
            gm_m3_s2: self.gm_m3_s2,
            equatorial_radius_m: self.equatorial_radius_m,
            polar_radius_m: self.polar_radius_m.unwrap_or(self.equatorial_radius_m),
            j2: self.j2,
            j3: 0.0,
            j4: 0.0,
            j_reference_radius_m: self.equatorial_radius_m,
            rotation_rad_s: self.rotation_rad_s,
            entry_interface_m: self.entry_interface_m,
        };
        body.check()?;
        let (at_zero, per_m) = (ln(density), -1.0 / scale_height);
        let air = |altitude_m: f64| AirState {
            ln_density: altitude_m.mul_add(per_m, at_zero),
            ln_density_per_m: per_m,
            temperature_k: None,
            pressure_pa: None,
        };
        let grid = Grid::covering(0.0, self.entry_interface_m);
        let source = Source {
            what: "all".to_owned(),
            text: "an exponential atmosphere made in code".to_owned(),
            known: Known::Invented,
        };
        World::new(WorldParts {
            air: AirTable::sample(grid, air, &Curve::constant(self.log_sigma), None)?,
            body,
            gas: None,
            heating_constant: self.heating_constant,
            radiative: None,
            radiation: None,
            sourced_m: (0.0, self.entry_interface_m),
            ground_m: 0.0,
            dispersion: Dispersion::default(),
            presets: Vec::new(),
            moons: Vec::new(),
            quality: Quality::Invented,
            sources: vec![source],
            text: None,
        })
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;

    #[test]
    fn density_is_the_closed_form_at_every_altitude() {
        let world = ExponentialWorld {
            log_sigma: 0.1,
            ..ExponentialWorld::default()
        }
        .build()
        .unwrap();
        for altitude_m in [-500.0, 0.0, 49_504.3, 119_999.0, 120_000.0, 300_000.0] {
            let point = world.air().lookup(altitude_m);
            let exact = 1.225f64.ln() - altitude_m / 7_162.6;
            assert!((point.ln_density - exact).abs() < 1e-13, "{altitude_m}");
            assert_eq!(point.log_sigma, 0.1);
        }
        assert_eq!((world.body().flattening(), world.ground_m()), (0.0, 0.0));
    }

    #[test]
    fn fields_out_of_range_are_named() {
        let key = |world: ExponentialWorld| match world.build() {
            Err(WorldError::OutOfRange { key, .. }) => key,
            other => panic!("expected a number out of range, got {other:?}"),
        };
        let good = ExponentialWorld::default;
        assert_eq!(
            key(ExponentialWorld {
                surface_density_kg_m3: 0.0,
                ..good()
            }),
            "surface_density"
        );
        assert_eq!(
            key(ExponentialWorld {
                scale_height_m: -7_000.0,
                ..good()
            }),
            "scale_height"
        );
        assert_eq!(
            key(ExponentialWorld {
                gm_m3_s2: -1.0,
                ..good()
            }),
            "gravitational_parameter"
        );
        assert_eq!(
            key(ExponentialWorld {
                entry_interface_m: f64::NAN,
                ..good()
            }),
            "entry_interface"
        );
        assert_eq!(
            key(ExponentialWorld {
                heating_constant: 1.7,
                ..good()
            }),
            "heating_constant"
        );
        assert_eq!(
            key(ExponentialWorld {
                log_sigma: f64::NAN,
                ..good()
            }),
            "sigma"
        );
    }
}
