//! `Planet`: a world as the equations of motion need it, every constant ready for use.
//!
//! Gravity and air are functions of position, written once over any [`Real`]; heights are in `shape`.

use super::model::World;
use super::shape::{Ellipsoid, Place};
use super::table::Cell;
use super::waves::Waves;
use crate::numeric::{Real, Vec3};
use std::sync::Arc;

/// Cubic coefficients of one cell of the flown air table, in the place t in [0, 1):
/// first four ln density (kg/m³), last four the one-sigma of ln density.
pub type AirRow = [f64; 8];

/// Shape, gravity, rotation and air of a world in the body-centred inertial frame, z along the spin axis.
#[derive(Debug, Clone)]
pub struct Planet {
    /// Gravitational parameter, m³/s².
    pub gm_m3_s2: f64,
    /// Equatorial radius, m.
    pub equatorial_radius_m: f64,
    /// The reference ellipsoid.
    pub ellipsoid: Ellipsoid,
    /// Zonal harmonics J2, J3, J4 (0 where unknown).
    pub zonal: [f64; 3],
    /// Reference radius of the zonal harmonics, m.
    pub zonal_radius_m: f64,
    /// Rotation rate, rad/s, negative for retrograde rotation.
    pub rotation_rad_s: f64,
    /// Altitude of the entry interface, m.
    pub interface_m: f64,
    /// Altitude of the ground, m: a pass that comes to it has landed.
    pub floor_m: f64,
    /// Altitude of the lower edge of the first cell of the air table, m.
    pub base_m: f64,
    /// Cells per metre of the air table.
    pub cells_per_m: f64,
    /// The air table from `base_m` upwards; never empty.
    pub rows: Arc<[AirRow]>,
    /// ln density at the altitude where an error of the scale height changes nothing.
    pub ln_pivot_density: f64,
    /// One-sigma of the small-scale field on the same cells, value and slope in the place; none in smooth air.
    pub small_scale: Option<Arc<[[f64; 2]]>>,
    /// Whether samples differ in their wind, so that it is to be computed.
    pub gusty: bool,
    /// Zonal wind on the same cells, m/s eastward against the co-rotating air: value and slope in the place.
    pub wind: Option<Arc<[[f64; 2]]>>,
    /// One over the speed of sound on the same cells, s/m: value and slope in the place; none where the
    /// world does not know its temperature or its gas.
    pub inverse_sound: Option<Arc<[[f64; 2]]>>,
}

/// The air at a place.
#[derive(Debug, Clone, Copy)]
pub struct AirAt<R> {
    /// ln of density in kg/m³, dispersion included.
    pub ln_density: R,
    /// Its derivative against altitude, 1/m.
    pub ln_density_slope_per_m: R,
}

/// How the air of one sample differs from the table. The parts add up in ln density.
#[derive(Debug, Clone, Copy)]
pub struct AirSample<R> {
    /// Multiple of the table's one-sigma of ln density that is added at every altitude.
    pub sigmas: R,
    /// Added to ln density at every altitude.
    pub ln_factor: R,
    /// e/(1 + e) with e the relative error of the scale height: this share of what the density has
    /// fallen by since the pivot is given back.
    pub stretch: R,
    /// Added to the zonal wind, m/s.
    pub wind_m_s: R,
    /// The small-scale field; flown only where the planet has one.
    pub waves: Waves<R>,
}

impl AirSample<f64> {
    /// The air of the table itself.
    pub const EXACT: Self = Self {
        sigmas: 0.0,
        ln_factor: 0.0,
        stretch: 0.0,
        wind_m_s: 0.0,
        waves: Waves::STILL,
    };
}

