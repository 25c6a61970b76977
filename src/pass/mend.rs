//! Mends an orbit to a target by impulses at its apsides, half a turn after another, each with its error.

use super::apsis::{Apsides, Apsis, ManeuverError};

/// The orbit wanted, radii in m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// Periapsis radius, m.
    pub periapsis_m: f64,
    /// Apoapsis radius, m.
    pub apoapsis_m: f64,
    /// How far either may be off, m.
    pub tolerance_m: f64,
}

/// What mending cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mending {
    /// Speed changes spent, m/s.
    pub spent_m_s: f64,
    /// Impulses.
    pub burns: u32,
    /// Time from the periapsis at which the orbit was begun to the last impulse, s.
    pub time_s: f64,
    /// Whether the orbit is the one wanted, within the tolerance.
    pub reached: bool,
}

/// Half turns after which mending is given up.
const MOST_HALF_TURNS: u32 = 12;

impl Wanted {
    /// Whether an orbit is the one wanted.
    #[must_use]
    pub fn holds(&self, orbit: &Apsides) -> bool {
        (orbit.periapsis_radius_m - self.periapsis_m).abs() <= self.tolerance_m
            && (orbit.apoapsis_radius_m - self.apoapsis_m).abs() <= self.tolerance_m
    }

    /// Mends an orbit that was begun at its periapsis: at the apoapsis the periapsis is brought where it is wanted, at
    /// the periapsis the apoapsis, and again while an error leaves either off by more than the tolerance.
    ///
    /// `error` gives the error of each impulse by its number from 0. With a circle as the target, whichever apsis the
    /// ship stands at is the one that counts.
    #[must_use]
    pub fn mend(
        &self,
        gm: f64,
        mut orbit: Apsides,
        mut error: impl FnMut(u32) -> ManeuverError,
    ) -> Mending {
        let mut at = Apsis::Apoapsis;
        let mut mending = Mending {
            spent_m_s: 0.0,
            burns: 0,
            time_s: 0.0,
            reached: false,
        };
        for _ in 0..MOST_HALF_TURNS {
            if self.holds(&orbit) {
                mending.reached = true;
                break;
            }
            mending.time_s += 0.5 * orbit.period_s(gm);
            let (here, there) = match at {
                Apsis::Apoapsis => (orbit.apoapsis_radius_m, orbit.periapsis_radius_m),
                Apsis::Periapsis => (orbit.periapsis_radius_m, orbit.apoapsis_radius_m),
            };
            // Too low to be the apoapsis: this end becomes the periapsis, and the other is lifted.
            let wanted = if at == Apsis::Periapsis || here < self.periapsis_m {
                self.apoapsis_m
            } else {
                self.periapsis_m
            };
            if (there - wanted).abs() > self.tolerance_m {
                let mended = orbit.burn(gm, at, wanted, &error(mending.burns));
                mending.burns += 1;
                mending.spent_m_s += mended.spent_m_s;
                match mended.apsides {
                    Some(apsides) => orbit = apsides,
                    None => return mending,
                }
            }
            at = if wanted >= here {
                Apsis::Apoapsis
            } else {
                Apsis::Periapsis
            };
        }
        mending
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pass::orbit::Corrections;

    const GM: f64 = 4.282_837_5e13;
    const WANTED: Wanted = Wanted {
        periapsis_m: 3.8e6,
        apoapsis_m: 1.2e7,
        tolerance_m: 1e4,
    };

    #[test]
    fn exact_impulses_cost_the_two_corrections() {
        let orbit = Apsides::of(3.44e6, 3.0e7);
        let mending = WANTED.mend(GM, orbit, |_| ManeuverError::NONE);
        let both = Corrections::between(GM, (3.44e6, 3.0e7), (3.8e6, 1.2e7));
        let sum = both.lift_periapsis_m_s + both.trim_apoapsis_m_s;
        assert!(mending.reached && mending.burns == 2);
        assert!((mending.spent_m_s / sum - 1.0).abs() < 1e-12);
        let lifted = Apsides::of(3.8e6, 3.0e7);
        let time = 0.5 * (orbit.period_s(GM) + lifted.period_s(GM));
        assert!((mending.time_s / time - 1.0).abs() < 1e-12);
    }

    #[test]
    fn an_orbit_within_the_tolerance_costs_nothing_and_a_low_one_is_lifted_at_both_ends() {
        let there = WANTED.mend(GM, Apsides::of(3.805e6, 1.2005e7), |_| ManeuverError::NONE);
        assert_eq!((there.burns, there.reached), (0, true));
        // Both ends below the periapsis wanted.
        let low = WANTED.mend(GM, Apsides::of(3.44e6, 3.7e6), |_| ManeuverError::NONE);
        assert!(low.reached && low.spent_m_s > 100.0, "{low:?}");
        let circle = Wanted {
            apoapsis_m: 3.8e6,
            ..WANTED
        };
        let mended = circle.mend(GM, Apsides::of(3.44e6, 9.0e6), |_| ManeuverError::NONE);
        assert!(mended.reached && mended.burns == 2, "{mended:?}");
    }

    #[test]
    fn errors_are_mended_again() {
        let wrong = |burn: u32| ManeuverError {
            size: if burn < 2 { 0.05 } else { 0.0 },
            in_plane_rad: 0.02,
            out_of_plane_rad: 0.0,
        };
        let mending = WANTED.mend(GM, Apsides::of(3.44e6, 3.0e7), wrong);
        assert!(mending.reached && mending.burns > 2, "{mending:?}");
        let opened = WANTED.mend(GM, Apsides::of(3.44e6, 3.0e7), |_| ManeuverError {
            size: 200.0,
            ..ManeuverError::NONE
        });
        assert!(!opened.reached);
    }
}
