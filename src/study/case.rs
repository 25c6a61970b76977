//! A scenario with its world, loaded and ready for any study.

use crate::ensemble::precision::Precision;
use crate::ensemble::problem::SampleNumber;
use crate::ensemble::{LimitKind, Problem, ProblemError};
use crate::scenario::Scenario;
use crate::scenario::aerodynamics::Radiative;
use crate::scenario::document::Document;
use crate::scenario::message::InputError;
use crate::world::World;
use std::path::Path;

/// A checked scenario, its world, and both made ready to fly.
#[derive(Debug)]
pub struct Case {
    /// The scenario.
    pub scenario: Scenario,
    /// Its world.
    pub world: World,
    /// Ready to fly.
    pub problem: Problem,
    /// How tightly its passes are integrated, and what the probe found of it.
    pub precision: Precision,
}

/// Why a case could not be made ready.
#[derive(Debug, thiserror::Error)]
pub enum CaseError {
    /// The scenario or the world file is wrong or cannot be read.
    #[error(transparent)]
    Input(#[from] InputError),
}

impl Case {
    /// Loads a scenario file and its world, with values set over it (`ship.mass`, `60 t`).
    ///
    /// # Errors
    /// [`CaseError`] naming file, line and key.
    pub fn load(path: &Path, overrides: &[(String, String)]) -> Result<Self, CaseError> {
        let mut document = Document::read(path)?;
        for (key, value) in overrides {
            document.set(key, value)?;
        }
        Self::from_document(document)
    }

    /// Makes a loaded document ready, as [`Case::load`] does with that of a file.
    ///
    /// # Errors
    /// As for [`Case::load`].
    pub fn from_document(mut document: Document) -> Result<Self, CaseError> {
        super::opm_arrival::expand(&mut document)?;
        Self::from_scenario(Scenario::from_document(&document)?)
    }

    /// Makes a scenario ready, at the tolerance that its probe asks for.
    ///
    /// # Errors
    /// [`CaseError`] for a world that cannot be had or that the scenario does not fit.
    pub fn from_scenario(scenario: Scenario) -> Result<Self, CaseError> {
        let made = Self::make(scenario)?;
        let precision = made.2.probe_precision();
        Ok(Self::at(made, precision))
    }

    /// What [`Case::make`] gave, at this tolerance.
    pub(super) fn at(
        (scenario, world, mut problem): (Scenario, World, Problem),
        precision: Precision,
    ) -> Self {
        problem.settings_mut().tolerance = precision.tolerance;
        log::info!(
            "tolerance {:.3e}, chosen by {} passes: exit speeds within {:.2} mm/s",
            precision.tolerance,
            precision.passes,
            precision.exit_speed_m_s * 1e3
        );
        Self {
            scenario,
            world,
            problem,
            precision,
        }
    }

