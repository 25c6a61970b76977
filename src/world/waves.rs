//! The small-scale field of one sample: a sum of waves in altitude and along the track.
//!
//! Each sample has its own [`COUNT`] plane waves with wave numbers drawn from the spectrum of the
//! correlation exp(-(Δh/Lv)² - (Δs/La)²), so that over the samples the field has zero mean, one-sigma 1
//! and that correlation. The way in and the way out meet different air.
//!
//! Along the track counts the arc: the angle about the centre of the body in the plane of the approach. A
//! field that is the same after a whole round has whole numbers of waves to the turn.

use crate::numeric::{Real, Vec3};

/// Waves in a sample's field.
pub const COUNT: usize = 8;

/// One plane wave, in turns of its phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wave<R> {
    /// Turns per metre of altitude.
    pub per_m_up: R,
    /// Turns per turn about the body along the track, a whole number.
    pub per_turn: R,
    /// Turns at the origin.
    pub phase: R,
}

/// The field of one sample, or of eight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Waves<R> {
    /// The waves.
    pub waves: [Wave<R>; COUNT],
    /// Direction from the centre of the body to where the arc begins, of length 1.
    pub toward: Vec3<R>,
    /// Direction of the track there, of length 1 and across the other.
    pub ahead: Vec3<R>,
}

impl Waves<f64> {
    /// No waves: the same value everywhere.
    pub const STILL: Self = Self {
        waves: [Wave {
            per_m_up: 0.0,
            per_turn: 0.0,
            phase: 0.25,
        }; COUNT],
        toward: Vec3 {
            x: 0.0,
            y: 0.0,
            z: 0.0,
        },
        ahead: Vec3 {
            x: 0.0,
            y: 0.0,
            z: 0.0,
        },
    };
}

/// The whole number of waves to the turn of a normal score, for a correlation length (m) along a track at this
/// radius (m): normal with √2 R/La, less the variance of 1/12 that rounding adds.
#[must_use]
pub fn waves_per_turn(score: f64, (along_track_m, radius_m): (f64, f64)) -> f64 {
    let radians = radius_m / along_track_m;
    let variance = (2.0 * radians * radians - 1.0 / 12.0).max(0.0);
    (score * variance.sqrt()).round()
}

/// √(2/COUNT): the amplitude of each wave for a field of one-sigma 1.
const AMPLITUDE: f64 = 0.5;

impl<R: Real> Waves<R> {
    /// The field at an altitude (m) and position (m).
    #[inline(always)]
    pub fn value(&self, altitude: R, r: Vec3<R>) -> R {
        let along = turns(r.dot(self.toward), r.dot(self.ahead));
        let mut sum = R::splat(0.0);
        for i in 0..COUNT {
            let wave = &self.waves[i];
            let turns = along.mul_add(wave.per_turn, altitude.mul_add(wave.per_m_up, wave.phase));
            sum = sum + cosine(turns);
        }
        sum * R::splat(AMPLITUDE)
    }

    /// Its rate along a motion, 1/s.
    #[inline(always)]
    pub fn rate(&self, (altitude, altitude_rate): (R, R), (r, v): (Vec3<R>, Vec3<R>)) -> R {
        let (x, y) = (r.dot(self.toward), r.dot(self.ahead));
        let along = turns(x, y);
        let swept = x.mul_add(v.dot(self.ahead), -(y * v.dot(self.toward)));
        let square = x.mul_add(x, y * y).max(R::splat(1e-300));
        let along_rate = swept / (square * R::splat(std::f64::consts::TAU));
        let mut sum = R::splat(0.0);
        for i in 0..COUNT {
            let wave = &self.waves[i];
            let turns = along.mul_add(wave.per_turn, altitude.mul_add(wave.per_m_up, wave.phase));
            let rate = along_rate.mul_add(wave.per_turn, altitude_rate * wave.per_m_up);
            // d cos(2πx)/dt = 2π dx/dt cos(2π(x + 1/4)).
            sum = cosine(turns + R::splat(0.25)).mul_add(rate, sum);
        }
        sum * R::splat(AMPLITUDE * std::f64::consts::TAU)
    }
}

