//! The operator's rule: which band holds for the next pass, and which trim brings it back there.

use super::forecast::Outlook;
use super::record::Phase;
use crate::numeric::elementary::{exp, ln};
use crate::pass::orbit::speed_between_apsides;
use crate::scenario::campaign::Campaign;
use crate::scenario::campaign_rule::Lifetime;
use crate::world::Planet;
use std::f64::consts::TAU;

/// The band that holds for one pass, SI of the controlled quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandNow {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// What a trim aims for.
    pub target: f64,
    /// Which part of the campaign this is.
    pub phase: Phase,
}

/// An orbit before its pass, as the rule sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ahead<'a> {
    /// Apoapsis radius, m.
    pub(super) apoapsis_m: f64,
    /// The pass in the mean air.
    pub(super) outlook: &'a Outlook,
    /// ln of the ratio expected beyond it.
    pub(super) ln_ratio: f64,
}

impl Ahead<'_> {
    /// The controlled quantity that is expected, SI.
    pub(super) fn expected(&self) -> f64 {
        self.outlook.value * exp(self.ln_ratio)
    }
}

/// The band for the pass after `walked` passes, on the orbit ahead.
pub(super) fn band(rule: &Campaign, planet: &Planet, walked: u32, ahead: &Ahead<'_>) -> BandNow {
    let control = &rule.control;
    let mut share = 1.0;
    let mut phase = Phase::Main;
    if walked < rule.walk_in.passes {
        let left = 1.0 - f64::from(walked) / f64::from(rule.walk_in.passes);
        share = exp(left * ln(rule.walk_in.first_share));
        phase = Phase::WalkIn;
    }
    let altitude = ahead.apoapsis_m - planet.equatorial_radius_m;
    if let Some(walk_out) = rule.walk_out
        && altitude < walk_out.below_apoapsis_m
    {
        share *= walk_out.share;
        phase = Phase::WalkOut;
    }
    if let Some(lifetime) = rule.lifetime {
        let most = highest_for(lifetime, planet, ahead);
        if most < control.high * share {
            share = most / control.high;
            phase = Phase::WalkOut;
        }
    }
    BandNow {
        low: control.low * share,
        high: control.high * share,
        target: control.target * share,
        phase,
    }
}

/// Highest value of the controlled quantity with which the orbit lasts as long as it must.
fn highest_for(lifetime: Lifetime, planet: &Planet, ahead: &Ahead<'_>) -> f64 {
    let until_m = planet.equatorial_radius_m + lifetime.until_apoapsis_m;
    let lasts_s = lifetime_s(planet, ahead, until_m);
    // The lifetime goes with the inverse of the density.
    ahead.expected() * exp(ahead.outlook.power * ln(lasts_s / lifetime.time_s))
}

/// Time in which drag alone brings the apoapsis down to the radius `until_m`, the latitude of the periapsis
/// staying as it is, s.
///
/// Each round takes `Δv = ½ ρ V C_D A/m √(2π H r_p (1+e)/e)` at periapsis (King-Hele, *Theory of Satellite
/// Orbits in an Atmosphere*, 1964, leading term for an orbit that is not near a circle), so that the time is
/// the integral of period over loss of energy a round, taken by eight Gauss–Legendre points in ln a. Drag
/// away from the periapsis lowers it: by Gauss's equations `dr_p/dr_a = H r_p/(2 r_a (r_a - r_p))`, so that
/// the density there grows with the inverse square root of `(r_a - r_p)/r_a`.
pub(super) fn lifetime_s(planet: &Planet, ahead: &Ahead<'_>, until_m: f64) -> f64 {
    /// Abscissae and weights of half the points.
    const POINTS: [(f64, f64); 4] = [
        (0.183_434_642_495_649_8, 0.362_683_783_378_362_0),
        (0.525_532_409_916_329_0, 0.313_706_645_877_887_3),
        (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
        (0.960_289_856_497_536_3, 0.101_228_536_290_376_26),
    ];
    let gm = planet.gm_m3_s2;
    let outlook = ahead.outlook;
    let r_p = outlook.position.norm();
    if !(ahead.apoapsis_m > until_m) {
        return 0.0;
    }
    let density = exp(outlook.ln_density + ahead.ln_ratio / outlook.power);
    let half_drag = 0.5 * density * outlook.drag_area_per_mass;
    let scale_height_m = -1.0 / outlook.slope_per_m;
    let relative = outlook.relative_speed_m_s / outlook.velocity.norm();
    let shape = |r_a: f64| (r_a - r_p) / r_a;
    let shape_now = shape(ahead.apoapsis_m);
    let slow = |a: f64| {
        let e = 1.0 - r_p / a;
        let speed = (gm * (2.0 / r_p - 1.0 / a)).max(0.0).sqrt();
        let length = (TAU * scale_height_m * r_p * (1.0 + e) / e.max(1e-6)).sqrt();
        let thicker = (shape_now / shape(2.0 * a - r_p)).sqrt();
        let lost = thicker * half_drag * relative * relative * speed * speed * length;
        let period = TAU * (a * a * a / gm).sqrt();
        // d(energy)/d(ln a) = μ/(2a).
        period * gm / (2.0 * a) / lost
    };
    let (from, to) = (
        ln(0.5 * (r_p + until_m)),
        ln(0.5 * (r_p + ahead.apoapsis_m)),
    );
    let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
    let mut sum = 0.0;
    for (place, weight) in POINTS {
        sum += weight * (slow(exp(middle - half * place)) + slow(exp(middle + half * place)));
    }
    sum * half
}

/// The burn along the motion at an apoapsis of radius and speed that lifts the periapsis by `climb_m`, m/s.
pub(super) fn burn_m_s(gm: f64, (apoapsis_m, speed_m_s): (f64, f64), climb_m: f64) -> f64 {
    let energy = 0.5 * speed_m_s * speed_m_s - gm / apoapsis_m;
    let periapsis_m = -gm / energy - apoapsis_m;
    let wanted_m = (periapsis_m + climb_m).clamp(0.01 * apoapsis_m, apoapsis_m);
    speed_between_apsides(gm, apoapsis_m, wanted_m, apoapsis_m) - speed_m_s
}