    /// A scenario checked and read, its world, and both made ready to fly, before a tolerance is chosen.
    pub(super) fn make(scenario: Scenario) -> Result<(Scenario, World, Problem), CaseError> {
        let world = match scenario.world_path() {
            Some(path) => World::load(&path)?,
            None => World::bundled(&scenario.world).map_err(|error| {
                let placed = scenario.error_at("world", error.message());
                match error.help() {
                    Some(help) => placed.with_help(help),
                    None => placed,
                }
            })?,
        };
        let world =
            scenario
                .presets
                .iter()
                .enumerate()
                .try_fold(world, |world, (index, preset)| {
                    world.with_preset(preset).map_err(|error| {
                        let placed =
                            scenario.error_at(&format!("presets.{index}"), error.message());
                        match error.help() {
                            Some(help) => placed.with_help(help),
                            None => placed,
                        }
                    })
                })?;
        radiates(&scenario, &world)?;
        let mut scenario = scenario;
        let problem = Problem::new(&scenario, &world).map_err(|error| match error {
            ProblemError::Draws(cause) => scenario.error_at(
                "uncertainty",
                format!("the uncertainties cannot be drawn: {cause}"),
            ),
            ProblemError::Fitting(cause) => scenario.error_at(cause.key(), cause.to_string()),
            ProblemError::People(cause) => scenario.error_at("limits.people", cause.to_string()),
            ProblemError::TooManyLimits(_) => scenario.error_at("limits", error.to_string()),
            ProblemError::Air(cause) => {
                scenario.error_at("uncertainty", format!("the dispersion of the air: {cause}"))
            }
            ProblemError::NoLift => scenario
                .error_at("steering.bank", error.to_string())
                .with_help(
                    "give the ship lift, as in `lift_to_drag: 0.25`, or steer with a `skirt`",
                ),
            ProblemError::ThickAir(thick) => scenario
                .error_at("ship", thick.to_string())
                .with_help(thick.help()),
            ProblemError::NoApproach { .. } | ProblemError::NoAngle { .. } => {
                scenario.error_at("arrival", error.to_string())
            }
        })?;
        meets_the_air(&scenario, &world, &problem)?;
        log::info!(
            "scenario `{}`: world {} ({}), {} limits, {} uncertain numbers",
            scenario.title,
            world.body().name,
            world.quality().words(),
            problem.limits().entries().len(),
            scenario.uncertainty.numbers.len()
        );
        // Whoever asks the ship for its coefficients gets those of its table or shape.
        (scenario.ship.drag_coefficient, scenario.ship.lift_to_drag) =
            problem.reference_coefficients();
        Ok((scenario, world, problem))
    }
}

/// Refuses to be asked for radiation of a gas that no correlation covers.
fn radiates(scenario: &Scenario, world: &World) -> Result<(), InputError> {
    if scenario.ship.heating.radiative != Radiative::Asked || world.radiative().is_some() {
        return Ok(());
    }
    let message = format!(
        "no correlation of radiative heating covers the gas of {}: those known here are for the Earth's air and for that \
         of Mars",
        world.body().name
    );
    let help = "remove the key, and give what bounds that heat: `radiation_bound: {share_of_convection: 50 %, source: \
                ...}` under `ship.heating`; without it limits of heat are not covered where the gas radiates. A world \
                file whose gas is near enough to one of the two names it: `radiative: air` or `mars` under `heating`";
    Err(scenario
        .error_at("ship.heating.radiative", message)
        .with_help(help))
}

/// Refuses a range of aims that reaches above the air, and an orbit wanted within it.
fn meets_the_air(scenario: &Scenario, world: &World, problem: &Problem) -> Result<(), InputError> {
    let interface_m = world.body().entry_interface_m;
    let of_world = format!(
        "the entry interface of {}, {:.3} km",
        world.body().name,
        interface_m / 1e3
    );
    let highest_m = problem.aim().to_m;
    let highest = problem.launch(highest_m, problem.nominal(), SampleNumber::Nominal);
    if let Some((start, _)) = highest.filter(|(start, _)| !start.meets_air) {
        let message = format!(
            "the approach of the highest aim, {:.3} km, comes down to {:.3} km and is not below {of_world}",
            highest_m / 1e3,
            problem.planet().altitude_at(start.position) / 1e3
        );
        return Err(scenario.error_at("arrival", message).with_help(
            "an approach that stays above the interface never meets the air; lower the range of aims",
        ));
    }
    if let Some(below_m) = scenario.limits.allowed(LimitKind::CapturedBelow)
        && below_m <= interface_m
    {
        let message = format!(
            "`captured_below` asks for an apoapsis below {:.3} km, which is not above {of_world}",
            below_m / 1e3
        );
        let key = "limits.captured_below.apoapsis_altitude";
        return Err(scenario.error_at(key, message).with_help(
            "such an orbit never leaves the air, and no pass that leaves it meets the limit: write the apoapsis of \
             the orbit wanted, or `comes_down: yes` for a pass that ends on the ground",
        ));
    }
    Ok(())
}
