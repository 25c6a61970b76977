//! A world ready to fly in, and what may be said about how well it is known.

use super::body::Body;
use super::dispersion::Dispersion;
use super::error::{WorldError, given};
use super::gas::Gas;
use super::moon::Moon;
use super::preset::Preset;
use super::radiation::Radiation;
use super::table::AirTable;

/// How a number or a block is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Known {
    /// Read in the named source or in a copy of it.
    Published,
    /// Computed from the named equations, model or values.
    Computed,
    /// Written down from memory of the named source.
    FromMemory,
    /// This project's choice, within what the source says of it.
    Chosen,
    /// Made up.
    Invented,
}

/// How far a world as a whole may be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Quality {
    /// The profile is published; the sources say how the constants are known.
    Published,
    /// Written down from memory of published values.
    FromMemory,
    /// A rough stand-in: few or derived points.
    Coarse,
    /// A made-up world.
    Invented,
}

impl Quality {
    /// All of them, best known first.
    pub const ALL: [Self; 4] = [
        Self::Published,
        Self::FromMemory,
        Self::Coarse,
        Self::Invented,
    ];

    /// The words used for it in files and tables.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::FromMemory => "from memory",
            Self::Coarse => "coarse",
            Self::Invented => "invented",
        }
    }
}

impl Known {
    /// All of them, best known first.
    pub const ALL: [Self; 5] = [
        Self::Published,
        Self::Computed,
        Self::FromMemory,
        Self::Chosen,
        Self::Invented,
    ];

    /// The words used for it in files and tables.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::Computed => "computed",
            Self::FromMemory => "from memory",
            Self::Chosen => "chosen",
            Self::Invented => "invented",
        }
    }
}

/// Where a block of a world comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// The block or number, as its key in the world file.
    pub what: String,
    /// The source in words.
    pub text: String,
    /// How it is known.
    pub known: Known,
}

/// The gas of a published correlation of radiative heating.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RadiativeGas {
    /// The Earth's air.
    Air,
    /// The air of Mars.
    Mars,
}

impl RadiativeGas {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Air, Self::Mars];

    /// The word used for it in files.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Air => "air",
            Self::Mars => "mars",
        }
    }
}

/// A body with its air: everything a pass needs to know of the place. Never changes once made.
#[derive(Debug, Clone, PartialEq)]
pub struct World {
    parts: WorldParts,
    /// Names of the presets whose bias is in the air.
    applied_presets: Vec<String>,
}

/// What a [`World`] is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct WorldParts {
    /// Constants of the body.
    pub body: Body,
    /// The air against altitude.
    pub air: AirTable,
    /// What the air is made of, where it is stated.
    pub gas: Option<Gas>,
    /// Constant k of stagnation heating q = k √(ρ/r) V³, kg^0.5/m, above 0.
    pub heating_constant: f64,
    /// The gas for radiative heating, where a published correlation covers it.
    pub radiative: Option<RadiativeGas>,
    /// From which speed on the gas radiates; `None` where nothing is said of it.
    pub radiation: Option<Radiation>,
    /// Altitudes between which the source of the profile has the air, m; beyond them it is an extension.
    pub sourced_m: (f64, f64),
    /// Altitude of the ground, m, at or above the lowest altitude of the air; a pass that comes to it has landed.
    pub ground_m: f64,
    /// The dispersion beside the bias curve of the air.
    pub dispersion: Dispersion,
    /// Named states of the air.
    pub presets: Vec<Preset>,
    /// Moons, if they count.
    pub moons: Vec<Moon>,
    /// How far the world may be trusted.
    pub quality: Quality,
    /// Where each block comes from.
    pub sources: Vec<Source>,
    /// The world file, if it was read from one.
    pub text: Option<String>,
}

/// ln 1000: how much thinner the air has to be at the entry interface than at the ground.
const THINNER_BY: f64 = 6.908;

