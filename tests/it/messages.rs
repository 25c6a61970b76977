//! Orbit parameter messages in, orbit ephemeris messages out.
//!
//! The form is that of CCSDS 502.0-B; the messages here are made up.

#![allow(
    clippy::format_push_string,
    clippy::format_collect,
    reason = "a test may allocate"
)]
#![allow(clippy::unwrap_used, reason = "a test may stop at once")]

use crate::cli::{Folder, periband, text};
use crate::snapshots;
use periband::numeric::Vec3;
use periband::scenario::epoch::Epoch;
use periband::scenario::opm::Opm;
use periband::study::Case;
use periband::study::opm_arrival::{arrival, turn_to_equator};
use periband::world::shape::Place;
use periband::world::{Planet, World};
use proptest::prelude::*;
use std::fs;
use std::path::Path;

const MARS: &str = include_str!("../../examples/arrival.opm");

fn scenario(arrival: &str) -> String {
    format!(
        "title: Arrival by message\nworld: mars\n\
         ship: {{mass: 62 t, reference_area: 310 m2, drag_coefficient: 1.45, nose_radius: 3.2 m}}\n\
         arrival: {arrival}\nuncertainty: {{air: exact}}\n"
    )
}

fn load(folder: &Path, arrival: &str) -> Result<Case, String> {
    let path = folder.join("arrival.yaml");
    fs::write(&path, scenario(arrival)).unwrap();
    Case::load(&path, &[]).map_err(|error| error.to_string())
}

/// Rows of an OEM: time, position in km, velocity in km/s.
fn rows(oem: &str) -> Vec<(Epoch, Vec3<f64>, Vec3<f64>)> {
    let data = oem.split("META_STOP").nth(1).unwrap();
    data.lines()
        .filter(|line| !line.trim().is_empty() && !line.starts_with("COMMENT"))
        .map(|line| {
            let fields: Vec<&str> = line.split_whitespace().collect();
            let n: Vec<f64> = fields[1..].iter().map(|f| f.parse().unwrap()).collect();
            (
                Epoch::parse(fields[0]).unwrap(),
                Vec3::new(n[0], n[1], n[2]),
                Vec3::new(n[3], n[4], n[5]),
            )
        })
        .collect()
}

/// The state of the message, flown under the zonal field to the entry interface by an integration of our own here, is
/// the first row of the ephemeris: in the message's frame, at the right moment.
#[test]
fn a_message_is_flown_and_comes_back_in_its_own_frame() {
    let folder = Folder::new("messages");
    fs::write(folder.0.join("state.opm"), MARS).unwrap();
    fs::write(
        folder.0.join("arrival.yaml"),
        scenario("{opm: ./state.opm}"),
    )
    .unwrap();
    let run = periband(
        &folder.0,
        &["pass", "arrival.yaml", "--oem", "pass.oem", "--quiet"],
    );
    assert!(run.status.success(), "{}", text(&run.stderr));
    let oem = fs::read_to_string(folder.0.join("pass.oem")).unwrap();
    for line in [
        "CENTER_NAME = MARS",
        "REF_FRAME = EME2000",
        "TIME_SYSTEM = TDB",
        "OBJECT_ID = 2031-007A",
    ] {
        assert!(oem.contains(line), "{line}: {oem}");
    }
    let rows = rows(&oem);
    let opm = Opm::from_text("state.opm", MARS).unwrap();
    let periband::scenario::opm::OpmState::Cartesian(r, v) = opm.state else {
        panic!("a state vector");
    };
    let planet = Planet::new(&World::bundled("mars").unwrap());
    // The field is that of the equator's frame.
    let turn = turn_to_equator("EME2000", "Mars").unwrap();
    let (mut r, mut v) = (Vec3::new(r[0], r[1], r[2]), Vec3::new(v[0], v[1], v[2]));
    (r, v) = (turn.to_body(r), turn.to_body(v));
    // Leapfrog of the fourth order (Yoshida 1990), in steps of 0.5 s.
    let span = rows[0].0.since(opm.epoch);
    assert!(span > 0.0);
    let steps = (span / 0.5).ceil();
    let cube = 2f64.cbrt();
    let (a, b) = (1.0 / (2.0 - cube), -cube / (2.0 - cube));
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    for _ in 0..steps as u64 {
        for part in [a, b, a] {
            let h = part * span / steps;
            r = v.scale_add(0.5 * h, r);
            v = planet.gravity(&Place::new(r)).scale_add(h, v);
            r = v.scale_add(0.5 * h, r);
        }
    }
    let (off, slip) = (
        (turn.to_body(rows[0].1.scale(1e3)) - r).norm(),
        (turn.to_body(rows[0].2.scale(1e3)) - v).norm(),
    );
    assert!(off < 1.0 && slip < 1e-3, "{off} m, {slip} m/s");
    let first = rows.windows(2).all(|pair| pair[1].0 > pair[0].0);
    assert!(first && rows.len() > 50);
}

