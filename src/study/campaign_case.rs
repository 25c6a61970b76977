//! The campaigns that a scenario describes, and its mistakes placed in it.

use super::campaign::{CampaignError, CampaignOutcome, check, fly_and_keep};
use crate::ensemble::Progress;
use crate::ensemble::campaign::{Plan, PlanError, StartOrbit, Starts};
use crate::ensemble::problem::Numbers;
use crate::scenario::Scenario;
use crate::scenario::arrival::ArrivalEnergy;
use crate::scenario::campaign::Campaign;
use crate::scenario::message::InputError;
use crate::scenario::uncertainty::Number;
use crate::study::Case;

impl CampaignError {
    /// The error placed in the scenario, with what to do.
    #[must_use]
    pub fn placed(&self, scenario: &Scenario) -> InputError {
        let text = self.to_string();
        let control = scenario.campaign.as_ref().map_or_else(String::new, |rule| {
            format!("campaign.control.{}", rule.control.quantity.key())
        });
        let (key, help) = match self {
            Self::NoCampaign => (
                "campaign",
                "add `campaign: {target: {apoapsis_altitude: 500 km}, control: {heat_flux: {low: ..., high: ...}}}`",
            ),
            Self::Plan(PlanError::TooThin { .. }) => (
                control.as_str(),
                "lower the band, or take a world with more air",
            ),
            Self::Plan(PlanError::TooThick { .. }) => (
                control.as_str(),
                "raise the band, or extend the air of the world file upwards",
            ),
            Self::NoFirstPeriapsis => (
                "campaign",
                "as in `first_periapsis: 130 km`; it may lie above the entry interface",
            ),
            Self::NoStart { .. } if scenario.document().has("campaign.first_periapsis") => (
                "campaign.first_periapsis",
                "lower it, or begin with a higher apoapsis",
            ),
            Self::NoStart { .. } | Self::NoArrival { .. } => {
                ("arrival", "change the aim or the arrival")
            }
            Self::NothingToDo { .. } => (
                "campaign.target.apoapsis_altitude",
                "lower the target below the apoapsis of the arrival",
            ),
            Self::Stopped { .. } => ("", "run it again for all campaigns"),
        };
        scenario.error_at(key, text).with_help(help)
    }
}

/// The rule of a scenario and its first periapsis, m.
fn rule_of(case: &Case) -> Result<(&Campaign, f64), CampaignError> {
    let rule = case.scenario.campaign.as_ref();
    let rule = rule.ok_or(CampaignError::NoCampaign)?;
    let aim = case.problem.aim();
    match rule.first_periapsis_m {
        Some(first_m) => Ok((rule, first_m)),
        None if aim.to_m > aim.from_m => Err(CampaignError::NoFirstPeriapsis),
        None => Ok((rule, aim.from_m)),
    }
}

/// The first orbit of these numbers.
fn orbit_of(numbers: &Numbers, first_m: f64) -> StartOrbit {
    let of = |number: Number| numbers[number as usize];
    StartOrbit {
        apoapsis_altitude_m: of(Number::ArrivalEnergy),
        periapsis_altitude_m: first_m + of(Number::DeliveryPeriapsis),
        inclination_rad: of(Number::Inclination),
        argument_of_periapsis_rad: of(Number::ArgumentOfPeriapsis),
        mass_kg: of(Number::ShipMass),
    }
}

/// Where the campaigns of a scenario begin when nothing is in error.
fn nominal_starts(case: &Case, first_m: f64) -> Starts<'static> {
    match case.scenario.arrival.energy {
        ArrivalEnergy::ApoapsisAltitude(_) => {
            Starts::Same(orbit_of(case.problem.nominal(), first_m))
        }
        ArrivalEnergy::ExcessSpeed(_) | ArrivalEnergy::InertialEntrySpeed(_) => {
            Starts::Arrival { aim_m: first_m }
        }
    }
}

/// Finds out whether the campaigns of a scenario can be flown, without flying any.
///
/// # Errors
/// [`CampaignError`] as [`fly_case`], but for a run that is stopped.
pub fn check_case(case: &Case) -> Result<(), CampaignError> {
    let (rule, first_m) = rule_of(case)?;
    Plan::new(&case.problem, rule, &case.scenario.ship)?;
    check(&case.problem, rule, &nominal_starts(case, first_m))
}

/// Flies the campaigns that a scenario describes.
///
/// # Errors
/// As [`super::campaign::fly_campaigns`], and where the scenario has no `campaign` or no first periapsis.
pub fn fly_case(
    case: &Case,
    asked: (u64, u64),
    progress: &Progress,
) -> Result<CampaignOutcome, CampaignError> {
    let (rule, first_m) = rule_of(case)?;
    let problem = &case.problem;
    let nominal = nominal_starts(case, first_m);
    // What holds without errors is checked before any is flown.
    check(problem, rule, &nominal)?;
    let each = |campaign: u64| orbit_of(&problem.numbers(campaign), first_m);
    let starts = match nominal {
        Starts::Same(_) if !problem.is_deterministic() => Starts::Each(&each),
        same => same,
    };
    fly_and_keep(
        problem,
        (rule, &case.scenario.ship),
        &starts,
        (asked, progress),
    )
}
