//! The start of any sample: where its approach meets the air, and the ship that does.

use super::problem::{Numbers, Problem, SampleNumber};
use crate::craft::Vehicle;
use crate::craft::vehicle::VehicleNumbers;
use crate::pass::approach::{Approach, Energy};
use crate::pass::coast::{Until, coast};
use crate::pass::{EntryState, Sample};
use crate::scenario::arrival::ArrivalEnergy;
use crate::scenario::uncertainty::Number;
use crate::world::Planet;

impl Problem {
    /// Start and sample of a flight aimed at vacuum periapsis altitude `aim_m` with these numbers;
    /// `None` when no flight begins with them: they fit no approach conic, or the air at the interface is already too
    /// thick for the ship ([`Problem::thick_air`]).
    #[must_use]
    pub fn launch(
        &self,
        aim_m: f64,
        numbers: &Numbers,
        sample: SampleNumber,
    ) -> Option<(EntryState, Sample<f64>)> {
        let begun = self.begins(aim_m, numbers, sample);
        begun.filter(|(start, sample)| self.begins_in_thin_air(start, sample))
    }

    /// As [`Problem::launch`], however thick the air is.
    pub(super) fn begins(
        &self,
        aim_m: f64,
        numbers: &Numbers,
        sample: SampleNumber,
    ) -> Option<(EntryState, Sample<f64>)> {
        let mut start = entry_state(&self.approach(aim_m, numbers), &self.models)?;
        if let SampleNumber::Of(sample) = sample {
            self.before.disturb(&mut start, sample);
        }
        let vehicle = self.vehicle(numbers);
        let air = self.air.sample(sample, numbers, &start);
        let lifting = self.lifting(numbers);
        Some((
            start,
            Sample {
                vehicle,
                air,
                lifting,
            },
        ))
    }

    /// Whether the approach at this aim (m) with these numbers comes down to the entry interface anywhere. On a
    /// flattened world it may with a periapsis above it.
    #[must_use]
    pub fn meets_air(&self, aim_m: f64, numbers: &Numbers) -> bool {
        let launched = self.begins(aim_m, numbers, SampleNumber::Nominal);
        launched.is_some_and(|(start, _)| start.meets_air)
    }

    /// The highest aim (m) whose nominal approach still meets the air, to a metre; the interface altitude where
    /// none above it does.
    #[must_use]
    pub fn highest_aim_m(&self) -> f64 {
        let planet = self.planet();
        let (mut low, polar) = (planet.interface_m, planet.ellipsoid.surface_radius(1.0));
        if !self.meets_air(low, &self.nominal) {
            return low;
        }
        let mut high = low + planet.equatorial_radius_m - polar;
        while high - low > 1.0 {
            let middle = 0.5 * (low + high);
            if self.meets_air(middle, &self.nominal) {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    }

    /// The lowest altitude (m) to which the nominal approach at this aim would come without air, under the zonal
    /// field and above the ellipsoid; `None` where there is no approach or the way leads into the ground.
    #[must_use]
    pub fn vacuum_low_m(&self, aim_m: f64) -> Option<f64> {
        let (start, _) = self.begins(aim_m, &self.nominal, SampleNumber::Nominal)?;
        let planet = self.planet();
        let lowest = if start.meets_air {
            coast(planet, start.position, start.velocity, Until::Lowest)?.position
        } else {
            start.position
        };
        let altitude = planet.altitude_at(lowest);
        (altitude >= planet.floor_m).then_some(altitude)
    }

    /// The ship of these numbers.
    #[must_use]
    pub fn vehicle(&self, numbers: &Numbers) -> Vehicle<f64> {
        let of = |number: Number| numbers[number as usize];
        let vehicle = Vehicle::new(&VehicleNumbers {
            mass_kg: of(Number::ShipMass),
            reference_area_m2: of(Number::ReferenceArea),
            drag_coefficient: of(Number::DragCoefficient),
            lift_to_drag: of(Number::LiftToDrag),
            bank_angle_rad: of(Number::BankAngle),
            nose_radius_m: of(Number::NoseRadius),
            heating_constant: self.heating_constant,
            drag_factor: of(Number::DragFactor),
            lift_factor: of(Number::LiftFactor),
            off_trim_rad: of(Number::TrimAngle) - self.nominal[Number::TrimAngle as usize],
            accommodation: self.accommodation,
            convective_factor: of(Number::HeatingConvective),
            radiative_factor: of(Number::HeatingRadiative),
        });
        match &self.models.ship.radiative {
            Some(radiative) => Vehicle {
                radiative_nose: radiative.nose(of(Number::NoseRadius)),
                ..vehicle
            },
            None => vehicle,
        }
    }

    /// Whether a ship of these numbers has any lift.
    #[must_use]
    pub fn lifting(&self, numbers: &Numbers) -> bool {
        self.table_lifts
            .unwrap_or(numbers[Number::LiftToDrag as usize] != 0.0)
    }

    fn approach(&self, aim_m: f64, numbers: &Numbers) -> Approach {
        let of = |number: Number| numbers[number as usize];
        let energy = of(Number::ArrivalEnergy);
        let energy = match self.energy {
            ArrivalEnergy::ExcessSpeed(_) => Energy::ExcessSpeed(energy),
            ArrivalEnergy::InertialEntrySpeed(_) => Energy::InterfaceSpeed(energy),
            ArrivalEnergy::ApoapsisAltitude(_) => Energy::ApoapsisAltitude(energy),
        };
        Approach {
            energy: self.before.energy(energy),
            periapsis_altitude_m: aim_m + of(Number::DeliveryPeriapsis),
            inclination_rad: of(Number::Inclination),
            argument_of_periapsis_rad: of(Number::ArgumentOfPeriapsis),
            b_plane_miss_m: (of(Number::DeliveryBT), of(Number::DeliveryBR)),
            speed_off_m_s: match energy {
                Energy::ApoapsisAltitude(_) => 0.0,
                _ => self.before.speed_off_m_s,
            },
            angle_error_rad: of(Number::DeliveryAngle),
            speed_error_m_s: of(Number::DeliverySpeed),
        }
    }
}

/// [`Approach::entry_state`] for the widest instructions this machine has: fused multiply-adds
/// without them are calls of a library function.
// The dispatch that the macro writes needs one unsafe call of a function whose instructions were just detected.
#[allow(unsafe_code)]
#[multiversion::multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
fn entry_state(approach: &Approach, planet: &Planet) -> Option<EntryState> {
    approach.entry_state(planet)
}
