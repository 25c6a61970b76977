//! Roots and extremes of a function on an interval.

/// Where `f` changes sign between `low` and `high`, to `tolerance` in the argument: secant steps
/// kept inside the bracket, with a bisection whenever they do not halve it.
///
/// `f(low)` and `f(high)` must differ in sign (a zero at an end counts); otherwise `None`, as where `f` is not a number.
/// The answer lies inside the bracket; `f` is called at most about 2 log2((high-low)/tolerance) times.
pub fn bracketed_root(
    mut f: impl FnMut(f64) -> f64,
    low: f64,
    high: f64,
    tolerance: f64,
) -> Option<f64> {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if !(fa * fb < 0.0) {
        return None;
    }
    let mut bisect = false;
    for _ in 0..400 {
        let width = b - a;
        if width.abs() <= tolerance {
            break;
        }
        let secant = a - fa * width / (fb - fa);
        let margin = 0.01 * width.abs().min(tolerance * 50.0);
        let inside = secant > a.min(b) + margin && secant < a.max(b) - margin;
        let m = if bisect || !inside {
            0.5 * (a + b)
        } else {
            secant
        };
        let fm = f(m);
        if fm == 0.0 {
            return Some(m);
        }
        if fm.is_nan() {
            return None;
        }
        if fa * fm < 0.0 {
            (b, fb) = (m, fm);
        } else {
            (a, fa) = (m, fm);
        }
        bisect = (b - a).abs() > 0.5 * width.abs();
    }
    Some(0.5 * (a + b))
}

/// The least value of `f` between `low` and `high` and its place, to `tolerance` in the argument: parabolas through
/// the three best points, with a golden section whenever they do not close in (Brent, Algorithms for Minimization
/// without Derivatives, 1973).
///
/// `f` should have one minimum between the ends; of several, one is found. A value that is not a number counts as
/// larger than any other. The answer may lie at an end only to within `tolerance`.
pub fn bounded_minimum(
    mut f: impl FnMut(f64) -> f64,
    low: f64,
    high: f64,
    tolerance: f64,
) -> (f64, f64) {
    /// 2 - the golden ratio.
    const GOLDEN: f64 = 0.381_966_011_250_105_1;
    let mut f = |x: f64| {
        let value = f(x);
        if value.is_nan() { f64::INFINITY } else { value }
    };
    let (mut a, mut b) = (low, high);
    let mut best = GOLDEN.mul_add(b - a, a);
    let mut f_best = f(best);
    let (mut second, mut f_second) = (best, f_best);
    let (mut third, mut f_third) = (best, f_best);
    let (mut step, mut before) = (0.0_f64, 0.0_f64);
    for _ in 0..200 {
        let middle = 0.5 * (a + b);
        if (best - middle).abs() <= 2.0 * tolerance - 0.5 * (b - a) {
            break;
        }
        // The vertex of the parabola through the three points.
        let r = (best - second) * (f_best - f_third);
        let q = (best - third) * (f_best - f_second);
        let (mut p, mut q) = ((best - third) * q - (best - second) * r, 2.0 * (q - r));
        if q > 0.0 {
            p = -p;
        }
        q = q.abs();
        let fits = before.abs() > tolerance
            && p.abs() < (0.5 * q * before).abs()
            && p > q * (a - best)
            && p < q * (b - best);
        before = step;
        if fits {
            step = p / q;
            let near = |x: f64, end: f64| (x - end).abs() < 2.0 * tolerance;
            if near(best + step, a) || near(best + step, b) {
                step = tolerance.copysign(middle - best);
            }
        } else {
            before = if best < middle { b - best } else { a - best };
            step = GOLDEN * before;
        }
        let next = if step.abs() >= tolerance {
            best + step
        } else {
            best + tolerance.copysign(step)
        };
        let f_next = f(next);
        if f_next <= f_best {
            if next < best {
                b = best;
            } else {
                a = best;
            }
            (third, f_third) = (second, f_second);
            (second, f_second) = (best, f_best);
            (best, f_best) = (next, f_next);
        } else {
            if next < best {
                a = next;
            } else {
                b = next;
            }
            if f_next <= f_second || second == best {
                (third, f_third) = (second, f_second);
                (second, f_second) = (next, f_next);
            } else if f_next <= f_third || third == best || third == second {
                (third, f_third) = (next, f_next);
            }
        }
    }
    (best, f_best)
}

/// The place in `[0, 1]` where the cubic through `(0, y0)` and `(1, y1)` with slopes `d0`, `d1`
/// (per unit of place) takes the value `level`, when the ends lie on either side of it.
#[must_use]
pub fn hermite_crossing(y0: f64, d0: f64, y1: f64, d1: f64, level: f64) -> Option<f64> {
    bracketed_root(|t| hermite(y0, d0, y1, d1, t) - level, 0.0, 1.0, 1e-10)
}

/// The cubic through `(0, y0)` and `(1, y1)` with slopes `d0`, `d1`, at place `t`.
#[inline(always)]
#[must_use]
pub fn hermite(y0: f64, d0: f64, y1: f64, d1: f64, t: f64) -> f64 {
    let rise = y1 - y0;
    let c2 = 3.0 * rise - 2.0 * d0 - d1;
    let c3 = d0 + d1 - 2.0 * rise;
    y0 + t * (d0 + t * (c2 + t * c3))
}