/// The angle of (x, y) in turns, from -1/2 to 1/2, to 1.6e-7 turns: four times that whose tangent is
/// y/(ρ + x + √((ρ + x)² + y²)) with ρ = √(x² + y²), half of a half, at most 1 in size. 0 at the origin.
#[inline(always)]
fn turns<R: Real>(x: R, y: R) -> R {
    /// Coefficients of the arc tangent over its argument, in powers of the square, nearest to it on [0, 1] (error of
    /// the arc tangent 2.5e-7).
    const ARC_TANGENT: [f64; 7] = [
        0.999_996_111_549_571,
        -0.333_173_680_547_493_36,
        0.198_078_155_649_891_79,
        -0.132_333_420_955_746_32,
        0.079_623_672_365_616_59,
        -0.033_604_220_565_024_996,
        0.006_811_793_290_873_252,
    ];
    let square = y * y;
    let sum = x.mul_add(x, square).sqrt() + x;
    let tangent = y / (sum.mul_add(sum, square).sqrt() + sum).max(R::splat(1e-300));
    let z = tangent * tangent;
    let mut series = R::splat(ARC_TANGENT[ARC_TANGENT.len() - 1]);
    for i in (0..ARC_TANGENT.len() - 1).rev() {
        series = series.mul_add(z, R::splat(ARC_TANGENT[i]));
    }
    tangent * series * R::splat(2.0 * std::f64::consts::FRAC_1_PI)
}

/// cos(2πx) to 1e-8 for |x| below 1e9: the nearest turn is taken off, then the series in pairs.
#[inline(always)]
fn cosine<R: Real>(turns: R) -> R {
    /// 2^52 + 2^51: adding and taking it off rounds to the nearest whole number.
    const ROUND: f64 = 6_755_399_441_055_744.0;
    let whole = (turns + R::splat(ROUND)) - R::splat(ROUND);
    let x = turns - whole;
    let z = x * x;
    let mut sum = R::splat(SERIES[SERIES.len() - 1]);
    for i in (0..SERIES.len() - 1).rev() {
        sum = sum.mul_add(z, R::splat(SERIES[i]));
    }
    sum
}

/// (-1)^n (2π)^(2n)/(2n)! of the cosine of turns.
const SERIES: [f64; 11] = series();

const fn series() -> [f64; 11] {
    let square = std::f64::consts::TAU * std::f64::consts::TAU;
    let mut all = [1.0; 11];
    let mut n = 1;
    let mut even = 0.0;
    while n < all.len() {
        even += 2.0;
        all[n] = -all[n - 1] * square / (even * (even - 1.0));
        n += 1;
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cosine_of_turns_is_that_of_the_standard_library() {
        for i in -4000..4000 {
            let x = f64::from(i) * 1.237e-3;
            let exact = (x * std::f64::consts::TAU).cos();
            assert!(
                (cosine(x) - exact).abs() < 1e-8,
                "{x}: {}",
                cosine(x) - exact
            );
        }
    }

    #[test]
    fn the_angle_of_the_arc_is_that_of_the_standard_library() {
        for i in -3600..=3600 {
            let angle = f64::from(i) * 5e-4 * std::f64::consts::TAU / 3.6;
            let found = turns(7e6 * angle.cos(), 7e6 * angle.sin()) * std::f64::consts::TAU;
            let apart = (found - angle).abs();
            assert!(
                apart.min((apart - std::f64::consts::TAU).abs()) < 1e-6,
                "{angle}: {found}"
            );
        }
        assert!(turns(0.0, 0.0).abs() < 1e-300 && turns(-1.0, 0.0).is_finite());
    }

    #[test]
    fn the_rate_is_the_derivative_along_the_motion() {
        let mut field = Waves::STILL;
        let mut x = 0.3;
        for wave in &mut field.waves {
            x = (x * 7.3_f64).fract();
            *wave = Wave {
                per_m_up: (x - 0.5) * 1e-4,
                per_turn: ((0.7 - x) * 300.0).round(),
                phase: x,
            };
        }
        (field.toward, field.ahead) = (Vec3::new(0.6, 0.8, 0.0), Vec3::new(-0.8, 0.6, 0.0));
        let (r, v) = (Vec3::new(1e6, 2e6, 3e5), Vec3::new(3e3, -4e3, 1e3));
        let (h, climb) = (6e4, -300.0);
        let at = |t: f64| field.value(h + climb * t, v.scale_add(t, r));
        let numeric = (at(1e-2) - at(-1e-2)) / 2e-2;
        let rate = field.rate((h, climb), (r, v));
        // The slope of the series for the angle is good to a hundred-thousandth.
        assert!(
            (rate - numeric).abs() < 1e-7 + 1e-5 * rate.abs(),
            "{rate} {numeric}"
        );
    }
}
