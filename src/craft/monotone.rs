//! A smooth curve through a table's points that adds no wiggles, and its forms for lanes: its own cubics, and
//! cubics on equal cells. Between two points it never leaves the range of their values.

/// Monotone piecewise cubic through points (slopes by the weighted harmonic mean of Fritsch and
/// Butland, SIAM J. Sci. Stat. Comput. 5, 1984); constant beyond its ends.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Monotone {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
}

impl Monotone {
    /// The curve through `(x, y)`; x must rise strictly, and both be of the same length of 1 or more
    /// (`None` otherwise).
    pub(super) fn through(x: &[f64], y: &[f64]) -> Option<Self> {
        let rises = x.windows(2).all(|pair| pair[1] > pair[0]);
        if x.is_empty() || x.len() != y.len() || !rises {
            return None;
        }
        Some(Self {
            x: x.to_vec(),
            y: y.to_vec(),
            slope: slopes(x, y),
        })
    }

    /// Value and slope at `x`; beyond the ends the value of the end and slope 0.
    pub(super) fn at(&self, x: f64) -> (f64, f64) {
        let above = self.x.partition_point(|knot| *knot <= x);
        let last = self.x.len() - 1;
        if above == 0 {
            return (self.y[0], 0.0);
        }
        if above > last {
            let slope = if x > self.x[last] {
                0.0
            } else {
                self.slope[last]
            };
            return (self.y[last], slope);
        }
        let (i, width) = (above - 1, self.x[above] - self.x[above - 1]);
        let cubic = cell(
            [self.y[i], self.y[above]],
            [self.slope[i] * width, self.slope[above] * width],
        );
        let t = (x - self.x[i]) / width;
        let value = cubic[3]
            .mul_add(t, cubic[2])
            .mul_add(t, cubic[1])
            .mul_add(t, cubic[0]);
        let rate = (3.0 * cubic[3])
            .mul_add(t, 2.0 * cubic[2])
            .mul_add(t, cubic[1]);
        (value, rate / width)
    }

    /// Slope at the last point, from the left.
    pub(super) fn end_slope(&self) -> f64 {
        self.slope[self.slope.len() - 1]
    }

    /// Its cubics c0 + c1 t + c2 t² + c3 t³, one for each two neighbouring points; of one point the constant.
    pub(super) fn cubics(&self) -> Vec<[f64; 4]> {
        if self.x.len() == 1 {
            return vec![[self.y[0], 0.0, 0.0, 0.0]];
        }
        let between = |i: usize| {
            let width = self.x[i + 1] - self.x[i];
            cell(
                [self.y[i], self.y[i + 1]],
                [self.slope[i] * width, self.slope[i + 1] * width],
            )
        };
        (0..self.x.len() - 1).map(between).collect()
    }

    /// The curve as such cubics on `cells` equal cells between its ends
    /// (exact where every point is a cell's end).
    pub(super) fn rows(&self, cells: u32) -> Vec<[f64; 4]> {
        let (low, high) = (self.x[0], self.x[self.x.len() - 1]);
        let step = (high - low) / f64::from(cells);
        let knot = |i: u32| self.at(f64::from(i).mul_add(step, low).min(high));
        (0..cells)
            .map(|i| {
                let ((y0, d0), (y1, d1)) = (knot(i), knot(i + 1));
                cell([y0, y1], [d0 * step, d1 * step])
            })
            .collect()
    }
}

/// Coefficients of the cubic on [0, 1] with these end values and end slopes.
fn cell(value: [f64; 2], slope: [f64; 2]) -> [f64; 4] {
    let rise = value[1] - value[0];
    let c2 = 3.0f64.mul_add(rise, -2.0f64.mul_add(slope[0], slope[1]));
    let c3 = (-2.0f64).mul_add(rise, slope[0] + slope[1]);
    [value[0], slope[0], c2, c3]
}

fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let last = x.len() - 1;
    let width = |i: usize| x[i + 1] - x[i];
    let rise = |i: usize| (y[i + 1] - y[i]) / width(i);
    (0..=last)
        .map(|i| match i {
            _ if last == 0 => 0.0,
            _ if last == 1 => rise(0),
            0 => end(width(0), width(1), rise(0), rise(1)),
            i if i == last => end(width(i - 1), width(i - 2), rise(i - 1), rise(i - 2)),
            i => inner([width(i - 1), width(i)], [rise(i - 1), rise(i)]),
        })
        .collect()
}

/// Slope at an inner point from the widths and rises on both sides; level at an extreme.
fn inner(width: [f64; 2], rise: [f64; 2]) -> f64 {
    if rise[0] * rise[1] <= 0.0 {
        return 0.0;
    }
    let (w0, w1) = (2.0 * width[1] + width[0], width[1] + 2.0 * width[0]);
    (w0 + w1) / (w0 / rise[0] + w1 / rise[1])
}

/// Slope at an end: that of the parabola through three points, limited to keep the curve monotone.
fn end(near_width: f64, far_width: f64, near: f64, far: f64) -> f64 {
    let parabola =
        ((2.0 * near_width + far_width) * near - near_width * far) / (near_width + far_width);
    if parabola * near <= 0.0 {
        0.0
    } else {
        parabola.abs().min(3.0 * near.abs()).copysign(near)
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "values that must come out exactly")]
mod tests {
    use super::*;

    #[test]
    fn the_curve_meets_its_points_and_stays_between_them() {
        let (x, y) = ([0.0, 1.0, 2.5, 3.0, 7.0], [1.0, 1.0, 4.0, 4.1, -2.0]);
        let curve = Monotone::through(&x, &y).unwrap();
        for i in 0..4 {
            assert!((curve.at(x[i]).0 - y[i]).abs() < 1e-14);
            for k in 0..=50 {
                let value = curve.at(x[i] + (x[i + 1] - x[i]) * f64::from(k) / 50.0).0;
                let (low, high) = (y[i].min(y[i + 1]), y[i].max(y[i + 1]));
                assert!(value >= low - 1e-14 && value <= high + 1e-14);
            }
        }
        assert_eq!(curve.at(-1.0), (1.0, 0.0));
        assert_eq!(curve.at(8.0), (-2.0, 0.0));
    }

    #[test]
    fn rows_on_a_grid_that_holds_every_point_are_the_curve() {
        let curve = Monotone::through(&[2.0, 3.0, 5.0], &[1.0, 4.0, 5.0]).unwrap();
        let rows = curve.rows(6);
        for (cell, [c0, c1, c2, c3]) in (0..6).zip(rows) {
            for k in 0..=50 {
                let t = f64::from(k) / 50.0;
                let value = c0 + t * (c1 + t * (c2 + t * c3));
                let x = 2.0 + 0.5 * (f64::from(cell) + t);
                assert!((value - curve.at(x).0).abs() < 1e-14, "{x}");
            }
        }
    }

    #[test]
    fn inner_slopes_are_weighted_harmonic_means() {
        // Widths 1 and 2, rises 1 and 1/2: weights 5 and 4, (5 + 4)/(5/1 + 4/(1/2)).
        let curve = Monotone::through(&[0.0, 1.0, 3.0], &[0.0, 1.0, 2.0]).unwrap();
        assert!((curve.at(1.0).1 - 9.0 / 13.0).abs() < 1e-15);
    }

    #[test]
    fn a_straight_line_stays_one_and_bad_points_are_refused() {
        let line = Monotone::through(&[0.0, 1.0, 4.0], &[3.0, 2.0, -1.0]).unwrap();
        assert!((line.at(2.2).0 - 0.8).abs() < 1e-14 && (line.end_slope() + 1.0).abs() < 1e-14);
        assert!(Monotone::through(&[0.0, 0.0], &[1.0, 2.0]).is_none());
        assert!(Monotone::through(&[], &[]).is_none());
        assert!(Monotone::through(&[0.0, f64::NAN], &[1.0, 2.0]).is_none());
        assert_eq!(Monotone::through(&[1.0], &[5.0]).unwrap().at(9.0).0, 5.0);
    }
}
