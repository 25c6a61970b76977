//! The heat flux into a surface along a pass: points in time, and what is between them.

use crate::numeric::root::hermite;

/// The heat flux into a surface at a moment, before re-radiation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FluxPoint {
    /// Time since the start of the pass, s.
    pub time_s: f64,
    /// Flux, W/m², 0 or more.
    pub flux_w_m2: f64,
    /// d ln(flux)/dt, 1/s.
    pub log_rate_per_s: f64,
}

impl FluxPoint {
    /// A pulse with this peak (W/m²) and load (J/m²), for passes of which nothing else is known:
    /// q exp(-t²/2s²) with s = load/(q √2π), from 5 s before its peak to 5 s after it.
    ///
    /// Most passes have nearly this form: peak temperatures of walls are within 2 % (K) of those of the flown
    /// flux, for a steep entry and for a capture alike. Empty where peak or load is not above 0.
    #[must_use]
    pub fn pulse(peak_w_m2: f64, load_j_m2: f64) -> Vec<Self> {
        const STEPS: u32 = 200;
        let width = load_j_m2 / (peak_w_m2 * (2.0 * std::f64::consts::PI).sqrt());
        if !(width > 0.0 && width.is_finite() && peak_w_m2 > 0.0) {
            return Vec::new();
        }
        let point = |step: u32| {
            let at = 10.0 * f64::from(step) / f64::from(STEPS) - 5.0;
            Self {
                time_s: (at + 5.0) * width,
                flux_w_m2: peak_w_m2 * libm::exp(-0.5 * at * at),
                log_rate_per_s: -at / width,
            }
        };
        (0..=STEPS).map(point).collect()
    }
}

/// Largest change of the flux within a step, over the peak of the pass.
const FLUX_STEP: f64 = 0.04;
/// Largest departure of the flux from a straight line within a step, over the peak of the pass.
const FLUX_BEND: f64 = 1e-4;
/// Longest step along a flux, s.
const LONGEST_STEP_S: f64 = 1.0;

/// First step of a time without flux, s, and the growth from step to step.
const FIRST_REST_S: f64 = 0.25;
const REST_GROWTH: f64 = 1.04;

/// Lengths of the steps, s, by which a time without flux is gone through; their sum is `duration_s`.
pub(super) fn rest_steps(duration_s: f64) -> Vec<f64> {
    let (mut steps, mut length, mut left) = (Vec::new(), FIRST_REST_S, duration_s);
    while left > 0.0 {
        let step = if left < 1.5 * length { left } else { length };
        steps.push(step);
        left -= step;
        length *= REST_GROWTH;
    }
    steps
}

/// The flux between two points of a pass.
pub(super) struct Between {
    pub(super) length_s: f64,
    /// How many steps are short enough for the flux to be straight in each.
    pub(super) steps: u32,
    from: FluxPoint,
    to: FluxPoint,
    /// Logarithms of the fluxes, where both are above 0.
    logs: Option<(f64, f64)>,
}

impl Between {
    pub(super) fn new(from: FluxPoint, to: FluxPoint, peak_w_m2: f64) -> Self {
        let length_s = (to.time_s - from.time_s).max(0.0);
        let positive = from.flux_w_m2 > 0.0 && to.flux_w_m2 > 0.0;
        let rates = (from.log_rate_per_s, to.log_rate_per_s);
        let smooth = positive && rates.0.is_finite() && rates.1.is_finite();
        let logs = smooth.then(|| (from.flux_w_m2.ln(), to.flux_w_m2.ln()));
        let by_flux = logs.map_or(0.0, |(a, b)| {
            let share = from.flux_w_m2.max(to.flux_w_m2) / peak_w_m2;
            let fastest = (b - a)
                .abs()
                .max(rates.0.abs().max(rates.1.abs()) * length_s);
            let bend = fastest * fastest + (rates.1 - rates.0).abs() * length_s;
            (share * fastest / FLUX_STEP).max((share * bend / (8.0 * FLUX_BEND)).sqrt())
        });
        let wanted = by_flux.max(length_s / LONGEST_STEP_S).ceil();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "between 1 and 10 000"
        )]
        let steps = wanted.clamp(1.0, 10_000.0) as u32;
        Self {
            length_s,
            steps,
            from,
            to,
            logs,
        }
    }

    /// Flux after this part of the time between the points.
    pub(super) fn flux_w_m2(&self, part: f64) -> f64 {
        let Some((a, b)) = self.logs else {
            return (self.to.flux_w_m2 - self.from.flux_w_m2).mul_add(part, self.from.flux_w_m2);
        };
        let slope = |point: &FluxPoint| point.log_rate_per_s * self.length_s;
        libm::exp(hermite(a, slope(&self.from), b, slope(&self.to), part))
    }
}
