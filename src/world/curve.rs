//! A smooth curve through given points that adds no wiggles: slopes are continuous, and between
//! two points the curve never leaves the range of their values.

use super::error::WorldError;

/// A monotone piecewise cubic (slopes of three-point parabolas, limited as by Hyman 1983).
/// Through points on a straight line it is that line.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    knots: Vec<Knot>,
}

/// One point of a [`Curve`] with its slope.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Knot {
    x: f64,
    y: f64,
    slope: f64,
}

impl Curve {
    /// The curve that has one value everywhere.
    #[must_use]
    pub fn constant(y: f64) -> Self {
        Self {
            knots: vec![Knot {
                x: 0.0,
                y,
                slope: 0.0,
            }],
        }
    }

    /// The curve through `(x, y)` points with free ends, to be continued in a straight line.
    ///
    /// # Errors
    /// [`WorldError::TooFew`] without a point, [`WorldError::NotRising`] where x does not rise;
    /// both name `key`.
    pub fn through(key: &'static str, points: &[(f64, f64)]) -> Result<Self, WorldError> {
        check_rising(key, points)?;
        let rise: Vec<f64> = points
            .windows(2)
            .map(|p| (p[1].1 - p[0].1) / (p[1].0 - p[0].0))
            .collect();
        let last = points.len() - 1;
        let slope = |i: usize| match (i, last) {
            (_, 0) => 0.0,
            (0 | 1, 1) => rise[0],
            (0, _) => end_slope(&points[0..3], rise[0], rise[1]),
            (i, last) if i == last => {
                let mirrored = [points[i], points[i - 1], points[i - 2]];
                end_slope(&mirrored, rise[i - 1], rise[i - 2])
            }
            (i, _) => inner_slope(&points[i - 1..=i + 1], rise[i - 1], rise[i]),
        };
        let knots = points
            .iter()
            .enumerate()
            .map(|(i, &(x, y))| Knot {
                x,
                y,
                slope: slope(i),
            })
            .collect();
        Ok(Self { knots })
    }

    /// The curve through `(x, y)` points with continuous curvature: the cubic spline whose end slopes are
    /// those of [`Curve::through`]. For smooth data, such as the logarithm of a density, that an
    /// integrator has to follow: a jump in curvature costs it steps. It may leave the range of its
    /// neighbours; where a slope comes out against the rises around it, the curve of
    /// [`Curve::through`] is taken instead.
    ///
    /// # Errors
    /// As [`Curve::through`].
    pub fn smooth(key: &'static str, points: &[(f64, f64)]) -> Result<Self, WorldError> {
        let limited = Self::through(key, points)?;
        let count = points.len();
        if count < 3 {
            return Ok(limited);
        }
        // Slopes s of equal curvature on both sides of each inner point:
        // s[i-1]/h[i-1] + 2 s[i] (1/h[i-1] + 1/h[i]) + s[i+1]/h[i] = 3 (rise[i-1]/h[i-1] + rise[i]/h[i]).
        let (mut factor, mut right) = (vec![0.0; count], vec![0.0; count]);
        right[0] = limited.knots[0].slope;
        for i in 1..count - 1 {
            let (x, y) = points[i];
            let (before, after) = (x - points[i - 1].0, points[i + 1].0 - x);
            let (low, high) = (1.0 / before, 1.0 / after);
            let rises = (y - points[i - 1].1) * low * low + (points[i + 1].1 - y) * high * high;
            let pivot = 2.0 * (low + high) - low * factor[i - 1];
            factor[i] = high / pivot;
            right[i] = (3.0 * rises - low * right[i - 1]) / pivot;
        }
        let mut spline = limited.clone();
        for i in (1..count - 1).rev() {
            spline.knots[i].slope = right[i] - factor[i] * spline.knots[i + 1].slope;
        }
        let against = |i: usize| {
            let rise = |a: usize, b: usize| points[b].1 - points[a].1;
            let slope = spline.knots[i].slope;
            slope * rise(i - 1, i) < 0.0 || slope * rise(i, i + 1) < 0.0
        };
        let monotone = points
            .windows(3)
            .all(|p| (p[1].1 - p[0].1) * (p[2].1 - p[1].1) > 0.0);
        if monotone && (1..count - 1).any(against) {
            return Ok(limited);
        }
        Ok(spline)
    }

    /// The curve through `(x, y)` points that is level at both ends and constant beyond them.
    ///
    /// # Errors
    /// As [`Curve::through`].
    pub fn level_beyond(key: &'static str, points: &[(f64, f64)]) -> Result<Self, WorldError> {
        let mut curve = Self::through(key, points)?;
        if let Some(first) = curve.knots.first_mut() {
            first.slope = 0.0;
        }
        if let Some(last) = curve.knots.last_mut() {
            last.slope = 0.0;
        }
        Ok(curve)
    }

