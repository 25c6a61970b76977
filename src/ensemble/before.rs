//! What is done to a ship before it meets the air: a burn that takes speed off, a moon that bends its way, another
//! date of arrival, propellant that is gone. The draws of the scenario stay what they are.

use super::maneuver::ManeuverDraws;
use super::problem::Numbers;
use crate::pass::EntryState;
use crate::pass::approach::Energy;
use crate::scenario::uncertainty::Number;

/// What is done before the air is met. Left alone it changes nothing.
#[derive(Debug, Clone)]
pub struct Before {
    /// Speed taken off at the entry interface by a burn, m/s, 0 or more; the aim is that of the conic after it.
    pub speed_off_m_s: f64,
    /// Added to twice the specific energy of the arrival, m²/s²: what a moon takes is negative.
    pub energy_shift: f64,
    /// Added to the excess speed (or the entry speed, if the scenario has that), m/s.
    pub arrival_shift: f64,
    /// Factor on the mass, 0 to 1: what is left when propellant is gone.
    pub mass_factor: f64,
    /// The plane of the arrival instead of the scenario's: shifts of inclination and argument of periapsis, rad.
    pub plane_shift_rad: (f64, f64),
    /// Errors of the burn, drawn as burn 0 of each sample.
    pub errors: Option<ManeuverDraws>,
}

impl Default for Before {
    fn default() -> Self {
        Self {
            speed_off_m_s: 0.0,
            energy_shift: 0.0,
            arrival_shift: 0.0,
            mass_factor: 1.0,
            plane_shift_rad: (0.0, 0.0),
            errors: None,
        }
    }
}

impl Before {
    /// Whether it adds no uncertainty.
    #[must_use]
    pub fn is_certain(&self) -> bool {
        self.speed_off_m_s == 0.0 || self.errors.as_ref().is_none_or(ManeuverDraws::is_exact)
    }

    /// Changes the numbers of a sample.
    pub fn change(&self, numbers: &mut Numbers) {
        numbers[Number::ShipMass as usize] *= self.mass_factor;
        numbers[Number::ArrivalEnergy as usize] += self.arrival_shift;
        numbers[Number::Inclination as usize] += self.plane_shift_rad.0;
        numbers[Number::ArgumentOfPeriapsis as usize] += self.plane_shift_rad.1;
    }

    /// The energy of the approach after a moon; the burn at the interface is the approach's own affair.
    #[must_use]
    pub fn energy(&self, energy: Energy) -> Energy {
        if self.energy_shift == 0.0 {
            return energy;
        }
        match energy {
            Energy::Twice(twice) => Energy::Twice(twice + self.energy_shift),
            Energy::ExcessSpeed(speed) => Energy::Twice(speed * speed + self.energy_shift),
            Energy::InterfaceSpeed(speed) => {
                let square = (speed * speed + self.energy_shift).max(0.0);
                Energy::InterfaceSpeed(square.sqrt())
            }
            // A closed orbit is no arrival that a moon is for; it stays as it is.
            Energy::ApoapsisAltitude(_) => energy,
        }
    }

