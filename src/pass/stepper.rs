//! One attempted step of the Dormand–Prince 5(4) pair, for one number or eight.
//!
//! Dormand & Prince, J. Comput. Appl. Math. 6(1), 1980, 19-26 (coefficients from memory, held by a
//! test of the order conditions and by the observed order). The last stage is the first of the next step.

use super::dynamics::{Felt, Sample, State, derivative};
use super::models::Models;
use crate::numeric::Real;

pub(super) const A21: f64 = 1.0 / 5.0;
pub(super) const A3: [f64; 2] = [3.0 / 40.0, 9.0 / 40.0];
pub(super) const A4: [f64; 3] = [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0];
pub(super) const A5: [f64; 4] = [
    19_372.0 / 6_561.0,
    -25_360.0 / 2_187.0,
    64_448.0 / 6_561.0,
    -212.0 / 729.0,
];
pub(super) const A6: [f64; 5] = [
    9_017.0 / 3_168.0,
    -355.0 / 33.0,
    46_732.0 / 5_247.0,
    49.0 / 176.0,
    -5_103.0 / 18_656.0,
];
/// Weights of the fifth-order result on stages 1, 3, 4, 5, 6 (stage 2 has none).
pub(super) const B: [f64; 5] = [
    35.0 / 384.0,
    500.0 / 1_113.0,
    125.0 / 192.0,
    -2_187.0 / 6_784.0,
    11.0 / 84.0,
];
/// Fifth less fourth order on stages 1, 3, 4, 5, 6, 7.
pub(super) const E: [f64; 6] = [
    71.0 / 57_600.0,
    -71.0 / 16_695.0,
    71.0 / 1_920.0,
    -17_253.0 / 339_200.0,
    22.0 / 525.0,
    -1.0 / 40.0,
];

/// A step that was tried.
#[derive(Debug, Clone, Copy)]
pub struct Trial<R> {
    /// State at the end.
    pub y: State<R>,
    /// Derivative at the end.
    pub k: State<R>,
    /// What is felt at the end.
    pub felt: Felt<R>,
    /// Square of the estimated error over the tolerance; at most 1 for a step to keep.
    pub error_squared: R,
}

/// Position and velocity errors that count as 1.
#[derive(Debug, Clone, Copy)]
pub struct ErrorScale {
    /// m.
    pub position_m: f64,
    /// m/s.
    pub velocity_m_s: f64,
}

/// Components of the state that the equations depend on: position and velocity.
const COUPLED: usize = 6;

/// `y + h Σ weights·stages` for the coupled components.
#[inline(always)]
fn combine<R: Real, const N: usize>(
    y: &State<R>,
    h: R,
    stages: [&State<R>; N],
    weights: [f64; N],
) -> State<R> {
    let mut out = *y;
    for c in 0..COUPLED {
        let mut sum = stages[0][c] * R::splat(weights[0]);
        for s in 1..N {
            sum = stages[s][c].mul_add(R::splat(weights[s]), sum);
        }
        out[c] = sum.mul_add(h, y[c]);
    }
    out
}

/// Tries a step of length `h` (s) from state `y` with derivative `k1`.
#[inline(always)]
pub fn attempt<R: Real>(
    models: &Models,
    sample: &Sample<R>,
    (y, k1): (&State<R>, &State<R>),
    h: R,
    scale: ErrorScale,
) -> Trial<R> {
    let k2 = derivative(models, sample, &combine(y, h, [k1], [A21])).0;
    let k3 = derivative(models, sample, &combine(y, h, [k1, &k2], A3)).0;
    let k4 = derivative(models, sample, &combine(y, h, [k1, &k2, &k3], A4)).0;
    let k5 = derivative(models, sample, &combine(y, h, [k1, &k2, &k3, &k4], A5)).0;
    let k6 = derivative(models, sample, &combine(y, h, [k1, &k2, &k3, &k4, &k5], A6)).0;
    let mut end = *y;
    for c in 0..8 {
        let mut sum = k1[c] * R::splat(B[0]);
        sum = k3[c].mul_add(R::splat(B[1]), sum);
        sum = k4[c].mul_add(R::splat(B[2]), sum);
        sum = k5[c].mul_add(R::splat(B[3]), sum);
        sum = k6[c].mul_add(R::splat(B[4]), sum);
        end[c] = sum.mul_add(h, y[c]);
    }
    let (k7, felt) = derivative(models, sample, &end);
    let mut squares = [R::splat(0.0); 2];
    for c in 0..COUPLED {
        let mut sum = k1[c] * R::splat(E[0]);
        sum = k3[c].mul_add(R::splat(E[1]), sum);
        sum = k4[c].mul_add(R::splat(E[2]), sum);
        sum = k5[c].mul_add(R::splat(E[3]), sum);
        sum = k6[c].mul_add(R::splat(E[4]), sum);
        sum = k7[c].mul_add(R::splat(E[5]), sum);
        squares[c / 3] = sum.mul_add(sum, squares[c / 3]);
    }
    let per_position = R::splat(1.0 / (scale.position_m * scale.position_m));
    let per_velocity = R::splat(1.0 / (scale.velocity_m_s * scale.velocity_m_s));
    let worst = (squares[0] * per_position).max(squares[1] * per_velocity);
    Trial {
        y: end,
        k: k7,
        felt,
        error_squared: h * h * worst,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The order conditions on the weights: Σ b = 1, Σ b c = 1/2, Σ b c² = 1/3, Σ b c³ = 1/4, Σ b c⁴ = 1/5,
    /// row sums equal the nodes, and the embedded difference has no weight on lower orders.
    #[test]
    fn coefficients_meet_the_order_conditions() {
        let nodes = [0.0, 0.3, 0.8, 8.0 / 9.0, 1.0];
        for power in 0..5 {
            let sum: f64 = (0..5).map(|i| B[i] * f64::powi(nodes[i], power)).sum();
            assert!(
                (sum - 1.0 / f64::from(power + 1)).abs() < 1e-14,
                "{power} {sum}"
            );
        }
        for power in 0..4 {
            let sum: f64 = (0..5).map(|i| E[i] * f64::powi(nodes[i], power)).sum();
            assert!((sum + E[5]).abs() < 1e-14, "{power} {sum}");
        }
        assert!((A3.iter().sum::<f64>() - 0.3).abs() < 1e-15);
        assert!((A4.iter().sum::<f64>() - 0.8).abs() < 1e-14);
        assert!((A5.iter().sum::<f64>() - 8.0 / 9.0).abs() < 1e-14);
        assert!((A6.iter().sum::<f64>() - 1.0).abs() < 1e-14);
    }
}
