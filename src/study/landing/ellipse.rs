//! The ellipse in which the ends of many flights lie.

use super::ground::FromEntry;
use nalgebra::{Matrix2, SymmetricEigen};

/// Semi-axes in standard deviations inside which 95 % of a normal spread in two dimensions lie: √(-2 ln 0.05).
pub const HOLDS_95: f64 = 2.447_746_830_680_816;

/// The ellipse of one standard deviation about the mean of some ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ellipse {
    /// The mean.
    pub centre: FromEntry,
    /// Standard deviations along the long and the short axis, m.
    pub axes_m: [f64; 2],
    /// Angle from the track to the long axis, to the right, rad, between -π/2 and π/2.
    pub turned_rad: f64,
    /// Share of the ends inside the semi-axes of [`HOLDS_95`], and inside those of three standard deviations.
    pub inside: [f64; 2],
}

impl Ellipse {
    /// The ellipse of at least three ends.
    #[must_use]
    pub fn of(ends: &[FromEntry]) -> Option<Self> {
        let count = f64::from(u32::try_from(ends.len()).ok().filter(|&count| count >= 3)?);
        let sum = |of: &dyn Fn(&FromEntry) -> f64| ends.iter().map(of).sum::<f64>();
        let centre = FromEntry {
            downrange_m: sum(&|end| end.downrange_m) / count,
            crossrange_m: sum(&|end| end.crossrange_m) / count,
        };
        let away = |end: &FromEntry| {
            (
                end.downrange_m - centre.downrange_m,
                end.crossrange_m - centre.crossrange_m,
            )
        };
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for (x, y) in ends.iter().map(away) {
            xx += x * x;
            xy += x * y;
            yy += y * y;
        }
        let eigen = SymmetricEigen::new(Matrix2::new(xx, xy, xy, yy) / (count - 1.0));
        let long = usize::from(eigen.eigenvalues[1] > eigen.eigenvalues[0]);
        let axes_m = [long, 1 - long].map(|i| eigen.eigenvalues[i].max(0.0).sqrt());
        let (cosine, sine) = (eigen.eigenvectors[(0, long)], eigen.eigenvectors[(1, long)]);
        let turned_rad = libm::atan(sine / cosine);
        let mut ellipse = Self {
            centre,
            axes_m,
            turned_rad,
            inside: [0.0; 2],
        };
        ellipse.inside = [HOLDS_95, 3.0].map(|scale| {
            let held = ends.iter().filter(|end| ellipse.distance(**end) <= scale);
            held.map(|_| 1.0).sum::<f64>() / count
        });
        Some(ellipse)
    }

    /// Distance of an end from the centre in standard deviations.
    #[must_use]
    pub fn distance(&self, end: FromEntry) -> f64 {
        let (x, y) = (
            end.downrange_m - self.centre.downrange_m,
            end.crossrange_m - self.centre.crossrange_m,
        );
        let (sine, cosine) = (libm::sin(self.turned_rad), libm::cos(self.turned_rad));
        let along = (x * cosine + y * sine) / self.axes_m[0].max(1e-9);
        let across = (y * cosine - x * sine) / self.axes_m[1].max(1e-9);
        along.hypot(across)
    }

    /// Points around the ellipse of `scale` standard deviations, the first one again at the end.
    #[must_use]
    pub fn around(&self, scale: f64) -> Vec<FromEntry> {
        const POINTS: u32 = 96;
        let (sine, cosine) = (libm::sin(self.turned_rad), libm::cos(self.turned_rad));
        (0..=POINTS)
            .map(|i| {
                let angle = std::f64::consts::TAU * f64::from(i) / f64::from(POINTS);
                let along = scale * self.axes_m[0] * libm::cos(angle);
                let across = scale * self.axes_m[1] * libm::sin(angle);
                FromEntry {
                    downrange_m: self.centre.downrange_m + along * cosine - across * sine,
                    crossrange_m: self.centre.crossrange_m + along * sine + across * cosine,
                }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ends on two crossed lines: the moments follow by hand, whatever the turn.
    #[test]
    fn crossed_ends_have_their_axes_and_turn() {
        for turn in [0.0_f64, 0.4, -1.1] {
            let ends: Vec<FromEntry> = [(30.0, 0.0), (-30.0, 0.0), (0.0, 10.0), (0.0, -10.0)]
                .into_iter()
                .map(|(a, b): (f64, f64)| FromEntry {
                    downrange_m: 500.0 + a * turn.cos() - b * turn.sin(),
                    crossrange_m: -70.0 + a * turn.sin() + b * turn.cos(),
                })
                .collect();
            let ellipse = Ellipse::of(&ends).expect("four ends");
            // Σ a² / 3 = 2 · 900 / 3, Σ b² / 3 = 2 · 100 / 3.
            assert!((ellipse.axes_m[0] / 600.0_f64.sqrt() - 1.0).abs() < 1e-12);
            assert!((ellipse.axes_m[1] / (200.0_f64 / 3.0).sqrt() - 1.0).abs() < 1e-12);
            assert!((ellipse.turned_rad - turn).abs() < 1e-12);
            assert!((ellipse.centre.crossrange_m + 70.0).abs() < 1e-9);
            for end in ellipse.around(2.0) {
                assert!((ellipse.distance(end) - 2.0).abs() < 1e-9);
            }
        }
        assert!(Ellipse::of(&[]).is_none());
    }

    /// 95 % of a normal spread in two dimensions lie within √χ²(0.95; 2) (statrs, an independent quantile).
    #[test]
    fn the_scale_is_that_of_chi_squared() {
        use statrs::distribution::{ChiSquared, ContinuousCDF};
        let chi = ChiSquared::new(2.0).expect("two").inverse_cdf(0.95).sqrt();
        assert!((HOLDS_95 / chi - 1.0).abs() < 1e-6, "{chi}");
    }
}
