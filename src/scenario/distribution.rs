//! Reads the distribution of one uncertain number. Which numbers may be uncertain, and which
//! of them move together, is left to others.

use super::bound::Bound;
use super::likeness::closest;
use super::message::InputError;
use super::section::{Node, Section};
use super::uncertainty::Distribution;
use super::value::Value;
use crate::numeric::units::{Dimension, format_quantity};

const KINDS: [&str; 5] = [
    "normal",
    "truncated_normal",
    "uniform",
    "triangular",
    "lognormal",
];

/// Standard normal quantile at 1 - 1e-9, rounded up (5.997807015, computed with the `NormalDist`
/// of the Python standard library).
const FAR_QUANTILE: f64 = 5.997_808;

/// What a distribution is about.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spread {
    pub(super) dimension: Dimension,
    /// Where the distribution is centred unless it says otherwise: 0 for an error.
    pub(super) centre: f64,
    /// Range in which every drawn value must lie.
    pub(super) bound: Bound,
    /// Whether it is an error, of which a share in per cent means nothing.
    pub(super) is_error: bool,
}

impl Spread {
    /// An error around 0 of a number of this dimension.
    pub(super) fn of_error(dimension: Dimension, largest: f64) -> Self {
        Self {
            dimension,
            centre: 0.0,
            bound: Bound::between(-largest, largest),
            is_error: true,
        }
    }

    /// Reads `{normal: {std_dev: 2 km}}` and the like.
    pub(super) fn decode(&self, node: &Node<'_>) -> Result<Distribution, InputError> {
        let (kind, body) = one_kind(node)?;
        let distribution = match kind {
            "normal" => {
                let (mean, std_dev) = self.mean_and_std_dev(&body)?;
                Distribution::Normal { mean, std_dev }
            }
            "truncated_normal" => self.truncated_normal(&body)?,
            "uniform" => {
                let (low, high) = self.low_and_high(&body)?;
                Distribution::Uniform { low, high }
            }
            "triangular" => {
                let (low, high) = self.low_and_high(&body)?;
                let mode = self.location(&body, "mode")?.unwrap_or(self.centre);
                within(&body, "mode", mode, (low, high))?;
                Distribution::Triangular { low, mode, high }
            }
            _ => self.log_normal(&body)?,
        };
        body.finish()?;
        self.check_span(node, distribution)?;
        Ok(distribution)
    }

    fn mean_and_std_dev(&self, body: &Section<'_>) -> Result<(f64, f64), InputError> {
        let mean = self.location(body, "mean")?.unwrap_or(self.centre);
        let expected = format!(
            "{} in {}, or a share in %",
            self.dimension,
            self.dimension.accepted()
        );
        let node = body.required("std_dev", &expected)?;
        let std_dev = match self.share(&node)? {
            Some(share) => share * mean.abs(),
            None => node.quantity(self.dimension, Bound::ANY)?,
        };
        if std_dev > 0.0 {
            return Ok((mean, std_dev));
        }
        let help = "leave the number out of `uncertainty` if it is exact";
        Err(node
            .error("the standard deviation must be above 0")
            .with_help(help))
    }

    fn truncated_normal(&self, body: &Section<'_>) -> Result<Distribution, InputError> {
        let (mean, std_dev) = self.mean_and_std_dev(body)?;
        let Some(node) = body.optional("within") else {
            let (low, high) = self.low_and_high(body)?;
            within(body, "mean", mean, (low, high))?;
            return Ok(Distribution::TruncatedNormal {
                mean,
                std_dev,
                low,
                high,
            });
        };
        if let Some(beside) = ["low", "high"].iter().find_map(|key| body.optional(key)) {
            let message = format!("`{}` stands beside `within`", beside.name());
            return Err(beside
                .error_at_key(message)
                .with_help("cut at multiples of std_dev, or at `low` and `high`"));
        }
        let reach = std_dev * node.quantity(Dimension::Dimensionless, Bound::between(0.1, 10.0))?;
        Ok(Distribution::TruncatedNormal {
            mean,
            std_dev,
            low: mean - reach,
            high: mean + reach,
        })
    }

    fn log_normal(&self, body: &Section<'_>) -> Result<Distribution, InputError> {
        if self.is_error {
            let help = "an error lies on both sides of 0: take `normal`";
            return Err(body.error("an error cannot be lognormal").with_help(help));
        }
        let median = self.location(body, "median")?.unwrap_or(self.centre);
        if median <= 0.0 {
            let help = "a lognormal number is above 0: give its `median`";
            return Err(body
                .error_at("median", "the median must be above 0")
                .with_help(help));
        }
        let log_std_dev = body.quantity(
            "log_std_dev",
            Dimension::Dimensionless,
            Bound::above(0.0).at_most(3.0),
        )?;
        Ok(Distribution::LogNormal {
            median,
            log_std_dev,
        })
    }

