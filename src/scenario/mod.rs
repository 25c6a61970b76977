//! What the user wrote: a scenario file, loaded, bounded and checked into SI units.
//! The file handling here (sections, quantities, messages) also serves the world files.

use std::path::{Path, PathBuf};

pub mod aerodynamics;
mod air_section;
pub mod arrival;
pub mod ask;
pub mod bound;
pub mod campaign;
pub mod campaign_rule;
mod campaign_words;
pub mod capture;
mod capture_words;
mod correlation;
pub mod corridor;
mod delivery;
mod describe;
mod describe_ship;
mod distribution;
pub mod document;
mod emit;
pub mod epoch;
pub mod flight_log;
pub mod heating_errors;
pub mod landing;
mod landing_words;
pub mod learned;
pub mod likeness;
pub mod limits;
pub mod log_columns;
pub mod message;
mod narrowing;
mod navigation;
mod nesting;
mod node;
mod numbers;
pub mod opm;
mod part_words;
mod paths;
pub mod people;
pub mod plain_file;
pub mod section;
pub mod ship;
mod source;
pub mod spots;
pub mod steering;
mod steering_words;
mod token;
mod tree;
pub mod uncertainty;
mod uncertainty_section;
pub mod value;
pub mod variation;
pub mod visible;
mod walk;
pub mod wall;
mod wording;
mod yaml;

use document::Document;
use message::InputError;

/// A commented scenario to start from; it runs as it stands.
pub const STARTER: &str = include_str!("starter.yaml");

/// A checked scenario: everything in SI units and inside its valid range.
#[derive(Debug, Clone)]
pub struct Scenario {
    /// What the scenario is about, for titles.
    pub title: String,
    /// A bundled world's name, or the path of a world file (relative to the scenario file).
    pub world: String,
    /// Presets of the world file to apply, such as an active Sun (key `presets`).
    pub presets: Vec<String>,
    /// Name of the ship, when it has one (key `ship.name`).
    pub ship_name: Option<String>,
    /// The ship, in the configuration chosen (key `ship.configuration`).
    pub ship: ship::Ship,
    /// Name of the configuration flown, when the ship has several.
    pub configuration: Option<String>,
    /// The ship in each of its named configurations (key `ship.configurations`).
    pub configurations: Vec<(String, ship::Ship)>,
    /// How it arrives.
    pub arrival: arrival::Arrival,
    /// How it is steered; without steering its bank is held (key `steering`).
    pub steering: Option<steering::Steering>,
    /// What is uncertain.
    pub uncertainty: uncertainty::Uncertainty,
    /// What must hold; empty when the file has no limits.
    pub limits: limits::Limits,
    /// What is asked.
    pub ask: ask::Ask,
    /// The ways to be captured that are compared, if the file says so.
    pub capture: Option<capture::Capture>,
    /// Aerobraking over many passes, when the file describes it (key `campaign`).
    pub campaign: Option<campaign::Campaign>,
    /// Where the ship is to land, when the file says so (key `landing`).
    pub landing: Option<landing::Landing>,
    /// What the corridor is looked for over.
    pub corridor: corridor::Corridor,
    document: Document,
}

impl Scenario {
    /// Loads and checks a scenario file.
    ///
    /// # Errors
    /// When the file cannot be read, is no YAML, or says something that is refused.
    pub fn load(path: &Path) -> Result<Self, InputError> {
        Self::from_document(&Document::read(path)?)
    }

    /// Loads and checks a scenario that is already in memory; `name` stands for its path in messages.
    ///
    /// # Errors
    /// As for [`Scenario::load`].
    pub fn from_text(name: &str, text: &str) -> Result<Self, InputError> {
        Self::from_document(&Document::from_text(name, text)?)
    }

