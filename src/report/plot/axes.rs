//! The axes of a plotting box: grid, ticks, their texts, and titles.

use super::frame::Frame;
use super::glyphs;
use super::palette::{AXIS, Colour, GRID, MUTED, Mark};
use super::panel::{AXIS_TITLE, Layout, Panel, SMALL};
use super::scale::Scale;
use super::scene::{Anchor, Area, Label, Point, Scene, Stroke};
use crate::report::whole;

/// Width of the widest tick text of an axis.
pub(super) fn texts_width(scale: &Scale, most: usize) -> f64 {
    scale
        .ticks(most)
        .iter()
        .map(|tick| glyphs::width(&tick.text, SMALL))
        .fold(0.0, f64::max)
}

/// Draws the grid and the axes of a panel, below everything else in it.
pub(super) fn paint(panel: &Panel, scene: &mut Scene, layout: &Layout) {
    let area = layout.frame.area;
    for (tick, y) in upward(&panel.y.scale, &layout.frame) {
        level(scene, area, y, GRID);
        let at = Point::new(area.left - 7.0, y + 0.36 * SMALL);
        let text = Label::new(tick, at, SMALL).anchored(Anchor::End);
        scene.text(text.coloured(MUTED));
    }
    if let Some(row) = panel.y.scale.zero_row() {
        let y = area.bottom - row * (area.bottom - area.top);
        level(scene, area, y, AXIS);
    }
    for (axis, frame) in panel.right.iter().zip(&layout.right) {
        for (tick, y) in upward(&axis.scale, frame) {
            let ends = [Point::new(area.right, y), Point::new(area.right + 4.0, y)];
            scene.line(ends.to_vec(), thin(AXIS));
            let at = Point::new(area.right + 8.0, y + 0.36 * SMALL);
            scene.text(Label::new(tick, at, SMALL).coloured(MUTED));
        }
        let ends = [
            Point::new(area.right, area.top),
            Point::new(area.right, area.bottom),
        ];
        scene.line(ends.to_vec(), thin(AXIS));
        let at = Point::new(layout.region.right, layout.titles_baseline());
        scene.text(Label::new(axis.title.clone(), at, AXIS_TITLE).anchored(Anchor::End));
    }
    let corner = vec![
        Point::new(area.left, area.top),
        Point::new(area.left, area.bottom),
        Point::new(area.right, area.bottom),
    ];
    scene.line(corner, thin(AXIS));
    let at = Point::new(layout.region.left + 2.0, layout.titles_baseline());
    scene.text(Label::new(panel.y_title(layout.region), at, AXIS_TITLE));
    paint_below(panel, scene, layout);
}

fn paint_below(panel: &Panel, scene: &mut Scene, layout: &Layout) {
    let (frame, area) = (&layout.frame, layout.frame.area);
    let tick_mark = |scene: &mut Scene, x: f64, length: f64| {
        let ends = [
            Point::new(x, area.bottom),
            Point::new(x, area.bottom + length),
        ];
        scene.line(ends.to_vec(), thin(AXIS));
    };
    for x in panel.x.scale.small_ticks() {
        if let Some(x) = frame.across(x) {
            tick_mark(scene, x, 2.5);
        }
    }
    let most = whole::count((area.right - area.left) / 72.0, 14).max(2);
    let mut free_from = f64::NEG_INFINITY;
    for tick in panel.x.scale.ticks(most) {
        let Some(x) = frame.across(tick.at) else {
            continue;
        };
        tick_mark(scene, x, 5.0);
        let middle = inwards(x, glyphs::width(&tick.text, SMALL), layout.region);
        let at = Point::new(middle, area.bottom + 17.0);
        let label = Label::new(tick.text, at, SMALL).anchored(Anchor::Middle);
        if panel.x_texts && label.area().left > free_from {
            free_from = label.area().right + 6.0;
            scene.text(label.coloured(MUTED));
        }
    }
    if panel.x_texts {
        let room = layout.region.right - layout.region.left;
        let title = glyphs::shorten(&panel.x.title, AXIS_TITLE, room);
        let middle = f64::midpoint(area.left, area.right);
        let middle = inwards(middle, glyphs::width(&title, AXIS_TITLE), layout.region);
        let at = Point::new(middle, area.bottom + 34.0);
        scene.text(Label::new(title, at, AXIS_TITLE).anchored(Anchor::Middle));
    }
}

/// The middle of a text, moved so far that the text stays within the region.
fn inwards(middle: f64, width: f64, region: Area) -> f64 {
    let half = width / 2.0;
    middle.min(region.right - half).max(region.left + half)
}

/// Texts and heights of the ticks of an upright axis that lie inside the box.
fn upward(scale: &Scale, frame: &Frame) -> Vec<(String, f64)> {
    let area = frame.area;
    let most = whole::count((area.bottom - area.top) / 26.0, 8).max(2);
    scale
        .ticks(most)
        .into_iter()
        .filter_map(|tick| Some((tick.text, frame.up(tick.at)?)))
        .filter(|(_, y)| (area.top - 0.5..=area.bottom + 0.5).contains(y))
        .collect()
}

fn level(scene: &mut Scene, area: Area, y: f64, colour: Colour) {
    let ends = [Point::new(area.left, y), Point::new(area.right, y)];
    scene.line(ends.to_vec(), thin(colour));
}

fn thin(colour: Colour) -> Stroke {
    Stroke::of(Mark::new(colour, &[]), 1.0)
}
