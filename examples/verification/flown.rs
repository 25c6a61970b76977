//! Flown entries: the data file, what is assumed where it is silent, and the flight that follows.

use crate::verification::flying::{flight, nosed_ship};
use periband::craft::radiative::TauberSutton;
use periband::numeric::Vec3;
use periband::numeric::root::bracketed_root;
use periband::pass::batch::Settings;
use periband::pass::reference::{FlownPass, Moment};
use periband::pass::{EntryState, Sample};
use periband::world::planet::AirSample;
use periband::world::profile::{Above, Profile, TableRow};
use periband::world::{Planet, World};

/// The entries; source and mark at its head and in its columns.
const TABLE: &str = include_str!("../../tests/reference/flights.csv");

/// One entry of the file, by column.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    fields: Vec<(String, String)>,
}

impl Entry {
    /// The text of a column; empty when the file is silent.
    pub(crate) fn text(&self, column: &str) -> &str {
        let found = self.fields.iter().find(|(name, _)| name == column);
        found.map_or("", |(_, value)| value)
    }

    /// The number of a column.
    pub(crate) fn number(&self, column: &str) -> Option<f64> {
        self.text(column).parse().ok()
    }

    /// Whether the file gives what a flight needs.
    pub(crate) fn can_be_flown(&self) -> bool {
        ["V_kms", "FPA_deg", "beta_kgm2"]
            .iter()
            .all(|column| self.number(column).is_some())
    }
}

/// The lines of the file, commas inside quotes being text.
pub(crate) fn entries() -> Vec<Entry> {
    let mut lines = TABLE.lines().filter(|line| !line.starts_with('#'));
    let columns = split(lines.next().unwrap_or(""));
    let entry = |line: &str| Entry {
        fields: columns.iter().cloned().zip(split(line)).collect(),
    };
    lines.map(entry).collect()
}

fn split(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            _ => {
                if let Some(field) = fields.last_mut() {
                    field.push(c);
                }
            }
        }
    }
    fields
}

/// What the file does not say and a flight needs; all of it stated in the table's notes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Assumed {
    pub(crate) mission: &'static str,
    pub(crate) world: &'static str,
    /// Geocentric latitude of the entry, deg.
    pub(crate) latitude: f64,
    /// Direction of motion, deg from north over east.
    pub(crate) heading: f64,
    /// Radius (km) of the entry where it is known, or the altitude (km) above the ellipsoid.
    pub(crate) place: Place,
    /// In words, with where it comes from.
    pub(crate) words: &'static str,
}

/// Where an entry begins.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Place {
    RadiusKm(f64),
    AltitudeKm(f64),
}

pub(crate) const ASSUMED: [Assumed; 9] = [
    Assumed {
        mission: "Stardust SRC",
        world: "earth",
        latitude: 41.5,
        heading: 95.0,
        place: Place::RadiusKm(6503.14),
        words: "from the west at 41.5 N, prograde (from memory): the air moves along, so the air-relative speed is \
                about 12.5 km/s",
    },
    Assumed {
        mission: "Apollo 7",
        world: "earth",
        latitude: 29.9,
        heading: 87.5,
        place: Place::AltitudeKm(121.92),
        words: "entry at 29.9 N heading 87.5 deg (from memory), full lift up throughout; rolling under guidance not \
                modelled",
    },
    Assumed {
        mission: "Apollo 11",
        world: "earth",
        latitude: -3.2,
        heading: 50.2,
        place: Place::AltitudeKm(121.92),
        words: "entry at 3.2 S heading 50.2 deg (from memory), full lift up to the first peak; the roll that then \
                keeps it in the air is not modelled",
    },
    Assumed {
        mission: "Viking 1/2",
        world: "mars",
        latitude: 22.0,
        heading: 115.0,
        place: Place::AltitudeKm(243.8),
        words: "prograde at 22 N, interface at 243.8 km (800,000 ft), full lift up: all from memory",
    },
    Assumed {
        mission: "Mars Pathfinder",
        world: "mars",
        latitude: 22.6,
        heading: 253.0,
        place: Place::RadiusKm(3522.2),
        words: "retrograde, at 22.6 N heading 253 deg (from memory); ballistic",
    },
    Assumed {
        mission: "MER-A Spirit",
        world: "mars",
        latitude: -17.0,
        heading: 80.0,
        place: Place::RadiusKm(3522.2),
        words: "prograde, at 17 S heading 80 deg (from memory); ballistic",
    },
    Assumed {
        mission: "MSL Curiosity",
        world: "mars",
        latitude: -4.0,
        heading: 93.0,
        place: Place::RadiusKm(3522.2),
        words: "prograde, at 4 S heading east (from memory); full lift up throughout, where the flight rolled under \
                guidance",
    },
    Assumed {
        mission: "Galileo probe",
        world: "jupiter",
        latitude: 6.5,
        heading: 90.0,
        place: Place::AltitudeKm(450.0),
        words: "prograde, heading east at 6.5 N (the relative speed is published); constant mass and shape",
    },
    Assumed {
        mission: "Pioneer Venus Large (Sounder)",
        world: "venus",
        latitude: 4.0,
        heading: 270.0,
        place: Place::AltitudeKm(200.0),
        words: "entry near the equator heading west (assumed; the turning of Venus adds 2 m/s)",
    },
];