#[test]
fn both_forms_of_a_message_and_aims_of_ones_own() {
    let folder = Folder::new("messages-forms");
    let opm = |name: &str, text: &str| fs::write(folder.0.join(name), text).unwrap();
    opm("state.opm", MARS);
    let vector = load(&folder.0, "{opm: ./state.opm}").unwrap();
    // The elements of the same state, as the message would give them in the frame of the equator.
    let placing = &vector.scenario.arrival.placing;
    let gm = vector.world.body().gm_m3_s2;
    let (start, _) = vector
        .problem
        .launch(
            vector.problem.aim().from_m,
            vector.problem.nominal(),
            periband::ensemble::problem::SampleNumber::Nominal,
        )
        .unwrap();
    let elements =
        periband::pass::elements::Elements::from_state(gm, start.position, start.velocity).unwrap();
    let text = format!(
        "CCSDS_OPM_VERS = 2.0\nCREATION_DATE = 2031-01-01T00:00:00\nORIGINATOR = TEST\nOBJECT_NAME = X\nOBJECT_ID = 2031-007A\n\
         CENTER_NAME = Mars\nREF_FRAME = BODY_EQUATOR_INERTIAL\nTIME_SYSTEM = TDB\nEPOCH = 2031-07-01T00:00:00\n\
         SEMI_MAJOR_AXIS = {} [km]\nECCENTRICITY = {}\nINCLINATION = {} [deg]\nRA_OF_ASC_NODE = {} [deg]\n\
         ARG_OF_PERICENTER = {} [deg]\nTRUE_ANOMALY = {} [deg]\nGM = {} [km**3/s**2]\n",
        -gm / elements.twice_energy / 1e3,
        elements.eccentricity(gm),
        elements.inclination_rad.to_degrees(),
        placing.ascending_node_rad.to_degrees(),
        elements.argument_rad.to_degrees(),
        elements.true_anomaly_rad.to_degrees(),
        gm / 1e9
    );
    opm("elements.opm", &text);
    let kepler = load(&folder.0, "{opm: ./elements.opm}").unwrap();
    let (a, b) = (&vector.scenario.arrival, &kepler.scenario.arrival);
    assert!((a.inclination_rad - b.inclination_rad).abs() < 1e-9);
    assert!((a.argument_of_periapsis_rad - b.argument_of_periapsis_rad).abs() < 1e-9);
    assert!((vector.problem.aim().from_m - kepler.problem.aim().from_m).abs() < 0.1);
    let ranged = load(
        &folder.0,
        "{opm: {file: ./state.opm, aim_periapsis: {from: 45 km, to: 60 km, step: 1 km}}}",
    )
    .unwrap();
    assert_eq!(ranged.problem.aim().to_m, 60e3);
    assert_eq!(
        ranged.scenario.arrival.energy,
        vector.scenario.arrival.energy
    );
}

