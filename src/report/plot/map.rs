//! A quantity over two numbers: a field of cells, darker for more, each with its value where there is room.

use super::glyphs;
use super::heading;
use super::palette::{AXIS, Colour, INK, MUTED, Mark, PAPER};
use super::panel::{AXIS_TITLE, SMALL};
use super::scale::extent;
use super::scene::{Anchor, Area, Label, Point, Scene, Stroke};
use super::ticks;
use crate::report::figure::Figure;
use crate::report::number::trimmed;
use crate::report::whole;

/// The figure's data.
#[derive(Debug, Clone, Default)]
pub struct Map {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// Title of the horizontal axis, with its unit.
    pub x_title: String,
    /// Title of the upright axis, with its unit.
    pub y_title: String,
    /// What the cells show, with its unit.
    pub value_title: String,
    /// Values of the horizontal axis, one a column.
    pub x: Vec<f64>,
    /// Values of the upright axis, one a row.
    pub y: Vec<f64>,
    /// The values: a list for each of `y`, along `x`; one that is not finite has no cell but a dash.
    pub values: Vec<Vec<f64>>,
}

const HEIGHT: f64 = 520.0;
/// Room for the bar of colours at the right with its texts.
const BAR_ROOM: f64 = 92.0;
const BAR_WIDTH: f64 = 16.0;
/// Room for texts and title below.
const BELOW: f64 = 40.0;
/// The least and the most, from light to dark in one hue, which every reader tells apart by lightness.
const LIGHT: Colour = Colour(0xE6, 0xF1, 0xF8);
const DARK: Colour = Colour(0x00, 0x45, 0x6E);
/// Where there is no value.
const NONE: Colour = Colour(0xEF, 0xEF, 0xEF);

impl Map {
    /// Smallest and largest value, apart even where all are one.
    fn range(&self) -> Option<(f64, f64)> {
        let (low, high) = extent(self.values.iter().flatten().copied())?;
        if high - low > 1e-12 * low.abs().max(high.abs()) {
            return Some((low, high));
        }
        let room = if low == 0.0 { 1.0 } else { 0.05 * low.abs() };
        Some((low - room, low + room))
    }

    fn paint_cells(&self, scene: &mut Scene, area: Area, range: (f64, f64)) {
        let (across, up) = (whole::real(self.x.len()), whole::real(self.y.len()));
        let (wide, high) = (
            (area.right - area.left) / across,
            (area.bottom - area.top) / up,
        );
        for (row, values) in self.values.iter().take(self.y.len()).enumerate() {
            for (column, &value) in values.iter().take(self.x.len()).enumerate() {
                let left = area.left + whole::real(column) * wide;
                let bottom = area.bottom - whole::real(row) * high;
                let cell = Area {
                    left,
                    right: left + wide,
                    top: bottom - high,
                    bottom,
                };
                let share = (value - range.0) / (range.1 - range.0);
                let colour = if value.is_finite() {
                    mixed(share)
                } else {
                    NONE
                };
                scene.fill_area(cell, colour, 1.0);
                let text = if value.is_finite() {
                    trimmed(value, 3).replace('-', "\u{2212}")
                } else {
                    "–".to_owned()
                };
                let room = glyphs::width(&text, SMALL) + 8.0 < wide && SMALL + 4.0 < high;
                if room {
                    let at = Point::new(
                        f64::midpoint(cell.left, cell.right),
                        f64::midpoint(cell.top, cell.bottom) + 0.36 * SMALL,
                    );
                    let ink = if value.is_finite() && share > 0.5 {
                        PAPER
                    } else {
                        INK
                    };
                    let label = Label::new(text, at, SMALL).anchored(Anchor::Middle);
                    scene.text(label.coloured(ink));
                }
            }
        }
        let corners = [
            Point::new(area.left, area.top),
            Point::new(area.right, area.top),
            Point::new(area.right, area.bottom),
            Point::new(area.left, area.bottom),
            Point::new(area.left, area.top),
        ];
        scene.line(corners.to_vec(), thin());
    }

    fn paint_axes(&self, scene: &mut Scene, area: Area, region: Area) {
        let wide = (area.right - area.left) / whole::real(self.x.len());
        let mut free_from = f64::NEG_INFINITY;
        for (column, &x) in self.x.iter().enumerate() {
            let middle = area.left + (whole::real(column) + 0.5) * wide;
            let at = Point::new(middle, area.bottom + 16.0);
            let label = Label::new(number(x), at, SMALL).anchored(Anchor::Middle);
            if label.area().left > free_from {
                free_from = label.area().right + 6.0;
                scene.text(label.coloured(MUTED));
            }
        }
        let high = (area.bottom - area.top) / whole::real(self.y.len());
        let mut free_below = f64::INFINITY;
        for (row, &y) in self.y.iter().enumerate() {
            let middle = area.bottom - (whole::real(row) + 0.5) * high;
            let at = Point::new(area.left - 7.0, middle + 0.36 * SMALL);
            let label = Label::new(number(y), at, SMALL).anchored(Anchor::End);
            if label.area().bottom < free_below {
                free_below = label.area().top - 2.0;
                scene.text(label.coloured(MUTED));
            }
        }
        let title = glyphs::shorten(&self.x_title, AXIS_TITLE, region.right - region.left);
        let middle = f64::midpoint(area.left, area.right);
        let half = glyphs::width(&title, AXIS_TITLE) / 2.0;
        let middle = middle.min(region.right - half).max(region.left + half);
        let at = Point::new(middle, area.bottom + 34.0);
        scene.text(Label::new(title, at, AXIS_TITLE).anchored(Anchor::Middle));
        let room = 0.55 * (region.right - region.left);
        let title = glyphs::shorten(&self.y_title, AXIS_TITLE, room);
        let at = Point::new(region.left, area.top - 9.0);
        scene.text(Label::new(title, at, AXIS_TITLE));
    }

