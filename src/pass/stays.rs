//! How long a pass is above levels of sensed deceleration, followed step by step.

use super::dynamics::Felt;
use super::extremes::LogCubic;
use crate::numeric::elementary::ln;
use crate::numeric::quantity::Quantity;
use crate::numeric::root::bracketed_root;
use crate::scenario::limits::Limits;

/// A level above which the time is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// What of the time: one of [`Quantity::ABOVE_LEVELS`].
    pub of: Quantity,
    /// Its place among the levels of that quantity, below [`Limits::MAX_LEVELS`]; others are not measured.
    pub place: usize,
    /// Level, m/s².
    pub level_m_s2: f64,
}

const SLOTS: usize = Quantity::ABOVE_LEVELS.len() * Limits::MAX_LEVELS;

/// Times above the levels of a pass, s; 0 where none was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct TimesAbove([f64; SLOTS]);

fn slot(of: Quantity, place: usize) -> Option<usize> {
    let list = Quantity::ABOVE_LEVELS.iter().position(|one| *one == of)?;
    (place < Limits::MAX_LEVELS).then_some(list * Limits::MAX_LEVELS + place)
}

impl TimesAbove {
    /// The time of a level, s; `None` for what is no time above a level.
    #[must_use]
    pub fn get(&self, of: Quantity, place: usize) -> Option<f64> {
        Some(self.0[slot(of, place)?])
    }

    /// Those of an acceleration (m/s²) that is held in separate stretches of these durations (s).
    #[must_use]
    pub fn of_stretches(levels: &[Level], felt_m_s2: f64, durations_s: &[f64]) -> Self {
        let mut stays = Stays::default();
        for &duration_s in durations_s {
            for (stay, level) in stays.0.iter_mut().zip(levels) {
                if felt_m_s2 > level.level_m_s2 {
                    stay.add(duration_s);
                }
            }
        }
        stays.times(levels)
    }

    /// Those of two legs of one flight.
    #[must_use]
    pub(crate) fn joined(&self, after: &Self) -> Self {
        let mut sum = *self;
        for (sum, after) in sum.0.iter_mut().zip(&after.0) {
            *sum += after;
        }
        sum
    }
}

/// The stays of one flight above its levels.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Stays([Stay; SLOTS]);

impl Stays {
    /// Follows the stay above each level through a step of `h` seconds between two felt moments.
    pub(super) fn note(
        &mut self,
        levels: &[Level],
        (before, after): (&Felt<f64>, &Felt<f64>),
        h: f64,
    ) {
        let rates = (before.deceleration_log_rate, after.deceleration_log_rate);
        let ends = (before.deceleration, after.deceleration);
        for (stay, level) in self.0.iter_mut().zip(levels) {
            stay.note(|| LogCubic::new(ends, rates, h), ends, h, level);
        }
    }

    /// The times so far, those that still go on included.
    pub(super) fn times(&self, levels: &[Level]) -> TimesAbove {
        let mut times = TimesAbove::default();
        for (stay, level) in self.0.iter().zip(levels) {
            if let Some(slot) = slot(level.of, level.place) {
                times.0[slot] = stay.asked(level.of);
            }
        }
        times
    }
}

/// Stays above a level, followed step by step: the longest without a break, and all of them added up.
#[derive(Debug, Clone, Copy, Default)]
#[expect(clippy::struct_field_names, reason = "they are all times, in seconds")]
struct Stay {
    current_s: f64,
    longest_s: f64,
    /// All time so far, where that is asked for.
    total_s: f64,
}

