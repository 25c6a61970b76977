//! What if: a study at many points, each the scenario with one or two of its numbers changed, with the
//! same luck at every point. What is kept between runs, and where, is left to a [`Keeper`].

mod band;
mod campaign;
mod capture;
mod pass;
pub mod points;
pub mod studies;

pub use points::{Point, SweepError};
pub use studies::{Answer, Cell, Measure, NoAnswer, STUDIES, SweptStudy};

use super::case::Case;
use crate::ensemble::Progress;
use crate::ensemble::precision::Precision;
use crate::scenario::document::Document;
use crate::scenario::variation::Variation;
use points::every_point;

/// What is asked: the scenario, what is varied, and the study at each point.
#[derive(Debug)]
pub struct Sweep<'a> {
    /// The scenario with everything set over it but what is varied.
    pub document: &'a Document,
    /// One or two numbers and their values.
    pub variations: &'a [Variation],
    /// The study.
    pub study: &'static SweptStudy,
}

/// One point with what the study said there.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Index of the value of each variation.
    pub places: Vec<usize>,
    /// The answer, or why there is none.
    pub answer: Result<Answer, String>,
}

/// The whole sweep.
#[derive(Debug, Clone, PartialEq)]
pub struct SweepResult {
    /// Every point: the first variation changes slowest.
    pub rows: Vec<Row>,
    /// Points at which the study was run now.
    pub run: usize,
    /// Points whose answer was kept from before.
    pub kept: usize,
    /// The tolerance of all points, where one was found.
    pub precision: Option<Precision>,
}

/// Keeps answers between runs, each under a text that says all that it depends on.
pub trait Keeper {
    /// Why an answer cannot be kept.
    type Error;

    /// The answer kept under this text, if there is one.
    fn find(&mut self, depends_on: &str) -> Option<Answer>;

    /// Keeps an answer, before the next point is begun.
    ///
    /// # Errors
    /// When it cannot be kept.
    fn keep(&mut self, depends_on: &str, answer: &Answer) -> Result<(), Self::Error>;
}

/// Why a sweep ended before its last point.
#[derive(Debug)]
pub enum Unfinished<E> {
    /// It was cancelled; the answers of the points done are kept.
    Stopped {
        /// Points that have their answer.
        done: usize,
        /// Points in all.
        of: usize,
    },
    /// An answer could not be kept.
    Keeping(E),
}

/// Runs the study at every point that has no answer yet.
///
/// A point that is no valid scenario, or at which the study refuses to run, has its reason for an answer.
///
/// # Errors
/// [`Unfinished`]: cancelled, or an answer that could not be kept.
pub fn run_sweep<K: Keeper>(
    sweep: &Sweep<'_>,
    points: &[Point],
    (keeper, progress): (&mut K, &Progress),
) -> Result<SweepResult, Unfinished<K::Error>> {
    let mut result = SweepResult {
        rows: Vec::new(),
        run: 0,
        kept: 0,
        precision: points::precision(sweep, points),
    };
    for point in points {
        let stopped = Unfinished::Stopped {
            done: result.rows.len(),
            of: points.len(),
        };
        let answer = match point.case(sweep, result.precision) {
            Err(error) => Err(error.message().to_owned()),
            Ok(case) => {
                let depends_on = depends_on(sweep.study, &case);
                if let Some(answer) = keeper.find(&depends_on) {
                    result.kept += 1;
                    Ok(answer)
                } else if progress.is_cancelled() {
                    return Err(stopped);
                } else {
                    let answer = (sweep.study.run)(&case, progress);
                    match answer {
                        Ok(answer) => {
                            keeper
                                .keep(&depends_on, &answer)
                                .map_err(Unfinished::Keeping)?;
                            result.run += 1;
                            Ok(answer)
                        }
                        Err(NoAnswer::Stopped) => return Err(stopped),
                        Err(NoAnswer::Refused(why)) => Err(why),
                    }
                }
            }
        };
        result.rows.push(Row {
            places: point.places.clone(),
            answer,
        });
    }
    Ok(result)
}

/// All that an answer depends on: program, study, scenario as resolved, the files it names, the tolerance.
fn depends_on(study: &SweptStudy, case: &Case) -> String {
    format!(
        "periband {}\n{}\n{}\n{:?}\n{}\n{:?}",
        env!("CARGO_PKG_VERSION"),
        study.name,
        case.scenario.document().resolved(),
        // Tables of coefficients are part of the ship as read.
        case.scenario.ship,
        case.world.text().unwrap_or_default(),
        case.precision.tolerance,
    )
}

impl Sweep<'_> {
    /// Every point, looked at before anything is flown.
    ///
    /// # Errors
    /// [`SweepError`]: a key that no scenario has, too many points, or none that is a valid scenario.
    pub fn points(&self) -> Result<Vec<Point>, SweepError> {
        every_point(self)
    }
}
