//! What an operator expects of the next pass: the mean air of the world file along the way down, and how
//! much thicker or thinner than that the last passes were.

use crate::craft::Vehicle;
use crate::craft::free_molecular;
use crate::craft::heating::sutton_graves;
use crate::numeric::Vec3;
use crate::numeric::elementary::{exp, ln, sin_cos};
use crate::numeric::root::bracketed_root;
use crate::pass::PassResult;
use crate::pass::coast::{Coast, Until, coast};
use crate::scenario::campaign_rule::{Controlled, Heating};
use crate::world::Planet;
use crate::world::planet::AirSample;

/// Place and peak of a pass in the mean air of the world.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outlook {
    /// Position of the lowest place, m.
    pub position: Vec3<f64>,
    /// Lowest altitude above the ellipsoid, m.
    pub altitude_m: f64,
    /// Natural log of the density there, kg/m³.
    pub ln_density: f64,
    /// Its slope against altitude, 1/m, below 0.
    pub slope_per_m: f64,
    /// Inertial speed there, m/s.
    pub speed_m_s: f64,
    /// Speed against the air there, m/s.
    pub relative_speed_m_s: f64,
    /// The controlled quantity there, SI.
    pub value: f64,
    /// Power of the density with which it goes.
    pub power: f64,
}

/// What is controlled, and by which heating.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gauge {
    pub(super) quantity: Controlled,
    pub(super) heating: Heating,
}

impl Gauge {
    /// Heat flux, W/m², and the power of the density with which it goes.
    fn flux(self, vehicle: &Vehicle<f64>, density: f64, speed_m_s: f64) -> (f64, f64) {
        let stagnation = || {
            (
                vehicle.heating_factor * sutton_graves(density.sqrt(), speed_m_s),
                0.5,
            )
        };
        let free = |share| (free_molecular::heat_flux(density, speed_m_s, share), 1.0);
        match self.heating {
            Heating::Stagnation => stagnation(),
            Heating::FreeMolecular(share) => free(share),
            Heating::Smaller(share) => {
                let (thick, thin) = (stagnation(), free(share));
                if thick.0 < thin.0 { thick } else { thin }
            }
        }
    }

    /// The controlled quantity at a density (kg/m³) and speed (m/s), SI, and its power of the density.
    pub(super) fn value(self, vehicle: &Vehicle<f64>, density: f64, speed_m_s: f64) -> (f64, f64) {
        let pressure = 0.5 * density * speed_m_s * speed_m_s;
        match self.quantity {
            Controlled::HeatFlux => self.flux(vehicle, density, speed_m_s),
            Controlled::DynamicPressure => (pressure, 1.0),
            Controlled::Deceleration => (
                pressure * vehicle.drag_area_per_mass * vehicle.sensed_over_drag,
                1.0,
            ),
        }
    }

    /// Peak heat flux (W/m²) and heat load (J/m²) of a flown pass with this heating. In free-molecular flow
    /// the flux is the dynamic pressure times the speed, which hardly changes over the part that counts.
    pub(super) fn heat(
        self,
        pass: &PassResult,
        vehicle: &Vehicle<f64>,
        relative_speed_m_s: f64,
    ) -> (f64, f64) {
        let thick = (pass.peak_heat_flux_w_m2, pass.heat_load_j_m2);
        let thin = |share: f64| {
            let per_drag = share * relative_speed_m_s / vehicle.drag_area_per_mass;
            (
                share * pass.peak_dynamic_pressure_pa * relative_speed_m_s,
                per_drag * pass.speed_lost_m_s,
            )
        };
        match self.heating {
            Heating::Stagnation => thick,
            Heating::FreeMolecular(share) => thin(share),
            Heating::Smaller(share) => {
                let thin = thin(share);
                (thick.0.min(thin.0), thick.1.min(thin.1))
            }
        }
    }

    /// The controlled quantity of a flown pass whose heat flux is `heat_flux_w_m2`.
    pub(super) fn met(self, pass: &PassResult, heat_flux_w_m2: f64) -> f64 {
        match self.quantity {
            Controlled::HeatFlux => heat_flux_w_m2,
            Controlled::DynamicPressure => pass.peak_dynamic_pressure_pa,
            Controlled::Deceleration => pass.peak_deceleration_m_s2,
        }
    }

    /// ln density at which the controlled quantity is `value` at this speed; `None` outside the air of the
    /// world between these logs.
    pub(super) fn ln_density_for(
        self,
        vehicle: &Vehicle<f64>,
        (value, speed_m_s): (f64, f64),
        (thinnest, thickest): (f64, f64),
    ) -> Option<f64> {
        let miss =
            |ln_density: f64| ln(self.value(vehicle, exp(ln_density), speed_m_s).0) - ln(value);
        bracketed_root(miss, thinnest, thickest, 1e-6)
    }
}

/// The outlook from a place on the way down, in the mean air of a world without its interface: on to the
/// periapsis, and along the conic there.
pub(super) fn outlook(
    planet: &Planet,
    gauge: Gauge,
    vehicle: &Vehicle<f64>,
    down: &Coast,
) -> Outlook {
    let periapsis = coast(planet, down.position, down.velocity, Until::Air).unwrap_or(*down);
    let conic = Conic::new(planet.gm_m3_s2, periapsis.position, periapsis.velocity);
    let height = |anomaly: f64| planet.altitude_at(conic.at(anomaly).0);
    // On an oblate world the lowest place lies a little beside the periapsis.
    let mut lowest = 0.0;
    for reach in [0.05, 0.02] {
        let (before, here, after) = (
            height(lowest - reach),
            height(lowest),
            height(lowest + reach),
        );
        let bend = before - 2.0 * here + after;
        if bend > 0.0 {
            let step = 0.5 * reach * (before - after) / bend;
            lowest += step.clamp(-0.3, 0.3);
        }
    }
    let (position, velocity) = conic.at(lowest);
    let altitude_m = planet.altitude_at(position);
    let air = planet.air(altitude_m, position, &AirSample::EXACT);
    let relative_speed_m_s = planet
        .air_relative(position, velocity, altitude_m, &AirSample::EXACT)
        .norm();
    let (value, power) = gauge.value(vehicle, exp(air.ln_density), relative_speed_m_s);
    Outlook {
        position,
        altitude_m,
        ln_density: air.ln_density,
        slope_per_m: air.ln_density_slope_per_m,
        speed_m_s: velocity.norm(),
        relative_speed_m_s,
        value,
        power,
    }
}