    /// Adds what the burn of a sample did wrong to the state at its end.
    pub fn disturb(&self, start: &mut EntryState, sample: u64) {
        let Some(errors) = self.errors.as_ref().filter(|_| self.speed_off_m_s > 0.0) else {
            return;
        };
        let error = errors.of(sample, 0);
        let [along, outward, across] = error.applied(-self.speed_off_m_s);
        let (r, v) = (start.position, start.velocity);
        let forward = v.unit();
        let normal = r.cross(v).unit();
        let up = normal.cross(forward).scale(-1.0);
        start.velocity = v
            + forward.scale(along + self.speed_off_m_s)
            + up.scale(outward)
            + normal.scale(across);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::Vec3;

    #[test]
    fn a_burn_takes_its_speed_off_at_the_interface() {
        let text = "title: x\nworld: mars\nship: {mass: 1 t, reference_area: 5 m2, drag_coefficient: 1.5, \
            nose_radius: 1 m}\narrival: {hyperbola: {excess_speed: 4 km/s, inclination: 50 deg, aim_periapsis: 50 km}}\n";
        let scenario = crate::scenario::Scenario::from_text("x.yaml", text).unwrap();
        let world = crate::world::World::bundled("mars").unwrap();
        let plain = super::super::Problem::new(&scenario, &world).unwrap();
        let before = Before {
            speed_off_m_s: 300.0,
            ..Before::default()
        };
        let braked = plain.with_before(before, plain.aim()).unwrap();
        let start = |problem: &super::super::Problem| {
            let nominal = super::super::problem::SampleNumber::Nominal;
            problem.launch(50e3, problem.nominal(), nominal).unwrap().0
        };
        let (after, planet) = (start(&braked), plain.planet());
        // Where the braked ship is, one that was not braked has its excess speed still.
        let speed = after.velocity.norm() + 300.0;
        let excess = planet.twice_energy(after.position, after.velocity.unit().scale(speed));
        assert!((excess.sqrt() - 4000.0).abs() < 1e-6, "{}", excess.sqrt());
        let nothing = Before::default().energy(Energy::ExcessSpeed(4000.0));
        assert_eq!(nothing, Energy::ExcessSpeed(4000.0));
    }

    #[test]
    fn a_burn_that_is_too_large_leaves_less_speed() {
        let state = EntryState {
            position: Vec3::new(6.5e6, 0.0, 0.0),
            velocity: Vec3::new(-2000.0, 10_000.0, 0.0),
            meets_air: true,
        };
        let mut before = Before {
            speed_off_m_s: 500.0,
            errors: Some(ManeuverDraws::new(1, 0.01, 0.0)),
            ..Before::default()
        };
        let error = before.errors.as_ref().unwrap().of(7, 0);
        let mut disturbed = state;
        before.disturb(&mut disturbed, 7);
        let lost = state.velocity.norm() - disturbed.velocity.norm();
        assert!((lost - 500.0 * error.size).abs() < 1e-9, "{lost}");
        before.speed_off_m_s = 0.0;
        disturbed = state;
        before.disturb(&mut disturbed, 7);
        assert_eq!(disturbed, state);
    }

    /// A change is made once, whether a number is drawn or not.
    #[test]
    fn a_change_is_made_once_to_drawn_and_certain_numbers() {
        let text = "title: x\nworld: mars\nship: {mass: 1 t, reference_area: 5 m2, drag_coefficient: 1.5, \
            nose_radius: 1 m}\narrival: {hyperbola: {excess_speed: 3 km/s, inclination: 10 deg, aim_periapsis: 50 km}}\n\
            uncertainty: {ship.mass: {normal: {std_dev: 1 %}}}\n";
        let scenario = crate::scenario::Scenario::from_text("x.yaml", text).unwrap();
        let world = crate::world::World::bundled("mars").unwrap();
        let plain = super::super::Problem::new(&scenario, &world).unwrap();
        let before = Before {
            mass_factor: 0.9,
            arrival_shift: -400.0,
            ..Before::default()
        };
        let changed = plain.with_before(before, plain.aim()).unwrap();
        let of = |numbers: &Numbers, number| numbers[number as usize];
        let (old, new) = (plain.numbers(5), changed.numbers(5));
        let mass = Number::ShipMass;
        assert!((of(&new, mass) / of(&old, mass) - 0.9).abs() < 1e-12);
        assert_eq!(of(&new, Number::ArrivalEnergy), 2600.0);
        assert_eq!(of(changed.nominal(), mass), 900.0);
        let again = changed.with_before(Before::default(), plain.aim()).unwrap();
        assert_eq!(again.nominal(), plain.nominal());
    }

    #[test]
    fn gone_propellant_and_another_date_change_the_numbers() {
        let mut numbers = [0.0; Number::COUNT];
        numbers[Number::ShipMass as usize] = 1000.0;
        numbers[Number::ArrivalEnergy as usize] = 3000.0;
        let before = Before {
            mass_factor: 0.9,
            arrival_shift: -400.0,
            plane_shift_rad: (0.1, 0.2),
            ..Before::default()
        };
        before.change(&mut numbers);
        assert_eq!(numbers[Number::ShipMass as usize], 900.0);
        assert_eq!(numbers[Number::ArrivalEnergy as usize], 2600.0);
        assert_eq!(numbers[Number::Inclination as usize], 0.1);
    }
}