    /// The lowest and the highest value at the points; those of [`Curve::level_beyond`] stay within these.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        let values = || self.knots.iter().map(|knot| knot.y);
        (
            values().fold(f64::INFINITY, f64::min),
            values().fold(f64::NEG_INFINITY, f64::max),
        )
    }

    /// The curve with every value multiplied by `factor`.
    #[must_use]
    pub fn times(&self, factor: f64) -> Self {
        let scaled = |knot: &Knot| Knot {
            x: knot.x,
            y: knot.y * factor,
            slope: knot.slope * factor,
        };
        Self {
            knots: self.knots.iter().map(scaled).collect(),
        }
    }

    /// Value and slope at `x`; beyond the ends in a straight line with the slope of the end.
    #[must_use]
    pub fn at(&self, x: f64) -> (f64, f64) {
        let above = self.knots.partition_point(|knot| knot.x <= x);
        let line = |knot: Knot| (knot.slope.mul_add(x - knot.x, knot.y), knot.slope);
        match (
            above.checked_sub(1).and_then(|i| self.knots.get(i)),
            self.knots.get(above),
        ) {
            (Some(&low), Some(&high)) => between(low, high, x),
            (Some(&end), None) | (None, Some(&end)) => line(end),
            (None, None) => (0.0, 0.0),
        }
    }
}

/// Checks that there is a point and that x rises strictly.
pub(crate) fn check_rising(key: &'static str, points: &[(f64, f64)]) -> Result<(), WorldError> {
    if points.is_empty() {
        return Err(WorldError::TooFew {
            key,
            least: 1,
            found: 0,
        });
    }
    // Written so that a NaN does not rise either.
    let rises = |pair: &[(f64, f64)]| pair[1].0 > pair[0].0;
    match points.windows(2).position(|pair| !rises(pair)) {
        Some(at) => Err(WorldError::NotRising { key, index: at + 1 }),
        None => Ok(()),
    }
}

/// Slope at the middle of three points: that of the parabola, limited to three times the gentler
/// of the two neighbouring rises, and level at an extreme.
fn inner_slope(three: &[(f64, f64)], rise_before: f64, rise_after: f64) -> f64 {
    // Exactly straight points stay exactly straight.
    if rise_before.total_cmp(&rise_after).is_eq() {
        return rise_before;
    }
    if rise_before * rise_after <= 0.0 {
        return 0.0;
    }
    let (before, after) = (three[1].0 - three[0].0, three[2].0 - three[1].0);
    let parabola = after.mul_add(rise_before, before * rise_after) / (before + after);
    let most = 3.0 * rise_before.abs().min(rise_after.abs());
    parabola.abs().min(most).copysign(rise_before)
}

/// Slope at the first of three points (or the last of three mirrored ones): that of the parabola,
/// kept to the sign of the nearest rise and at most three times it.
fn end_slope(three: &[(f64, f64)], near: f64, far: f64) -> f64 {
    if near.total_cmp(&far).is_eq() {
        return near;
    }
    let (first, second) = (
        (three[1].0 - three[0].0).abs(),
        (three[2].0 - three[1].0).abs(),
    );
    let parabola = (near - far).mul_add(first / (first + second), near);
    if parabola * near <= 0.0 {
        0.0
    } else {
        parabola.abs().min(3.0 * near.abs()).copysign(near)
    }
}

/// Cubic Hermite value and slope between two knots.
fn between(low: Knot, high: Knot, x: f64) -> (f64, f64) {
    let width = high.x - low.x;
    let cubic = hermite([low.y, high.y], [low.slope * width, high.slope * width]);
    let t = (x - low.x) / width;
    (evaluate(&cubic, t), slope(&cubic, t) / width)
}

/// Coefficients in t of the cubic on [0, 1] with these end values and end slopes.
/// When values and slopes are those of one straight line (to 1e-13) the last two are exactly 0.
pub(crate) fn hermite(value: [f64; 2], slope: [f64; 2]) -> [f64; 4] {
    let [d0, d1] = slope;
    let rise = value[1] - value[0];
    let straight = 1e-13 * (1.0 + value[0].abs());
    if (d0 - d1).abs() <= straight * 1e-3 && (rise - d0).abs() <= straight {
        return [value[0], d0, 0.0, 0.0];
    }
    let c2 = 3.0f64.mul_add(rise, -2.0f64.mul_add(d0, d1));
    let c3 = (-2.0f64).mul_add(rise, d0 + d1);
    [value[0], d0, c2, c3]
}

/// c0 + t (c1 + t (c2 + t c3)), fused.
#[inline]
pub(crate) fn evaluate(c: &[f64; 4], t: f64) -> f64 {
    c[3].mul_add(t, c[2]).mul_add(t, c[1]).mul_add(t, c[0])
}

