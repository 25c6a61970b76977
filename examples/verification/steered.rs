//! Rows of two flown entries under guidance: steered here to the range that was flown, by this program's own
//! predictor-corrector, not by the guidance that flew. What is compared is the peak that follows. Apollo's guidance
//! kept lift up until the descent had slowed to 700 ft/s (from memory), and so does the flight here.

use crate::verification::flown::{ASSUMED, Assumed, Entry, entries, ready, ship_of};
use crate::verification::flying::{G0, flight};
use crate::verification::row::{Group, Known, Row, Tolerance};
use periband::numeric::Vec3;
use periband::pass::batch::Settings;
use periband::pass::dynamics::{position, velocity};
use periband::pass::reference::FlyOptions;
use periband::pass::{EntryState, Models, Sample};
use periband::scenario::steering::{BankControl, Control, Steering, SteeringTarget};
use periband::steering::flight::fly_steered;
use periband::steering::guide::{Model, Relief};
use periband::steering::{Crew, Gate, Guide, Target, Truth};
use periband::world::Planet;

const STEERED: Group = Group {
    name: "Flown entries, steered to their range",
    source: "flights.csv; ranges from memory: Apollo 11 1,497 n mi (Orloff SP-2000-4029), Curiosity from 3.92 S 126.72 E \
             to 4.59 S 137.44 E (Way, Davis & Shidner 2013)",
    known: Known::FromMemory,
};

/// An entry, the range that was flown and the gate that stands for its parachutes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Guided {
    pub(crate) mission: &'static str,
    /// Ground range from the interface to the landing, km (from memory).
    pub(crate) range_km: f64,
    /// Speed at which steering ends, m/s (assumed).
    pub(crate) gate_m_s: f64,
    /// Ground range that is left then, km (assumed).
    pub(crate) left_km: f64,
    /// Bank rate and acceleration, deg/s and deg/s² (assumed).
    pub(crate) agility: (f64, f64),
    /// Rate of the altitude, m/s, up to which lift is held up before anything is steered (from memory of the flown logic).
    pub(crate) lift_up_to_m_s: Option<f64>,
    /// Allowed share of the peak: what the sources give for guided capsules.
    pub(crate) share: f64,
}

pub(crate) const GUIDED: [Guided; 2] = [
    Guided {
        mission: "Apollo 11",
        range_km: 1497.0 * 1.852,
        gate_m_s: 300.0,
        left_km: 3.0,
        agility: (15.0, 5.0),
        lift_up_to_m_s: Some(-700.0 * 0.3048),
        share: 0.15,
    },
    Guided {
        mission: "MSL Curiosity",
        range_km: 635.0,
        gate_m_s: 400.0,
        left_km: 10.0,
        agility: (20.0, 5.0),
        lift_up_to_m_s: None,
        share: 0.10,
    },
];

/// A flown entry under this program's steering: its highest deceleration, g, and how far from the gate it ended, km.
pub(crate) struct Guiding {
    pub(crate) peak_g: f64,
    pub(crate) miss_km: f64,
}

/// The direction of the place `range_m` ahead of a start on a turning planet.
fn place(planet: &Planet, start: &EntryState, range_m: f64) -> Vec3<f64> {
    let up = start.position.unit();
    let (r, v, turning) = (start.position, start.velocity, planet.rotation_rad_s);
    let over_ground = Vec3::new(v.x + turning * r.y, v.y - turning * r.x, v.z);
    let ahead = up.scale_add(-up.dot(over_ground), over_ground).unit();
    let angle = range_m / planet.equatorial_radius_m;
    up.scale(angle.cos()) + ahead.scale(angle.sin())
}

