//! How one quantity is spread in two or more ways of flying: step outlines on one axis, with what is aimed for.

use super::heading;
use super::palette::{self, INK, Mark};
use super::panel::{Axis, Band, Curve, Panel, Upright};
use super::scale::{Scale, extent};
use super::scene::Scene;
use crate::report::figure::Figure;
use crate::report::number::{count, trimmed};
use crate::report::whole;

/// The figure's data, in the unit shown.
#[derive(Debug, Clone, Default)]
pub struct Spreads {
    /// Title.
    pub title: String,
    /// What the quantity is called, such as `apoapsis altitude`.
    pub quantity: String,
    /// The unit of the values, such as `km`.
    pub unit: String,
    /// The ways of flying, the most important first.
    pub series: Vec<Spread>,
    /// What is aimed for.
    pub target: Option<f64>,
}

/// The values of one way of flying.
#[derive(Debug, Clone, Default)]
pub struct Spread {
    /// What to call it, such as `steered`.
    pub name: String,
    /// The values; what is not finite is left out.
    pub values: Vec<f64>,
}

/// Bins over the whole axis.
const BINS: usize = 120;
/// Share of the values of each way but the first that may lie beyond either end of the axis: a few flights that
/// all but escape would flatten everything else.
const BEYOND: f64 = 0.05;

impl Spread {
    /// Shares of the values in equal bins from `low` to `high`, %.
    fn shares(&self, low: f64, high: f64) -> Vec<f64> {
        let mut counts = vec![0_u64; BINS];
        let finite = || self.values.iter().filter(|v| v.is_finite());
        let width = (high - low) / whole::real(BINS);
        for value in finite().filter(|v| (low..=high).contains(*v)) {
            counts[whole::count((value - low) / width, BINS - 1)] += 1;
        }
        let total = whole::real(finite().count().max(1));
        let share = |n: &u64| 100.0 * whole::real(*n) / total;
        counts.iter().map(share).collect()
    }
}

impl Spread {
    /// The values that lie between the shares `BEYOND` and 1 - `BEYOND`.
    fn bulk(&self) -> Option<(f64, f64)> {
        let mut sorted: Vec<f64> = self
            .values
            .iter()
            .copied()
            .filter(|v| v.is_finite())
            .collect();
        sorted.sort_by(f64::total_cmp);
        let last = sorted.len().checked_sub(1)?;
        let cut = whole::count(BEYOND * whole::real(last), last);
        Some((sorted[cut], sorted[last - cut]))
    }

    /// Share of the values beyond the axis, %.
    fn beyond(&self, (low, high): (f64, f64)) -> f64 {
        100.0 - self.shares(low, high).iter().sum::<f64>()
    }
}

impl Spreads {
    /// The axis: everything of the first way, the bulk of the others, and the target.
    fn range(&self) -> (f64, f64) {
        let first = self.series.first();
        let whole = first.and_then(|s| extent(s.values.iter().copied()));
        let bulks = self.series.iter().skip(1).filter_map(Spread::bulk);
        let ends = whole
            .into_iter()
            .chain(bulks)
            .flat_map(|(low, high)| [low, high]);
        extent(ends.chain(self.target)).unwrap_or((0.0, 1.0))
    }

    fn panel(&self) -> Panel {
        let (low, high) = self.range();
        let room = if high > low { 0.0 } else { 0.5 };
        let (low, high) = (low - room, high + room);
        let shares: Vec<Vec<f64>> = self.series.iter().map(|s| s.shares(low, high)).collect();
        let highest = shares.iter().flatten().copied();
        let mut panel = Panel::new(
            Axis {
                title: format!("{}, {}", self.quantity, self.unit),
                scale: Scale::tight([low, high]).with_margins(0.03),
            },
            Axis {
                title: "share of samples in each bin, %".into(),
                scale: Scale::roomy(highest.chain([0.0]), 8),
            },
        );
        let width = (high - low) / whole::real(BINS);
        for (index, (series, shares)) in self.series.iter().zip(&shares).enumerate() {
            let mark = palette::series(index);
            let steps = shares.iter().enumerate().flat_map(|(bin, share)| {
                let from = low + whole::real(bin) * width;
                [(from, *share), (from + width, *share)]
            });
            let mut outline: Vec<(f64, f64)> = steps.collect();
            // Only the stretch with samples, with its sides drawn down.
            let first = outline.iter().position(|p| p.1 > 0.0).unwrap_or(0);
            let last = outline.iter().rposition(|p| p.1 > 0.0).unwrap_or(0);
            outline = outline[first.min(last)..(last + 1).min(outline.len())].to_vec();
            if let (Some(start), Some(end)) = (outline.first(), outline.last()) {
                let (start, end) = (start.0, end.0);
                outline.insert(0, (start, 0.0));
                outline.push((end, 0.0));
            }
            panel.bands.push(Band {
                lower: outline.iter().map(|(x, _)| (*x, 0.0)).collect(),
                upper: outline.clone(),
                name: String::new(),
                colour: mark.colour,
                opacity: 0.25,
            });
            panel.curves.push(Curve {
                points: outline,
                name: series.name.clone(),
                mark,
                width: 1.6,
                on_right: false,
            });
        }
        if let Some(target) = self.target {
            panel.uprights.push(Upright {
                at: target,
                name: format!("target {} {}", trimmed(target, 6), self.unit),
                mark: Mark::new(INK, palette::DASHED),
            });
        }
        panel
    }

    fn note(&self) -> String {
        let words = self.series.iter().map(|series| {
            let number = u64::try_from(series.values.len()).unwrap_or(u64::MAX);
            let beyond = if number == 0 {
                0.0
            } else {
                series.beyond(self.range())
            };
            let beyond = if beyond > 0.05 {
                format!(", {} % of them beyond the axis", trimmed(beyond, 2))
            } else {
                String::new()
            };
            format!("{}: {} samples{beyond}", series.name, count(number))
        });
        words.collect::<Vec<_>>().join("; ")
    }
}

impl Figure for Spreads {
    fn scene(&self) -> Scene {
        let (mut scene, region) = heading::titled(420.0, &self.title, &self.note());
        let panel = self.panel();
        panel.draw(&mut scene, region, panel.gutter());
        scene
    }

    fn describe(&self) -> String {
        let ranges = self.series.iter().filter_map(|series| {
            let (low, high) = extent(series.values.iter().copied())?;
            Some(format!(
                "{} from {} to {} {}",
                series.name,
                trimmed(low, 4),
                trimmed(high, 4),
                self.unit
            ))
        });
        format!(
            "How {} is spread: {}.",
            self.quantity,
            ranges.collect::<Vec<_>>().join("; ")
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_of_each_way_by_itself_and_nothing_makes_no_figure_fail() {
        let spread = |values: Vec<f64>| Spread {
            name: "x".into(),
            values,
        };
        let narrow = spread(vec![1.0, 1.0, 2.0, f64::NAN]);
        let shares = narrow.shares(0.0, 4.0);
        assert!((shares.iter().sum::<f64>() - 100.0).abs() < 1e-9);
        let far = spread((0..100).map(|i| if i < 97 { 3.0 } else { 1e6 }).collect());
        assert_eq!(far.bulk(), Some((3.0, 3.0)));
        assert!((far.beyond((1.0, 3.0)) - 3.0).abs() < 1e-9);
        let figure = Spreads {
            series: vec![narrow, spread(Vec::new())],
            ..Spreads::default()
        };
        assert_eq!(figure.panel().curves.len(), 2);
        assert_eq!(Spreads::default().panel().curves.len(), 0);
    }
}
