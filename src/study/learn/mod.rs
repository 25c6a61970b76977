//! What a flown pass teaches about the ship and the air: the uncertain numbers of the scenario fitted to
//! the log of the pass, with the scenario's uncertainty as what is known before.

mod align;
pub mod carry;
pub mod fit;
mod fitting;
pub mod known;
mod model_form;
pub mod readings;
pub mod track;

use crate::ensemble::draws::DrawsError;
use crate::ensemble::prior::Prior;
use crate::ensemble::problem::SampleNumber;
use crate::numeric::counts::median;
use crate::numeric::units::format_number;
use crate::scenario::flight_log::FlightLog;
use crate::scenario::log_columns::Channel;
use crate::scenario::message::InputError;
use crate::scenario::uncertainty::Number;
use crate::study::Case;
use fit::Fitted;
use fitting::Fitting;
use nalgebra::DMatrix;
use readings::Readings;
use track::Track;

/// How to learn.
#[derive(Debug, Clone)]
pub struct LearnOptions {
    /// Aimed vacuum periapsis altitude of the flown pass, m.
    pub aim_m: f64,
    /// One-sigma noise of each channel, SI, where it is known; else it is estimated.
    pub noise: [Option<f64>; Channel::COUNT],
    /// Flights with fields of their own behind what the small-scale air may do.
    pub field_flights: u64,
}

impl LearnOptions {
    /// Everything estimated, for a pass aimed at this vacuum periapsis altitude, m.
    #[must_use]
    pub fn new(aim_m: f64) -> Self {
        Self {
            aim_m,
            noise: [None; Channel::COUNT],
            field_flights: 160,
        }
    }
}

/// Why nothing was learned.
#[derive(Debug, thiserror::Error)]
pub enum LearnError {
    /// The log is not one of this pass.
    #[error(transparent)]
    Log(#[from] InputError),
    /// The uncertainties cannot be drawn.
    #[error("the uncertainties cannot be drawn")]
    Draws(#[from] DrawsError),
    /// Nothing that is uncertain moves the flight.
    #[error("nothing of the scenario's `uncertainty` moves the flight: there is nothing to learn")]
    NothingUncertain,
    /// The ship steers, and what it did with its bank or its skirt is not in a log.
    #[error(
        "the scenario's ship steers itself: learning fits passes on which bank and drag were held as \
         the scenario says; if they were on this one, add `--set steering=off`"
    )]
    Steered,
    /// No flight within the uncertainty comes near the log.
    #[error("no flight aimed at {aim_km:.3} km comes near the log: {reason}")]
    NoFlight {
        /// The aim, km.
        aim_km: f64,
        /// What was seen.
        reason: String,
    },
}

/// One uncertain number before and after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameter {
    /// Which number.
    pub number: Number,
    /// Middle and one-sigma before, SI (scores for the air's parts).
    pub before: (f64, f64),
    /// The same after.
    pub after: (f64, f64),
    /// Standard score and its one-sigma after; 0 and 1 before.
    pub score: (f64, f64),
}

/// The clock of a piece of the log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clock {
    /// Line of the first row.
    pub line: usize,
    /// Seconds to add to the log's time for the time since the entry interface.
    pub offset_s: f64,
    /// Its one-sigma, s.
    pub sigma_s: f64,
}

/// What was learned.
#[derive(Debug)]
pub struct Learned {
    /// How.
    pub options: LearnOptions,
    /// The prior of the numbers that move the flight.
    pub prior: Prior,
    /// Each of them.
    pub parameters: Vec<Parameter>,
    /// Covariance of their standard scores after.
    pub covariance: DMatrix<f64>,
    /// The readings that were fitted.
    pub readings: Readings,
    /// Whether each reading was used; the others are outliers.
    pub used: Vec<bool>,
    /// The fit.
    pub fitted: Fitted,
    /// The clocks of the log.
    pub clocks: Vec<Clock>,
    /// Quantities that people know the parameters by.
    pub quantities: Vec<known::Quantity>,
    /// What the log knows, from the best known combination of ship and air on.
    pub combinations: Vec<known::Combination>,
    /// How much of the small-scale field was seen: number of modes.
    pub field_modes: usize,
    /// What casts doubt on the fit: numbers far from where the scenario expects them, in words; the first of
    /// `remarks` too.
    pub doubts: Vec<String>,
    /// What was found and handled, in words.
    pub remarks: Vec<String>,
}

