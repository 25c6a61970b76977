//! An arrival from an orbit parameter message: `arrival: {opm: ./arrival.opm}` becomes the hyperbola or orbit
//! of the message's state, in the frame of the body's equator, before the scenario is checked.

use crate::numeric::Vec3;
use crate::numeric::units::format_number;
use crate::pass::after::next_apsis;
use crate::pass::coast::{Until, coast};
use crate::pass::elements::Elements;
use crate::scenario::arrival::{AIM_M, APOAPSIS_ALTITUDE_M, EXCESS_SPEED_M_S};
use crate::scenario::document::Document;
use crate::scenario::epoch::{CLOCK_HELP, is_clock};
use crate::scenario::message::InputError;
use crate::scenario::opm::{Opm, OpmState};
use crate::scenario::value::Value;
use crate::world::pole::Turn;
use crate::world::shape::Ellipsoid;
use crate::world::{Body, Planet, World};

/// Name of the frame that the program flies in: z along the spin axis, x fixed among the stars, towards the
/// ascending node of the arrival unless the scenario has an `ascending_node`.
pub const OWN_FRAME: &str = "BODY_EQUATOR_INERTIAL";

/// Frames of the true equator and of the mean one of date: the spin axis of the Earth to 0.01 deg.
const OF_EQUATOR: [&str; 4] = ["TOD", "TEME", "MOD", OWN_FRAME];
/// Frames of the Earth's mean equator at J2000.
const OF_J2000: [&str; 3] = ["EME2000", "ICRF", "GCRF"];

/// The turn from a message's frame to the body's equator; the error says what is known.
///
/// # Errors
/// What is wrong with the frame, in words.
pub fn turn_to_equator(frame: &str, body: &str) -> Result<Turn, String> {
    let body = body.to_lowercase();
    let name = frame.to_ascii_uppercase();
    if name == OWN_FRAME || (body == "earth" && OF_EQUATOR.contains(&name.as_str())) {
        return Ok(Turn::NONE);
    }
    if !OF_J2000.contains(&name.as_str()) {
        return Err(format!("the frame {frame} is not known here"));
    }
    Turn::to_equator_of(&body)
        .ok_or_else(|| format!("where the pole of {body} points in {frame} is not known here"))
}

/// Puts the arrival of the message in place of `arrival.opm`, if the document has one.
///
/// # Errors
/// [`InputError`] for a message that cannot be read, is about another body, or does not come to the air.
pub fn expand(document: &mut Document) -> Result<(), InputError> {
    if !document.has("arrival.opm") {
        return Ok(());
    }
    let (written, aim) = what_is_written(document)?;
    let path = document.path_from_file(&written);
    let opm = Opm::read(&path)?;
    if !opm.unused.is_empty() {
        log::info!("{}: not used: {}", path.display(), opm.unused.join(", "));
    }
    let world = world_of(document)?;
    let text = arrival(&opm, &world, aim.as_deref())?;
    let assignment = format!("{}: arrival={text}", path.display());
    document.set_as(assignment, ("arrival", &text))
}

/// The path of the message, and the aims that replace its own.
fn what_is_written(document: &Document) -> Result<(String, Option<String>), InputError> {
    let root = document.root()?;
    let section = root.section("arrival")?;
    if let Some((second, node)) = section.entries().iter().find(|(key, _)| *key != "opm") {
        return Err(node
            .error_at_key(format!("a second arrival: `{second}` stands beside `opm`"))
            .with_help("the message says it all: keep one of the two"));
    }
    let node = section.required("opm", "the path of a message")?;
    if let Value::Text(_) = node.value() {
        return Ok((node.text()?.to_owned(), None));
    }
    let inner = node.section()?;
    let path = inner.text("file")?.to_owned();
    let aim = inner
        .optional("aim_periapsis")
        .map(|node| flow(node.value()));
    inner.finish()?;
    Ok((path, aim))
}

