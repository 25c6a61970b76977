//! The five distributions a scenario may use, as functions from chance to value and back.
//! Where the chance comes from, and which number it serves, is left to the draws.
//!
//! Only rational functions, square roots and our own `exp` and `ln` are used, so that a
//! value has the same bits on every machine.

use crate::numeric::elementary::{exp, ln};
use crate::scenario::uncertainty::Distribution;

/// Why a distribution cannot be drawn from.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum DistributionError {
    /// A parameter is NaN or infinite, or so large that draws would overflow.
    #[error("the distribution has a parameter that is not finite or too large")]
    NotFinite,
    /// A standard deviation below 0.
    #[error("a standard deviation must be 0 or more, got {0}")]
    NegativeSpread(f64),
    /// The median of a log-normal is not above 0.
    #[error("the median of a log-normal distribution must be above 0, got {0}")]
    MedianNotPositive(f64),
    /// Low end, mode and high end are not in this order.
    #[error("low end, mode and high end must be in rising order")]
    EndsOutOfOrder,
    /// The ends of a truncated normal keep less than 1e-300 of its probability.
    #[error("the ends of the truncated normal distribution leave nothing to draw from")]
    NothingKept,
}

/// How far from the median, in standard deviations, a draw must stay finite.
const WIDEST_SCORE: f64 = 12.0;

/// A uniform chance in (0, 1), with the distance to both ends kept to full relative accuracy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    /// The chance itself.
    below: f64,
    /// One less the chance.
    above: f64,
}

impl Chance {
    /// From 64 random bits: the top bit picks the half, the others the distance from its end, 2^-65 at least.
    #[inline]
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "rounding the low bits is meant")]
    pub fn from_bits(bits: u64) -> Self {
        /// 2^-64.
        const SCALE: f64 = 1.0 / 18_446_744_073_709_551_616.0;
        let near = ((bits & (u64::MAX >> 1)) as f64 + 0.5) * SCALE;
        let far = 1.0 - near;
        let (below, above) = if bits >> 63 == 0 {
            (near, far)
        } else {
            (far, near)
        };
        Self { below, above }
    }

    /// The number itself, in (0, 1).
    #[must_use]
    pub fn uniform(self) -> f64 {
        self.below
    }

    /// From a number in (0, 1); one outside is moved to 2^-65 or 1 − 2^-53, and NaN to the middle.
    #[must_use]
    pub fn from_uniform(u: f64) -> Self {
        let u = if u.is_nan() { 0.5 } else { u };
        let below = u.clamp(0.5 / 18_446_744_073_709_551_616.0, 1.0 - 0.5 * f64::EPSILON);
        Self {
            below,
            above: 1.0 - below,
        }
    }

    /// The chance that a standard normal number lies below `z`.
    #[must_use]
    pub fn from_normal_score(z: f64) -> Self {
        Self {
            below: normal_probability(z),
            above: normal_probability(-z),
        }
    }

    /// The standard normal number with this chance below it.
    #[inline]
    #[must_use]
    pub fn normal_score(self) -> f64 {
        distance_of_tail(self.below.min(self.above)).copysign(self.below - self.above)
    }
}

/// A distribution made ready for drawing: checked, with what does not change worked out once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantiles {
    shape: Shape,
    low: f64,
    high: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Shape {
    /// Mean and standard deviation.
    Normal(f64, f64),
    /// Median and standard deviation of the log.
    LogNormal(f64, f64),
    /// Mean and standard deviation; the normal probability kept, and that below the low and above the high end.
    Truncated(f64, f64, f64, [f64; 2]),
    Uniform,
    /// Mode.
    Triangular(f64),
}

