//! Single flights for the checks: a start, a ship, the library integrator at a tight tolerance.

use periband::craft::Vehicle;
use periband::craft::vehicle::VehicleNumbers;
use periband::numeric::Vec3;
use periband::pass::batch::Settings;
use periband::pass::dynamics::Felt;
use periband::pass::reference::{FlownPass, FlyOptions, fly};
use periband::pass::{EntryState, Models, Sample};
use periband::world::planet::AirSample;
use periband::world::{ExponentialWorld, Planet};

/// Standard gravity, m/s².
pub(crate) const G0: f64 = 9.806_65;

/// A ship of ballistic coefficient `b` (kg/m²), lift-to-drag ratio `lift` (negative: lift down),
/// nose radius 1 m, heated by the constant of the Earth's air.
pub(crate) fn ship(b: f64, lift: f64) -> Sample<f64> {
    nosed_ship((b, lift), 1.0, 1.7415e-4)
}

/// The same with a nose radius (m) and a heating constant.
pub(crate) fn nosed_ship((b, lift): (f64, f64), nose: f64, constant: f64) -> Sample<f64> {
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
            nose_radius_m: nose,
            heating_constant: constant,
            ..VehicleNumbers::default()
        }),
        air: AirSample::EXACT,
        lifting: lift != 0.0,
    }
}

/// The planet of an exponential world.
pub(crate) fn planet_of(world: ExponentialWorld) -> Planet {
    Planet::new(
        &world
            .build()
            .expect("the worlds of the checks are in range"),
    )
}

/// Over the equator, at altitude `h` (m) with inertial speed `v` (m/s) and angle `degrees`, eastward.
pub(crate) fn entry(planet: &Planet, v: f64, degrees: f64, h: f64) -> EntryState {
    let angle = degrees.to_radians();
    EntryState {
        position: Vec3::new(planet.equatorial_radius_m + h, 0.0, 0.0),
        velocity: Vec3::new(v * angle.sin(), v * angle.cos(), 0.0),
        meets_air: true,
    }
}

/// One flight; the history is at most `step_s` apart.
pub(crate) fn flight(
    planet: &Planet,
    sample: &Sample<f64>,
    start: &EntryState,
    (settings, step_s): (&Settings, f64),
) -> FlownPass {
    let options = FlyOptions {
        tolerance: 1e-12,
        longest_step_s: step_s,
    };
    let models = Models::from(planet.clone());
    fly(&models, sample, start, (settings, options))
        .expect("the flights of the checks can be integrated")
}

/// Settings that end a flight at 200 m/s.
pub(crate) fn to_200_m_s(planet: &Planet) -> Settings {
    Settings {
        stop_speed_m_s: 200.0,
        ..Settings::new(planet)
    }
}

/// Where something felt was highest.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Peak {
    /// The highest value, in its unit.
    pub(crate) value: f64,
    /// Altitude, m.
    pub(crate) altitude: f64,
    /// Speed against the air, m/s.
    pub(crate) speed: f64,
}

/// The peak of sensed deceleration (m/s²).
pub(crate) fn peak(pass: &FlownPass) -> Peak {
    peak_of(pass, |felt| felt.deceleration)
}

/// The peak of a quantity by the parabola through the three moments about it.
pub(crate) fn peak_of(pass: &FlownPass, quantity: impl Fn(&Felt<f64>) -> f64) -> Peak {
    let felt = |i: usize| pass.history[i].felt;
    let last = pass.history.len() - 1;
    let highest = (0..=last)
        .max_by(|a, b| quantity(&felt(*a)).total_cmp(&quantity(&felt(*b))))
        .unwrap_or(0)
        .clamp(1, last - 1);
    let at = [highest - 1, highest, highest + 1];
    let times = at.map(|i| pass.history[i].time_s);
    let through = |values: [f64; 3], t: f64| -> f64 {
        (0..3)
            .map(|i| {
                let (j, k) = ((i + 1) % 3, (i + 2) % 3);
                values[i] * (t - times[j]) * (t - times[k])
                    / ((times[i] - times[j]) * (times[i] - times[k]))
            })
            .sum()
    };
    let a = at.map(|i| quantity(&felt(i)));
    let (rise, fall) = (
        (a[1] - a[0]) / (times[1] - times[0]),
        (a[2] - a[1]) / (times[2] - times[1]),
    );
    let curve = (fall - rise) / (times[2] - times[0]);
    let t = 0.5 * (times[0] + times[1]) - 0.5 * rise / curve;
    Peak {
        value: through(a, t),
        altitude: through(at.map(|i| felt(i).altitude), t),
        speed: through(at.map(|i| felt(i).speed), t),
    }
}
