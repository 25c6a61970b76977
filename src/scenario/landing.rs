//! Where the ship is to land and what it must have left when it gets there: the `landing` section.

use std::f64::consts::{FRAC_PI_2, PI};

use super::arrival::{Arrival, ArrivalEnergy};
use super::bound::Bound;
use super::message::InputError;
use super::section::Section;
use super::steering::{Steering, SteeringTarget};
use crate::numeric::units::{Dimension, format_quantity};

/// The `landing` section, checked, in SI units.
#[derive(Debug, Clone, PartialEq)]
pub struct Landing {
    /// The place.
    pub place: LandingPlace,
    /// Longitude of the ascending node of the approach when the ship meets the air (of the parking orbit at
    /// the first possible deorbit burn), rad; left out, it is chosen.
    pub node_longitude_rad: Option<f64>,
    /// Whether the argument of periapsis is chosen too, as from a circular orbit by the moment of the burn.
    pub free_argument: bool,
    /// Vacuum periapsis altitude aimed for, m; left out, the best of the arrival's range is taken.
    pub aim_m: Option<f64>,
    /// Vacuum periapsis altitude of a pass of the arrival that comes before the entry, m.
    pub after_pass_m: Option<f64>,
    /// The orbit that the deorbit burn leaves.
    pub parking: Option<Parking>,
    /// The gate at which the approach begins; without one flights are followed to the ground.
    pub gate: Option<GateSpec>,
}

/// A landing place.
#[derive(Debug, Clone, PartialEq)]
pub struct LandingPlace {
    /// What to call it.
    pub name: String,
    /// Latitude on the map (geodetic), rad.
    pub latitude_rad: f64,
    /// Longitude to the east, rad, -π to π.
    pub longitude_rad: f64,
}

/// The orbit that the deorbit burn leaves; its apoapsis is that of the arrival.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parking {
    /// Periapsis altitude, m.
    pub periapsis_altitude_m: f64,
    /// Rounds that the ship may wait for a better one. Default 30.
    pub most_rounds: u32,
}

/// The terminal gate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GateSpec {
    /// Speed against the air at which the gate is met, m/s.
    pub speed_m_s: f64,
    /// Ground distance to the place that is wanted there, m.
    pub distance_to_go_m: f64,
    /// How far that distance may be off, m.
    pub within_m: f64,
    /// How far the place may lie off the direction of flight, rad. Default 15 deg.
    pub heading_rad: f64,
    /// Lowest altitude at the gate, m.
    pub lowest_m: f64,
    /// Highest altitude at the gate, m.
    pub highest_m: f64,
}

impl GateSpec {
    /// How far aside the straight line on from the gate may pass the place before a steered ship changes sides, m: half
    /// of what the heading allows, and where the gate may lie over the place itself, half of how far it may be off.
    #[must_use]
    pub fn aside_within_m(&self) -> f64 {
        let allowed = if self.distance_to_go_m > self.within_m {
            self.distance_to_go_m * libm::sin(self.heading_rad.min(FRAC_PI_2))
        } else {
            self.within_m
        };
        0.5 * allowed
    }
}

const ALTITUDE_M: Bound = Bound::between(-1e5, 1e7);
const DISTANCE_M: Bound = Bound::between(0.0, 1e7);

impl Landing {
    /// Reads the section, if there is one.
    pub(super) fn decode(
        root: &Section<'_>,
        arrival: &Arrival,
        steering: Option<&Steering>,
    ) -> Result<Option<Self>, InputError> {
        let Some(section) = root.optional_section("landing")? else {
            return Ok(None);
        };
        let landing = Self::decode_section(&section, arrival)?;
        let to_the_gate = |steering: &Steering| steering.target == SteeringTarget::Landing;
        if landing.gate.is_none() && steering.is_some_and(to_the_gate) {
            return Err(section.error("a steered landing has no `gate`").with_help(
                "add `gate: {speed: 600 m/s, within: 5 km}`, or write `steering: off`",
            ));
        }
        section.finish()?;
        Ok(Some(landing))
    }