impl Planet {
    /// A world made ready to fly.
    #[must_use]
    pub fn new(world: &World) -> Self {
        let (body, air, dispersion) = (world.body(), world.air(), world.dispersion());
        Self {
            gm_m3_s2: body.gm_m3_s2,
            equatorial_radius_m: body.equatorial_radius_m,
            ellipsoid: Ellipsoid::new(body.equatorial_radius_m, body.polar_radius_m),
            zonal: [body.j2, body.j3, body.j4],
            zonal_radius_m: body.j_reference_radius_m,
            rotation_rad_s: body.rotation_rad_s,
            interface_m: body.entry_interface_m,
            floor_m: world.ground_m(),
            base_m: air.base_m(),
            cells_per_m: air.inverse_step_per_m(),
            rows: air.cells().iter().map(Cell::row).collect(),
            ln_pivot_density: dispersion
                .scale_height
                .map_or(0.0, |error| air.lookup(error.pivot_m).ln_density),
            small_scale: dispersion.small_scale.as_ref().map(|field| {
                let step = air.step_m();
                let knot = |cell: u32| air.base_m() + f64::from(cell) * step;
                let count = u32::try_from(air.cells().len()).unwrap_or(u32::MAX);
                (0..count)
                    .map(|cell| {
                        let (from, to) = (
                            field.sigma.at(knot(cell)).0,
                            field.sigma.at(knot(cell + 1)).0,
                        );
                        [from, to - from]
                    })
                    .collect()
            }),
            gusty: dispersion.wind_sigma_m_s.is_some_and(|sigma| sigma > 0.0),
            wind: air.zonal_wind_cells().map(Arc::from),
            inverse_sound: inverse_sound(world),
        }
    }

    /// One over the speed of sound at an altitude, s/m, and its slope, s/m²; both 1e-3 s/m and level
    /// where the world does not know its temperature.
    #[inline(always)]
    pub fn inverse_sound<R: Real>(&self, altitude: R) -> (R, R) {
        let Some(cells) = &self.inverse_sound else {
            return (R::splat(1e-3), R::splat(0.0));
        };
        let per_m = R::splat(self.cells_per_m);
        let position = (altitude - R::splat(self.base_m)) * per_m;
        let ([value, slope], t) = position.grid_row(cells);
        (t.mul_add(slope, value), slope * per_m)
    }

    /// Height above the ellipsoid of a position, m; see [`Ellipsoid::altitude`].
    #[inline(always)]
    #[must_use]
    pub fn altitude_at(&self, r: Vec3<f64>) -> f64 {
        self.ellipsoid.altitude(&Place::new(r))
    }

    /// Gravitational acceleration, m/s²: the point mass and the zonal harmonics J2 to J4.
    #[inline(always)]
    pub fn gravity<R: Real>(&self, place: &Place<R>) -> Vec3<R> {
        let r = place.r;
        let inverse_r2 = place.inverse_square;
        let central = R::splat(-self.gm_m3_s2) * inverse_r2 * place.inverse_radius;
        let [j2, j3, j4] = self.zonal;
        if j2 == 0.0 && j3 == 0.0 && j4 == 0.0 {
            return r.scale(central);
        }
        let re = self.zonal_radius_m;
        let (s, u) = (place.sine, place.sine_squared);
        let k2 = R::splat(1.5 * j2 * re * re) * inverse_r2;
        let mut plane = k2.mul_add(u.mul_add(R::splat(-5.0), R::splat(1.0)), R::splat(1.0));
        let mut axis = k2.mul_add(u.mul_add(R::splat(-5.0), R::splat(3.0)), R::splat(1.0));
        // J3 pulls along the axis also where z = 0.
        let mut level = R::splat(0.0);
        if j3 != 0.0 {
            let k3 = R::splat(2.5 * j3 * re * re * re) * inverse_r2 * place.inverse_radius;
            plane = (k3 * s).mul_add(u.mul_add(R::splat(-7.0), R::splat(3.0)), plane);
            axis = (k3 * s).mul_add(u.mul_add(R::splat(-7.0), R::splat(6.0)), axis);
            level = k3 * R::splat(-0.6) * place.radius;
        }
        if j4 != 0.0 {
            let k4 = R::splat(-1.875 * j4 * re * re * re * re) * inverse_r2 * inverse_r2;
            let p4 = u.mul_add(u.mul_add(R::splat(21.0), R::splat(-14.0)), R::splat(1.0));
            let a4 = u.mul_add(
                u.mul_add(R::splat(21.0), R::splat(-70.0 / 3.0)),
                R::splat(5.0),
            );
            plane = k4.mul_add(p4, plane);
            axis = k4.mul_add(a4, axis);
        }
        let in_plane = central * plane;
        Vec3::new(
            r.x * in_plane,
            r.y * in_plane,
            central * r.z.mul_add(axis, level),
        )
    }

