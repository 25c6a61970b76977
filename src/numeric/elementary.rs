//! `exp`, `ln`, `sin` and `cos` from our own polynomials, free of branches.
//!
//! The same arithmetic serves one `f64` and eight lanes, so that a result never
//! depends on the system's mathematics library. Rarely used functions (inverse
//! trigonometry) come from the `libm` crate, which is portable arithmetic too.

use std::f64::consts::{FRAC_2_PI, LOG2_E};

/// 2^52 + 2^51: adding it to a number below 2^51 in size leaves the nearest integer in the low bits.
const ROUND: f64 = 6_755_399_441_055_744.0;
/// ln 2 to 33 bits, so that its product with an exponent is exact.
const LN2_HIGH: f64 = 0.693_147_180_369_123_816_490_0;
/// ln 2 less [`LN2_HIGH`].
const LN2_LOW: f64 = 1.908_214_929_270_587_700_02e-10;

/// e^x to 2 ulp for -708 ≤ x ≤ 709; arguments outside are clamped to that range.
///
/// Reduction by multiples of ln 2, then the Taylor polynomial of degree 13.
#[inline(always)]
#[must_use]
pub fn exp(x: f64) -> f64 {
    let x = max(min(x, 709.0), -708.0);
    let shifted = x.mul_add(LOG2_E, ROUND);
    let n = shifted - ROUND;
    let r = n.mul_add(-LN2_LOW, n.mul_add(-LN2_HIGH, x));
    // 1 + r + r² (1/2! + r/3! + ... + r^11/13!), in pairs so that the steps overlap.
    let r2 = r * r;
    let r4 = r2 * r2;
    let a0 = r.mul_add(1.0 / 6.0, 0.5);
    let a1 = r.mul_add(1.0 / 120.0, 1.0 / 24.0);
    let a2 = r.mul_add(1.0 / 5_040.0, 1.0 / 720.0);
    let a3 = r.mul_add(1.0 / 362_880.0, 1.0 / 40_320.0);
    let a4 = r.mul_add(1.0 / 39_916_800.0, 1.0 / 3_628_800.0);
    let a5 = r.mul_add(1.0 / 6_227_020_800.0, 1.0 / 479_001_600.0);
    let b0 = a1.mul_add(r2, a0);
    let b1 = a3.mul_add(r2, a2);
    let b2 = a5.mul_add(r2, a4);
    let q = b2.mul_add(r4, b1).mul_add(r4, b0);
    let p = q.mul_add(r2, r) + 1.0;
    // The low bits of `shifted` hold n in two's complement; adding n to the exponent multiplies by 2^n.
    f64::from_bits(p.to_bits().wrapping_add(shifted.to_bits() << 52))
}

/// Natural logarithm to 2 ulp for positive normal x; 0 and negative numbers give nonsense, not a panic.
///
/// x = 2^n · m with m in [√½, √2), then ln m = 2 artanh((m-1)/(m+1)) by its series.
#[inline(always)]
#[must_use]
pub fn ln(x: f64) -> f64 {
    /// Bits of √½ rounded down to 32 leading bits.
    const SQRT_HALF: u64 = 0x3fe6_a09e_0000_0000;
    let offset = x.to_bits().wrapping_sub(SQRT_HALF);
    let exponent = offset & 0xfff0_0000_0000_0000;
    let m = f64::from_bits(x.to_bits().wrapping_sub(exponent));
    // Exponent field as a float without an integer conversion: 2^52 + field, biased to stay positive.
    let field = (offset.wrapping_add(0x4000_0000_0000_0000) >> 52) | 0x4330_0000_0000_0000;
    let n = f64::from_bits(field) - (4_503_599_627_370_496.0 + 1024.0);
    let f = m - 1.0;
    let s = f / (m + 1.0);
    let z = s * s;
    let mut p: f64 = 1.0 / 23.0;
    p = p.mul_add(z, 1.0 / 21.0);
    p = p.mul_add(z, 1.0 / 19.0);
    p = p.mul_add(z, 1.0 / 17.0);
    p = p.mul_add(z, 1.0 / 15.0);
    p = p.mul_add(z, 1.0 / 13.0);
    p = p.mul_add(z, 1.0 / 11.0);
    p = p.mul_add(z, 1.0 / 9.0);
    p = p.mul_add(z, 1.0 / 7.0);
    p = p.mul_add(z, 1.0 / 5.0);
    p = p.mul_add(z, 1.0 / 3.0);
    // ln(1+f) = f - f²/2 + s (f²/2 + 2z·p): the large parts f and f²/2 carry no rounding of s.
    let half_square = 0.5 * f * f;
    let rest = s * (2.0 * z).mul_add(p, half_square);
    n.mul_add(LN2_HIGH, f - (half_square - n.mul_add(LN2_LOW, rest)))
}

