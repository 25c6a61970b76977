//! An uncertainty with one of its parts made narrower, all others as they are.

use super::uncertainty::{AirDensity, AirPart, AirParts, Distribution, Number, Uncertainty};

impl Distribution {
    /// The same distribution with its spread times `factor` (above 0), about its centre: the mean of a
    /// normal (cut or not), the middle of a uniform, the mode of a triangular, the median of a lognormal.
    #[must_use]
    pub fn with_spread_times(self, factor: f64) -> Self {
        let about = |centre: f64, value: f64| centre + factor * (value - centre);
        match self {
            Self::Normal { mean, std_dev } => Self::Normal {
                mean,
                std_dev: factor * std_dev,
            },
            Self::TruncatedNormal {
                mean,
                std_dev,
                low,
                high,
            } => Self::TruncatedNormal {
                mean,
                std_dev: factor * std_dev,
                low: about(mean, low),
                high: about(mean, high),
            },
            Self::Uniform { low, high } => {
                let middle = f64::midpoint(low, high);
                Self::Uniform {
                    low: about(middle, low),
                    high: about(middle, high),
                }
            }
            Self::Triangular { low, mode, high } => Self::Triangular {
                low: about(mode, low),
                mode,
                high: about(mode, high),
            },
            Self::LogNormal {
                median,
                log_std_dev,
            } => Self::LogNormal {
                median,
                log_std_dev: factor * log_std_dev,
            },
        }
    }
}

impl<T> AirPart<T> {
    fn with_spread_times(self, factor: f64, own: impl FnOnce(T) -> T) -> Self {
        match self {
            Self::World { factor: before } => Self::World {
                factor: factor * before,
            },
            Self::Exact => Self::Exact,
            Self::Own(spread) => Self::Own(own(spread)),
        }
    }
}

impl Uncertainty {
    /// The same with the spread of one number times `factor` (above 0); one that is not uncertain stays so.
    #[must_use]
    pub fn with_spread_times(&self, number: Number, factor: f64) -> Self {
        let mut narrowed = self.clone();
        let parts = &mut narrowed.air_parts;
        match number {
            Number::AirDensity => {
                narrowed.air_density = match self.air_density {
                    AirDensity::World { factor: before } => AirDensity::World {
                        factor: factor * before,
                    },
                    AirDensity::Exact => AirDensity::Exact,
                    AirDensity::LogFactor(distribution) => {
                        AirDensity::LogFactor(distribution.with_spread_times(factor))
                    }
                };
            }
            Number::AirScaleHeight => {
                let own = |sigma| factor * sigma;
                parts.scale_height = parts.scale_height.with_spread_times(factor, own);
            }
            Number::AirWind => {
                parts.wind = parts.wind.with_spread_times(factor, |sigma| factor * sigma);
            }
            _ => {
                for uncertain in &mut narrowed.numbers {
                    if uncertain.number == number {
                        uncertain.distribution = uncertain.distribution.with_spread_times(factor);
                    }
                }
            }
        }
        narrowed
    }

    /// The same with the one-sigma of the small-scale field times `factor` (above 0).
    #[must_use]
    pub fn with_small_scale_times(&self, factor: f64) -> Self {
        let mut narrowed = self.clone();
        let AirParts { small_scale, .. } = &mut narrowed.air_parts;
        *small_scale = small_scale.with_spread_times(factor, |mut field| {
            field.sigma *= factor;
            field
        });
        narrowed
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_distribution_keeps_its_centre() {
        let triangular = Distribution::Triangular {
            low: 1.0,
            mode: 2.0,
            high: 6.0,
        };
        for (wide, narrow) in [
            (
                Distribution::Uniform {
                    low: 2.0,
                    high: 6.0,
                },
                Distribution::Uniform {
                    low: 3.0,
                    high: 5.0,
                },
            ),
            (
                triangular,
                Distribution::Triangular {
                    low: 1.5,
                    mode: 2.0,
                    high: 4.0,
                },
            ),
            (
                Distribution::TruncatedNormal {
                    mean: 10.0,
                    std_dev: 2.0,
                    low: 6.0,
                    high: 12.0,
                },
                Distribution::TruncatedNormal {
                    mean: 10.0,
                    std_dev: 1.0,
                    low: 8.0,
                    high: 11.0,
                },
            ),
        ] {
            assert_eq!(wide.with_spread_times(0.5), narrow);
            let ratio = narrow.std_dev() / wide.std_dev();
            assert!((ratio - 0.5).abs() < 1e-15, "{ratio}");
        }
    }

    #[test]
    fn one_part_is_narrowed_and_the_others_stay() {
        let uncertainty = Uncertainty::default();
        let narrowed = uncertainty.with_spread_times(Number::AirWind, 0.5);
        assert_eq!(narrowed.air_parts.wind, AirPart::World { factor: 0.5 });
        assert_eq!(narrowed.air_density, uncertainty.air_density);
        assert_eq!(
            narrowed.air_parts.small_scale,
            uncertainty.air_parts.small_scale
        );
        let still = uncertainty.with_small_scale_times(0.5);
        assert_eq!(still.air_parts.small_scale, AirPart::World { factor: 0.5 });
        assert_eq!(still.air_parts.wind, uncertainty.air_parts.wind);
    }
}
