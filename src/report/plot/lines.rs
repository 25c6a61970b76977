//! Several series over one axis, with units, levels, marked places and shaded spans:
//! the figure for whatever has no figure of its own.

use super::heading;
use super::palette::{self, Colour, GREEN, INK, MUTED, Mark};
use super::panel::{Axis, Band, Curve, Dots, Panel, Spot, Stretch, Upright};
use super::scale::Scale;
use super::scene::Scene;
use crate::report::figure::Figure;
use crate::report::number::trimmed;

/// The figure's data, in the units shown.
#[derive(Debug, Clone, Default)]
pub struct Lines {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// Title of the horizontal axis, with its unit: `aim periapsis altitude, km`.
    pub x_title: String,
    /// Title of the upright axis, with its unit.
    pub y_title: String,
    /// Whether the upright axis is logarithmic; values that are not positive are then left out.
    pub logarithmic: bool,
    /// Whether the upright axis is one of probabilities: by their logarithms, with a row for zero.
    pub probability: bool,
    /// The series.
    pub series: Vec<Series>,
    /// Levels of the upright axis to mark, such as a limit: name and value.
    pub levels: Vec<(String, f64)>,
    /// Places of the horizontal axis to mark: name and value.
    pub places: Vec<(String, f64)>,
    /// Stretches of the horizontal axis to shade: name, from, to.
    pub spans: Vec<(String, f64, f64)>,
    /// Points to mark: name, and place on both axes.
    pub points: Vec<(String, f64, f64)>,
    /// Many small points without a name; the note says what they are.
    pub dots: Vec<(f64, f64)>,
    /// Areas between two curves, drawn below everything else.
    pub areas: Vec<Area>,
}

/// An area of a [`Lines`] figure.
#[derive(Debug, Clone, Default)]
pub struct Area {
    /// What to call it.
    pub name: String,
    /// Its lower edge.
    pub low: Vec<(f64, f64)>,
    /// Its upper edge, at the same places.
    pub high: Vec<(f64, f64)>,
    /// Whether it stands back behind the others.
    pub muted: bool,
}

/// One curve of a [`Lines`] figure.
#[derive(Debug, Clone, Default)]
pub struct Series {
    /// What to call it.
    pub name: String,
    /// Its points. A value that is not finite breaks the curve.
    pub points: Vec<(f64, f64)>,
    /// The key of the limit it stands for, which sets its colour; empty if it stands for none.
    pub limit_key: String,
}

impl Lines {
    pub(super) fn panel(&self) -> Panel {
        let edges = || {
            self.areas
                .iter()
                .flat_map(|area| area.low.iter().chain(&area.high))
        };
        let points = || {
            let curves = self.series.iter().flat_map(|series| &series.points);
            curves.chain(&self.dots).chain(edges())
        };
        let across = points()
            .map(|p| p.0)
            .chain(self.places.iter().map(|place| place.1))
            .chain(self.points.iter().map(|point| point.1))
            .chain(self.spans.iter().flat_map(|span| [span.1, span.2]));
        let up = points()
            .map(|p| p.1)
            .chain(self.levels.iter().map(|level| level.1))
            .chain(self.points.iter().map(|point| point.2));
        let x = Axis {
            title: self.x_title.clone(),
            scale: Scale::tight(across),
        };
        let y = Axis {
            title: self.y_title.clone(),
            scale: if self.probability {
                Scale::probability(up)
            } else if self.logarithmic {
                Scale::log(up).with_margins(0.03)
            } else {
                Scale::roomy(up, 8)
            },
        };
        let mut panel = Panel::new(x, y);
        panel.bands.extend(self.areas.iter().map(|area| Band {
            lower: area.low.clone(),
            upper: area.high.clone(),
            name: area.name.clone(),
            colour: if area.muted { MUTED } else { GREEN },
            opacity: 0.22,
        }));
        panel.dots.push(Dots {
            points: self.dots.clone(),
            colour: INK,
            below: false,
        });
        for (i, series) in self.series.iter().enumerate() {
            let mark = if series.limit_key.is_empty() {
                palette::series(i)
            } else {
                palette::limit(&series.limit_key)
            };
            panel.curves.push(Curve {
                points: series.points.clone(),
                name: series.name.clone(),
                mark,
                width: 2.0,
                on_right: false,
            });
        }
        if let Scale::Linear { low, high } = panel.x.scale {
            for (name, value) in &self.levels {
                panel.curves.push(Curve {
                    points: vec![(low, *value), (high, *value)],
                    name: name.clone(),
                    mark: palette::LIMIT_LINE,
                    width: 1.3,
                    on_right: false,
                });
            }
        }
        panel
            .uprights
            .extend(self.places.iter().map(|(name, at)| Upright {
                at: *at,
                name: name.clone(),
                mark: Mark::new(INK, palette::DOTTED),
            }));
        panel
            .stretches
            .extend(self.spans.iter().map(|(name, from, to)| Stretch {
                from: *from,
                to: *to,
                name: name.clone(),
                colour: GREEN,
            }));
        panel
            .spots
            .extend(self.points.iter().map(|(name, x, y)| Spot {
                at: (*x, *y),
                name: name.clone(),
                colour: Colour(INK.0, INK.1, INK.2),
            }));
        panel
    }
}

impl Figure for Lines {
    fn scene(&self) -> Scene {
        let (mut scene, region) = heading::titled(480.0, &self.title, &self.note);
        let panel = self.panel();
        panel.draw(&mut scene, region, panel.gutter());
        scene
    }

    fn describe(&self) -> String {
        let names: Vec<&str> = self
            .series
            .iter()
            .map(|series| series.name.as_str())
            .collect();
        let mut parts = vec![format!(
            "{}: {} against {}",
            self.title, self.y_title, self.x_title
        )];
        if !names.is_empty() {
            parts.push(format!("series: {}", names.join(", ")));
        }
        let marked = self.levels.iter().chain(&self.places);
        parts.extend(marked.map(|(name, value)| format!("{name} at {}", trimmed(*value, 5))));
        parts.join("; ") + "."
    }
}