/// Sine and cosine to 2 ulp (of 1 near the zeros) for |x| ≤ 1e5 rad.
#[inline(always)]
#[must_use]
pub fn sin_cos(x: f64) -> (f64, f64) {
    // π/2 in three parts; the first two have trailing zeros, so their products with n are exact.
    const P1: f64 = 1.570_796_251_296_997_1;
    const P2: f64 = 7.549_789_415_861_596e-8;
    const P3: f64 = 5.390_302_858_158_119e-15;
    let shifted = x.mul_add(FRAC_2_PI, ROUND);
    let n = shifted - ROUND;
    let quadrant = shifted.to_bits();
    let r = n.mul_add(-P3, n.mul_add(-P2, n.mul_add(-P1, x)));
    let z = r * r;
    let mut s: f64 = 1.0 / 355_687_428_096_000.0;
    s = s.mul_add(z, -1.0 / 1_307_674_368_000.0);
    s = s.mul_add(z, 1.0 / 6_227_020_800.0);
    s = s.mul_add(z, -1.0 / 39_916_800.0);
    s = s.mul_add(z, 1.0 / 362_880.0);
    s = s.mul_add(z, -1.0 / 5_040.0);
    s = s.mul_add(z, 1.0 / 120.0);
    s = s.mul_add(z, -1.0 / 6.0);
    let sine = s.mul_add(z * r, r);
    let mut c: f64 = 1.0 / 20_922_789_888_000.0;
    c = c.mul_add(z, -1.0 / 87_178_291_200.0);
    c = c.mul_add(z, 1.0 / 479_001_600.0);
    c = c.mul_add(z, -1.0 / 3_628_800.0);
    c = c.mul_add(z, 1.0 / 40_320.0);
    c = c.mul_add(z, -1.0 / 720.0);
    c = c.mul_add(z, 1.0 / 24.0);
    let cosine = c.mul_add(z * z, z.mul_add(-0.5, 1.0));
    let swap = quadrant & 1 == 1;
    let (a, b) = if swap { (cosine, sine) } else { (sine, cosine) };
    let sin_sign = (quadrant & 2) << 62;
    let cos_sign = (quadrant.wrapping_add(1) & 2) << 62;
    (
        f64::from_bits(a.to_bits() ^ sin_sign),
        f64::from_bits(b.to_bits() ^ cos_sign),
    )
}

/// The smaller of two numbers by one comparison; a NaN in `a` gives `b`.
#[inline(always)]
#[must_use]
pub fn min(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

/// The larger of two numbers by one comparison; a NaN in `a` gives `b`.
#[inline(always)]
#[must_use]
pub fn max(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

/// Base to a real power, for positive base: exp(y ln x), relative error about 2e-16·(1 + |y ln x|).
#[inline(always)]
#[must_use]
pub fn powf(x: f64, y: f64) -> f64 {
    exp(y * ln(x))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ulps(ours: f64, reference: f64) -> f64 {
        (ours - reference).abs() / (reference.abs() * f64::EPSILON)
    }

    #[test]
    fn exp_is_within_two_ulp_of_the_standard_library() {
        let mut worst = 0.0_f64;
        for i in -700_000..=700_000 {
            let x = f64::from(i) * 1.000_123e-3;
            worst = worst.max(ulps(exp(x), x.exp()));
        }
        assert!(worst <= 2.0, "worst {worst} ulp");
        assert_eq!(exp(0.0), 1.0);
        assert!(exp(-1e9) < 1e-300 && exp(1e9) > 1e300);
    }

    #[test]
    fn ln_is_within_two_ulp_of_the_standard_library() {
        let mut worst = 0.0_f64;
        for i in 1..=1_000_000 {
            let near_one = 0.5 + f64::from(i) * 1.5e-6;
            worst = worst.max(ulps(ln(near_one), near_one.ln()));
            let wide = (f64::from(i - 500_000) * 1.4e-3).exp();
            worst = worst.max(ulps(ln(wide), wide.ln()));
        }
        assert!(worst <= 2.0, "worst {worst} ulp");
        assert_eq!(ln(1.0), 0.0);
    }

    #[test]
    fn sine_and_cosine_are_within_two_ulp_of_the_standard_library() {
        let mut worst = 0.0_f64;
        for i in -1_000_000..=1_000_000 {
            let x = f64::from(i) * 1.234_5e-4;
            let (s, c) = sin_cos(x);
            let (sine, cosine) = x.sin_cos();
            worst = worst.max((s - sine).abs() / (sine.abs().max(1e-3) * f64::EPSILON));
            worst = worst.max((c - cosine).abs() / (cosine.abs().max(1e-3) * f64::EPSILON));
        }
        assert!(worst <= 2.0, "worst {worst} ulp");
    }
}
