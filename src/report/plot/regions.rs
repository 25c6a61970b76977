//! Shaded regions between curves over one axis, with the curves that bound them, marked places and closed
//! outlines: the figure for what is possible and what limits it.

use super::heading;
use super::palette::{self, Colour, INK, Mark};
use super::panel::{Axis, Band, Curve, Panel, Spot, Upright};
use super::scale::Scale;
use super::scene::Scene;
use crate::report::figure::Figure;

/// The figure's data, in the units shown. A value that is not finite breaks a curve or a region.
#[derive(Debug, Clone, Default)]
pub struct Regions {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// Title of the horizontal axis, with its unit.
    pub x_title: String,
    /// Title of the upright axis, with its unit.
    pub y_title: String,
    /// The shaded regions, drawn in order.
    pub regions: Vec<Region>,
    /// The curves.
    pub curves: Vec<Bound>,
    /// Closed outlines, such as the ellipse of a spread: name and points.
    pub outlines: Vec<(String, Vec<(f64, f64)>)>,
    /// Places of the horizontal axis to mark: name and value.
    pub places: Vec<(String, f64)>,
    /// Points to mark: name and place.
    pub points: Vec<(String, (f64, f64))>,
    /// Values of the upright axis that must be seen although nothing is drawn there.
    pub seen: Vec<f64>,
}

/// A shaded region.
#[derive(Debug, Clone)]
pub struct Region {
    /// What to call it; an empty name leaves it out of the key.
    pub name: String,
    /// Its lower edge.
    pub lower: Vec<(f64, f64)>,
    /// Its upper edge, over the same places.
    pub upper: Vec<(f64, f64)>,
    /// Its colour.
    pub colour: Colour,
    /// How strongly it is shaded, 0 to 1.
    pub opacity: f64,
}

/// A curve that bounds something.
#[derive(Debug, Clone)]
pub struct Bound {
    /// What to call it.
    pub name: String,
    /// Its points.
    pub points: Vec<(f64, f64)>,
    /// The key of the limit it stands for, which sets its colour and dashes; empty for none.
    pub limit_key: String,
}

impl Regions {
    fn panel(&self) -> Panel {
        let of_regions = || {
            let regions = self.regions.iter();
            regions.flat_map(|region| region.lower.iter().chain(&region.upper))
        };
        let points = || {
            of_regions()
                .chain(self.curves.iter().flat_map(|curve| &curve.points))
                .chain(self.outlines.iter().flat_map(|outline| &outline.1))
                .chain(self.points.iter().map(|point| &point.1))
                .copied()
        };
        let across = points()
            .filter(|p| p.1.is_finite())
            .map(|p| p.0)
            .chain(self.places.iter().map(|place| place.1));
        let up = points().map(|p| p.1).chain(self.seen.iter().copied());
        let mut panel = Panel::new(
            Axis {
                title: self.x_title.clone(),
                scale: Scale::tight(across),
            },
            Axis {
                title: self.y_title.clone(),
                scale: Scale::tight(up).with_margins(0.05),
            },
        );
        panel.bands.extend(self.regions.iter().map(|region| Band {
            lower: region.lower.clone(),
            upper: region.upper.clone(),
            name: region.name.clone(),
            colour: region.colour,
            opacity: region.opacity,
        }));
        panel
            .curves
            .extend(self.curves.iter().enumerate().map(|(i, curve)| Curve {
                points: curve.points.clone(),
                name: curve.name.clone(),
                mark: if curve.limit_key.is_empty() {
                    palette::series(i)
                } else {
                    palette::limit(&curve.limit_key)
                },
                width: 2.0,
                on_right: false,
            }));
        panel
            .curves
            .extend(self.outlines.iter().map(|(name, points)| Curve {
                points: points.clone(),
                name: name.clone(),
                mark: Mark::new(INK, palette::SOLID),
                width: 1.4,
                on_right: false,
            }));
        panel
            .uprights
            .extend(self.places.iter().map(|(name, at)| Upright {
                at: *at,
                name: name.clone(),
                mark: Mark::new(INK, palette::DOTTED),
            }));
        panel
            .spots
            .extend(self.points.iter().map(|(name, at)| Spot {
                at: *at,
                name: name.clone(),
                colour: INK,
            }));
        panel
    }
}

impl Figure for Regions {
    fn scene(&self) -> Scene {
        let (mut scene, region) = heading::titled(520.0, &self.title, &self.note);
        let panel = self.panel();
        panel.draw(&mut scene, region, panel.gutter());
        scene
    }

    fn describe(&self) -> String {
        let names = |list: Vec<&str>| {
            let list: Vec<&str> = list.into_iter().filter(|name| !name.is_empty()).collect();
            list.join(", ")
        };
        let mut parts = vec![format!(
            "{}: {} against {}",
            self.title, self.y_title, self.x_title
        )];
        let shaded = names(self.regions.iter().map(|r| r.name.as_str()).collect());
        if !shaded.is_empty() {
            parts.push(format!("shaded: {shaded}"));
        }
        let curves = names(self.curves.iter().map(|c| c.name.as_str()).collect());
        if !curves.is_empty() {
            parts.push(format!("curves: {curves}"));
        }
        parts.join("; ") + "."
    }
}
