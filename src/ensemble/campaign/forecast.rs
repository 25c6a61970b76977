//! What an operator expects of the next pass: the mean air of the world file along the way down, and how
//! much thicker or thinner than that the last passes were.

use crate::craft::Vehicle;
use crate::craft::free_molecular;
use crate::numeric::Vec3;
use crate::numeric::elementary::{ln, sin_cos};
use crate::numeric::root::bracketed_root;
use crate::pass::PassResult;
use crate::pass::coast::{Coast, Until, coast};
use crate::pass::dynamics::{Felt, Sample, State, derivative};
use crate::pass::models::Models;
use crate::scenario::campaign_rule::{Controlled, Heating};
use crate::world::planet::{AirSample, Planet};

/// Place and peak of a pass in the mean air of the world.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Outlook {
    /// Position of the lowest place, m.
    pub position: Vec3<f64>,
    /// Inertial velocity there, m/s.
    pub velocity: Vec3<f64>,
    /// Lowest altitude above the ellipsoid, m.
    pub altitude_m: f64,
    /// Natural log of the density there, kg/m³.
    pub ln_density: f64,
    /// Its slope against altitude, 1/m, below 0.
    pub slope_per_m: f64,
    /// Speed against the air there, m/s.
    pub relative_speed_m_s: f64,
    /// Drag over dynamic pressure, `C_D·A/m`, m²/kg.
    pub drag_area_per_mass: f64,
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

/// A ship that is looked ahead for: whether it has lift decides which equations are needed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scout {
    pub(super) vehicle: Vehicle<f64>,
    pub(super) lifting: bool,
}

/// What is felt at a place in the mean air thickened by a factor, and the drag, m/s².
// The dispatch that the macro writes needs one unsafe call of a function whose instructions were just detected.
#[allow(unsafe_code)]
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
fn felt(models: &Models, scout: &Scout, y: &State<f64>, ln_factor: f64) -> (Felt<f64>, f64) {
    let sample = Sample {
        vehicle: scout.vehicle,
        air: AirSample {
            ln_factor,
            ..AirSample::EXACT
        },
        lifting: scout.lifting,
    };
    let (rates, felt) = derivative(models, &sample, y);
    (felt, rates[7])
}

fn state(position: Vec3<f64>, velocity: Vec3<f64>) -> State<f64> {
    let (r, v) = (position, velocity);
    [r.x, r.y, r.z, v.x, v.y, v.z, 0.0, 0.0]
}

impl Gauge {
    /// The controlled quantity as it is felt, SI.
    fn reading(self, scout: &Scout, felt: &Felt<f64>) -> f64 {
        match (self.quantity, self.heating) {
            (Controlled::DynamicPressure, _) => felt.dynamic_pressure,
            (Controlled::Deceleration, _) => felt.deceleration,
            (Controlled::HeatFlux, Heating::Flown) => felt.heat_flux,
            (Controlled::HeatFlux, Heating::FreeMolecular) => {
                let density = 2.0 * felt.dynamic_pressure / (felt.speed * felt.speed);
                free_molecular::heat_flux(density, felt.speed, scout.vehicle.accommodation)
            }
        }
    }

    /// The controlled quantity at a place in the mean air, SI.
    pub(super) fn at(
        self,
        models: &Models,
        scout: &Scout,
        (position, velocity): (Vec3<f64>, Vec3<f64>),
    ) -> f64 {
        let (felt, _) = felt(models, scout, &state(position, velocity), 0.0);
        self.reading(scout, &felt)
    }

    /// How much higher the lowest place must lie for the quantity to come out as `wanted`, where the air is
    /// thicker than the mean by what gives a factor of exp(`ln_ratio`), m; as far as the air that is flown goes.
    pub(super) fn climb_m(
        self,
        (models, scout): (&Models, &Scout),
        outlook: &Outlook,
        (wanted, ln_ratio): (f64, f64),
    ) -> f64 {
        let radius = outlook.position.norm();
        let miss = |altitude: f64| {
            let share = (radius + altitude - outlook.altitude_m) / radius;
            let place = (outlook.position.scale(share), outlook.velocity);
            ln(self.at(models, scout, place)) + ln_ratio - ln(wanted)
        };
        let (floor, top) = (models.floor_m, models.interface_m);
        let altitude = if miss(top) >= 0.0 {
            top
        } else if miss(floor) <= 0.0 {
            floor
        } else {
            bracketed_root(miss, floor, top, 1.0).unwrap_or(outlook.altitude_m)
        };
        altitude - outlook.altitude_m
    }

    /// Peak heat flux (W/m²) and heat load (J/m²) of a flown pass with this heating. In free-molecular flow
    /// the flux is the dynamic pressure times the speed, which hardly changes over the part that counts.
    pub(super) fn heat(
        self,
        pass: &PassResult,
        (models, scout): (&Models, &Scout),
        outlook: &Outlook,
    ) -> (f64, f64) {
        match self.heating {
            Heating::Flown => (pass.peak_heat_flux_w_m2, pass.heat_load_j_m2),
            Heating::FreeMolecular => {
                let y = state(outlook.position, outlook.velocity);
                let (felt, drag) = felt(models, scout, &y, 0.0);
                let kept = scout.vehicle.accommodation * felt.speed;
                let per_drag = kept * felt.dynamic_pressure / drag;
                (
                    kept * pass.peak_dynamic_pressure_pa,
                    per_drag * pass.speed_lost_m_s,
                )
            }
        }
    }

