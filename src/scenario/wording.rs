//! Plain words for quantities and distributions, and lines of a readable width.

use super::uncertainty::Distribution;
use crate::numeric::units::{Dimension, format_number, show_quantity};

/// Columns of a line at most.
pub(super) const COLUMNS: usize = 80;
/// Columns of the labels on the left.
const LABEL: usize = 13;

pub(super) fn in_words(distribution: Distribution, dimension: Dimension) -> String {
    let say = |si| say(si, dimension);
    match distribution {
        Distribution::Normal { mean, std_dev } => {
            format!("normal, mean {}, std dev {}", say(mean), say(std_dev))
        }
        Distribution::TruncatedNormal {
            mean,
            std_dev,
            low,
            high,
        } => {
            format!(
                "normal, mean {}, std dev {}, cut to between {} and {}",
                say(mean),
                say(std_dev),
                say(low),
                say(high)
            )
        }
        Distribution::Uniform { low, high } => {
            format!("uniform between {} and {}", say(low), say(high))
        }
        Distribution::Triangular { low, mode, high } => {
            format!(
                "triangular between {} and {}, most likely {}",
                say(low),
                say(high),
                say(mode)
            )
        }
        Distribution::LogNormal {
            median,
            log_std_dev,
        } => {
            format!(
                "lognormal, median {}, std dev of the log {}",
                say(median),
                format_number(log_std_dev)
            )
        }
    }
}

/// A quantity with a space that does not break between number and unit.
pub(super) fn say(si: f64, dimension: Dimension) -> String {
    show_quantity(si, dimension).replace(' ', "\u{a0}")
}

/// A label and its text in lines of at most [`COLUMNS`].
pub(super) fn wrap(label: &str, text: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = format!("{label:LABEL$}");
    let mut is_empty = true;
    for word in text
        .split([' ', '\n', '\t'])
        .filter(|word| !word.is_empty())
    {
        if !is_empty && line.chars().count() + 1 + word.chars().count() > COLUMNS {
            lines.push(std::mem::replace(&mut line, " ".repeat(LABEL)));
            is_empty = true;
        }
        if !is_empty {
            line.push(' ');
        }
        line.push_str(&word.replace('\u{a0}', " "));
        is_empty = false;
    }
    lines.push(line);
    lines
}
