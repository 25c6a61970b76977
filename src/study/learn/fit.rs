//! The fit: damped Gauss–Newton on standard scores with the scenario's uncertainty as prior, weights that
//! bound what an outlier can do, and the small-scale field of the air as further unknowns.
//!
//! Unknowns: independent standard scores behind the uncertain numbers, the offset of the clock in each
//! piece of the log, and the strength of each mode of the small-scale field. Minimised is twice the
//! negative log of the posterior, with Huber's loss for the readings (Huber, Robust Estimation of a
//! Location Parameter, 1964).

use super::readings::Reading;
use super::track::{Readings, Track};
use crate::ensemble::Problem;
use crate::ensemble::prior::Prior;
use crate::ensemble::problem::SampleNumber;
use crate::numeric::counts::median;
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use rayon::prelude::*;

/// Where Huber's loss turns from square to straight, in standard deviations.
const HUBER: f64 = 2.5;
/// Step of the differences, in standard deviations of the prior.
const STEP: f64 = 1e-3;
/// Step of the differences in time, s.
const TIME_STEP_S: f64 = 0.05;
/// Most steps of a fit.
const MOST_STEPS: usize = 60;
/// A clock's offset is as good as unknown: one-sigma, s.
const CLOCK_SIGMA_S: f64 = 1e5;

/// What a fit is about; the same throughout.
#[derive(Debug)]
pub struct Setting<'a> {
    /// What flies.
    pub problem: &'a Problem,
    /// Aimed vacuum periapsis altitude, m.
    pub aim_m: f64,
    /// What is known before.
    pub prior: &'a Prior,
    /// What was measured.
    pub list: &'a [Reading],
    /// One-sigma noise of each reading, SI.
    pub noise: Vec<f64>,
    /// Which readings count.
    pub used: Vec<bool>,
    /// The piece that each piece's clock runs with; pieces with the same number share an offset.
    pub clocks: Vec<usize>,
}

/// A point of the fit.
#[derive(Debug, Clone)]
pub struct Guess {
    /// Independent standard scores.
    pub scores: DVector<f64>,
    /// What to add to the log's time for the time since the entry interface, s, for each clock.
    pub offsets_s: Vec<f64>,
    /// Strengths of the modes of the small-scale field, in standard deviations.
    pub modes: DVector<f64>,
}

/// Where a fit ended.
#[derive(Debug, Clone)]
pub struct Fitted {
    /// The estimate.
    pub guess: Guess,
    /// Readings by the flight of the estimate, SI.
    pub flown: Vec<f64>,
    /// Readings less those, and less the small-scale field of the estimate, over the noise.
    pub residuals: Vec<f64>,
    /// Covariance of scores, offsets and modes, in this order.
    pub covariance: DMatrix<f64>,
    /// Whether the last steps were small.
    pub settled: bool,
    /// How many steps were taken.
    pub steps: usize,
}

