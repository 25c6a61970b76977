//! What a page needs to move the band with the limits: for a chosen part of the samples, how hard each
//! limit was hit at some aims, from which the counts of any limits and any aim follow.

pub mod choice;
mod edge;
pub mod gauge;

use crate::ensemble::engine::FlownSample;
use crate::ensemble::{Fleet, LimitKind, Problem, Stopped};
use crate::pass::Ending;
use crate::scenario::limits;
use crate::world::planet::AirSample;
use choice::{Extremeness, Kept, choose};
use gauge::{Form, Gauge, Stay};

/// Most samples that are looked at for the choice.
const MOST_LOOKED_AT: u64 = 1_000_000;
/// Distance of the aims in scale heights of the air.
const SPACING_SCALE_HEIGHTS: f64 = 0.3;
/// Fewest and most aims.
const AIMS: (usize, usize) = (5, 24);

/// How hard one limit was hit.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Its place in the limit set.
    pub place: usize,
    /// What it measures.
    pub gauge: Gauge,
    /// Severity of each kept sample at each aim: sample by sample.
    pub severity: Vec<f64>,
}

/// What the kept samples did at the chosen aims.
#[derive(Debug, Clone, PartialEq)]
pub struct Live {
    /// The aims, m, rising.
    pub aims_m: Vec<f64>,
    /// The kept samples.
    pub kept: Vec<Kept>,
    /// How many samples they stand for.
    pub samples: u64,
    /// The limits that can be moved.
    pub channels: Vec<Channel>,
    /// For each kept sample the aim below which it stays in the air (as `staying` asks it; without such a limit,
    /// comes down), m; far beyond the range of aims where it always or never does.
    pub stays_below_m: Vec<f64>,
    /// The limit on whether a pass leaves the air or comes down, if there is one.
    pub staying: Option<LimitKind>,
    /// Kept samples and aims without a result: not held there, and in no limit's count.
    pub failed: Vec<(usize, usize)>,
}

/// A first look at all samples at a few aims, from which those to keep are chosen.
#[derive(Debug)]
pub struct Look {
    gauges: Vec<(usize, Gauge)>,
    /// Of the aim now looked at: one list a limit.
    severities: Vec<Vec<f32>>,
    extremeness: Extremeness,
}

impl Look {
    /// Ready for the samples of `problem`.
    #[must_use]
    pub fn new(problem: &Problem) -> Self {
        let gauges = Gauge::of(problem.limits(), problem.planet().equatorial_radius_m);
        // One more for the limits of outcome.
        let columns = gauges.len() + usize::from(staying(problem).is_some());
        Self {
            gauges,
            severities: vec![Vec::new(); columns],
            extremeness: Extremeness::default(),
        }
    }

    /// Takes in a sample; those of one aim come together, in the order of their numbers.
    pub fn take(&mut self, problem: &Problem, flown: &FlownSample) {
        if flown.sample >= MOST_LOOKED_AT {
            return;
        }
        if flown.sample == 0 {
            self.fold();
        }
        if !flown.result.ending.is_flown() {
            // It counts as not held: none may stand for it but itself.
            for column in &mut self.severities {
                column.push(f32::MAX);
            }
            return;
        }
        let numbers = problem.judging_numbers(flown.sample);
        let (limits, pass) = (problem.limits(), &flown.result);
        let mut columns = self.severities.iter_mut();
        for ((_, gauge), column) in self.gauges.iter().zip(&mut columns) {
            let severity = if gauge.is_of_stays() {
                let stay = gauge.stay(pass);
                stay.map_or(f64::MIN, |stay| stay.signed(1.0))
            } else {
                gauge.severity(limits, pass, &numbers).unwrap_or(f64::MIN)
            };
            column.push(single(severity));
        }
        if let (Some(last), Some(kind)) = (columns.next(), staying(problem)) {
            // Those that do already, then the deepest: they are the first to stay. Where coming down is
            // wanted, those that do not, then the mildest.
            let (breaks, next) = match kind.spec().form {
                limits::Form::ComesDown => (
                    !stays(kind, pass.ending),
                    -ln_or_least(pass.peak_deceleration_m_s2),
                ),
                _ => (stays(kind, pass.ending), ln_or_least(pass.speed_lost_m_s)),
            };
            last.push(single(if breaks { f64::MAX } else { next }));
        }
    }

    fn fold(&mut self) {
        if self.severities.iter().any(|column| !column.is_empty()) {
            self.extremeness.fold(&self.severities);
        }
        for column in &mut self.severities {
            column.clear();
        }
    }

    /// How many samples were looked at.
    fn samples(&self) -> u64 {
        self.severities.first().map_or(0, Vec::len) as u64
    }
}

