//! `Planet`: a world as the equations of motion need it, every constant ready for use.
//!
//! Shape, gravity and air are functions of position, written once over any [`Real`].

use super::model::World;
use super::table::Cell;
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
    /// Zonal wind on the same cells, m/s eastward against the co-rotating air: value and slope in the place.
    pub wind: Option<Arc<[[f64; 2]]>>,
}

/// The air at a place.
#[derive(Debug, Clone, Copy)]
pub struct AirAt<R> {
    /// ln of density in kg/m³, dispersion included.
    pub ln_density: R,
    /// Its derivative against altitude, 1/m.
    pub ln_density_slope_per_m: R,
}

/// How the air of one sample differs from the table.
#[derive(Debug, Clone, Copy)]
pub struct AirSample<R> {
    /// Multiple of the table's one-sigma of ln density that is added at every altitude.
    pub sigmas: R,
    /// Added to ln density at every altitude.
    pub ln_factor: R,
}

/// A position seen from the body's centre, with what every formula needs of it.
#[derive(Debug, Clone, Copy)]
pub struct Place<R> {
    /// Position in the body-centred inertial frame, m.
    pub r: Vec3<R>,
    /// Distance from the centre, m.
    pub radius: R,
    /// Its inverse, 1/m.
    pub inverse_radius: R,
    /// The square of its inverse, 1/m².
    pub inverse_square: R,
    /// Sine of the geocentric latitude.
    pub sine: R,
    /// Its square.
    pub sine_squared: R,
}

impl<R: Real> Place<R> {
    /// The place at a position.
    #[inline(always)]
    pub fn new(r: Vec3<R>) -> Self {
        let square = r.dot(r);
        let radius = square.sqrt();
        let inverse_square = R::splat(1.0) / square;
        let inverse_radius = radius * inverse_square;
        Self {
            r,
            radius,
            inverse_radius,
            inverse_square,
            sine: r.z * inverse_radius,
            sine_squared: r.z * r.z * inverse_square,
        }
    }
}

/// The reference ellipsoid as power series in x = 2 sin²(geocentric latitude) - 1.
///
/// With w = 1 - e² cos² and w = w₀ (1 + q x): the surface radius is b w^(-½), and the squared tangent of
/// the angle between normal and radius is e⁴ sin² cos² w⁻². Both are binomial series in q x, |q| < 0.11
/// even on Saturn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipsoid {
    equatorial_radius_m: f64,
    eccentricity_squared: f64,
    surface: [f64; 8],
    tilt: [f64; 8],
}

impl Ellipsoid {
    /// The ellipsoid of two radii, m, the polar one at most the equatorial one and above 0.8 of it.
    #[must_use]
    pub fn new(equatorial_radius_m: f64, polar_radius_m: f64) -> Self {
        let ratio = polar_radius_m / equatorial_radius_m;
        let e2 = 1.0 - ratio * ratio;
        let middle = 1.0 - 0.5 * e2;
        let q = 0.5 * e2 / middle;
        let mut surface = [polar_radius_m / middle.sqrt(); 8];
        let mut tilt = [e2 * e2 / (middle * middle); 8];
        let mut n = 0.0;
        for i in 1..surface.len() {
            n += 1.0;
            surface[i] = surface[i - 1] * q * (0.5 - n) / n;
            tilt[i] = tilt[i - 1] * q * (-1.0 - n) / n;
        }
        Self {
            equatorial_radius_m,
            eccentricity_squared: e2,
            surface,
            tilt,
        }
    }

    /// Distance of the surface from the centre where the squared sine of the geocentric latitude is `u`, m.
    #[inline(always)]
    pub fn surface_radius<R: Real>(&self, u: R) -> R {
        series(&self.surface, u.mul_add(R::splat(2.0), R::splat(-1.0)))
    }

    /// Height above the ellipsoid, m.
    ///
    /// Radial height turned to the ellipsoid's normal: with D the radial height and τ the tangent of the
    /// angle between normal and radius, h = D (1 - τ²/2 + 3τ⁴/8) + D² τ²/(2a). Against the exact height
    /// the error is below 2 cm on Earth and Mars up to 200 km and below 10 m on Saturn at 1000 km.
    #[inline(always)]
    pub fn altitude<R: Real>(&self, place: &Place<R>) -> R {
        if self.eccentricity_squared == 0.0 {
            return place.radius - R::splat(self.equatorial_radius_m);
        }
        let u = place.sine_squared;
        let x = u.mul_add(R::splat(2.0), R::splat(-1.0));
        let radial = place.radius - series(&self.surface, x);
        let tilt = series(&self.tilt, x) * (u - u * u);
        let bend = tilt.mul_add(R::splat(0.375), R::splat(-0.5));
        let bend = radial.mul_add(R::splat(0.5 / self.equatorial_radius_m), bend);
        (radial * tilt).mul_add(bend, radial)
    }