impl World {
    /// Puts a world together from its parts.
    ///
    /// # Errors
    /// [`WorldError::OutOfRange`] for what [`Body::check`], [`Dispersion::check`] or [`Moon::check`] refuses, a heating constant
    /// outside 1e-6 to 1e-2 kg^0.5/m, ground outside the altitudes of the air, or an entry interface outside them,
    /// not above the ground, or where the air is not a thousand times thinner than at the ground.
    pub fn new(parts: WorldParts) -> Result<Self, WorldError> {
        parts.body.check()?;
        parts.dispersion.check()?;
        parts
            .moons
            .iter()
            .try_for_each(|moon| moon.check(&parts.body))?;
        let (floor, top) = (parts.air.floor_m(), parts.air.top_m());
        let interface = parts.body.entry_interface_m;
        let (ground, k) = (parts.ground_m, parts.heating_constant);
        let usual = (1e-6..=1e-2).contains(&k);
        given("heating_constant", "kg^0.5/m", k).must(usual, "between 1e-6 and 1e-2")?;
        let rule = "within the altitudes of the profile";
        given("ground_altitude", "m", ground).must(ground >= floor && ground < top, rule)?;
        let rule = "above the ground and not above the top of the profile";
        let inside = interface > ground && interface <= top;
        let interface = given("entry_interface", "m", interface);
        interface.must(inside, rule)?;
        let ln_density = |altitude_m| parts.air.lookup(altitude_m).ln_density;
        let thinner = ln_density(ground) - ln_density(parts.body.entry_interface_m);
        let rule = "so high that the air is a thousand times thinner than at the ground";
        interface.must(thinner >= THINNER_BY, rule)?;
        Ok(Self {
            parts,
            applied_presets: Vec::new(),
        })
    }

    /// The same world with other dispersions beside the bias curve, to override some or switch them off.
    ///
    /// # Errors
    /// [`WorldError::OutOfRange`] for what [`Dispersion::check`] refuses.
    pub fn with_dispersion(mut self, dispersion: Dispersion) -> Result<Self, WorldError> {
        dispersion.check()?;
        self.parts.dispersion = dispersion;
        Ok(self)
    }

    /// The same world with the bias of a preset in its air.
    pub(super) fn with_air_bias(&self, preset: &Preset) -> Result<Self, WorldError> {
        let air = self.air().with_added(&preset.log_density_bias)?;
        let mut world = Self::new(WorldParts {
            air,
            ..self.parts.clone()
        })?;
        world.applied_presets.clone_from(&self.applied_presets);
        world.applied_presets.push(preset.name.clone());
        Ok(world)
    }

    /// What the world is made of.
    pub(super) fn parts(&self) -> &WorldParts {
        &self.parts
    }

    /// Constants of the body.
    #[must_use]
    pub fn body(&self) -> &Body {
        &self.parts.body
    }

    /// The air against altitude.
    #[must_use]
    pub fn air(&self) -> &AirTable {
        &self.parts.air
    }

    /// What the air is made of, where it is stated.
    #[must_use]
    pub fn gas(&self) -> Option<&Gas> {
        self.parts.gas.as_ref()
    }

    /// Constant k of stagnation heating q = k √(ρ/r) V³, kg^0.5/m.
    #[must_use]
    pub fn heating_constant(&self) -> f64 {
        self.parts.heating_constant
    }

    /// The gas for radiative heating, where a published correlation covers it.
    #[must_use]
    pub fn radiative(&self) -> Option<RadiativeGas> {
        self.parts.radiative
    }

    /// From which speed on its gas radiates; `None` where nothing is said of it.
    #[must_use]
    pub fn radiation(&self) -> Option<&Radiation> {
        self.parts.radiation.as_ref()
    }

    /// Altitudes between which the source of the profile has the air, m; beyond them it is an extension.
    #[must_use]
    pub fn sourced_m(&self) -> (f64, f64) {
        self.parts.sourced_m
    }

    /// Altitude of the ground, m: a pass that comes to it has landed.
    #[must_use]
    pub fn ground_m(&self) -> f64 {
        self.parts.ground_m
    }

    /// The dispersion beside the one-sigma of log density in the air table.
    #[must_use]
    pub fn dispersion(&self) -> &Dispersion {
        &self.parts.dispersion
    }

    /// Its moons, from the innermost outward if the world file keeps to that; often none.
    #[must_use]
    pub fn moons(&self) -> &[Moon] {
        &self.parts.moons
    }

    /// Names of the presets whose bias is in the air, in the order in which they were applied.
    #[must_use]
    pub fn applied_presets(&self) -> &[String] {
        &self.applied_presets
    }

    /// How far the world may be trusted.
    #[must_use]
    pub fn quality(&self) -> Quality {
        self.parts.quality
    }

    /// Where each block comes from, in the order of the world file.
    #[must_use]
    pub fn sources(&self) -> &[Source] {
        &self.parts.sources
    }

    /// The text of the world file it was read from; none for a world made in code.
    #[must_use]
    pub fn text(&self) -> Option<&str> {
        self.parts.text.as_deref()
    }
}
