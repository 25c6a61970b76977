//! The figure of a world: its density against altitude with its one-sigma.

use super::error::ReportError;
use super::folder::{RunFacts, RunFolder, sha256, slug};
use super::plot::profile::Profile;
use crate::world::World;
use std::path::{Path, PathBuf};

/// Where the figure of a world goes under `base`.
#[must_use]
pub fn folder(world: &World, base: &Path) -> PathBuf {
    base.join("worlds").join(slug(&world.body().name))
}

/// Draws a world's density under `base` and gives the folder's path.
///
/// # Errors
/// [`ReportError`] when the figure cannot be drawn or written.
pub fn write(world: &World, base: &Path) -> Result<PathBuf, ReportError> {
    let name = &world.body().name;
    let mut folder = RunFolder::create(base, "worlds", name)?;
    folder.write_figure("density", &profile(world))?;
    let facts = RunFacts {
        data: world
            .text()
            .map(|text| (format!("world {name}"), sha256(text.as_bytes())))
            .into_iter()
            .collect(),
        command: format!("periband worlds {} --figure", name.to_lowercase()),
        ..RunFacts::default()
    };
    Ok(folder.finish(&facts)?)
}

/// The density of a world from the ground to a little above the entry interface.
#[must_use]
pub fn profile(world: &World) -> Profile {
    const POINTS: u32 = 300;
    let air = world.air();
    let (low, interface) = (world.ground_m(), world.body().entry_interface_m);
    let high = (interface + 0.15 * (interface - low)).min(air.top_m());
    let mut profile = Profile {
        title: format!("Density of the air of {}", world.body().name),
        note: format!(
            "{}; entry interface {:.0} km",
            world.quality().words(),
            interface / 1e3
        ),
        ..Profile::default()
    };
    for i in 0..=POINTS {
        let altitude = low + (high - low) * f64::from(i) / f64::from(POINTS);
        let point = air.lookup(altitude);
        profile.altitude_m.push(altitude);
        profile.density_kg_m3.push(point.ln_density.exp());
        profile.sigma_ln_density.push(point.log_sigma);
    }
    profile
}