/// A flight of an entry.
#[derive(Debug, Clone)]
pub(crate) struct Flown {
    pub(crate) pass: FlownPass,
    /// Speed against the air at the start, m/s.
    pub(crate) relative_speed: f64,
    /// Inertial speed at the start, m/s.
    pub(crate) inertial_speed: f64,
    /// Highest convective and radiative flux together, W/cm².
    pub(crate) total_flux: f64,
    /// Convective and radiative load, J/cm².
    pub(crate) total_load: f64,
}

/// Planet and start of an entry under what is assumed for it.
pub(crate) fn ready(entry: &Entry, assumed: &Assumed) -> (Planet, EntryState) {
    let world = World::bundled(assumed.world).expect("the worlds of the flights are bundled");
    let mut planet = Planet::new(&world);
    let latitude = assumed.latitude.to_radians();
    let up = Vec3::new(latitude.cos(), 0.0, latitude.sin());
    let radius = match assumed.place {
        Place::RadiusKm(km) => km * 1e3,
        Place::AltitudeKm(km) => planet.ellipsoid.surface_radius(latitude.sin().powi(2)) + km * 1e3,
    };
    let position = up.scale(radius);
    let altitude = planet.altitude_at(position);
    // A flight that leaves the air above its start is over.
    planet.interface_m = planet.interface_m.max(altitude + 1.0);
    let still = Vec3::new(0.0, 0.0, 0.0);
    let air = still - planet.air_relative(position, still, altitude, &AirSample::EXACT);
    let number = |column| entry.number(column).unwrap_or(f64::NAN);
    let (speed, angle) = (number("V_kms") * 1e3, number("FPA_deg").to_radians());
    let heading = assumed.heading.to_radians();
    let north = Vec3::new(-latitude.sin(), 0.0, latitude.cos());
    let level = north.scale(heading.cos()) + Vec3::new(0.0, heading.sin(), 0.0);
    let along = |speed: f64| up.scale(speed * angle.sin()) + level.scale(speed * angle.cos());
    let velocity = match (entry.text("V_frame"), entry.text("FPA_frame")) {
        ("relative", "relative") => along(speed) + air,
        ("relative", _) => {
            // The inertial speed along the inertial angle that is this fast against the air.
            let miss = |v: f64| (along(v) - air).norm() - speed;
            let inertial = bracketed_root(miss, 0.5 * speed, 1.5 * speed, 1e-6);
            along(inertial.unwrap_or(speed))
        }
        _ => along(speed),
    };
    let start = EntryState {
        position,
        velocity,
        meets_air: true,
    };
    (planet, start)
}