    /// Checks a loaded document, with the values set over it.
    ///
    /// # Errors
    /// When the document says something that is refused; the first such thing in the order
    /// title, world, ship, arrival, limits, steering, uncertainty, ask, capture, campaign, landing, corridor, keys
    /// that nobody knows.
    pub fn from_document(document: &Document) -> Result<Self, InputError> {
        let root = document.root()?;
        let title = root.text("title")?.to_owned();
        let world = root.text("world")?.to_owned();
        let presets = root.optional_list("presets")?;
        let presets = presets.iter().map(|node| Ok(node.text()?.to_owned()));
        let presets = presets.collect::<Result<Vec<_>, InputError>>()?;

        let section = root.section("ship")?;
        let ship_name = section.optional_text("name")?.map(str::to_owned);
        let ship::Fleet {
            flown: ship,
            configurations,
            chosen: configuration,
        } = ship::Fleet::decode(&section)?;
        section.finish()?;

        let section = arrival::section(&root)?;
        let arrival = arrival::Arrival::decode(&section)?;
        section.finish()?;

        let mut limits = limits::Limits::default();
        if let Some(section) = root.optional_section("limits")? {
            limits = limits::Limits::decode(&section)?;
            section.finish()?;
        }

        let steering = steering::Steering::decode(&root, &ship)?;

        let unsaid = heating_errors::unsaid(&limits, &ship);
        let mut uncertainty = uncertainty::Uncertainty::of_numbers(unsaid.clone());
        if let Some(section) = root.optional_section("uncertainty")? {
            let table = numbers::dispersibles(&ship, &arrival, &limits);
            uncertainty = uncertainty::Uncertainty::decode(&section, &arrival, &table, &unsaid)?;
            section.finish()?;
        }

        let mut ask = ask::Ask::default();
        if let Some(section) = root.optional_section("ask")? {
            ask = ask::Ask::decode(&section)?;
            section.finish()?;
        }
        let mut capture = None;
        if let Some(section) = root.optional_section("capture")? {
            capture = Some(capture::Capture::decode(&section)?);
            section.finish()?;
        }
        let mut campaign = None;
        if let Some(section) = root.optional_section("campaign")? {
            campaign = Some(campaign::Campaign::decode(&section)?);
            section.finish()?;
        }
        let landing = landing::Landing::decode(&root, &arrival, steering.as_ref())?;
        let mut corridor = corridor::Corridor::default();
        if let Some(section) = root.optional_section("corridor")? {
            corridor = corridor::Corridor::decode(&section, &arrival)?;
            section.finish()?;
        }
        root.finish()?;
        let document = document.clone();
        Ok(Self {
            title,
            world,
            presets,
            ship_name,
            ship,
            configuration,
            configurations,
            arrival,
            steering,
            uncertainty,
            limits,
            ask,
            capture,
            campaign,
            landing,
            corridor,
            document,
        })
    }

    /// The document this scenario was read from, with the values set over it.
    #[must_use]
    pub fn document(&self) -> &Document {
        &self.document
    }

    /// The path of the world file, if `world` names a file and no bundled world.
    ///
    /// A name is a path if it has a `/` or `\` in it, or ends in `.yaml` or `.yml`. A relative
    /// path starts at the folder of the scenario file, if there is one.
    #[must_use]
    pub fn world_path(&self) -> Option<PathBuf> {
        let path = Path::new(&self.world);
        let is_yaml = path
            .extension()
            .is_some_and(|end| end == "yaml" || end == "yml");
        if !is_yaml && !self.world.contains(['/', '\\']) {
            return None;
        }
        Some(self.document.path_from_file(&self.world))
    }