    /// The peak heat flux that the operator reckons from a pass that had `flux_w_m2`: by the heating models as they
    /// stand, in the air that its peak dynamic pressure tells of. `ships` are the one that flew and the same one
    /// without errors of heating.
    pub(super) fn reckoned(
        self,
        (pass, flux_w_m2): (&PassResult, f64),
        (models, ships): (&Models, [&Scout; 2]),
        outlook: &Outlook,
    ) -> f64 {
        let [flown, believed] = ships;
        if self.heating == Heating::FreeMolecular || flown.vehicle == believed.vehicle {
            return flux_w_m2;
        }
        let y = state(outlook.position, outlook.velocity);
        let expected = felt(models, believed, &y, 0.0).0.dynamic_pressure;
        let thicker = ln((pass.peak_dynamic_pressure_pa / expected).max(f64::MIN_POSITIVE));
        let flux = |scout| felt(models, scout, &y, thicker).0.heat_flux;
        flux_w_m2 * (flux(believed) / flux(flown))
    }

    /// The controlled quantity of a flown pass whose heat flux is `heat_flux_w_m2`.
    pub(super) fn met(self, pass: &PassResult, heat_flux_w_m2: f64) -> f64 {
        match self.quantity {
            Controlled::HeatFlux => heat_flux_w_m2,
            Controlled::DynamicPressure => pass.peak_dynamic_pressure_pa,
            Controlled::Deceleration => pass.peak_deceleration_m_s2,
        }
    }
}

/// The outlook from a place on the way down in the mean air: on to the periapsis of a world without its
/// interface (`open`), and along the conic there.
pub(super) fn outlook(
    (models, open): (&Models, &Planet),
    gauge: Gauge,
    scout: &Scout,
    down: &Coast,
) -> Outlook {
    /// Step in ln density by which the power is found.
    const STEP: f64 = 0.1;
    let periapsis = coast(open, down.position, down.velocity, Until::Air).unwrap_or(*down);
    let conic = Conic::new(open.gm_m3_s2, periapsis.position, periapsis.velocity);
    let height = |anomaly: f64| open.altitude_at(conic.at(anomaly).0);
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
    let altitude_m = open.altitude_at(position);
    let air = open.air(altitude_m, position, &AirSample::EXACT);
    let y = state(position, velocity);
    let (here, drag) = felt(models, scout, &y, 0.0);
    let value = gauge.reading(scout, &here);
    let (thicker, _) = felt(models, scout, &y, STEP);
    Outlook {
        position,
        velocity,
        altitude_m,
        ln_density: air.ln_density,
        slope_per_m: air.ln_density_slope_per_m,
        relative_speed_m_s: here.speed,
        drag_area_per_mass: drag / here.dynamic_pressure,
        value,
        power: ln(gauge.reading(scout, &thicker) / value) / STEP,
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
    use crate::pass::EntryState;
    use crate::pass::batch::{Batch, Settings};
    use crate::pass::coast::without_interface;
    use crate::world::World;

    /// The expected peak against passes that were flown in that same mean air, from loose and from tight orbits
    /// and over different latitudes: within 1 % of the peak (the speed at the peak and the drag before
    /// it are what the outlook leaves out).
    #[test]
    fn the_outlook_is_the_peak_of_a_pass_in_the_mean_air() {
        let planet = Planet::new(&World::bundled("mars").expect("bundled"));
        let mut models = Models::from(planet.clone());
        models.ship.thin_air = true;
        let scout = Scout {
            vehicle: Vehicle::new(&VehicleNumbers {
                mass_kg: 461.0,
                reference_area_m2: 11.0,
                drag_coefficient: 2.0,
                nose_radius_m: 1.0,
                heating_constant: 1.9e-4,
                accommodation: 0.9,
                ..VehicleNumbers::default()
            }),
            lifting: false,
        };
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
            let start = EntryState {
                position: down.position,
                velocity: down.velocity,
                meets_air: true,
            };
            let sample = Sample {
                vehicle: scout.vehicle,
                air: AirSample::EXACT,
                lifting: false,
            };
            let mut launch = Some((0, start, sample));
            let mut flown = PassResult::default();
            let settings = Settings::new(&planet);
            Batch::new(&models, &settings).fly(|| launch.take(), |_, pass| flown = pass);
            let quantities = [
                Controlled::HeatFlux,
                Controlled::DynamicPressure,
                Controlled::Deceleration,
            ];
            for (quantity, heating) in quantities
                .into_iter()
                .flat_map(|q| [(q, Heating::Flown), (q, Heating::FreeMolecular)])
            {
                let gauge = Gauge { quantity, heating };
                let open = without_interface(&planet);
                let expected = outlook((&models, &open), gauge, &scout, &down);
                let (flux, load) = gauge.heat(&flown, (&models, &scout), &expected);
                let met = gauge.met(&flown, flux);
                assert!(
                    (expected.value / met - 1.0).abs() < 0.01,
                    "{apoapsis} {argument} {quantity:?} {heating:?}: {} {met}",
                    expected.value
                );
                let lower = expected.altitude_m - flown.lowest_altitude_m;
                assert!(lower.abs() < 100.0, "{apoapsis} {argument}: {lower} m");
                // Flux and load of a bell: the load over the peak is a time of minutes.
                assert!((50.0..2000.0).contains(&(load / flux)), "{}", load / flux);
            }
        }
    }
}
