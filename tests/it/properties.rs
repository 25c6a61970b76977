//! What must hold for any pass, whatever the numbers.

use crate::closed_form::{entry, fly_lane, ship};
use periband::numeric::Vec3;
use periband::pass::batch::Settings;
use periband::pass::orbit::Orbit;
use periband::pass::{Ending, EntryState};
use periband::world::{ExponentialWorld, Planet};
use proptest::prelude::*;

fn planet(density: f64, rotation: f64) -> Planet {
    let world = ExponentialWorld {
        surface_density_kg_m3: density,
        rotation_rad_s: rotation,
        ..ExponentialWorld::default()
    };
    Planet::new(&world.build().expect("a valid world"))
}

fn twice_energy(planet: &Planet, start: &EntryState) -> f64 {
    Orbit::from_state(planet.gm_m3_s2, start.position, start.velocity).twice_energy
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

    /// Air at rest takes energy and never gives any.
    #[test]
    fn drag_never_adds_orbital_energy_without_rotation(
        speed in 7000.0..14_000.0_f64, angle in -12.0..-3.0_f64, ballistic in 30.0..2000.0_f64, lift in -1.0..1.0_f64,
    ) {
        let planet = planet(1.225, 0.0);
        let start = entry(&planet, speed, angle, 120e3);
        let pass = fly_lane(&planet, start, ship(ballistic, lift), &Settings::new(&planet));
        prop_assert!(pass.ending != Ending::Failed);
        // Less the error of the integration, 1e-7 of the circular speed.
        prop_assert!(pass.orbit.twice_energy <= twice_energy(&planet, &start) + 10.0);
        prop_assert!(pass.speed_lost_m_s >= 0.0 && pass.heat_load_j_m2 >= 0.0);
    }

    /// Hardly any air: energy and angular momentum stay.
    #[test]
    fn vacuum_conserves_energy_and_momentum(speed in 8500.0..14_000.0_f64, angle in -8.0..-1.0_f64) {
        let planet = planet(1e-30, 0.0);
        let start = entry(&planet, speed, angle, 120e3);
        let pass = fly_lane(&planet, start, ship(100.0, 0.0), &Settings { tolerance: 1e-11, ..Settings::new(&planet) });
        if matches!(pass.ending, Ending::Captured | Ending::Escaped) {
            let before = Orbit::from_state(planet.gm_m3_s2, start.position, start.velocity);
            prop_assert!((pass.orbit.twice_energy - before.twice_energy).abs() < 1e-8 * speed * speed);
            prop_assert!((pass.orbit.periapsis_radius_m / before.periapsis_radius_m - 1.0).abs() < 1e-8);
        }
    }

    /// A ballistic ship feels more the steeper it comes.
    #[test]
    fn steeper_is_harder(speed in 7000.0..14_000.0_f64, angle in -40.0..-8.0_f64, ballistic in 30.0..2000.0_f64) {
        let planet = planet(1.225, 0.0);
        let peak = |degrees| {
            let start = entry(&planet, speed, degrees, 120e3);
            fly_lane(&planet, start, ship(ballistic, 0.0), &Settings::new(&planet)).peak_deceleration_m_s2
        };
        prop_assert!(peak(angle - 1.0) > peak(angle));
    }

    /// The orbit of a state keeps what the state says.
    #[test]
    fn elements_and_state_agree(
        x in 1e6..1e7_f64, y in -1e7..1e7_f64, z in -1e7..1e7_f64,
        u in -9e3..9e3_f64, v in -9e3..9e3_f64, w in -9e3..9e3_f64,
    ) {
        let gm = 3.986_004_418e14;
        let (r, v) = (Vec3::new(x, y, z), Vec3::new(u, v, w));
        let momentum = r.cross(v).norm();
        prop_assume!(momentum > 1e9);
        let orbit = Orbit::from_state(gm, r, v);
        let r_p = orbit.periapsis_radius_m;
        let back = r_p * (orbit.twice_energy + 2.0 * gm / r_p).sqrt();
        prop_assert!((back / momentum - 1.0).abs() < 1e-7, "{back} {momentum}");
        prop_assert!(r_p <= r.norm() * (1.0 + 1e-9));
    }
}
