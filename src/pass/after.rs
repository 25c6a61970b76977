//! The orbit after a pass: from where the air is left to the next apoapsis, by real motion under the zonal field.
//!
//! It is asked for once a pass, so it has to be cheap. The motion is written as slow changes of the osculating conic
//! with the angle travelled as the independent variable (Gauss's equations in a frame that moves with the plane of
//! the orbit, as in Battin, An Introduction to the Mathematics and Methods of Astrodynamics, ch. 10); all of it is
//! then a smooth integral over half a round, done at Gauss's places and repeated until the conic stands (Picard).
//! What the field keeps, the energy and the momentum about the axis, is not integrated. Where the repetition does
//! not settle, as on nearly circular orbits about a flattened world, the motion is integrated step by step.

use super::coast::{Until, coast};
use super::orbit::Orbit;
use crate::numeric::Vec3;
use crate::numeric::elementary::sin_cos;
use crate::world::Planet;
use std::f64::consts::TAU;
use std::sync::OnceLock;

/// The farthest point of a motion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FarApsis {
    /// Distance from the centre, m.
    pub radius_m: f64,
    /// Momentum of the motion about the centre there, m²/s.
    pub momentum_m2_s: f64,
    /// Cosine of the inclination of the plane of motion there.
    pub cos_inclination: f64,
}

impl FarApsis {
    /// The conic that osculates there: its apoapsis is the real one.
    #[must_use]
    pub fn orbit(&self, gm: f64) -> Orbit {
        let (h, r) = (self.momentum_m2_s, self.radius_m);
        let eccentricity = (1.0 - h * h / (gm * r)).max(0.0);
        Orbit {
            twice_energy: h * h / (r * r) - 2.0 * gm / r,
            periapsis_radius_m: h * h / (gm * (1.0 + eccentricity)),
            eccentricity,
            inclination_rad: libm::acos(self.cos_inclination.clamp(-1.0, 1.0)),
        }
    }
}

/// The next apoapsis of a motion from a position (m) and velocity (m/s) outside the air; `None` for a motion that
/// does not come back, and where no apoapsis is found.
// The dispatch that the macro writes needs one unsafe call of a function whose instructions were just detected.
#[allow(unsafe_code)]
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
#[must_use]
pub fn next_apsis(planet: &Planet, r: Vec3<f64>, v: Vec3<f64>) -> Option<FarApsis> {
    let twice_energy = planet.twice_energy(r, v);
    if !(twice_energy < 0.0) {
        return None;
    }
    // No closures around the motion: they would be compiled without fused multiply-adds.
    if let Some(motion) = Motion::new(planet, r, v)
        && let Some(end) = motion.half_round(places())
        && let Some(radius_m) = end.radius_m(planet, twice_energy)
    {
        return Some(end.told(radius_m));
    }
    let up = coast(planet, r, v, Until::Apoapsis)?;
    let end = End::of_state(up.position, up.velocity);
    // Step by step a little energy is lost, which counts where the apoapsis is far away.
    let radius_m = match end.radius_m(planet, twice_energy) {
        Some(radius_m) => radius_m,
        None => up.position.norm(),
    };
    Some(end.told(radius_m))
}

/// What is known at the far end beside the energy.
#[derive(Debug, Clone, Copy)]
struct End {
    momentum_m2_s: f64,
    /// Sine of the latitude.
    sine: f64,
    cos_inclination: f64,
    /// Nearly the inverse of the distance, 1/m.
    nearly_per_m: f64,
}

impl End {
    #[inline(always)]
    fn told(&self, radius_m: f64) -> FarApsis {
        FarApsis {
            radius_m,
            momentum_m2_s: self.momentum_m2_s,
            cos_inclination: self.cos_inclination,
        }
    }

    #[inline(always)]
    fn of_state(r: Vec3<f64>, v: Vec3<f64>) -> Self {
        let h = r.cross(v);
        let momentum_m2_s = h.norm();
        Self {
            momentum_m2_s,
            sine: r.z / r.norm(),
            cos_inclination: h.z / momentum_m2_s,
            nearly_per_m: 1.0 / r.norm(),
        }
    }