/// A value as YAML in one line: a text, or a section of texts.
fn flow(value: &Value) -> String {
    match value {
        Value::Map(entries) => {
            let inner: Vec<String> = entries
                .iter()
                .map(|(key, v)| format!("{key}: {}", flow(v)))
                .collect();
            format!("{{{}}}", inner.join(", "))
        }
        Value::Text(text) => format!("{text:?}"),
        Value::Integer(whole) => whole.to_string(),
        Value::Number(number) => number.to_string(),
        _ => "~".to_owned(),
    }
}

fn world_of(document: &Document) -> Result<World, InputError> {
    let name = document.root()?.text("world")?.to_owned();
    let is_path = name.contains(['/', '\\'])
        || std::path::Path::new(&name)
            .extension()
            .is_some_and(|end| end == "yaml" || end == "yml");
    if is_path {
        return World::load(&document.path_from_file(&name));
    }
    World::bundled(&name).map_err(|error| {
        let placed = document.error_at("world", error.message());
        match error.help() {
            Some(help) => placed.with_help(help),
            None => placed,
        }
    })
}

/// The section `arrival` of a message, as YAML in one line: the state is carried down to the entry interface under
/// the zonal field of the world, where the elements of an arrival osculate.
///
/// # Errors
/// [`InputError`] placed in the message.
pub fn arrival(opm: &Opm, world: &World, aim: Option<&str>) -> Result<String, InputError> {
    let body = world.body();
    if !opm.center_name.eq_ignore_ascii_case(&body.name) {
        let message = format!(
            "the message is about {}, the scenario about {}",
            opm.center_name, body.name
        );
        return Err(opm
            .error_at("CENTER_NAME", message)
            .with_help("the state must be that about the body to arrive at"));
    }
    let turn = turn_to_equator(&opm.reference_frame, &body.name).map_err(|message| {
        opm.error_at("REF_FRAME", message).with_help(format!(
            "known: {OWN_FRAME} (z along the spin axis) about any body; EME2000, ICRF and GCRF about real planets; \
             TOD, TEME and MOD about the Earth; none that turns with the body"
        ))
    })?;
    if !is_clock(&opm.time_system) {
        let message = format!("the time system {} is not known here", opm.time_system);
        return Err(opm.error_at("TIME_SYSTEM", message).with_help(CLOCK_HELP));
    }
    let gm = body.gm_m3_s2;
    if let Some(own) = opm.gm_m3_s2
        && (own / gm - 1.0).abs() > 1e-4
    {
        let (own, ours) = (format_number(own / 1e9), format_number(gm / 1e9));
        let message = format!("the message has {own} km**3/s**2, the world file {ours}");
        return Err(opm
            .error_at("GM", message)
            .with_help("is the state about another body, or GM in other units?"));
    }
    let given = elements(opm, (body, &turn))?;
    let planet = Planet::new(world);
    let (r, v) = given.state(gm);
    let twice_energy = planet.twice_energy(r, v);
    let open = twice_energy >= 0.0;
    if open && given.since_periapsis_s(gm) > 0.0 {
        return Err(opm
            .error_at("EPOCH", "the state lies after the periapsis: the ship leaves the body and does not come back")
            .with_help("give a state on the way in"));
    }
    let slip = |(what, value, unit): (&str, f64, &str)| {
        let message = format!("{what} of the state is {} {unit}", format_number(value));
        opm.error_at(key_of(opm), message).with_help(
            "no ship arrives so: position in km, velocity in km/s, about the centre of the body",
        )
    };
    let speed = twice_energy.max(0.0).sqrt();
    if open && !EXCESS_SPEED_M_S.holds(speed) {
        return Err(slip(("the excess speed", speed / 1e3, "km/s")));
    }
    let lost = || {
        opm.error_at(
            "EPOCH",
            "the state cannot be followed to the air of the body",
        )
        .with_help("give a state nearer to it, on the way in")
    };
    // A state in the air is taken as it is.
    let (elements, down_s, there) = if planet.altitude_at(r) > planet.interface_m {
        let down = coast(&planet, r, v, Until::Air).ok_or_else(lost)?;
        let found = Elements::from_state(gm, down.position, down.velocity).ok_or_else(lost)?;
        (found, down.duration_s, (down.position, down.velocity))
    } else {
        (given, 0.0, (r, v))
    };
    let to_periapsis = down_s - elements.since_periapsis_s(gm);
    let sine = elements.argument_rad.sin() * elements.inclination_rad.sin();
    let altitude = elements.periapsis_radius_m - planet.ellipsoid.surface_radius(sine * sine);
    let (kind, energy) = if open {
        ("hyperbola", format!("excess_speed: {speed} m/s"))
    } else {
        let before = next_apsis(&planet, there.0, there.1.scale(-1.0)).ok_or_else(lost)?;
        let apoapsis = before.radius_m - body.equatorial_radius_m;
        if !APOAPSIS_ALTITUDE_M.holds(apoapsis) {
            return Err(slip(("the apoapsis altitude", apoapsis / 1e3, "km")));
        }
        ("orbit", format!("apoapsis_altitude: {apoapsis} m"))
    };
    if aim.is_none() && !AIM_M.holds(altitude) {
        return Err(slip(("the periapsis altitude", altitude / 1e3, "km")));
    }
    let own_aim = format!("{altitude} m");
    Ok(format!(
        "{{{kind}: {{{energy}, inclination: {} deg, argument_of_periapsis: {} deg, aim_periapsis: {}}}, \
         ascending_node: {} deg, epoch: \"{}\", time_system: {:?}, reference_frame: {:?}, object_id: {:?}}}",
        elements.inclination_rad.to_degrees(),
        elements.argument_rad.to_degrees(),
        aim.unwrap_or(&own_aim),
        elements.node_rad.to_degrees(),
        opm.epoch.later(to_periapsis),
        opm.time_system,
        opm.reference_frame.to_ascii_uppercase(),
        opm.object_id,
    ))
}