impl Quantiles {
    /// Checks the distribution. A spread or width of 0 always gives the same value; the ends
    /// of a truncated normal may be infinite.
    ///
    /// # Errors
    /// A parameter out of its range, see [`DistributionError`].
    pub fn new(distribution: Distribution) -> Result<Self, DistributionError> {
        use Distribution as D;
        use DistributionError as E;
        let mut ends = (f64::NEG_INFINITY, f64::INFINITY);
        let (shape, middle, spread) = match distribution {
            D::Normal { mean, std_dev } => (Shape::Normal(mean, std_dev), mean, std_dev),
            D::LogNormal {
                median: m,
                log_std_dev: s,
            } => (Shape::LogNormal(m, s), m, s),
            D::TruncatedNormal {
                mean: m,
                std_dev: s,
                low,
                high,
            } => {
                ends = (low, high);
                let (a, b) = (score_from_left(low, m, s), score(high, m, s));
                let around = [normal_probability(a), normal_probability(-b)];
                (Shape::Truncated(m, s, kept_between(a, b), around), m, s)
            }
            D::Uniform { low, high } => {
                ends = (low, high);
                (Shape::Uniform, low, 0.0)
            }
            D::Triangular { low, mode, high } => {
                ends = (low, high);
                (Shape::Triangular(mode), mode, 0.0)
            }
        };
        let (low, high) = ends;
        let ready = Self { shape, low, high };
        match shape {
            _ if !(middle.is_finite() && spread.is_finite()) => Err(E::NotFinite),
            _ if spread < 0.0 => Err(E::NegativeSpread(spread)),
            _ if low.is_nan() || high.is_nan() => Err(E::NotFinite),
            _ if low > high => Err(E::EndsOutOfOrder),
            Shape::Triangular(mode) if mode < low || mode > high => Err(E::EndsOutOfOrder),
            Shape::Truncated(.., kept, _) if kept < 1e-300 => Err(E::NothingKept),
            Shape::LogNormal(median, _) if median < f64::MIN_POSITIVE => {
                Err(E::MedianNotPositive(median))
            }
            // Our `exp` clamps, so that the widest draw would not overflow by itself.
            Shape::LogNormal(_, spread) if WIDEST_SCORE * spread > 700.0 => Err(E::NotFinite),
            _ if !ready.from_normal_score(-WIDEST_SCORE).is_finite() => Err(E::NotFinite),
            _ if !ready.from_normal_score(WIDEST_SCORE).is_finite() => Err(E::NotFinite),
            _ => Ok(ready),
        }
    }

    /// The value with this chance below it.
    #[inline]
    #[must_use]
    pub fn at(&self, chance: Chance) -> f64 {
        let (Chance { below, above }, low, high) = (chance, self.low, self.high);
        match self.shape {
            Shape::Normal(..) | Shape::LogNormal(..) => {
                self.from_normal_score(chance.normal_score())
            }
            Shape::Truncated(mean, std_dev, kept, [before, after]) => {
                let below = below * kept + before;
                let above = above * kept + after;
                (mean + std_dev * Chance { below, above }.normal_score()).clamp(low, high)
            }
            Shape::Uniform if below <= above => low + below * (high - low),
            Shape::Uniform => high - above * (high - low),
            Shape::Triangular(mode) if below * (high - low) < mode - low => {
                low + (below * (high - low) * (mode - low)).sqrt()
            }
            Shape::Triangular(mode) => high - (above * (high - low) * (high - mode)).sqrt(),
        }
    }

    /// The value at a standard normal score: the chance is the normal probability below `z`.
    ///
    /// Correlated numbers are drawn this way (a normal copula).
    #[inline]
    #[must_use]
    pub fn from_normal_score(&self, z: f64) -> f64 {
        match self.shape {
            Shape::Normal(mean, std_dev) => mean + std_dev * z,
            Shape::LogNormal(median, log_std_dev) => median * exp(log_std_dev * z),
            _ => self.at(Chance::from_normal_score(z)),
        }
    }

    /// The value with the chance `u` in (0, 1) below it; see [`Chance::from_uniform`] for numbers outside.
    #[must_use]
    pub fn from_uniform(&self, u: f64) -> f64 {
        self.at(Chance::from_uniform(u))
    }

