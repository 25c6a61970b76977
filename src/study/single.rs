//! One nominal pass in full: history, orbit afterwards, and what it costs to mend.

use super::afterwards::NextRound;
use super::nose::Nose;
use super::walls::{SpotHeat, walls_along};
use crate::craft::engine::propellant_kg;
use crate::craft::layer::SlabError;
use crate::ensemble::problem::{Numbers, SampleNumber};
use crate::ensemble::thin_air::ThickAir;
use crate::ensemble::{LimitKind, Problem};
use crate::pass::orbit::Corrections;
use crate::pass::reference::{FlownPass, FlyError, FlyOptions, fly};
use crate::pass::{Ending, EntryState, Sample};
use crate::scenario::ship::Ship;
use crate::scenario::uncertainty::Number;
use crate::steering::Log;
use crate::steering::flight::fly_steered;

/// A flown pass with its start and what follows it.
#[derive(Debug, Clone)]
pub struct SinglePass {
    /// Aimed vacuum periapsis altitude, m.
    pub aim_m: f64,
    /// Which sample it is, or the nominal pass.
    pub sample: SampleNumber,
    /// The numbers flown with, by which its limits are judged.
    pub numbers: Numbers,
    /// State at the start.
    pub start: EntryState,
    /// The flight.
    pub flown: FlownPass,
    /// The nose along the flight.
    pub nose: Nose,
    /// What the ship decided on the way, when it is steered.
    pub steered: Option<Log>,
    /// Period of the conic that osculates at the apoapsis afterwards, s, when the ship is captured.
    pub period_s: Option<f64>,
    /// The way up to the apoapsis and down to the next passage, when the ship is captured.
    pub next_round: Option<NextRound>,
    /// Lowest altitude to which the approach would come without air, m; `None` where it leads into the ground.
    pub vacuum_low_m: Option<f64>,
    /// The burns that mend the orbit, when it is closed.
    pub corrections: Option<Mending>,
    /// The walls of the ship's spots along the flight and in the soak after it.
    pub spots: Vec<SpotHeat>,
}

/// The burns after a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mending {
    /// The target: periapsis altitude, m.
    pub target_periapsis_m: f64,
    /// The target: apoapsis altitude, m.
    pub target_apoapsis_m: f64,
    /// Speed changes.
    pub burns: Corrections,
    /// Propellant for both, kg, when the ship has an engine.
    pub propellant_kg: Option<f64>,
    /// The apoapsis altitude that the pass left, or that the limits allow, m, where it is raised because it lies
    /// below the target periapsis.
    pub raised_from_m: Option<f64>,
}

/// How far above the entry interface the periapsis is lifted after a pass, m: out of the air, in round numbers
/// (this program's choice).
const LIFT_ABOVE_INTERFACE_M: f64 = 100e3;

/// Why a single pass could not be flown.
#[derive(Debug, thiserror::Error)]
pub enum SingleError {
    /// The numbers fit no approach conic.
    #[error(
        "no approach conic fits a vacuum periapsis at {aim_km:.3} km: it must lie above the centre of the body \
         and below the apoapsis"
    )]
    NoApproach {
        /// The aim, km.
        aim_km: f64,
    },
    /// The air at the interface is already too thick for the ship.
    #[error("{thick}; {}", .thick.help())]
    ThickAir {
        /// The air, and what would do.
        thick: ThickAir,
    },
    /// The approach stays where no air is reckoned with.
    #[error(
        "a vacuum periapsis at {aim_km:.3} km never meets the air: the approach comes down to {lowest_km:.3} km above \
         the ellipsoid, and the entry interface is at {interface_km:.3} km"
    )]
    NeverMeetsAir {
        /// The aim, km.
        aim_km: f64,
        /// Lowest altitude of the approach, km.
        lowest_km: f64,
        /// Altitude of the entry interface, km.
        interface_km: f64,
    },
    /// The apoapsis wanted lies below the periapsis to which the orbit is lifted.
    #[error(
        "a target apoapsis of {asked_km:.3} km is too low: the periapsis is lifted to {least_km:.3} km, {lift_km:.0} km \
         above the entry interface, so ask for that or more"
    )]
    LowTarget {
        /// The apoapsis altitude asked for, km.
        asked_km: f64,
        /// The periapsis altitude to which the orbit is lifted, km.
        least_km: f64,
        /// How far that is above the entry interface, km.
        lift_km: f64,
    },
    /// The integration stopped.
    #[error(transparent)]
    Fly(#[from] FlyError),
    /// The steered flight failed in the lanes, where its decisions are made: its history would be that of another.
    #[error(
        "the steered flight aimed at {aim_km:.3} km failed: its integration stopped after {time_s:.1} s"
    )]
    Steered {
        /// The aim, km.
        aim_km: f64,
        /// When it stopped, s.
        time_s: f64,
    },
    /// A wall could not be carried along the flight.
    #[error("the wall of a spot cannot be carried along the flight: {0}")]
    Wall(#[from] SlabError),
}

/// A flown pass with its start, without what follows from it.
pub(super) struct StartedPass {
    /// The numbers flown with.
    pub(super) numbers: Numbers,
    /// State at the start.
    pub(super) start: EntryState,
    /// The ship and its air.
    pub(super) sample: Sample<f64>,
    /// The flight.
    pub(super) flown: FlownPass,
    /// The nose along it.
    pub(super) nose: Nose,
    /// What the ship decided, when it is steered.
    pub(super) steered: Option<Log>,
}

