//! The values that a slider of the page offers for a limit or a probability, and their units.

use super::number::rounded;
use crate::ensemble::LimitKind;
use crate::ensemble::interval::samples_needed;
use crate::numeric::quantity::Quantity;
use crate::scenario::limits;
use crate::study::Case;
use crate::study::live::Live;
use crate::study::live::gauge::{Form, Gauge};

/// Positions of a slider on either side of the value as run.
const POSITIONS: i32 = 100;
/// Probabilities that the slider offers.
const PROBABILITIES: [f64; 19] = [
    0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.92, 0.94, 0.95, 0.96, 0.97, 0.98, 0.985, 0.99, 0.995, 0.9973,
    0.999, 0.9995, 0.9999,
];

/// The values of a slider, in the unit shown, and which of them is the one as run.
pub(super) struct Positions {
    pub(super) values: Vec<f64>,
    pub(super) start: usize,
}

/// Positions of the slider of a limit: in equal ratios (an altitude: in equal steps) about the value as run, so
/// far that the limit binds at one end and not at the other.
pub(super) fn positions(case: &Case, (live, index): (&Live, usize), aim_m: f64) -> Positions {
    let channel = &live.channels[index];
    let (least, greatest) = possible(case, channel.gauge.kind);
    let (gauge, per_si) = (&channel.gauge, channel.gauge.kind.unit().per_si());
    let allowed = gauge.allowed * per_si;
    let (middle, most) = at_aim(live, index, aim_m);
    let shown = |severity: f64| value_of(gauge, severity) * per_si;
    let (middle, most) = (shown(middle), shown(most));
    if gauge.form == Form::Turned {
        let room = 1.5
            * (allowed - middle)
                .abs()
                .max((allowed - most).abs())
                .max(5.0);
        let step = rounded_step(room / f64::from(POSITIONS));
        let values = (-POSITIONS..=POSITIONS).map(|i| neat(allowed + f64::from(i) * step));
        let values = values.filter(|value| (least..=greatest).contains(value));
        return around(values.collect(), allowed);
    }
    // A quantity that is not there (an apoapsis of an escape, a stay that never begins) sets no end.
    let there = |value: f64| value.is_finite() && value > 0.0;
    let low = if there(middle) {
        (0.7 * middle).min(0.5 * allowed)
    } else {
        0.5 * allowed
    };
    let high = if there(most) {
        (1.5 * most).max(2.0 * allowed)
    } else {
        2.0 * allowed
    };
    let (low, high) = (low.max(0.02 * allowed), high.min(50.0 * allowed));
    let ratio = |to: f64, i: i32| libm::pow(to / allowed, f64::from(i) / f64::from(POSITIONS));
    let below = (1..=POSITIONS).rev().map(|i| neat(allowed * ratio(low, i)));
    let above = (1..=POSITIONS).map(|i| neat(allowed * ratio(high, i)));
    let values = below.chain([allowed]).chain(above);
    let values = values.filter(|value| (least..=greatest).contains(value));
    around(values.collect(), allowed)
}

/// The least and the greatest value of a limit that the program takes in this scenario, in the unit shown. The two
/// limits of the apoapsis have to lie on either side of each other, which is left to the page.
pub(super) fn possible(case: &Case, kind: LimitKind) -> (f64, f64) {
    let spec = kind.spec();
    let (mut least, greatest) = spec.bound.ends();
    if spec.of == Some(Quantity::PeakDeceleration) {
        // A level that is not below the peak is refused.
        let entries = case.scenario.limits.entries().iter();
        let levels = entries.filter_map(|limit| limit.level_m_s2);
        least = levels.map(|level| 1.001 * level).fold(least, f64::max);
    }
    if spec.form == limits::Form::CapturedMost {
        // An orbit within the air is refused.
        least = least.max(case.world.body().entry_interface_m + 1.0);
    }
    let factor = kind.unit().per_si();
    // A hair inside, so that rounding does not put an end outside; 0 stays 0.
    let inside = |end: f64, by: f64| factor * (end + by * end.abs());
    (inside(least, 1e-9), inside(greatest, -1e-9))
}

/// Rising values without repetitions, and the place of the one as run among them.
fn around(mut values: Vec<f64>, as_run: f64) -> Positions {
    values.push(as_run);
    values.sort_by(f64::total_cmp);
    values.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * b.abs());
    let start = values
        .iter()
        .position(|v| (*v - as_run).abs() <= 1e-9 * as_run.abs());
    Positions {
        start: start.unwrap_or(0),
        values,
    }
}

/// A number to three digits, as a person would write it.
fn neat(value: f64) -> f64 {
    rounded(value, 3)
}

/// One, two or five times a power of ten, at or above this.
fn rounded_step(step: f64) -> f64 {
    let power = libm::pow(10.0, libm::log10(step).floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|part| part * power);
    steps.into_iter().find(|s| *s >= step).unwrap_or(step)
}

/// The median and nearly the highest severity of a limit at the aim nearest to this.
fn at_aim(live: &Live, index: usize, aim_m: f64) -> (f64, f64) {
    let aims = live.aims_m.len();
    let near = |a: &usize, b: &usize| {
        let off = |i: usize| (live.aims_m[i] - aim_m).abs();
        off(*a).total_cmp(&off(*b))
    };
    let at = (0..aims).min_by(near).unwrap_or(0);
    let rows = live.channels[index].severity.chunks(aims);
    let mut weighed: Vec<(f64, f64)> = rows
        .zip(&live.kept)
        .map(|(row, kept)| (row[at], kept.weight))
        .collect();
    weighed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let whole: f64 = weighed.iter().map(|(_, weight)| weight).sum();
    let quantile = |share: f64| {
        let mut sum = 0.0;
        let found = weighed.iter().find(|(_, weight)| {
            sum += weight;
            sum >= share * whole
        });
        found.map_or(f64::NAN, |(severity, _)| *severity)
    };
    (quantile(0.5), quantile(0.999))
}

/// The value (SI) of a severity.
fn value_of(gauge: &Gauge, severity: f64) -> f64 {
    match gauge.form {
        Form::Log => libm::exp(severity),
        Form::Turned => -severity,
        Form::InverseRadius(radius_m) => -1.0 / severity - radius_m,
        Form::TurnedInverseRadius(radius_m) => 1.0 / severity - radius_m,
        Form::SignedRoot => severity,
    }
}

/// The probabilities that can be asked for with so many samples, and the one as run.
pub(super) fn probabilities(case: &Case, live: &Live) -> Positions {
    let ask = &case.scenario.ask;
    let one_sided = 0.5 * (1.0 + ask.confidence);
    let shown = |p: f64| samples_needed(0, p, one_sided).is_ok_and(|needed| needed <= live.samples);
    let all = PROBABILITIES
        .into_iter()
        .filter(|p| live.samples == 1 || shown(*p));
    let percents = all.map(|p| neat_percent(100.0 * p)).collect();
    around(percents, neat_percent(100.0 * ask.probability))
}

/// Per cent without the rounding of the multiplication.
fn neat_percent(value: f64) -> f64 {
    rounded(value, 12)
}
