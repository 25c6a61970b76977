//! Single passes against closed forms and independently computed trajectories, by the library
//! integrator and by the lanes.

use periband::craft::Vehicle;
use periband::craft::vehicle::VehicleNumbers;
use periband::numeric::Vec3;
use periband::pass::batch::{Batch, Settings};
use periband::pass::reference::{FlyOptions, fly};
use periband::pass::{Ending, EntryState, Models, PassResult, Sample};
use periband::world::planet::AirSample;
use periband::world::{ExponentialWorld, Planet};

const G0: f64 = 9.806_65;

/// A ship of ballistic coefficient `b` and lift-to-drag ratio `lift`, nose radius 1 m, k of the Earth.
pub(crate) fn ship(b: f64, lift: f64) -> Sample<f64> {
    Sample {
        vehicle: Vehicle::new(&VehicleNumbers {
            mass_kg: b,
            reference_area_m2: 1.0,
            drag_coefficient: 1.0,
            lift_to_drag: lift.abs(),
            bank_angle_rad: if lift < 0.0 {
                std::f64::consts::PI
            } else {
                0.0
            },
            nose_radius_m: 1.0,
            heating_constant: 1.7415e-4,
            ..VehicleNumbers::default()
        }),
        air: AirSample::EXACT,
        lifting: lift != 0.0,
    }
}

/// The state at altitude `h` with inertial speed `v` and flight-path angle `degrees`, over the equator.
pub(crate) fn entry(planet: &Planet, v: f64, degrees: f64, h: f64) -> EntryState {
    let angle = degrees.to_radians();
    EntryState {
        position: Vec3::new(planet.equatorial_radius_m + h, 0.0, 0.0),
        velocity: Vec3::new(v * angle.sin(), v * angle.cos(), 0.0),
        meets_air: true,
    }
}

/// One pass in the lanes.
pub(crate) fn fly_lane(
    planet: &Planet,
    start: EntryState,
    sample: Sample<f64>,
    settings: &Settings,
) -> PassResult {
    let mut once = Some((0, start, sample));
    let mut result = None;
    let models = Models::from(planet.clone());
    Batch::new(&models, settings).fly(|| once.take(), |_, pass| result = Some(pass));
    result.expect("one pass was flown")
}

