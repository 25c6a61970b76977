//! Many whole campaigns of aerobraking: how they end, what they take, and what they cost.

use crate::ensemble::campaign::{
    CampaignEnding, CampaignResult, FlownCampaign, PassRow, Plan, PlanError, Starts, fly,
};
use crate::ensemble::interval::Interval;
use crate::ensemble::problem::SampleNumber;
use crate::ensemble::tally::undecided;
use crate::ensemble::{LimitKind, Problem, Progress};
use crate::numeric::counts::median;
use crate::scenario::campaign::Campaign;
use crate::scenario::ship::Ship;

pub use super::campaign_case::{check_case, fly_case};
pub use super::campaign_quantity::CampaignQuantity;
pub use super::campaign_timeline::Spread;
pub use super::campaign_walls::{SpotWarmth, WarmPass, warm_walls};

/// Campaigns whose passes are kept for the figures and the table of passes.
pub const KEPT_CAMPAIGNS: u64 = 200;

/// What many campaigns gave.
#[derive(Debug, Clone, PartialEq)]
pub struct CampaignOutcome {
    /// Every campaign that was flown to its end, in the order of their numbers.
    pub campaigns: Vec<CampaignResult>,
    /// The passes of the first campaigns, with the number of the campaign.
    pub rows: Vec<(u64, Vec<PassRow>)>,
    /// Campaigns asked for.
    pub asked: u64,
    /// Whether nothing is uncertain, so that all campaigns are alike and one was flown.
    pub certain: bool,
    /// The limits of the problem, in the order of the bits of `broken`.
    pub limits: Vec<LimitKind>,
    /// Highest altitude of the air that was flown, m.
    pub interface_m: f64,
}

/// Why no campaigns could be flown, or not all.
#[derive(Debug, thiserror::Error)]
pub enum CampaignError {
    /// The scenario does not describe a campaign.
    #[error("the scenario describes no campaign")]
    NoCampaign,
    /// The band lies outside the air of the world.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The first periapsis is not known.
    #[error(
        "the first periapsis is not known: the arrival gives a range of aims and `campaign` no `first_periapsis`"
    )]
    NoFirstPeriapsis,
    /// No orbit has the apsides asked for.
    #[error(
        "no orbit has its periapsis at {periapsis_km:.3} km and its apoapsis at {apoapsis_km:.3} km: the periapsis must \
         lie above the centre of the body and below the apoapsis"
    )]
    NoStart {
        /// Periapsis altitude, km.
        periapsis_km: f64,
        /// Apoapsis altitude, km.
        apoapsis_km: f64,
    },
    /// The arrival fits no approach conic at this aim.
    #[error("no approach conic fits a vacuum periapsis at {aim_km:.3} km")]
    NoArrival {
        /// The aim, km.
        aim_km: f64,
    },
    /// The first orbit is already inside the target.
    #[error(
        "the campaign has nothing to do: it begins with its apoapsis at {from_km:.1} km, at or below that of the target, \
         {target_km:.1} km"
    )]
    NothingToDo {
        /// Apoapsis altitude at the start, km.
        from_km: f64,
        /// That of the target, km.
        target_km: f64,
    },
    /// The run was cancelled.
    #[error("stopped after {} of {} campaigns; they are kept", kept.campaigns.len(), kept.asked)]
    Stopped {
        /// The campaigns that were over.
        kept: Box<CampaignOutcome>,
    },
}

/// Flies `campaigns` whole campaigns from `starts`, or a single one where nothing is uncertain.
///
/// # Errors
/// [`CampaignError`]: a band outside the air, an orbit that does not exist, a cancelled run.
pub fn fly_campaigns(
    problem: &Problem,
    (rule, ship): (&Campaign, &Ship),
    starts: &Starts<'_>,
    (campaigns, progress): (u64, &Progress),
) -> Result<CampaignOutcome, CampaignError> {
    let kept = (campaigns, KEPT_CAMPAIGNS);
    fly_and_keep(problem, (rule, ship), starts, (kept, progress))
}

/// The same, keeping the passes of the campaigns below a number.
///
/// # Errors
/// As [`fly_campaigns`].
pub fn fly_and_keep(
    problem: &Problem,
    (rule, ship): (&Campaign, &Ship),
    starts: &Starts<'_>,
    ((campaigns, rows_below), progress): ((u64, u64), &Progress),
) -> Result<CampaignOutcome, CampaignError> {
    let plan = Plan::new(problem, rule, ship)?;
    check(problem, rule, starts)?;
    let certain = problem.is_deterministic()
        && rule.trims.size_error == 0.0
        && rule.trims.pointing_error_rad == 0.0
        && !matches!(starts, Starts::Each(_));
    let limits = problem.limits().entries().iter();
    let mut outcome = CampaignOutcome {
        campaigns: Vec::new(),
        rows: Vec::new(),
        asked: if certain { 1 } else { campaigns },
        certain,
        limits: limits.map(|limit| limit.kind).collect(),
        interface_m: plan.planet().interface_m,
    };
    let take = |flown: FlownCampaign| {
        if !flown.rows.is_empty() {
            outcome.rows.push((flown.result.campaign, flown.rows));
        }
        outcome.campaigns.push(flown.result);
    };
    let flown = fly(&plan, starts, (outcome.asked, rows_below), (progress, take));
    match flown {
        Ok(()) => Ok(outcome),
        Err(_) => Err(CampaignError::Stopped {
            kept: Box::new(outcome),
        }),
    }
}