    /// What the zonal harmonics add to twice the specific energy of a point mass at a distance (m) and a sine of the
    /// geocentric latitude, m²/s²: 2 μ/r Σ Jₙ (R/r)ⁿ Pₙ, n from 2 to 4.
    ///
    /// The field does not turn, so v² - 2 μ/r plus this is the same all along a flight without air.
    #[inline(always)]
    #[must_use]
    pub fn zonal_energy(&self, radius: f64, sine: f64) -> f64 {
        let [j2, j3, j4] = self.zonal;
        if j2 == 0.0 && j3 == 0.0 && j4 == 0.0 {
            return 0.0;
        }
        let (q, u) = (self.zonal_radius_m / radius, sine * sine);
        let p2 = u.mul_add(1.5, -0.5);
        let p3 = sine * u.mul_add(2.5, -1.5);
        let p4 = u.mul_add(u.mul_add(4.375, -3.75), 0.375);
        let sum = q * q * q.mul_add(j3 * p3, j2.mul_add(p2, q * q * j4 * p4));
        2.0 * self.gm_m3_s2 / radius * sum
    }

    /// Twice the specific energy of a state (m, m/s) with its share of the zonal harmonics, m²/s²: the square of
    /// the excess speed where it is positive, a closed orbit where it is negative.
    #[inline(always)]
    #[must_use]
    pub fn twice_energy(&self, r: Vec3<f64>, v: Vec3<f64>) -> f64 {
        let radius = r.norm();
        v.dot(v) - 2.0 * self.gm_m3_s2 / radius + self.zonal_energy(radius, r.z / radius)
    }

    /// The air at an altitude and a position, with a sample's dispersion. The slope is without that of the
    /// small-scale field, which [`Planet::small_scale_rate`] gives.
    #[inline(always)]
    pub fn air<R: Real>(&self, altitude: R, r: Vec3<R>, sample: &AirSample<R>) -> AirAt<R> {
        let cells = R::splat(self.cells_per_m);
        let position = (altitude - R::splat(self.base_m)) * cells;
        let (row, t) = position.grid_row(&self.rows);
        let z = sample.sigmas;
        // The dispersed cubic, coefficient by coefficient.
        let kept = R::splat(1.0) - sample.stretch;
        let given = sample
            .stretch
            .mul_add(R::splat(self.ln_pivot_density), sample.ln_factor);
        let c0 = z.mul_add(row[4], row[0].mul_add(kept, given));
        let c1 = z.mul_add(row[5], row[1] * kept);
        let c2 = z.mul_add(row[6], row[2] * kept);
        let c3 = z.mul_add(row[7], row[3] * kept);
        let bend = t.mul_add(c3, c2);
        let slope = (t * t).mul_add(c3, t.mul_add(bend + c2, c1)) + t * (bend - c2);
        let mut ln_density = t.mul_add(t.mul_add(bend, c1), c0);
        if let Some(small_scale) = &self.small_scale {
            let (sigma, t) = position.grid_row(small_scale);
            let field = sample.waves.value(altitude, r);
            ln_density = t.mul_add(sigma[1], sigma[0]).mul_add(field, ln_density);
        }
        AirAt {
            ln_density,
            ln_density_slope_per_m: slope * cells,
        }
    }