impl Stay {
    /// Takes in a step of `step_s` seconds between the values `start` and `end`; `cubic` follows the
    /// quantity inside and is asked only where it is needed.
    fn note(
        &mut self,
        cubic: impl Fn() -> LogCubic,
        (start, end): (f64, f64),
        step_s: f64,
        level: &Level,
    ) {
        let (adds_up, level) = (level.of == Quantity::TotalAbove, level.level_m_s2);
        match (start > level, end > level) {
            (true, true) => {
                self.current_s += step_s;
                if adds_up {
                    self.total_s += step_s - dip_below(&cubic(), level) * step_s;
                }
            }
            (false, true) => {
                let place = cubic().crossing(level).unwrap_or(1.0);
                self.current_s = (1.0 - place) * step_s;
                self.total_s += self.current_s;
            }
            (true, false) => {
                let place = cubic().crossing(level).unwrap_or(0.0);
                self.current_s += place * step_s;
                self.longest_s = self.longest_s();
                self.current_s = 0.0;
                self.total_s += place * step_s;
            }
            (false, false) => {
                if let Some(hump) = cubic().hump_above(level) {
                    self.longest_s = self.longest_s.max(hump);
                    self.total_s += hump;
                }
            }
        }
    }

    /// Takes in a stretch that is above the level from its beginning to its end, parted from the others.
    fn add(&mut self, stretch_s: f64) {
        self.longest_s = self.longest_s.max(stretch_s);
        self.total_s += stretch_s;
    }

    /// What of it a level asks for, a stay that still goes on included, s.
    fn asked(&self, of: Quantity) -> f64 {
        match of {
            Quantity::TotalAbove => self.total_s,
            _ => self.longest_s(),
        }
    }

    /// The longest stay so far, one that still goes on included, s.
    fn longest_s(&self) -> f64 {
        self.longest_s.max(self.current_s)
    }
}

/// The share of a step, with both ends above a level, in which a low inside lies below it.
fn dip_below(cubic: &LogCubic, level: f64) -> f64 {
    let (falls, rises) = (
        cubic.log_and_slope(0.0).1 < 0.0,
        cubic.log_and_slope(1.0).1 > 0.0,
    );
    let low = cubic
        .extreme()
        .filter(|(_, low)| falls && rises && *low < level);
    let parts = low.and_then(|(place, _)| {
        let above = |at: f64| cubic.log_and_slope(at).0 - ln(level);
        let down = bracketed_root(above, 0.0, place, 1e-9)?;
        Some(bracketed_root(above, place, 1.0, 1e-9)? - down)
    });
    parts.unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::super::extremes::tests::{bell, step};
    use super::*;

    #[test]
    fn a_stay_above_a_level_is_measured_across_steps_and_inside_one() {
        let expected = 40.0 * (2.0 * 2.0_f64.ln()).sqrt();
        let level = Level {
            of: Quantity::TotalAbove,
            place: 0,
            level_m_s2: 1.5,
        };
        let mut stay = Stay::default();
        for i in 0..20 {
            let (from, to) = (-70.0 + 7.0 * f64::from(i), -63.0 + 7.0 * f64::from(i));
            stay.note(|| step(from, to), (bell(from).0, bell(to).0), 7.0, &level);
        }
        assert!((stay.longest_s() - expected).abs() < 1e-6);
        assert!((stay.asked(level.of) - expected).abs() < 1e-6);
        let mut whole = Stay::default();
        whole.note(
            || step(-30.0, 35.0),
            (bell(-30.0).0, bell(35.0).0),
            65.0,
            &level,
        );
        assert!((whole.longest_s() - expected).abs() < 1e-6);
    }

    /// A low inside one step is left out; where it stays above the level the step counts whole.
    #[test]
    fn a_low_inside_a_step_is_no_time_above() {
        // ln y = t² from -1 to 1: above 1.5 where |t| > √(ln 1.5).
        let e = std::f64::consts::E;
        let dip = || LogCubic::new((e, e), (-2.0, 2.0), 2.0);
        for (level, expected) in [(1.5, 2.0 - 2.0 * 1.5_f64.ln().sqrt()), (0.9, 2.0)] {
            let level = Level {
                of: Quantity::TotalAbove,
                place: 0,
                level_m_s2: level,
            };
            let mut stay = Stay::default();
            stay.note(dip, (e, e), 2.0, &level);
            assert!((stay.asked(level.of) - expected).abs() < 1e-6);
        }
    }
}