/// Distance of the ellipsoid from the centre, m, at a sine of the latitude.
fn surface_radius(body: &Body, sine: f64) -> f64 {
    Ellipsoid::new(body.equatorial_radius_m, body.polar_radius_m).surface_radius(sine * sine)
}

/// The keyword under which a message's state begins.
fn key_of(opm: &Opm) -> &'static str {
    match opm.state {
        OpmState::Cartesian(..) => "X",
        OpmState::Keplerian { .. } => "SEMI_MAJOR_AXIS",
    }
}

/// The elements of a message about the body's equator.
fn elements(opm: &Opm, (body, turn): (&Body, &Turn)) -> Result<Elements, InputError> {
    let gm = body.gm_m3_s2;
    let (r, v) = match opm.state {
        OpmState::Cartesian([x, y, z], [u, v, w]) => (Vec3::new(x, y, z), Vec3::new(u, v, w)),
        OpmState::Keplerian {
            semi_major_axis_m,
            eccentricity,
            inclination_rad,
            node_rad,
            argument_rad,
            true_anomaly_rad,
        } => Elements {
            periapsis_radius_m: semi_major_axis_m * (1.0 - eccentricity),
            twice_energy: -gm / semi_major_axis_m,
            inclination_rad,
            node_rad,
            argument_rad,
            true_anomaly_rad,
        }
        .state(gm),
    };
    let (r, v) = (turn.to_body(r), turn.to_body(v));
    let found = Elements::from_state(gm, r, v);
    let sound =
        |e: &Elements| e.periapsis_radius_m.is_finite() && e.since_periapsis_s(gm).is_finite();
    let found = found.filter(sound).ok_or_else(|| {
        opm.error_at(key_of(opm), "the state is on no conic that could be flown")
            .with_help("position in km, velocity in km/s, about the centre of the body")
    })?;
    let altitude = r.norm() - surface_radius(body, r.z / r.norm());
    if !(altitude > body.entry_interface_m) {
        let (at, interface) = (
            format_number(altitude / 1e3),
            format_number(body.entry_interface_m / 1e3),
        );
        let message = format!(
            "the state lies at an altitude of {at} km, below the entry interface at {interface} km"
        );
        return Err(opm
            .error_at(key_of(opm), message)
            .with_help("give a state of the approach, before the air: what braked the ship on the way there is not known here"));
    }
    Ok(found)
}
