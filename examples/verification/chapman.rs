//! Rows of Chapman's theory: entries from circular speed, and the width of the corridor.

use crate::verification::flying::{G0, entry, flight, peak, planet_of, ship, to_200_m_s};
use crate::verification::row::{Group, Known, Row, Tolerance};
use periband::numeric::root::bracketed_root;
use periband::pass::Ending;
use periband::pass::batch::Settings;
use periband::world::ExponentialWorld;

pub(crate) fn rows() -> Vec<Row> {
    [chapman(), corridor()].concat()
}

const CHAPMAN: Group = Group {
    name: "Chapman's entries from circular speed, sqrt(beta r) = 30, full integration",
    source: "Chapman, NASA TR R-11 (1959); to 3 %, his theory has constant gravity and radius",
    known: Known::Computed,
};

/// Peaks of a flight that starts at the speed of a circle.
struct Peaks {
    /// Deceleration along the horizon, g of the flown planet.
    level: f64,
    /// Horizontal speed there over that of a circle, Chapman's u.
    at_u: f64,
    /// Deceleration along the horizon when u has fallen to a value asked for, g of the flown planet.
    level_at_u: f64,
    /// Drag, standard g.
    drag: f64,
    /// Speed there, m/s.
    drag_at_m_s: f64,
}

