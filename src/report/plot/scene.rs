//! A figure as a list of shapes in picture points, before anything is drawn.
//! Layout works on this list and tests read it; painting it is left to `paint`.

use super::glyphs;
use super::palette::{Colour, Dash, INK, Mark};

/// A place in a picture: points to the right and down from its upper left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    pub(super) x: f64,
    pub(super) y: f64,
}

impl Point {
    pub(super) const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }
}

/// An upright box in picture points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

impl Area {
    /// Whether two boxes share more than an edge.
    pub(super) fn overlaps(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    /// Whether the other box lies wholly inside.
    pub(super) fn contains(&self, other: &Self) -> bool {
        other.left >= self.left
            && other.right <= self.right
            && other.top >= self.top
            && other.bottom <= self.bottom
    }

    /// The box made larger by this much on every side.
    pub(super) fn grown(&self, by: f64) -> Self {
        Self {
            left: self.left - by,
            top: self.top - by,
            right: self.right + by,
            bottom: self.bottom + by,
        }
    }
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stroke {
    pub(super) colour: Colour,
    pub(super) dash: Dash,
    pub(super) width: f64,
}

impl Stroke {
    pub(super) const fn of(mark: Mark, width: f64) -> Self {
        Self {
            colour: mark.colour,
            dash: mark.dash,
            width,
        }
    }
}

/// Which end of a text its place belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// A line of text; `at` is on the baseline.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Label {
    pub(super) text: String,
    pub(super) at: Point,
    pub(super) size: f64,
    pub(super) anchor: Anchor,
    pub(super) colour: Colour,
}

impl Label {
    pub(super) fn new(text: impl Into<String>, at: Point, size: f64) -> Self {
        Self {
            text: text.into(),
            at,
            size,
            anchor: Anchor::Start,
            colour: INK,
        }
    }

    pub(super) fn anchored(mut self, anchor: Anchor) -> Self {
        self.anchor = anchor;
        self
    }

    pub(super) fn coloured(mut self, colour: Colour) -> Self {
        self.colour = colour;
        self
    }

    /// Left edge of the text.
    pub(super) fn left(&self) -> f64 {
        let width = glyphs::width(&self.text, self.size);
        match self.anchor {
            Anchor::Start => self.at.x,
            Anchor::Middle => self.at.x - width / 2.0,
            Anchor::End => self.at.x - width,
        }
    }

    /// The box that the text covers.
    pub(super) fn area(&self) -> Area {
        let left = self.left();
        Area {
            left,
            top: self.at.y - 0.78 * self.size,
            right: left + glyphs::width(&self.text, self.size),
            bottom: self.at.y + 0.22 * self.size,
        }
    }
}

/// One thing to draw.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Shape {
    Line {
        points: Vec<Point>,
        stroke: Stroke,
    },
    Fill {
        points: Vec<Point>,
        colour: Colour,
        opacity: f64,
    },
    Disc {
        centre: Point,
        radius: f64,
        colour: Colour,
    },
    Text(Label),
}

/// A laid-out picture, ready to be painted as SVG or PNG.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) title: String,
    pub(super) shapes: Vec<Shape>,
}

impl Scene {
    pub(super) fn new(width: f64, height: f64) -> Self {
        Self {
            width,
            height,
            title: String::new(),
            shapes: Vec::new(),
        }
    }

    pub(super) fn line(&mut self, points: Vec<Point>, stroke: Stroke) {
        if points.len() > 1 {
            self.shapes.push(Shape::Line { points, stroke });
        }
    }

    pub(super) fn fill(&mut self, points: Vec<Point>, colour: Colour, opacity: f64) {
        if points.len() > 2 {
            self.shapes.push(Shape::Fill {
                points,
                colour,
                opacity,
            });
        }
    }

    pub(super) fn fill_area(&mut self, area: Area, colour: Colour, opacity: f64) {
        let corners = vec![
            Point::new(area.left, area.top),
            Point::new(area.right, area.top),
            Point::new(area.right, area.bottom),
            Point::new(area.left, area.bottom),
        ];
        self.fill(corners, colour, opacity);
    }

    pub(super) fn disc(&mut self, centre: Point, radius: f64, colour: Colour) {
        self.shapes.push(Shape::Disc {
            centre,
            radius,
            colour,
        });
    }

    pub(super) fn text(&mut self, label: Label) {
        if !label.text.is_empty() {
            self.shapes.push(Shape::Text(label));
        }
    }

    /// Everything written in the picture, in drawing order.
    #[must_use]
    pub fn texts(&self) -> Vec<&str> {
        self.labels().map(|label| label.text.as_str()).collect()
    }

    /// The first two texts that lie over one another, if any do.
    #[must_use]
    pub fn overlapping_texts(&self) -> Option<(&str, &str)> {
        let labels: Vec<&Label> = self.labels().collect();
        labels.iter().enumerate().find_map(|(i, first)| {
            let other = labels[i + 1..]
                .iter()
                .find(|second| first.area().overlaps(&second.area()))?;
            Some((first.text.as_str(), other.text.as_str()))
        })
    }

    /// The first text that reaches past the edge of the picture, if one does.
    #[must_use]
    pub fn clipped_text(&self) -> Option<&str> {
        let picture = Area {
            left: 0.0,
            top: 0.0,
            right: self.width,
            bottom: self.height,
        };
        self.labels()
            .find(|label| !picture.contains(&label.area()))
            .map(|label| label.text.as_str())
    }

    fn labels(&self) -> impl Iterator<Item = &Label> {
        self.shapes.iter().filter_map(|shape| match shape {
            Shape::Text(label) => Some(label),
            _ => None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn overlapping_and_clipped_texts_are_found() {
        let mut scene = Scene::new(200.0, 100.0);
        scene.text(Label::new("first", Point::new(10.0, 50.0), 12.0));
        assert_eq!(scene.overlapping_texts(), None);
        assert_eq!(scene.clipped_text(), None);
        scene.text(Label::new("second", Point::new(30.0, 52.0), 12.0));
        assert_eq!(scene.overlapping_texts(), Some(("first", "second")));
        scene.text(Label::new("over the edge", Point::new(190.0, 90.0), 12.0));
        assert_eq!(scene.clipped_text(), Some("over the edge"));
    }
}
