//! One steered flight in full: flown in a lane for the decisions, and again by the reference for its history.

use super::guide::Guide;
use super::knots::Log;
use super::pilot::Steerer;
use super::seat::Crew;
use crate::pass::batch::Settings;
use crate::pass::piloted::Squadron;
use crate::pass::reference::{FlownPass, FlyError, FlyOptions, Leg, fly_legs};
use crate::pass::{EntryState, Models, PassResult, Sample};

/// A steered flight with its history and its decisions.
#[derive(Debug, Clone)]
pub struct SteeredPass {
    /// The flight, by the reference integrator along the banks that were flown.
    pub flown: FlownPass,
    /// The decisions.
    pub log: Log,
    /// What the lanes made of it.
    pub in_lanes: PassResult,
}

/// Flies steered passes in lanes and keeps their logs; `launches` and `crews` are of the same flights.
#[must_use]
pub fn fly_logged(
    (models, settings): (&Models, &Settings),
    guide: &Guide,
    launches: &[(EntryState, Sample<f64>)],
    crews: &[Crew],
) -> Vec<(PassResult, Log)> {
    let mut results = vec![PassResult::default(); launches.len()];
    let mut steerer = Steerer::new(guide, crews).logging();
    let mut ready = launches.iter().enumerate();
    Squadron::new(models, settings, steerer.sets()).fly(
        &mut steerer,
        || {
            ready
                .next()
                .map(|(number, (start, sample))| (number, *start, *sample))
        },
        |number, result| results[number] = result,
    );
    results.into_iter().zip(steerer.into_logs()).collect()
}

/// Flies one steered pass in full.
///
/// # Errors
/// [`FlyError::Stopped`] when the reference integrator can take no further step.
pub fn fly_steered(
    (models, settings): (&Models, &Settings),
    guide: &Guide,
    (start, sample, crew): (&EntryState, &Sample<f64>, &Crew),
    options: FlyOptions,
) -> Result<SteeredPass, FlyError> {
    let (in_lanes, log) = fly_logged((models, settings), guide, &[(*start, *sample)], &[*crew])
        .pop()
        .unwrap_or_default();
    let mut legs: Vec<Leg> = log
        .knots
        .iter()
        .map(|knot| Leg {
            until_s: knot.until_s,
            sample: Sample {
                vehicle: knot.vehicle,
                ..*sample
            },
        })
        .collect();
    if legs.is_empty() {
        legs.push(Leg {
            until_s: f64::INFINITY,
            sample: *sample,
        });
    }
    Ok(SteeredPass {
        flown: fly_legs(models, &legs, start, (settings, options))?,
        log,
        in_lanes,
    })
}
