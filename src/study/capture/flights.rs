//! From the flights of the samples of one way to what it costs: counts, quantiles, heat shield, mass delivered.

use super::row::{Break, Costs, Stretch, StretchKind};
use super::setting::Setting;
use crate::craft::shield::ablating_shield;
use crate::ensemble::interval::{Interval, StatisticsError};
use crate::ensemble::quantile::Sorted;
use crate::ensemble::tally::undecided;
use crate::ensemble::verdict::Verdict;
use crate::pass::Ending;

/// One sample flown all the way to the target orbit, or as far as it came.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Flight {
    /// One bit for each limit of the scenario that it broke.
    pub(super) broken: u32,
    /// Left the planet, or came down.
    pub(super) not_captured: bool,
    /// Never reached the target orbit.
    pub(super) missed_target: bool,
    /// Why there is no flight: it failed numerically, or its numbers fit no approach. Such a sample counts in no
    /// limit, in every denominator, and never as held.
    pub(super) no_result: Option<NoResult>,
    pub(super) air_speed_m_s: f64,
    pub(super) engine_speed_m_s: f64,
    /// Propellant used, kg, that before the arrival included; NaN without an engine.
    pub(super) propellant_kg: f64,
    pub(super) peak_m_s2: f64,
    pub(super) onset_m_s3: f64,
    pub(super) heat_flux_w_m2: f64,
    pub(super) heat_load_j_m2: f64,
    pub(super) passes: f64,
    /// Durations of the stretches, at the places of [`StretchKind::ALL`], s.
    pub(super) durations_s: [f64; StretchKind::ALL.len()],
}

/// Why a sample has no result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoResult {
    /// The integration failed.
    Failed,
    /// Its numbers fit no approach: there is no such arrival.
    NoApproach,
}

impl NoResult {
    /// That of an ending; `None` where the flight was flown.
    pub(super) fn of(ending: Ending) -> Option<Self> {
        match ending {
            Ending::Failed => Some(Self::Failed),
            Ending::NoApproach => Some(Self::NoApproach),
            _ => None,
        }
    }
}

impl Flight {
    /// A sample without a result.
    pub(super) fn without(why: NoResult) -> Self {
        Self {
            no_result: Some(why),
            propellant_kg: f64::NAN,
            ..Self::default()
        }
    }

    fn is_flown(&self) -> bool {
        self.no_result.is_none()
    }

    fn is_through(&self) -> bool {
        !self.not_captured && self.is_flown()
    }
}

/// What all samples of a way have alike.
#[derive(Debug, Clone, Default)]
pub(super) struct Alike {
    /// Mass that the shield's share counts from, kg.
    pub(super) entry_mass_kg: f64,
    /// Aim of the pass, m.
    pub(super) aim_m: Option<f64>,
    /// Whether all samples are alike, so that the counts are exact.
    pub(super) certain: bool,
    /// Whether an ablating shield is needed.
    pub(super) shielded: bool,
}

