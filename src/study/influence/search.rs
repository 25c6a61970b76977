//! The band search of `band`, made cheap enough to be done over and over: in the stretch of aims that
//! matters, and flying only the samples that can break a limit there.

use super::super::aims::Aims;
use super::super::band::{Band, best_aim, grid};
use crate::ensemble::{Fleet, Halt, Problem, Progress};
use crate::numeric::counts::real;
use crate::scenario::arrival::AimRange;
use crate::scenario::ask::Ask;

/// Samples at each aim of the first look.
const SCOUTS: u64 = 1000;
/// Share of samples that do not hold at the ends of the stretch: beyond, no halving of one spread makes
/// an aim safe. (A normal edge at three standard deviations moves to one and a half, 7 %; that of a uniform
/// error to a quarter of its width, 25 %.)
const SHARE_AT_ENDS: f64 = 0.35;
/// Aims of the first grid in the stretch.
const GRID: f64 = 10.0;

/// A band and what the samples did on the way to it.
pub(super) struct Searched<'a> {
    /// The band, where there is one.
    pub(super) band: Option<Band>,
    /// The aim to take, or the likeliest to hold, m.
    pub(super) best_m: f64,
    /// The aims flown.
    pub(super) aims: Aims<'a>,
}

/// The stretch of aims in which a band can be, now or with a spread halved.
pub(super) fn stretch(
    problem: &Problem,
    (ask, progress): (&Ask, &Progress),
) -> Result<AimRange, Halt> {
    let range = problem.aim();
    let aims = grid(range);
    let samples = SCOUTS.min(ask.samples);
    let tallies = Fleet::new(problem, progress).tally(&aims, 0..samples)?;
    let shares: Vec<f64> = tallies
        .iter()
        .map(|tally| real(tally.not_held()) / real(tally.samples.max(1)))
        .collect();
    let least = shares.iter().copied().fold(f64::INFINITY, f64::min);
    let near = |share: &f64| *share <= (least + SHARE_AT_ENDS).min(0.999);
    let (Some(first), Some(last)) = (shares.iter().position(near), shares.iter().rposition(near))
    else {
        return Ok(range);
    };
    let from_m = aims[first.saturating_sub(1)];
    let to_m = aims[(last + 1).min(aims.len() - 1)];
    Ok(AimRange {
        from_m,
        to_m,
        step_m: ((to_m - from_m) / GRID).min(range.step_m),
    })
}

/// Looks for the band of a fleet's problem; where screening missed a broken limit at an edge, again with
/// every sample. `None` where no aim was flown.
pub(super) fn search<'a>(
    fleet: &'a Fleet<'a>,
    (ask, stretch): (&Ask, AimRange),
) -> Result<Option<Searched<'a>>, Halt> {
    let mut aims = Aims::screened(fleet, *ask);
    let Some((best_m, band)) = best_aim(&mut aims, fleet.problem(), (stretch, 0.0))? else {
        return Ok(None);
    };
    let edges = band
        .as_ref()
        .map_or([best_m; 2], |band| [band.low.aim_m, band.high.aim_m]);
    for edge_m in edges {
        if !aims.holds_unscreened(edge_m)? {
            let mut aims = Aims::recorded(fleet, *ask);
            let found = best_aim(&mut aims, fleet.problem(), (stretch, 0.0))?;
            return Ok(found.map(|(best_m, band)| Searched { band, best_m, aims }));
        }
    }
    Ok(Some(Searched { band, best_m, aims }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::{STARTER, Scenario};
    use crate::study::Case;

    #[test]
    fn screening_samples_changes_no_count() {
        let scenario = Scenario::from_text("x.yaml", STARTER).unwrap();
        let case = Case::from_scenario(scenario).unwrap();
        let ask = Ask {
            samples: 2000,
            probability: 0.99,
            ..case.scenario.ask
        };
        let whole = Progress::default();
        let stretch = stretch(&case.problem, (&ask, &whole)).unwrap();
        let fleet = Fleet::new(&case.problem, &whole);
        let mut every = Aims::recorded(&fleet, ask);
        let before = whole.flown();
        let expected = best_aim(&mut every, &case.problem, (stretch, 0.0)).unwrap();
        let few = Progress::default();
        let fleet = Fleet::new(&case.problem, &few);
        let mut screened = Aims::screened(&fleet, ask);
        let found = best_aim(&mut screened, &case.problem, (stretch, 0.0)).unwrap();
        assert_eq!(found, expected);
        assert!(found.unwrap().1.is_some());
        let counts = |aims: &Aims<'_>| -> Vec<(u64, Vec<u64>)> {
            let points = aims.points().iter();
            points
                .map(|p| (p.aim_m.to_bits(), p.tally.broken.clone()))
                .collect()
        };
        assert_eq!(counts(&screened), counts(&every));
        let flown = whole.flown() - before;
        assert!(4 * few.flown() < flown, "{} of {flown}", few.flown());
    }
}