    /// Rate of the height, m/s, at height `altitude` for velocity `v`.
    #[inline(always)]
    pub fn altitude_rate<R: Real>(&self, place: &Place<R>, v: Vec3<R>, altitude: R) -> R {
        let e2 = self.eccentricity_squared;
        if e2 == 0.0 {
            return place.r.dot(v) * place.inverse_radius;
        }
        let polar = self.equatorial_radius_m * (1.0 - e2);
        // tan of the geodetic latitude over tan of the geocentric one, first order in height.
        let steepen = altitude.mul_add(
            R::splat(-e2 * self.equatorial_radius_m / (polar * polar)),
            R::splat(1.0 / (1.0 - e2)),
        );
        let normal = Vec3::new(place.r.x, place.r.y, place.r.z * steepen);
        normal.dot(v) / normal.norm()
    }
}

/// c0 + c1 x + ... + c7 x⁷, in pairs so that the steps overlap.
#[inline(always)]
fn series<R: Real>(c: &[f64; 8], x: R) -> R {
    let square = x * x;
    let (c01, c23) = (
        x.mul_add(R::splat(c[1]), R::splat(c[0])),
        x.mul_add(R::splat(c[3]), R::splat(c[2])),
    );
    let (c45, c67) = (
        x.mul_add(R::splat(c[5]), R::splat(c[4])),
        x.mul_add(R::splat(c[7]), R::splat(c[6])),
    );
    let low = square.mul_add(c23, c01);
    let high = square.mul_add(c67, c45);
    (square * square).mul_add(high, low)
}

impl Planet {
    /// A world made ready to fly.
    #[must_use]
    pub fn new(world: &World) -> Self {
        let (body, air) = (world.body(), world.air());
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
            wind: air.zonal_wind_cells().map(Arc::from),
        }
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

    /// The air at an altitude, with a sample's dispersion.
    #[inline(always)]
    pub fn air<R: Real>(&self, altitude: R, sample: AirSample<R>) -> AirAt<R> {
        let cells = R::splat(self.cells_per_m);
        let position = (altitude - R::splat(self.base_m)) * cells;
        let (row, t) = position.grid_row(&self.rows);
        let z = sample.sigmas;
        // The dispersed cubic, coefficient by coefficient.
        let c0 = z.mul_add(row[4], row[0]) + sample.ln_factor;
        let c1 = z.mul_add(row[5], row[1]);
        let c2 = z.mul_add(row[6], row[2]);
        let c3 = z.mul_add(row[7], row[3]);
        let bend = t.mul_add(c3, c2);
        let slope = (t * t).mul_add(c3, t.mul_add(bend + c2, c1)) + t * (bend - c2);
        AirAt {
            ln_density: t.mul_add(t.mul_add(bend, c1), c0),
            ln_density_slope_per_m: slope * cells,
        }
    }

    /// Velocity against the air, m/s: the air turns with the body and drifts with the zonal wind.
    #[inline(always)]
    pub fn air_relative<R: Real>(&self, r: Vec3<R>, v: Vec3<R>, altitude: R) -> Vec3<R> {
        let mut turning = R::splat(self.rotation_rad_s);
        if let Some(wind) = &self.wind {
            let position = (altitude - R::splat(self.base_m)) * R::splat(self.cells_per_m);
            let (row, t) = position.grid_row(wind);
            let axis_distance = r.x.mul_add(r.x, r.y * r.y).max(R::splat(1.0)).sqrt();
            turning = turning + t.mul_add(row[1], row[0]) / axis_distance;
        }
        Vec3::new(turning.mul_add(r.y, v.x), (-turning).mul_add(r.x, v.y), v.z)
    }

    /// Speed of a circular orbit at the equatorial radius, m/s: the scale for tolerances.
    #[must_use]
    pub fn circular_speed_m_s(&self) -> f64 {
        (self.gm_m3_s2 / self.equatorial_radius_m).sqrt()
    }
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
            wind: None,
        }
    }

    /// Position of a geodetic latitude and height in the meridian plane: the definition of both.
    fn position(planet: &Planet, latitude: f64, height: f64) -> Vec3<f64> {
        let e2 = planet.ellipsoid.eccentricity_squared;
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
