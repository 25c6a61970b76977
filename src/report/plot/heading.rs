//! The title and the note of a figure, and the room that is left below them.

use super::glyphs;
use super::palette::MUTED;
use super::scene::{Area, Label, Point, Scene};

/// Width of every figure, in picture points.
pub(super) const WIDTH: f64 = 880.0;
/// Empty space at the edge of a figure.
const MARGIN: f64 = 14.0;
const TITLE: f64 = 15.5;
const NOTE: f64 = 12.0;

/// A picture with its title and note written, and the region left for the rest.
pub(super) fn titled(height: f64, title: &str, note: &str) -> (Scene, Area) {
    let room = WIDTH - 2.0 * MARGIN;
    let mut scene = Scene::new(WIDTH, height);
    scene.title = title.into();
    let mut top = MARGIN;
    for line in glyphs::wrap(title, TITLE, room, 2) {
        top += 1.25 * TITLE;
        scene.text(Label::new(
            line,
            Point::new(MARGIN, top - 0.3 * TITLE),
            TITLE,
        ));
    }
    for line in glyphs::wrap(note, NOTE, room, 2) {
        top += 1.4 * NOTE;
        let at = Point::new(MARGIN, top - 0.3 * NOTE);
        scene.text(Label::new(line, at, NOTE).coloured(MUTED));
    }
    let region = Area {
        left: MARGIN,
        right: WIDTH - MARGIN,
        top: top + 12.0,
        bottom: height - 8.0,
    };
    (scene, region)
}
