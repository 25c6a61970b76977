//! Rows of capture by engine and by a flyby: impulses, finite burns, turn angles.

use crate::verification::row::{Group, Known, Row, Tolerance};
use periband::craft::engine::{Thruster, propellant_kg, robbins_loss_m_s};
use periband::pass::burn::{Attitude, Burner};
use periband::pass::conic::Conic;
use periband::pass::flyby::turn_angle_rad;
use periband::pass::orbit::speed_between_apsides;

const CURTIS: Group = Group {
    name: "Impulses of arrival and departure",
    source: "Curtis, Orbital Mechanics for Engineering Students, Earth-Mars examples; recomputed",
    known: Known::FromMemory,
};
const IMPULSE: Group = Group {
    name: "Impulses of a capture at Mars",
    source: "two-body relations and the rocket equation, computed to ten figures",
    known: Known::Computed,
};
const LOSS: Group = Group {
    name: "Loss of a finite burn, best start, full integration",
    source: "equations of motion integrated by an independent program",
    known: Known::Computed,
};
const ROBBINS: Group = Group {
    name: "Loss of a finite burn by estimate",
    source: "Robbins, AIAA J. 4(8), 1966: (1/24) (mu/r3) t2 dv",
    known: Known::FromMemory,
};
const TURN: Group = Group {
    name: "Turn of a flyby",
    source: "Curtis, Venus flyby example (from memory); Jupiter computed from the equations",
    known: Known::FromMemory,
};

pub(crate) fn rows() -> Vec<Row> {
    [curtis(), impulses(), losses(), turns()].concat()
}

fn curtis() -> Vec<Row> {
    let close = Tolerance::Relative(1e-3);
    // Capture at Mars into an orbit of seven hours at the periapsis that costs least.
    let (gm, r_p, r_a) = (42_830e9, 5447.8e3, 2.0 * 8832.08e3 - 5447.8e3);
    let arrival = Conic::hyperbola(gm, r_p, 2648.0);
    let orbit = Conic::ellipse(gm, r_p, r_a);
    let brake = arrival.periapsis_speed_m_s() - orbit.periapsis_speed_m_s();
    let aiming = r_p * arrival.periapsis_speed_m_s() / 2648.0;
    let beta = (1.0 / arrival.eccentricity()).acos().to_degrees();
    let period = orbit.period_s().unwrap_or(f64::NAN) / 3600.0;
    // Departure from a round orbit of 300 km about the Earth.
    let tight = Tolerance::Relative(1e-4);
    let (gm, r) = (398_600e9, 6678e3);
    let leave = Conic::hyperbola(gm, r, 2943.0);
    let round = (gm / r).sqrt();
    let change = leave.periapsis_speed_m_s() - round;
    // The book takes 9.81 m/s2 for the specific impulse of 300 s.
    let fraction = propellant_kg(1.0, change, 300.0 * 9.81 / 9.806_65);
    let vallado = Group {
        source: "Vallado, Fundamentals of Astrodynamics, example 6-1; recomputed",
        ..CURTIS
    };
    let (gm, low, high) = (3.986_004_418e14, 6_569_481.11, 42_159_485.57);
    let first = speed_between_apsides(gm, low, low, high) - (gm / low).sqrt();
    let second = (gm / high).sqrt() - speed_between_apsides(gm, high, low, high);
    let half = 0.5 * Conic::ellipse(gm, low, high).period_s().unwrap_or(f64::NAN) / 60.0;
    let exact = Tolerance::Relative(1e-6);
    vec![
        CURTIS.row(
            "Mars, best periapsis, 7 h: eccentricity",
            "",
            (0.3833, orbit.eccentricity()),
            close,
        ),
        CURTIS.row("the same: period", "h", (7.0, period), close),
        CURTIS.row(
            "the same: speed change",
            "km/s",
            (1.470, brake / 1e3),
            close,
        ),
        CURTIS.row(
            "the same: angle of the asymptote",
            "deg",
            (58.09, beta),
            close,
        ),
        CURTIS.known(Known::Computed).row(
            "the same: aiming radius",
            "km",
            (9809.7, aiming / 1e3),
            close,
        ),
        CURTIS.row(
            "Earth, 300 km: speed in orbit",
            "km/s",
            (7.7258, round / 1e3),
            tight,
        ),
        CURTIS.row(
            "the same: speed change",
            "km/s",
            (3.589_57, change / 1e3),
            tight,
        ),
        CURTIS.row(
            "the same: eccentricity",
            "",
            (1.145_107, leave.eccentricity()),
            tight,
        ),
        CURTIS.row(
            "the same: share of propellant",
            "",
            (0.704_680, fraction),
            tight,
        ),
        vallado.row(
            "Hohmann transfer: first burn",
            "km/s",
            (2.457_038, first / 1e3),
            exact,
        ),
        vallado.row(
            "Hohmann transfer: second burn",
            "km/s",
            (1.478_187, second / 1e3),
            exact,
        ),
        vallado
            .row(
                "Hohmann transfer: time",
                "min",
                (315.403, half),
                Tolerance::Relative(2e-6),
            )
            .noted("printed to six figures"),
    ]
}

