//! How far a pass is beyond a limit, as a number that rises with severity: 0 or more where the limit is broken.
//! A search for rare accidents climbs along it. What breaks a limit is left to the limit set.

use super::coordinates::FlownPlace;
use super::limits::{Limit, LimitSet};
use super::problem::Problem;
use crate::numeric::elementary::ln;
use crate::pass::{Ending, PassResult};
use crate::scenario::limits::Form;
use crate::scenario::uncertainty::Number;

/// What is said of a pass that is as far from the limit as one can be.
const FARTHEST: f64 = 1e3;

/// Measures passes against the limits of a problem.
#[derive(Debug, Clone, Copy)]
pub struct Margins<'p> {
    limits: &'p LimitSet,
    radius_m: f64,
    interface_m: f64,
}

impl<'p> Margins<'p> {
    /// The margins of a problem's limits.
    #[must_use]
    pub fn new(problem: &'p Problem) -> Self {
        Self {
            limits: problem.limits(),
            radius_m: problem.planet().equatorial_radius_m,
            interface_m: problem.planet().interface_m,
        }
    }

    /// How far a pass is beyond the limit at this place of the limit set: at least 0 exactly where it is broken, and
    /// as far as can be where it was not flown to an end, so that no search passes it by as mild.
    #[must_use]
    pub fn of(&self, place: usize, flown: &FlownPlace) -> f64 {
        let Some(limit) = self.limits.entries().get(place) else {
            return -FARTHEST;
        };
        if !flown.result.ending.is_flown() {
            return FARTHEST;
        }
        let margin = self.raw(limit, flown);
        let margin = if margin.is_nan() { -FARTHEST } else { margin };
        if flown.broken >> place & 1 == 1 {
            margin.clamp(0.0, FARTHEST)
        } else {
            margin.clamp(-FARTHEST, -f64::MIN_POSITIVE)
        }
    }

    fn raw(&self, limit: &Limit, flown: &FlownPlace) -> f64 {
        let pass = &flown.result;
        let nose_radius_m = || flown.numbers[Number::NoseRadius as usize];
        let value = || self.limits.value(limit.kind, pass, nose_radius_m);
        match limit.kind.spec().form {
            Form::Most => value().map_or(-FARTHEST, |value| {
                log_ratio(value, limit.drawn(&flown.numbers))
            }),
            Form::MostTime => time_above(limit, value().unwrap_or(0.0), pass),
            Form::Least => value().map_or(-FARTHEST, |value| {
                (limit.allowed - value) / self.interface_m
            }),
            Form::CapturedMost => self.energy(pass) - self.closeness(limit.allowed),
            Form::CapturedLeast if comes_down(pass) => -FARTHEST,
            Form::CapturedLeast => self.closeness(limit.allowed) - self.energy(pass),
            Form::LeavesAir => self.closeness(self.interface_m) - self.energy(pass),
            // The shallower a descent, the longer it lasts: the next is one that leaves again. (Its peak would mislead:
            // one that skips and falls back is braked harder.)
            Form::ComesDown => ln(1.0 + pass.duration_s.max(0.0)) - FARTHEST,
        }
    }

    /// Minus the planet's radius over that of an apoapsis at this altitude (m): rises with the apoapsis.
    fn closeness(&self, apoapsis_altitude_m: f64) -> f64 {
        -self.radius_m / (self.radius_m + apoapsis_altitude_m)
    }

    /// The same of a pass: beyond 0 for a hyperbola; for a ship that came down, that of an apoapsis at the ground.
    fn energy(&self, pass: &PassResult) -> f64 {
        if comes_down(pass) {
            return -1.0;
        }
        if let Some(altitude) = pass.apoapsis_altitude_m {
            return self.closeness(altitude);
        }
        let orbit = &pass.orbit;
        let semi_latus_m = orbit.periapsis_radius_m * (1.0 + orbit.eccentricity);
        (orbit.eccentricity - 1.0) * self.radius_m / semi_latus_m
    }
}