    fn paint_bar(&self, scene: &mut Scene, bar: Area, (range, right): ((f64, f64), f64)) {
        const STEPS: usize = 64;
        let height = bar.bottom - bar.top;
        for step in 0..STEPS {
            let share = (whole::real(step) + 0.5) / whole::real(STEPS);
            let bottom = bar.bottom - whole::real(step) / whole::real(STEPS) * height;
            let piece = Area {
                top: bottom - height / whole::real(STEPS) - 0.2,
                bottom,
                ..bar
            };
            scene.fill_area(piece, mixed(share), 1.0);
        }
        for tick in ticks::linear(range.0, range.1, 7) {
            let share = (tick.at - range.0) / (range.1 - range.0);
            let y = bar.bottom - share * height;
            let mark = [Point::new(bar.right, y), Point::new(bar.right + 4.0, y)];
            scene.line(mark.to_vec(), thin());
            let at = Point::new(bar.right + 8.0, y + 0.36 * SMALL);
            scene.text(Label::new(tick.text, at, SMALL).coloured(MUTED));
        }
        let title = glyphs::shorten(&self.value_title, AXIS_TITLE, 0.42 * right);
        let at = Point::new(right, bar.top - 9.0);
        scene.text(Label::new(title, at, AXIS_TITLE).anchored(Anchor::End));
    }
}

fn number(value: f64) -> String {
    ticks::typographic(&trimmed(value, 6))
}

fn thin() -> Stroke {
    Stroke::of(Mark::new(AXIS, &[]), 1.0)
}

/// The colour for a share of the way from the least to the most.
fn mixed(share: f64) -> Colour {
    let share = share.clamp(0.0, 1.0);
    let mix = |light: u8, dark: u8| {
        let value = f64::from(light) + share * (f64::from(dark) - f64::from(light));
        u8::try_from(whole::signed(value.round())).unwrap_or(dark)
    };
    Colour(
        mix(LIGHT.0, DARK.0),
        mix(LIGHT.1, DARK.1),
        mix(LIGHT.2, DARK.2),
    )
}

impl Figure for Map {
    fn scene(&self) -> Scene {
        let (mut scene, region) = heading::titled(HEIGHT, &self.title, &self.note);
        let Some(range) = self
            .range()
            .filter(|_| !self.x.is_empty() && !self.y.is_empty())
        else {
            let middle = Point::new(
                f64::midpoint(region.left, region.right),
                f64::midpoint(region.top, region.bottom),
            );
            let label = Label::new("no data to show", middle, AXIS_TITLE);
            scene.text(label.anchored(Anchor::Middle).coloured(MUTED));
            return scene;
        };
        let texts = self.y.iter().map(|&y| glyphs::width(&number(y), SMALL));
        let gutter = texts.fold(0.0, f64::max) + 12.0;
        let area = Area {
            left: region.left + gutter,
            right: region.right - BAR_ROOM,
            top: region.top + 20.0,
            bottom: region.bottom - BELOW,
        };
        self.paint_cells(&mut scene, area, range);
        self.paint_axes(&mut scene, area, region);
        let bar = Area {
            left: area.right + 18.0,
            right: area.right + 18.0 + BAR_WIDTH,
            ..area
        };
        self.paint_bar(&mut scene, bar, (range, region.right));
        scene
    }

    fn describe(&self) -> String {
        let place = |wanted: f64| {
            let rows = self.y.iter().zip(&self.values);
            let mut cells = rows.flat_map(|(y, row)| self.x.iter().zip(row).map(move |c| (c, y)));
            let found = cells.find(|((_, value), _)| **value == wanted);
            found.map_or_else(String::new, |((x, _), y)| {
                format!(
                    "{} at {} of {} and {} of {}",
                    trimmed(wanted, 4),
                    trimmed(*x, 6),
                    self.x_title,
                    trimmed(*y, 6),
                    self.y_title
                )
            })
        };
        let extremes = extent(self.values.iter().flatten().copied()).map_or_else(
            || "no values".to_owned(),
            |(low, high)| format!("least {}; most {}", place(low), place(high)),
        );
        format!(
            "Map of {} over {} and {}: {extremes}.",
            self.value_title, self.x_title, self.y_title
        )
    }
}