/// Steers an entry to its range, with no errors of navigation and in the mean air.
pub(crate) fn steer(entry: &Entry, assumed: &Assumed, guided: &Guided) -> Guiding {
    let (planet, entered) = ready(entry, assumed);
    let sample = ship_of(entry, assumed);
    let landing = place(&planet, &entered, 1e3 * guided.range_km);
    let (start, before) = lift_up(&planet, &sample, &entered, guided);
    let turned = Gate {
        place: landing,
        speed_m_s: 0.0,
        range_to_go_m: 0.0,
        aside_within_m: 0.0,
    };
    let gate = Gate {
        place: turned.place_at(&planet, before.time_s),
        speed_m_s: guided.gate_m_s,
        range_to_go_m: 1e3 * guided.left_km,
        aside_within_m: 500.0,
    };
    let steering = Steering {
        // A gate takes its place.
        target: SteeringTarget::ExitSpeedLoss(1.0),
        control: Control::Bank(BankControl {
            rate_rad_s: guided.agility.0.to_radians(),
            acceleration_rad_s2: guided.agility.1.to_radians(),
            least_rad: 0.0,
            most_rad: std::f64::consts::PI,
            inclination_within_rad: 1.0,
        }),
        cycle_s: 2.0,
        memory_s: 20.0,
        starts_at_m_s2: 0.05 * G0,
        relief: 1.0,
    };
    let models = Models::from(planet);
    let model = Model {
        models: models.clone(),
        lifting: true,
        vehicle: sample.vehicle,
        first_bank_rad: 0.0,
        drag_area_per_mass: sample.vehicle.drag_area_per_mass,
        nose_radius_m: entry.number("Rn_m").unwrap_or(1.0),
        inclination_rad: 0.0,
        relief: Relief::NONE,
    };
    let guide = Guide::new(model, steering, Target::Gate(gate));
    let settings = Settings {
        stop_speed_m_s: guided.gate_m_s,
        ..Settings::new(&models)
    };
    let crew = Crew {
        truth: Truth::default(),
        vehicle: sample.vehicle.banked(0.0),
    };
    let ship = (&start, &sample, &crew);
    let pass = fly_steered((&models, &settings), &guide, ship, FlyOptions::default())
        .expect("the flights of the checks can be integrated");
    let result = &pass.flown.result;
    let y = &result.end_state;
    let bearing = gate.bearing(&models, (position(y), velocity(y)), result.duration_s);
    Guiding {
        miss_km: (bearing.range_m - gate.range_to_go_m).abs() / 1e3,
        peak_g: result.peak_deceleration_m_s2.max(before.peak_m_s2) / G0,
    }
}

/// The part of a flight before anything is steered.
struct Before {
    time_s: f64,
    peak_m_s2: f64,
}

/// Where steering starts, and what was felt before: the entry itself, or where lift up has slowed the descent.
fn lift_up(
    planet: &Planet,
    sample: &Sample<f64>,
    entered: &EntryState,
    guided: &Guided,
) -> (EntryState, Before) {
    let mut before = Before {
        time_s: 0.0,
        peak_m_s2: 0.0,
    };
    let Some(rate) = guided.lift_up_to_m_s else {
        return (*entered, before);
    };
    let settings = Settings::new(planet);
    let pass = flight(planet, sample, entered, (&settings, 0.5));
    for moment in &pass.history {
        before.peak_m_s2 = before.peak_m_s2.max(moment.felt.deceleration);
        if moment.felt.deceleration > 0.5 * G0 && moment.felt.altitude_rate > rate {
            before.time_s = moment.time_s;
            let start = EntryState {
                position: position(&moment.state),
                velocity: velocity(&moment.state),
                meets_air: true,
            };
            return (start, before);
        }
    }
    (*entered, before)
}

pub(crate) fn rows() -> Vec<Row> {
    let entries = entries();
    let mut rows = Vec::new();
    for guided in &GUIDED {
        let named = |entry: &&Entry| entry.text("mission") == guided.mission;
        let entry = entries.iter().find(named).expect("is in the file");
        let assumed = ASSUMED.iter().find(|a| a.mission == guided.mission);
        let flown = steer(entry, assumed.expect("is flown"), guided);
        let short = guided.mission;
        let range = guided.range_km - guided.left_km;
        rows.push(STEERED.row(
            format!("{short}: range of the gate"),
            "km",
            (range, range + flown.miss_km),
            Tolerance::Absolute(5.0),
        ));
        let known = if short == "Apollo 11" {
            Known::Published
        } else {
            Known::FromMemory
        };
        rows.push(STEERED.known(known).row(
            format!("{short}: peak, steered to its range"),
            "g",
            (entry.number("peak_g").unwrap_or(f64::NAN), flown.peak_g),
            Tolerance::Relative(guided.share),
        ));
    }
    rows
}