/// The pass by both integrators at tight tolerance.
fn fly_both(
    planet: &Planet,
    start: EntryState,
    sample: Sample<f64>,
    settings: &Settings,
) -> [(&'static str, PassResult); 2] {
    let options = FlyOptions {
        tolerance: 1e-13,
        longest_step_s: 0.5,
    };
    let models = Models::from(planet.clone());
    let reference = fly(&models, &sample, &start, (settings, options)).expect("flies");
    let tight = Settings {
        tolerance: 1e-12,
        ..settings.clone()
    };
    [
        ("reference", reference.result),
        ("lanes", fly_lane(planet, start, sample, &tight)),
    ]
}

fn near(what: &str, ours: f64, expected: f64, relative: f64) {
    let error = (ours / expected - 1.0).abs();
    assert!(
        error <= relative,
        "{what}: {ours} against {expected}, relative {error:.2e}"
    );
}

struct Benchmark {
    id: &'static str,
    speed: f64,
    angle: f64,
    ballistic: f64,
    lift: f64,
    from: f64,
    /// Drag, not sensed acceleration, in standard gravities.
    drag_g: f64,
    flux: f64,
    load: Option<f64>,
    /// Time of the end, s.
    end: f64,
    /// Speed and angle (deg) at the end and the lowest altitude, for passes that leave the air.
    exit: Option<(f64, f64, f64)>,
}

/// Planar passes of a sphere that does not turn with an exponential atmosphere, computed by an
/// independent program (eighth-order integration at a relative tolerance of 1e-12).
/// Tolerance 1e-6 relative; event and peak location 1e-4. The last one starts at 125 km, its peaks are
/// printed to five and six figures.
#[test]
#[allow(clippy::too_many_lines)] // a table
fn single_passes_reproduce_independent_trajectories() {
    let earth = ExponentialWorld::default();
    let thin = ExponentialWorld {
        gm_m3_s2: 4.282_837_5e13,
        equatorial_radius_m: 3_396_190.0,
        surface_density_kg_m3: 0.02,
        scale_height_m: 9500.0,
        ..ExponentialWorld::default()
    };
    let cases = [
        (
            &earth,
            Benchmark {
                id: "E1",
                speed: 7800.0,
                angle: -2.0,
                ballistic: 100.0,
                lift: 0.0,
                from: 120e3,
                drag_g: 9.060_141,
                flux: 71.584_59,
                load: Some(7758.897),
                end: 347.879_7,
                exit: None,
            },
        ),
        (
            &earth,
            Benchmark {
                id: "E2",
                speed: 7800.0,
                angle: -20.0,
                ballistic: 1000.0,
                lift: 0.0,
                from: 120e3,
                drag_g: 56.609_880,
                flux: 660.474_94,
                load: Some(8812.376),
                end: 83.658_1,
                exit: None,
            },
        ),
        (
            &earth,
            Benchmark {
                id: "E4",
                speed: 11_000.0,
                angle: -6.5,
                ballistic: 350.0,
                lift: 0.3,
                from: 120e3,
                drag_g: 7.033_959,
                flux: 373.975_34,
                load: Some(24_266.719),
                end: 236.473_9,
                exit: Some((7_787.059_98, 3.436_065_33, 55_445.94)),
            },
        ),
        (
            &earth,
            Benchmark {
                id: "E6",
                speed: 12_800.0,
                angle: -8.2,
                ballistic: 60.0,
                lift: 0.0,
                from: 125e3,
                drag_g: 39.539_337,
                flux: 369.163_45,
                load: Some(10_426.709),
                end: 154.535_2,
                exit: None,
            },
        ),
        (
            &thin,
            Benchmark {
                id: "M4",
                speed: 4776.616,
                angle: -5.0,
                ballistic: 20.0,
                lift: 0.0,
                from: 125e3,
                drag_g: 0.045_816,
                flux: 1.677_51,
                load: None,
                end: 277.732_7,
                exit: Some((4_713.825_302, 4.934_714_46, 96_309.477)),
            },
        ),
    ];
    for (world, case) in cases {
        let world = ExponentialWorld {
            entry_interface_m: case.from,
            ..world.clone()
        };
        let planet = Planet::new(&world.build().expect("a valid world"));
        let mut settings = Settings::new(&planet);
        settings.stop_speed_m_s = 200.0;
        let start = entry(&planet, case.speed, case.angle, case.from);
        let sample = ship(case.ballistic, case.lift);
        for (by, pass) in fly_both(&planet, start, sample, &settings) {
            let at = |what: &str| format!("{} {what} by {by}", case.id);
            let drag = pass.peak_deceleration_m_s2 / (1.0 + case.lift * case.lift).sqrt() / G0;
            // Printed figures carry their own rounding.
            near(
                &at("peak drag"),
                drag,
                case.drag_g,
                if case.id == "M4" { 1e-5 } else { 1e-6 },
            );
            near(
                &at("peak heat flux"),
                pass.peak_heat_flux_w_m2 / 1e4,
                case.flux,
                if case.id == "M4" { 3e-6 } else { 1e-6 },
            );
            if let Some(load) = case.load {
                near(&at("heat load"), pass.heat_load_j_m2 / 1e4, load, 1e-6);
            }
            near(&at("end"), pass.duration_s, case.end, 1e-4);
            if let Some((speed, degrees, lowest)) = case.exit {
                assert_eq!(pass.ending, Ending::Captured, "{}", at("ending"));
                near(&at("exit speed"), pass.end_inertial_speed_m_s, speed, 1e-6);
                near(&at("lowest altitude"), pass.lowest_altitude_m, lowest, 1e-6);
                let radius = planet.equatorial_radius_m + case.from;
                let momentum = pass.orbit.periapsis_radius_m
                    * (pass.orbit.twice_energy
                        + 2.0 * planet.gm_m3_s2 / pass.orbit.periapsis_radius_m)
                        .sqrt();
                let angle = (momentum / (radius * pass.end_inertial_speed_m_s))
                    .acos()
                    .to_degrees();
                near(&at("exit angle"), angle, degrees, 1e-6);
            } else {
                assert_eq!(pass.ending, Ending::Landed, "{}", at("ending"));
                near(&at("end speed"), pass.end_relative_speed_m_s, 200.0, 1e-6);
            }
            if case.id == "M4" {
                near(&at("work of drag"), pass.speed_lost_m_s, 62.555_27, 1e-6);
            }
        }
    }
}

/// Skip without gravity over a flat surface: `V_exit/V_entry = exp(-2γ/(L/D))` and the exit angle is
/// the entry angle (Eggers, Allen & Neice, NACA Rep. 1382, 1957; from memory, and computed from the
/// equation). 7000 m/s, -5 deg, L/D 0.5, `m/(C_D A)` 300 kg/m²: 4937.42677 m/s. Tolerance 1e-6.
///
/// It holds between any two moments at one altitude; 60 km is taken. A sphere of 2e12 m radius stands
/// for the flat surface: over 25 s of flight its curvature turns the path by 1e-7 rad.
/// This is the test of the lift term.
#[test]
fn a_skip_without_gravity_follows_the_closed_form() {
    let world = ExponentialWorld {
        gm_m3_s2: 1.0,
        equatorial_radius_m: 2e12,
        entry_interface_m: 60e3,
        ..ExponentialWorld::default()
    };
    let planet = Planet::new(&world.build().expect("a valid world"));
    let settings = Settings {
        length_scale_m: 6.4e6,
        speed_scale_m_s: 7000.0,
        longest_s: 1000.0,
        ..Settings::new(&planet)
    };
    let start = entry(&planet, 7000.0, -5.0, 60e3);
    for (by, pass) in fly_both(&planet, start, ship(300.0, 0.5), &settings) {
        near(by, pass.end_inertial_speed_m_s, 4_937.426_77, 1e-6);
        assert_eq!(pass.ending, Ending::Escaped);
    }
}
