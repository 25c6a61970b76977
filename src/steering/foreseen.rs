//! The flight that a prediction follows: bank angles held one after the other, and the rolls between them.
//!
//! A roll is foreseen as the mean of the lift over its sweep, for the time that it takes.

use super::motion::Agility;
use crate::numeric::angle::wrapped;

/// A stretch of the flight: to when, and the shares of the lift that point up and to the right.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Part {
    /// Its end, s after the moment of the prediction.
    pub until_s: f64,
    /// Share of the lift that points up.
    pub up: f64,
    /// Share of the lift that points to the right.
    pub right: f64,
}

/// Most parts: three rolls and what is held between them.
const MOST: usize = 6;

/// The parts of a flight, in order; the last goes on to the end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Foreseen {
    parts: [Part; MOST],
    count: usize,
}

impl Foreseen {
    /// One bank held to the end.
    #[must_use]
    pub fn held(cosine: f64, sine: f64) -> Self {
        let mut held = Self {
            parts: [Part::default(); MOST],
            count: 0,
        };
        held.stay(f64::INFINITY, (cosine, sine));
        held
    }

    /// From `bank_rad` through banks that are commanded one after the other, each from its time on (s after the moment
    /// of the prediction, rising).
    #[must_use]
    pub fn through(bank_rad: f64, commands: &[(f64, f64)], agility: Agility) -> Self {
        let mut flight = Self {
            parts: [Part::default(); MOST],
            count: 0,
        };
        let (mut bank, mut time_s) = (bank_rad, 0.0_f64);
        for &(at_s, command) in commands {
            time_s = time_s.max(at_s);
            flight.stay(time_s, shares(bank));
            time_s = flight.roll(time_s, (bank, command), agility);
            bank = command;
        }
        flight.stay(f64::INFINITY, shares(bank));
        flight
    }

    /// The parts in order.
    #[must_use]
    pub fn parts(&self) -> &[Part] {
        &self.parts[..self.count]
    }

    /// The first part.
    #[must_use]
    pub fn first(&self) -> &Part {
        &self.parts[0]
    }

    /// Rolls from one bank to another the shorter way round; when it ends, s.
    fn roll(&mut self, start_s: f64, (from, to): (f64, f64), agility: Agility) -> f64 {
        let sweep = wrapped(to - from);
        let end_s = start_s + agility.turn_time_s(sweep);
        // Below a thousandth of a radian the mean is that of the end.
        if sweep.abs() > 1e-3 {
            let (first, last) = (shares(from), shares(from + sweep));
            let mean = ((last.1 - first.1) / sweep, (first.0 - last.0) / sweep);
            self.stay(end_s, mean);
        }
        end_s
    }

    /// Adds a part, unless it is over before it begins.
    fn stay(&mut self, until_s: f64, (up, right): (f64, f64)) {
        let begun = self.parts().last().map_or(0.0, |part| part.until_s);
        if let Some(place) = self.parts.get_mut(self.count).filter(|_| until_s > begun) {
            *place = Part { until_s, up, right };
            self.count += 1;
        }
    }
}

/// Shares of the lift up and to the right at a bank angle.
fn shares(bank_rad: f64) -> (f64, f64) {
    let (sine, cosine) = libm::sincos(bank_rad);
    (cosine, sine)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{FRAC_PI_2, PI};

    const AGILITY: Agility = Agility {
        rate_rad_s: 0.25,
        acceleration_rad_s2: 0.1,
    };

    /// From 60 deg right to 60 deg left through lift up: the mean of the cosine is sin(60 deg)/(60 deg), that of
    /// the sine 0 (integrals by hand); the time is sweep/rate + rate/acceleration.
    #[test]
    fn a_change_of_sides_is_its_mean_lift_for_its_time() {
        let bank = PI / 3.0;
        let flight = Foreseen::through(bank, &[(0.0, bank), (40.0, -bank)], AGILITY);
        let [hold, roll, rest] = flight.parts() else {
            panic!("three parts: {flight:?}");
        };
        assert!((hold.until_s - 40.0).abs() < 1e-12 && (hold.right - bank.sin()).abs() < 1e-12);
        let time = 2.0 * bank / 0.25 + 0.25 / 0.1;
        assert!((roll.until_s - 40.0 - time).abs() < 1e-9);
        assert!((roll.up - bank.sin() / bank).abs() < 1e-12 && roll.right.abs() < 1e-12);
        assert!((rest.right + bank.sin()).abs() < 1e-12 && rest.until_s == f64::INFINITY);
    }

    /// Beyond 90 deg the shorter way leads through lift down.
    #[test]
    fn a_change_of_sides_beyond_90_deg_goes_through_lift_down() {
        let bank = 0.75 * PI;
        let flight = Foreseen::through(bank, &[(0.0, -bank)], AGILITY);
        let [roll, rest] = flight.parts() else {
            panic!("two parts: {flight:?}");
        };
        let half = PI - bank;
        assert!((roll.up + half.sin() / half).abs() < 1e-12, "{roll:?}");
        assert!((rest.right + bank.sin()).abs() < 1e-12);
    }

    #[test]
    fn a_bank_that_is_flown_already_is_one_part() {
        let flight = Foreseen::through(FRAC_PI_2, &[(0.0, FRAC_PI_2)], AGILITY);
        assert_eq!(flight.parts().len(), 1);
        assert_eq!(Foreseen::held(1.0, 0.0).parts()[0].up, 1.0);
    }

    /// A command that comes before the last roll is over begins when it is.
    #[test]
    fn rolls_follow_each_other() {
        let flight = Foreseen::through(0.0, &[(0.0, 1.0), (1.0, -1.0), (60.0, 0.5)], AGILITY);
        let times: Vec<f64> = flight.parts().iter().map(|part| part.until_s).collect();
        let (first, second) = (AGILITY.turn_time_s(1.0), AGILITY.turn_time_s(2.0));
        assert!((times[0] - first).abs() < 1e-12 && (times[1] - first - second).abs() < 1e-12);
        assert!(times[2] == 60.0 && times.len() == 5);
    }
}