    /// The distance at which a motion of this energy (m²/s², twice) and momentum moves level.
    #[inline(always)]
    fn radius_m(&self, planet: &Planet, twice_energy: f64) -> Option<f64> {
        let gm = planet.gm_m3_s2;
        let h2 = self.momentum_m2_s * self.momentum_m2_s;
        // Newton's method in the inverse distance: but for the field all is a parabola there. No apoapsis is farther
        // than twice the semi-major axis.
        let mut inverse = self.nearly_per_m.max(-0.5 * twice_energy / gm);
        for _ in 0..30 {
            let field = planet.zonal_energy(1.0 / inverse, self.sine);
            let square = inverse.mul_add((-h2).mul_add(inverse, 2.0 * gm), twice_energy - field);
            let slope = (-2.0 * h2).mul_add(inverse, 2.0 * gm - 3.0 * field / inverse);
            let step = square / slope;
            inverse -= step;
            // On the way out the square of the radial speed falls to 0 as the distance grows.
            if !(slope > 0.0 && inverse > 0.0) {
                return None;
            }
            if step.abs() <= 1e-14 * inverse {
                return Some(1.0 / inverse);
            }
        }
        None
    }
}

/// The places are enough for this angle; a motion out of the air has half a round before it and little more.
const FARTHEST_RAD: f64 = 4.2;

/// Gauss's places in a half round.
const N: usize = 12;

/// Places and weights of Gauss's quadrature on 0 to 1, and the integrals from 0 to each place.
struct Places {
    at: [f64; N],
    weights: [f64; N],
    up_to: [[f64; N]; N],
}

/// The places, made once: roots of Legendre's polynomial by Newton's method; the integrals are those of the
/// polynomial through the values, by its sum of Legendre's.
fn places() -> &'static Places {
    static PLACES: OnceLock<Places> = OnceLock::new();
    PLACES.get_or_init(|| {
        #[allow(clippy::cast_precision_loss)]
        let real = |count: usize| count as f64;
        // P_0 to P_N at x.
        let legendre = |x: f64| {
            let mut p = [1.0; N + 1];
            p[1] = x;
            for k in 1..N {
                let (k0, k1) = (real(k), real(k + 1));
                p[k + 1] = ((k0 + k1) * x * p[k] - k0 * p[k - 1]) / k1;
            }
            p
        };
        let slope = |x: f64, p: &[f64; N + 1]| real(N) * (x * p[N] - p[N - 1]) / (x * x - 1.0);
        let mut places = Places {
            at: [0.0; N],
            weights: [0.0; N],
            up_to: [[0.0; N]; N],
        };
        let mut x = [0.0; N];
        for i in 0..N {
            x[i] = -libm::cos(std::f64::consts::PI * (real(i) + 0.75) / (real(N) + 0.5));
            for _ in 0..20 {
                let p = legendre(x[i]);
                x[i] -= p[N] / slope(x[i], &p);
            }
            let d = slope(x[i], &legendre(x[i]));
            places.at[i] = 0.5 * (x[i] + 1.0);
            places.weights[i] = 1.0 / ((1.0 - x[i] * x[i]) * d * d);
        }
        for i in 0..N {
            let to = legendre(x[i]);
            for j in 0..N {
                let from = legendre(x[j]);
                let mut sum = x[i] + 1.0;
                for k in 1..N {
                    sum += from[k] * (to[k + 1] - to[k - 1]);
                }
                places.up_to[i][j] = 0.5 * places.weights[j] * sum;
            }
        }
        places
    })
}

/// A motion at its start.
struct Motion<'a> {
    planet: &'a Planet,
    momentum_m2_s: f64,
    /// Momentum about the axis over the whole.
    axial: f64,
    /// Eccentricity vector along the start and along the motion there.
    e: [f64; 2],
    /// Height of the start above the equator and its rate in the angle, for a unit distance.
    height: [f64; 2],
}

/// The five slow numbers: momentum over that at the start, eccentricity vector, height vector.
type Slow = [f64; 5];

impl<'a> Motion<'a> {
    #[inline(always)]
    fn new(planet: &'a Planet, r: Vec3<f64>, v: Vec3<f64>) -> Option<Self> {
        let h = r.cross(v);
        let (momentum, radius) = (h.norm(), r.norm());
        let gm = planet.gm_m3_s2;
        let e = [
            momentum * momentum / (gm * radius) - 1.0,
            -momentum * r.dot(v) / (gm * radius),
        ];
        let height = [r.z / radius, h.cross(r).z / (momentum * radius)];
        (momentum > 0.0).then_some(Self {
            planet,
            momentum_m2_s: momentum,
            axial: h.z / momentum,
            e,
            height,
        })
    }