/// A flight from 95 km up at an angle below the horizon.
fn chapman_peak((degrees, lift): (f64, f64), asked_u: f64) -> Peaks {
    let world = ExponentialWorld::default();
    let r = world.equatorial_radius_m;
    let planet = planet_of(ExponentialWorld {
        scale_height_m: r / 900.0,
        ..world
    });
    let h = 95e3;
    let v = (planet.gm_m3_s2 / (r + h)).sqrt();
    let start = entry(&planet, v, -degrees, h);
    let settings = Settings {
        longest_s: 40_000.0,
        ..to_200_m_s(&planet)
    };
    let sample = ship(300.0, lift);
    let pass = flight(&planet, &sample, &start, (&settings, 0.5));
    let gravity = planet.gm_m3_s2 / (planet.equatorial_radius_m * planet.equatorial_radius_m);
    let circle = (planet.gm_m3_s2 / planet.equatorial_radius_m).sqrt();
    // Chapman's horizontal deceleration is that of the horizontal speed by drag.
    let (mut level, mut at_u, mut level_at_u) = (0.0, 0.0, f64::NAN);
    for moment in &pass.history {
        let y = &moment.state;
        let (r, v) = ([y[0], y[1], y[2]], [y[3], y[4], y[5]]);
        let dot = |a: [f64; 3], b: [f64; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        let sine = dot(r, v) / (dot(r, r) * dot(v, v)).sqrt();
        let cosine = (1.0 - sine * sine).sqrt();
        let along = moment.felt.deceleration / sample.vehicle.sensed_over_drag() * cosine / gravity;
        let u = moment.felt.speed * cosine / circle;
        if along > level {
            (level, at_u) = (along, u);
        }
        if level_at_u.is_nan() && u <= asked_u {
            level_at_u = along;
        }
    }
    let drag = pass.result.peak_deceleration_m_s2 / sample.vehicle.sensed_over_drag() / G0;
    Peaks {
        level,
        at_u,
        level_at_u,
        drag,
        drag_at_m_s: peak(&pass).speed,
    }
}

fn chapman() -> Vec<Row> {
    let published = CHAPMAN.known(Known::FromMemory);
    let within = Tolerance::Relative(0.03);
    let decay = chapman_peak((0.01, 0.0), 0.429);
    let mut rows = vec![
        published.row("ballistic decay: peak", "g", (8.3, decay.level), within),
        CHAPMAN.row(
            "ballistic decay: peak, his equation",
            "g",
            (8.29, decay.level),
            within,
        ),
        CHAPMAN.row(
            "ballistic decay: u of the peak",
            "",
            (0.429, decay.at_u),
            within,
        ),
        CHAPMAN.row(
            "ballistic decay: peak drag, other program",
            "g",
            (8.158, decay.drag),
            within,
        ),
        CHAPMAN.row(
            "the same: speed there",
            "m/s",
            (3369.0, decay.drag_at_m_s),
            within,
        ),
    ];
    for (degrees, lift, peak, u) in [
        (1.0, 0.0, 8.267, 0.435),
        (2.0, 0.0, 9.119, 0.482),
        (3.0, 0.0, 10.915, 0.531),
        (5.0, 0.0, 15.795, 0.576),
        (10.0, 0.0, 29.845, 0.598),
        (0.05, 0.25, 2.721, 0.354),
        (0.05, 0.5, 1.601, 0.294),
        (0.05, 1.0, 0.887, 0.225),
    ] {
        let found = chapman_peak((degrees, lift), u);
        let check = format!("-{degrees} deg, L/D {lift}: peak");
        rows.push(CHAPMAN.row(check, "g", (peak, found.level), within));
        // With lift the peak is so flat that a per cent of it moves its place by a tenth: there what is felt at his
        // place is held.
        if lift == 0.0 {
            let check = format!("-{degrees} deg, L/D {lift}: u of the peak");
            rows.push(CHAPMAN.row(check, "", (u, found.at_u), within));
        } else {
            let check = format!("-{degrees} deg, L/D {lift}: at u {u}");
            rows.push(CHAPMAN.row(check, "g", (peak, found.level_at_u), within));
        }
    }
    rows
}

const CORRIDOR: Group = Group {
    name: "Entry corridor at parabolic speed, 10 g",
    source: "Chapman, NASA TR R-55 (1960), as tabulated in Spacecraft Systems Engineering, Table 5.9",
    known: Known::Published,
};

fn corridor() -> Vec<Row> {
    let planet = planet_of(ExponentialWorld {
        entry_interface_m: 121_920.0,
        scale_height_m: 7086.8,
        ..ExponentialWorld::default()
    });
    let radius = planet.equatorial_radius_m + 121_920.0;
    let v = (2.0 * planet.gm_m3_s2 / radius).sqrt();
    let fly = |degrees: f64, lift: f64| {
        let start = entry(&planet, v, degrees, 121_920.0);
        flight(
            &planet,
            &ship(300.0, lift),
            &start,
            (&to_200_m_s(&planet), 2.0),
        )
        .result
    };
    // The overshoot boundary parts flights that come down from those that leave; flown lift down.
    let overshoot = |lift: f64| {
        let (mut down, mut leaves) = (-9.0, -3.0);
        while leaves - down > 1e-7 {
            let middle = 0.5 * (down + leaves);
            if fly(middle, -lift).ending == Ending::Landed {
                down = middle;
            } else {
                leaves = middle;
            }
        }
        down
    };
    let undershoot = |lift: f64| {
        let over = |degrees: f64| fly(degrees, lift).peak_deceleration_m_s2 / G0 - 10.0;
        bracketed_root(over, -12.0, -5.0, 1e-8).expect("10 g lie between the ends")
    };
    let perigee = |degrees: f64| radius * degrees.to_radians().cos().powi(2) / 1e3;
    let mut rows = Vec::new();
    for (lift, published, other, angles) in [
        (0.0, 11.0, 11.10, [-5.48732, -5.97947]),
        (1.0, 82.0, 82.53, [-4.62737, -7.96588]),
    ] {
        let (high, low) = (overshoot(lift), undershoot(lift));
        let width = perigee(high) - perigee(low);
        let computed = CORRIDOR.known(Known::Computed);
        let check = |what: &str| format!("L/D {lift}: {what}");
        let within = Tolerance::Relative(0.03);
        rows.push(CORRIDOR.row(check("width"), "km", (published, width), within));
        let within = Tolerance::Relative(2e-3);
        rows.push(computed.row(check("width, other program"), "km", (other, width), within));
        let within = Tolerance::Absolute(1e-3);
        rows.push(computed.row(check("overshoot"), "deg", (angles[0], high), within));
        rows.push(computed.row(check("undershoot"), "deg", (angles[1], low), within));
    }
    rows
}
