//! How the bank angle moves: no faster than its rate and acceleration allow.
//!
//! The flight holds the mean bank over each stretch; a stretch is cut where the bank has moved by
//! two degrees, so that nothing of the motion is lost that the flight could tell.

use crate::numeric::angle::wrapped;
use std::f64::consts::PI;

/// Most motion within a stretch, rad: lift averaged over it is off by (2 deg)²/24, 5e-5.
const COARSEST: f64 = 2.0 * PI / 180.0;
/// Moves in a guidance cycle.
const MOVES: u32 = 40;
/// Most stretches in a cycle: each holds one move at least.
pub const MOST_STRETCHES: usize = MOVES as usize;

/// The bank angle and its rate, in motion.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bank {
    /// Angle, rad, between -π and π.
    pub angle_rad: f64,
    /// Rate, rad/s.
    pub rate_rad_s: f64,
}

/// What the ship's attitude control can do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agility {
    /// Highest rate, rad/s, above 0.
    pub rate_rad_s: f64,
    /// Highest acceleration, rad/s², above 0.
    pub acceleration_rad_s2: f64,
}

impl Agility {
    /// Shortest time from rest through an angle to rest again, s (common kinematics).
    #[must_use]
    pub fn turn_time_s(&self, turn_rad: f64) -> f64 {
        let (turn, rate, most) = (turn_rad.abs(), self.rate_rad_s, self.acceleration_rad_s2);
        if turn > rate * rate / most {
            turn / rate + rate / most
        } else {
            2.0 * (turn / most).sqrt()
        }
    }
}

/// A time over which one bank angle is flown.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stretch {
    /// Its end, s after the start of the cycle.
    pub until_s: f64,
    /// The bank held, rad.
    pub bank_rad: f64,
}

/// The stretches of one cycle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    stretches: [Stretch; MOST_STRETCHES],
    count: usize,
}

impl Plan {
    /// Nothing to fly.
    pub const EMPTY: Self = Self {
        stretches: [Stretch {
            until_s: 0.0,
            bank_rad: 0.0,
        }; MOST_STRETCHES],
        count: 0,
    };

    /// One bank held for a cycle, cut at `cut_s` where that lies inside.
    #[must_use]
    pub fn held(cycle_s: f64, cut_s: Option<f64>, bank_rad: f64) -> Self {
        let mut plan = Self::EMPTY;
        if let Some(cut_s) = cut_s.filter(|cut_s| *cut_s > 0.0 && *cut_s < cycle_s) {
            plan.push(cut_s, bank_rad);
        }
        plan.push(cycle_s, bank_rad);
        plan
    }

    /// The stretches in order.
    #[must_use]
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches[..self.count]
    }

    fn push(&mut self, until_s: f64, bank_rad: f64) {
        if let Some(place) = self.stretches.get_mut(self.count) {
            *place = Stretch { until_s, bank_rad };
            self.count += 1;
        }
    }
}

impl Bank {
    /// At rest at an angle, rad.
    #[must_use]
    pub fn at(angle_rad: f64) -> Self {
        Self {
            angle_rad: wrapped(angle_rad),
            rate_rad_s: 0.0,
        }
    }

    /// Moves towards `command_rad` the shorter way round for `cycle_s` seconds; what is flown meanwhile.
    pub fn pursue(&mut self, command_rad: f64, (cycle_s, agility): (f64, Agility)) -> Plan {
        let mut plan = Plan::EMPTY;
        if self.rate_rad_s == 0.0 && self.angle_rad == wrapped(command_rad) {
            plan.push(cycle_s, self.angle_rad);
            return plan;
        }
        let dt = cycle_s / f64::from(MOVES);
        let (mut moved, mut sum, mut moves) = (0.0, 0.0, 0.0);
        let first = self.angle_rad;
        let mut from = first;
        // The angle is kept unwrapped within the cycle, so that means are taken of what was flown.
        let mut angle = first;
        for step in 1..=MOVES {
            let before = angle;
            self.advance(&mut angle, command_rad, (dt, agility));
            sum += 0.5 * (before + angle);
            moves += 1.0;
            moved += (angle - before).abs();
            let still = angle == command_rad_near(command_rad, angle) && self.rate_rad_s == 0.0;
            let last = step == MOVES;
            // At rest the remainder is one stretch.
            if last || moved + (angle - before).abs() > COARSEST || (still && angle != from) {
                plan.push(f64::from(step) * dt, wrapped(sum / moves));
                (moved, sum, moves) = (0.0, 0.0, 0.0);
                from = angle;
                if still && !last {
                    plan.push(cycle_s, wrapped(angle));
                    break;
                }
            }
        }
        self.angle_rad = wrapped(angle);
        plan
    }

