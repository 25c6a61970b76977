//! How hard a pass was on a limit, as a number that rises with severity and runs smoothly with the aim,
//! so that a few aims tell of all those between.

use crate::ensemble::limits::measured;
use crate::ensemble::problem::Numbers;
use crate::ensemble::{LimitKind, LimitSet};
use crate::numeric::elementary::ln;
use crate::pass::{Ending, PassResult};
use crate::scenario::limits;
use crate::scenario::uncertainty::Number;

/// In which form severity is kept. A limit is broken where the severity is above that of its allowed value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Form {
    /// Severity is ln of the value in SI units.
    Log,
    /// Severity is the value with its sign turned: less is worse.
    Turned,
    /// Severity is −1/(value + this radius, m), which runs on smoothly from closed orbits to hyperbolas.
    InverseRadius(f64),
    /// Severity is 1/(value + this radius, m): the same for a value that may not be too low.
    TurnedInverseRadius(f64),
    /// Severity s is a stay, s; below 0 where the level was not reached at all. What runs smoothly is s·|s|.
    SignedRoot,
}

impl Form {
    /// Severity of a value, SI units.
    #[must_use]
    pub fn severity(self, value: f64) -> f64 {
        match self {
            Self::Log => ln(value.max(f64::MIN_POSITIVE)),
            Self::Turned => -value,
            Self::InverseRadius(radius_m) => -1.0 / (value + radius_m),
            Self::TurnedInverseRadius(radius_m) => 1.0 / (value + radius_m),
            Self::SignedRoot => value,
        }
    }
}

/// One limit as it is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gauge {
    /// The limit.
    pub kind: LimitKind,
    /// Its allowed value, SI units.
    pub allowed: f64,
    /// In which form its severity is kept.
    pub form: Form,
    /// Where this limit is uncertain: its number. A sample is then judged in proportion.
    uncertain: Option<Number>,
    /// Of a time above a level that level, m/s².
    level_m_s2: Option<f64>,
}

/// What a stay tells of a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Stay {
    /// Longest stay above the level, s, and the share of the peak that lies above it.
    Above(f64, f64),
    /// Level over peak, less 1, for a peak below the level; at most 1.
    Below(f64),
}

impl Stay {
    fn of(longest_s: f64, level: f64, peak: f64) -> Self {
        if longest_s > 0.0 && peak > level {
            Self::Above(longest_s, 1.0 - level / peak)
        } else {
            Self::Below((level / peak.max(f64::MIN_POSITIVE) - 1.0).clamp(0.0, 1.0))
        }
    }

    /// The stay, or how far it is from beginning. Near its peak a deceleration falls off as a parabola, so that
    /// the square of the stay is in proportion to what of the peak lies above the level: `square_s2` times
    /// it, and so on below.
    pub(super) fn signed(self, square_s2: f64) -> f64 {
        match self {
            Self::Above(stay, _) => stay,
            Self::Below(short) => -(square_s2 * short).sqrt(),
        }
    }
}

impl Gauge {
    /// The gauges of all limits that have an allowed value to move, in the order of the limit set, with
    /// their places in it.
    #[must_use]
    pub fn of(limits: &LimitSet, equatorial_radius_m: f64) -> Vec<(usize, Self)> {
        let entries = limits.entries().iter().enumerate();
        entries
            .filter_map(|(place, limit)| {
                let form = match limit.kind.spec().form {
                    limits::Form::Most => Form::Log,
                    limits::Form::MostTime => Form::SignedRoot,
                    limits::Form::Least => Form::Turned,
                    limits::Form::CapturedMost => Form::InverseRadius(equatorial_radius_m),
                    limits::Form::CapturedLeast => Form::TurnedInverseRadius(equatorial_radius_m),
                    limits::Form::LeavesAir | limits::Form::ComesDown => return None,
                };
                let gauge = Self {
                    kind: limit.kind,
                    allowed: limit.allowed,
                    form,
                    uncertain: limit.kind.spec().number,
                    level_m_s2: limit.level_m_s2,
                };
                Some((place, gauge))
            })
            .collect()
    }

