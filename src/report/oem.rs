//! Writes a flown pass as an Orbit Ephemeris Message in key-value notation (CCSDS 502.0-B).

use super::folder::utc;
use crate::numeric::Vec3;
use crate::pass::elements::Elements;
use crate::scenario::epoch::Epoch;
use crate::study::Case;
use crate::study::opm_arrival::{OWN_FRAME, turn_to_equator};
use crate::study::single::SinglePass;
use crate::world::pole::Turn;
use std::fmt::Write as _;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

/// The moment of writing: that of the environment variable `SOURCE_DATE_EPOCH` (seconds of Unix time) where it is
/// set, so that a file can be made again bit for bit.
#[must_use]
pub fn now() -> String {
    let set = std::env::var("SOURCE_DATE_EPOCH").ok();
    let moment = match set.and_then(|text| text.parse::<u32>().ok()) {
        Some(seconds) => UNIX_EPOCH + Duration::from_secs(u64::from(seconds)),
        None => SystemTime::now(),
    };
    utc(moment).trim_end_matches('Z').to_owned()
}

/// Whether a file that begins so is a message of this program.
#[must_use]
pub fn is_own(start: &str) -> bool {
    start.starts_with("CCSDS_OEM_VERS = ")
        && start
            .lines()
            .take(3)
            .any(|line| line == "ORIGINATOR = PERIBAND")
}

/// The message of a pass; `created` is the moment of writing, as in `2031-05-04T12:00:00`.
///
/// Positions and velocities stand in the scenario's `arrival.reference_frame`, times in its `time_system`, counted
/// from `arrival.epoch`, the passage of the vacuum periapsis.
#[must_use]
pub fn message(case: &Case, single: &SinglePass, created: &str) -> String {
    let placing = &case.scenario.arrival.placing;
    let body = case.world.body();
    let gm = body.gm_m3_s2;
    let frame = placing.reference_frame.as_deref().unwrap_or(OWN_FRAME);
    let turn = turn_to_equator(frame, &body.name).unwrap_or(Turn::NONE);
    let start = Elements::from_state(gm, single.start.position, single.start.velocity);
    let before = start.map_or(0.0, |elements| elements.since_periapsis_s(gm));
    let periapsis = placing.epoch.unwrap_or(Epoch::J2000);
    let entry = periapsis.later(before);
    let (sine, cosine) = placing.ascending_node_rad.sin_cos();
    let placed = |v: [f64; 3]| {
        let turned = Vec3::new(
            cosine * v[0] - sine * v[1],
            sine * v[0] + cosine * v[1],
            v[2],
        );
        let there = turn.from_body(turned);
        [there.x / 1e3, there.y / 1e3, there.z / 1e3]
    };
    let history = &single.flown.history;
    let last = history.last().map_or(0.0, |moment| moment.time_s);
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let name = case.scenario.ship_name.as_deref().unwrap_or("SHIP");
    let mut text = String::new();
    let mut line = |key: &str, value: &str| {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{key} = {value}");
    };
    line("CCSDS_OEM_VERS", "2.0");
    line("CREATION_DATE", created);
    line("ORIGINATOR", "PERIBAND");
    let mut text = text + "\nMETA_START\n";
    let mut line = |key: &str, value: &str| {
        let _ = writeln!(text, "{key} = {value}");
    };
    line("OBJECT_NAME", &one_line(name));
    line(
        "OBJECT_ID",
        &one_line(placing.object_id.as_deref().unwrap_or("NONE")),
    );
    line("CENTER_NAME", &one_line(&body.name).to_uppercase());
    line("REF_FRAME", frame);
    line(
        "TIME_SYSTEM",
        placing.time_system.as_deref().unwrap_or("TDB"),
    );
    line("START_TIME", &entry.to_string());
    line("STOP_TIME", &entry.later(last).to_string());
    line("INTERPOLATION", "HERMITE");
    line("INTERPOLATION_DEGREE", "7");
    text += "META_STOP\n\n";
    for comment in comments(case, single, frame) {
        let _ = writeln!(text, "COMMENT {comment}");
    }
    for moment in history {
        let y = &moment.state;
        let (r, v) = (placed([y[0], y[1], y[2]]), placed([y[3], y[4], y[5]]));
        let _ = writeln!(
            text,
            "{} {:.9} {:.9} {:.9} {:.12} {:.12} {:.12}",
            entry.later(moment.time_s),
            r[0],
            r[1],
            r[2],
            v[0],
            v[1],
            v[2]
        );
    }
    text
}

fn comments(case: &Case, single: &SinglePass, frame: &str) -> Vec<String> {
    let mut comments = vec![
        "Preliminary analysis only; not a basis for flight.".to_owned(),
        format!(
            "One pass through the air, aimed at a vacuum periapsis of {:.3} km, from the entry interface on.",
            single.aim_m / 1e3
        ),
    ];
    if case.scenario.arrival.placing.epoch.is_none() {
        comments.push(
            "The scenario has no epoch: the vacuum periapsis is put at 2000-01-01T12:00:00."
                .to_owned(),
        );
    }
    if frame == OWN_FRAME {
        comments.push(format!(
            "{OWN_FRAME}: centre of the body, z along its spin axis, x in its equator, fixed among the stars,"
        ));
        comments.push(
            "towards the ascending node of the arrival less arrival.ascending_node.".to_owned(),
        );
    }
    comments
}
