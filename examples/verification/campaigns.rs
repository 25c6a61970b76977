//! Rows of a flown aerobraking campaign, and of the drift of orbits about oblate bodies.

use crate::verification::row::{Group, Known, Row, Tolerance};
use periband::numeric::Vec3;
use periband::pass::coast::{Until, coast, without_interface};
use periband::pass::orbit::{Orbit, speed_between_apsides};
use periband::scenario::Scenario;
use periband::study::Case;
use periband::study::campaign::{CampaignOutcome, fly_case};
use periband::world::{Planet, World};
use periband::{Progress, ensemble::campaign::PassRow};
use std::f64::consts::TAU;

const ODYSSEY: Group = Group {
    name: "Mars Odyssey, 2001-2002: from an 18.5 h orbit to an apoapsis at 500 km",
    source: "mission operator's news releases 2001-2002, as quoted; what they do not say is listed as assumed",
    known: Known::Published,
};
const DRIFT: Group = Group {
    name: "Drift of node and periapsis, orbits flown under the zonal harmonics",
    source: "secular rates of first order (Vallado, Fundamentals of Astrodynamics and Applications)",
    known: Known::FromMemory,
};

/// What the flown campaign needs and is not published, with how it was chosen.
pub(crate) const ASSUMED_OF_THE_CAMPAIGN: [&str; 6] = [
    "461 kg, 11 m2 and a drag coefficient of 2.0: from memory",
    "free-molecular heating with an accommodation of 1, the bundled air of Mars with all of its dispersion",
    "a band of 0.12 to 0.25 W/cm2: of several that were flown the one whose worst pass is at the flown maximum of \
     0.4 to 0.5 W/cm2 (from memory), below the design limit of 0.68 W/cm2 (from memory)",
    "inclination 93.5 deg, periapsis at 69 deg north to begin with; a walk-in of 8 passes from 130 km; a mean orbit \
     lifetime of 24 h (published) until the apoapsis is at 300 km (from memory)",
    "trims of 0.05 to 5 m/s with errors of 2 % and 1 deg; half of the log density carries over to the next pass",
    "a specific impulse of 317 s for every burn (from memory), and for the engine that would have had to do the same",
];

/// The scenario of the flown campaign.
pub(crate) const SCENARIO: &str = "\
title: Mars Odyssey
world: mars
ship:
  mass: 461 kg
  reference_area: 11 m2
  drag_coefficient: 2.0
  nose_radius: 1 m
  engine: {specific_impulse: 317 s}
arrival:
  orbit:
    apoapsis_altitude: 26870 km
    inclination: 93.5 deg
    argument_of_periapsis: 110 deg
    aim_periapsis: 110 km
ask: {seed: 1}
campaign:
  target: {apoapsis_altitude: 500 km, periapsis_altitude: 400 km}
  control: {heat_flux: {low: 0.12 W/cm2, high: 0.25 W/cm2}}
  heating: free_molecular
  first_periapsis: 130 km
  walk_in: {passes: 8, first_share: 5 %}
  minimum_lifetime: {time: 24 h, until_apoapsis: 300 km}
  density_memory: {per_pass: 0.5}
  trims: {smallest: 0.05 m/s, largest: 5 m/s, size_error: 2 %, pointing_error: 1 deg}
";

/// The flown campaign, many times over.
pub(crate) fn fly_odyssey(campaigns: u64) -> CampaignOutcome {
    let scenario = Scenario::from_text("odyssey.yaml", SCENARIO).expect("a valid scenario");
    let case = Case::from_scenario(scenario).expect("a bundled world");
    fly_case(&case, (campaigns, campaigns), &Progress::default()).expect("campaigns")
}

pub(crate) fn rows() -> Vec<Row> {
    [odyssey(), drift()].concat()
}