#[test]
fn every_bad_message_is_answered() {
    let mars = World::bundled("mars").unwrap();
    let edit = |old: &str, new: &str| {
        assert!(MARS.contains(old), "{old}");
        MARS.replacen(old, new, 1)
    };
    let cases = [
        ("not a message", "title: x\n".to_owned()),
        ("another message", edit("CCSDS_OPM_VERS", "CCSDS_OEM_VERS")),
        ("no centre", edit("CENTER_NAME", "CENTRE_NAME")),
        ("another body", edit("= MARS", "= VENUS")),
        ("a frame that turns", edit("EME2000", "ITRF2000")),
        (
            "a clock that counts from somewhere",
            edit("TIME_SYSTEM = TDB", "TIME_SYSTEM = MET"),
        ),
        ("no moment", edit("EPOCH = 2031-", "EPOCH = 31-")),
        ("a word for a number", edit("X_DOT = ", "X_DOT = fast ")),
        ("another unit", edit("[km]", "[m]")),
        ("a coordinate is missing", edit("Z_DOT", "COMMENT Z_DOT")),
        ("twice", MARS.to_owned() + "X = 1 [km]\n"),
        (
            "manoeuvres",
            MARS.to_owned() + "MAN_EPOCH_IGNITION = 2031-06-04T09:00:34.1\n",
        ),
        (
            "GM of another body",
            MARS.to_owned() + "GM = 398600.4418 [km**3/s**2]\n",
        ),
        ("GM in other units", MARS.to_owned() + "GM = 4.2828e13\n"),
        ("an unknown version", edit("VERS = 2.0", "VERS = 17.3")),
        (
            "a state in the air",
            edit("X = 16558.940800", "X = 2050")
                .replacen("Y = 12672.414343", "Y = 1570", 1)
                .replacen("Z = -22319.768808", "Z = -2350", 1),
        ),
        (
            "in m/s for km/s",
            edit("X_DOT = -1.732638814", "X_DOT = -1732638.814"),
        ),
    ];
    let mut said = String::new();
    for (name, text) in cases {
        let answer = Opm::from_text("state.opm", &text).and_then(|opm| arrival(&opm, &mars, None));
        let answer = answer.map_or_else(|error| error.to_string(), |_| "accepted".to_owned());
        said += &format!("=== {name}\n{answer}\n\n");
    }
    let folder = Folder::new("messages-bad");
    fs::write(folder.0.join("state.opm"), MARS).unwrap();
    for (name, arrival) in [
        ("a second arrival", "{opm: ./state.opm, orbit: {}}"),
        ("no such file", "{opm: ./none.opm}"),
    ] {
        let answer = load(&folder.0, arrival).map_or_else(|error| error, |_| "accepted".to_owned());
        let answer = answer.replace(&folder.0.display().to_string(), "FOLDER");
        said += &format!("=== {name}\n{answer}\n\n");
    }
    snapshots::check("bad_messages", &said);
    assert!(!said.contains("accepted"), "{said}");
}

/// A message in Keplerian elements, with one line of it changed.
fn elements(change: (&str, &str)) -> String {
    let text = "CCSDS_OPM_VERS = 2.0\nCREATION_DATE = 2031-06-28T08:00:00\nORIGINATOR = EXAMPLE\n\
         OBJECT_NAME = BRISANDEL\nOBJECT_ID = 2031-007A\nCENTER_NAME = MARS\nREF_FRAME = EME2000\nTIME_SYSTEM = TDB\n\
         EPOCH = 2031-07-01T06:30:00.000\nSEMI_MAJOR_AXIS = -6586 [km]\nECCENTRICITY = 1.523\nINCLINATION = 32 [deg]\n\
         RA_OF_ASC_NODE = 0 [deg]\nARG_OF_PERICENTER = 0 [deg]\nTRUE_ANOMALY = -120 [deg]\nGM = 42828 [km**3/s**2]\n";
    assert!(text.contains(change.0), "{}", change.0);
    text.replacen(change.0, change.1, 1)
}