impl Setting<'_> {
    /// The offset of the piece of a reading.
    fn offset(&self, guess: &Guess, reading: &Reading) -> f64 {
        guess.offsets_s[self.clocks[reading.piece]]
    }

    /// The stretch of time that the readings need, s after the interface, with room for steps.
    fn span(&self, guess: &Guess) -> (f64, f64) {
        let times = self.list.iter().map(|r| r.time_s + self.offset(guess, r));
        let (low, high) = times.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), t| {
            (low.min(t), high.max(t))
        });
        (low.min(0.0) - 2.0, high + 2.0)
    }

    /// The flight of some scores.
    fn track(
        &self,
        scores: &DVector<f64>,
        span: (f64, f64),
        sample: SampleNumber,
    ) -> Option<Track> {
        let numbers = self.prior.at(&(self.prior.factor() * scores));
        Track::fly(self.problem, (self.aim_m, &numbers), sample, span)
    }

    /// What a flight would have read; NaN where it had ended.
    fn readings(&self, track: &Track, guess: &Guess, later_s: f64) -> Vec<f64> {
        let mut last: Option<(f64, Option<Readings>)> = None;
        self.list
            .iter()
            .map(|reading| {
                let time = reading.time_s + self.offset(guess, reading) + later_s;
                let same = last.filter(|(known, _)| *known == time);
                let (_, at) = same.unwrap_or_else(|| (time, track.at(time)));
                last = Some((time, at));
                at.map_or(f64::NAN, |at| at[reading.channel as usize])
            })
            .collect()
    }

    /// What the small-scale field does to the readings about a guess: modes whose strengths are independent
    /// standard scores, one a column, in units of the noise. From `count` flights with fields of their own.
    #[must_use]
    pub fn field_modes(&self, guess: &Guess, count: u64) -> DMatrix<f64> {
        /// Far from the numbers of samples that anyone flies.
        const FIRST: u64 = 1 << 62;
        /// A mode that moves all readings together by less than this share of their noise is not seen.
        const FAINTEST: f64 = 0.1;
        let rows = self.list.len();
        let none = DMatrix::zeros(rows, 0);
        if self.problem.planet().small_scale.is_none() {
            return none;
        }
        let span = self.span(guess);
        let read = |sample| {
            let track = self.track(&guess.scores, span, sample)?;
            Some(self.readings(&track, guess, 0.0))
        };
        let Some(smooth) = read(SampleNumber::Nominal) else {
            return none;
        };
        let rough: Vec<Vec<f64>> = (0..count)
            .into_par_iter()
            .filter_map(|i| read(SampleNumber::Of(FIRST + i)))
            .filter(|rough| (0..rows).all(|i| !self.used[i] || (rough[i] - smooth[i]).is_finite()))
            .collect();
        if rough.len() < 8 {
            return none;
        }
        #[expect(clippy::cast_precision_loss, reason = "a few hundred flights")]
        let share = 1.0 / (rough.len() as f64).sqrt();
        let effect = DMatrix::from_fn(rows, rough.len(), |i, k| {
            let effect = share * (rough[k][i] - smooth[i]) / self.noise[i];
            if self.used[i] { effect } else { 0.0 }
        });
        let among = (effect.transpose() * &effect).symmetric_eigen();
        let seen: Vec<usize> = (0..rough.len())
            .filter(|&k| among.eigenvalues[k] > FAINTEST * FAINTEST)
            .collect();
        let directions = DMatrix::from_fn(rough.len(), seen.len(), |i, k| {
            among.eigenvectors[(i, seen[k])]
        });
        effect * directions
    }

    /// Readings less a flight and a field, over the noise; `None` where a used one has no flight.
    fn residuals(&self, flown: &[f64], modes: (&DMatrix<f64>, &DVector<f64>)) -> Option<Vec<f64>> {
        let field = modes.0 * modes.1;
        let residuals: Vec<f64> = (0..self.list.len())
            .map(|i| (self.list[i].value - flown[i]) / self.noise[i] - field[i])
            .collect();
        let known = residuals
            .iter()
            .zip(&self.used)
            .all(|(r, used)| r.is_finite() || !used);
        known.then_some(residuals)
    }

    /// What is minimised, with the noise `scale` times as large.
    fn loss(&self, residuals: &[f64], guess: &Guess, scale: f64) -> f64 {
        let huber = |r: f64| {
            let r = (r / scale).abs();
            if r <= HUBER {
                r * r
            } else {
                HUBER * (2.0 * r - HUBER)
            }
        };
        let used = residuals.iter().zip(&self.used).filter(|(_, used)| **used);
        let misfit: f64 = used.map(|(r, _)| huber(*r)).sum();
        misfit + guess.scores.norm_squared() + guess.modes.norm_squared()
    }

    /// Changes of the readings with scores and offsets, over the noise, one a column.
    fn slopes(&self, guess: &Guess, track: &Track, flown: &[f64]) -> Option<DMatrix<f64>> {
        let (count, clocks) = (guess.scores.len(), guess.offsets_s.len());
        let span = self.span(guess);
        let columns: Vec<Option<Vec<f64>>> = (0..count)
            .into_par_iter()
            .map(|k| {
                let mut moved = guess.scores.clone();
                moved[k] += STEP;
                let track = self.track(&moved, span, SampleNumber::Nominal)?;
                Some(self.readings(&track, guess, 0.0))
            })
            .collect();
        let columns: Option<Vec<Vec<f64>>> = columns.into_iter().collect();
        let columns = columns?;
        let later = self.readings(track, guess, TIME_STEP_S);
        let earlier = self.readings(track, guess, -TIME_STEP_S);
        Some(DMatrix::from_fn(self.list.len(), count + clocks, |i, k| {
            if !self.used[i] {
                return 0.0;
            }
            let slope = match k.checked_sub(count) {
                None => (columns[k][i] - flown[i]) / STEP,
                Some(clock) if clock == self.clocks[self.list[i].piece] => {
                    (later[i] - earlier[i]) / (2.0 * TIME_STEP_S)
                }
                Some(_) => 0.0,
            };
            let slope = slope / self.noise[i];
            if slope.is_finite() { slope } else { 0.0 }
        }))
    }

    /// Which of the scores any reading depends on.
    #[must_use]
    pub fn moves(&self, guess: &Guess) -> Vec<bool> {
        const FAINTEST: f64 = 1e-6;
        let none = vec![true; guess.scores.len()];
        let Some(track) = self.track(&guess.scores, self.span(guess), SampleNumber::Nominal) else {
            return none;
        };
        let flown = self.readings(&track, guess, 0.0);
        self.slopes(guess, &track, &flown).map_or(none, |slopes| {
            (0..guess.scores.len())
                .map(|k| slopes.column(k).amax() > FAINTEST)
                .collect()
        })
    }

    /// Fits from a guess, with a field of these modes. `None` when the guess itself does not fly through
    /// all the readings.
    #[must_use]
    pub fn fit(&self, from: &Guess, modes: &DMatrix<f64>) -> Option<Fitted> {
        let mut guess = Guess {
            modes: DVector::zeros(modes.ncols()),
            ..from.clone()
        };
        let fly = |guess: &Guess| {
            let track = self.track(&guess.scores, self.span(guess), SampleNumber::Nominal)?;
            let flown = self.readings(&track, guess, 0.0);
            let residuals = self.residuals(&flown, (modes, &guess.modes))?;
            Some((track, flown, residuals))
        };
        let (mut track, mut flown, mut residuals) = fly(&guess)?;
        let (mut damping, mut settled, mut steps) = (1e-3, false, 0);
        let mut normal;
        loop {
            let scale = self.scale(&residuals);
            let slopes = self.slopes(&guess, &track, &flown)?;
            let all = joined(&slopes, modes);
            normal = self.normal(&all, &residuals, scale);
            let gradient = self.gradient(&all, (&residuals, scale), &guess);
            if settled || steps == MOST_STEPS {
                break;
            }
            steps += 1;
            let loss = self.loss(&residuals, &guess, scale);
            let mut better = None;
            while better.is_none() && damping < 1e12 {
                let step = damped_step(&normal, &gradient, damping);
                let trial = moved(&guess, &step);
                match fly(&trial) {
                    Some(found) if self.loss(&found.2, &trial, scale) < loss => {
                        better = Some((trial, found, step));
                        damping = (damping * 0.1).max(1e-9);
                    }
                    _ => damping *= 8.0,
                }
            }
            let Some((trial, found, step)) = better else {
                // No step leads down: settled where the bottom is less than a tenth of a sigma off.
                settled = damped_step(&normal, &gradient, 1e-9).dot(&gradient) < 0.1 * 0.1;
                break;
            };
            guess = trial;
            (track, flown, residuals) = found;
            let small = is_small(&step, &normal);
            settled = small && scale == 1.0 && damping <= 1e-3;
            settled |= small && scale > 1.0 && steps > MOST_STEPS / 2;
        }
        let covariance = Cholesky::<f64, Dyn>::new(normal)?.inverse();
        Some(Fitted {
            guess,
            flown,
            residuals,
            covariance,
            settled,
            steps,
        })
    }

    /// How many times the noise the residuals are, at least 1: far from the answer the prior leads.
    fn scale(&self, residuals: &[f64]) -> f64 {
        let used = residuals.iter().zip(&self.used).filter(|(_, used)| **used);
        let mut sizes: Vec<f64> = used.map(|(r, _)| r.abs()).collect();
        let scale = 1.4826 * median(&mut sizes).unwrap_or(1.0);
        if scale < 1.3 { 1.0 } else { scale }
    }

    fn weight(&self, i: usize, residual: f64, scale: f64) -> f64 {
        if !self.used[i] {
            return 0.0;
        }
        let huber = (HUBER * scale / residual.abs().max(1e-300)).min(1.0);
        huber / (scale * scale)
    }

    /// Information of readings and prior together.
    fn normal(&self, slopes: &DMatrix<f64>, residuals: &[f64], scale: f64) -> DMatrix<f64> {
        let mut weighted = slopes.clone();
        for (i, mut row) in weighted.row_iter_mut().enumerate() {
            row *= self.weight(i, residuals[i], scale);
        }
        let mut normal = slopes.transpose() * weighted;
        let (scores, clocks) = (self.prior.numbers().len(), self.clock_count());
        for k in 0..normal.nrows() {
            let clock = (scores..scores + clocks).contains(&k);
            normal[(k, k)] += if clock { CLOCK_SIGMA_S.powi(-2) } else { 1.0 };
        }
        normal
    }

    fn clock_count(&self) -> usize {
        self.clocks.iter().max().map_or(0, |last| last + 1)
    }

    fn gradient(
        &self,
        slopes: &DMatrix<f64>,
        (residuals, scale): (&[f64], f64),
        guess: &Guess,
    ) -> DVector<f64> {
        let pulls = DVector::from_fn(residuals.len(), |i, _| {
            let weight = self.weight(i, residuals[i], scale);
            if weight > 0.0 {
                weight * residuals[i]
            } else {
                0.0
            }
        });
        let mut gradient = slopes.transpose() * pulls;
        let scores = guess.scores.len();
        let first_mode = scores + guess.offsets_s.len();
        for k in 0..scores {
            gradient[k] -= guess.scores[k];
        }
        for k in 0..guess.modes.len() {
            gradient[first_mode + k] -= guess.modes[k];
        }
        gradient
    }
}

