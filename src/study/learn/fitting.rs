//! A fit in its rounds: numbers that move nothing are dropped, outliers left out, the noise taken from what
//! is left, clocks that agree joined; at the end everything that was handled has its remark.

use super::fit::{Fitted, Guess, Setting};
use super::known;
use super::readings::{Readings, named};
use super::{Clock, LearnError, LearnOptions, Learned, Parameter};
use crate::ensemble::prior::Prior;
use crate::numeric::counts::median;
use crate::numeric::units::format_number;
use crate::scenario::log_columns::Channel;
use crate::scenario::uncertainty::Number;
use crate::study::Case;
use nalgebra::{DMatrix, DVector};

/// Readings farther off than this many standard deviations are left out.
const OUTLIER: f64 = 6.0;

/// A fit in the making.
pub(super) struct Fitting<'a> {
    case: &'a Case,
    options: &'a LearnOptions,
    prior: Prior,
    readings: Readings,
    noise_at_first: [f64; Channel::COUNT],
    guess: Guess,
    used: Vec<bool>,
    clocks: Vec<usize>,
    remarks: Vec<String>,
    field_modes: usize,
}

impl<'a> Fitting<'a> {
    pub(super) fn new(
        case: &'a Case,
        prior: Prior,
        (readings, options): (Readings, &'a LearnOptions),
        guess: Guess,
    ) -> Result<Self, LearnError> {
        if prior.numbers().is_empty() {
            return Err(LearnError::NothingUncertain);
        }
        Ok(Self {
            case,
            options,
            prior,
            used: vec![true; readings.list.len()],
            clocks: (0..=readings.breaks.len()).collect(),
            remarks: readings.remarks.clone(),
            noise_at_first: readings.noise,
            readings,
            guess,
            field_modes: 0,
        })
    }

    fn setting(&self) -> Setting<'_> {
        Setting {
            problem: &self.case.problem,
            aim_m: self.options.aim_m,
            prior: &self.prior,
            list: &self.readings.list,
            noise: self
                .readings
                .list
                .iter()
                .map(|r| self.readings.noise[r.channel as usize])
                .collect(),
            used: self.used.clone(),
            clocks: self.clocks.clone(),
        }
    }

    /// Takes out the numbers that no reading depends on.
    pub(super) fn drop_what_moves_nothing(&mut self) -> Result<(), LearnError> {
        let moves = self.setting().moves(&self.guess);
        if !moves.iter().any(|moves| *moves) {
            return Err(LearnError::NothingUncertain);
        }
        let kept: Vec<f64> = (0..moves.len())
            .filter(|&k| moves[k])
            .map(|k| self.guess.scores[k])
            .collect();
        self.guess.scores = DVector::from_vec(kept);
        self.prior = self.prior.without(&moves);
        Ok(())
    }

    /// Fits in rounds: with the field about each estimate, without outliers, with clocks that agree joined.
    pub(super) fn run(&mut self) -> Option<Fitted> {
        const ROUNDS: usize = 6;
        let none = DMatrix::zeros(self.readings.list.len(), 0);
        let mut fitted = self.setting().fit(&self.guess, &none)?;
        for round in 0..ROUNDS {
            self.guess = fitted.guess.clone();
            let setting = self.setting();
            let modes = setting.field_modes(&self.guess, self.options.field_flights);
            fitted = setting.fit(&self.guess, &modes)?;
            self.field_modes = modes.ncols();
            let changed = [
                self.judge_outliers(&fitted),
                self.judge_noise(&fitted),
                self.judge_clocks(&mut fitted),
            ];
            if round > 0 && !changed.contains(&true) {
                break;
            }
        }
        Some(fitted)
    }

    /// Leaves out what lies too far off; whether that changed. Where a whole instrument is off it is its noise
    /// that is judged.
    fn judge_outliers(&mut self, fitted: &Fitted) -> bool {
        let mut widths = [1.0; Channel::COUNT];
        for channel in Channel::ALL {
            let residuals = self.residuals_of(channel, fitted, |_| true);
            widths[channel as usize] = spread(&residuals).unwrap_or(1.0).max(1.0);
        }
        let list = self.readings.list.iter().zip(&fitted.residuals);
        let used: Vec<bool> = list
            .map(|(reading, r)| r.abs() < OUTLIER * widths[reading.channel as usize])
            .collect();
        let changed = used != self.used;
        self.used = used;
        changed
    }

    /// Residuals of a channel over its noise, in the order of the log, where the flight has any.
    fn residuals_of(
        &self,
        channel: Channel,
        fitted: &Fitted,
        which: impl Fn(usize) -> bool,
    ) -> Vec<f64> {
        (0..self.readings.list.len())
            .filter(|&i| self.readings.list[i].channel == channel && which(i))
            .map(|i| fitted.residuals[i])
            .filter(|residual| residual.is_finite())
            .collect()
    }