    /// Rate of ln density by the small-scale field along a motion, 1/s; its one-sigma changes slowly and
    /// counts as constant.
    #[inline(always)]
    pub fn small_scale_rate<R: Real>(
        &self,
        (altitude, altitude_rate): (R, R),
        (r, v): (Vec3<R>, Vec3<R>),
        sample: &AirSample<R>,
    ) -> R {
        let Some(small_scale) = &self.small_scale else {
            return R::splat(0.0);
        };
        let position = (altitude - R::splat(self.base_m)) * R::splat(self.cells_per_m);
        let (sigma, t) = position.grid_row(small_scale);
        let rate = sample.waves.rate((altitude, altitude_rate), (r, v));
        t.mul_add(sigma[1], sigma[0]) * rate
    }

    /// Velocity against the air, m/s: the air turns with the body and drifts with the zonal wind.
    #[inline(always)]
    pub fn air_relative<R: Real>(
        &self,
        r: Vec3<R>,
        v: Vec3<R>,
        altitude: R,
        sample: &AirSample<R>,
    ) -> Vec3<R> {
        let mut turning = R::splat(self.rotation_rad_s);
        if self.wind.is_some() || self.gusty {
            let mut wind = sample.wind_m_s;
            if let Some(mean) = &self.wind {
                let position = (altitude - R::splat(self.base_m)) * R::splat(self.cells_per_m);
                let (row, t) = position.grid_row(mean);
                wind = wind + t.mul_add(row[1], row[0]);
            }
            let axis_distance = r.x.mul_add(r.x, r.y * r.y).max(R::splat(1.0)).sqrt();
            turning = turning + wind / axis_distance;
        }
        Vec3::new(turning.mul_add(r.y, v.x), (-turning).mul_add(r.x, v.y), v.z)
    }

    /// Velocity (m/s) over the ground that turns with the body, of a ship at `r` (m) with the inertial velocity `v`.
    #[must_use]
    pub fn over_ground(&self, r: Vec3<f64>, v: Vec3<f64>) -> Vec3<f64> {
        let turning = self.rotation_rad_s;
        Vec3::new(v.x + turning * r.y, v.y - turning * r.x, v.z)
    }

    /// Speed of a circular orbit at the equatorial radius, m/s: the scale for tolerances.
    #[must_use]
    pub fn circular_speed_m_s(&self) -> f64 {
        (self.gm_m3_s2 / self.equatorial_radius_m).sqrt()
    }
}

