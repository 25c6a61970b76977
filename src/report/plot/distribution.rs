//! How a quantity is spread over the samples: a histogram, the cumulative share on a second axis,
//! the limit and the quantiles marked.

use super::heading;
use super::palette::{self, BLUE, INK, MUTED, Mark, SOLID, VERMILLION};
use super::panel::{Axis, Band, Curve, Panel, Stretch, Upright};
use super::scale::{Scale, extent};
use super::scene::Scene;
use crate::report::figure::Figure;
use crate::report::number::{count, trimmed};
use crate::report::whole;

/// The figure's data, in the unit shown.
#[derive(Debug, Clone, Default)]
pub struct Distribution {
    /// Title.
    pub title: String,
    /// What the quantity is called, such as `peak deceleration`.
    pub quantity: String,
    /// The unit of the values, such as `g`.
    pub unit: String,
    /// Edges of the bins, rising: one more than there are bins.
    pub edges: Vec<f64>,
    /// Samples in each bin.
    pub counts: Vec<u64>,
    /// The limit, if there is one.
    pub limit: Option<LimitMark>,
    /// Quantiles to mark: a name such as `p99.865`, and the value.
    pub quantiles: Vec<(String, f64)>,
}

/// A limit on the quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitMark {
    /// The limit's key in a scenario, such as `heat_flux`; it sets the colour.
    pub key: String,
    /// The limit, in the unit shown.
    pub value: f64,
    /// Whether values below the limit break it (a lowest altitude) rather than values above it.
    pub from_below: bool,
}

impl Distribution {
    /// Sorts values into `bins` bins of one width between the smallest and the largest; values that are not finite are left out.
    #[must_use]
    pub fn of_values(values: &[f64], bins: usize) -> Self {
        let Some((low, high)) = extent(values.iter().copied()) else {
            return Self::default();
        };
        let room = if high > low {
            0.0
        } else {
            0.5_f64.max(1e-3 * low.abs())
        };
        let (low, high) = (low - room, high + room);
        let bins = bins.max(1);
        let width = (high - low) / whole::real(bins);
        let mut counts = vec![0; bins];
        for value in values.iter().filter(|v| v.is_finite()) {
            counts[whole::count((value - low) / width, bins - 1)] += 1;
        }
        Self {
            edges: (0..=bins).map(|i| low + whole::real(i) * width).collect(),
            counts,
            ..Self::default()
        }
    }

    fn total(&self) -> u64 {
        self.counts.iter().sum()
    }

    /// The limit, unless it is so far from the values that showing it would hide how they are spread.
    fn limit_in_view(&self) -> Option<&LimitMark> {
        let (low, high) = extent(self.edges.iter().copied())?;
        let room = 1.5 * (high - low);
        let near = |limit: &&LimitMark| (low - room..=high + room).contains(&limit.value);
        self.limit.as_ref().filter(near)
    }

    fn note(&self) -> String {
        if self.total() == 0 {
            return String::new();
        }
        let samples = format!("{} samples", count(self.total()));
        match &self.limit {
            Some(limit) if self.limit_in_view().is_none() => {
                format!(
                    "{samples}; the limit, {}, is beyond the axis",
                    self.with_unit(limit.value)
                )
            }
            _ => samples,
        }
    }

    fn with_unit(&self, value: f64) -> String {
        format!("{} {}", trimmed(value, 4), self.unit)
            .trim_end()
            .into()
    }