/// No conic has such a state: each is refused by the program where it stands in the message, under its key, with
/// what would do. The first is the one that was flown as if the ship stood on the other side of the planet.
#[test]
#[allow(clippy::too_many_lines)] // a table
fn past_asymptote_opm_is_refused() {
    let folder = Folder::new("messages-impossible");
    fs::write(
        folder.0.join("arrival.yaml"),
        scenario("{opm: ./state.opm}"),
    )
    .unwrap();
    let checked = |text: &str| {
        fs::write(folder.0.join("state.opm"), text).unwrap();
        periband(&folder.0, &["check", "arrival.yaml"])
    };
    let good = checked(&elements(("= 32 [deg]", "= 32 [deg]")));
    assert!(good.status.success(), "{}", text(&good.stderr));
    for (from, to, line, key, said) in [
        (
            "ANOMALY = -120",
            "ANOMALY = 179",
            15,
            "TRUE_ANOMALY",
            "past the asymptote",
        ),
        // The asymptote itself, acos(-1/e), within the last digit on either side.
        (
            "ANOMALY = -120",
            "ANOMALY = -131.05",
            15,
            "TRUE_ANOMALY",
            "between -131.04",
        ),
        (
            "ANOMALY = -120",
            "ANOMALY = 1e4",
            15,
            "TRUE_ANOMALY",
            "between -360 and 360 deg",
        ),
        (
            "= 32 [deg]",
            "= 900 [deg]",
            12,
            "INCLINATION",
            "between 0 and 180 deg",
        ),
        (
            "= 32 [deg]",
            "= -1 [deg]",
            12,
            "INCLINATION",
            "between 0 and 180 deg",
        ),
        (
            "NODE = 0",
            "NODE = 3600",
            13,
            "RA_OF_ASC_NODE",
            "between -360 and 360 deg",
        ),
        (
            "CENTER = 0",
            "CENTER = -361",
            14,
            "ARG_OF_PERICENTER",
            "between -360 and 360 deg",
        ),
        ("= 1.523", "= -0.5", 11, "ECCENTRICITY", "0 or more"),
        ("= 1.523", "= 0.5", 11, "ECCENTRICITY", "belong to no conic"),
        ("= 1.523", "= 1", 11, "ECCENTRICITY", "belong to no conic"),
        (
            "= -6586",
            "= 6586",
            11,
            "ECCENTRICITY",
            "belong to no conic",
        ),
        ("= -6586", "= 0", 11, "ECCENTRICITY", "belong to no conic"),
        (
            "VERS = 2.0",
            "VERS = 9.9",
            1,
            "CCSDS_OPM_VERS",
            "2.0 and 3.0",
        ),
        (
            "GM = 42828 [km**3/s**2]",
            "MEAN_ANOMALY = -30 [deg]",
            16,
            "MEAN_ANOMALY",
            "a second anomaly",
        ),
        (
            "TRUE_ANOMALY = -120",
            "MEAN_ANOMALY = -1e300",
            15,
            "MEAN_ANOMALY",
            "between -1000000 and",
        ),
        (
            "ANOMALY = -120",
            "ANOMALY = -1",
            10,
            "SEMI_MAJOR_AXIS",
            "below the entry interface",
        ),
        (
            "= -6586",
            "= -6.586e-9",
            10,
            "SEMI_MAJOR_AXIS",
            "below the entry interface",
        ),
    ] {
        let run = checked(&elements((from, to)));
        let told = text(&run.stderr);
        assert_eq!(run.status.code(), Some(2), "{to}: {told}");
        assert!(told.contains(said), "{to}: {told}");
        assert!(told.contains(&format!("state.opm:{line}:")), "{to}: {told}");
        assert!(told.contains(&format!("key:  {key}")), "{to}: {told}");
    }
    // Inside the asymptote the same state is read.
    let inside = checked(&elements(("ANOMALY = -120", "ANOMALY = -131.02")));
    assert!(inside.status.success(), "{}", text(&inside.stderr));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    /// Whatever is cut out of or put into a message: an arrival or an error that names the file, never a panic.
    #[test]
    fn a_damaged_message_is_answered(at in 0..MARS.len(), cut in 0..50_usize, put in "[ =\\[\\].0-9A-Z_eE\n\t\u{e9}-]{0,10}") {
        let mars = World::bundled("mars").unwrap();
        let chars: Vec<char> = MARS.chars().collect();
        let at = at.min(chars.len());
        let end = (at + cut).min(chars.len());
        let text: String = chars[..at].iter().copied().chain(put.chars()).chain(chars[end..].iter().copied()).collect();
        let answer = Opm::from_text("damaged.opm", &text).and_then(|opm| arrival(&opm, &mars, None));
        if let Err(error) = answer {
            prop_assert!(error.to_string().contains("--> damaged.opm"), "{}", error);
        }
    }

    #[test]
    fn any_text_is_no_message(text in "\\PC{0,200}") {
        prop_assert!(Opm::from_text("any.opm", &text).is_err());
    }
}