fn impulses() -> Vec<Row> {
    let tight = Tolerance::Relative(1e-9);
    let (gm, r_p) = (4.282_837_5e13, 3_696_190.0);
    let arrival = Conic::hyperbola(gm, r_p, 2650.0);
    let speed = arrival.periapsis_speed_m_s();
    let to_period = |hours: f64| {
        let a = (gm * (hours * 3600.0 / std::f64::consts::TAU).powi(2)).cbrt();
        (speed - speed_between_apsides(gm, r_p, r_p, 2.0 * a - r_p)) / 1e3
    };
    let round = (speed - (gm / r_p).sqrt()) / 1e3;
    let propellant = propellant_kg(1000.0, 1000.0, 320.0);
    vec![
        IMPULSE.row(
            "speed at periapsis",
            "km/s",
            (5.495_164_809, speed / 1e3),
            tight,
        ),
        IMPULSE.row("to 35.5 h", "km/s", (0.854_957_133, to_period(35.5)), tight),
        IMPULSE.row(
            "to one sol",
            "km/s",
            (0.904_113_960, to_period(24.6229)),
            tight,
        ),
        IMPULSE.row("to 45 h", "km/s", (0.829_144_498, to_period(45.0)), tight),
        IMPULSE.row("to a circle", "km/s", (2.091_171_839, round), tight),
        IMPULSE.row(
            "propellant of 1000 kg for 1000 m/s at 320 s",
            "kg",
            (272.878_228_285_6, propellant),
            Tolerance::Relative(1e-12),
        ),
    ]
}

fn losses() -> Vec<Row> {
    let mut rows = Vec::new();
    let (gm, r_p) = (4.282_837_5e13, 3_696_190.0);
    for (thrust_n, time_s, fixed, against, estimate) in [
        (2000.0, 391.222, 4.7694, 2.2078, 4.8680),
        (400.0, 1956.109, 83.926, 42.118, 121.70),
    ] {
        let thruster = Thruster {
            thrust_n,
            specific_impulse_s: 320.0,
        };
        let case = format!("900 m/s, {thrust_n} N");
        for (attitude, words, expected) in [
            (Attitude::Fixed, "fixed in space", fixed),
            (Attitude::AgainstVelocity, "against the velocity", against),
        ] {
            let burner = Burner {
                conic: Conic::hyperbola(gm, r_p, 2650.0),
                mass_kg: 1000.0,
                thruster,
                attitude,
                farthest_m: 1e9,
            };
            let found = burner.best_start(900.0).map_or(f64::NAN, |(_, burned)| {
                900.0 - burner.impulse_m_s(burned.conic.twice_energy)
            });
            rows.push(LOSS.row(
                format!("{case}, {words}"),
                "m/s",
                (expected, found),
                Tolerance::Relative(0.01),
            ));
        }
        let time = thruster.burn_time_s(1000.0, 900.0);
        rows.push(LOSS.row(
            format!("{case}: burn time"),
            "s",
            (time_s, time),
            Tolerance::Relative(2e-6),
        ));
        let found = robbins_loss_m_s(gm, r_p, time, 900.0);
        let row = ROBBINS.row(
            format!("{case}: estimate"),
            "m/s",
            (estimate, found),
            Tolerance::Relative(1e-4),
        );
        rows.push(row);
    }
    // Where the estimate may be relied on, and how far it overstates a burn that is too long for it.
    let ratio = |estimate: usize, loss: usize| rows[estimate].computed / rows[loss].computed;
    let short = ROBBINS.row(
        "2000 N: estimate over loss, fixed in space",
        "",
        (4.8680 / 4.7694, ratio(3, 0)),
        Tolerance::Relative(0.01),
    );
    let long = ROBBINS
        .row(
            "400 N: the same, a burn too long for it",
            "",
            (121.70 / 83.926, ratio(7, 4)),
            Tolerance::Relative(0.01),
        )
        .noted("the burn turns through 1.8 rad; the estimate is said to hold below 0.5 rad");
    rows.extend([short, long]);
    rows
}

fn turns() -> Vec<Row> {
    let venus = turn_angle_rad(324_900e9, 6.352e6, 3733.0).to_degrees();
    let jupiter = turn_angle_rad(126_686_531.9e9, 78_641.2e3, 10e3);
    let change = 2.0 * 10.0 * (0.5 * jupiter).sin();
    let computed = TURN.known(Known::Computed);
    let tight = Tolerance::Relative(1e-8);
    vec![
        TURN.row(
            "Venus, 6352 km, 3.733 km/s",
            "deg",
            (103.6, venus),
            Tolerance::Relative(1e-3),
        ),
        computed.row(
            "Jupiter, 78641.2 km, 10 km/s",
            "deg",
            (140.627_943, jupiter.to_degrees()),
            tight,
        ),
        computed.row(
            "the same: speed change",
            "km/s",
            (18.831_054, change),
            Tolerance::Relative(3e-8),
        ),
    ]
}