/// Of a time above a level (s): its share of the allowed one, less 1; where the level was not reached, what the peak
/// lacks as well.
fn time_above(limit: &Limit, time_s: f64, pass: &PassResult) -> f64 {
    /// A time that may not be at all is held against this, s.
    const SHORTEST: f64 = 1e-3;
    if time_s > 0.0 {
        return time_s / limit.allowed.max(SHORTEST) - 1.0;
    }
    let level_m_s2 = limit.level_m_s2;
    let short = level_m_s2.map_or(-1.0, |level| pass.peak_deceleration_m_s2 / level - 1.0);
    short.min(0.0) - 1.0
}

fn comes_down(pass: &PassResult) -> bool {
    matches!(pass.ending, Ending::Landed | Ending::OutOfTime)
}

fn log_ratio(value: f64, allowed: f64) -> f64 {
    ln(value.max(f64::MIN_POSITIVE)) - ln(allowed.max(f64::MIN_POSITIVE))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ensemble::{Fleet, LimitKind, Progress};
    use crate::scenario::{STARTER, Scenario};
    use crate::world::World;

    /// Before it is clamped the margin has the sign of the limit, over aims at which some samples break each limit
    /// and some do not; and it rises and falls from sample to sample, so that there is something to climb.
    #[test]
    fn margins_have_the_sign_of_their_limits() {
        let text = STARTER
            .replace("  # captured_above:", "  captured_above:")
            .replace("  # people:", "  people:")
            .replace("  # lowest_altitude: 35 km", "  lowest_altitude: 42 km")
            .replace("  # spots:", "  spots:")
            .replace("  #   - name: panel", "    - name: panel")
            .replace("  #     share: 40 %", "      share: 40 %")
            .replace(
                "  #     highest_temperature: 900 K",
                "      highest_temperature: 1000 K",
            );
        let landing = STARTER
            .replace("  captured_below:", "  # captured_below:")
            .replace("  # comes_down: yes", "  comes_down: yes");
        for text in [text, landing] {
            let scenario = Scenario::from_text("x.yaml", &text).unwrap();
            let world = World::bundled(&scenario.world).unwrap();
            let problem = Problem::new(&scenario, &world).unwrap();
            let margins = Margins::new(&problem);
            let limits = problem.limits().entries();
            let progress = Progress::default();
            let fleet = Fleet::new(&problem, &progress);
            let mut seen = vec![[false; 2]; limits.len()];
            for aim_m in [38e3, 42e3, 46e3, 49e3, 51e3, 53e3, 58e3] {
                fleet
                    .fly(&[aim_m], 0..64, |sample| {
                        let flown = FlownPlace {
                            result: sample.result,
                            numbers: problem.judging_numbers(sample.sample),
                            broken: sample.broken,
                        };
                        for (place, limit) in limits.iter().enumerate() {
                            let broken = sample.broken >> place & 1 == 1;
                            seen[place][usize::from(broken)] = true;
                            // That a descent is broken off shows only where it is.
                            let raw = margins.raw(limit, &flown);
                            // An interface over a flattened body lies lower away from the equator (Mars: 0.006).
                            let close = limit.kind == LimitKind::LeavesAir && raw.abs() < 6e-3;
                            if limit.kind != LimitKind::ComesDown && !close {
                                assert_eq!(raw > 0.0, broken, "{:?} at {aim_m}: {raw}", limit.kind);
                            }
                            assert_eq!(margins.of(place, &flown) >= 0.0, broken);
                        }
                    })
                    .unwrap();
            }
            let unseen = limits
                .iter()
                .zip(&seen)
                .filter(|(_, seen)| **seen != [true; 2]);
            // These have the form of the peak deceleration, and the starter's ship never breaks them.
            let alike = [
                LimitKind::Onset,
                LimitKind::HeatFlux,
                LimitKind::HeatLoad,
                LimitKind::DynamicPressure,
            ];
            let unseen = unseen.map(|(limit, _)| limit.kind);
            let unseen: Vec<LimitKind> = unseen.filter(|kind| !alike.contains(kind)).collect();
            assert!(unseen.is_empty(), "never both held and broken: {unseen:?}");
        }
    }
}