    /// One move of `dt` seconds by a law that stays within what the ship can do; it overshoots by some thousandths of a
    /// degree.
    fn advance(&mut self, angle: &mut f64, command_rad: f64, (dt, agility): (f64, Agility)) {
        let target = command_rad_near(command_rad, *angle);
        let error = target - *angle;
        let most = agility.acceleration_rad_s2;
        // The highest rate from which the ship still comes to rest at the target, move by move.
        let half = 0.5 * most * dt;
        let braking = (2.0 * most).mul_add(error.abs(), half * half).sqrt() - half;
        let wanted = braking.min(agility.rate_rad_s).min(error.abs() / dt) * error.signum();
        let change = (wanted - self.rate_rad_s).clamp(-most * dt, most * dt);
        self.rate_rad_s += change;
        *angle += self.rate_rad_s * dt;
        // Within a thousandth of a degree, and slow enough to stop at once, it is there.
        let close = 1e-3 * PI / 180.0;
        if (target - *angle).abs() < close && self.rate_rad_s.abs() <= most * dt {
            *angle = target;
            self.rate_rad_s = 0.0;
        }
    }
}

/// The command as the angle nearest to `angle`, by whole turns.
fn command_rad_near(command_rad: f64, angle: f64) -> f64 {
    angle + wrapped(command_rad - angle)
}

#[cfg(test)]
mod tests {
    use super::*;

    const AGILITY: Agility = Agility {
        rate_rad_s: 0.35,
        acceleration_rad_s2: 0.1,
    };

    /// From rest through an angle Δ with rate ω and acceleration α the shortest time is Δ/ω + ω/α, where the
    /// full rate is reached, and 2√(Δ/α) where not (common kinematics). The law needs at most a tenth more.
    #[test]
    fn a_turn_takes_about_the_shortest_time_and_keeps_rate_and_acceleration() {
        for turn in [0.02, 0.3, 1.0, 3.0] {
            let Agility {
                rate_rad_s: rate,
                acceleration_rad_s2: most,
            } = AGILITY;
            let shortest = AGILITY.turn_time_s(turn);
            let mut bank = Bank::at(0.0);
            let (mut time, mut rate_before) = (0.0, 0.0);
            while bank.angle_rad != turn {
                assert!(
                    time < 1.1 * shortest + 0.2,
                    "{turn}: still turning after {time}"
                );
                let mut angle = bank.angle_rad;
                bank.advance(&mut angle, turn, (0.05, AGILITY));
                bank.angle_rad = angle;
                assert!(bank.rate_rad_s.abs() <= rate + 1e-12);
                assert!(
                    (bank.rate_rad_s - rate_before).abs() <= most * 0.05 + 1e-12
                        || bank.rate_rad_s == 0.0
                );
                assert!(angle <= turn + 0.01_f64.to_radians(), "overshoot");
                rate_before = bank.rate_rad_s;
                time += 0.05;
            }
            assert!(
                time > shortest - 0.2,
                "{turn}: {time} is faster than {shortest}"
            );
        }
    }

    #[test]
    fn a_cycle_is_cut_into_stretches_whose_mean_is_the_motion() {
        let mut bank = Bank::at(0.4);
        let mut direct = bank;
        let plan = bank.pursue(-1.2, (2.0, AGILITY));
        let (mut angle, mut mean) = (direct.angle_rad, 0.0);
        for _ in 0..MOVES {
            let before = angle;
            direct.advance(&mut angle, -1.2, (0.05, AGILITY));
            mean += 0.5 * (before + angle) / f64::from(MOVES);
        }
        assert_eq!(angle, bank.angle_rad);
        let mut from = 0.0;
        let mut flown = 0.0;
        for stretch in plan.stretches() {
            flown += (stretch.until_s - from) / 2.0 * stretch.bank_rad;
            from = stretch.until_s;
        }
        assert!((from - 2.0).abs() < 1e-12 && (flown - mean).abs() < 1e-12);
        assert!(plan.stretches().len() > 3);
        for pair in plan.stretches().windows(2) {
            assert!((pair[1].bank_rad - pair[0].bank_rad).abs() < 2.1 * COARSEST);
        }
    }

    #[test]
    fn the_shorter_way_round_is_taken_and_rest_is_one_stretch() {
        let mut bank = Bank::at(3.0);
        for _ in 0..4 {
            bank.pursue(-3.0, (2.0, AGILITY));
        }
        assert!((bank.angle_rad + 3.0).abs() < 1e-9, "{}", bank.angle_rad);
        let plan = bank.pursue(-3.0, (2.0, AGILITY));
        assert_eq!(plan.stretches().len(), 1);
        assert_eq!(plan.stretches()[0].until_s, 2.0);
    }
}