/// A conic by its periapsis.
struct Conic {
    toward: Vec3<f64>,
    along: Vec3<f64>,
    semi_latus_m: f64,
    eccentricity: f64,
    speed_m_s: f64,
}

impl Conic {
    fn new(gm: f64, r: Vec3<f64>, v: Vec3<f64>) -> Self {
        let h = r.cross(v);
        let semi_latus_m = h.dot(h) / gm;
        let apse = v.cross(h).scale(1.0 / gm) - r.unit();
        let eccentricity = apse.norm();
        let toward = if eccentricity > 1e-9 {
            apse.scale(1.0 / eccentricity)
        } else {
            r.unit()
        };
        Self {
            along: h.unit().cross(toward),
            toward,
            semi_latus_m,
            eccentricity,
            speed_m_s: (gm / semi_latus_m).sqrt(),
        }
    }

    /// Position and velocity at a true anomaly, rad.
    fn at(&self, anomaly: f64) -> (Vec3<f64>, Vec3<f64>) {
        let (sine, cosine) = sin_cos(anomaly);
        let e = self.eccentricity;
        let radius = self.semi_latus_m / (1.0 + e * cosine);
        let position = self.toward.scale(radius * cosine) + self.along.scale(radius * sine);
        let velocity = self.along.scale(self.speed_m_s * (e + cosine))
            - self.toward.scale(self.speed_m_s * sine);
        (position, velocity)
    }
}

/// How much more than in the mean air the last passes met, as an operator keeps count of it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Estimate {
    ln_ratio: f64,
}

impl Estimate {
    /// Natural log of the ratio expected of the next pass: a weighted mean that leans on the last passes,
    /// and begins with the mean air.
    pub(super) fn ln_ratio(self) -> f64 {
        self.ln_ratio
    }

    /// Takes in a pass that met `met` where the mean air would have given `mean`.
    pub(super) fn take(&mut self, (met, mean): (f64, f64), weight: f64) {
        if met > 0.0 && mean > 0.0 {
            self.ln_ratio += weight * (ln(met / mean) - self.ln_ratio);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::craft::vehicle::VehicleNumbers;
    use crate::ensemble::campaign::StartOrbit;
    use crate::pass::batch::{Batch, Settings};
    use crate::pass::coast::without_interface;
    use crate::pass::{EntryState, Sample};
    use crate::world::World;

    /// The expected peak against passes that were flown in that same mean air, from loose and from tight orbits
    /// and over different latitudes: within 1 % of the peak (the speed at the peak and the drag before
    /// it are what the outlook leaves out).
    #[test]
    fn the_outlook_is_the_peak_of_a_pass_in_the_mean_air() {
        let planet = Planet::new(&World::bundled("mars").expect("bundled"));
        let vehicle = Vehicle::new(&VehicleNumbers {
            mass_kg: 461.0,
            reference_area_m2: 11.0,
            drag_coefficient: 2.0,
            lift_to_drag: 0.0,
            bank_angle_rad: 0.0,
            nose_radius_m: 1.0,
            heating_constant: 1.9e-4,
        });
        for (apoapsis, argument) in [(27e6, 1.2), (9e6, 0.6), (900e3, 2.2), (900e3, 0.0)] {
            let orbit = StartOrbit {
                apoapsis_altitude_m: apoapsis,
                periapsis_altitude_m: 101e3,
                inclination_rad: 1.63,
                argument_of_periapsis_rad: argument,
                mass_kg: 461.0,
            };
            let (r, v) = orbit.state(&planet).expect("an orbit");
            let down = coast(&planet, r, v, Until::Air).expect("bound");
            let mut launch = Some((
                0,
                EntryState {
                    position: down.position,
                    velocity: down.velocity,
                    meets_air: true,
                },
                Sample {
                    vehicle,
                    air: AirSample::EXACT,
                    lifting: false,
                },
            ));
            let mut flown = PassResult::default();
            let settings = Settings::new(&planet);
            Batch::new(&planet, &settings).fly(|| launch.take(), |_, pass| flown = pass);
            for quantity in [
                Controlled::HeatFlux,
                Controlled::DynamicPressure,
                Controlled::Deceleration,
            ] {
                for heating in [
                    Heating::Stagnation,
                    Heating::FreeMolecular(1.0),
                    Heating::Smaller(0.9),
                ] {
                    let gauge = Gauge { quantity, heating };
                    let expected = outlook(&without_interface(&planet), gauge, &vehicle, &down);
                    let (flux, _) = gauge.heat(&flown, &vehicle, expected.relative_speed_m_s);
                    let met = gauge.met(&flown, flux);
                    assert!(
                        (expected.value / met - 1.0).abs() < 0.01,
                        "{apoapsis} {argument} {quantity:?} {heating:?}: {} {met}",
                        expected.value
                    );
                    assert!((expected.altitude_m - flown.lowest_altitude_m).abs() < 30.0);
                }
            }
        }
    }
}
