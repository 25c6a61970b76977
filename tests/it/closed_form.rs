//! Single passes against closed forms and independently computed trajectories.

use periband::craft::Vehicle;
use periband::craft::vehicle::VehicleNumbers;
use periband::numeric::Vec3;
use periband::pass::batch::{Batch, Settings};
use periband::pass::{Ending, EntryState, PassResult, Sample};
use periband::world::planet::AirSample;
use periband::world::{ExponentialWorld, Planet};

#[test]
fn scratch() {
    let planet = Planet::new(&ExponentialWorld::default().build().unwrap());
    let vehicle = Vehicle::new(&VehicleNumbers { mass_kg: 100.0, reference_area_m2: 1.0, drag_coefficient: 1.0, lift_to_drag: 0.0, bank_angle_rad: 0.0, nose_radius_m: 1.0, heating_constant: 1.7415e-4});
    let mut settings = Settings::new(&planet);
    settings.stop_speed_m_s = 200.0;
    let r = planet.equatorial_radius_m + 120e3;
    let g = (-2.0f64).to_radians();
    let start = EntryState { position: Vec3::new(r,0.0,0.0), velocity: Vec3::new(7800.0*g.sin(), 7800.0*g.cos(), 0.0), meets_air: true };
    let sample = Sample { vehicle, air: AirSample { sigmas: 0.0, ln_factor: 0.0 } };
    for tol in [1e-7, 1e-8,1e-9,1e-10,1e-11,1e-12] {
    settings.tolerance = tol;
    let mut batch = Batch::new(&planet, &settings);
    let mut n = 0;
    let cost = batch.fly(|| { n += 1; (n <= 1).then_some((n, start, sample)) }, |_, r| { println!("{tol} g {} q {} Q {} t {} {:?} h {}", r.peak_deceleration_m_s2/9.80665, r.peak_heat_flux_w_m2/1e4, r.heat_load_j_m2/1e4, r.duration_s, r.ending, r.lowest_altitude_m); });
    println!("{cost:?}");
    }
    settings.tolerance = 1e-9;
    for (name,v,ga,vs) in [("mars-like", 11000.0, -6.5, 0.0)] {
        let g = f64::to_radians(ga);
        let mut vehicle = vehicle; vehicle.drag_area_per_mass = 1.0/350.0; vehicle.lift_up = 0.3; vehicle.sensed_over_drag = (1.0f64+0.09).sqrt();
        let sample = Sample { vehicle, ..sample };
        settings.stop_speed_m_s = vs;
        let t = std::time::Instant::now();
        let mut batch = Batch::new(&planet, &settings);
        let mut n = 0; let total = 200_000;
        let mut last: Option<PassResult> = None;
        let cost = batch.fly(|| { n += 1; 
            let g = g + 1e-8 * n as f64;
            let start = EntryState { position: Vec3::new(r,0.0,0.0), velocity: Vec3::new(v*g.sin(), v*g.cos(), 0.0), meets_air: true };
            (n <= total).then_some((n, start, sample)) }, |_, r| { last = Some(r); });
        let dt = t.elapsed().as_secs_f64();
        println!("{name} {:?}\n{} passes/s, steps per pass {} occupancy {}", last, total as f64/dt, cost.flight_steps as f64/total as f64, cost.flight_steps as f64/cost.lane_steps as f64);
        let _ = Ending::Landed;
    }
}
