//! What is asked of the Monte Carlo: probability, confidence, samples, seed.

use super::bound::Bound;
use super::message::InputError;
use super::section::Section;
use crate::numeric::units::Dimension;

/// Most samples at one aim.
const MOST_SAMPLES: u64 = 1_000_000_000;

/// Most samples of a study that keeps what each of them did: some hundred bytes each, 2 to 4 GB.
pub const MOST_KEPT: u64 = 20_000_000;

/// More samples than a study can keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "{samples} samples are more than the {MOST_KEPT} that this study takes, since it keeps what each of them did: ask \
     for fewer; `periband run` and `periband plan` take more, keeping counts alone"
)]
pub struct TooManySamples {
    /// Samples asked for.
    pub samples: u64,
}

/// The `ask` section, checked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ask {
    /// Probability with which all limits together must hold, in (0, 1). Default 0.9973.
    pub probability: f64,
    /// Confidence of every interval, in (0, 1). Default 0.95.
    pub confidence: f64,
    /// Samples flown at each aim, 1 or more. Default 4000.
    pub samples: u64,
    /// Seed of the draws. Default 1.
    pub seed: u64,
}

impl Default for Ask {
    fn default() -> Self {
        Self {
            probability: 0.9973,
            confidence: 0.95,
            samples: 4000,
            seed: 1,
        }
    }
}

impl Ask {
    /// Whether a study that keeps what each sample did takes so many.
    ///
    /// # Errors
    /// [`TooManySamples`] above [`MOST_KEPT`].
    pub fn can_be_kept(&self) -> Result<(), TooManySamples> {
        if self.samples > MOST_KEPT {
            return Err(TooManySamples {
                samples: self.samples,
            });
        }
        Ok(())
    }

    pub(super) fn decode(ask: &Section<'_>) -> Result<Self, InputError> {
        let default = Self::default();
        let share = Bound::above(0.0).below(1.0);
        Ok(Self {
            probability: ask
                .optional_quantity("probability", Dimension::Ratio, share)?
                .unwrap_or(default.probability),
            confidence: ask
                .optional_quantity("confidence", Dimension::Ratio, share)?
                .unwrap_or(default.confidence),
            samples: ask
                .optional_integer("samples", 1..=MOST_SAMPLES)
                .map_err(|error| {
                    error.with_help(format!(
                        "studies take up to {MOST_KEPT}; `periband run` and `periband plan` take more, as in \
                         --samples 1e10"
                    ))
                })?
                .unwrap_or(default.samples),
            seed: ask
                .optional_integer("seed", 0..=u64::MAX)?
                .unwrap_or(default.seed),
        })
    }
}
