//! The points of a sweep: which there are, and the scenario at each.

use super::Sweep;
use crate::ensemble::Problem;
use crate::ensemble::precision::Precision;
use crate::scenario::Scenario;
use crate::scenario::ask::TooManySamples;
use crate::scenario::message::{InputError, InputKind};
use crate::study::case::{Case, CaseError};
use crate::world::World;

/// Most points of a sweep.
pub const MOST_POINTS: usize = 10_000;

/// One point of a sweep.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Point {
    /// Index of the value of each variation.
    pub places: Vec<usize>,
}

/// Why a sweep cannot begin.
#[derive(Debug, thiserror::Error)]
pub enum SweepError {
    /// A key that there is not, or no point that is a valid scenario: the first one's mistake.
    #[error(transparent)]
    Input(#[from] InputError),
    /// Neither one nor two numbers are varied.
    #[error(
        "one or two numbers can be varied at once, got {0}: write `--vary` once or twice, as in --vary \
         ship.lift_to_drag=0..0.5:6"
    )]
    Numbers(usize),
    /// The same number twice.
    #[error(
        "`{0}` is varied twice: two different numbers span a map, one number has one list of values"
    )]
    Twice(String),
    /// More points than are taken.
    #[error("{0} points are more than {MOST_POINTS}: take fewer values of each number")]
    TooMany(usize),
    /// More samples than the study takes.
    #[error(transparent)]
    TooManySamples(#[from] TooManySamples),
}

/// Points of a sweep at which its tolerance is probed.
const PROBED: usize = 8;

/// One tolerance for all points, so that they differ by what is varied alone: the tightest that points even over the
/// sweep ask for, up to [`PROBED`] of them. `None` where none of those is a valid scenario.
pub(super) fn precision(sweep: &Sweep<'_>, points: &[Point]) -> Option<Precision> {
    let probed = points.len().min(PROBED);
    let at = |i: usize| &points[(2 * i + 1) * points.len() / (2 * probed)];
    let made = (0..probed).filter_map(|i| at(i).make(sweep).ok());
    made.map(|(.., problem)| problem.probe_precision())
        .reduce(Precision::tighter)
}

impl Point {
    /// The case at this point, flown at the tolerance of the sweep, or at its own where the sweep has none.
    ///
    /// # Errors
    /// What is wrong with the scenario there.
    pub fn case(
        &self,
        sweep: &Sweep<'_>,
        precision: Option<Precision>,
    ) -> Result<Case, InputError> {
        let made = self.make(sweep)?;
        let precision = precision.unwrap_or_else(|| made.2.probe_precision());
        Ok(Case::at(made, precision))
    }

    fn make(&self, sweep: &Sweep<'_>) -> Result<(Scenario, World, Problem), InputError> {
        let mut document = sweep.document.clone();
        for (variation, &place) in sweep.variations.iter().zip(&self.places) {
            variation.set(place, &mut document)?;
        }
        let scenario = Scenario::from_document(&document)?;
        Case::make(scenario).map_err(|error| match error {
            CaseError::Input(error) => error,
        })
    }
}

/// Every point of a sweep, the first variation changing slowest.
pub(super) fn every_point(sweep: &Sweep<'_>) -> Result<Vec<Point>, SweepError> {
    let variations = sweep.variations;
    if !(1..=2).contains(&variations.len()) {
        return Err(SweepError::Numbers(variations.len()));
    }
    if let [one, other] = variations
        && one.key == other.key
    {
        return Err(SweepError::Twice(one.key.clone()));
    }
    let count = variations.iter().map(|v| v.values.len()).product();
    if count > MOST_POINTS {
        return Err(SweepError::TooMany(count));
    }
    let mut points = vec![Point { places: Vec::new() }];
    for variation in variations {
        let longer = |point: Point| {
            (0..variation.values.len()).map(move |place| Point {
                places: point.places.iter().copied().chain([place]).collect(),
            })
        };
        points = points.into_iter().flat_map(longer).collect();
    }
    let mut first_mistake = None;
    let mut any_good = false;
    for point in &points {
        match point.make(sweep) {
            Ok((scenario, ..)) => {
                if sweep.study.keeps_samples {
                    scenario.ask.can_be_kept()?;
                }
                any_good = true;
            }
            Err(error) if error.kind() != InputKind::Invalid => return Err(error.into()),
            Err(error) => first_mistake = first_mistake.or(Some(error)),
        }
    }
    match first_mistake {
        Some(mistake) if !any_good => Err(mistake.into()),
        _ => Ok(points),
    }
}