/// Flies an aim (m), nominal or of a sample, by the reference integrator.
pub(super) fn fly_start(
    problem: &Problem,
    (aim_m, sample): (f64, SampleNumber),
) -> Result<StartedPass, SingleError> {
    let numbers = problem.numbers_of(sample);
    if let Some(thick) = problem.thick_air(aim_m, &numbers, sample) {
        return Err(SingleError::ThickAir { thick });
    }
    let aim_km = aim_m / 1e3;
    let launched = problem.launch(aim_m, &numbers, sample);
    let (start, sample) = launched.ok_or(SingleError::NoApproach { aim_km })?;
    if !start.meets_air {
        let planet = problem.planet();
        return Err(SingleError::NeverMeetsAir {
            aim_km: aim_m / 1e3,
            lowest_km: planet.altitude_at(start.position) / 1e3,
            interface_km: planet.interface_m / 1e3,
        });
    }
    let (models, settings) = (problem.models(), problem.settings());
    let options = FlyOptions::default();
    let (flown, steered) = match problem.guide() {
        None => (fly(models, &sample, &start, (settings, options))?, None),
        Some(guide) => {
            let crew = problem.crew(&numbers, &sample);
            let ship = (&start, &sample, &crew);
            let pass = fly_steered((models, settings), guide, ship, options)?;
            if !pass.in_lanes.ending.is_flown() {
                let time_s = pass.in_lanes.duration_s;
                return Err(SingleError::Steered { aim_km, time_s });
            }
            (pass.flown, Some(pass.log))
        }
    };
    let dropped_s = steered.as_ref().and_then(Log::dropped_s);
    let radius_m = numbers[Number::NoseRadius as usize];
    Ok(StartedPass {
        nose: Nose::of(problem.limits(), radius_m, dropped_s),
        numbers,
        start,
        sample,
        flown,
        steered,
    })
}

/// Flies one pass, nominal or of a sample, by the reference integrator.
///
/// The orbit is mended to a periapsis 100 km above the entry interface, and to `target_apoapsis_m`
/// where one is asked for (else the apoapsis stays, or comes down to the limit that it breaks, but not below the
/// lifted periapsis).
///
/// # Errors
/// [`SingleError`]: no approach conic, an approach that never meets the air, a target apoapsis below the lifted
/// periapsis, or an integration that stopped.
pub fn fly_single(
    problem: &Problem,
    ship: &Ship,
    (aim_m, sample): (f64, SampleNumber),
    target_apoapsis_m: Option<f64>,
) -> Result<SinglePass, SingleError> {
    let lifted_m = problem.planet().interface_m + LIFT_ABOVE_INTERFACE_M;
    if let Some(asked_m) = target_apoapsis_m
        && asked_m < lifted_m
    {
        return Err(SingleError::LowTarget {
            asked_km: asked_m / 1e3,
            least_km: lifted_m / 1e3,
            lift_km: LIFT_ABOVE_INTERFACE_M / 1e3,
        });
    }
    let StartedPass {
        numbers,
        start,
        mut flown,
        nose,
        steered,
        ..
    } = fly_start(problem, (aim_m, sample))?;
    let planet = problem.planet();
    flown.result.peak_heat_flux_by_nose_w_m2 = nose.peaks_w_m2(&flown.history);
    let spots = walls_along(ship, problem.limits(), (&flown, &nose))?;
    let mass_kg = numbers[Number::ShipMass as usize];
    let (gm, radius) = (planet.gm_m3_s2, planet.equatorial_radius_m);
    let orbit = flown.result.orbit;
    let closed = (flown.result.ending == Ending::Captured).then_some(());
    let corrections = closed
        .and_then(|()| orbit.apoapsis_radius_m(gm))
        .map(|r_a| {
            let target_p = radius + lifted_m;
            let highest = limit_on_apoapsis_m(problem).map_or(r_a, |most| r_a.min(radius + most));
            let wanted = target_apoapsis_m.map_or(highest, |altitude| radius + altitude);
            let target_a = wanted.max(target_p);
            let burns =
                Corrections::between(gm, (orbit.periapsis_radius_m, r_a), (target_p, target_a));
            let speed_change = burns.lift_periapsis_m_s + burns.trim_apoapsis_m_s;
            Mending {
                target_periapsis_m: target_p - radius,
                target_apoapsis_m: target_a - radius,
                burns,
                propellant_kg: ship
                    .engine
                    .map(|engine| propellant_kg(mass_kg, speed_change, engine.specific_impulse_s)),
                raised_from_m: (wanted < target_p).then_some(wanted - radius),
            }
        });
    Ok(SinglePass {
        aim_m,
        sample,
        numbers,
        start,
        period_s: closed.and_then(|()| orbit.period_s(gm)),
        next_round: NextRound::after(planet, &flown.result),
        vacuum_low_m: problem.vacuum_low_m(aim_m),
        flown,
        nose,
        steered,
        corrections,
        spots,
    })
}

/// Highest apoapsis altitude that the limits allow, m.
fn limit_on_apoapsis_m(problem: &Problem) -> Option<f64> {
    let limit = problem.limits().find(LimitKind::CapturedBelow);
    limit.map(|limit| limit.allowed)
}
