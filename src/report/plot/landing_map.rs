//! A map to scale: outlines, tracks, points and marked places, one length the same along both axes.

use super::heading;
use super::palette::{
    BLUE, Colour, DASHED, GREEN, INK, MUTED, Mark, ORANGE, SKY, SOLID, VERMILLION,
};
use super::panel::{Axis, Curve, Dots, Panel, Spot};
use super::scale::{Scale, extent};
use super::scene::Scene;
use crate::report::figure::Figure;
use crate::report::number::trimmed;

/// What an outline stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stands {
    /// What is reached under the limits.
    Reached,
    /// What would be reached without them.
    Free,
    /// What is wanted.
    Wanted,
    /// Where flights that steer end.
    Steered,
    /// Where flights that hold their bank end.
    Held,
}

impl Stands {
    fn mark(self) -> Mark {
        match self {
            Self::Reached => Mark::new(GREEN, SOLID),
            Self::Free => Mark::new(MUTED, DASHED),
            Self::Wanted => Mark::new(INK, DASHED),
            Self::Steered => Mark::new(BLUE, SOLID),
            Self::Held => Mark::new(VERMILLION, SOLID),
        }
    }
}

/// What an outline stands for, its name, and its corners.
pub type Outlined = (Stands, String, Vec<(f64, f64)>);

/// The figure's data.
#[derive(Debug, Clone, Default)]
pub struct LandingMap {
    /// Title.
    pub title: String,
    /// A line of small print below the title.
    pub note: String,
    /// Title of the horizontal axis, with its unit.
    pub x_title: String,
    /// Title of the upright axis, with its unit.
    pub y_title: String,
    /// How long a unit of the horizontal axis is on the ground, over one of the upright axis: the cosine of the
    /// latitude for degrees.
    pub x_unit: f64,
    /// Closed outlines and what they are called.
    pub outlines: Vec<Outlined>,
    /// Ground tracks; the first is named `name_of_tracks`.
    pub tracks: Vec<Vec<(f64, f64)>>,
    /// What the tracks are called.
    pub name_of_tracks: String,
    /// Ends of flights.
    pub dots: Vec<(Stands, Vec<(f64, f64)>)>,
    /// Marked places.
    pub places: Vec<(String, f64, f64)>,
}

/// Height of the figure, and about what its box measures in picture points.
const HEIGHT: f64 = 620.0;
const BOX: (f64, f64) = (790.0, 450.0);

impl LandingMap {
    /// Both axes, widened so that a length is the same along either.
    fn scales(&self) -> (Scale, Scale) {
        let points = || {
            let outlines = self.outlines.iter().flat_map(|outline| &outline.2);
            let dots = self.dots.iter().flat_map(|dots| &dots.1);
            let tracks = self.tracks.iter().flatten();
            let places = self.places.iter().map(|place| (place.1, place.2));
            let all = outlines.chain(dots).chain(tracks).copied();
            all.chain(places)
        };
        let x = extent(points().map(|p| p.0)).unwrap_or((0.0, 1.0));
        let y = extent(points().map(|p| p.1)).unwrap_or((0.0, 1.0));
        let unit = if self.x_unit > 0.05 { self.x_unit } else { 1.0 };
        let long = |(low, high): (f64, f64)| 1.1 * (high - low).max(1e-6);
        // Upright units to a picture point.
        let scale = (unit * long(x) / BOX.0).max(long(y) / BOX.1);
        let about = |(low, high): (f64, f64), half: f64| {
            let middle = f64::midpoint(low, high);
            Scale::Linear {
                low: middle - half,
                high: middle + half,
            }
        };
        (
            about(x, 0.5 * scale * BOX.0 / unit),
            about(y, 0.5 * scale * BOX.1),
        )
    }
}

impl Figure for LandingMap {
    fn scene(&self) -> Scene {
        let (mut scene, region) = heading::titled(HEIGHT, &self.title, &self.note);
        let (x, y) = self.scales();
        let axis = |title: &str, scale| Axis {
            title: title.to_owned(),
            scale,
        };
        let mut panel = Panel::new(axis(&self.x_title, x), axis(&self.y_title, y));
        for (i, track) in self.tracks.iter().enumerate() {
            panel.curves.push(Curve {
                points: track.clone(),
                name: if i == 0 {
                    self.name_of_tracks.clone()
                } else {
                    String::new()
                },
                mark: Mark::new(SKY, SOLID),
                width: 1.0,
                on_right: false,
            });
        }
        for (stands, points) in &self.dots {
            panel.dots.push(Dots {
                points: points.clone(),
                // Lighter than the outline about them, which runs over them.
                colour: match stands {
                    Stands::Held => ORANGE,
                    Stands::Steered => SKY,
                    other => other.mark().colour,
                },
                below: true,
            });
        }
        for (stands, name, points) in &self.outlines {
            panel.curves.push(Curve {
                points: points.clone(),
                name: name.clone(),
                mark: stands.mark(),
                width: 2.0,
                on_right: false,
            });
        }
        panel
            .spots
            .extend(self.places.iter().map(|(name, x, y)| Spot {
                at: (*x, *y),
                name: name.clone(),
                colour: Colour(INK.0, INK.1, INK.2),
            }));
        panel.draw(&mut scene, region, panel.gutter());
        scene
    }

    fn describe(&self) -> String {
        let mut parts = vec![self.title.clone()];
        parts.extend(self.outlines.iter().map(|outline| outline.1.clone()));
        parts.extend(
            self.places
                .iter()
                .map(|(name, x, y)| format!("{name} at {}, {}", trimmed(*x, 5), trimmed(*y, 5))),
        );
        parts.join("; ") + "."
    }
}