    /// The probability of a value at or below `x`.
    #[must_use]
    pub fn probability_below(&self, x: f64) -> f64 {
        let (low, high) = (self.low, self.high);
        match self.shape {
            _ if x < low => 0.0,
            _ if x >= high => 1.0,
            Shape::Normal(mean, std_dev) => normal_probability(score(x, mean, std_dev)),
            Shape::LogNormal(..) if x < f64::MIN_POSITIVE => 0.0,
            Shape::LogNormal(median, spread) => {
                normal_probability(score(ln(x / median), 0.0, spread))
            }
            Shape::Truncated(mean, std_dev, kept, _) => {
                let a = score_from_left(low, mean, std_dev);
                kept_between(a, score(x, mean, std_dev)) / kept
            }
            Shape::Uniform => (x - low) / (high - low),
            Shape::Triangular(mode) if x < mode => {
                (x - low) * (x - low) / ((high - low) * (mode - low))
            }
            Shape::Triangular(mode) => {
                1.0 - (high - x) * (high - x) / ((high - low) * (high - mode))
            }
        }
    }
}

/// How many standard deviations `x` lies above the mean; without spread, infinitely many to either side.
fn score(x: f64, mean: f64, std_dev: f64) -> f64 {
    if std_dev > 0.0 {
        (x - mean) / std_dev
    } else if x < mean {
        f64::NEG_INFINITY
    } else {
        f64::INFINITY
    }
}

/// As [`score`], but without spread the mean itself counts as above.
fn score_from_left(x: f64, mean: f64, std_dev: f64) -> f64 {
    -score(-x, -mean, std_dev)
}

/// The normal probability between two scores, taken from the nearer tail.
fn kept_between(a: f64, b: f64) -> f64 {
    if a > 0.0 {
        normal_probability(-a) - normal_probability(-b)
    } else if b < 0.0 {
        normal_probability(b) - normal_probability(a)
    } else {
        1.0 - normal_probability(a) - normal_probability(-b)
    }
}

/// P(Z ≤ z) of the standard normal, to 2e-15 relative while above 1e-304, and 0 below; NaN gives NaN.
///
/// Sources: near 0 the series of Marsaglia, J. Stat. Softw. 11 (2004) no. 4; then the second
/// approximation of Cody, Math. Comp. 23 (1969) 631, through Φ(z) = erfc(−z/√2)/2; in the
/// far tail Laplace's continued fraction.
#[must_use]
pub fn normal_probability(z: f64) -> f64 {
    #[rustfmt::skip]
    const SCALED_TAIL: [[f64; 9]; 2] = [
        [2.153_115_354_744_038_46e-8, 5.641_884_969_886_700_89e-1, 8.883_149_794_388_375_94, 6.611_919_063_714_162_95e1, 2.986_351_381_974_001_31e2,
         8.819_522_212_417_690_9e2, 1.712_047_612_634_070_58e3, 2.051_078_377_826_071_47e3, 1.230_339_354_797_997_25e3],
        [1.0, 1.574_492_611_070_983_47e1, 1.176_939_508_913_124_99e2, 5.371_811_018_620_098_58e2, 1.621_389_574_566_690_19e3,
         3.290_799_235_733_459_63e3, 4.362_619_090_143_247_16e3, 3.439_367_674_143_721_64e3, 1.230_339_354_803_749_42e3],
    ];
    if z.is_nan() {
        return z;
    }
    let distance = z.abs();
    if distance > 37.3 {
        return if z < 0.0 { 0.0 } else { 1.0 };
    }
    // e^(-z²/2), with the rounding error of the square put back.
    let square = z * z;
    let bell = exp(-0.5 * square) * (1.0 - 0.5 * z.mul_add(z, -square));
    if distance < 0.663 {
        let (mut sum, mut term, mut odd) = (z, z, 1.0);
        for _ in 0..12 {
            odd += 2.0;
            term *= square / odd;
            sum += term;
        }
        return 0.5 + INV_SQRT_TAU * bell * sum;
    }
    let tail = if distance < 5.6 {
        let y = distance * std::f64::consts::FRAC_1_SQRT_2;
        0.5 * bell * ratio(&SCALED_TAIL, y)
    } else {
        let fraction = (1..=24)
            .rev()
            .fold(distance, |below, k| distance + f64::from(k) / below);
        INV_SQRT_TAU * bell / fraction
    };
    if z < 0.0 { tail } else { 1.0 - tail }
}

/// 1/√(2π).
const INV_SQRT_TAU: f64 = 0.398_942_280_401_432_677_94;