fn odyssey() -> Vec<Row> {
    let flown = fly_odyssey(40);
    let quarter = Tolerance::Relative(0.25);
    let mut apoapses: Vec<f64> = flown
        .rows
        .iter()
        .filter_map(|(_, rows)| {
            rows.get(55)
                .map(|row: &PassRow| row.apoapsis_altitude_m / 1e3)
        })
        .collect();
    apoapses.sort_by(f64::total_cmp);
    let after_55 = apoapses
        .get(apoapses.len() / 2)
        .copied()
        .unwrap_or(f64::NAN);
    let first_h = flown.rows[0].1[0].period_s / 3600.0;
    let mars = Planet::new(&World::bundled("mars").expect("bundled"));
    let radius = mars.equatorial_radius_m;
    let (r_p, r_a) = (radius + 103e3, radius + 15_300e3);
    let speed = speed_between_apsides(mars.gm_m3_s2, r_p, r_p, r_a);
    let conic = Orbit::from_state(
        mars.gm_m3_s2,
        Vec3::new(r_p, 0.0, 0.0),
        Vec3::new(0.0, speed, 0.0),
    );
    let period_h = conic.period_s(mars.gm_m3_s2).unwrap_or(f64::NAN) / 3600.0;
    vec![
        ODYSSEY.row(
            "period at the start, as set up",
            "h",
            (18.5, first_h),
            Tolerance::Relative(0.01),
        ),
        ODYSSEY.row(
            "period of 103 x 15300 km, just under 10 h",
            "h",
            (9.860, period_h),
            Tolerance::Relative(0.01),
        ),
        ODYSSEY
            .row(
                "passes, median of 40 campaigns",
                "",
                (332.0, flown.median(|c| f64::from(c.passes))),
                quarter,
            )
            .noted("bands of 0.15-0.30 and 0.10-0.25 W/cm2 give about 260 and 335"),
        ODYSSEY
            .row(
                "days, median",
                "",
                (77.0, flown.median(|c| c.days)),
                quarter,
            )
            .noted("start date from memory"),
        ODYSSEY.row(
            "apoapsis after 55 passes, median",
            "km",
            (15_300.0, after_55),
            quarter,
        ),
        ODYSSEY
            .row(
                "propellant saved against the engine, median",
                "kg",
                (200.0, flown.median(|c| c.saved_kg)),
                Tolerance::Relative(0.15),
            )
            .noted("published as more than 200 kg"),
        ODYSSEY.known(Known::FromMemory).row(
            "speed saved, median",
            "m/s",
            (1080.0, flown.median(|c| c.engine_speed_m_s)),
            Tolerance::Relative(0.05),
        ),
        ODYSSEY
            .known(Known::FromMemory)
            .row(
                "worst heat flux of a campaign, median",
                "W/cm2",
                (0.45, flown.median(|c| c.worst_heat_flux_w_m2 / 1e4)),
                Tolerance::Relative(0.12),
            )
            .noted("the band was set by this"),
    ]
}

/// An orbit that was flown over many rounds: what it was on the average, and how it turned.
struct Turned {
    /// Mean distances of the apsides, m.
    apsides_m: (f64, f64),
    /// Mean time from apoapsis to apoapsis, s.
    period_s: f64,
    /// Rates of node and periapsis, rad/s.
    rates: (f64, f64),
}

