//! The small-scale field of one sample: a sum of waves in altitude and along the track.
//!
//! Each sample has its own [`COUNT`] plane waves with wave numbers drawn from the spectrum of the
//! correlation exp(-(Δh/Lv)² - (Δs/La)²), so that over the samples the field has zero mean, one-sigma 1
//! and that correlation. The way in and the way out meet different air.

use crate::numeric::{Real, Vec3};

/// Waves in a sample's field.
pub const COUNT: usize = 8;

/// One plane wave, in turns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wave<R> {
    /// Turns per metre of altitude.
    pub per_m_up: R,
    /// Turns per metre along the track.
    pub per_m_along: R,
    /// Turns at the origin.
    pub phase: R,
}

/// The field of one sample, or of eight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Waves<R> {
    /// The waves.
    pub waves: [Wave<R>; COUNT],
    /// Direction of the track at its middle, of length 1: the distance along the track is the
    /// position's part in it.
    pub along: Vec3<R>,
}

impl Waves<f64> {
    /// No waves: the same value everywhere.
    pub const STILL: Self = Self {
        waves: [Wave {
            per_m_up: 0.0,
            per_m_along: 0.0,
            phase: 0.25,
        }; COUNT],
        along: Vec3 {
            x: 0.0,
            y: 0.0,
            z: 0.0,
        },
    };
}

/// √(2/COUNT): the amplitude of each wave for a field of one-sigma 1.
const AMPLITUDE: f64 = 0.5;

impl<R: Real> Waves<R> {
    /// The field at an altitude (m) and position (m).
    #[inline(always)]
    pub fn value(&self, altitude: R, r: Vec3<R>) -> R {
        let along = r.dot(self.along);
        let mut sum = R::splat(0.0);
        for i in 0..COUNT {
            let wave = &self.waves[i];
            let turns = along.mul_add(
                wave.per_m_along,
                altitude.mul_add(wave.per_m_up, wave.phase),
            );
            sum = sum + cosine(turns);
        }
        sum * R::splat(AMPLITUDE)
    }

    /// Its rate along a motion, 1/s.
    #[inline(always)]
    pub fn rate(&self, (altitude, altitude_rate): (R, R), (r, v): (Vec3<R>, Vec3<R>)) -> R {
        let (along, along_rate) = (r.dot(self.along), v.dot(self.along));
        let mut sum = R::splat(0.0);
        for i in 0..COUNT {
            let wave = &self.waves[i];
            let turns = along.mul_add(
                wave.per_m_along,
                altitude.mul_add(wave.per_m_up, wave.phase),
            );
            let rate = along_rate.mul_add(wave.per_m_along, altitude_rate * wave.per_m_up);
            // d cos(2πx)/dt = 2π dx/dt cos(2π(x + 1/4)).
            sum = cosine(turns + R::splat(0.25)).mul_add(rate, sum);
        }
        sum * R::splat(AMPLITUDE * std::f64::consts::TAU)
    }
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
    fn the_rate_is_the_derivative_along_the_motion() {
        let mut field = Waves::STILL;
        let mut x = 0.3;
        for wave in &mut field.waves {
            x = (x * 7.3_f64).fract();
            *wave = Wave {
                per_m_up: (x - 0.5) * 1e-4,
                per_m_along: (0.7 - x) * 1e-5,
                phase: x,
            };
        }
        field.along = Vec3::new(0.6, 0.8, 0.0);
        let (r, v) = (Vec3::new(1e5, 2e5, 3e6), Vec3::new(3e3, -4e3, 1e3));
        let (h, climb) = (6e4, -300.0);
        let at = |t: f64| field.value(h + climb * t, v.scale_add(t, r));
        let numeric = (at(1e-2) - at(-1e-2)) / 2e-2;
        let rate = field.rate((h, climb), (r, v));
        assert!((rate - numeric).abs() < 1e-7, "{rate} {numeric}");
    }
}
