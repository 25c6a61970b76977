//! Peaks, lows and level crossings between the ends of a step.
//!
//! A quantity that is known with its log rate at both ends of a step is followed by the cubic in its
//! logarithm: exact for the bell-shaped pulse of a pass, and far inside 0.1 % at the steps taken.

use super::dynamics::Felt;
use crate::numeric::elementary::{exp, ln};
use crate::numeric::root::{
    bracketed_root, hermite, hermite_crossing, hermite_extreme, quadratic_roots,
};

/// A positive quantity over one step.
#[derive(Debug, Clone, Copy)]
pub struct LogCubic {
    y0: f64,
    y1: f64,
    d0: f64,
    d1: f64,
    step_s: f64,
}

impl LogCubic {
    /// From the values at both ends (above 0), their log rates (1/s) and the length of the step (s).
    #[inline(always)]
    #[must_use]
    pub fn new(values: (f64, f64), log_rates: (f64, f64), step_s: f64) -> Self {
        let tiny = f64::MIN_POSITIVE;
        Self {
            y0: ln(values.0.max(tiny)),
            y1: ln(values.1.max(tiny)),
            d0: log_rates.0 * step_s,
            d1: log_rates.1 * step_s,
            step_s,
        }
    }

    /// The logarithms at both ends.
    #[inline(always)]
    #[must_use]
    pub fn logs(&self) -> (f64, f64) {
        (self.y0, self.y1)
    }

    /// The logarithm at a place in [0, 1] of the step, and its slope with the place.
    #[inline(always)]
    #[must_use]
    pub fn log_and_slope(&self, place: f64) -> (f64, f64) {
        let (c2, c3) = self.upper();
        let slope = self.d0 + place * (2.0 * c2 + place * 3.0 * c3);
        (
            self.y0 + place * (self.d0 + place * (c2 + place * c3)),
            slope,
        )
    }

    /// The places at which the cubic turns, wherever they are, the lower first; not finite where there are none.
    #[inline(always)]
    #[must_use]
    pub fn turns(&self) -> [f64; 2] {
        let (c2, c3) = self.upper();
        quadratic_roots(3.0 * c3, 2.0 * c2, self.d0)
    }

    /// The coefficients of the square and the cube of the place.
    #[inline(always)]
    fn upper(&self) -> (f64, f64) {
        let rise = self.y1 - self.y0;
        (
            3.0 * rise - 2.0 * self.d0 - self.d1,
            self.d0 + self.d1 - 2.0 * rise,
        )
    }

    /// The value at a place in [0, 1] of the step.
    #[inline(always)]
    #[must_use]
    pub fn value(&self, place: f64) -> f64 {
        exp(hermite(self.y0, self.d0, self.y1, self.d1, place))
    }

    /// Place and value of the inner extreme, when the rate changes sign between the ends.
    #[inline(always)]
    #[must_use]
    pub fn extreme(&self) -> Option<(f64, f64)> {
        let place = hermite_extreme(self.y0, self.d0, self.y1, self.d1)?;
        Some((place, self.value(place)))
    }

    /// The highest rate of rise inside the step (units of the value per second), where it has an inner maximum.
    #[inline(always)]
    #[must_use]
    pub fn steepest_rise(&self) -> Option<f64> {
        // With y the logarithm and y' its slope, the rise is steepest where y'' + y'² = 0.
        let rise = self.y1 - self.y0;
        let c2 = 3.0 * rise - 2.0 * self.d0 - self.d1;
        let c3 = self.d0 + self.d1 - 2.0 * rise;
        let slope = |t: f64| self.d0 + t * (2.0 * c2 + t * 3.0 * c3);
        let excess = |t: f64| 2.0 * c2 + t * 6.0 * c3 + slope(t) * slope(t);
        let (mut low, mut high) = (0.0, 1.0);
        if !(excess(low) > 0.0 && excess(high) < 0.0) {
            return None;
        }
        // The rise is flat there: a thousandth of a step is a millionth of the rise.
        let mut place = 0.5;
        for _ in 0..12 {
            if excess(place) > 0.0 {
                low = place;
            } else {
                high = place;
            }
            let turn = 6.0 * c3 + 2.0 * slope(place) * (2.0 * c2 + 6.0 * c3 * place);
            let newton = place - excess(place) / turn;
            let next = if newton > low && newton < high {
                newton
            } else {
                0.5 * (low + high)
            };
            if (next - place).abs() < 1e-4 {
                place = next;
                break;
            }
            place = next;
        }
        Some(self.value(place) * slope(place) / self.step_s)
    }