/// One over the speed of sound on the cells of the air table, straight between their ends.
fn inverse_sound(world: &World) -> Option<Arc<[[f64; 2]]>> {
    let (gas, cells) = (world.gas()?, world.air().temperature_cells()?);
    let inverse = |kelvin: f64| 1.0 / gas.speed_of_sound_m_s(kelvin);
    let line = |[kelvin, rise]: &[f64; 2]| {
        let (low, high) = (inverse(*kelvin), inverse(kelvin + rise));
        [low, high - low]
    };
    Some(cells.iter().map(line).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn oblate(equatorial: f64, polar: f64) -> Planet {
        Planet {
            gm_m3_s2: 3.793_120_62e16,
            equatorial_radius_m: equatorial,
            ellipsoid: Ellipsoid::new(equatorial, polar),
            zonal: [1.63e-2, 2.0e-4, -9.4e-4],
            zonal_radius_m: equatorial,
            rotation_rad_s: 1e-4,
            interface_m: 1e6,
            floor_m: 0.0,
            base_m: 0.0,
            cells_per_m: 1e-3,
            rows: Arc::new([[0.0; 8]]),
            ln_pivot_density: 0.0,
            small_scale: None,
            gusty: false,
            wind: None,
            inverse_sound: None,
        }
    }

    /// Position of a geodetic latitude and height in the meridian plane: the definition of both.
    fn position(planet: &Planet, latitude: f64, height: f64) -> Vec3<f64> {
        let e2 = planet.ellipsoid.eccentricity_squared();
        let n = planet.equatorial_radius_m / (1.0 - e2 * latitude.sin().powi(2)).sqrt();
        Vec3::new(
            (n + height) * latitude.cos(),
            0.0,
            (n * (1.0 - e2) + height) * latitude.sin(),
        )
    }

    #[test]
    fn altitude_agrees_with_the_definition_of_geodetic_height() {
        for (a, b, height, tolerance) in [
            (6_378_137.0, 6_356_752.3, 200e3, 2e-2),
            (3_396_190.0, 3_376_200.0, 200e3, 2e-2),
            (60_268e3, 54_364e3, 1000e3, 10.0),
        ] {
            let planet = oblate(a, b);
            for step in 0..=90 {
                let latitude = f64::from(step).to_radians();
                let error = planet.altitude_at(position(&planet, latitude, height)) - height;
                assert!(error.abs() < tolerance, "{a} {step} deg: {error} m");
            }
        }
    }

    #[test]
    fn altitude_rate_is_the_derivative_of_altitude() {
        let planet = oblate(6_378_137.0, 6_356_752.3);
        let r = position(&planet, 0.7, 80e3);
        let v = Vec3::new(-3000.0, 2000.0, 6500.0);
        let dt = 1e-3;
        let ahead = planet.altitude_at(v.scale_add(dt, r));
        let behind = planet.altitude_at(v.scale_add(-dt, r));
        let numeric = (ahead - behind) / (2.0 * dt);
        let rate = planet.ellipsoid.altitude_rate(&Place::new(r), v, 80e3);
        assert!((rate - numeric).abs() < 0.02, "{rate} {numeric}");
    }

    #[test]
    fn gravity_is_the_gradient_of_the_energy_of_a_place() {
        let planet = oblate(60_268e3, 54_364e3);
        let still = Vec3::new(0.0, 0.0, 0.0);
        for r in [Vec3::new(4.1e7, -3.3e7, 3.7e7), Vec3::new(1e7, 2e7, -5.5e7)] {
            let g = planet.gravity(&Place::new(r));
            let d = 100.0;
            for (axis, component) in [
                (Vec3::new(d, 0.0, 0.0), g.x),
                (Vec3::new(0.0, d, 0.0), g.y),
                (Vec3::new(0.0, 0.0, d), g.z),
            ] {
                let rise =
                    planet.twice_energy(r + axis, still) - planet.twice_energy(r - axis, still);
                let slope = -0.5 * rise / (2.0 * d);
                assert!(((slope - component) / component).abs() < 1e-7, "{slope}");
            }
        }
    }

    #[test]
    fn gravity_is_the_gradient_of_the_zonal_potential() {
        let planet = oblate(60_268e3, 54_364e3);
        // Vallado, Fundamentals of Astrodynamics and Applications (from memory):
        // U = μ/r [1 - Σ J_n (R/r)^n P_n(sin φ)].
        let potential = |p: Vec3<f64>| {
            let r = p.norm();
            let s = p.z / r;
            let q = planet.zonal_radius_m / r;
            let p2 = 0.5 * (3.0 * s * s - 1.0);
            let p3 = 0.5 * (5.0 * s.powi(3) - 3.0 * s);
            let p4 = (35.0 * s.powi(4) - 30.0 * s * s + 3.0) / 8.0;
            let [j2, j3, j4] = planet.zonal;
            planet.gm_m3_s2 / r
                * (1.0 - j2 * q.powi(2) * p2 - j3 * q.powi(3) * p3 - j4 * q.powi(4) * p4)
        };
        let r = Vec3::new(4.1e7, -3.3e7, 3.7e7);
        let g = planet.gravity(&Place::new(r));
        let d = 100.0;
        for (axis, component) in [
            (Vec3::new(d, 0.0, 0.0), g.x),
            (Vec3::new(0.0, d, 0.0), g.y),
            (Vec3::new(0.0, 0.0, d), g.z),
        ] {
            let slope = (potential(r + axis) - potential(r - axis)) / (2.0 * d);
            assert!(
                ((slope - component) / component).abs() < 1e-7,
                "{slope} {component}"
            );
        }
    }
}
