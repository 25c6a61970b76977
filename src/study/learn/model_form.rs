//! What the model of a pass leaves out could have made the same log: the spreads that are told and carried on are never
//! narrower than that.

use super::known::Posterior;
use crate::ensemble::problem::SampleNumber;
use crate::pass::elements::Elements;
use crate::scenario::uncertainty::Number;
use nalgebra::DMatrix;

/// Least one-sigma of a density, over the ballistic coefficient, that is recovered from the drag of a pass: the noise of
/// the densities of Odyssey, about 2 % of their mean (Tolson and others 2005); those of Mars Global Surveyor had 3 %
/// (Tolson and others 1999).
const DENSITY: f64 = 0.02;
/// How much a zonal wind changes along a pass, as a share of its own spread: this project's choice.
const ALONG: f64 = 0.3;

/// Widens the covariance of the scores to what the model leaves out, and says what was held so.
pub(super) fn widen(posterior: &Posterior<'_>, covariance: &mut DMatrix<f64>) -> Vec<String> {
    let numbers = posterior.prior.numbers();
    let place = |number| numbers.iter().position(|known| *known == number);
    let mut said = Vec::new();
    if let (Some(wind), Some(across)) = (place(Number::AirWind), across(posterior)) {
        // A wind along the meridian, as strong as the zonal one may be and not in the model, is seen along the track
        // as a zonal one of this size.
        let least = ALONG.hypot(across).min(1.0);
        if covariance[(wind, wind)] < least * least {
            covariance[(wind, wind)] = least * least;
            let (_, spread) = posterior.case.problem.air_draws().spreads();
            said.push(format!(
                "the spread of the zonal wind is held at {:.1} m/s, whatever the readings say: a wind along the meridian, \
                 which is not in the model, looks like it from this track, and winds change along a pass",
                least * spread
            ));
        }
    }
    let by = place(Number::AirDensity).or_else(|| place(Number::DragCoefficient));
    if let (Some(by), Some(slopes)) = (by, posterior.ln_drag_slopes()) {
        let variance = slopes.dot(&(&*covariance * &slopes));
        let lacking = DENSITY * DENSITY - variance;
        if lacking > 0.0 && slopes[by] != 0.0 {
            // No wider than it was before the pass.
            let widened = covariance[(by, by)] + lacking / (slopes[by] * slopes[by]);
            covariance[(by, by)] = widened.min(covariance[(by, by)].max(1.0));
            said.push(format!(
                "density over ballistic coefficient is told no better than to {:.0} %: densities recovered from the drag \
                 of flown passes had no less",
                100.0 * DENSITY
            ));
        }
    }
    said
}

/// The tangent of the angle between the track at periapsis and the east, with the wind blowing along it: infinite for
/// a track along a meridian. `None` where there is no approach.
fn across(posterior: &Posterior<'_>) -> Option<f64> {
    let problem = &posterior.case.problem;
    let numbers = posterior.prior.at(posterior.scores);
    let (start, _) = problem.launch(posterior.aim_m, &numbers, SampleNumber::Nominal)?;
    let gm = problem.planet().gm_m3_s2;
    let elements = Elements::from_state(gm, start.position, start.velocity)?;
    let latitude = (elements.argument_rad.sin() * elements.inclination_rad.sin()).asin();
    // Over a pole every way is along a meridian.
    if latitude.cos() < 1e-6 {
        return Some(f64::INFINITY);
    }
    let east = (elements.inclination_rad.cos() / latitude.cos())
        .abs()
        .min(1.0);
    Some((1.0 - east * east).sqrt() / east)
}
