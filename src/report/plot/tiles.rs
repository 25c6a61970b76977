//! A map of one number over two quantities as tiles, each with its value written in it and shaded by it.

use super::glyphs;
use super::heading;
use super::palette::{AXIS, BLUE, Colour, MUTED, Mark};
use super::panel::{AXIS_TITLE, SMALL};
use super::scene::{Anchor, Area, Label, Point, Scene, Stroke};
use crate::report::figure::Figure;
use crate::report::number::trimmed;
use crate::report::whole;

/// The figure's data, in the units shown.
#[derive(Debug, Clone, Default)]
pub struct Tiles {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// Title of the horizontal axis, with its unit.
    pub x_title: String,
    /// Title of the upright axis, with its unit.
    pub y_title: String,
    /// Values along the horizontal axis.
    pub x: Vec<f64>,
    /// Values along the upright axis, from the lowest.
    pub y: Vec<f64>,
    /// Rows from the lowest, each with one value a column; `None` where there is none.
    pub rows: Vec<Vec<Option<f64>>>,
    /// Place of a tile to mark: column and row.
    pub marked: Option<(usize, usize)>,
}

/// Strongest shade.
const DARKEST: f64 = 0.62;
/// Shade of the smallest positive value.
const LIGHTEST: f64 = 0.06;
/// Shade of a tile whose value is not positive.
const NOTHING: Colour = AXIS;

impl Tiles {
    fn largest(&self) -> f64 {
        let values = self.rows.iter().flatten().flatten();
        values.copied().fold(0.0, f64::max)
    }

    fn text(value: Option<f64>) -> String {
        match value {
            Some(value) if value.abs() >= 100.0 => format!("{value:.0}"),
            Some(value) if value.abs() >= 10.0 => format!("{value:.1}"),
            Some(value) => format!("{value:.2}"),
            None => "none".to_owned(),
        }
    }

    fn paint(&self, scene: &mut Scene, area: Area) {
        let (across, up) = (
            (area.right - area.left) / whole::real(self.x.len().max(1)),
            (area.bottom - area.top) / whole::real(self.y.len().max(1)),
        );
        let largest = self.largest();
        for (j, row) in self.rows.iter().enumerate() {
            for (i, &value) in row.iter().enumerate() {
                let tile = Area {
                    left: area.left + across * whole::real(i),
                    right: area.left + across * whole::real(i + 1),
                    top: area.bottom - up * whole::real(j + 1),
                    bottom: area.bottom - up * whole::real(j),
                };
                match value.filter(|value| *value > 0.0) {
                    Some(value) => {
                        let shade = LIGHTEST + (DARKEST - LIGHTEST) * value / largest;
                        scene.fill_area(tile.grown(-0.75), BLUE, shade);
                    }
                    None => scene.fill_area(tile.grown(-0.75), NOTHING, 0.12),
                }
                let middle = Point::new(
                    f64::midpoint(tile.left, tile.right),
                    f64::midpoint(tile.top, tile.bottom) + 0.36 * SMALL,
                );
                let text = glyphs::shorten(&Self::text(value), SMALL, across - 4.0);
                let label = Label::new(text, middle, SMALL).anchored(Anchor::Middle);
                let holds = value.is_some_and(|value| value > 0.0);
                scene.text(if holds { label } else { label.coloured(MUTED) });
                if self.marked == Some((i, j)) {
                    let t = tile.grown(-1.5);
                    let corners = [
                        Point::new(t.left, t.top),
                        Point::new(t.right, t.top),
                        Point::new(t.right, t.bottom),
                        Point::new(t.left, t.bottom),
                        Point::new(t.left, t.top),
                    ];
                    let ink = Mark::new(super::palette::INK, &[]);
                    scene.line(corners.to_vec(), Stroke::of(ink, 2.0));
                }
            }
        }
        let most = whole::count((area.right - area.left) / 56.0, 40).max(1);
        let every = self.x.len().div_ceil(most).max(1);
        for (i, x) in self.x.iter().enumerate().step_by(every) {
            let at = Point::new(
                area.left + across * (whole::real(i) + 0.5),
                area.bottom + 17.0,
            );
            let label = Label::new(trimmed(*x, 4), at, SMALL).anchored(Anchor::Middle);
            scene.text(label.coloured(MUTED));
        }
        for (j, y) in self.y.iter().enumerate() {
            let at = Point::new(
                area.left - 7.0,
                area.bottom - up * (whole::real(j) + 0.5) + 0.36 * SMALL,
            );
            let label = Label::new(trimmed(*y, 4), at, SMALL).anchored(Anchor::End);
            scene.text(label.coloured(MUTED));
        }
    }
}

impl Figure for Tiles {
    fn scene(&self) -> Scene {
        let height = 150.0 + 34.0 * whole::real(self.y.len().max(3));
        let (mut scene, region) = heading::titled(height, &self.title, &self.note);
        let widest = self.y.iter().map(|y| glyphs::width(&trimmed(*y, 4), SMALL));
        let area = Area {
            left: region.left + widest.fold(20.0, f64::max) + 12.0,
            right: region.right - 4.0,
            top: region.top + 20.0,
            bottom: region.bottom - 38.0,
        };
        let room = region.right - region.left;
        let title = |text: &str| glyphs::shorten(text, AXIS_TITLE, room);
        let at = Point::new(region.left + 2.0, region.top + 10.0);
        scene.text(Label::new(title(&self.y_title), at, AXIS_TITLE));
        let at = Point::new(f64::midpoint(area.left, area.right), area.bottom + 34.0);
        scene.text(Label::new(title(&self.x_title), at, AXIS_TITLE).anchored(Anchor::Middle));
        self.paint(&mut scene, area);
        scene
    }

    fn describe(&self) -> String {
        format!(
            "{}: {} against {}, as tiles with their values; the largest is {}.",
            self.title,
            self.y_title,
            self.x_title,
            trimmed(self.largest(), 4)
        )
    }
}