fn ln_or_least(value: f64) -> f64 {
    crate::numeric::elementary::ln(value.max(f64::MIN_POSITIVE))
}

/// A severity to be ranked by.
#[expect(
    clippy::cast_possible_truncation,
    reason = "ranks of what is that close do not matter"
)]
fn single(value: f64) -> f32 {
    value as f32
}

/// The limit on whether a pass leaves the air or comes down, if there is one.
fn staying(problem: &Problem) -> Option<LimitKind> {
    let kinds = problem.limits().entries().iter().map(|limit| limit.kind);
    let mut kinds = kinds.filter(|kind| kind.spec().form.is_of_staying());
    kinds.next()
}

/// Whether a pass stays in the air, as the limit asks it.
fn stays(kind: LimitKind, ending: Ending) -> bool {
    match kind.spec().form {
        limits::Form::ComesDown => ending == Ending::Landed,
        _ => matches!(ending, Ending::Landed | Ending::OutOfTime),
    }
}

impl Live {
    /// Chooses samples for at most about `most_values` severities, after a look at one aim and another at
    /// `edges_m`, and flies them at aims through the whole range; at most about `most_passes` are flown.
    ///
    /// # Errors
    /// [`Stopped`] when the run was cancelled.
    pub fn gather(
        fleet: &Fleet<'_>,
        mut look: Look,
        (aim_m, edges_m, samples): (f64, &[f64], u64),
        (most_values, most_passes): (usize, usize),
    ) -> Result<Self, Stopped> {
        let problem = fleet.problem();
        let looked_at = look.samples();
        for edge_m in edges_m {
            fleet.fly(&[*edge_m], 0..looked_at, |flown| look.take(problem, flown))?;
        }
        look.fold();
        let aims_m = aims(problem, aim_m);
        let per_sample = aims_m.len() * look.gauges.len().max(1);
        let most = (most_values / per_sample).min(most_passes / aims_m.len());
        let mut kept = choose(&look.extremeness, most.max(1));
        #[expect(clippy::cast_precision_loss, reason = "counts stay below 2^53")]
        let factor = samples as f64 / looked_at.max(1) as f64;
        for kept in &mut kept {
            kept.weight *= factor;
        }
        let mut flown = Flown::new(&look, kept.len(), aims_m.len());
        let numbers: Vec<u64> = kept.iter().map(|kept| kept.sample).collect();
        let mut place = 0;
        fleet.fly_listed(&aims_m, &numbers, |sample| {
            flown.take(problem, (place % numbers.len(), sample));
            place += 1;
        })?;
        let staying = staying(problem);
        let kind = staying.unwrap_or(LimitKind::ComesDown);
        let stays_below_m = edge::stays_below(fleet, &flown, (&aims_m, &numbers), kind)?;
        let failed = flown.failed();
        log::info!(
            "kept {} samples at {} aims for limits that can be moved",
            kept.len(),
            aims_m.len()
        );
        Ok(Self {
            channels: flown.channels(&look),
            aims_m,
            kept,
            samples,
            stays_below_m,
            staying,
            failed,
        })
    }
}

/// The aims at which the kept samples are flown.
fn aims(problem: &Problem, aim_m: f64) -> Vec<f64> {
    let (range, planet) = (problem.aim(), problem.planet());
    let place = crate::numeric::Vec3::new(planet.equatorial_radius_m + aim_m, 0.0, 0.0);
    let slope = planet
        .air(aim_m, place, &AirSample::EXACT)
        .ln_density_slope_per_m;
    let scale_height_m = if slope < 0.0 {
        -1.0 / slope
    } else {
        f64::INFINITY
    };
    let length = range.to_m - range.from_m;
    let parts = (length / (SPACING_SCALE_HEIGHTS * scale_height_m)).ceil();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the cast saturates, which is meant"
    )]
    let parts = (parts as usize).clamp(AIMS.0 - 1, AIMS.1 - 1);
    #[expect(clippy::cast_precision_loss, reason = "a few aims")]
    let at = |i: usize| range.from_m + length * (i as f64 / parts as f64);
    (0..=parts).map(at).collect()
}

/// What was flown, before it is made into severities.
struct Flown {
    aims: usize,
    endings: Vec<Ending>,
    /// For each gauge the severities, or for stays the stays.
    plain: Vec<Vec<f64>>,
    stays: Vec<Vec<Option<Stay>>>,
    gauges: Vec<(usize, Gauge)>,
}