    /// Takes the noise from the residuals where they are larger than what the rows show, or hang together from
    /// row to row; whether that changed anything.
    fn judge_noise(&mut self, fitted: &Fitted) -> bool {
        /// A change by less is none.
        const STEP: f64 = 1.25;
        let mut changed = false;
        for channel in Channel::ALL {
            let residuals = self.residuals_of(channel, fitted, |i| self.used[i]);
            let Some(spread) = spread(&residuals) else {
                continue;
            };
            let alike = alike_from_row_to_row(&residuals).clamp(0.0, 0.9);
            let together = if alike > 0.25 {
                ((1.0 + alike) / (1.0 - alike)).sqrt()
            } else {
                1.0
            };
            let noise = &mut self.readings.noise[channel as usize];
            let seen = spread * *noise * together;
            let wanted = seen.max(self.noise_at_first[channel as usize]);
            if !(*noise / STEP..*noise * STEP).contains(&wanted) {
                *noise = wanted;
                changed = true;
            }
        }
        changed
    }

    /// Joins the clocks of pieces that agree, the rest of the log first; whether any did.
    fn judge_clocks(&mut self, fitted: &mut Fitted) -> bool {
        let scores = self.prior.numbers().len();
        for k in 1..fitted.guess.offsets_s.len() {
            let variance = |i: usize, j: usize| fitted.covariance[(scores + i, scores + j)];
            let sigma = (variance(k, k) + variance(k - 1, k - 1) - 2.0 * variance(k, k - 1))
                .max(0.0)
                .sqrt();
            let step = fitted.guess.offsets_s[k] - fitted.guess.offsets_s[k - 1];
            if step.abs() < 4.0 * sigma.max(2e-3) {
                fitted.guess.offsets_s.remove(k);
                for clock in &mut self.clocks {
                    if *clock >= k {
                        *clock -= 1;
                    }
                }
                return true;
            }
        }
        false
    }

    /// Why the fit is no fit: what it leaves of an instrument is far more than that instrument's noise.
    pub(super) fn hopeless(&self) -> Option<String> {
        /// Share of the readings of an instrument that may be left out.
        const MOST_LEFT_OUT: f64 = 0.3;
        /// Residuals may be so many times the noise from row to row, or this share of what is measured.
        const MOST_NOISE: (f64, f64) = (20.0, 0.01);
        for channel in Channel::ALL {
            let of = self.readings.list.iter().zip(&self.used);
            let (mut all, mut out, mut low, mut high) =
                (0_u32, 0_u32, f64::INFINITY, f64::NEG_INFINITY);
            for (reading, used) in of.filter(|(r, _)| r.channel == channel) {
                all += 1;
                out += u32::from(!used);
                (low, high) = (low.min(reading.value), high.max(reading.value));
            }
            if f64::from(out) > MOST_LEFT_OUT * f64::from(all) {
                return Some(format!(
                    "{out} of {all} readings of the {} lie more than {OUTLIER:.0} standard deviations off the nearest",
                    channel.words()
                ));
            }
            let noise = self.readings.noise[channel as usize];
            let before = self.noise_at_first[channel as usize];
            if all > 0 && noise > MOST_NOISE.0 * before && noise > MOST_NOISE.1 * (high - low) {
                return Some(format!(
                    "the nearest misses the {} by {} times its noise from row to row",
                    channel.words(),
                    format_number((noise / before).round())
                ));
            }
        }
        None
    }

    /// Why the log is of a pass that was aimed elsewhere: it can be followed only with a delivery that the scenario
    /// as good as excludes.
    pub(super) fn aimed_elsewhere(&self, fitted: &Fitted) -> Option<String> {
        /// Standard deviations of a delivery that count as excluded (chosen here: what is stated too small by half,
        /// and then met at five, still passes).
        const MOST: f64 = 10.0;
        let scores = self.prior.factor() * &fitted.guess.scores;
        let mut all = self.prior.numbers().iter().zip(scores.iter());
        let (number, score) =
            all.find(|(number, score)| Number::DELIVERY.contains(number) && score.abs() > MOST)?;
        Some(format!(
            "the nearest has the {} {:.1} standard deviations from where the scenario expects it",
            number.words(),
            score.abs()
        ))
    }