/// Fits a log.
///
/// # Errors
/// [`LearnError`]: a log that cannot be of this pass, nothing to learn, or no flight near it.
pub fn learn(case: &Case, log: &FlightLog, options: &LearnOptions) -> Result<Learned, LearnError> {
    let problem = &case.problem;
    if problem.guide().is_some() {
        return Err(LearnError::Steered);
    }
    let readings = Readings::new(log, problem.planet(), &options.noise)?;
    let prior = Prior::new(&case.scenario.uncertainty, problem.nominal())?;
    let start = align::start(problem, (options.aim_m, &prior), &readings);
    let no_flight = |reason: &str| LearnError::NoFlight {
        aim_km: options.aim_m / 1e3,
        reason: reason.to_owned(),
    };
    let start = start.ok_or_else(|| no_flight("none of them meets the air"))?;
    felt_in_other_units(log, &readings, &start)?;
    if start.misfit > 0.75 {
        return Err(no_flight(
            "is the aim that of the flown pass, and the log complete through the lowest point?",
        ));
    }
    let mut fitting = Fitting::new(case, prior, (readings, options), start.guess)?;
    fitting.drop_what_moves_nothing()?;
    let fitted = fitting
        .run()
        .ok_or_else(|| no_flight("the flights end before the log does"))?;
    if let Some(reason) = fitting.hopeless() {
        return Err(no_flight(&format!(
            "{reason}; are aim, world and ship those of the flown pass?"
        )));
    }
    if let Some(reason) = fitting.aimed_elsewhere(&fitted) {
        return Err(no_flight(&format!(
            "{reason}; are aim, world and ship those of the flown pass? If they are, its delivery is stated too exact \
             under `uncertainty.delivery`"
        )));
    }
    Ok(fitting.finish(fitted))
}

/// Refuses decelerations that are off by the factor between g and m/s².
fn felt_in_other_units(
    log: &FlightLog,
    readings: &Readings,
    start: &align::Start,
) -> Result<(), InputError> {
    const G0: f64 = crate::craft::engine::STANDARD_GRAVITY_M_S2;
    /// Within this the factor counts as that of the units (assumed); another aim may be further off.
    const NEAR: std::ops::Range<f64> = G0 / 1.25..G0 * 1.25;
    let Some(column) = log.column(Channel::Deceleration) else {
        return Ok(());
    };
    let mut ratios: Vec<f64> = readings
        .list
        .iter()
        .filter(|r| r.channel == Channel::Deceleration)
        .filter_map(|r| {
            let at = start.track.at(r.time_s + start.guess.offsets_s[r.piece])?;
            let flown = at[Channel::Deceleration as usize];
            (flown > 0.5).then_some((r.value / flown, r.line).0)
        })
        .collect();
    let Some(ratio) = median(&mut ratios) else {
        return Ok(());
    };
    let meant = if NEAR.contains(&ratio) {
        "deceleration_m_s2"
    } else if NEAR.contains(&(1.0 / ratio)) {
        "deceleration_g"
    } else {
        return Ok(());
    };
    let line = readings.list.first().map_or(0, |r| r.line);
    let message = format!(
        "`{}` is {} times what the flight gives: the factor between g and m/s2",
        column.name,
        format_number(ratio)
    );
    Err(log
        .error_at(line, Some(Channel::Deceleration), message)
        .with_help(format!("rename the column to `{meant}`")))
}

/// The flight of the estimate without its small-scale field.
#[must_use]
pub fn estimated_track(case: &Case, learned: &Learned) -> Option<Track> {
    let scores = learned.prior.factor() * &learned.fitted.guess.scores;
    let numbers = learned.prior.at(&scores);
    let times = learned.readings.list.iter().map(|r| r.time_s);
    let last = times.fold(f64::NEG_INFINITY, f64::max) + learned.clocks.last()?.offset_s;
    let flight = (learned.options.aim_m, &numbers);
    Track::fly(&case.problem, flight, SampleNumber::Nominal, (0.0, last))
}
