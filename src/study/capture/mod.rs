//! The capture decision: ways to the same orbit side by side, each with its costs and its risks.

mod air;
mod engine;
mod flights;
mod gentle;
mod moon;
pub mod row;
mod setting;
mod sweep;

use crate::ensemble::{Halt, Progress};
use crate::scenario::capture::{Capture, CaptureOption};
use crate::scenario::message::InputError;
use crate::study::Case;
use crate::study::band::{BandError, check};
use crate::world::moon::Moon;
pub use row::{
    Break, Costs, MoonFacts, NoAim, Obstacle, Row, SplitTried, Stretch, StretchKind, Way,
};
use setting::{Arrival, Setting};

/// What was compared.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// The rows in the order in which they were evaluated.
    pub rows: Vec<Row>,
    /// Passes flown.
    pub passes_flown: u64,
}

impl Comparison {
    /// The row that holds every limit and delivers most, and its place: the least propellant and heat shield together.
    #[must_use]
    pub fn best(&self) -> Option<(usize, &Row, &Costs)> {
        let open = self.rows.iter().enumerate().filter_map(|(index, row)| {
            let costs = row.costs.as_ref().ok().filter(|costs| costs.holds())?;
            Some((index, row, costs))
        });
        open.min_by(|a, b| a.2.order(b.2))
    }

    /// The same among the rows of one arrival (empty for that of the scenario).
    #[must_use]
    pub fn best_of(&self, arrival: &str) -> Option<(&Row, &Costs)> {
        let own = self.rows.iter().filter(|row| row.arrival == arrival);
        let open = own.filter_map(|row| {
            let costs = row.costs.as_ref().ok().filter(|costs| costs.holds())?;
            Some((row, costs))
        });
        open.min_by(|a, b| a.1.order(b.1))
    }

    /// The row most likely to hold every limit.
    #[must_use]
    pub fn likeliest(&self) -> Option<(usize, &Row, &Costs)> {
        let open = self.rows.iter().enumerate().filter_map(|(index, row)| {
            let costs = row.costs.as_ref().ok()?;
            Some((index, row, costs))
        });
        open.max_by(|a, b| a.2.held.estimate.total_cmp(&b.2.held.estimate))
    }
}