    pub(super) fn finish(mut self, fitted: Fitted) -> Learned {
        let count = self.prior.numbers().len();
        let factor = self.prior.factor();
        let among = fitted.covariance.view((0, 0), (count, count)).into_owned();
        let fit = factor * among * factor.transpose();
        let scores = factor * &fitted.guess.scores;
        let mut covariance = fit.clone();
        let of_the_fit = known::Posterior {
            case: self.case,
            aim_m: self.options.aim_m,
            prior: &self.prior,
            scores: &scores,
            covariance: &fit,
        };
        let held = super::model_form::widen(&of_the_fit, &mut covariance);
        let parameters: Vec<Parameter> = (0..count)
            .map(|k| {
                let sigma = covariance[(k, k)].sqrt();
                let (value, slope) = (|z| self.prior.value(k, z), |z| self.prior.slope(k, z).abs());
                Parameter {
                    number: self.prior.numbers()[k],
                    before: (value(0.0), slope(0.0)),
                    after: (value(scores[k]), slope(scores[k]) * sigma),
                    score: (scores[k], sigma),
                }
            })
            .collect();
        let clocks = self.name_clocks(&fitted);
        self.name_outliers(&fitted);
        let doubts = self.misfits(&fitted);
        // What casts doubt on all the rest is told first.
        self.remarks.splice(0..0, doubts.iter().cloned());
        self.remarks.extend(held);
        let posterior = known::Posterior {
            case: self.case,
            aim_m: self.options.aim_m,
            prior: &self.prior,
            scores: &scores,
            covariance: &covariance,
        };
        let quantities = posterior.quantities();
        let combinations = posterior.combinations();
        Learned {
            options: self.options.clone(),
            parameters,
            covariance,
            used: self.used,
            clocks,
            quantities,
            combinations,
            field_modes: self.field_modes,
            doubts,
            remarks: self.remarks,
            prior: self.prior,
            readings: self.readings,
            fitted,
        }
    }

    fn name_clocks(&mut self, fitted: &Fitted) -> Vec<Clock> {
        let scores = self.prior.numbers().len();
        let mut clocks: Vec<Clock> = Vec::new();
        for (piece, &clock) in self.clocks.iter().enumerate() {
            let line = match piece.checked_sub(1) {
                None => self.readings.list.first().map_or(0, |r| r.line),
                Some(before) => self.readings.breaks[before].line,
            };
            if clock == clocks.len() {
                clocks.push(Clock {
                    line,
                    offset_s: fitted.guess.offsets_s[clock],
                    sigma_s: fitted.covariance[(scores + clock, scores + clock)].sqrt(),
                });
                if clock > 0 {
                    let step = fitted.guess.offsets_s[clock - 1] - fitted.guess.offsets_s[clock];
                    self.remarks.push(format!(
                        "the clock jumps by {step:+.3} s at line {line}: the rows from there on are fitted with a clock \
                         of their own"
                    ));
                }
            } else if self.readings.breaks[piece - 1].is_gap() {
                self.remarks.push(format!(
                    "rows are missing before line {line}: {} s without any",
                    format_number(self.readings.breaks[piece - 1].gap_s)
                ));
            }
        }
        clocks
    }

    fn name_outliers(&mut self, fitted: &Fitted) {
        for channel in Channel::ALL {
            let lines: Vec<usize> = self
                .readings
                .list
                .iter()
                .zip(&self.used)
                .filter(|(r, used)| r.channel == channel && !**used)
                .map(|(r, _)| r.line)
                .collect();
            if !lines.is_empty() {
                self.remarks.push(format!(
                    "{} {} more than {OUTLIER:.0} standard deviations off: left out",
                    named(&format!("{} reading", channel.words()), &lines),
                    if lines.len() == 1 { "is" } else { "are" }
                ));
            }
        }
        if !fitted.settled {
            self.remarks.push(format!(
                "the fit had not settled after {} steps: trust it less",
                fitted.steps
            ));
        }
    }

    /// Numbers far from where the scenario expected them.
    fn misfits(&self, fitted: &Fitted) -> Vec<String> {
        let scores = self.prior.factor() * &fitted.guess.scores;
        let all = self.prior.numbers().iter().zip(scores.iter());
        let far = all.filter(|(_, score)| score.abs() > 3.5);
        far.map(|(number, score)| {
            format!(
                "{} comes out {:.1} standard deviations from where the scenario expects it: its uncertainty, or \
                 something that the scenario takes as exact, is too small",
                number.words(),
                score.abs()
            )
        })
        .collect()
    }
}

/// Standard deviation of residuals by their middle size; `None` of none.
fn spread(residuals: &[f64]) -> Option<f64> {
    let mut sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    Some(1.4826 * median(&mut sizes)?)
}

/// Correlation of residuals with the next of the same channel.
fn alike_from_row_to_row(residuals: &[f64]) -> f64 {
    let square: f64 = residuals.iter().map(|r| r * r).sum();
    let next: f64 = residuals.windows(2).map(|pair| pair[0] * pair[1]).sum();
    if square > 0.0 { next / square } else { 0.0 }
}
