//! What is carried to the next pass: ship and air as they are known now. The delivery of a pass is its own
//! and stays as uncertain as it was.

use super::Learned;
use super::known::{Posterior, stays};
use crate::ensemble::air::flown_dispersion;
use crate::scenario::learned::Known;
use crate::scenario::message::InputError;
use crate::scenario::uncertainty::Number;
use crate::study::Case;
use nalgebra::{DMatrix, DVector};
use std::path::Path;

/// How much of what a pass taught of the air is there at the next one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Persistence {
    /// Correlation of the air then with that of the flown pass, at the same altitude: 1 is the same air, 0 is air of
    /// which nothing was learned.
    pub share: f64,
    /// Distance in altitude over which that correlation falls to 1/e, m; `None` where it is the same at every altitude.
    pub altitude_m: Option<f64>,
}

impl Persistence {
    /// The correlation of the air after a time (s), where it forgets to 1/e in another (s).
    ///
    /// The time is the user's; the option's default, one day, is this project's choice. Densities at Mars at 110 to
    /// 125 km change by 35 % (one sigma) from one pass to the next (Tolson and others 1999), where the world file has a
    /// spread of 35 to 40 %: a correlation of about a half over the half day to two days between those passes (these
    /// from memory). Of the air about 50 km no flown series is known here.
    #[must_use]
    pub fn after(time_s: f64, forgets_s: f64) -> f64 {
        libm::exp(-time_s / forgets_s)
    }

    /// With this correlation at the altitude of the flown pass, and away from it less: over the vertical correlation
    /// length of the small-scale field, that of the scenario or of the world, or over a scale height where neither has one.
    #[must_use]
    pub fn about(case: &Case, learned: &Learned, share: f64) -> Self {
        let flown = flown_dispersion(&case.scenario.uncertainty.air_parts, &case.world).small_scale;
        let field = flown.or_else(|| case.world.dispersion().small_scale.clone());
        let length_m = field.map_or_else(
            || {
                about_the_prior(case, learned, |known| {
                    known.scale_height_m(learned.options.aim_m)
                })
            },
            |field| field.vertical_m,
        );
        Self {
            share,
            altitude_m: Some(length_m),
        }
    }
}

/// Something of what was known before the pass.
fn about_the_prior<T>(case: &Case, learned: &Learned, of: impl Fn(&Posterior<'_>) -> T) -> T {
    let zero = DVector::zeros(learned.prior.numbers().len());
    of(&Posterior {
        case,
        aim_m: learned.options.aim_m,
        prior: &learned.prior,
        scores: &zero,
        covariance: learned.prior.correlation(),
    })
}

/// What fades with the distance from the altitude of the flown pass: a covariance to be added to that of the scores.
///
/// The scenario has one error of the density for all altitudes and one of the scale height. Along the direction of the
/// two that leaves the density at the flown altitude as it is, the spread is widened until the density one length away
/// has lost what a correlation of 1/e loses there: 1 - exp(-2) of the variance that the pass took away. Nearer and farther
/// it grows with the distance in proportion. `None` where the scenario's air has not both errors.
fn fading(case: &Case, learned: &Learned, length_m: f64) -> Option<DMatrix<f64>> {
    let numbers = learned.prior.numbers();
    let place = |number| numbers.iter().position(|known| *known == number);
    let (density, tilt) = (place(Number::AirDensity)?, place(Number::AirScaleHeight)?);
    let at_m = learned.options.aim_m;
    let slopes = |at_m: f64| about_the_prior(case, learned, |known| known.ln_density_slopes(at_m));
    let (here, away) = (slopes(at_m), slopes(at_m + length_m));
    let mut only_air = DVector::zeros(numbers.len());
    (only_air[density], only_air[tilt]) = (here[density], here[tilt]);
    let variance = |covariance: &DMatrix<f64>| only_air.dot(&(covariance * &only_air));
    let taken = variance(learned.prior.correlation()) - variance(&learned.covariance);
    let mut still = DVector::zeros(numbers.len());
    (still[density], still[tilt]) = (-here[tilt] / here[density], 1.0);
    let change = away[density].mul_add(still[density], away[tilt]);
    let lost = taken.max(0.0) * (1.0 - libm::exp(-2.0));
    let size = lost / (change * change);
    size.is_finite().then(|| &still * still.transpose() * size)
}

/// Whether a number is one of the air, of which the next pass may meet another.
fn of_air(number: Number) -> bool {
    matches!(
        number,
        Number::AirDensity | Number::AirScaleHeight | Number::AirWind
    )
}

/// What is known of ship and air for the next pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Carried {
    /// The numbers.
    pub known: Vec<Known>,
    /// Correlations of their scores.
    pub correlations: Vec<(Number, Number, f64)>,
}