/// Rate of [`evaluate`] with t.
#[inline]
pub(crate) fn slope(c: &[f64; 4], t: f64) -> f64 {
    (3.0 * c[3]).mul_add(t, 2.0 * c[2]).mul_add(t, c[1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_stays_one_and_goes_on_beyond_its_ends() {
        let points: Vec<_> = [0.0, 1.0, 4.0, 6.0].map(|x| (x, 3.0 - 0.5 * x)).to_vec();
        let curve = Curve::through("line", &points).unwrap();
        for x in [-2.0, 0.0, 0.3, 2.5, 5.9, 6.0, 20.0] {
            assert_eq!(curve.at(x), (3.0 - 0.5 * x, -0.5), "x {x}");
        }
    }

    #[test]
    fn smooth_points_are_followed_to_third_order() {
        // Error of the curve through samples of sin on [0.2, 1.2], away from its extreme, at spacings h and h/2.
        let error = |steps: u32| {
            let h = 1.0 / f64::from(steps);
            let points: Vec<_> = (0..=steps)
                .map(|i| 0.2 + h * f64::from(i))
                .map(|x| (x, x.sin()))
                .collect();
            let curve = Curve::through("sine", &points).unwrap();
            (0..500)
                .map(|i| 0.4 + 0.6 * f64::from(i) / 500.0)
                .fold(0.0, |worst: f64, x| {
                    worst.max((curve.at(x).0 - x.sin()).abs())
                })
        };
        // Slopes are of second order, so values are of third: a factor of 8.
        let ratio = error(20) / error(40);
        assert!(
            ratio > 7.0,
            "halving the spacing cut the error only {ratio} times"
        );
    }

    #[test]
    fn no_value_leaves_the_range_of_its_neighbours() {
        let points = [
            (0.0, 0.0),
            (1.0, 0.0),
            (2.0, 1.0),
            (3.0, 1.01),
            (4.0, 5.0),
            (5.0, 2.0),
        ];
        let curve = Curve::level_beyond("steps", &points).unwrap();
        assert_eq!(curve.range(), (0.0, 5.0));
        for pair in points.windows(2) {
            let (low, high) = (pair[0].1.min(pair[1].1), pair[0].1.max(pair[1].1));
            for i in 0..=100 {
                let x = pair[0].0 + (pair[1].0 - pair[0].0) * f64::from(i) / 100.0;
                let y = curve.at(x).0;
                assert!(
                    y >= low - 1e-15 && y <= high + 1e-15,
                    "{y} at {x} is outside {low}..{high}"
                );
            }
        }
        assert_eq!(curve.at(-3.0), (0.0, 0.0));
        assert_eq!(curve.at(9.0), (2.0, 0.0));
    }

    #[test]
    fn slope_is_the_rate_of_the_value() {
        let curve =
            Curve::through("bend", &[(0.0, 1.0), (2.0, 2.0), (3.0, 5.0), (7.0, 6.0)]).unwrap();
        for x in [0.5, 1.9, 2.2, 5.0] {
            let d = 1e-5;
            let differenced = (curve.at(x + d).0 - curve.at(x - d).0) / (2.0 * d);
            assert!((curve.at(x).1 - differenced).abs() < 1e-8, "x {x}");
        }
    }

    #[test]
    fn a_smooth_curve_has_continuous_curvature() {
        let points: Vec<_> = [0.0, 0.4, 1.0, 1.3, 2.1, 3.0]
            .iter()
            .map(|&x: &f64| (x, -x - 0.1 * x * x))
            .collect();
        let curve = Curve::smooth("smooth", &points).unwrap();
        let bend = |x: f64| (curve.at(x + 1e-5).1 - curve.at(x - 1e-5).1) / 2e-5;
        for &(x, y) in &points[1..5] {
            assert!((curve.at(x).0 - y).abs() < 1e-15);
            assert!((bend(x + 1e-3) - bend(x - 1e-3)).abs() < 1e-3, "at {x}");
        }
    }

    #[test]
    fn points_that_do_not_rise_are_named() {
        let twice = Curve::through("altitude", &[(0.0, 1.0), (1.0, 2.0), (1.0, 3.0)]);
        assert_eq!(
            twice,
            Err(WorldError::NotRising {
                key: "altitude",
                index: 2
            })
        );
        let missing = Curve::through("altitude", &[(0.0, 1.0), (f64::NAN, 2.0)]);
        assert_eq!(
            missing,
            Err(WorldError::NotRising {
                key: "altitude",
                index: 1
            })
        );
        assert_eq!(
            Curve::through("altitude", &[]),
            Err(WorldError::TooFew {
                key: "altitude",
                least: 1,
                found: 0
            })
        );
    }
}