    fn decode_section(landing: &Section<'_>, arrival: &Arrival) -> Result<Self, InputError> {
        let node = landing.optional_quantity(
            "node_longitude",
            Dimension::Angle,
            Bound::between(-2.0 * PI, 2.0 * PI),
        )?;
        let free_argument = match landing.optional("argument_of_periapsis") {
            None => false,
            Some(node) if node.text().is_ok_and(|text| text == "free") => true,
            Some(node) => {
                return Err(node
                    .error("`argument_of_periapsis` of a landing can only be `free`")
                    .with_help(
                        "leave it out to keep that of the arrival, where its value is written",
                    ));
            }
        };
        let orbit = matches!(arrival.energy, ArrivalEnergy::ApoapsisAltitude(_));
        let after_pass_m = match landing.optional_section("after_pass")? {
            Some(pass) => {
                let aim = pass.quantity("aim_periapsis", Dimension::Length, ALTITUDE_M)?;
                pass.finish()?;
                Some(aim)
            }
            None => None,
        };
        if after_pass_m.is_some() && landing.optional("aim_periapsis").is_none() {
            return Err(landing
                .error("a landing after a pass has no aim of its own")
                .with_help(
                    "add `aim_periapsis: ...`, the periapsis that the burn after the pass aims for",
                ));
        }
        let decoded = Self {
            place: LandingPlace::decode(landing.section("place")?)?,
            node_longitude_rad: node,
            free_argument,
            aim_m: landing.optional_quantity("aim_periapsis", Dimension::Length, ALTITUDE_M)?,
            after_pass_m,
            parking: decode_parking(landing, arrival, orbit)?,
            gate: decode_gate(landing)?,
        };
        if free_argument && !orbit {
            return Err(landing
                .error_at(
                    "argument_of_periapsis",
                    format!(
                        "the argument of periapsis of an `arrival.{}` is not free",
                        arrival.kind()
                    ),
                )
                .with_help("only the moment of a burn in an orbit moves it: leave it out, or write `arrival.orbit`"));
        }
        Ok(decoded)
    }
}

impl LandingPlace {
    fn decode(place: Section<'_>) -> Result<Self, InputError> {
        let decoded = Self {
            name: place
                .optional_text("name")?
                .unwrap_or("the place")
                .to_owned(),
            latitude_rad: place.quantity(
                "latitude",
                Dimension::Angle,
                Bound::between(-FRAC_PI_2, FRAC_PI_2),
            )?,
            longitude_rad: {
                let any_turn = Bound::between(-2.0 * PI, 2.0 * PI);
                let longitude = place.quantity("longitude", Dimension::Angle, any_turn)?;
                longitude - 2.0 * PI * (longitude / (2.0 * PI)).round()
            },
        };
        place.finish()?;
        Ok(decoded)
    }
}

fn decode_parking(
    landing: &Section<'_>,
    arrival: &Arrival,
    orbit: bool,
) -> Result<Option<Parking>, InputError> {
    let Some(parking) = landing.optional_section("parking_orbit")? else {
        return Ok(None);
    };
    let decoded = Parking {
        periapsis_altitude_m: parking.quantity(
            "periapsis_altitude",
            Dimension::Length,
            Bound::between(1e3, 1e11),
        )?,
        most_rounds: parking
            .optional_integer("wait_rounds", 0..=2000)?
            .map_or(30, |rounds| u32::try_from(rounds).unwrap_or(30)),
    };
    if !orbit {
        return Err(parking
            .error(format!(
                "an `arrival.{}` leaves no parking orbit",
                arrival.kind()
            ))
            .with_help("write `arrival.orbit` with the apoapsis altitude of that orbit"));
    }
    if let ArrivalEnergy::ApoapsisAltitude(apoapsis) = arrival.energy
        && decoded.periapsis_altitude_m > apoapsis
    {
        let apoapsis = format_quantity(apoapsis, Dimension::Length);
        return Err(parking.error_at(
            "periapsis_altitude",
            format!("the periapsis of the parking orbit lies above its apoapsis, {apoapsis}"),
        ));
    }
    parking.finish()?;
    Ok(Some(decoded))
}

fn decode_gate(landing: &Section<'_>) -> Result<Option<GateSpec>, InputError> {
    let Some(gate) = landing.optional_section("gate")? else {
        return Ok(None);
    };
    let degrees = |degrees: f64| degrees * PI / 180.0;
    let altitude = gate.optional_section("altitude")?;
    let (lowest_m, highest_m) = match altitude {
        Some(altitude) => {
            let pair = (
                altitude.quantity("from", Dimension::Length, ALTITUDE_M)?,
                altitude.quantity("to", Dimension::Length, ALTITUDE_M)?,
            );
            if pair.1 <= pair.0 {
                return Err(altitude.error_at(
                    "to",
                    "the range of altitudes is empty: `to` is not above `from`",
                ));
            }
            altitude.finish()?;
            pair
        }
        None => (f64::NEG_INFINITY, f64::INFINITY),
    };
    let decoded = GateSpec {
        speed_m_s: gate.quantity("speed", Dimension::Speed, Bound::between(1.0, 1e5))?,
        distance_to_go_m: gate
            .optional_quantity("distance_to_go", Dimension::Length, DISTANCE_M)?
            .unwrap_or(0.0),
        within_m: gate.quantity("within", Dimension::Length, Bound::between(1.0, 1e7))?,
        heading_rad: gate
            .optional_quantity("heading", Dimension::Angle, Bound::above(0.0).at_most(PI))?
            .unwrap_or(degrees(15.0)),
        lowest_m,
        highest_m,
    };
    gate.finish()?;
    Ok(Some(decoded))
}