/// Flies an orbit, given by its apsis distances and angles, over some rounds.
fn turned(
    planet: &Planet,
    (r_p, r_a): (f64, f64),
    (inclination, argument): (f64, f64),
    rounds: u32,
) -> Turned {
    let open = without_interface(planet);
    let (si, ci) = inclination.sin_cos();
    let (sw, cw) = argument.sin_cos();
    let speed = speed_between_apsides(planet.gm_m3_s2, r_a, r_p, r_a);
    let mut position = Vec3::new(cw, sw * ci, sw * si).scale(-r_a);
    let mut velocity = Vec3::new(-sw, cw * ci, cw * si).scale(-speed);
    let angles = |r: Vec3<f64>, v: Vec3<f64>| {
        let h = r.cross(v);
        let node = h.x.atan2(-h.y);
        let line = Vec3::new(node.cos(), node.sin(), 0.0);
        let across = h.unit().cross(line);
        (node, (-r.dot(across)).atan2(-r.dot(line)))
    };
    let turn = |from: f64, to: f64| {
        let by = (to - from).rem_euclid(TAU);
        if by > 0.5 * TAU { by - TAU } else { by }
    };
    let (mut node, mut periapsis, mut time) = (0.0, 0.0, 0.0);
    let (mut low, mut high) = (0.0, 0.0);
    let mut last = angles(position, velocity);
    for _ in 0..rounds {
        for until in [Until::Air, Until::Apoapsis] {
            let next = coast(&open, position, velocity, until).expect("a closed orbit");
            (position, velocity) = (next.position, next.velocity);
            time += next.duration_s;
            match until {
                Until::Air | Until::Lowest => low += position.norm(),
                Until::Apoapsis => high += position.norm(),
            }
        }
        let now = angles(position, velocity);
        node += turn(last.0, now.0);
        periapsis += turn(last.1, now.1);
        last = now;
    }
    let rounds = f64::from(rounds);
    Turned {
        apsides_m: (low / rounds, high / rounds),
        period_s: time / rounds,
        rates: (node / time, periapsis / time),
    }
}

/// Secular rates of first order at the mean elements of a flown orbit, rad/s.
fn formula(planet: &Planet, flown: &Turned, inclination: f64) -> (f64, f64) {
    let (r_p, r_a) = flown.apsides_m;
    let p = 2.0 * r_p * r_a / (r_p + r_a);
    let n = TAU / flown.period_s;
    let rate = n * planet.zonal[0] * (planet.zonal_radius_m / p).powi(2);
    let c = inclination.cos();
    (-1.5 * rate * c, 0.75 * rate * (5.0 * c * c - 1.0))
}

fn drift() -> Vec<Row> {
    let mut rows = Vec::new();
    let day = 86_400.0_f64.to_degrees();
    let tight = Tolerance::Relative(5e-3);
    let mars = Planet::new(&World::bundled("mars").expect("bundled"));
    for (degrees, low, high) in [(93.5_f64, 120e3, 15_000e3), (28.0, 200e3, 900e3)] {
        let inclination = degrees.to_radians();
        let radius = mars.equatorial_radius_m;
        let flown = turned(
            &mars,
            (radius + low, radius + high),
            (inclination, 1.1),
            400,
        );
        let expected = formula(&mars, &flown, inclination);
        let what = format!(
            "Mars {:.0} x {:.0} km, {degrees} deg",
            low / 1e3,
            high / 1e3
        );
        for (of, expected, found) in [
            ("node", expected.0, flown.rates.0),
            ("periapsis", expected.1, flown.rates.1),
        ] {
            let pair = (expected * day, found * day);
            rows.push(DRIFT.known(Known::Computed).row(
                format!("{what}: {of}"),
                "deg/d",
                pair,
                tight,
            ));
        }
    }
    let earth = Planet::new(&World::bundled("earth").expect("bundled"));
    // Where the node keeps up with the Sun: 360 deg in a tropical year of 365.2422 days.
    let radius = earth.equatorial_radius_m;
    let (radii, sun) = (
        (radius + 600e3, radius + 1000e3),
        TAU / (365.2422 * 86_400.0),
    );
    let first = turned(&earth, radii, (1.71, 1.5), 100);
    let inclination = (sun / formula(&earth, &first, 0.0).0).acos();
    let flown = turned(&earth, radii, (inclination, 1.5), 700);
    rows.push(
        DRIFT
            .row(
                "Earth 600 x 1000 km, follows the Sun",
                "deg/d",
                (0.985_647, flown.rates.0 * day),
                tight,
            )
            .noted("node of the inclination at which it turns 360 deg in a tropical year; J3 and J4 are flown too"),
    );
    rows
}
