//! What the ship believes of the air: the ratio of measured to modelled drag, with a fading memory.

use crate::numeric::elementary::{exp, ln};

/// The natural log of the ratio, followed by a filter of the first order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DragRatio {
    ln_ratio: f64,
    memory_s: f64,
}

/// ln 20: a ratio beyond this is a broken instrument or a lost ship, not air.
const WIDEST: f64 = 3.0;

impl DragRatio {
    /// Nothing measured yet: the ratio is 1. `memory_s` is the time in which a measurement fades to 1/e, s,
    /// above 0.
    #[must_use]
    pub fn new(memory_s: f64) -> Self {
        Self {
            ln_ratio: 0.0,
            memory_s,
        }
    }

    /// Takes in what was measured and what the model says for the same moment (both m/s²), `span_s` seconds
    /// after the last. What is not a positive number is left out.
    pub fn note(&mut self, measured: f64, modelled: f64, span_s: f64) {
        if !(measured > 0.0 && modelled > 0.0 && modelled.is_finite()) {
            return;
        }
        let now = ln(measured / modelled);
        if !now.is_finite() {
            return;
        }
        let kept = exp((-span_s / self.memory_s).max(-100.0));
        let moved = kept.mul_add(self.ln_ratio - now, now);
        self.ln_ratio = moved.clamp(-WIDEST, WIDEST);
    }

    /// ln of the ratio, to be added to the ln of the modelled density.
    #[must_use]
    pub fn ln_ratio(&self) -> f64 {
        self.ln_ratio
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A step of the ratio is followed as 1 - exp(-t/memory), whatever the spacing of the measurements.
    #[test]
    fn a_step_is_followed_with_the_stated_memory() {
        for span in [0.5, 2.0, 10.0] {
            let mut ratio = DragRatio::new(20.0);
            let mut time = 0.0;
            while time < 19.999 {
                ratio.note(1.5, 1.0, span);
                time += span;
            }
            let expected = 1.5_f64.ln() * (1.0 - (-1.0_f64).exp());
            assert!((ratio.ln_ratio() - expected).abs() < 1e-12, "{span}");
        }
    }

    #[test]
    fn what_cannot_be_a_measurement_is_left_out_and_the_ratio_is_bounded() {
        let mut ratio = DragRatio::new(20.0);
        for (measured, modelled) in [
            (0.0, 1.0),
            (1.0, 0.0),
            (f64::NAN, 1.0),
            (1.0, f64::INFINITY),
        ] {
            ratio.note(measured, modelled, 2.0);
            assert_eq!(ratio.ln_ratio(), 0.0);
        }
        ratio.note(1e9, 1.0, 1e9);
        assert_eq!(ratio.ln_ratio(), WIDEST);
    }
}