    /// An error about the value of a dotted key, as in `world`, placed in the scenario.
    #[must_use]
    pub fn error_at(&self, key: &str, message: impl Into<String>) -> InputError {
        self.document.error_at(key, message)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::numeric::quantity::Quantity;

    #[test]
    fn the_starter_is_a_scenario_in_si_units() {
        let scenario = Scenario::from_text("starter.yaml", STARTER).unwrap();
        assert_eq!(scenario.world, "mars");
        assert_eq!(scenario.ship_name.as_deref(), Some("Brisandel"));
        assert_eq!(
            (scenario.ship.mass_kg, scenario.ship.passengers),
            (62_000.0, 96)
        );
        assert_eq!(
            scenario.ship.engine.and_then(|engine| engine.thrust_n),
            Some(80_000.0)
        );
        assert_eq!(
            scenario.arrival.energy,
            arrival::ArrivalEnergy::ExcessSpeed(2550.0)
        );
        let range = arrival::AimRange {
            from_m: 42e3,
            to_m: 60e3,
            step_m: 1e3,
        };
        assert_eq!(scenario.arrival.aim_range(), Some(range));
        assert_eq!(
            scenario.limits.on(Quantity::PeakDeceleration),
            Some(1.2 * 9.806_65)
        );
        assert_eq!(scenario.limits.on(Quantity::HeatLoad), Some(9e7));
        assert_eq!(scenario.limits.on(Quantity::ApoapsisAltitude), Some(1e8));
        assert_eq!((scenario.ask.samples, scenario.ask.seed), (4000, 7));
        // Five of the file, and the two errors of heating that are there where none is given.
        assert_eq!(scenario.uncertainty.numbers.len(), 5 + 2);
    }

    #[test]
    fn a_world_is_a_name_or_a_path_from_the_folder_of_the_scenario() {
        let with = |world: &str| {
            let text = STARTER.replace("world: mars", &format!("world: {world}"));
            Scenario::from_text("starter.yaml", &text)
                .unwrap()
                .world_path()
        };
        assert_eq!(with("mars"), None);
        assert_eq!(with("worlds/arda"), Some(PathBuf::from("worlds/arda")));
        assert_eq!(with("arda.yaml"), Some(PathBuf::from("arda.yaml")));

        let folder = std::env::temp_dir().join(format!("periband-world-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let file = folder.join("scenario.yaml");
        std::fs::write(&file, STARTER.replace("world: mars", "world: arda.yaml")).unwrap();
        assert_eq!(
            Scenario::load(&file).unwrap().world_path(),
            Some(folder.join("arda.yaml"))
        );
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn the_scenario_as_run_is_the_same_scenario() {
        let mut document = Document::from_text("starter.yaml", STARTER).unwrap();
        assert_eq!(document.as_run(), STARTER);
        document.set("ship.mass", "60 t").unwrap();
        document
            .set("uncertainty.delivery.speed", "{normal: {std_dev: 1 m/s}}")
            .unwrap();
        document.set("limits.comes_down", "no").unwrap();
        let scenario = Scenario::from_document(&document).unwrap();
        let text = document.as_run();
        assert!(
            text.starts_with("# starter.yaml with values set over it:\n#   --set ship.mass=60 t\n"),
            "{text}"
        );
        let again = Scenario::from_text("as-run.yaml", &text).unwrap();
        assert_eq!(again.ship, scenario.ship);
        assert_eq!(again.arrival, scenario.arrival);
        assert_eq!(again.uncertainty, scenario.uncertainty);
        assert_eq!(again.limits, scenario.limits);
        assert_eq!(again.ask, scenario.ask);
    }

    #[test]
    fn what_is_left_out_takes_its_default() {
        let text = "title: x\nworld: mars\nship: {mass: 1 t, reference_area: 5 m2, drag_coefficient: 1.5, nose_radius: 1 m}\n\
            arrival: {orbit: {apoapsis_altitude: 40000 km, inclination: 0 deg, aim_periapsis: 100 km}}\nlimits:\n";
        let scenario = Scenario::from_text("short.yaml", text).unwrap();
        assert!(scenario.limits.is_empty());
        assert_eq!(scenario.uncertainty, uncertainty::Uncertainty::default());
        assert_eq!(scenario.ask, ask::Ask::default());
        assert_eq!(
            (
                scenario.ship.passengers,
                scenario.ship.lift_to_drag,
                scenario.ship.engine
            ),
            (0, 0.0, None)
        );
        assert!(scenario.arrival.aim_range().unwrap().is_single());
        let error = scenario.error_at("world", "no such world").to_string();
        assert_eq!(
            error,
            "no such world\n  --> short.yaml:2:8\n2 | world: mars\n  |        ^^^^\n  key:  world"
        );
    }
}