pub(super) fn check(
    problem: &Problem,
    rule: &Campaign,
    starts: &Starts<'_>,
) -> Result<(), CampaignError> {
    match starts {
        Starts::Same(orbit) => {
            if orbit.apoapsis_altitude_m <= rule.target_apoapsis_m {
                return Err(CampaignError::NothingToDo {
                    from_km: orbit.apoapsis_altitude_m / 1e3,
                    target_km: rule.target_apoapsis_m / 1e3,
                });
            }
            orbit
                .state(problem.planet())
                .map(|_| ())
                .ok_or(CampaignError::NoStart {
                    periapsis_km: orbit.periapsis_altitude_m / 1e3,
                    apoapsis_km: orbit.apoapsis_altitude_m / 1e3,
                })
        }
        Starts::Arrival { aim_m } => problem
            .launch(*aim_m, problem.nominal(), SampleNumber::Nominal)
            .map(|_| ())
            .ok_or(CampaignError::NoArrival {
                aim_km: aim_m / 1e3,
            }),
        Starts::Each(_) => Ok(()),
    }
}

impl CampaignOutcome {
    /// Campaigns by ending, in the order of [`CampaignEnding::ALL`].
    #[must_use]
    pub fn endings(&self) -> [u64; CampaignEnding::ALL.len()] {
        let mut counts = [0; CampaignEnding::ALL.len()];
        for campaign in &self.campaigns {
            counts[campaign.ending as usize] += 1;
        }
        counts
    }

    /// Campaigns that fulfil a condition.
    #[must_use]
    pub fn count(&self, holds: impl Fn(&CampaignResult) -> bool) -> u64 {
        self.campaigns.iter().filter(|c| holds(c)).count() as u64
    }

    /// Campaigns that reached the target and broke no limit on the way.
    #[must_use]
    pub fn held(&self) -> u64 {
        self.count(CampaignResult::held)
    }

    /// Probability of a count of campaigns with its Clopper–Pearson interval, exact where nothing is
    /// uncertain; `None` where none was flown.
    #[must_use]
    pub fn probability(&self, count: u64, confidence: f64) -> Option<Interval> {
        if self.certain && !self.campaigns.is_empty() {
            let exact = if count > 0 { 1.0 } else { 0.0 };
            return Some(Interval {
                estimate: exact,
                lower: exact,
                upper: exact,
            });
        }
        Interval::clopper_pearson(count, self.campaigns.len() as u64, confidence).ok()
    }

    /// Probability that the target is reached with every limit held.
    #[must_use]
    pub fn probability_held(&self, confidence: f64) -> Option<Interval> {
        self.probability(self.held(), confidence)
    }

    /// Whether campaigns without a result alone decide whether a probability that all is held is shown.
    #[must_use]
    pub fn is_undecided(&self, asked: (f64, f64)) -> bool {
        let unflown = self.count(|campaign| !campaign.ending.is_flown());
        if self.certain {
            return unflown > 0;
        }
        undecided((self.held(), unflown, self.campaigns.len() as u64), asked)
    }

    /// Median over the campaigns that reached the target, NaN where none did.
    #[must_use]
    pub fn median(&self, value: impl Fn(&CampaignResult) -> f64) -> f64 {
        let reached = |c: &&CampaignResult| c.ending == CampaignEnding::Reached;
        let mut values: Vec<f64> = self.campaigns.iter().filter(reached).map(value).collect();
        median(&mut values).unwrap_or(f64::NAN)
    }

    /// Campaigns that broke each limit, in the order of [`CampaignOutcome::limits`].
    #[must_use]
    pub fn broken(&self) -> Vec<u64> {
        (0..self.limits.len())
            .map(|bit| self.count(|c| c.broken >> bit & 1 == 1))
            .collect()
    }

    /// The limit that most campaigns broke, with their number; `None` where none was broken.
    #[must_use]
    pub fn ruling_limit(&self) -> Option<(LimitKind, u64)> {
        let broken = self.broken();
        let most = broken.iter().copied().max().filter(|&most| most > 0)?;
        let bit = broken.iter().position(|&count| count == most)?;
        Some((self.limits[bit], most))
    }

    /// Share of the passes after the walk-in that met their band, those below, and those above it; `None`
    /// without such passes.
    #[must_use]
    pub fn band_shares(&self) -> Option<[f64; 3]> {
        let sum = |value: fn(&CampaignResult) -> u32| {
            self.campaigns
                .iter()
                .map(|c| f64::from(value(c)))
                .sum::<f64>()
        };
        let passes = sum(|c| c.band.passes);
        let (below, above) = (sum(|c| c.band.below), sum(|c| c.band.above));
        (passes > 0.0).then(|| {
            [
                (passes - below - above) / passes,
                below / passes,
                above / passes,
            ]
        })
    }

    /// The kept campaign that is shown as an example: of those that reached the target the one whose
    /// passes are nearest to the median; else the first.
    #[must_use]
    pub fn example(&self) -> Option<(&CampaignResult, &[PassRow])> {
        let median = self.median(|c| f64::from(c.passes));
        let with_rows = |number: u64| {
            let result = self.campaigns.iter().find(|c| c.campaign == number)?;
            let rows = self.rows.iter().find(|(n, _)| *n == number)?;
            Some((result, rows.1.as_slice()))
        };
        let far = |number: u64| {
            with_rows(number)
                .filter(|(result, _)| result.ending == CampaignEnding::Reached)
                .map_or(f64::INFINITY, |(result, _)| {
                    (f64::from(result.passes) - median).abs()
                })
        };
        let nearest = self
            .rows
            .iter()
            .map(|(number, _)| *number)
            .min_by(|a, b| far(*a).total_cmp(&far(*b)))?;
        with_rows(nearest)
    }
}
