//! Where a fit starts: which flight of a few comes nearest to the log, and how its time runs against the
//! log's clock.

use super::fit::Guess;
use super::readings::Readings;
use super::track::Track;
use crate::ensemble::Problem;
use crate::ensemble::prior::Prior;
use crate::ensemble::problem::SampleNumber;
use crate::scenario::log_columns::Channel;
use nalgebra::DVector;

/// A misfit of this size counts as half way to hopeless, for each channel, SI.
const COARSE: [f64; Channel::COUNT] = [3e3, 3e3, 100.0, 100.0, 1.0];
/// Readings looked at in each piece.
const LOOKED_AT: usize = 80;
/// Most offsets that are looked at first.
const MOST_LOOKS: f64 = 6_000.0;
/// Longest stretch before and after the interface that is searched, s.
const LONGEST_S: f64 = 20_000.0;

/// The start of a fit, and the flight of it.
#[derive(Debug)]
pub(super) struct Start {
    /// The guess; its clocks are one for each piece.
    pub guess: Guess,
    /// Its flight.
    pub track: Track,
    /// Share of the readings that the guess misses by far, 0 to 1.
    pub misfit: f64,
}

/// The best of the flight of the prior's middle and of those with one number two deviations off it.
/// `None` when none of them flies.
#[must_use]
pub(super) fn start(
    problem: &Problem,
    (aim_m, prior): (f64, &Prior),
    readings: &Readings,
) -> Option<Start> {
    let count = prior.numbers().len();
    let mut best: Option<Start> = None;
    for (number, score) in std::iter::once((0, 0.0))
        .chain((0..count).flat_map(|number| [(number, -2.0), (number, 2.0)]))
    {
        let mut scores = DVector::zeros(count);
        if score != 0.0 {
            scores[number] = score;
        }
        let found = aligned(problem, (aim_m, prior), (readings, scores));
        // The middle is left only for what is clearly nearer.
        let nearer = |found: &Start| best.as_ref().is_none_or(|b| found.misfit < 0.8 * b.misfit);
        if let Some(found) = found.filter(nearer) {
            best = Some(found);
        }
    }
    best
}

/// A flight of these scores with its time set by the log.
fn aligned(
    problem: &Problem,
    (aim_m, prior): (f64, &Prior),
    (readings, scores): (&Readings, DVector<f64>),
) -> Option<Start> {
    let pieces = readings.breaks.len() + 1;
    let numbers = prior.at(&(prior.factor() * &scores));
    let lengths = (0..pieces).map(|piece| {
        let times = readings
            .list
            .iter()
            .filter(|r| r.piece == piece)
            .map(|r| r.time_s);
        let (low, high) = times.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| {
            (low.min(t), high.max(t))
        });
        (high - low).max(0.0)
    });
    let whole: f64 = lengths.sum::<f64>() + 300.0;
    let span = (-whole.min(LONGEST_S), (2.0 * whole).min(LONGEST_S));
    let track = Track::fly(problem, (aim_m, &numbers), SampleNumber::Nominal, span)?;
    let mut offsets_s: Vec<f64> = Vec::new();
    let (mut missed, mut all) = (0.0, 0.0);
    for piece in 0..pieces {
        let few = few(readings, piece);
        let misfit = |offset: f64| misfit(&track, &few, offset);
        let mut offset = search(&track, &few, &misfit);
        if let Some(last) = offsets_s.last()
            && misfit(*last) <= 1.1 * misfit(offset) + 0.02
        {
            offset = *last;
        }
        #[expect(clippy::cast_precision_loss, reason = "few readings")]
        let weight = few.len() as f64;
        missed += weight * misfit(offset);
        all += weight;
        offsets_s.push(offset);
    }
    Some(Start {
        guess: Guess {
            scores,
            offsets_s,
            modes: DVector::zeros(0),
        },
        track,
        misfit: missed / f64::max(all, 1.0),
    })
}

/// Some of the readings of a piece: channel, time, value.
fn few(readings: &Readings, piece: usize) -> Vec<(Channel, f64, f64)> {
    let of: Vec<_> = readings.list.iter().filter(|r| r.piece == piece).collect();
    let stride = stride(of.len() / LOOKED_AT);
    of.iter()
        .step_by(stride)
        .map(|r| (r.channel, r.time_s, r.value))
        .collect()
}

/// The least stride from `least` on that has no factor in common with any number of channels: whatever channels the
/// rows have, it takes all of them in turn.
fn stride(least: usize) -> usize {
    let mut stride = least.max(1);
    while (2..=Channel::COUNT).any(|factor| stride.is_multiple_of(factor)) {
        stride += 1;
    }
    stride
}

/// Mean over some readings of how badly a flight misses them with this offset, 0 to 1.
fn misfit(track: &Track, few: &[(Channel, f64, f64)], offset: f64) -> f64 {
    let each = few.iter().map(|(channel, time, value)| {
        track.at(time + offset).map_or(1.0, |at| {
            let c = *channel as usize;
            let off = ((value - at[c]) / COARSE[c]).powi(2);
            off / (1.0 + off)
        })
    });
    #[expect(clippy::cast_precision_loss, reason = "few readings")]
    let count = few.len().max(1) as f64;
    each.sum::<f64>() / count
}

/// The offset of the least misfit, to a tenth of a second.
fn search(track: &Track, few: &[(Channel, f64, f64)], misfit: &dyn Fn(f64) -> f64) -> f64 {
    let (from, to) = track.span();
    let first = few.first().map_or(0.0, |reading| reading.1);
    let length = few.last().map_or(0.0, |reading| reading.1) - first;
    let (low, high) = (from - first - 0.2 * length, to - first);
    let mut best = (f64::INFINITY, low);
    let look = |offset: f64, best: &mut (f64, f64)| {
        let here = misfit(offset);
        if here < best.0 {
            *best = (here, offset);
        }
    };
    // Steps of at most 10 s find any pass; over very long logs no more than some thousands are looked at.
    let coarse = ((high - low) / 600.0).clamp(1.0, 10.0);
    let coarse = coarse.max((high - low) / MOST_LOOKS);
    let mut offset = low;
    while offset <= high {
        look(offset, &mut best);
        offset += coarse;
    }
    let middle = best.1;
    let mut offset = middle - coarse;
    while offset <= middle + coarse {
        look(offset, &mut best);
        offset += 0.1 * coarse;
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With two to five channels in each row, a hundred readings taken at any stride hold each of them about alike.
    #[test]
    fn a_stride_takes_all_channels_in_turn() {
        for least in 0..200 {
            let stride = stride(least);
            assert!(stride >= least && stride <= least + 6, "{least} {stride}");
            for channels in 2..=Channel::COUNT {
                let mut seen = vec![0; channels];
                (0..100).for_each(|place| seen[place * stride % channels] += 1);
                let even = 100 / channels;
                assert!(seen.iter().all(|&n| n >= even && n <= even + 1), "{seen:?}");
            }
        }
    }
}
