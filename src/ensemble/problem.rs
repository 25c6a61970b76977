//! A scenario made ready to fly: the planet, the draws, the limits, and the start of any sample.

use super::air::{AirDraws, flown_dispersion};
use super::before::Before;
use super::coverage::{Gap, Sources};
use super::draws::Draws;
use super::fixed::{flown_uncertainty, models, nominal_numbers, reference_coefficients, varies};
use super::limits::LimitSet;
pub use super::luck::SampleNumber;
use super::problem_error::ProblemError;
use super::reach::Reach;
use super::sources::{Source, sources};
use super::steered::guide_of;
use crate::craft::radiative::TauberSutton;
use crate::pass::Models;
use crate::pass::batch::Settings;
use crate::scenario::Scenario;
use crate::scenario::arrival::{Aim, AimRange, ArrivalEnergy};
use crate::scenario::steering::Control;
use crate::scenario::uncertainty::Number;
use crate::steering::Guide;
use crate::world::{Planet, World};
use std::sync::Arc;

/// The numbers of one sample, at the places of [`Number::ALL`].
pub type Numbers = [f64; Number::COUNT];

/// A scenario and its world, ready to fly any sample at any aim.
#[derive(Debug, Clone)]
pub struct Problem {
    pub(super) models: Models,
    pub(super) heating_constant: f64,
    pub(super) energy: ArrivalEnergy,
    aim: AimRange,
    pub(super) air: AirDraws,
    pub(super) draws: Draws,
    pub(super) nominal: Numbers,
    limits: LimitSet,
    settings: Settings,
    pub(super) uncertain_limits: bool,
    /// What is uncertain, whether it moves any flight or not.
    all_sources: Vec<Source>,
    /// Those that do.
    sources: Vec<Source>,
    pub(super) delivery_scale: f64,
    pub(super) guide: Option<Arc<Guide>>,
    pub(super) before: Before,
    /// The numbers of the scenario, before anything is done to the ship.
    pub(super) written: Numbers,
    seed: u64,
    reference: (f64, f64),
    /// Whether a table or a shape has lift, where the coefficients come from one.
    pub(super) table_lifts: Option<bool>,
    pub(super) accommodation: f64,
    /// The radiative correlation of the world, whether any sample is fast enough for it or not.
    radiation: Option<TauberSutton>,
    /// One-sigmas of the arrival's energy (in its unit) and of the delivered speed (m/s).
    speed_sigmas: [f64; 2],
    /// What the sources of the models have.
    model_sources: Arc<Sources>,
}

impl Problem {
    /// Makes a scenario ready to fly about a world.
    ///
    /// # Errors
    /// [`ProblemError::Draws`] for uncertainties that cannot be drawn, [`ProblemError::TooManyLimits`],
    /// [`ProblemError::ThickAir`] for a ship for which the air at the interface is already too thick,
    /// [`ProblemError::NoApproach`] when the nominal numbers at the lowest aim fit no approach conic.
    pub fn new(scenario: &Scenario, world: &World) -> Result<Self, ProblemError> {
        let dispersion = flown_dispersion(&scenario.uncertainty.air_parts, world);
        let flown = world.clone().with_dispersion(dispersion.clone())?;
        let models = models(scenario, &flown)?;
        let reference = reference_coefficients(scenario, &models);
        let mut limits = LimitSet::new(&scenario.limits, &scenario.ship, reference.1)?;
        if limits.entries().len() > LimitSet::MOST {
            return Err(ProblemError::TooManyLimits(limits.entries().len()));
        }
        if let Some(Control::Skirt(skirt)) = scenario.steering.map(|steering| steering.control) {
            limits = limits.with_nose_after(skirt.nose_radius_m / scenario.ship.nose_radius_m);
        }
        let mut settings = Settings::new(&models);
        settings.levels = limits.levels();
        if let Some(people) = limits.people() {
            settings.curves = people.curves().clone();
        }
        let uncertainty = &flown_uncertainty(scenario, &models);
        let judges_spots =
            |number: Number| number == Number::NoseRadius && !scenario.ship.spots.is_empty();
        let problem = Self {
            heating_constant: world.heating_constant(),
            energy: scenario.arrival.energy,
            aim: AimRange {
                from_m: 0.0,
                to_m: 0.0,
                step_m: 1.0,
            },
            air: AirDraws::new(
                (uncertainty.air_density, uncertainty.air_parts.means),
                (&dispersion, &models.planet),
                scenario.ask.seed,
            ),
            draws: Draws::new(uncertainty, scenario.ask.seed)?,
            nominal: nominal_numbers(scenario),
            written: nominal_numbers(scenario),
            limits,
            settings,
            uncertain_limits: uncertainty
                .numbers
                .iter()
                .any(|u| u.number.is_limit() || judges_spots(u.number)),
            sources: Vec::new(),
            all_sources: sources(uncertainty, world, &dispersion),
            delivery_scale: 1.0,
            guide: None,
            before: Before::default(),
            seed: scenario.ask.seed,
            table_lifts: varies(scenario).then(|| {
                let aerodynamics = models.ship.aerodynamics.as_ref();
                aerodynamics.is_some_and(|aero| aero.grid.lifts())
            }),
            reference,
            accommodation: scenario.ship.heating.accommodation,
            radiation: models.ship.radiative.clone(),
            speed_sigmas: [Number::ArrivalEnergy, Number::DeliverySpeed].map(|number| {
                let mut uncertain = uncertainty.numbers.iter();
                let found = uncertain.find(|uncertain| uncertain.number == number);
                found.map_or(0.0, |u| u.distribution.std_dev())
            }),
            models,
            model_sources: Arc::new(Sources::new(scenario, world)),
        };
        let mut problem = problem.aimed_at(scenario.arrival.aim)?;
        problem.choose_radiation(&[problem.nominal]);
        problem.guide = guide_of(scenario, world, &problem)?.map(Arc::new);
        Ok(problem)
    }