    fn low_and_high(&self, body: &Section<'_>) -> Result<(f64, f64), InputError> {
        let end = |key: &str| match self.location(body, key)? {
            Some(value) => Ok(value),
            None => body.quantity(key, self.dimension, Bound::ANY),
        };
        let (low, high) = (end("low")?, end("high")?);
        if low < high {
            return Ok((low, high));
        }
        Err(body.error_at("high", "`high` is not above `low`"))
    }

    /// A value of the number itself, or a share of the scenario's own value.
    fn location(&self, body: &Section<'_>, key: &str) -> Result<Option<f64>, InputError> {
        let Some(node) = body.optional(key) else {
            return Ok(None);
        };
        match self.share(&node)? {
            Some(share) => Ok(Some(share * self.centre)),
            None => node.quantity(self.dimension, Bound::ANY).map(Some),
        }
    }

    /// A share, if the value is written in per cent.
    fn share(&self, node: &Node<'_>) -> Result<Option<f64>, InputError> {
        match node.value() {
            Value::Text(text) if text.trim_end().ends_with('%') => {}
            _ => return Ok(None),
        }
        // An error that is itself a share is written in %, and means just that.
        if self.is_error && self.dimension == Dimension::Ratio {
            return Ok(None);
        }
        if self.is_error {
            let message = format!(
                "`{}` is an error and cannot be a share of itself",
                node.dotted()
            );
            return Err(node
                .error(message)
                .with_help(format!("write it in {}", self.dimension.accepted())));
        }
        if self.centre == 0.0 {
            let help = "a share of 0 is 0: write it with its unit";
            return Err(node.error("the scenario's own value is 0").with_help(help));
        }
        node.quantity(Dimension::Ratio, Bound::between(-100.0, 100.0))
            .map(Some)
    }

    fn check_span(&self, node: &Node<'_>, distribution: Distribution) -> Result<(), InputError> {
        let (low, high) = distribution.span();
        let out = if !self.bound.holds(low) {
            low
        } else if !self.bound.holds(high) {
            high
        } else {
            return Ok(());
        };
        let message = format!(
            "draws of `{}` reach {}, but it must be {}",
            node.name(),
            format_quantity(out, self.dimension),
            self.bound.in_words(self.dimension)
        );
        let help = match distribution {
            Distribution::Normal { .. } if self.is_error => {
                "take a smaller std_dev, or cut it with `truncated_normal`"
            }
            Distribution::Normal { .. } => {
                "cut it with `truncated_normal`, or take `lognormal`, which stays above 0"
            }
            Distribution::TruncatedNormal { .. } => {
                "cut it closer: a smaller `within`, or other `low` and `high`"
            }
            Distribution::LogNormal { .. } => "take a smaller log_std_dev",
            Distribution::Uniform { .. } | Distribution::Triangular { .. } => {
                "move `low` or `high`"
            }
        };
        Err(node.error_at_key(message).with_help(help))
    }
}

/// The one entry of a distribution: its kind and its parameters.
fn one_kind<'d>(node: &Node<'d>) -> Result<(&'d str, Section<'d>), InputError> {
    let example = "write `{normal: {std_dev: ...}}`, or another of truncated_normal, uniform, triangular and lognormal";
    if !matches!(node.value(), Value::Map(_)) {
        return Err(node
            .error(format!("`{}` must be a distribution", node.dotted()))
            .with_help(example));
    }
    let entries = node.section()?.entries();
    let Some((kind, body)) = entries.first() else {
        return Err(node
            .error_at_key(format!("`{}` has no distribution", node.dotted()))
            .with_help(example));
    };
    if !KINDS.contains(kind) {
        let help = closest(kind, KINDS).map_or_else(
            || format!("known: {}", KINDS.join(", ")),
            |meant| format!("did you mean `{meant}`?"),
        );
        return Err(body
            .error_at_key(format!("unknown distribution `{kind}`"))
            .with_help(help));
    }
    if let Some((second, node)) = entries.get(1) {
        let message = format!("`{second}` stands beside `{kind}`: a number has one distribution");
        return Err(node.error_at_key(message));
    }
    Ok((kind, body.section()?))
}

fn within(
    body: &Section<'_>,
    key: &str,
    value: f64,
    (low, high): (f64, f64),
) -> Result<(), InputError> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(body.error_at(key, format!("the {key} is not between `low` and `high`")))
}

impl Distribution {
    /// The range from the 1e-9 quantile to the 1 - 1e-9 quantile, or a little more.
    #[must_use]
    pub fn span(&self) -> (f64, f64) {
        match *self {
            Self::Normal { mean, std_dev } => {
                (mean - FAR_QUANTILE * std_dev, mean + FAR_QUANTILE * std_dev)
            }
            Self::TruncatedNormal { low, high, .. }
            | Self::Uniform { low, high }
            | Self::Triangular { low, high, .. } => (low, high),
            Self::LogNormal {
                median,
                log_std_dev,
            } => {
                let factor = (FAR_QUANTILE * log_std_dev).exp();
                (median / factor, median * factor)
            }
        }
    }
}
