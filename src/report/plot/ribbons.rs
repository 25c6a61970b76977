//! A quantity along an axis over many samples: the median, the ribbons between pairs of quantiles, and limits.

use super::heading;
use super::palette::{self, BLUE, Mark, SOLID};
use super::panel::{Axis, Band, Curve, Panel};
use super::scale::Scale;
use super::scene::Scene;
use crate::report::figure::Figure;
use crate::report::number::trimmed;
use crate::report::whole;

/// The figure's data, in the units shown. Lists run along [`x`](Self::x).
#[derive(Debug, Clone, Default)]
pub struct Ribbons {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// Title of the horizontal axis, with its unit: `time from entry interface, s`.
    pub x_title: String,
    /// Title of the upright axis, with its unit.
    pub y_title: String,
    /// Values of the horizontal axis.
    pub x: Vec<f64>,
    /// The median at each of them.
    pub median: Vec<f64>,
    /// Ribbons about it, in any order: the wider is drawn below the narrower.
    pub ribbons: Vec<Ribbon>,
    /// Limits to mark: the limit's key (which sets the colour), a name, and the value.
    pub limits: Vec<(String, String, f64)>,
}

/// The stretch between two quantiles.
#[derive(Debug, Clone, Default)]
pub struct Ribbon {
    /// What to call it, such as `0.135 % to 99.865 %`.
    pub name: String,
    /// The lower quantile at each value of the axis.
    pub low: Vec<f64>,
    /// The upper quantile.
    pub high: Vec<f64>,
}

impl Ribbon {
    /// The area it covers, up to a factor.
    fn breadth(&self) -> f64 {
        let widths = self
            .high
            .iter()
            .zip(&self.low)
            .map(|(high, low)| high - low);
        widths.filter(|width| width.is_finite()).sum()
    }
}

impl Ribbons {
    /// The ribbons, the widest first.
    fn by_width(&self) -> Vec<&Ribbon> {
        let mut ribbons: Vec<&Ribbon> = self.ribbons.iter().collect();
        ribbons.sort_by(|a, b| b.breadth().total_cmp(&a.breadth()));
        ribbons
    }

    pub(super) fn panel(&self) -> Panel {
        let sides = self
            .ribbons
            .iter()
            .flat_map(|ribbon| ribbon.low.iter().chain(&ribbon.high));
        let up = sides.chain(&self.median).copied();
        let limits = self.limits.iter().map(|limit| limit.2);
        let mut panel = Panel::new(
            Axis {
                title: self.x_title.clone(),
                scale: Scale::tight(self.x.iter().copied()),
            },
            Axis {
                title: self.y_title.clone(),
                scale: Scale::roomy(up.chain(limits), 8),
            },
        );
        let along = |values: &[f64]| self.x.iter().copied().zip(values.iter().copied()).collect();
        for (i, ribbon) in self.by_width().into_iter().enumerate() {
            panel.bands.push(Band {
                lower: along(&ribbon.low),
                upper: along(&ribbon.high),
                name: ribbon.name.clone(),
                colour: BLUE,
                opacity: (0.16 + 0.12 * whole::real(i)).min(0.5),
            });
        }
        panel.curves.push(Curve {
            points: along(&self.median),
            name: "median".into(),
            mark: Mark::new(BLUE, SOLID),
            width: 2.2,
            on_right: false,
        });
        if let Scale::Linear { low, high } = panel.x.scale {
            for (key, name, value) in &self.limits {
                panel.curves.push(Curve {
                    points: vec![(low, *value), (high, *value)],
                    name: name.clone(),
                    mark: Mark::new(palette::limit(key).colour, palette::LONG_DASHED),
                    width: 1.5,
                    on_right: false,
                });
            }
        }
        panel
    }
}

impl Figure for Ribbons {
    fn scene(&self) -> Scene {
        let (mut scene, region) = heading::titled(450.0, &self.title, &self.note);
        let panel = self.panel();
        panel.draw(&mut scene, region, panel.gutter());
        scene
    }

    fn describe(&self) -> String {
        let names: Vec<&str> = self
            .ribbons
            .iter()
            .map(|ribbon| ribbon.name.as_str())
            .collect();
        let mut parts = vec![format!(
            "Median of {} against {}",
            self.y_title, self.x_title
        )];
        if !names.is_empty() {
            parts.push(format!("ribbons: {}", names.join(", ")));
        }
        let limits = self.limits.iter();
        parts.extend(limits.map(|(_, name, value)| {
            if name.contains(char::is_numeric) {
                name.clone()
            } else {
                format!("{name} at {}", trimmed(*value, 4))
            }
        }));
        parts.join("; ") + "."
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wider_ribbon_is_drawn_first_whatever_the_order() {
        let ribbon = |name: &str, half: f64| Ribbon {
            name: name.into(),
            low: vec![-half; 3],
            high: vec![half; 3],
        };
        let figure = Ribbons {
            x: vec![0.0, 1.0, 2.0],
            ribbons: vec![ribbon("narrow", 1.0), ribbon("wide", 3.0)],
            ..Ribbons::default()
        };
        let names: Vec<String> = figure.panel().bands.into_iter().map(|b| b.name).collect();
        assert_eq!(names, ["wide", "narrow"]);
    }
}