    /// Flies radiation where a sample about any of these arrivals may be fast enough for it. Where none is, the model
    /// would be asked at every stage for nothing.
    fn choose_radiation(&mut self, arrivals: &[Numbers]) {
        let speeds = arrivals.iter().map(|numbers| self.fastest_m_s(numbers));
        let fastest = speeds.fold(0.0, f64::max);
        let model = self.radiation.as_ref();
        let chosen = model.filter(|model| fastest >= model.slowest_m_s());
        self.models.ship.radiative = chosen.cloned();
        let moving = self.all_sources.iter().filter(|source| self.moves(source));
        self.sources = moving.cloned().collect();
    }

    /// Whether a source moves flights: the error of radiation by itself does where that is flown.
    fn moves(&self, source: &Source) -> bool {
        self.models.ship.radiative.is_some() || source.numbers != [Number::HeatingRadiative]
    }

    /// Whether an uncertain number moves flights; see [`Problem::sources`].
    pub(super) fn is_moved_by(&self, number: Number) -> bool {
        let mut sources = self.all_sources.iter();
        let still = |source: &Source| source.numbers == [number] && !self.moves(source);
        !sources.any(still)
    }

    /// A speed against the air that samples about an arrival do not reach, m/s: at the lowest aim with every speed
    /// six standard deviations up, without what a burn takes off, with the whole turning of the planet, and 2 % for
    /// falling further and for winds. Infinite where no approach has those numbers.
    fn fastest_m_s(&self, arrival: &Numbers) -> f64 {
        let mut numbers = *arrival;
        let [energy, speed] = self.speed_sigmas;
        numbers[Number::ArrivalEnergy as usize] += 6.0 * energy;
        numbers[Number::DeliverySpeed as usize] += 6.0 * speed * self.delivery_scale.max(1.0);
        let start = self.launch(self.aim.from_m, &numbers, SampleNumber::Nominal);
        start.map_or(f64::INFINITY, |(start, _)| {
            let turning = self.models.rotation_rad_s.abs() * start.position.norm();
            (start.velocity.norm() + self.before.speed_off_m_s + turning) * 1.02
        })
    }

    /// The same problem, ready to fly these arrivals (each the numbers of one) beside its own.
    #[must_use]
    pub fn ready_for(&self, arrivals: &[Numbers]) -> Self {
        let mut ready = self.clone();
        let mut all = arrivals.to_vec();
        all.push(self.nominal);
        ready.choose_radiation(&all);
        ready.tell_guide();
        ready
    }