impl Flown {
    fn new(look: &Look, kept: usize, aims: usize) -> Self {
        let gauges = look.gauges.len();
        Self {
            aims,
            endings: vec![Ending::Failed; kept * aims],
            plain: vec![vec![f64::NAN; kept * aims]; gauges],
            stays: vec![vec![None; kept * aims]; gauges],
            gauges: look.gauges.clone(),
        }
    }

    fn take(&mut self, problem: &Problem, (kept, sample): (usize, &FlownSample)) {
        let at = kept * self.aims + sample.aim;
        let (limits, pass) = (problem.limits(), &sample.result);
        let numbers = problem.judging_numbers(sample.sample);
        self.endings[at] = pass.ending;
        if !pass.ending.is_flown() {
            return;
        }
        for (i, (_, gauge)) in self.gauges.iter().enumerate() {
            if gauge.is_of_stays() {
                self.stays[i][at] = gauge.stay(pass);
            } else if let Some(severity) = gauge.severity(limits, pass, &numbers) {
                self.plain[i][at] = severity;
            }
        }
    }

    fn failed(&self) -> Vec<(usize, usize)> {
        let places = self.endings.iter().enumerate();
        places
            .filter(|(_, ending)| !ending.is_flown())
            .map(|(at, _)| (at / self.aims, at % self.aims))
            .collect()
    }

    /// The severities, with those made up that count nowhere: of a failed sample, and of an orbit that there is
    /// none of.
    fn channels(mut self, look: &Look) -> Vec<Channel> {
        let mut channels = Vec::new();
        for (i, (place, gauge)) in look.gauges.iter().enumerate() {
            let mut severity = std::mem::take(&mut self.plain[i]);
            if gauge.is_of_stays() {
                severity = signed_stays(&self.stays[i]);
            }
            for row in severity.chunks_mut(self.aims) {
                continue_beyond(row, gauge.form);
            }
            channels.push(Channel {
                place: *place,
                gauge: *gauge,
                severity,
            });
        }
        channels
    }
}

/// Stays as severities: how a stay begins is taken from those that just did.
fn signed_stays(stays: &[Option<Stay>]) -> Vec<f64> {
    let begun = stays.iter().filter_map(|stay| match stay {
        Some(Stay::Above(stay, share)) => Some(stay * stay / share),
        _ => None,
    });
    let mut begun: Vec<f64> = begun.collect();
    begun.sort_by(f64::total_cmp);
    let square_s2 = begun.get(begun.len() / 2).copied().unwrap_or(1.0);
    let severity = |stay: &Option<Stay>| stay.map_or(f64::NAN, |stay| stay.signed(square_s2));
    stays.iter().map(severity).collect()
}

/// Replaces what is missing in a row over the aims: one step on in a straight line from where it is known,
/// then level; between two known places straight. A row without anything known is as mild as can be.
fn continue_beyond(row: &mut [f64], form: Form) {
    let known: Vec<usize> = (0..row.len()).filter(|&i| row[i].is_finite()).collect();
    let (Some(&first), Some(&last)) = (known.first(), known.last()) else {
        let mild = match form {
            Form::Log => ln_or_least(0.0),
            Form::Turned => -1e12,
            Form::InverseRadius(radius_m) => -1.0 / radius_m,
            Form::TurnedInverseRadius(_) | Form::SignedRoot => 0.0,
        };
        row.fill(mild);
        return;
    };
    for pair in known.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        for i in from + 1..to {
            #[expect(clippy::cast_precision_loss, reason = "a few aims")]
            let share = (i - from) as f64 / (to - from) as f64;
            row[i] = row[from] + share * (row[to] - row[from]);
        }
    }
    let step = |a: usize, b: usize| 2.0 * a_or(row, a) - a_or(row, b);
    let below = if last > first {
        step(first, first + 1)
    } else {
        row[first]
    };
    let above = if last > first {
        step(last, last - 1)
    } else {
        row[last]
    };
    row[..first].fill(below);
    row[last + 1..].fill(above);
}

fn a_or(row: &[f64], at: usize) -> f64 {
    row.get(at).copied().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn missing_severities_go_on_in_a_straight_line_and_then_level() {
        let nan = f64::NAN;
        let mut row = [nan, nan, 4.0, 3.0, nan, 1.0, nan];
        continue_beyond(&mut row, Form::Turned);
        assert_eq!(row, [5.0, 5.0, 4.0, 3.0, 2.0, 1.0, 0.0]);
        let mut none = [nan; 3];
        continue_beyond(&mut none, Form::SignedRoot);
        assert_eq!(none, [0.0; 3]);
        let mut one = [nan, 2.0, nan];
        continue_beyond(&mut one, Form::Log);
        assert_eq!(one, [2.0; 3]);
    }
}
