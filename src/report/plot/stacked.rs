//! Figures over the same horizontal axis, one above the other.

use super::heading;
use super::lines::Lines;
use super::panel::Panel;
use super::ribbons::Ribbons;
use super::scale::{Scale, extent};
use super::scene::{Area, Scene};
use crate::report::figure::Figure;
use crate::report::whole;

/// Several parts over one axis. The parts' own titles and notes are not shown.
#[derive(Debug, Clone, Default)]
pub struct Stacked {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// The parts from the top down; the lowest carries the texts of the axis.
    pub parts: Vec<Part>,
}

/// One part.
#[derive(Debug, Clone)]
pub enum Part {
    /// Median and ribbons.
    Ribbons(Ribbons),
    /// Curves, points and areas.
    Lines(Lines),
}

/// Height of a part, in picture points.
const HEIGHT: f64 = 225.0;

impl Part {
    fn panel(&self) -> Panel {
        match self {
            Self::Ribbons(ribbons) => ribbons.panel(),
            Self::Lines(lines) => lines.panel(),
        }
    }

    fn y_title(&self) -> &str {
        match self {
            Self::Ribbons(ribbons) => &ribbons.y_title,
            Self::Lines(lines) => &lines.y_title,
        }
    }

    fn x_title(&self) -> &str {
        match self {
            Self::Ribbons(ribbons) => &ribbons.x_title,
            Self::Lines(lines) => &lines.x_title,
        }
    }
}

impl Figure for Stacked {
    fn scene(&self) -> Scene {
        let height = 90.0 + HEIGHT * whole::real(self.parts.len().max(1));
        let (mut scene, region) = heading::titled(height, &self.title, &self.note);
        let mut panels: Vec<Panel> = self.parts.iter().map(Part::panel).collect();
        let gutter = panels.iter().map(Panel::gutter).fold(0.0, f64::max);
        // One axis for all: from the lowest to the highest that any part has.
        let ends = panels.iter().filter_map(|panel| match panel.x.scale {
            Scale::Linear { low, high } => Some([low, high]),
            _ => None,
        });
        let shared = extent(ends.flatten());
        let texts = 32.0;
        let each = (region.bottom - region.top - texts) / whole::real(panels.len().max(1));
        let last = panels.len().saturating_sub(1);
        for (i, panel) in panels.iter_mut().enumerate() {
            if let Some((low, high)) = shared {
                panel.x.scale = Scale::Linear { low, high };
            }
            panel.x_texts = i == last;
            let top = region.top + whole::real(i) * each;
            let bottom = top + each + if i == last { texts } else { 0.0 };
            panel.draw(
                &mut scene,
                Area {
                    top,
                    bottom,
                    ..region
                },
                gutter,
            );
        }
        scene
    }

    fn describe(&self) -> String {
        let names: Vec<&str> = self.parts.iter().map(Part::y_title).collect();
        let across = self.parts.last().map_or("", Part::x_title);
        format!("{}: {} against {across}.", self.title, names.join("; "))
    }
}