    /// What the ship steers by, told of the nominal ship and of the models that are flown.
    fn tell_guide(&mut self) {
        if let Some(guide) = self.guide.as_deref() {
            let vehicle = self.vehicle(&self.nominal);
            let told = guide.with_ship(&self.models.ship, &vehicle);
            self.guide = Some(Arc::new(told));
        }
    }

    /// Settles what is aimed for: the lowest aim must fit an approach conic.
    fn aimed_at(mut self, aim: Aim) -> Result<Self, ProblemError> {
        self.aim = match aim {
            Aim::Periapsis(range) => range,
            Aim::FlightPathAngle(angle) => {
                let aim_m = self.aim_for_angle(angle)?;
                AimRange {
                    from_m: aim_m,
                    to_m: aim_m,
                    step_m: 1.0,
                }
            }
        };
        let aim_m = self.aim.from_m;
        // Of the shallower way more lies above the interface: the one that would do for it does for both.
        for end_m in [self.aim.to_m, aim_m] {
            if let Some(thick) = self.thick_air(end_m, &self.nominal, SampleNumber::Nominal) {
                return Err(thick.into());
            }
        }
        match self.launch(aim_m, &self.nominal, SampleNumber::Nominal) {
            Some(_) => Ok(self),
            None => Err(ProblemError::NoApproach {
                aim_km: aim_m / 1e3,
            }),
        }
    }

    /// What is aimed for, as vacuum periapsis altitudes.
    #[must_use]
    pub fn aim(&self) -> AimRange {
        self.aim
    }

    /// The planet flown about.
    #[must_use]
    pub fn planet(&self) -> &Planet {
        &self.models.planet
    }

    /// The planet and what all samples of the ship share: what a flight needs.
    #[must_use]
    pub fn models(&self) -> &Models {
        &self.models
    }

    /// Drag coefficient and lift-to-drag ratio in a fast continuum (Mach 20), without error.
    #[must_use]
    pub fn reference_coefficients(&self) -> (f64, f64) {
        self.reference
    }

    /// The seed of the draws.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// How the air of a sample is drawn.
    #[must_use]
    pub fn air_draws(&self) -> &AirDraws {
        &self.air
    }

    /// The limits that bind.
    #[must_use]
    pub fn limits(&self) -> &LimitSet {
        &self.limits
    }

    /// How passes are flown.
    #[must_use]
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// How passes are flown, to change.
    pub fn settings_mut(&mut self) -> &mut Settings {
        &mut self.settings
    }

    /// The same problem, its passes integrated as tightly as those of another: of the same question.
    #[must_use]
    pub fn flown_as(mut self, other: &Self) -> Self {
        self.settings.tolerance = other.settings.tolerance;
        self
    }

    /// The same problem with every delivery error multiplied by `scale` (0 or more).
    #[must_use]
    pub fn with_delivery_scaled(&self, scale: f64) -> Self {
        let mut scaled = self.clone();
        scaled.delivery_scale = scale;
        if scale > 1.0 {
            scaled.choose_radiation(&[self.nominal]);
            scaled.tell_guide();
        }
        scaled
    }

    /// The same problem for a ship to which something is done before it meets the air, aimed at this range.
    ///
    /// # Errors
    /// [`ProblemError::NoApproach`] when no approach conic is left at the lowest aim.
    pub fn with_before(&self, before: Before, aim: AimRange) -> Result<Self, ProblemError> {
        let mut changed = self.clone();
        changed.nominal = self.written;
        before.change(&mut changed.nominal);
        changed.before = before;
        let mut changed = changed.aimed_at(Aim::Periapsis(aim))?;
        changed.choose_radiation(&[changed.nominal]);
        changed.tell_guide();
        Ok(changed)
    }

    /// Whether all samples are alike: nothing is uncertain.
    #[must_use]
    pub fn is_deterministic(&self) -> bool {
        self.sources.is_empty() && self.before.is_certain()
    }

    /// The parts of a flight that the sources of the models do not have.
    #[must_use]
    pub fn gaps(&self, reach: &Reach) -> Vec<Gap> {
        self.model_sources.gaps(reach, &self.models.ship)
    }

    /// What is uncertain, in parts that move independently of one another.
    #[must_use]
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// The numbers without any error.
    #[must_use]
    pub fn nominal(&self) -> &Numbers {
        &self.nominal
    }
}
