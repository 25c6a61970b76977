//! The aim of an arrival that is known by its flight-path angle.

use super::problem::{Problem, SampleNumber};
use super::problem_error::ProblemError;
use crate::numeric::root::bracketed_root;
use crate::scenario::uncertainty::Number;

/// Least periapsis radius that is looked at, m: within a thousandth of a degree of the vertical, and still told apart
/// from its neighbours by the numbers of an aim.
const LEAST_RADIUS_M: f64 = 1e-4;
/// Periapsis radii looked at between the centre and the interface.
const LOOKS: u32 = 400;
/// How near the angle asked for an approach has to come, rad.
const CLOSE_RAD: f64 = 1e-9;

impl Problem {
    /// The vacuum periapsis altitude (m) whose approach meets the interface at this inertial angle (rad).
    ///
    /// Steep entries have their periapsis far below the ground, along its direction anywhere above the centre.
    ///
    /// # Errors
    /// [`ProblemError::NoAngle`] with the angles that can be had.
    pub(super) fn aim_for_angle(&self, angle: f64) -> Result<f64, ProblemError> {
        let planet = self.planet();
        let of = |number: Number| self.nominal()[number as usize];
        let sine = libm::sin(of(Number::Inclination)) * libm::sin(of(Number::ArgumentOfPeriapsis));
        let surface_m = planet.ellipsoid.surface_radius(sine * sine);
        let angle_at = |radius_m: f64| {
            let aim_m = radius_m - surface_m;
            let (start, _) = self.begins(aim_m, self.nominal(), SampleNumber::Nominal)?;
            let found = start.inertial_flight_path_angle_rad();
            start.meets_air.then_some(found)
        };
        let mut seen: Vec<f64> = Vec::new();
        let mut found = None;
        let mut between = |(low, at_low): (f64, f64), (high, at_high): (f64, f64)| {
            seen.extend([at_low, at_high]);
            if found.is_some() || (at_low - angle) * (at_high - angle) > 0.0 {
                return;
            }
            let miss = |radius_m: f64| {
                let here = angle_at(radius_m).unwrap_or(f64::NAN);
                seen.push(here);
                here - angle
            };
            // Along one stretch of approaches the angle is one function; a leap of it is no answer.
            let root = bracketed_root(miss, low, high, 1e-14 * high);
            let near = |radius_m: &f64| {
                angle_at(*radius_m).is_some_and(|here| (here - angle).abs() <= CLOSE_RAD)
            };
            found = root.filter(near);
        };
        // No conic with a larger periapsis comes down to the interface anywhere.
        let most_m = planet.equatorial_radius_m + planet.interface_m;
        let radius_of = |look: u32| {
            let share = f64::from(look) / f64::from(LOOKS);
            (share * share).mul_add(most_m - LEAST_RADIUS_M, LEAST_RADIUS_M)
        };
        let mut last: (f64, Option<f64>) = (LEAST_RADIUS_M, angle_at(LEAST_RADIUS_M));
        for look in 1..=LOOKS {
            let here = (radius_of(look), angle_at(radius_of(look)));
            match (last.1, here.1) {
                (Some(low), Some(high)) => between((last.0, low), (here.0, high)),
                (None, None) => {}
                (one, other) => {
                    // The last radius that meets the air, before or behind others that do not.
                    let (mut yes, mut no) = if one.is_some() {
                        (last, here)
                    } else {
                        (here, last)
                    };
                    for _ in 0..60 {
                        let middle = 0.5 * (yes.0 + no.0);
                        let at = (middle, angle_at(middle));
                        if at.1.is_some() { yes = at } else { no = at }
                    }
                    if let (Some(whole), Some(edge)) = (one.or(other), yes.1) {
                        let whole = (if one.is_some() { last.0 } else { here.0 }, whole);
                        let edge = (yes.0, edge);
                        if whole.0 < edge.0 {
                            between(whole, edge);
                        } else {
                            between(edge, whole);
                        }
                    }
                }
            }
            last = here;
        }
        if let Some(radius_m) = found {
            return Ok(radius_m - surface_m);
        }
        seen.retain(|angle| angle.is_finite());
        let (below, above): (Vec<f64>, Vec<f64>) = seen.iter().partition(|other| **other < angle);
        let most = |of: &[f64]| of.iter().copied().reduce(f64::max);
        let least = |of: &[f64]| of.iter().copied().reduce(f64::min);
        let both =
            |low: Option<f64>, high: Option<f64>| Some([low?.to_degrees(), high?.to_degrees()]);
        Err(ProblemError::NoAngle {
            degrees: angle.to_degrees(),
            range_deg: both(least(&seen), most(&seen)),
            gap_deg: both(most(&below), least(&above)),
        })
    }
}