    /// The place where the value passes `level`, when the ends lie on either side of it.
    #[must_use]
    pub fn crossing(&self, level: f64) -> Option<f64> {
        hermite_crossing(self.y0, self.d0, self.y1, self.d1, ln(level))
    }

    /// Time above `level` before and after an inner peak that tops it while both ends are below, s.
    #[must_use]
    pub fn hump_above(&self, level: f64) -> Option<f64> {
        let (peak_place, peak) = self.extreme()?;
        if peak <= level {
            return None;
        }
        let y = |t: f64| hermite(self.y0, self.d0, self.y1, self.d1, t) - ln(level);
        let up = bracketed_root(y, 0.0, peak_place, 1e-9)?;
        let down = bracketed_root(y, peak_place, 1.0, 1e-9)?;
        Some((down - up) * self.step_s)
    }
}

/// The extremes inside one step.
#[derive(Debug, Clone, Copy)]
pub struct Inside {
    /// Peak sensed deceleration, m/s²; 0 where it has none inside. So the others.
    pub deceleration: f64,
    /// Steepest rise of the deceleration, m/s³.
    pub rise: f64,
    /// Peak heat flux, W/m².
    pub heat_flux: f64,
    /// Peak dynamic pressure, Pa.
    pub pressure: f64,
    /// Lowest altitude, m; infinite where the altitude has no low inside.
    pub lowest: f64,
}

/// Looks for extremes inside a step of `h` seconds between two felt moments.
// The dispatch that the macro writes needs one unsafe call of a function whose instructions were just detected.
#[allow(unsafe_code)]
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
pub fn look_inside(before: &Felt<f64>, after: &Felt<f64>, h: f64) -> Inside {
    let mut inside = Inside {
        deceleration: 0.0,
        rise: 0.0,
        heat_flux: 0.0,
        pressure: 0.0,
        lowest: f64::INFINITY,
    };
    let rates = (before.deceleration_log_rate, after.deceleration_log_rate);
    if rates.0 > 0.0 {
        let felt = LogCubic::new((before.deceleration, after.deceleration), rates, h);
        inside.rise = felt.steepest_rise().unwrap_or(0.0);
        if rates.1 <= 0.0 {
            inside.deceleration = felt.extreme().map_or(0.0, |(_, peak)| peak);
        }
    }
    let rates = (
        before.dynamic_pressure_log_rate,
        after.dynamic_pressure_log_rate,
    );
    if rates.0 > 0.0 && rates.1 <= 0.0 {
        let ends = (before.dynamic_pressure, after.dynamic_pressure);
        let pressure = LogCubic::new(ends, rates, h);
        inside.pressure = pressure.extreme().map_or(0.0, |(_, peak)| peak);
    }
    let heat_rates = (before.heat_flux_log_rate, after.heat_flux_log_rate);
    if heat_rates.0 > 0.0 && heat_rates.1 <= 0.0 {
        let heat = LogCubic::new((before.heat_flux, after.heat_flux), heat_rates, h);
        inside.heat_flux = heat.extreme().map_or(0.0, |(_, peak)| peak);
    }
    if before.altitude_rate < 0.0 && after.altitude_rate >= 0.0 {
        let (d0, d1) = (before.altitude_rate * h, after.altitude_rate * h);
        if let Some(place) = hermite_extreme(before.altitude, d0, after.altitude, d1) {
            inside.lowest = hermite(before.altitude, d0, after.altitude, d1, place);
        }
    }
    inside
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// A bell curve 3 exp(-(t/20)²/2): peak 3 at 0; steepest rise 3/(20 √e) at t = -20; above 1.5 for
    /// 2·20·√(2 ln 2) s.
    pub(in crate::pass) fn bell(t: f64) -> (f64, f64) {
        (3.0 * (-t * t / 800.0).exp(), -t / 400.0)
    }

    /// The cubic through a step along it.
    pub(in crate::pass) fn step(from: f64, to: f64) -> LogCubic {
        let ((a, da), (b, db)) = (bell(from), bell(to));
        LogCubic::new((a, b), (da, db), to - from)
    }

    #[test]
    fn the_peak_and_steepest_rise_of_a_bell_are_found_between_steps() {
        let (place, peak) = step(-3.0, 5.0).extreme().expect("peak inside");
        assert!((peak / 3.0 - 1.0).abs() < 1e-12 && (place - 0.375).abs() < 1e-9);
        let rise = step(-26.0, -17.0).steepest_rise().expect("inside");
        assert!((rise / (3.0 / (20.0 * 0.5_f64.exp())) - 1.0).abs() < 1e-9);
        assert!(step(-60.0, -40.0).steepest_rise().is_none());
    }
}
