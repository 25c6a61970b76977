//! The nose of a ship along one pass: another one after its skirt was dropped.

use crate::ensemble::LimitSet;
use crate::pass::extremes::LogCubic;
use crate::pass::reference::Moment;

/// Times nearer than this to that of the drop are the drop itself, s: rounding.
const SAME_S: f64 = 1e-6;

/// The nose radius along a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nose {
    /// Radius at the start, m, above 0.
    pub radius_m: f64,
    /// When something was dropped (s since the start of the pass), and the radius from then on, m.
    pub after: Option<(f64, f64)>,
}

impl Nose {
    /// A nose that is kept, its radius in m.
    #[must_use]
    pub fn kept(radius_m: f64) -> Self {
        Self {
            radius_m,
            after: None,
        }
    }

    /// The nose of a ship with these limits and this radius (m) at the start, which dropped its skirt at a time (s).
    #[must_use]
    pub fn of(limits: &LimitSet, radius_m: f64, dropped_s: Option<f64>) -> Self {
        let after = |at_s: f64| (at_s, radius_m * limits.nose_after());
        Self {
            radius_m,
            after: dropped_s.map(after),
        }
    }

    /// Radius at a time since the start of the pass (s), m; at the moment of the drop still that before it.
    #[must_use]
    pub fn at(&self, time_s: f64) -> f64 {
        match self.after {
            Some((_, radius_m)) if self.is_after(time_s) => radius_m,
            _ => self.radius_m,
        }
    }

    fn is_after(&self, time_s: f64) -> bool {
        let dropped = self.after.map_or(f64::INFINITY, |(at_s, _)| at_s);
        time_s > dropped + SAME_S
    }

    /// Peak stagnation flux before and after the drop, W/m²; `None` for a nose that is kept.
    ///
    /// Between moments by the cubic in its logarithm; the step across the drop counts with its ends alone.
    #[must_use]
    pub fn peaks_w_m2(&self, history: &[Moment]) -> Option<[f64; 2]> {
        self.after?;
        let mut peaks = [0.0_f64; 2];
        let side = |moment: &Moment| usize::from(self.is_after(moment.time_s));
        for moment in history {
            let peak = &mut peaks[side(moment)];
            *peak = peak.max(moment.felt.heat_flux);
        }
        for pair in history.windows(2) {
            let (a, b) = (&pair[0], &pair[1]);
            if side(a) == side(b) && a.felt.heat_flux_log_rate > 0.0 {
                let inside = LogCubic::new(
                    (a.felt.heat_flux, b.felt.heat_flux),
                    (a.felt.heat_flux_log_rate, b.felt.heat_flux_log_rate),
                    b.time_s - a.time_s,
                );
                let peak = &mut peaks[side(a)];
                *peak = inside.extreme().map_or(*peak, |(_, top)| peak.max(top));
            }
        }
        Some(peaks)
    }
}
