//! Shares of the variance of several outputs by source: for each output a box of bars, two to a source,
//! first order and total, with their intervals.

use super::glyphs;
use super::heading;
use super::palette::{AXIS, BLUE, Colour, GRID, INK, MUTED, Mark, SKY};
use super::panel::{AXIS_TITLE, SMALL};
use super::scene::{Anchor, Area, Label, Point, Scene, Stroke};
use crate::report::figure::Figure;
use crate::report::number::percent;
use crate::report::whole;

/// The figure's data.
#[derive(Debug, Clone, Default)]
pub struct InfluenceBars {
    /// Title.
    pub title: String,
    /// A line of small print below the title; may be empty.
    pub note: String,
    /// Names of the sources.
    pub sources: Vec<String>,
    /// The outputs, each a box.
    pub outputs: Vec<OutputBars>,
}

/// The bars of one output.
#[derive(Debug, Clone, Default)]
pub struct OutputBars {
    /// What to call the output.
    pub name: String,
    /// First-order share and total share of each source.
    pub bars: Vec<(Bar, Bar)>,
}

/// A share with its interval; ends that are not finite are left out.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bar {
    /// The share, 0 to 1.
    pub value: f64,
    /// Lower end of its interval.
    pub lower: f64,
    /// Upper end of its interval.
    pub upper: f64,
}

/// Boxes side by side at most.
const ACROSS: usize = 3;
/// Height of the two bars of a source and the space about them.
const ROW: f64 = 26.0;
/// Height of a bar.
const BAR: f64 = 9.0;
/// Room above a box for its name, and below for the axis.
const ABOVE: f64 = 24.0;
const BELOW: f64 = 26.0;
/// Between two boxes.
const APART: f64 = 18.0;
/// Room for the axis title and for the key.
const FOOT: f64 = 18.0;
const KEY: f64 = 22.0;
/// Widest name of a source.
const WIDEST: f64 = 210.0;
/// Share of the box's width that stands for 1; the rest is for the numbers at the bars.
const FULL: f64 = 0.84;
/// Size of the numbers at the bars.
const VALUE: f64 = 9.5;

impl InfluenceBars {
    fn rows_of_boxes(&self) -> usize {
        self.outputs.len().div_ceil(ACROSS).max(1)
    }

    fn box_height(&self) -> f64 {
        ROW * whole::real(self.sources.len().max(1))
    }

    fn paint_key(scene: &mut Scene, left: f64, baseline: f64) {
        let mut left = left;
        for (name, colour) in [
            ("first order: goes if this alone is known exactly", BLUE),
            ("total: stays if all else is known exactly", SKY),
        ] {
            let swatch = Area {
                left,
                right: left + 22.0,
                top: baseline - BAR,
                bottom: baseline,
            };
            scene.fill_area(swatch, colour, 1.0);
            let at = Point::new(left + 28.0, baseline);
            scene.text(Label::new(name, at, SMALL));
            left += 28.0 + glyphs::width(name, SMALL) + 24.0;
        }
    }

    fn paint_names(&self, scene: &mut Scene, right: f64, top: f64) {
        for (i, name) in self.sources.iter().enumerate() {
            let text = glyphs::shorten(name, SMALL, WIDEST);
            let middle = top + (whole::real(i) + 0.5) * ROW;
            let at = Point::new(right, middle + 0.36 * SMALL);
            scene.text(Label::new(text, at, SMALL).anchored(Anchor::End));
        }
    }
}

fn paint_box(scene: &mut Scene, output: &OutputBars, area: Area) {
    let name = glyphs::shorten(&output.name, AXIS_TITLE, area.right - area.left);
    let at = Point::new(area.left, area.top - 8.0);
    scene.text(Label::new(name, at, AXIS_TITLE));
    let across = |share: f64| area.left + FULL * share.clamp(0.0, 1.05) * (area.right - area.left);
    for (share, text) in [(0.0, "0"), (0.25, ""), (0.5, "0.5"), (0.75, ""), (1.0, "1")] {
        let x = across(share);
        let colour = if share == 0.0 { AXIS } else { GRID };
        upright(scene, x, (area.top, area.bottom), colour);
        let at = Point::new(x, area.bottom + 15.0);
        scene.text(
            Label::new(text, at, SMALL)
                .anchored(Anchor::Middle)
                .coloured(MUTED),
        );
    }
    for (i, (first, total)) in output.bars.iter().enumerate() {
        let middle = area.top + (whole::real(i) + 0.5) * ROW;
        for (bar, colour, top) in [
            (first, BLUE, middle - BAR - 1.0),
            (total, SKY, middle + 1.0),
        ] {
            paint_bar(scene, bar, (colour, top), &across);
        }
    }
}