/// The z with P(Z ≤ z) = p of the standard normal, to 2e-15 relative; −∞ at p ≤ 0, ∞ at p ≥ 1, NaN for NaN.
///
/// Source: M. J. Wichura, algorithm AS 241 (PPND16), Applied Statistics 37 (1988) 477.
#[must_use]
pub fn normal_score(p: f64) -> f64 {
    if p.is_nan() {
        return p;
    }
    distance_of_tail(p.min(1.0 - p)).copysign(p - 0.5)
}

/// The z with P(Z ≥ z) = `tail` for `tail` up to 1/2.
#[inline]
fn distance_of_tail(tail: f64) -> f64 {
    #[rustfmt::skip]
    const CENTRE: [[f64; 8]; 2] = [
        [2.509_080_928_730_122_672_7e3, 3.343_057_558_358_812_810_5e4, 6.726_577_092_700_870_085_3e4, 4.592_195_393_154_987_145_7e4,
         1.373_169_376_550_946_112_5e4, 1.971_590_950_306_551_442_7e3, 1.331_416_678_917_843_774_5e2, 3.387_132_872_796_366_608],
        [5.226_495_278_852_854_561e3, 2.872_908_573_572_194_267_4e4, 3.930_789_580_009_271_061e4, 2.121_379_430_158_659_586_7e4,
         5.394_196_021_424_751_107_7e3, 6.871_870_074_920_579_083e2, 4.231_333_070_160_091_125_2e1, 1.0],
    ];
    #[rustfmt::skip]
    const TAIL: [[f64; 8]; 2] = [
        [7.745_450_142_783_414_076_4e-4, 2.272_384_498_926_918_458_3e-2, 2.417_807_251_774_506_117_7e-1, 1.270_458_252_452_368_382_58,
         3.647_848_324_763_204_605_04, 5.769_497_221_460_691_405_5, 4.630_337_846_156_545_295_9, 1.423_437_110_749_683_577_34],
        [1.050_750_071_644_416_843_24e-9, 5.475_938_084_995_344_946e-4, 1.519_866_656_361_645_719_66e-2, 1.481_039_764_274_800_745_9e-1,
         6.897_673_349_851_000_045_5e-1, 1.676_384_830_183_803_849_4, 2.053_191_626_637_758_821_87, 1.0],
    ];
    #[rustfmt::skip]
    const FAR_TAIL: [[f64; 8]; 2] = [
        [2.010_334_399_292_288_132_65e-7, 2.711_555_568_743_487_578_15e-5, 1.242_660_947_388_078_438_6e-3, 2.653_218_952_657_612_309_3e-2,
         2.965_605_718_285_048_912_3e-1, 1.784_826_539_917_291_335_8, 5.463_784_911_164_114_369_9, 6.657_904_643_501_103_777_2],
        [2.044_263_103_389_939_785_64e-15, 1.421_511_758_316_445_888_7e-7, 1.846_318_317_510_054_681_8e-5, 7.868_691_311_456_132_591e-4,
         1.487_536_129_085_061_485_25e-2, 1.369_298_809_227_358_053_1e-1, 5.998_322_065_558_879_376_9e-1, 1.0],
    ];
    let q = 0.5 - tail;
    if q <= 0.425 {
        return q * ratio(&CENTRE, 0.180_625 - q * q);
    }
    if tail < f64::MIN_POSITIVE {
        return f64::INFINITY;
    }
    let r = (-ln(tail)).sqrt();
    if r <= 5.0 {
        ratio(&TAIL, r - 1.6)
    } else {
        ratio(&FAR_TAIL, r - 5.0)
    }
}

/// One polynomial divided by another, the coefficients from the highest power down.
#[inline]
fn ratio<const N: usize>([above, below]: &[[f64; N]; 2], x: f64) -> f64 {
    let (mut numerator, mut denominator) = (above[0], below[0]);
    for k in 1..N {
        numerator = numerator * x + above[k];
        denominator = denominator * x + below[k];
    }
    numerator / denominator
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_most_extreme_bits_give_finite_mirrored_scores() {
        // Φ⁻¹(2^-65), computed with 40 digits.
        let low = Chance::from_bits(0).normal_score();
        assert!((low + 9.155_293_772_686_072_5).abs() < 1e-14);
        let high = Chance::from_bits(1 << 63).normal_score();
        assert_eq!(high.to_bits(), (-low).to_bits());
    }
}