    /// Follows the motion to its apoapsis; `None` where the repetition does not settle.
    #[inline(always)]
    fn half_round(&self, places: &Places) -> Option<End> {
        /// Most repetitions; six settle the most flattened worlds.
        const MOST: u32 = 14;
        /// Change of the conic, foretold for the next repetition, that ends it.
        const SETTLED: f64 = 1e-10;
        let start: Slow = [1.0, self.e[0], self.e[1], self.height[0], self.height[1]];
        let mut slow = [[0.0; N]; 5];
        for (row, value) in slow.iter_mut().zip(start) {
            *row = [value; N];
        }
        let mut end = start;
        let mut length = far_angle(&end);
        let mut before = f64::INFINITY;
        for round in 0..MOST {
            let mut rates = [[0.0; N]; 5];
            for i in 0..N {
                let here = [slow[0][i], slow[1][i], slow[2][i], slow[3][i], slow[4][i]];
                let rate = self.rates(length * places.at[i], &here);
                for c in 0..5 {
                    rates[c][i] = rate[c];
                }
            }
            let mut after = start;
            for c in 0..5 {
                let mut sum = 0.0;
                for j in 0..N {
                    sum = places.weights[j].mul_add(rates[c][j], sum);
                }
                after[c] = sum.mul_add(length, start[c]);
                for i in 0..N {
                    let mut sum = 0.0;
                    for j in 0..N {
                        sum = places.up_to[i][j].mul_add(rates[c][j], sum);
                    }
                    slow[c][i] = sum.mul_add(length, start[c]);
                }
            }
            let mut change = 0.0;
            for c in 0..5 {
                change += (after[c] - end[c]).abs();
            }
            let next = far_angle(&after);
            // The field is weak at the far end: what is left out of the angle counts little.
            change += 0.01 * (next - length).abs();
            (end, length) = (after, next);
            if !(change < 0.3) || next > FARTHEST_RAD {
                return None;
            }
            if round > 0 && change * (change / before).min(1.0) < SETTLED {
                let (sine, cosine) = sin_cos(length);
                let momentum_m2_s = end[0] * self.momentum_m2_s;
                return Some(End {
                    momentum_m2_s,
                    sine: end[3].mul_add(cosine, end[4] * sine),
                    cos_inclination: self.axial / end[0],
                    nearly_per_m: (1.0 - (end[1] * end[1] + end[2] * end[2]).sqrt())
                        * self.planet.gm_m3_s2
                        / (momentum_m2_s * momentum_m2_s),
                });
            }
            before = change;
        }
        None
    }

    /// Rates of the slow numbers with the angle (rad).
    #[inline(always)]
    fn rates(&self, angle: f64, slow: &Slow) -> Slow {
        let planet = self.planet;
        let [momentum, ex, ey, hx, hy] = *slow;
        let (sine, cosine) = sin_cos(angle);
        let h = momentum * self.momentum_m2_s;
        // Semi-latus rectum over the distance, and reference radius of the field over both.
        let reach = ex.mul_add(cosine, ey.mul_add(sine, 1.0));
        let size = planet.zonal_radius_m * planet.gm_m3_s2 / (h * h);
        let q = size * reach;
        let height = hx.mul_add(cosine, hy * sine);
        let climb = hy.mul_add(cosine, -hx * sine);
        let u = height * height;
        let [j2, j3, j4] = planet.zonal;
        let p2 = u.mul_add(1.5, -0.5);
        let p3 = height * u.mul_add(2.5, -1.5);
        let p4 = u.mul_add(u.mul_add(4.375, -3.75), 0.375);
        let (d3, d4) = (u.mul_add(7.5, -1.5), height * u.mul_add(17.5, -7.5));
        // Outward force, and the one towards the axis over `reach`; both over μ/r².
        let outward = q * q * q.mul_add(q.mul_add(5.0 * j4 * p4, 4.0 * j3 * p3), 3.0 * j2 * p2);
        let northward = size * q * q.mul_add(q.mul_add(j4 * d4, j3 * d3), 3.0 * j2 * height);
        let ahead = -northward * climb;
        let turning = -northward * (self.axial / momentum);
        let (twice_x, twice_y) = (
            (1.0 + reach).mul_add(cosine, ex),
            (1.0 + reach).mul_add(sine, ey),
        );
        let tilt = turning * (self.axial / momentum);
        [
            ahead * momentum,
            outward.mul_add(sine, ahead * twice_x),
            (-outward).mul_add(cosine, ahead * twice_y),
            -tilt * sine,
            tilt * cosine,
        ]
    }
}

/// The angle from the start to the apoapsis of the conic, rad, 0 to 2π.
#[inline(always)]
fn far_angle(slow: &Slow) -> f64 {
    let angle = libm::atan2(-slow[2], -slow[1]);
    if angle < 0.0 { angle + TAU } else { angle }
}