fn paint_bar(
    scene: &mut Scene,
    bar: &Bar,
    (colour, top): (Colour, f64),
    across: &dyn Fn(f64) -> f64,
) {
    if !bar.value.is_finite() {
        return;
    }
    let area = Area {
        left: across(0.0),
        right: across(bar.value),
        top,
        bottom: top + BAR,
    };
    if area.right > area.left + 0.3 {
        scene.fill_area(area, colour, 1.0);
    }
    let mut end = area.right;
    if bar.lower.is_finite() && bar.upper.is_finite() {
        let (low, high) = (across(bar.lower), across(bar.upper));
        let middle = top + 0.5 * BAR;
        let ink = Stroke::of(Mark::new(INK, &[]), 1.1);
        if high > low + 0.5 {
            scene.line(vec![Point::new(low, middle), Point::new(high, middle)], ink);
            for x in [low, high] {
                let cap = vec![Point::new(x, middle - 2.5), Point::new(x, middle + 2.5)];
                scene.line(cap, ink);
            }
        }
        end = end.max(high);
    }
    let text = format!("{:.2}", bar.value.max(0.0));
    let at = Point::new(end + 4.0, top + 0.5 * BAR + 0.36 * VALUE);
    scene.text(Label::new(text, at, VALUE).coloured(MUTED));
}

fn upright(scene: &mut Scene, x: f64, (top, bottom): (f64, f64), colour: Colour) {
    let ends = vec![Point::new(x, top), Point::new(x, bottom)];
    scene.line(ends, Stroke::of(Mark::new(colour, &[]), 1.0));
}

impl Figure for InfluenceBars {
    fn scene(&self) -> Scene {
        let rows = self.rows_of_boxes();
        let each = ABOVE + self.box_height() + BELOW;
        let below_heading = KEY + whole::real(rows) * each + FOOT;
        let (_, region) = heading::titled(100.0, &self.title, &self.note);
        let height = region.top + below_heading + 10.0;
        let (mut scene, region) = heading::titled(height, &self.title, &self.note);
        if self.outputs.is_empty() || self.sources.is_empty() {
            let middle = f64::midpoint(region.left, region.right);
            let at = Point::new(middle, region.top + 40.0);
            scene.text(
                Label::new("no data to show", at, AXIS_TITLE)
                    .anchored(Anchor::Middle)
                    .coloured(MUTED),
            );
            return scene;
        }
        Self::paint_key(&mut scene, region.left, region.top + 10.0);
        let names = self.sources.iter().map(|name| glyphs::width(name, SMALL));
        let gutter = names.fold(0.0, f64::max).min(WIDEST) + 8.0;
        let left = region.left + gutter;
        let across = self.outputs.len().min(ACROSS);
        let gaps = APART * whole::real(across - 1);
        let width = (region.right - left - gaps) / whole::real(across);
        // A single box need not be as wide as the picture.
        let width = width.min(420.0);
        for (row, outputs) in self.outputs.chunks(ACROSS).enumerate() {
            let top = region.top + KEY + whole::real(row) * each + ABOVE;
            self.paint_names(&mut scene, left - 8.0, top);
            for (column, output) in outputs.iter().enumerate() {
                let left = left + whole::real(column) * (width + APART);
                let area = Area {
                    left,
                    right: left + width,
                    top,
                    bottom: top + self.box_height(),
                };
                paint_box(&mut scene, output, area);
            }
        }
        let bottom = region.top + KEY + whole::real(rows) * each + 8.0;
        let at = Point::new(left, bottom);
        scene.text(Label::new("share of the variance", at, AXIS_TITLE));
        scene
    }

    fn describe(&self) -> String {
        let most = |output: &OutputBars| {
            let totals = output.bars.iter().map(|(_, total)| total.value);
            let largest = totals.enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
            let name = self.sources.get(largest.0)?;
            Some(format!(
                "{}: most by {name}, total share {}",
                output.name,
                percent((largest.1 * 100.0).round() / 100.0)
            ))
        };
        let parts: Vec<String> = self.outputs.iter().filter_map(most).collect();
        format!(
            "First-order and total shares of the variance by uncertain quantity{}{}.",
            if parts.is_empty() { "" } else { "; " },
            parts.join("; ")
        )
    }
}