/// Whether a step is a small part of a standard deviation along every unknown.
fn is_small(step: &DVector<f64>, normal: &DMatrix<f64>) -> bool {
    (0..step.len()).all(|k| step[k].abs() * normal[(k, k)].sqrt() < 0.03)
}

/// Two matrices side by side.
fn joined(left: &DMatrix<f64>, right: &DMatrix<f64>) -> DMatrix<f64> {
    let mut all = left.clone();
    all.resize_horizontally_mut(left.ncols() + right.ncols(), 0.0);
    all.columns_mut(left.ncols(), right.ncols())
        .copy_from(right);
    all
}

/// The step of a damped round; none where the matrix has no factor.
fn damped_step(normal: &DMatrix<f64>, gradient: &DVector<f64>, damping: f64) -> DVector<f64> {
    let mut damped = normal.clone();
    for k in 0..damped.nrows() {
        damped[(k, k)] *= 1.0 + damping;
    }
    match Cholesky::<f64, Dyn>::new(damped) {
        Some(factor) => factor.solve(gradient),
        None => DVector::zeros(gradient.len()),
    }
}

fn moved(guess: &Guess, step: &DVector<f64>) -> Guess {
    let scores = guess.scores.len();
    let clocks = guess.offsets_s.len();
    let part = |from: usize, count: usize| step.rows(from, count).into_owned();
    Guess {
        scores: &guess.scores + part(0, scores),
        offsets_s: (0..clocks)
            .map(|k| guess.offsets_s[k] + step[scores + k])
            .collect(),
        modes: &guess.modes + part(scores + clocks, guess.modes.len()),
    }
}