/// The ship of an entry.
pub(crate) fn ship_of(entry: &Entry, assumed: &Assumed) -> Sample<f64> {
    let world = World::bundled(assumed.world).expect("the worlds of the flights are bundled");
    let number = |column| entry.number(column);
    let b = number("beta_kgm2").unwrap_or(f64::NAN);
    let lift = number("LD").unwrap_or(0.0);
    let nose = number("Rn_m").unwrap_or(1.0);
    nosed_ship((b, lift), nose, world.heating_constant())
}

/// The same planet with the air that Mars Pathfinder met, 9 to 141 km, as reconstructed from its entry
/// (published; see the head of the file). Below its lowest row nothing is flown that is asked for here.
pub(crate) fn with_pathfinder_air(planet: &Planet) -> Planet {
    let text = include_str!("../../tests/reference/mars.csv");
    let row = |line: &str| {
        let fields: Vec<&str> = line.split(',').collect();
        let number = |i: usize| fields.get(i).and_then(|field| field.parse::<f64>().ok());
        Some(TableRow {
            altitude_m: number(0)? * 1e3,
            temperature_k: number(1),
            pressure_pa: number(2),
            density_kg_m3: number(3)?,
        })
    };
    let of_probe = text.lines().filter(|line| line.ends_with(",MPF"));
    let rows: Vec<TableRow> = of_probe.filter_map(row).collect();
    let air = Profile::table(&rows, Above::default()).expect("the rows of the probe rise");
    // Altitudes of the probe are above its landing site at 3389.7 km (from memory), near 19 N.
    let datum = planet.ellipsoid.surface_radius(0.109) - 3_389_700.0;
    let (mut cells, mut altitude) = (Vec::new(), planet.base_m + datum);
    let step = 1.0 / planet.cells_per_m;
    for old in planet.rows.iter() {
        let (below, above) = (air.at(altitude), air.at(altitude + step));
        let rise = above.ln_density - below.ln_density;
        let (d0, d1) = (step * below.ln_density_per_m, step * above.ln_density_per_m);
        let mut cell = *old;
        cell[..4].copy_from_slice(&[
            below.ln_density,
            d0,
            3.0 * rise - 2.0 * d0 - d1,
            d0 + d1 - 2.0 * rise,
        ]);
        cells.push(cell);
        altitude += step;
    }
    Planet {
        rows: cells.into(),
        ..planet.clone()
    }
}

/// Flies an entry under what is assumed for it.
pub(crate) fn fly_entry(entry: &Entry, assumed: &Assumed) -> Flown {
    let (planet, start) = ready(entry, assumed);
    fly_from(&planet, &start, (entry, assumed))
}

/// Flies an entry about a planet from a start.
pub(crate) fn fly_from(
    planet: &Planet,
    start: &EntryState,
    (entry, assumed): (&Entry, &Assumed),
) -> Flown {
    let sample = ship_of(entry, assumed);
    let settings = Settings {
        stop_speed_m_s: 200.0,
        ..Settings::new(planet)
    };
    let pass = flight(planet, &sample, start, (&settings, 0.5));
    let radiation = match assumed.world {
        "earth" => Some(TauberSutton::earth()),
        "mars" => Some(TauberSutton::mars()),
        _ => None,
    };
    let nose = entry.number("Rn_m").unwrap_or(1.0);
    let radiant = |m: &Moment| {
        let felt = &m.felt;
        let density = 2.0 * felt.dynamic_pressure / (felt.speed * felt.speed);
        radiation
            .as_ref()
            .map_or(0.0, |model| model.at(density, felt.speed, nose).w_m2)
    };
    let (mut total_flux, mut radiant_load) = (0.0f64, 0.0);
    for pair in pass.history.windows(2) {
        let (before, after) = (radiant(&pair[0]), radiant(&pair[1]));
        total_flux = total_flux.max(pair[1].felt.heat_flux + after);
        radiant_load += 0.5 * (before + after) * (pair[1].time_s - pair[0].time_s);
    }
    let first = pass.history[0].felt;
    Flown {
        relative_speed: first.speed,
        inertial_speed: start.inertial_speed_m_s(),
        total_flux: total_flux / 1e4,
        total_load: (pass.result.heat_load_j_m2 + radiant_load) / 1e4,
        pass,
    }
}
