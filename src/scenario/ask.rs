//! What is asked of the Monte Carlo: probability, confidence, samples, seed.

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