/// Why ways cannot be compared.
#[derive(Debug, thiserror::Error)]
pub enum CaptureError {
    /// The scenario does not fit.
    #[error(transparent)]
    Input(#[from] InputError),
    /// Nothing can be shown: no limits, or too few samples.
    #[error(transparent)]
    Band(#[from] BandError),
    /// The run was cancelled.
    #[error("stopped after {} ways; what was compared until then is kept", kept.rows.len())]
    Stopped {
        /// The rows that were complete.
        kept: Comparison,
    },
}

/// Compares the ways of a scenario's `capture` section.
///
/// # Errors
/// [`CaptureError`]: a scenario that does not fit, nothing to show, or a cancelled run with what it had.
pub fn compare(case: &Case, progress: &Progress) -> Result<Comparison, CaptureError> {
    let capture = checked(case)?;
    let planned = planned_speed(case)?;
    let moons = moons(case, capture)?;
    case.scenario.ask.can_be_kept().map_err(BandError::from)?;
    check(&case.scenario.ask, &case.problem)?;
    let mut rows = Vec::new();
    let done = compare_all((case, capture), (planned, &moons), progress, &mut rows);
    let comparison = Comparison {
        rows,
        passes_flown: progress.flown(),
    };
    match done {
        Ok(()) => Ok(comparison),
        Err(Halt::Stopped(_)) => Err(CaptureError::Stopped { kept: comparison }),
        Err(Halt::Statistics(why)) => Err(BandError::from(why).into()),
    }
}

/// Every way of every arrival; rows are pushed as they are complete.
fn compare_all(
    (case, capture): (&Case, &Capture),
    (planned, moons): (f64, &[&Moon]),
    progress: &Progress,
    rows: &mut Vec<Row>,
) -> Result<(), Halt> {
    let own = Setting::new((case, capture), Arrival::planned(planned), progress);
    for &option in &capture.options {
        if option == CaptureOption::Moon {
            for moon in moons {
                rows.extend(moon::moon_rows(&own, moon)?);
            }
        } else {
            rows.extend(direct(&own, option)?);
        }
    }
    for other in &capture.alternatives {
        let arrival = Arrival::other(case, planned, other);
        let setting = Setting::new((case, capture), arrival, progress);
        for &option in &capture.options {
            rows.extend(direct(&setting, option)?);
        }
    }
    Ok(())
}

/// The row of a way that needs no moon, if it is one.
fn direct(setting: &Setting<'_>, option: CaptureOption) -> Result<Option<Row>, Halt> {
    let name = &setting.arrival.name;
    Ok(match option {
        CaptureOption::Engine => {
            let energy = setting.arrival.excess_speed_m_s.powi(2);
            let found = engine::engine_costs(setting, &setting.lead(), energy)?;
            let way = Way::Engine { burns: found.burns };
            Some(Row {
                splits: found.tried,
                ..Row::new(name, way, found.costs)
            })
        }
        CaptureOption::Air => {
            let search = if name.is_empty() {
                air::Search::OwnRange
            } else {
                air::Search::Window
            };
            let costs = air::air_costs(setting, &setting.lead(), search)?;
            Some(Row::new(name, Way::Air, costs))
        }
        CaptureOption::BurnThenAir => Some(sweep::sweep(setting)?),
        CaptureOption::GentlePasses => Some(gentle::gentle_row(setting)?),
        CaptureOption::Moon => None,
    })
}

/// The `capture` section, checked against the world.
fn checked(case: &Case) -> Result<&Capture, InputError> {
    let scenario = &case.scenario;
    let Some(capture) = scenario.capture.as_ref() else {
        return Err(scenario
            .error_at("capture", "the scenario does not say which orbit is wanted")
            .with_help(
                "add `capture: {target: {periapsis_altitude: 400 km, apoapsis_altitude: 20000 km}}`",
            ));
    };
    let interface = case.world.body().entry_interface_m;
    if capture.target.periapsis_m <= interface {
        return Err(scenario
            .error_at(
                "capture.target.periapsis_altitude",
                format!(
                    "the target orbit dips into the air: its periapsis is not above the entry interface, {:.3} km",
                    interface / 1e3
                ),
            )
            .with_help("raise the periapsis; the last passes of a campaign are not a target"));
    }
    if capture.has(CaptureOption::GentlePasses) {
        let missing = match &scenario.campaign {
            None => Some("a section `campaign`, which says how the passes are held"),
            Some(campaign) if campaign.first_periapsis_m.is_none() => {
                Some("`first_periapsis` in the section `campaign`, the height of the first pass")
            }
            Some(_) => None,
        };
        if let Some(missing) = missing {
            return Err(scenario
                .error_at(
                    "capture.options",
                    "gentle passes are asked for without a campaign",
                )
                .with_help(format!("add {missing}; or leave `gentle_passes` out")));
        }
    }
    if scenario.limits.comes_down() {
        return Err(scenario
            .error_at("limits.comes_down", "`comes_down` contradicts a capture")
            .with_help("leave it out: a ship that comes down reaches no orbit"));
    }
    Ok(capture)
}

/// The excess speed of the arrival of the scenario, m/s.
fn planned_speed(case: &Case) -> Result<f64, InputError> {
    setting::excess_speed(&case.problem).ok_or_else(|| {
        case.scenario
            .error_at("arrival", "the ship arrives on a closed orbit: it is captured already")
            .with_help("ways to be captured are compared for an `arrival.hyperbola` or an `arrival.entry` above the speed of escape")
    })
}

/// The moons that are flown past.
fn moons<'a>(case: &'a Case, capture: &Capture) -> Result<Vec<&'a Moon>, InputError> {
    let all = case.world.moons();
    let known = || {
        let names: Vec<&str> = all.iter().map(|moon| moon.name.as_str()).collect();
        match names.as_slice() {
            [] => format!("{} has no moons in its world file", case.world.body().name),
            names => format!("{} has {}", case.world.body().name, names.join(", ")),
        }
    };
    if !capture.has(CaptureOption::Moon) {
        return Ok(Vec::new());
    }
    if all.is_empty() {
        return Err(case
            .scenario
            .error_at("capture.options", "there is no moon to fly past")
            .with_help(format!("{}; leave `moon` out", known())));
    }
    if capture.moons.is_empty() {
        return Ok(all.iter().collect());
    }
    let find = |(index, name): (usize, &String)| {
        all.iter()
            .find(|moon| moon.name.eq_ignore_ascii_case(name))
            .ok_or_else(|| {
                case.scenario
                    .error_at(
                        &format!("capture.moons.{index}"),
                        format!("there is no moon named `{name}`"),
                    )
                    .with_help(known())
            })
    };
    capture.moons.iter().enumerate().map(find).collect()
}