    fn panel(&self) -> Panel {
        let total_known = self.total() > 0;
        let total = whole::real(self.total().max(1));
        let shares: Vec<f64> = self
            .counts
            .iter()
            .map(|n| 100.0 * whole::real(*n) / total)
            .collect();
        let marked = self.quantiles.iter().map(|(_, value)| *value);
        let limit = self.limit_in_view().map(|limit| limit.value);
        let values = self.edges.iter().copied().chain(marked).chain(limit);
        let x = Scale::tight(values).with_margins(0.03);
        let mut panel = Panel::new(
            Axis {
                title: if self.unit.is_empty() {
                    self.quantity.clone()
                } else {
                    format!("{}, {}", self.quantity, self.unit)
                },
                scale: x,
            },
            Axis {
                title: "share of samples in each bin, %".into(),
                scale: Scale::roomy(shares.iter().copied().chain([0.0]), 8),
            },
        );
        panel.right = Some(Axis {
            title: "cumulative, %".into(),
            scale: Scale::Linear {
                low: 0.0,
                high: 104.0,
            },
        });
        let bins = self.edges.windows(2).zip(&shares);
        let steps: Vec<(f64, f64)> = bins
            .flat_map(|(e, share)| [(e[0], *share), (e[1], *share)])
            .collect();
        panel.bands.push(Band {
            lower: steps.iter().map(|(x, _)| (*x, 0.0)).collect(),
            upper: steps.clone(),
            name: String::new(),
            colour: BLUE,
            opacity: 0.3,
        });
        panel.curves.push(Curve {
            points: steps,
            name: String::new(),
            mark: Mark::new(BLUE, SOLID),
            width: 1.0,
            on_right: false,
        });
        let mut sum = 0.0;
        let running = self.edges.iter().skip(1).zip(&shares).map(|(edge, share)| {
            sum += share;
            (*edge, sum)
        });
        let end = match x {
            Scale::Linear { high, .. } if total_known => Some((high, 100.0)),
            _ => None,
        };
        panel.curves.push(Curve {
            points: self
                .edges
                .first()
                .map(|e| (*e, 0.0))
                .into_iter()
                .chain(running)
                .chain(end)
                .collect(),
            name: "cumulative (right axis)".into(),
            mark: Mark::new(INK, SOLID),
            width: 1.8,
            on_right: true,
        });
        self.mark(&mut panel);
        panel
    }

    fn mark(&self, panel: &mut Panel) {
        for (name, value) in &self.quantiles {
            panel.uprights.push(Upright {
                at: *value,
                name: format!("{name}: {}", self.with_unit(*value)),
                mark: Mark::new(MUTED, palette::DASHED),
            });
        }
        if let Some(limit) = self.limit_in_view() {
            panel.uprights.push(Upright {
                at: limit.value,
                name: format!("limit {}", self.with_unit(limit.value)),
                mark: Mark::new(palette::limit(&limit.key).colour, SOLID),
            });
            if let Scale::Linear { low, high } = panel.x.scale {
                panel.stretches.push(Stretch {
                    from: if limit.from_below { low } else { limit.value },
                    to: if limit.from_below { limit.value } else { high },
                    name: String::new(),
                    colour: VERMILLION,
                });
            }
        }
    }
}

impl Figure for Distribution {
    fn scene(&self) -> Scene {
        let (mut scene, region) = heading::titled(470.0, &self.title, &self.note());
        let panel = self.panel();
        panel.draw(&mut scene, region, panel.gutter());
        scene
    }

    fn describe(&self) -> String {
        let marks: Vec<String> = self
            .quantiles
            .iter()
            .map(|(name, value)| format!("{name} {}", self.with_unit(*value)))
            .chain(
                self.limit
                    .iter()
                    .map(|limit| format!("limit {}", self.with_unit(limit.value))),
            )
            .collect();
        let marks = if marks.is_empty() {
            String::new()
        } else {
            format!("; marked: {}", marks.join(", "))
        };
        format!(
            "Histogram and cumulative share of {} over {} samples{marks}.",
            self.quantity,
            count(self.total())
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_finite_value_falls_into_a_bin() {
        let values = [0.0, 0.1, 0.5, 1.0, f64::NAN, f64::INFINITY];
        let spread = Distribution::of_values(&values, 4);
        assert_eq!(spread.edges, [0.0, 0.25, 0.5, 0.75, 1.0]);
        assert_eq!(spread.counts, [2, 0, 1, 1]);
    }

    #[test]
    fn equal_values_and_no_values_still_bin() {
        let equal = Distribution::of_values(&[3.0; 7], 5);
        assert_eq!(equal.total(), 7);
        assert!(equal.edges[0] < 3.0 && equal.edges[5] > 3.0);
        assert_eq!(Distribution::of_values(&[f64::NAN], 5).total(), 0);
    }
}
