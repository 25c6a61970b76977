//! The burns of a campaign, and its end.

use super::flight::Flight;
use super::luck;
use super::record::CampaignEnding;
use crate::craft::engine::{STANDARD_GRAVITY_M_S2, propellant_kg};
use crate::pass::orbit::{Corrections, Orbit, speed_between_apsides};

impl Flight<'_> {
    /// A burn along the motion (against it where negative), with the errors of this pass.
    pub(super) fn burn(&mut self, wanted_m_s: f64) {
        let trims = &self.plan.rule.trims;
        let scores = self.plan.luck.scores(self.number, self.result.passes + 1);
        let (size, across, sideways) = luck::burn(&scores);
        let made = wanted_m_s * trims.size_error.mul_add(size, 1.0);
        let forward = self.velocity.unit();
        let normal = self.position.cross(self.velocity).unit();
        let upward = normal.cross(forward);
        let wide = trims.pointing_error_rad;
        let direction =
            (forward + upward.scale(wide * across) + normal.scale(wide * sideways)).unit();
        self.velocity = self.velocity + direction.scale(made);
        self.result.trims += 1;
        self.result.trim_speed_m_s += made.abs();
        self.spend(made.abs());
    }

    fn spend(&mut self, speed_m_s: f64) {
        if let Some(impulse_s) = self.plan.specific_impulse_s {
            let burnt = propellant_kg(self.mass_kg, speed_m_s, impulse_s);
            self.mass_kg -= burnt;
            self.result.propellant_kg += burnt;
        }
    }

    /// At an apoapsis at or below that of the target: the burns that make the target orbit.
    pub(super) fn reach(&mut self) {
        let (plan, rule) = (self.plan, self.plan.rule);
        let (gm, radius) = (
            plan.models.planet.gm_m3_s2,
            plan.models.planet.equatorial_radius_m,
        );
        let orbit = Orbit::from_state(gm, self.position, self.velocity);
        let now = (orbit.periapsis_radius_m, self.position.norm());
        let (target_p, target_a) = (
            radius + rule.raised_periapsis_m,
            radius + rule.target_apoapsis_m,
        );
        let burns = Corrections::between(gm, now, (target_p, target_a));
        let speed_m_s = burns.lift_periapsis_m_s + burns.trim_apoapsis_m_s;
        self.result.raise_speed_m_s = speed_m_s;
        self.result.last_orbit_m = Some(now);
        self.result.last_mass_kg = self.mass_kg;
        self.spend(speed_m_s);
        // The engine alone: the apoapsis comes down by one impulse at the periapsis of the first orbit,
        // which is then raised as here.
        let last_speed = speed_between_apsides(gm, now.0, now.0, now.1);
        let engine = (self.first_speed_m_s - last_speed).abs();
        self.result.engine_speed_m_s = engine;
        if let Some(impulse_s) = plan.specific_impulse_s {
            let exhaust = STANDARD_GRAVITY_M_S2 * impulse_s;
            let wanted = self.mass_kg * libm::expm1((engine + speed_m_s) / exhaust);
            self.result.saved_kg = wanted - self.result.propellant_kg;
        }
        self.end(CampaignEnding::Reached);
        self.result.end_apoapsis_altitude_m = rule.target_apoapsis_m;
        self.result.end_periapsis_altitude_m = rule.raised_periapsis_m;
    }

    /// Ends the campaign where it is.
    pub(super) fn end(&mut self, ending: CampaignEnding) {
        self.over = true;
        let gm = self.plan.models.planet.gm_m3_s2;
        let radius = self.plan.models.planet.equatorial_radius_m;
        let orbit = Orbit::from_state(gm, self.position, self.velocity);
        let result = &mut self.result;
        result.ending = ending;
        result.days = self.time_s / 86_400.0;
        result.end_mass_kg = self.mass_kg;
        result.end_apoapsis_altitude_m =
            orbit.apoapsis_radius_m(gm).map_or(f64::NAN, |r| r - radius);
        result.end_periapsis_altitude_m = orbit.periapsis_radius_m - radius;
        let counted = f64::from(result.band.passes.max(1));
        result.forecast_error = (self.squares / counted).sqrt();
        if self.plan.specific_impulse_s.is_none() {
            result.propellant_kg = f64::NAN;
        }
    }
}