impl Carried {
    /// What of a fit is there at the next pass. Where an air without errors of both density and scale height cannot
    /// tell altitudes apart, the correlation is that of the aim farthest from the flown one, for all aims.
    #[must_use]
    pub fn new(case: &Case, learned: &Learned, persistence: Persistence) -> Self {
        let numbers = learned.prior.numbers();
        let kept: Vec<usize> = (0..numbers.len()).filter(|&k| stays(numbers[k])).collect();
        let (mut fading_by, mut memory) = (None, persistence.share);
        if let Some(length_m) = persistence.altitude_m {
            fading_by = fading(case, learned, length_m);
            if fading_by.is_none() {
                let range = case.problem.aim();
                let away = |aim_m: f64| (aim_m - learned.options.aim_m).abs();
                memory *= libm::exp(-away(range.from_m).max(away(range.to_m)) / length_m);
            }
        }
        let share = |k: usize| if of_air(numbers[k]) { memory } else { 1.0 };
        let fresh = |k: usize| (1.0 - share(k) * share(k)).max(0.0).sqrt();
        let covariance = |i: usize, j: usize| {
            let faded = fading_by.as_ref().map_or(0.0, |fading| fading[(i, j)]);
            share(i) * share(j) * (learned.covariance[(i, j)] + faded)
                + fresh(i) * fresh(j) * learned.prior.correlation()[(i, j)]
        };
        let means = case.scenario.uncertainty.air_parts.means;
        let (scale_height, wind) = case.problem.air_draws().spreads();
        let known = kept
            .iter()
            .map(|&k| {
                let left = covariance(k, k).sqrt();
                let score = share(k) * learned.parameters[k].score.0;
                let (middle, std_dev) = match numbers[k] {
                    Number::AirScaleHeight => (
                        means.scale_height + scale_height * score,
                        scale_height * left,
                    ),
                    Number::AirWind => (means.wind_m_s + wind * score, wind * left),
                    _ => (
                        learned.prior.value(k, score),
                        learned.prior.slope(k, score).abs() * left,
                    ),
                };
                Known {
                    number: numbers[k],
                    middle,
                    std_dev,
                    score,
                    left,
                }
            })
            .collect();
        let mut correlations = Vec::new();
        for (at, &i) in kept.iter().enumerate() {
            for &j in &kept[at + 1..] {
                let coefficient = covariance(i, j) / (covariance(i, i) * covariance(j, j)).sqrt();
                if coefficient.abs() > 1e-7 {
                    // Rounding must not make the matrix lose its definiteness.
                    correlations.push((numbers[i], numbers[j], coefficient * (1.0 - 1e-8)));
                }
            }
        }
        Self {
            known,
            correlations,
        }
    }

    /// The scenario of the next pass, below `comment`, to be kept as `path`.
    ///
    /// # Errors
    /// [`InputError`] when what was learned contradicts a bound of the scenario.
    pub fn scenario(
        &self,
        case: &Case,
        (comment, path): (&str, &Path),
    ) -> Result<String, InputError> {
        case.scenario
            .with_known(&self.known, &self.correlations, (comment, path))
    }
}