/// The place in `[0, 1]` of the inner extreme of that cubic, when its slope changes sign between the ends.
#[inline(always)]
#[must_use]
pub fn hermite_extreme(y0: f64, d0: f64, y1: f64, d1: f64) -> Option<f64> {
    if !(d0 * d1 <= 0.0) || d0 == d1 {
        return None;
    }
    // Slope d0 + 2 b t + c t²: one root lies between the ends; written so that nothing cancels.
    let rise = y1 - y0;
    let b = 3.0 * rise - 2.0 * d0 - d1;
    let c = 3.0 * (d0 + d1 - 2.0 * rise);
    let root = (b * b - c * d0).max(0.0).sqrt();
    let sum = if b < 0.0 { b - root } else { b + root };
    let (near, far) = (-d0 / sum, -sum / c);
    let inside = |t: f64| (-1e-9..=1.0 + 1e-9).contains(&t);
    [near, far]
        .into_iter()
        .find(|&t| inside(t))
        .map(|t| t.clamp(0.0, 1.0))
}

/// The real roots of a x² + b x + c, the lower first; NaN or infinite where there is none.
#[inline(always)]
#[must_use]
pub fn quadratic_roots(a: f64, b: f64, c: f64) -> [f64; 2] {
    // Written so that nothing cancels.
    let root = (b * b - 4.0 * a * c).sqrt();
    let sum = -0.5 * (b + if b < 0.0 { -root } else { root });
    let (one, other) = (sum / a, c / sum);
    if one < other {
        [one, other]
    } else {
        [other, one]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_of_smooth_and_steep_functions_are_found() {
        let cubic = bracketed_root(|x| x * x * x - 2.0, 0.0, 2.0, 1e-13);
        assert!((cubic.expect("bracketed") - 2.0_f64.cbrt()).abs() < 1e-12);
        let steep = bracketed_root(|x: f64| (50.0 * (x - 0.123)).tanh(), -1.0, 1.0, 1e-13);
        assert!((steep.expect("bracketed") - 0.123).abs() < 1e-12);
        assert_eq!(bracketed_root(|x| x * x + 1.0, -1.0, 1.0, 1e-9), None);
        // A function without a value inside has no root that could be told.
        let broken = |x: f64| if x.abs() < 0.9 { f64::NAN } else { x };
        assert_eq!(bracketed_root(broken, -1.0, 1.0, 1e-9), None);
        assert_eq!(bracketed_root(|x| x, 0.0, 1.0, 1e-9), Some(0.0));
    }

    #[test]
    fn the_least_value_is_found_inside_at_an_end_and_beside_holes() {
        let (x, y) = bounded_minimum(|x: f64| (x - 0.3).cosh(), -2.0, 5.0, 1e-9);
        assert!((x - 0.3).abs() < 1e-7 && (y - 1.0).abs() < 1e-14, "{x}");
        // x - ln x has its minimum at 1; a value that is no number counts as high.
        let (x, _) = bounded_minimum(|x: f64| x - x.ln(), -1.0, 9.0, 1e-9);
        assert!((x - 1.0).abs() < 1e-7, "{x}");
        let (x, _) = bounded_minimum(|x| x, 0.0, 1.0, 1e-6);
        assert!(x < 1e-5, "{x}");
    }

    #[test]
    fn the_extreme_of_a_cubic_is_where_its_slope_is_zero() {
        // 1 + t - 3t² + t³ over [0, 1]: slope 1 - 6t + 3t², zero at 1 - √(2/3).
        let place = hermite_extreme(1.0, 1.0, 0.0, -2.0).expect("slope changes sign");
        assert!((place - (1.0 - (2.0_f64 / 3.0).sqrt())).abs() < 1e-15);
        // A parabola: t - t².
        assert_eq!(hermite_extreme(0.0, 1.0, 0.0, -1.0), Some(0.5));
        assert_eq!(hermite_extreme(0.0, 1.0, 1.0, 1.0), None);
    }

    #[test]
    fn roots_of_a_parabola_come_in_order() {
        assert_eq!(quadratic_roots(2.0, -2.0, -12.0), [-2.0, 3.0]);
        assert_eq!(quadratic_roots(-2.0, 2.0, 12.0), [-2.0, 3.0]);
        assert_eq!(quadratic_roots(0.0, 2.0, -1.0), [f64::NEG_INFINITY, 0.5]);
        let none = quadratic_roots(1.0, 0.0, 1.0);
        assert!(none.iter().all(|root| !root.is_finite()));
    }

    #[test]
    fn a_cubic_is_its_own_hermite_interpolant() {
        let y = |t: f64| 2.0 * t * t * t - 3.0 * t * t + 0.5 * t + 1.0;
        let d = |t: f64| 6.0 * t * t - 6.0 * t + 0.5;
        let at = |t| hermite(y(0.0), d(0.0), y(1.0), d(1.0), t);
        assert!((at(0.3) - y(0.3)).abs() < 1e-15);
        let level = y(0.4);
        let crossing = hermite_crossing(y(0.0), d(0.0), y(1.0), d(1.0), level);
        assert!((y(crossing.expect("crosses")) - level).abs() < 1e-9);
    }
}