    /// Whether it is about the orbit after the pass, of which a pass that stays in the air has none: it breaks no such
    /// limit.
    #[must_use]
    pub fn is_of_the_orbit(&self) -> bool {
        self.kind.spec().form.is_of_the_orbit()
    }

    /// Severity of the allowed value.
    #[must_use]
    pub fn threshold(&self) -> f64 {
        self.form.severity(self.allowed)
    }

    /// Severity of a pass; for stays see [`Gauge::stay`].
    pub(super) fn severity(
        &self,
        limits: &LimitSet,
        pass: &PassResult,
        numbers: &Numbers,
    ) -> Option<f64> {
        if self.is_of_the_orbit() && pass.ending == Ending::Escaped {
            // −1/r of the apoapsis, r running through infinity to beyond.
            let orbit = &pass.orbit;
            let gm_r = orbit.periapsis_radius_m * (1.0 + orbit.eccentricity);
            let beyond = (orbit.eccentricity - 1.0) / gm_r;
            let too_low = self.kind.spec().form.is_least();
            return Some(if too_low { -beyond } else { beyond });
        }
        let nose_radius_m = || numbers[Number::NoseRadius as usize];
        let value = limits.value(self.kind, pass, nose_radius_m)?;
        // An allowed value of its own is drawn to the one all share.
        let share = self
            .uncertain
            .map_or(1.0, |number| self.allowed / numbers[number as usize]);
        Some(self.form.severity(value * share))
    }

    /// The stay that this gauge measures, of a gauge of stays.
    pub(super) fn stay(&self, pass: &PassResult) -> Option<Stay> {
        let (level, stay_s) = (self.level_m_s2?, measured(self.kind, pass)?);
        Some(Stay::of(stay_s, level, pass.peak_deceleration_m_s2))
    }

    /// Whether the severity comes of stays.
    pub(super) fn is_of_stays(&self) -> bool {
        self.form == Form::SignedRoot
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pass::orbit::Orbit;

    #[test]
    fn the_form_of_an_apoapsis_runs_on_through_escape() {
        let gauge = Gauge {
            kind: LimitKind::CapturedBelow,
            allowed: 1e8,
            form: Form::InverseRadius(3.4e6),
            uncertain: None,
            level_m_s2: None,
        };
        let limits = LimitSet::default();
        let at = |eccentricity: f64| {
            let periapsis = 3.45e6;
            let orbit = Orbit {
                twice_energy: 4.28e13 * (eccentricity - 1.0) / periapsis,
                periapsis_radius_m: periapsis,
                eccentricity,
                inclination_rad: 0.0,
            };
            let apoapsis = orbit.apoapsis_radius_m(4.28e13).map(|r| r - 3.4e6);
            let pass = PassResult {
                ending: if apoapsis.is_some() {
                    Ending::Captured
                } else {
                    Ending::Escaped
                },
                apoapsis_altitude_m: apoapsis,
                orbit,
                ..PassResult::default()
            };
            gauge
                .severity(&limits, &pass, &[1.0; Number::COUNT])
                .expect("a severity")
        };
        // An apoapsis at infinity is 0; on either side the same slope.
        let (below, above) = (at(1.0 - 1e-6), at(1.0 + 1e-6));
        assert!(below < 0.0 && above > 0.0);
        assert!((below + above).abs() < 1e-5 * above, "{below} {above}");
        assert!(at(0.9) < gauge.threshold() && at(1.1) > gauge.threshold());
    }

    #[test]
    fn a_stay_that_did_not_begin_lies_below_zero() {
        assert_eq!(Stay::of(12.0, 9.0, 10.0).signed(4.0), 12.0);
        let short = Stay::of(0.0, 10.0, 8.0).signed(400.0);
        assert!((short + (400.0_f64 * 0.25).sqrt()).abs() < 1e-12, "{short}");
        assert_eq!(Stay::of(0.0, 10.0, 0.0).signed(400.0), -20.0);
    }
}
