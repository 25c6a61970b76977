//! The flight that a prediction follows: a roll to a bank angle, a stretch at it, a roll to the other side.
//!
//! A roll is foreseen as the mean of the lift over its sweep, for the time that it takes.

use super::motion::{Agility, wrapped};

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

/// Most parts: two rolls and two stretches.
const MOST: usize = 4;

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

    /// From `bank_rad` to `command_rad`, and after `reverse_in_s` seconds to the same bank on the other side.
    #[must_use]
    pub fn rolling(
        bank_rad: f64,
        command_rad: f64,
        reverse_in_s: Option<f64>,
        agility: Agility,
    ) -> Self {
        let mut flight = Self {
            parts: [Part::default(); MOST],
            count: 0,
        };
        let command = match reverse_in_s {
            // At once: the ship never rolls to the side that it leaves.
            Some(wait_s) if wait_s <= 0.0 => -command_rad,
            _ => command_rad,
        };
        let mut time_s = flight.roll(0.0, (bank_rad, command), agility);
        let mut last = command;
        if let Some(wait_s) = reverse_in_s.filter(|wait_s| *wait_s > 0.0) {
            time_s = time_s.max(wait_s);
            flight.stay(time_s, shares(command));
            flight.roll(time_s, (command, -command), agility);
            last = -command;
        }
        flight.stay(f64::INFINITY, shares(last));
        flight
    }

    /// The parts in order.
    #[must_use]
    pub fn parts(&self) -> &[Part] {
        &self.parts[..self.count]
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
        let flight = Foreseen::rolling(bank, bank, Some(40.0), AGILITY);
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
        let flight = Foreseen::rolling(bank, bank, Some(0.0), AGILITY);
        let [roll, rest] = flight.parts() else {
            panic!("two parts: {flight:?}");
        };
        let half = PI - bank;
        assert!((roll.up + half.sin() / half).abs() < 1e-12, "{roll:?}");
        assert!((rest.right + bank.sin()).abs() < 1e-12);
    }

    #[test]
    fn a_bank_that_is_flown_already_is_one_part() {
        let flight = Foreseen::rolling(FRAC_PI_2, FRAC_PI_2, None, AGILITY);
        assert_eq!(flight.parts().len(), 1);
        assert_eq!(Foreseen::held(1.0, 0.0).parts()[0].up, 1.0);
    }
}
