//! The equations of a wall's nodes: how heat flows into them, and the temperatures that satisfy a step.
//! Steps of time are put together in `slab`.

use super::slab::Slab;

impl Slab {
    /// Net radiation of front and back, W/m², each with its slope with the surface's temperature.
    pub(super) fn radiation(&self, temperatures: &[f64]) -> [(f64, f64); 2] {
        let last = temperatures[temperatures.len() - 1];
        let back = self.back.map_or((0.0, 0.0), |back| back.net(last));
        [self.front.net(temperatures[0]), back]
    }

    /// Heat that flows into each node, W/m².
    pub(super) fn inflow(&self, temperatures: &[f64], flux_w_m2: f64) -> Vec<f64> {
        let mut inflow = vec![0.0; temperatures.len()];
        for (i, conductance) in self.conductance.iter().enumerate() {
            let flow = conductance * (temperatures[i] - temperatures[i + 1]);
            inflow[i] -= flow;
            inflow[i + 1] += flow;
        }
        let [front, back] = self.radiation(temperatures);
        inflow[0] += flux_w_m2 - front.0;
        inflow[temperatures.len() - 1] -= back.0;
        inflow
    }

    /// Heat of each node with what the known part of a step adds, J/m².
    pub(super) fn held(&self, temperatures: &[f64], weight: f64, inflows: &[&[f64]]) -> Vec<f64> {
        let held = |i: usize| {
            let inflow: f64 = inflows.iter().map(|inflow| inflow[i]).sum();
            self.capacity[i].mul_add(temperatures[i], weight * inflow)
        };
        (0..temperatures.len()).map(held).collect()
    }

    /// Temperatures T with capacity · T = held + weight · inflow(T, flux), by Newton's method; the
    /// error left is the square of the last correction, so that only rounding remains.
    pub(super) fn solve(
        &self,
        guess: &[f64],
        held: &[f64],
        (weight, flux): (f64, f64),
    ) -> Option<Vec<f64>> {
        let mut t = guess.to_vec();
        for _ in 0..40 {
            let inflow = self.inflow(&t, flux);
            let excess = |i: usize| weight.mul_add(inflow[i], held[i]) - self.capacity[i] * t[i];
            let correction = self.newton_step(&t, weight, (0..t.len()).map(excess).collect());
            let (mut worst, mut hottest) = (0.0_f64, 0.0_f64);
            for (t, correction) in t.iter_mut().zip(&correction) {
                *t += correction;
                worst = worst.max(correction.abs());
                hottest = hottest.max(t.abs());
            }
            if !(worst.is_finite() && hottest.is_finite()) {
                return None;
            }
            if worst <= 1e-10 * hottest {
                return t.iter().all(|t| *t >= 0.0).then_some(t);
            }
        }
        None
    }

    /// The linear equations of one of Newton's steps, tridiagonal, by elimination.
    fn newton_step(&self, t: &[f64], weight: f64, mut right: Vec<f64>) -> Vec<f64> {
        let last = t.len() - 1;
        let [front, back] = self.radiation(t);
        let off = |i: usize| -weight * self.conductance[i];
        let mut diagonal = self.capacity.clone();
        diagonal[0] += weight * front.1;
        diagonal[last] += weight * back.1;
        for i in 0..last {
            diagonal[i] -= off(i);
            diagonal[i + 1] -= off(i);
        }
        for i in 0..last {
            let factor = off(i) / diagonal[i];
            diagonal[i + 1] -= factor * off(i);
            right[i + 1] -= factor * right[i];
        }
        right[last] /= diagonal[last];
        for i in (0..last).rev() {
            right[i] = (right[i] - off(i) * right[i + 1]) / diagonal[i];
        }
        right
    }
}