/// Sums up the flights of a way.
///
/// # Errors
/// [`StatisticsError`] where there are none.
#[expect(clippy::too_many_lines, reason = "one sum after another")]
pub(super) fn costs(
    setting: &Setting<'_>,
    flights: &[Flight],
    alike: &Alike,
) -> Result<Costs, StatisticsError> {
    let ask = &setting.case.scenario.ask;
    let samples = flights.len() as u64;
    let propellant_broken = |flight: &Flight| {
        setting
            .capture
            .propellant_aboard_kg
            .is_some_and(|aboard| flight.is_through() && flight.propellant_kg > aboard)
    };
    let entries = setting.case.problem.limits().entries();
    let mut broken: Vec<(Break, u64)> = Vec::new();
    let mut tally = |what: Break, test: &dyn Fn(&Flight) -> bool| {
        let count = flights.iter().filter(|flight| test(flight)).count() as u64;
        if count > 0 {
            broken.push((what, count));
        }
    };
    for (bit, limit) in entries.iter().enumerate() {
        tally(Break::Limit(limit.kind), &|flight| {
            flight.is_flown() && flight.broken >> bit & 1 == 1
        });
    }
    // Where a limit on the way out is broken it says "not captured" already.
    let of_the_way_out = entries.iter().enumerate();
    let said = of_the_way_out
        .filter(|(_, limit)| limit.kind.is_of_the_way_out())
        .fold(0_u32, |bits, (bit, _)| bits | 1 << bit);
    tally(Break::NotCaptured, &|flight| {
        flight.not_captured && flight.is_flown() && flight.broken & said == 0
    });
    tally(Break::Propellant, &propellant_broken);
    tally(Break::Target, &|flight| {
        flight.is_through() && flight.missed_target
    });
    for (what, why) in [
        (Break::Failed, NoResult::Failed),
        (Break::NoApproach, NoResult::NoApproach),
    ] {
        tally(what, &|flight| flight.no_result == Some(why));
    }
    broken.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let holding = |flight: &&Flight| {
        flight.broken == 0
            && flight.is_through()
            && !flight.missed_target
            && !propellant_broken(flight)
    };
    let held_count = flights.iter().filter(holding).count() as u64;
    let flown = || flights.iter().filter(|flight| flight.is_flown());
    let unflown = samples - flown().count() as u64;
    let held = if alike.certain && samples > 0 {
        Interval::certain(held_count == samples)
    } else {
        Interval::clopper_pearson(held_count, samples, ask.confidence)?
    };

    // What a flight felt is known of those that were flown; what it needed, of all.
    let all = |of: &dyn Fn(&Flight) -> f64| quantile(flights.iter().map(of), ask.probability);
    let asked = |of: &dyn Fn(&Flight) -> f64| quantile(flown().map(of), ask.probability);
    let through = || flights.iter().filter(|flight| flight.is_through());
    let median = |of: &dyn Fn(&Flight) -> f64| quantile(through().map(of), 0.5);
    let heat_load_j_m2 = asked(&|flight| flight.heat_load_j_m2);
    let shield = (alike.shielded && heat_load_j_m2 > 0.0).then(|| ablating_shield(heat_load_j_m2));
    let shield_kg = shield.map_or(0.0, |shield| shield.mass_share * alike.entry_mass_kg);
    let reserve = all(&|flight| {
        if flight.is_through() && !flight.missed_target {
            flight.propellant_kg
        } else {
            f64::INFINITY
        }
    });
    let reserve_kg = reserve.is_finite().then_some(reserve);
    let median_kg = median(&|flight| flight.propellant_kg);
    let stretches = StretchKind::ALL
        .iter()
        .enumerate()
        .map(|(place, &(kind, _))| Stretch {
            kind,
            duration_s: median(&|flight| flight.durations_s[place]),
        })
        .filter(|stretch| stretch.duration_s > 0.0)
        .collect();
    let lacking = if alike.certain {
        unflown > 0
    } else {
        let counts = (held_count, unflown, samples);
        undecided(counts, (ask.probability, ask.confidence))
    };
    Ok(Costs {
        aim_m: alike.aim_m,
        band: None,
        air_speed_m_s: median(&|flight| flight.air_speed_m_s),
        engine_speed_m_s: median(&|flight| flight.engine_speed_m_s),
        propellant_kg: median_kg.is_finite().then_some(median_kg),
        reserve_kg,
        extra_kg: setting.arrival.extra_propellant_kg,
        shield,
        shield_kg,
        delivered_kg: reserve_kg.map(|kg| setting.mass_kg() - kg - shield_kg),
        peak_m_s2: asked(&|flight| flight.peak_m_s2),
        onset_m_s3: asked(&|flight| flight.onset_m_s3),
        heat_flux_w_m2: asked(&|flight| flight.heat_flux_w_m2),
        heat_load_j_m2,
        stretches,
        passes: median(&|flight| flight.passes),
        samples,
        captured: through().count() as u64,
        ruling: broken.first().map(|(what, _)| *what),
        broken,
        held,
        verdict: verdict(&held, ask.probability, lacking),
        unflown,
        undecided: lacking,
    })
}

/// What an interval says of a probability asked for; `lacking` where samples without a result alone keep it from being
/// shown.
fn verdict(held: &Interval, asked: f64, lacking: bool) -> Verdict {
    if held.lower >= asked {
        Verdict::Held
    } else if held.upper < asked && !lacking {
        Verdict::Broken
    } else {
        Verdict::NotShown
    }
}

/// A quantile in which infinite values count as larger than all others; NaN without values, or with one that is NaN.
fn quantile(values: impl Iterator<Item = f64>, probability: f64) -> f64 {
    const LARGE: f64 = 1e300;
    let values: Vec<f64> = values.map(|value| value.min(LARGE)).collect();
    let found = Sorted::new(values).map_or(f64::NAN, |sorted| sorted.quantile(probability));
    // Between a finite value and an infinite one nothing is known.
    if found > 1e200 { f64::INFINITY } else { found }
}
