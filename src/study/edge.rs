//! Where a safe band ends: the bracket between the last safe aim and the first that is not, closed by flying.

use super::aims::{AimPoint, Aims, Judge};
use super::band::{Edge, SECTIONS, ruled_by_unflown, ruling_limit};
use crate::ensemble::Halt;

/// Which way is out of the band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// Below it.
    Steep,
    /// Above it.
    Shallow,
}

/// The nearest flown aim beyond `from_m` on this side that fails the judge.
fn first_failing(aims: &Aims<'_>, from_m: f64, side: Side, judge: Judge) -> Option<f64> {
    let points = aims.points().iter().enumerate();
    let mut failing = points.filter(|(place, _)| !aims.passes(*place, judge));
    let found = match side {
        Side::Steep => failing.rfind(|(_, point)| point.aim_m < from_m),
        Side::Shallow => failing.find(|(_, point)| point.aim_m > from_m),
    };
    found.map(|(_, point)| point.aim_m)
}

/// Closes the bracket between a safe aim and the first that fails; the last safe and first failing aim.
fn close(
    aims: &mut Aims<'_>,
    mut inside_m: f64,
    (side, judge): (Side, Judge),
    width_m: f64,
) -> Result<(f64, Option<f64>), Halt> {
    loop {
        let Some(outside_m) = first_failing(aims, inside_m, side, judge) else {
            let end = match side {
                Side::Steep => aims.points().first(),
                Side::Shallow => aims.points().last(),
            };
            return Ok((end.map_or(inside_m, |point| point.aim_m), None));
        };
        // Passing points between are the new inside.
        let passing = |p: &&AimPoint| {
            let within = (p.aim_m - inside_m).abs() < (outside_m - inside_m).abs();
            within && (p.aim_m - inside_m) * (outside_m - inside_m) > 0.0
        };
        if let Some(farthest) = aims.points().iter().filter(passing).max_by(|a, b| {
            (a.aim_m - inside_m)
                .abs()
                .total_cmp(&(b.aim_m - inside_m).abs())
        }) {
            inside_m = farthest.aim_m;
        }
        let gap = outside_m - inside_m;
        if gap.abs() <= width_m {
            return Ok((inside_m, Some(outside_m)));
        }
        let between: Vec<f64> = (1..SECTIONS)
            .map(|i| (f64::from(i) / f64::from(SECTIONS)).mul_add(gap, inside_m))
            .collect();
        aims.fly(&between)?;
    }
}

/// The edge of the band on this side of a safe aim (m), its bracket closed to a width (m).
///
/// # Errors
/// [`Halt`]: the run was cancelled, or its counts give no interval.
pub(super) fn edge(
    aims: &mut Aims<'_>,
    safe_m: f64,
    (side, width_m): (Side, f64),
) -> Result<Edge, Halt> {
    let (aim_m, beyond) = close(aims, safe_m, (side, Judge::Lower), width_m)?;
    let (last_possible, ruled_out) = close(aims, aim_m, (side, Judge::Upper), width_m)?;
    let beyond = beyond.and_then(|beyond_m| aims.at(beyond_m));
    let unflown = beyond.is_some_and(ruled_by_unflown);
    Ok(Edge {
        aim_m,
        uncertainty_m: (ruled_out.unwrap_or(last_possible) - aim_m).abs(),
        limit: beyond
            .filter(|_| !unflown)
            .and_then(|point| ruling_limit(aims, point)),
        unflown,
    })
}
