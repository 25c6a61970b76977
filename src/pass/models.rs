//! The models that all samples of a flight share: the planet and the ship.

use crate::craft::ShipModels;
use crate::world::Planet;
use std::ops::Deref;

/// A planet and a ship, ready to fly. It stands for its planet wherever that alone is asked for.
#[derive(Debug, Clone)]
pub struct Models {
    /// The planet.
    pub planet: Planet,
    /// What all samples of the ship share.
    pub ship: ShipModels,
}

impl From<Planet> for Models {
    /// A ship with constant coefficients and convective heating of a continuum alone.
    fn from(planet: Planet) -> Self {
        Self {
            planet,
            ship: ShipModels::default(),
        }
    }
}

impl Deref for Models {
    type Target = Planet;

    #[inline(always)]
    fn deref(&self) -> &Planet {
        &self.planet
    }
}
